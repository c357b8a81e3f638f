"""What the documents say of settings is what the code takes."""

from __future__ import annotations

import re
from dataclasses import MISSING, fields
from datetime import time
from pathlib import Path
from typing import Any

from planner.shop import Settings

ROOT = Path(__file__).parents[1]


def told() -> dict[str, str]:
    """Default by setting, from the tables with a row for each or for a few that go together."""
    found = {}
    for document in (ROOT / "README.md", ROOT / "sample_shop" / "README.md"):
        for table in re.findall(
            r"\| setting \| default \| meaning \|\n\|---\|---\|---\|\n((?:\|.*\n)+)", document.read_text("utf-8")
        ):
            for row in table.splitlines():
                names, defaults, _ = (cell.strip() for cell in row.strip("|").split("|"))
                for name, default in zip(names.split(", "), defaults.split(", "), strict=True):
                    name = name.strip("`")
                    assert found.setdefault(name, default) == default
    return found


def text(default: Any) -> str:
    if default is MISSING:
        return "required"
    if isinstance(default, bool):
        return "yes" if default else "no"
    if isinstance(default, time):
        return f"{default:%H:%M}"
    return "empty" if default in (None, "") else str(default)


def test_every_setting_is_told_with_its_default() -> None:
    assert told() == {field.name: text(field.default) for field in fields(Settings)}
