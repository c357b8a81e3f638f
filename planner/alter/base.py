"""What every kind of change has: its fields, what does not fit the shop, the changed copy, and words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any, ClassVar

from planner.alter.fields import AlterFault, AlterFaults, said_of, written
from planner.counted import listed
from planner.intake.nearest import did_you_mean
from planner.shop import Shop
from planner.work import Proposal

_TABLES: dict[str, Callable[[Shop], Iterable[str]]] = {
    "machine": lambda shop: shop.machines,
    "group": lambda shop: shop.groups,
    "person": lambda shop: shop.people,
    "calendar": lambda shop: shop.calendars,
    "part": lambda shop: shop.parts,
    "order": lambda shop: shop.orders,
    "class": lambda shop: shop.classes,
    "supplier": lambda shop: shop.suppliers,
    "process": lambda shop: {p.name for s in shop.suppliers.values() for p in s.processes},
    "receipt": lambda shop: (r.reference for r in shop.receipts),
    "skill": lambda shop: skills_of(shop),
}


def skills_of(shop: Shop) -> set[str]:
    """Every skill that somebody has or that something asks for."""
    found = {s for person in shop.people.values() for s in person.skills}
    found |= {group.setup_skill for group in shop.groups.values() if group.setup_skill}
    steps = (op for routing in shop.routings.values() for op in routing.operations)
    return found | {s for op in steps for s in (op.skill, op.first_off_skill) if s}


def known(shop: Shop, of: Iterable[str]) -> list[str]:
    """Names that the shop has in those tables, sorted."""
    return sorted({name for table in of for name in _TABLES[table](shop)})


@dataclass(frozen=True)
class Alteration:
    """One change of a shop. ``kind`` is the word it goes by, ``title`` its name for people."""

    kind: ClassVar[str]
    title: ClassVar[str]

    @property
    def text(self) -> str:
        """What it changes, in a plain English sentence."""
        raise NotImplementedError

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        """What does not fit the shop; all names that the fields mention are known."""
        yield from ()

    def changed(self, shop: Shop) -> Shop:
        """The changed copy of a shop that it fits."""
        raise NotImplementedError

    def apply(self, shop: Shop) -> Shop:
        """The changed copy of the shop; raises ``AlterFaults``."""
        faults = self.faults(shop)
        if faults:
            raise AlterFaults(faults)
        return self.changed(shop)

    @property
    def proposals(self) -> tuple[Proposal, ...]:
        """Batches to be split or combined, which no table of the shop can say."""
        return ()

    @property
    def pence(self) -> int:
        """What it costs once, beside what the plan itself charges."""
        return 0

    @property
    def caution(self) -> str:
        """What has to be minded where the change could harm somebody; empty for most."""
        return ""

    # --- for all kinds alike ----------------------------------------------------------------

    def faults(self, shop: Shop) -> list[AlterFault]:
        """Everything in it that does not fit the shop."""
        unknown = list(self._unknown(shop))
        return unknown or list(self.misfits(shop))

    def _unknown(self, shop: Shop) -> Iterator[AlterFault]:
        for field in said_of(self):
            value = getattr(self, field.name)
            if not field.of or value is None:
                continue
            names = known(shop, field.of)
            for name in value if isinstance(value, tuple) else (value,):
                if name not in names:
                    mend = did_you_mean(name, names, f"name one of these: {listed(names, 9)}.")
                    yield AlterFault(self.phrase, field.label, name, f"the name of {_a(field.of)} of the shop", mend)

    def fault(self, field: str, expected: str, mend: str, value: str | None = None) -> AlterFault:
        """A fault at one of its fields."""
        return AlterFault(
            self.phrase, field.replace("_", " "), self._shown(field) if value is None else value, expected, mend
        )

    def _shown(self, field: str) -> str:
        found = next(f for f in said_of(self) if f.name == field)
        value = getattr(self, field)
        return "" if value is None else written(found.type, value)

    @property
    def fields(self) -> dict[str, str]:
        """The text of each field that is filled in."""
        said = (f for f in said_of(self) if f.needed or getattr(self, f.name) != f.default)
        return {f.name: self._shown(f.name) for f in said}

    @property
    def phrase(self) -> str:
        """The change as an option of the command."""
        words = {f.word for f in said_of(self)}
        texts = self.fields
        said = [f"{f.word} {_quoted(texts[f.name], words)}".strip() for f in said_of(self) if f.name in texts]
        return f'--{self.kind} "{" ".join(said)}"'


def _quoted(text: str, words: set[str]) -> str:
    """In quotes where it has a word in it that would be taken for the next field's."""
    return f"'{text}'" if words & set(text.casefold().split()) else text


def _a(of: tuple[str, ...]) -> str:
    return listed([f"{'an' if what[0] in 'aeio' else 'a'} {what}" for what in of], word="or")


# --- several changes ----------------------------------------------------------------------------


def phrases(changes: Iterable[Alteration]) -> str:
    """Some changes as options of the command."""
    return " ".join(change.phrase for change in changes)


def cautions_of(changes: Iterable[Alteration]) -> tuple[str, ...]:
    """What has to be minded with some changes, each once."""
    return tuple(dict.fromkeys(change.caution for change in changes if change.caution))


# --- moments and days ---------------------------------------------------------------------------


def from_moment(when: date | datetime) -> datetime:
    """A date is from its midnight on."""
    return when if isinstance(when, datetime) else datetime.combine(when, time())


def until_moment(when: date | datetime) -> datetime:
    """A date is included: until the midnight after it."""
    return when if isinstance(when, datetime) else datetime.combine(when + timedelta(days=1), time())


def with_one(table: Mapping[str, Any], name: str, record: Any) -> dict[str, Any]:
    """A table with one record put in or in place of the one of that name."""
    return {**table, name: record}
