"""Small random shops with every kind of thing that a timing rule speaks of; the same for the same number."""

from __future__ import annotations

import random
from dataclasses import replace

from builders import ShopBuilder, days

from planner.timetable import Timetable
from planner.work import Begun, Kept, Kind, Operation, Order, Source, Work

WEEKS = 40
DAY = days(7 * WEEKS, (0, 240), (270, 510))
LATE = days(7 * WEEKS, (510, 700), (720, 960))
NIGHT = days(7 * WEEKS, (960, 1300))
FAMILIES = ("", "bar 20", "bar 32")


def random_work(number: int, jobs: int = 6, steps: int = 4) -> Work:
    """Up to so many jobs of up to so many steps, over two mills, a lathe that may run at night, a bench and two outside processes."""
    rng = random.Random(number)
    shop = ShopBuilder(
        handover_min=rng.choice([None, 5]), setter_may_approve=rng.random() < 0.3,
        inspection_stretch_percent=rng.choice([100, 125]),
    )  # fmt: skip
    _machines(shop, rng)
    for name, skills, hours in (
        ("Ann", ["set", "check"], DAY), ("Ben", ["set", "fit"], LATE), ("Cy", ["check", "fit"], DAY), ("Di", ["set"], DAY + LATE)
    ):  # fmt: skip
        shop.person(name, skills, sorted(hours))
    shop.equipment("jaws", rng.choice([1, 2])).equipment("gauge", 1)
    _vans(shop, rng)
    running: set[str] = set()
    for n in range(rng.randint(2, jobs)):
        shop.batch(
            f"B{n}",
            pieces=rng.choice([1, 5, 12, 30]),
            part=f"P{rng.randint(0, 3)}",
            release=rng.choice([0, 0, 300, 2000]),
        )
        for k in range(rng.randint(1, steps)):
            _step(shop, rng, n, k, running)
        if n and rng.random() < 0.5:
            shop.need(f"B{n}", 10, f"B{n - 1}") if not _begun(shop, n) else None
        if rng.random() < 0.3 and not _begun(shop, n):
            shop.need(f"B{n}", 10, at=rng.choice([0, 700]))
        shop.order(f"O{n}", f"B{n}", due=rng.randint(0, 6000), weight=rng.choice([1, 2, 4, 8]))
    work = _with_setting_pieces(shop.build(), random.Random(f"setting {number}"))
    later = random.Random(f"later {number}")
    return under_way(work, later) if later.random() < 0.3 else work


def _with_setting_pieces(work: Work, rng: random.Random) -> Work:
    """In a third of the batches that are not begun, steps use up pieces in setting, which the steps before have to make."""
    more = dict.fromkeys(range(len(work.operations)), 0)
    for batch in work.batches:
        used = 0
        if rng.random() < 0.33 and all(work.operations[i].begun is Begun.NO for i in batch.operations):
            for i in reversed(batch.operations):
                more[i] = used
                used += rng.choice([0, 1, 3])
    return replace(work, operations=tuple(
        replace(o, pieces=o.pieces + more[o.index], pieces_left=o.pieces_left + more[o.index]) for o in work.operations
    ))  # fmt: skip


def in_one_order(work: Work) -> Work:
    """The same work for one order that waits for all of it, due at once."""
    sources = tuple(Source(1, batch=batch.index) for batch in work.batches)
    return replace(work, orders=(Order(0, "all", "", "", len(sources), 0, 3, "", sources),))


def shortened(work: Work, share: float) -> Work:
    """The work with all hours known to but a ``share`` of the time that it takes."""
    table = Timetable(work)
    table.time(table.repaired([]))
    known_to = int(share * table.ends()[table.list].max())

    def cut(windows: tuple[tuple[int, int], ...]) -> tuple[tuple[int, int], ...]:
        return tuple((a, min(b, known_to)) for a, b in windows if a < known_to)

    machines = [
        replace(m, hours=replace(m.hours, attended=cut(m.hours.attended), unattended=cut(m.hours.unattended)))
        for m in work.machines
    ]
    people = [replace(p, hours=cut(p.hours)) for p in work.people]
    return replace(work, machines=tuple(machines), people=tuple(people))


def decided(work: Work, rng: random.Random) -> Work:
    """The same work with some machines and people pinned, and in half of the shops places in an accepted plan."""
    operations = tuple(_pinned(work, o, rng) for o in work.operations)
    share = rng.choice([0.0, 0.6])
    kept = tuple(_place(work, o, rng) for o in operations if _free(o) and rng.random() < share)
    return replace(work, operations=operations, kept=kept)


def _free(operation: Operation) -> bool:
    return operation.begun is Begun.NO and bool(operation.alternatives)


def _pinned(work: Work, operation: Operation, rng: random.Random) -> Operation:
    able = [i for i, p in enumerate(work.people) if operation.skill in p.skills]
    machines = [a.machine for a in operation.alternatives]
    if _free(operation) and rng.random() < 0.2:
        operation = replace(operation, pin_machine=rng.choice(machines))
    if _free(operation) and able and rng.random() < 0.2:
        operation = replace(operation, pin_person=rng.choice(able))
    return operation


def _place(work: Work, operation: Operation, rng: random.Random) -> Kept:
    machine = operation.pin_machine
    if machine is None:
        machine = rng.choice(operation.alternatives).machine
    others = [
        o.index for o in work.operations if o is not operation and any(a.machine == machine for a in o.alternatives)
    ]
    return Kept(operation.index, machine, rng.choice([None, *others]), rng.choice([1, 1, 100]))


def _begun(shop: ShopBuilder, n: int) -> bool:
    return any(shop._operations[i].begun is not Begun.NO for i in shop._batches[n].operations)


def _machines(shop: ShopBuilder, rng: random.Random) -> None:
    both = tuple(sorted(DAY + LATE))
    shop.machine("M1", DAY, group="mills", on_family="bar 20").machine("M2", both, group="mills", on=("P1", "A", 10))
    shop.machine("L1", both, NIGHT, group="lathes", on_family=rng.choice(FAMILIES)).machine("bench", both)
    for a in FAMILIES[1:]:
        for b in FAMILIES[1:]:
            for group in ("mills", "lathes"):
                shop.changeover(group, a, b, 0 if a == b else rng.choice([10, 25]))
    shop.calendar("day", DAY, shop=True)


def _vans(shop: ShopBuilder, rng: random.Random) -> None:
    trips = [
        (w * 10080 + d * 1440 + 300, w * 10080 + d * 1440 + 360, w * 10080 + (d + 5) * 1440)
        for w in range(WEEKS - 2)
        for d in (1, 3)
    ]
    shop.service("anodise", trips, room=rng.choice([None, 40]), minimum=5000, line_fee=300)
    shop.service("plate", trips, van="anodise", minimum=2000)


def _step(shop: ShopBuilder, rng: random.Random, n: int, k: int, running: set[str]) -> None:
    common: dict = {"move_min": rng.choice([0, 0, 15]), "wait_min": rng.choice([0, 0, 90])}
    if rng.random() < 0.3:
        common["move_calendar"] = "day"
    kind = rng.random()
    if k and kind < 0.15:
        shop.outside(
            rng.choice(["anodise", "plate"]), charge_key=rng.choice(["", "black"]), piece_price_pence=40, **common
        )
    elif k and kind < 0.2:
        shop.wait(rng.choice([0, 120]))
    elif k and kind < 0.4:
        shop.manual(
            "bench", rng.choice([0, 60, 400]), skill=rng.choice(["fit", "check"]), setup=rng.choice([0, 15]), **common
        )
    else:
        _machined(shop, rng, n, k, running, common)


def _machined(shop: ShopBuilder, rng: random.Random, n: int, k: int, running: set[str], common: dict) -> None:
    machine = rng.choice(["M1", "M2", "L1", ["M1", "M2"]])
    fields: dict = {
        "family": rng.choice(FAMILIES), "skill": rng.choice([None, "set", "set"]), "pieces_per_cycle": rng.choice([1, 1, 2]),
        "unattended_limit_min": rng.choice([0, 120]) if machine == "L1" else 0, "setup_ahead": rng.random() < 0.2, **common,
    }  # fmt: skip
    if rng.random() < 0.3:
        fields["equipment"] = rng.choice([{"jaws": 1}, {"gauge": 1}, {"jaws": 1, "gauge": 1}])
    cycle = rng.choice([20, 90, 300, 700])
    if rng.random() < 0.3:
        fields |= {"first_off_skill": "check", "first_off_min": rng.choice([0, 10, 45])}
    elif rng.random() < 0.35:
        fields["transfer_pieces"] = rng.choice([2, 5])
    elif rng.random() < 0.2 and cycle <= 90:
        fields["may_pause"] = False
    if k == 0 and isinstance(machine, str) and machine not in running and rng.random() < 0.25:
        running.add(machine)
        left = shop._batches[-1].start_pieces
        fields.pop("equipment", None)  # two running steps could hold more than there is
        shop._batches[-1] = replace(shop._batches[-1], release_min=0)
        fields |= {"begun": Begun.RUNNING, "begun_machine": machine, "pieces_left": rng.randint(0, left),
                   "setup_left_min": rng.choice([0, 20]), "may_pause": True}  # fmt: skip
    elif rng.random() < 0.1:
        fields["not_before_min"] = rng.choice([100, 1500])
    shop.op(machine, rng.choice([0, 20, 90]), cycle, **fields)


def under_way(work: Work, rng: random.Random) -> Work:
    """The same work some time later: in half of the batches that are not begun some steps are done, and the next may be outside
    or half done."""
    operations = list(work.operations)
    needing = {need.operation for need in work.needs}
    for batch in work.batches:
        own = [operations[i] for i in batch.operations]
        if any(o.begun is not Begun.NO or o.index in needing for o in own) or rng.random() < 0.5:
            continue
        sent_out = [k for k, o in enumerate(own) if o.kind is Kind.OUTSIDE]
        for done in own[: sent_out[0] if sent_out and rng.random() < 0.7 else rng.randrange(len(own))]:
            operations[done.index] = replace(done, begun=Begun.DONE, pieces_left=0)
        at = next(o for o in (operations[i] for i in batch.operations) if o.begun is Begun.NO)
        if at.kind is Kind.OUTSIDE:
            operations[at.index] = replace(at, begun=Begun.OUT, back_min=rng.choice([-100, 700, 3000]))
        elif at.kind in (Kind.MACHINE, Kind.MANUAL) and at.pieces_left > 1 and rng.random() < 0.7:
            operations[at.index] = replace(at, begun=Begun.PART, pieces_left=rng.randrange(1, at.pieces_left))
    return replace(work, operations=tuple(operations))
