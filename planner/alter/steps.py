"""Steps of a routing: on another group or machine, made here or sent out, transfer, night running, times, yield."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace

from planner.alter.base import Alteration, with_one
from planner.alter.fields import AlterFault, Window, said, written
from planner.alter.look import step_after, step_before, step_of, with_step
from planner.alter.means import MACHINE_CAUTION
from planner.counted import counted, listed
from planner.intake.checks.transfer import why_not
from planner.intake.nearest import did_you_mean
from planner.shop import Alternative, Hours, Operation, Shop

PLACE_CAUTION = "Another machine, method or firm may need a new first-off, a proven program and the customer's consent."
NIGHT_CAUTION = (
    "Running with nobody there needs a risk assessment, fire precautions and the agreement of the people responsible; "
    "local rules come first."
)
ON_MACHINE = ("machine", "manual")
NIGHTS = range(5)  # weekdays on which hours with nobody there begin


@dataclass(frozen=True)
class OfStep(Alteration):
    """A change of one step of a routing."""

    part: str = said("", "name", "part number", "part")
    operation: int = said("op", "positive", "number of the step")

    @property
    def where(self) -> str:
        return f"{self.part} operation {self.operation}"

    def faults(self, shop: Shop) -> list[AlterFault]:
        found = list(self._unknown(shop))
        if self.part in shop.parts and step_of(shop, self.part, self.operation) is None:
            routing = shop.routings.get(self.part)
            has = listed([str(op.number) for op in routing.operations], 12) if routing else ""
            mend = f"The routing has {has}." if has else "It is bought, and has no routing."
            found.append(self.fault("operation", f"a step in the routing of {self.part}", mend))
        return found or list(self.misfits(shop))

    def step(self, shop: Shop) -> Operation:
        """The step in the shop."""
        found = step_of(shop, self.part, self.operation)
        assert found is not None  # else it is among the faults
        return found

    def with_step(self, shop: Shop, **fields: object) -> Shop:
        return with_step(shop, self.part, self.operation, **fields)

    def _kind_fault(self, shop: Shop, *kinds: str) -> Iterator[AlterFault]:
        kind = self.step(shop).kind
        if kind not in kinds:
            mend = f"It is a step of kind '{kind}'. Name another step."
            yield self.fault("operation", f"a step of kind {listed(kinds, word='or')}", mend)

    def _begun_fault(self, shop: Shop, *states: str) -> Iterator[AlterFault]:
        """Nothing can be decided any more about a step that is under way."""
        for batch in shop.batches.values():
            row = next((p for p in batch.progress if p.operation == self.operation), None)
            if batch.part == self.part and row is not None and row.state in states:
                yield self.fault("operation", "a step that has not begun", f"Batch {batch.number} is {_AT[row.state]}.")


_AT = {"running": "on the machine with it", "part": "part-way through it", "out": "away with it"}


def _family(shop: Shop, group: str, family: str | None) -> str | None:
    """The family, where the changeovers of the group know it; else none, without changeover."""
    known = {a for g, a, _ in shop.changeovers if g == group}
    return family if not known or family in known else None


@dataclass(frozen=True)
class Group(OfStep):
    """A step goes to the machines of another group."""

    kind = "group"
    title = "Step moved to another machine group"

    to: str = said("to", "name", "machine group", "group")
    setup_min: int | None = said("setup", "whole", "minutes of setting there (as now, if not said)", default=None)
    cycle_sec: int | None = said("cycle", "whole", "seconds a cycle there (as now, if not said)", default=None)

    @property
    def text(self) -> str:
        return f"{self.where} goes to the {self.to}{_times(self.setup_min, self.cycle_sec)}."

    @property
    def caution(self) -> str:
        return PLACE_CAUTION

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from self._kind_fault(shop, *ON_MACHINE)
        yield from self._begun_fault(shop, "running")
        if not any(m.group == self.to for m in shop.machines.values()):
            yield self.fault("to", "a group with at least one machine", "Name another group.")

    def changed(self, shop: Shop) -> Shop:
        step = self.step(shop)
        times = step.alternatives[0]
        setup = times.setup_min if self.setup_min is None else self.setup_min
        cycle = times.cycle_sec if self.cycle_sec is None else self.cycle_sec
        machines = (m.name for m in shop.machines.values() if m.group == self.to)
        setter = shop.groups[self.to].setup_skill
        return self.with_step(
            shop, group=self.to, family=_family(shop, self.to, step.family),
            skill=None if step.kind == "machine" and setter else step.skill,
            alternatives=tuple(Alternative(name, setup, cycle) for name in machines),
        )  # fmt: skip


@dataclass(frozen=True)
class Also(OfStep):
    """A step can be done on one more machine."""

    kind = "also"
    title = "Step on one more machine"

    machine: str = said("on", "name", "the machine", "machine")
    setup_min: int | None = said("setup", "whole", "minutes of setting there (as now, if not said)", default=None)
    cycle_sec: int | None = said("cycle", "whole", "seconds a cycle there (as now, if not said)", default=None)

    @property
    def text(self) -> str:
        return f"{self.where} can also be done on {self.machine}{_times(self.setup_min, self.cycle_sec)}."

    @property
    def caution(self) -> str:
        return MACHINE_CAUTION

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from self._kind_fault(shop, *ON_MACHINE)
        if any(a.machine == self.machine for a in self.step(shop).alternatives):
            yield self.fault("machine", "a machine it cannot be done on yet", "Name another machine.")

    def changed(self, shop: Shop) -> Shop:
        old = self.step(shop).alternatives
        setup = old[0].setup_min if self.setup_min is None else self.setup_min
        cycle = old[0].cycle_sec if self.cycle_sec is None else self.cycle_sec
        return self.with_step(shop, alternatives=(*old, Alternative(self.machine, setup, cycle)))


def _times(setup_min: int | None, cycle_sec: int | None) -> str:
    said_ = [f"{setup_min} min of setting"] if setup_min is not None else []
    said_ += [f"{cycle_sec} s a cycle"] if cycle_sec is not None else []
    return f", {listed(said_)}" if said_ else ", with the times it has now"


@dataclass(frozen=True)
class SendOut(OfStep):
    """A step that is made here goes to an outside firm."""

    kind = "out"
    title = "Step sent out"

    supplier: str = said("to", "name", "outside firm", "supplier")
    process: str = said("process", "name", "which of its processes has its turn and minimum charge", "process")
    price: int = said("price", "pence", "pounds a piece", default=0)

    @property
    def text(self) -> str:
        price = f"{self.price / 100:.2f} pounds a piece" if self.price else "no price a piece"
        return f"{self.where} goes out to {self.supplier} ({self.process}, {price})."

    @property
    def caution(self) -> str:
        return PLACE_CAUTION

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from self._kind_fault(shop, *ON_MACHINE)
        yield from self._begun_fault(shop, "running", "part")
        does = [p.name for p in shop.suppliers[self.supplier].processes]
        if self.process not in does:
            mend = did_you_mean(self.process, does, f"it does {', '.join(does)}.")
            yield self.fault("process", f"a process of {self.supplier}", mend)

    def changed(self, shop: Shop) -> Shop:
        step = self.step(shop)
        away = Operation(
            step.number, step.description, "outside", supplier=self.supplier, process=self.process,
            piece_price_pence=self.price, move_min=step.move_min, move_calendar=step.move_calendar,
        )  # fmt: skip
        before = step_before(shop, self.part, self.operation)
        if before is not None and before.transfer_pieces:  # only a machine step takes sublots
            shop = with_step(shop, self.part, before.number, transfer_pieces=None)
        return self.with_step(shop, **{name: getattr(away, name) for name in asdict(away)})


@dataclass(frozen=True)
class MakeHere(OfStep):
    """A step that goes to an outside firm is made here."""

    kind = "here"
    title = "Step made here"

    on: str = said("on", "name", "machine group", "group")
    setup_min: int = said("setup", "whole", "minutes of setting")
    cycle_sec: int = said("cycle", "whole", "seconds a cycle")
    skill: str | None = said(
        "skill", "name", "who sets or does it (the group's setter, if not said)", "skill", default=None
    )

    @property
    def text(self) -> str:
        return f"{self.where} is made here on the {self.on}{_times(self.setup_min, self.cycle_sec)}."

    @property
    def caution(self) -> str:
        return PLACE_CAUTION

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from self._kind_fault(shop, "outside")
        yield from self._begun_fault(shop, "out")
        if not any(m.group == self.on for m in shop.machines.values()):
            yield self.fault("on", "a group with at least one machine", "Name another group.")
        if self._kind(shop) == "manual" and self.skill is None:
            yield self.fault("skill", "who does it, for work by hand", "Name the skill with 'skill'.")

    def _kind(self, shop: Shop) -> str:
        """Work by hand where the group does nothing else."""
        kinds = {op.kind for r in shop.routings.values() for op in r.operations if op.group == self.on}
        return "manual" if kinds == {"manual"} else "machine"

    def changed(self, shop: Shop) -> Shop:
        machines = (m.name for m in shop.machines.values() if m.group == self.on)
        return self.with_step(
            shop, kind=self._kind(shop), group=self.on, skill=self.skill, supplier=None, process=None, charge_key=None,
            piece_price_pence=0, alternatives=tuple(Alternative(n, self.setup_min, self.cycle_sec) for n in machines),
        )  # fmt: skip


@dataclass(frozen=True)
class Transfer(OfStep):
    """Pieces are moved on to the next step before the batch is finished."""

    kind = "transfer"
    title = "Transfer quantity"

    pieces: int = said("of", "positive", "pieces moved on at a time")

    @property
    def text(self) -> str:
        return f"{self.where} moves on {counted(self.pieces, 'piece')} at a time, before the batch is finished."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from self._kind_fault(shop, "machine")
        following = step_after(shop, self.part, self.operation)
        giving = {**asdict(self.step(shop)), "transfer_pieces": self.pieces}
        reason = why_not(giving, {**asdict(following), "operation": following.number} if following else None)
        if reason:
            yield self.fault("operation", "a step whose next step can take a part of the batch", reason)

    def changed(self, shop: Shop) -> Shop:
        return self.with_step(shop, transfer_pieces=self.pieces)


@dataclass(frozen=True)
class Unattended(OfStep):
    """A run may go on with nobody there, so many minutes in each unattended stretch."""

    kind = "unattended"
    title = "Running with nobody there"

    limit_min: int = said("up-to", "positive", "running minutes in each stretch with nobody there")
    hours: Window | None = said(
        "at", "window", "hours with nobody there, where its machines have none yet", default=None
    )

    @property
    def text(self) -> str:
        hours = f", {written('window', self.hours)} from Monday to Friday" if self.hours else ""
        return f"{self.where} may run up to {self.limit_min} min a stretch with nobody there{hours}."

    @property
    def caution(self) -> str:
        return NIGHT_CAUTION

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from self._kind_fault(shop, "machine")
        if self.hours is None and not any(
            not h.attended for name in self._calendars(shop) for h in shop.calendars[name].hours
        ):
            machines = listed([a.machine for a in self.step(shop).alternatives])
            yield self.fault(
                "hours",
                f"hours in which {machines} may run with nobody there",
                "Say them, for example 'at 22:00-06:00'.",
            )

    def _calendars(self, shop: Shop) -> list[str]:
        return sorted({shop.machines[a.machine].calendar for a in self.step(shop).alternatives})

    def changed(self, shop: Shop) -> Shop:
        if self.hours is not None:
            shop = self._open(shop, self.hours)
        return self.with_step(shop, unattended_limit_min=self.limit_min)

    def _open(self, shop: Shop, window: Window) -> Shop:
        """Its machines get hours with nobody there; where they are attended then, they stay so."""
        calendars, machines = dict(shop.calendars), dict(shop.machines)
        for old in self._calendars(shop):
            name = f"{old}, {self.where}"
            nights = tuple(Hours(day, *window, False) for day in NIGHTS)
            calendars[name] = replace(calendars[old], name=name, hours=(*calendars[old].hours, *nights))
            for alternative in self.step(shop).alternatives:
                if shop.machines[alternative.machine].calendar == old:
                    machines[alternative.machine] = replace(machines[alternative.machine], calendar=name)
        return replace(shop, calendars=calendars, machines=machines)


@dataclass(frozen=True)
class Cycle(OfStep):
    """A step has another cycle time."""

    kind = "cycle"
    title = "Another cycle time"

    seconds: int = said("to", "positive", "seconds a cycle, on every machine that can do it")

    @property
    def text(self) -> str:
        return f"{self.where} takes {self.seconds} s a cycle."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from self._kind_fault(shop, *ON_MACHINE)

    def changed(self, shop: Shop) -> Shop:
        return self.with_step(
            shop, alternatives=tuple(replace(a, cycle_sec=self.seconds) for a in self.step(shop).alternatives)
        )


@dataclass(frozen=True)
class Yield(Alteration):
    """More or fewer pieces of a part come out good."""

    kind = "yield"
    title = "Another yield"

    part: str = said("", "name", "part number", "part")
    percent: float = said("to", "percent", "good pieces out of the whole routing")

    @property
    def text(self) -> str:
        return f"{self.part} with {self.percent:g} % of the pieces good."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        if not shop.parts[self.part].made:
            yield self.fault("part", "a part that is made here", "It is bought: name another.")

    def changed(self, shop: Shop) -> Shop:
        part = replace(shop.parts[self.part], yield_percent=self.percent)
        return replace(shop, parts=with_one(shop.parts, self.part, part))


@dataclass(frozen=True)
class SetupCut(Alteration):
    """Setting takes less time on a group of machines, changeovers included."""

    kind = "setup"
    title = "Shorter setting"

    group: str = said("", "name", "machine group", "group")
    percent: float = said("by", "percent", "percent less; what is left is rounded up to minutes")

    @property
    def text(self) -> str:
        return f"Setting on the {self.group} takes {self.percent:g} % less."

    def changed(self, shop: Shop) -> Shop:
        own = {m.name for m in shop.machines.values() if m.group == self.group}
        routings = {
            part: replace(
                routing,
                operations=tuple(
                    replace(op, alternatives=tuple(
                        replace(a, setup_min=self._less(a.setup_min)) if a.machine in own else a for a in op.alternatives
                    ))
                    for op in routing.operations
                ),
            )
            for part, routing in shop.routings.items()
        }  # fmt: skip
        changeovers = {
            key: self._less(minutes) if key[0] == self.group else minutes for key, minutes in shop.changeovers.items()
        }
        return replace(shop, routings=routings, changeovers=changeovers)

    def _less(self, minutes: int) -> int:
        thousandths = round((100 - self.percent) * 1000)
        return -(-minutes * thousandths // 100_000)
