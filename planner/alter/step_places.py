"""A step on another group of machines, on one more machine, sent out, or made here."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass

from planner.alter.fields import AlterFault, said
from planner.alter.look import machines_named, step_before, with_step
from planner.alter.step import ON_MACHINE, OfStep
from planner.answers.caution_words import ANOTHER_PLACE
from planner.answers.wording import pounds
from planner.counted import listed
from planner.intake.nearest import did_you_mean
from planner.shop import Alternative, Operation, Shop


def _family(shop: Shop, group: str, family: str | None) -> str | None:
    """The family, where the changeovers of the group know it; else none, without changeover."""
    known = {a for g, a, _ in shop.changeovers if g == group}
    return family if not known or family in known else None


def _times(setup_min: int | None, cycle_sec: int | None) -> str:
    said_ = [f"{setup_min} min of setting"] if setup_min is not None else []
    said_ += [f"{cycle_sec} s a cycle"] if cycle_sec is not None else []
    return f", {listed(said_)}" if said_ else ", with the times it has now"


@dataclass(frozen=True)
class Elsewhere(OfStep):
    """A step is done at another place than now."""

    @property
    def caution(self) -> str:
        return ANOTHER_PLACE

    def _outside_faults(self, shop: Shop) -> Iterator[AlterFault]:
        """That it is outside work, and not at the firm already."""
        yield from self._kind_fault(shop, "outside")
        yield from self._begun_fault(shop, "out")


@dataclass(frozen=True)
class Group(Elsewhere):
    """A step goes to the machines of another group."""

    kind = "group"
    title = "Step moved to another machine group"

    to: str = said("to", "name", "machine group", "group")
    setup_min: int | None = said("setup", "whole", "minutes of setting there (as now, if not said)", default=None)
    cycle_sec: int | None = said("cycle", "whole", "seconds a cycle there (as now, if not said)", default=None)

    @property
    def text(self) -> str:
        return f"{self.where} goes to the {self.to}{_times(self.setup_min, self.cycle_sec)}."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from self._kind_fault(shop, *ON_MACHINE)
        yield from self._begun_fault(shop, "running")
        if not machines_named(shop, [self.to]):
            yield self.fault("to", "a group with at least one machine", "Name another group.")

    def changed(self, shop: Shop) -> Shop:
        step = self.step(shop)
        times = step.alternatives[0]
        setup = times.setup_min if self.setup_min is None else self.setup_min
        cycle = times.cycle_sec if self.cycle_sec is None else self.cycle_sec
        machines = machines_named(shop, [self.to])
        setter = shop.groups[self.to].setup_skill
        return self.with_step(
            shop, group=self.to, family=_family(shop, self.to, step.family),
            skill=None if step.kind == "machine" and setter else step.skill,
            alternatives=tuple(Alternative(name, setup, cycle) for name in machines),
        )  # fmt: skip


@dataclass(frozen=True)
class Also(Elsewhere):
    """A step can be done on one more machine."""

    kind = "also"
    title = "Step on one more machine"

    machine: str = said("on", "name", "the machine", "machine")
    setup_min: int | None = said("setup", "whole", "minutes of setting there (as now, if not said)", default=None)
    cycle_sec: int | None = said("cycle", "whole", "seconds a cycle there (as now, if not said)", default=None)

    @property
    def text(self) -> str:
        return f"{self.where} can also be done on {self.machine}{_times(self.setup_min, self.cycle_sec)}."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from self._kind_fault(shop, *ON_MACHINE)
        if any(a.machine == self.machine for a in self.step(shop).alternatives):
            yield self.fault("machine", "a machine it cannot be done on yet", "Name another machine.")

    def changed(self, shop: Shop) -> Shop:
        old = self.step(shop).alternatives
        setup = old[0].setup_min if self.setup_min is None else self.setup_min
        cycle = old[0].cycle_sec if self.cycle_sec is None else self.cycle_sec
        return self.with_step(shop, alternatives=(*old, Alternative(self.machine, setup, cycle)))


@dataclass(frozen=True)
class SendOut(Elsewhere):
    """A step that is made here goes to an outside firm."""

    kind = "out"
    title = "Step sent out"

    supplier: str = said("to", "name", "outside firm", "supplier")
    process: str = said("process", "name", "which of its processes has its turn and minimum charge", "process")
    price: int = said("price", "pounds", "pounds a piece", default=0)

    @property
    def text(self) -> str:
        price = f"{pounds(self.price)} pounds a piece" if self.price else "no price a piece"
        return f"{self.where} goes out to {self.supplier} ({self.process}, {price})."

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
class OtherFirm(Elsewhere):
    """A step that goes to an outside firm goes to another one."""

    kind = "firm"
    title = "Outside step to another firm"

    supplier: str = said("to", "name", "outside firm", "supplier")
    process: str | None = said(
        "process", "name", "which of its processes (of the same name, if not said)", "process", default=None
    )
    price: int | None = said("price", "pounds", "pounds a piece (as now, if not said)", default=None)

    @property
    def text(self) -> str:
        process = f" for {self.process}" if self.process else ""
        price = "at the price a piece it has now" if self.price is None else f"for {pounds(self.price)} pounds a piece"
        return f"{self.where} goes to {self.supplier}{process}, {price}, with that firm's turn and minimum charge."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from self._outside_faults(shop)
        step = self.step(shop)
        wanted = self.process or step.process or ""
        does = [p.name for p in shop.suppliers[self.supplier].processes]
        if step.kind == "outside" and wanted not in does:
            mend = did_you_mean(wanted, does, f"it does {', '.join(does)}.")
            yield self.fault("process", f"a process of {self.supplier}", mend, wanted)
        elif (step.supplier, step.process) == (self.supplier, wanted):
            yield self.fault("supplier", "another firm or process than it goes to now", "Name another one.")

    def changed(self, shop: Shop) -> Shop:
        step = self.step(shop)
        price = step.piece_price_pence if self.price is None else self.price
        process = self.process or step.process
        return self.with_step(shop, supplier=self.supplier, process=process, piece_price_pence=price)


@dataclass(frozen=True)
class MakeHere(Elsewhere):
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

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from self._outside_faults(shop)
        if not machines_named(shop, [self.on]):
            yield self.fault("on", "a group with at least one machine", "Name another group.")
        if self._kind(shop) == "manual" and self.skill is None:
            yield self.fault("skill", "who does it, for work by hand", "Name the skill with 'skill'.")

    def _kind(self, shop: Shop) -> str:
        """Work by hand where the group does nothing else."""
        kinds = {op.kind for r in shop.routings.values() for op in r.operations if op.group == self.on}
        return "manual" if kinds == {"manual"} else "machine"

    def changed(self, shop: Shop) -> Shop:
        machines = machines_named(shop, [self.on])
        return self.with_step(
            shop, kind=self._kind(shop), group=self.on, skill=self.skill, supplier=None, process=None, charge_key=None,
            piece_price_pence=0, alternatives=tuple(Alternative(n, self.setup_min, self.cycle_sec) for n in machines),
        )  # fmt: skip
