"""A change from what somebody wrote: one phrase, or a text for each field."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, TypeVar

from planner.alter.base import Alteration
from planner.alter.fields import EXPECTED_HERE, AlterFault, AlterFaults, read, said_of
from planner.intake.convert import Unfit
from planner.intake.nearest import did_you_mean

_QUOTED = re.compile(r"'[^']*'|\"[^\"]*\"")
Kind = TypeVar("Kind", bound=Alteration)


def from_phrase(kind: type[Kind], phrase: str) -> Kind:
    """A change from a phrase such as ``M3 from 2027-07-08 06:00 to 2027-07-10 22:00``.

    Words between the fields are those of :func:`planner.alter.fields.said_of`, each followed by its field, in any order;
    a name in which such a word occurs stands in quotes.

    Raises
    ------
    AlterFaults
        With everything in it that cannot be read.
    """
    texts, twice = _parted(kind, phrase)
    faults = [
        AlterFault(_as_said(kind, phrase), "", word, f"'{word}' once",
                   "Leave one out; where it belongs to a name, put the name in quotes.")
        for word in twice
    ]  # fmt: skip
    return _made(kind, texts, _as_said(kind, phrase), faults)


def from_fields(kind: type[Kind], texts: Mapping[str, str]) -> Kind:
    """A change from a text for each field; empty is left out. Raises ``AlterFaults``."""
    shown = f"--{kind.kind}"
    names = [f.name for f in said_of(kind)]
    faults = [
        AlterFault(
            shown, name, text, f"one of the fields {', '.join(names)}", did_you_mean(name, names, "leave it out.")
        )
        for name, text in texts.items()
        if name not in names
    ]
    return _made(kind, {name: text for name, text in texts.items() if name in names}, shown, faults)


def how_to(kind: type[Alteration]) -> str:
    """The phrase of a kind with its fields' names: 'MACHINES on DAYS at HOURS [by PEOPLE]'."""
    words = []
    for field in said_of(kind):
        part = f"{field.word} {field.name.upper()}".strip()
        words.append(part if field.needed else f"[{part}]")
    return " ".join(words)


def _as_said(kind: type[Alteration], phrase: str) -> str:
    return f'--{kind.kind} "{phrase}"'


def _parted(kind: type[Alteration], phrase: str) -> tuple[dict[str, str], list[str]]:
    """The text of each field, and the words that are there more than once."""
    hidden = _QUOTED.sub(lambda quoted: "\0" * len(quoted[0]), phrase)
    marks: list[tuple[int, int, str]] = [(0, 0, f.name) for f in said_of(kind) if not f.word]
    twice = []
    for field in said_of(kind):
        if field.word:
            found = list(re.finditer(rf"(?<![^\s]){re.escape(field.word)}(?![^\s])", hidden, re.IGNORECASE))
            marks += [(m.start(), m.end(), field.name) for m in found[:1]]
            twice += [field.word] if len(found) > 1 else []
    marks.sort()
    ends = [start for start, _, _ in marks[1:]] + [len(phrase)]
    return {name: phrase[begin:end] for (_, begin, name), end in zip(marks, ends, strict=True)}, twice


def _plain(text: str) -> str:
    """Without spaces around it and without quotes round a name."""
    return _QUOTED.sub(lambda quoted: quoted[0][1:-1], text).strip()


def _made(kind: type[Kind], texts: Mapping[str, str], shown: str, faults: list[AlterFault]) -> Kind:
    values: dict[str, Any] = {}
    for field in said_of(kind):
        text = _plain(texts.get(field.name, ""))
        try:
            if text:
                values[field.name] = read(field.type, text)
            elif field.needed:
                raise Unfit(f"{field.meaning} ({EXPECTED_HERE[field.type]})", f"Say it like this: {how_to(kind)}.")
        except Unfit as problem:
            faults.append(AlterFault(shown, field.label, text, problem.expected, problem.mend))
    if faults:
        raise AlterFaults(faults)
    return kind(**values)
