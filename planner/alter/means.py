"""More machines, more people, more skills."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime

from planner.alter.base import Alteration, from_moment, skills_of, with_one
from planner.alter.fields import AlterFault, said
from planner.alter.hours import shown
from planner.alter.look import with_steps
from planner.answers.caution_words import ANOTHER_PLACE, TRAINING
from planner.counted import listed
from planner.intake.nearest import did_you_mean
from planner.shop import Absence, Alternative, Operation, Person, Shop

LONG_AGO = datetime(2000, 1, 1)


def _not_before(when: date | datetime | None) -> tuple[Absence, ...]:
    """Not there until then."""
    return () if when is None else (Absence(LONG_AGO, from_moment(when), "not there yet"),)


def _from(when: date | datetime | None) -> str:
    return "" if when is None else f", from {shown(when)} on"


@dataclass(frozen=True)
class NewMachine(Alteration):
    """A new or second-hand machine that can do all that another can."""

    kind = "machine"
    title = "New or second-hand machine"

    name: str = said("", "name", "what the new machine is called")
    like: str = said("like", "name", "the machine whose abilities and hours it has", "machine")
    calendar: str | None = said(
        "hours", "name", "its calendar, where other than that machine's", "calendar", default=None
    )
    since: date | datetime | None = said("from", "due", "when it is there", default=None)
    slower: int = said("slower", "whole", "percent by which its cycles are longer", default=0)

    @property
    def text(self) -> str:
        hours = f", in the hours of calendar '{self.calendar}'" if self.calendar else ""
        slower = f", its cycles {self.slower} % longer" if self.slower else ""
        return f"A machine {self.name} that does all that {self.like} does{hours}{slower}{_from(self.since)}."

    @property
    def caution(self) -> str:
        return ANOTHER_PLACE

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        if self.name in {*shop.machines, *shop.groups}:
            yield self.fault("name", "a name that no machine or group has yet", "Choose another name.")

    def changed(self, shop: Shop) -> Shop:
        old = shop.machines[self.like]
        new = replace(
            old, name=self.name, calendar=self.calendar or old.calendar, downtime=_not_before(self.since),
            on_part=None, on_operation=None, on_family=None, on_equipment=(),
        )  # fmt: skip

        def step(_part: str, op: Operation) -> Operation:
            same = next((a for a in op.alternatives if a.machine == self.like), None)
            if same is None:
                return op
            cycle_sec = -(-same.cycle_sec * (100 + self.slower) // 100)
            return replace(op, alternatives=(*op.alternatives, Alternative(self.name, same.setup_min, cycle_sec)))

        return with_steps(replace(shop, machines=with_one(shop.machines, self.name, new)), step)


@dataclass(frozen=True)
class NewPerson(Alteration):
    """Another person with given skills and hours, such as a third setter."""

    kind = "person"
    title = "Another person"

    name: str = said("", "name", "what they are called here")
    skills: tuple[str, ...] = said("with", "names", "what they can do", "skill")
    calendar: str = said("hours", "name", "whose calendar they work by", "calendar")
    since: date | datetime | None = said("from", "due", "when they are there", default=None)

    @property
    def text(self) -> str:
        skills = listed([f"'{s}'" for s in self.skills])
        return f"Another person, {self.name}, with {skills}, in the hours of calendar '{self.calendar}'{_from(self.since)}."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        if self.name in shop.people:
            yield self.fault("name", "a name that nobody has yet", "Choose another name.")

    def changed(self, shop: Shop) -> Shop:
        person = Person(self.name, self.calendar, self.skills, _not_before(self.since))
        return replace(shop, people=with_one(shop.people, self.name, person))


@dataclass(frozen=True)
class Learns(Alteration):
    """A person who is there has one more skill."""

    kind = "skill"
    title = "Somebody with a further skill"

    person: str = said("", "name", "who", "person")
    skills: tuple[str, ...] = said("can", "names", "what they can do besides", "skill")

    @property
    def text(self) -> str:
        return f"{self.person} can {listed(self.skills)} as well."

    @property
    def caution(self) -> str:
        return TRAINING

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        has = shop.people[self.person].skills
        for skill in self.skills:
            if skill in has:
                others = sorted(skills_of(shop) - set(has))
                yield self.fault(
                    "skills", f"a skill that {self.person} has not", did_you_mean(skill, others, "leave it out."), skill
                )

    def changed(self, shop: Shop) -> Shop:
        person = shop.people[self.person]
        more = replace(person, skills=(*person.skills, *self.skills))
        return replace(shop, people=with_one(shop.people, self.person, more))
