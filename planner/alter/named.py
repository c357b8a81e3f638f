"""Changes kept by name in a file beside the shop's tables; reading and planning the shop pass it over."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from planner.alter.base import Alteration
from planner.alter.fields import AlterFault, AlterFaults
from planner.alter.kinds import KINDS
from planner.alter.phrase import from_fields
from planner.intake.nearest import did_you_mean
from planner.store import ShopPlace
from planner.whole_file import write_whole

FILE = "whatifs.json"
MEND = "Mend the file, or remove it and save again."


def _file(place: ShopPlace) -> Path:
    """In a folder of tables, or beside the file of a store."""
    if isinstance(place, str):
        mend = "A database server keeps none: say the changes again."
        raise AlterFaults([AlterFault(place, "", "", "a folder of tables, or a store in a file", mend)])
    return place / FILE if place.is_dir() else place.with_name(f"{place.name}.{FILE}")


def read_named(folder: ShopPlace) -> dict[str, tuple[Alteration, ...]]:
    """The named changes of a shop folder, by name; none without the file.

    Raises
    ------
    AlterFaults
        When the file cannot be read, with everything wrong in it.
    """
    faults: list[AlterFault] = []
    found = {}
    for name, rows in _document(folder).items():
        changes = []
        for row in rows:
            try:
                changes.append(change_of(row))
            except AlterFaults as wrong:
                faults += [
                    AlterFault(f"{FILE}, '{name}': {f.change}", f.field, f.value, f.expected, f.mend)
                    for f in wrong.faults
                ]
        found[name] = tuple(changes)
    if faults:
        raise AlterFaults(faults)
    return found


def named(folder: ShopPlace, name: str) -> tuple[Alteration, ...]:
    """The changes kept under a name; raises ``AlterFaults``."""
    found = read_named(folder)
    if name not in found:
        raise AlterFaults([_no_name(name, found)])
    return found[name]


def save_named(folder: ShopPlace, name: str, changes: Sequence[Alteration]) -> None:
    """Keep changes under a name, in place of any that had it; the file is wholly the new one or still the old one.

    Raises
    ------
    AlterFaults
        When the file that is there cannot be read, the name is empty, or the file cannot be written.
    """
    if not name.strip():
        raise AlterFaults([AlterFault("--save", "name", name, "a name", "Say a name after --save.")])
    _write(folder, {**read_named(folder), name.strip(): tuple(changes)})


def forget_named(folder: ShopPlace, name: str) -> None:
    """Remove the changes kept under a name; raises as :func:`save_named`."""
    found = read_named(folder)
    if name not in found:
        raise AlterFaults([_no_name(name, found)])
    _write(folder, {n: changes for n, changes in found.items() if n != name})


def change_of(row: Mapping[str, Any]) -> Alteration:
    """A change from its fields as texts, with its ``kind``; raises ``AlterFaults``."""
    if not isinstance(row, Mapping) or not all(isinstance(v, str) for v in row.values()):
        raise AlterFaults([AlterFault("change", "", str(row)[:80], "texts by name of field", MEND)])
    kind = row.get("kind", "")
    if kind not in KINDS:
        raise AlterFaults(
            [
                AlterFault(
                    "change", "kind", kind, "a kind of change", did_you_mean(kind, KINDS, f"one of {', '.join(KINDS)}.")
                )
            ]
        )
    return from_fields(KINDS[kind], {name: text for name, text in row.items() if name != "kind"})


def row_of(change: Alteration) -> dict[str, str]:
    """A change as its kind and the texts of its fields: what :func:`change_of` reads."""
    return {"kind": change.kind, **change.fields}


def _no_name(name: str, found: Mapping[str, Any]) -> AlterFault:
    mend = did_you_mean(
        name, found, "save it first with --save." if not found else f"there are {', '.join(sorted(found))}."
    )
    return AlterFault("--name", "", name, f"a name from {FILE}", mend)


def _document(folder: ShopPlace) -> dict[str, list[Any]]:
    path = _file(folder)
    if not path.exists():
        return {}
    try:
        document = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError) as fault:
        raise AlterFaults([AlterFault(FILE, "", str(fault), "a list of named changes", MEND)]) from fault
    if not isinstance(document, dict) or not all(isinstance(rows, list) for rows in document.values()):
        raise AlterFaults([AlterFault(FILE, "", str(document)[:80], "lists of changes by name", MEND)])
    return document


def _write(folder: ShopPlace, found: Mapping[str, Sequence[Alteration]]) -> None:
    document = {name: [row_of(change) for change in changes] for name, changes in sorted(found.items())}
    try:
        write_whole(_file(folder), json.dumps(document, ensure_ascii=False, indent=1) + "\n")
    except OSError as fault:
        raise AlterFaults(
            [AlterFault(FILE, "", str(fault.strerror or fault), "a folder that can be written", MEND)]
        ) from fault
