"""Changes kept by name in a file beside the shop's tables; reading and planning the shop pass it over.

Whoever changes the file holds another beside it meanwhile, so that what several people keep at once is all there.
"""

from __future__ import annotations

import json
import os
import secrets
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
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
LEFT_SEC = 5.0  # whoever has held the file for so long was broken off: writing it takes a moment
REFUSED_SEC = 1.0  # some systems refuse a name for a moment while the file that had it goes
LOOK_SEC = 0.02  # between looks whether it is free


def can_keep(place: ShopPlace) -> bool:
    """Can questions be kept there? Not with a database server, which has no folder for the file."""
    return not isinstance(place, str)


def _file(place: ShopPlace) -> Path:
    """In a folder of tables, or beside the file of a store."""
    if isinstance(place, str):
        mend = "A database server keeps no questions: say the changes again each time."
        raise AlterFaults([AlterFault(FILE, "", place, "a folder of tables, or a store in a file", mend)])
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
        try:
            found[name] = tuple(changes_of(rows))
        except AlterFaults as wrong:
            faults += [replace(f, change=f"{FILE}, '{name}': {f.change}") for f in wrong.faults]
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
    with _kept_under(folder, name) as found:
        _write(folder, {**found, name.strip(): tuple(changes)})


def check_keeping(folder: ShopPlace, name: str) -> None:
    """Could changes be kept under this name? Raises as :func:`save_named`, and writes nothing."""
    with _kept_under(folder, name):
        pass


def forget_named(folder: ShopPlace, name: str) -> None:
    """Remove the changes kept under a name; raises as :func:`save_named`."""
    with _held(_file(folder)):
        found = read_named(folder)
        if name not in found:
            raise AlterFaults([_no_name(name, found)])
        _write(folder, {n: changes for n, changes in found.items() if n != name})


def changes_of(rows: Sequence[Mapping[str, Any]]) -> list[Alteration]:
    """Changes from their fields as texts; raises ``AlterFaults`` with everything wrong in all of them."""
    found: list[Alteration] = []
    faults: list[AlterFault] = []
    for row in rows:
        try:
            found.append(change_of(row))
        except AlterFaults as wrong:
            faults += wrong.faults
    if faults:
        raise AlterFaults(faults)
    return found


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


@contextmanager
def _kept_under(folder: ShopPlace, name: str) -> Iterator[dict[str, tuple[Alteration, ...]]]:
    """What is kept already, to be added to under a name; nobody else changes it meanwhile."""
    if not name.strip():
        raise AlterFaults([AlterFault("--save", "name", name, "a name", "Say a name after --save.")])
    with _held(_file(folder)):
        yield read_named(folder)


@contextmanager
def _held(path: Path) -> Iterator[None]:
    """The file is ours alone, among all processes; waits for whoever has it."""
    mark = path.with_name(f".{path.name}.held")
    stamp, since = None, time.monotonic()
    while (fault := _in_the_way(mark)) is not None:
        waited = time.monotonic() - since
        if (now := _stamp(mark)) != stamp:
            stamp, since = now, time.monotonic()
        elif not isinstance(fault, FileExistsError) and waited > REFUSED_SEC:
            raise AlterFaults([_cannot_write(fault)]) from fault
        elif waited > LEFT_SEC and (stuck := _put_away(mark)) is not None:
            raise AlterFaults([_cannot_write(stuck)]) from stuck
        time.sleep(LOOK_SEC)
    try:
        yield
    finally:
        with suppress(OSError):
            mark.unlink()


def _in_the_way(mark: Path) -> OSError | None:
    """Makes the mark; what kept it from being made, where it was not."""
    try:
        mark.open("x").close()
    except OSError as fault:
        return fault
    return None


def _stamp(mark: Path) -> int | None:
    try:
        return mark.stat().st_mtime_ns
    except OSError:
        return None


def _put_away(mark: Path) -> OSError | None:
    """Under a name of its own first: only one of several who wait gets it. Gives what kept it from being moved."""
    left = mark.with_name(f"{mark.name}.{os.getpid()}.{secrets.token_hex(4)}")
    try:
        os.replace(mark, left)
        left.unlink()
    except FileNotFoundError:
        return None  # somebody else was quicker
    except OSError as fault:
        return fault
    return None


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
        raise AlterFaults([_cannot_write(fault)]) from fault


def _cannot_write(fault: OSError) -> AlterFault:
    mend = "See the rights of the folder, and close the file in other programs."
    return AlterFault(FILE, "", str(fault.strerror or fault), "a folder that can be written", mend)
