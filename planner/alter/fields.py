"""The fields of a change: how each is said, read from text and written back, and what it may name.

One declaration serves the command line, the list kept with the shop and the form on the page.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import MISSING, dataclass, field, fields
from datetime import date, datetime, time, timedelta
from typing import Any, NamedTuple

from planner.answers.wording import pounds
from planner.intake.convert import EXPECTED, READERS, Unfit, day, time_of

MOST_DAYS = 366  # of one list of days


class Window(NamedTuple):
    """Local wall times; an end not after the start is on the next day."""

    start: time
    end: time

    @property
    def over_midnight_min(self) -> int:
        """How long it is by the clock where it ends on the next day, else 0."""
        a, b = (t.hour * 60 + t.minute for t in self)
        return 0 if b > a else b + 24 * 60 - a


@dataclass(frozen=True)
class AlterFault:
    """One thing in a change that does not fit the shop; ``change`` is the change as it was said."""

    change: str
    field: str
    value: str
    expected: str
    mend: str

    def __str__(self) -> str:
        where = f", {self.field}" if self.field else ""
        return f"{self.change}{where}: found '{self.value}', expected {self.expected}. {self.mend}"


class AlterFaults(Exception):
    """Changes that do not fit the shop; ``faults`` lists every reason."""

    def __init__(self, faults: Sequence[AlterFault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(f) for f in self.faults))


@dataclass(frozen=True)
class Said:
    """How a field is said: the word before it ('' for the first), its type, what it means and what it may name."""

    name: str
    word: str
    type: str
    meaning: str
    of: tuple[str, ...]  # tables of the shop one of which has the name (each of the names)
    needed: bool
    default: Any = None  # of one that is not needed

    @property
    def label(self) -> str:
        return self.name.replace("_", " ")


def said(word: str, type_: str, meaning: str, *of: str, **default: Any) -> Any:
    """A field of a change; ``default=`` makes it one that may be left out."""
    return field(metadata={"word": word, "type": type_, "meaning": meaning, "of": of}, **default)


def said_of(change: Any) -> list[Said]:
    """The fields of a change or of a kind of change, in the order in which they are said."""
    return [
        Said(f.name, f.metadata["word"], f.metadata["type"], f.metadata["meaning"], f.metadata["of"],
             f.default is MISSING, None if f.default is MISSING else f.default)
        for f in fields(change)
    ]  # fmt: skip


# --- text to values -----------------------------------------------------------------------------


def _listed(text: str) -> list[str]:
    found = [part.strip() for part in re.split("[,;]", text)]
    if not all(found):
        raise Unfit("names separated by commas", "Remove the comma that has no name on one side.")
    return list(dict.fromkeys(found))


def _names(text: str) -> tuple[str, ...]:
    return tuple(_listed(text))


def _dates(text: str) -> tuple[date, ...]:
    """Days and spans of days: '2027-07-10, 2027-07-12..2027-07-16'."""
    found: set[date] = set()
    for part in _listed(text):
        first, dots, last = (piece.strip() for piece in part.partition(".."))
        a = day(first)
        b = day(last) if dots else a
        if not 0 <= (b - a).days < MOST_DAYS:
            raise Unfit("a span of days, the earlier first", "Write it like 2027-07-12..2027-07-16.")
        found.update(a + timedelta(days=n) for n in range((b - a).days + 1))
    return tuple(sorted(found))


def _window(text: str) -> Window:
    start, dash, end = (piece.strip() for piece in text.partition("-"))
    if not dash:
        raise Unfit(EXPECTED_HERE["window"], "Write both times, e.g. 06:00-12:00.")
    found = Window(time_of(start), time_of(end, is_end=True))
    if found.start == found.end:
        raise Unfit(EXPECTED_HERE["window"], "Make the end another time than the start.")
    return found


EXPECTED_HERE = {
    **EXPECTED,
    "names": "names separated by commas",
    "dates": "days like 2027-07-10, or spans like 2027-07-12..2027-07-16, separated by commas",
    "window": "two times like 06:00-12:00",
}
_READ: dict[str, Callable[[str], Any]] = {**READERS, "names": _names, "dates": _dates, "window": _window}


_UNIT = re.compile(r"(?<=[0-9]) *(%|pieces?|min|minutes?|sec|seconds?|days?)$")


def read(type_: str, text: str) -> Any:
    """The value of a text, with or without its unit after a number; raises ``Unfit``."""
    text = text.strip()
    return _READ[type_](_UNIT.sub("", text) if type_ in ("whole", "positive", "percent") else text)


# --- values to text -----------------------------------------------------------------------------


def written(type_: str, value: Any) -> str:
    """The text that reads as this value."""
    if type_ == "pounds":
        return pounds(value).replace(",", "")
    if type_ == "window":
        return f"{value.start:%H:%M}-{value.end:%H:%M}"
    if type_ == "names":
        return ", ".join(value)
    if type_ == "dates":
        return ", ".join(_spans(value))
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    if type_ == "weekday":
        return ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")[value]
    if isinstance(value, time):
        return f"{value:%H:%M}"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _spans(days: Sequence[date]) -> list[str]:
    """Days that follow one another as spans."""
    found: list[list[date]] = []
    for one in days:
        if found and one - found[-1][-1] == timedelta(days=1):
            found[-1].append(one)
        else:
            found.append([one])
    return [f"{s[0]}..{s[-1]}" if len(s) > 2 else ", ".join(str(d) for d in s) for s in found]
