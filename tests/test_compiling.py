"""Machine code is kept by a fingerprint of what it was made from."""

from __future__ import annotations

import os
import time
from pathlib import Path

import numba
import pytest

from planner import compiling


@pytest.fixture(autouse=True)
def own_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    """The setting as it was, after each test."""
    monkeypatch.setattr(numba.config, "CACHE_DIR", numba.config.CACHE_DIR)


def test_a_changed_source_is_another_fingerprint(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is compiled, and what that imports, however far off; nothing else."""
    sources = {
        "timetable/kernel.py": "from planner.compiling import inner\nfrom planner.plan import (\n    X,\n)\n",
        "plan.py": "from planner.parts import Y\n", "parts/__init__.py": "Y = 1\n", "search/engine.py": "Z = 1\n",
    }  # fmt: skip
    monkeypatch.setattr(compiling, "HERE", tmp_path)
    for name, text in sources.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    before = compiling._fingerprint()
    for name, text in sources.items():
        assert compiling._fingerprint() == before
        (tmp_path / name).write_text(text + "# changed\n", encoding="utf-8")
        assert (compiling._fingerprint() == before) is (name == "search/engine.py"), name
        (tmp_path / name).write_text(text, encoding="utf-8")


def test_code_of_older_versions_is_removed_after_a_day(tmp_path: Path) -> None:
    for name, age_sec in (("compiled-old", 90_000), ("compiled-young", 10), ("other", 90_000)):
        (tmp_path / name).mkdir()
        os.utime(tmp_path / name, (time.time() - age_sec,) * 2)
    assert compiling._keep_machine_code(tmp_path, "compiled-now")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["compiled-now", "compiled-young", "other"]
    assert str(tmp_path / "compiled-now") == numba.config.CACHE_DIR


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert not compiling._keep_machine_code(tmp_path / "file", "compiled-now")
