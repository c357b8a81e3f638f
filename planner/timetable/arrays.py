"""``Work`` as plain integer arrays for the compiled timetable.

Ragged tables are a flat array with a pointer array ``*_lo`` (row k is ``lo[k]:lo[k + 1]``).
-1 stands for "none" throughout.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from planner.timetable.lines import Lines, build_lines
from planner.work import Begun, Kind, Operation, Span, Work
from planner.worktime import open_together, run_hours


class Data(NamedTuple):
    """What does not change between evaluations: a record array for each kind of thing, and ragged rows.

    ``op``: kind, planned (0 for DONE), running, out, batch, key (the same key following itself needs no
    setup), family, pieces (left), per_cycle, skill, plain (a machine only, without setup), shared (asks for
    people or equipment), stretched (manual work
    that first-offs may interrupt), first_off_skill (-1: none asked, or passed), first_off_min, may_pause, ahead,
    transfer (pieces of a sublot that comes IN; 0: the whole batch), across (pieces there from the start; below 0: so many of the first are used up in setting),
    before and after (operations of its batch next to it that are still to be planned), move_min and move_line (from the
    one before; line -1: the receiving machine's, -2: elapsed; idle_line: where no machine takes it), wait_min, setup_left, back, earliest
    and earliest_why (release, not-before, receipts), gap_from (where gaps are filled: it goes into none before that minute), service, charge_group, charge_pence,
    and where its rows lie: alt_lo..alt_hi and own_lo..own_hi (in ``alt``: its machines; each with a person by name), need_lo..need_hi, use_lo..use_hi (in ``use_op``: what waits for its batch),
    eq_lo..eq_hi, burst_lo..burst_hi.
    ``alt``: machine, setup_min (base), cycle_sec, run_min (lengthened where stretched), line (run hours), person (who is to set it
    up or to do it; -1: anybody who can), plain (itself, or where a person is named, the same machine without).
    ``machine``: group, line (attended), on_key, on_family. ``order``: at (latest of receipts and
    stock), due, weight, lo..hi in ``source_op``. ``trip``: cutoff, collect, back, run. ``charge``: lo..hi
    (slots, one a trip), minimum, fee. ``batch``: lo..hi in ``batch_op``, begun. ``kept``: op, machine, after, weight.
    """

    lines: Lines
    op: np.ndarray
    alt: np.ndarray
    machine: np.ndarray
    order: np.ndarray
    trip: np.ndarray
    charge: np.ndarray
    batch: np.ndarray
    kept: np.ndarray
    need_op: np.ndarray  # last operation of the supplying batch
    use_op: np.ndarray  # by last operation of a batch: operations that need the batch
    outside: np.ndarray  # planned outside operations
    eq_what: np.ndarray
    eq_units: np.ndarray
    eq_count: np.ndarray  # by equipment
    on_eq: np.ndarray  # [machine, equipment]
    person_line: np.ndarray
    pair_line: np.ndarray  # [machine, person] common windows
    skill_lo: np.ndarray
    skill_person: np.ndarray
    person_lo: np.ndarray
    person_skill: np.ndarray
    changeover: np.ndarray  # [group, family, family]
    trip_lo: np.ndarray  # by service
    run_room: np.ndarray
    batch_op: np.ndarray  # planned operations of each batch, in order
    source_op: np.ndarray  # last operation of a batch source
    feeds_lo: np.ndarray  # by operation: the orders it is the last operation of a source of
    feeds: np.ndarray
    handover: int
    setter_may_approve: int
    change_machine: int
    change_place: int


WHY_RELEASE, WHY_BEFORE, WHY_COMPONENT, WHY_MACHINE, WHY_PERSON = 0, 1, 2, 3, 4
WHY_EQUIPMENT, WHY_VAN, WHY_PIN, WHY_RECEIPT, WHY_HELD = 5, 6, 7, 8, 9
WHY_TEXT = (
    "release", "step before", "component", "machine", "person", "equipment", "van", "not before", "receipt", "held back",
)  # fmt: skip


def ints(values: Iterable[int]) -> np.ndarray:
    return np.array(list(values), np.int64)


def records(**columns: np.ndarray) -> np.ndarray:
    """A record array of equally long integer columns."""
    table = np.zeros(len(next(iter(columns.values()))), [(name, np.int64) for name in columns])
    for name, values in columns.items():
        table[name] = values
    return table


def ragged(rows: Sequence[Iterable[int]]) -> tuple[np.ndarray, np.ndarray]:
    """Pointer array and flat values of a list of rows."""
    lo = np.zeros(len(rows) + 1, np.int64)
    lo[1:] = np.cumsum([len(list(r)) for r in rows])
    return lo, ints(v for r in rows for v in r)


class _LineStore:
    """Windows by name, each laid down once."""

    def __init__(self) -> None:
        self.windows: list[Sequence[Span]] = []
        self.at: dict[tuple, int] = {}

    def line(self, name: tuple, make) -> int:
        if name not in self.at:
            self.at[name] = len(self.windows)
            self.windows.append(make())
        return self.at[name]


def compile_work(work: Work) -> Data:
    """Arrays of ``work``; see :class:`Data`."""
    store = _LineStore()
    machine_line = ints(store.line(("m", i), lambda m=m: m.hours.attended) for i, m in enumerate(work.machines))
    person_line = ints(store.line(("p", i), lambda p=p: p.hours) for i, p in enumerate(work.people))
    values = {
        **_operation_arrays(work, store),
        **_machine_arrays(work, machine_line),
        **_people_arrays(work),
        **_outside_arrays(work),
        **_order_arrays(work),
    }
    pair_line = _pair_lines(work, store)
    return Data(
        lines=build_lines(store.windows, work.break_max_min), person_line=person_line, pair_line=pair_line, **values
    )


def holding(data: Data, until: np.ndarray) -> Data:
    """``data`` in which no operation starts before ``until`` (minutes by operation; 0: as soon as it can)."""
    op = data.op.copy()
    later = until > op["earliest"]
    op["earliest"][later], op["earliest_why"][later] = until[later], WHY_HELD
    return data._replace(op=op)


def _is_planned(op: Operation) -> bool:
    return op.begun is not Begun.DONE


def _operations_before(work: Work) -> list[int]:
    """For each operation that is still to be planned, the one before it in its batch if that is as well, else -1."""
    before = [-1] * len(work.operations)
    for batch in work.batches:
        for a, b in zip(batch.operations, batch.operations[1:], strict=False):
            both = _is_planned(work.operations[a]) and _is_planned(work.operations[b])
            before[b] = a if both else -1
    return before


def _operations_after(before: list[int]) -> list[int]:
    after = [-1] * len(before)
    for op, earlier in enumerate(before):
        if earlier >= 0:
            after[earlier] = op
    return after


def _gives_sublots(work: Work, op: Operation, before: int) -> bool:
    return (
        before >= 0
        and bool(work.operations[before].transfer_pieces)
        and work.operations[before].pieces_left > 0
        and op.kind is Kind.MACHINE
        and work.operations[before].kind is Kind.MACHINE
    )


def pieces_across(op: Operation, before: Operation) -> int:
    """Pieces that a step has, beyond those still to come; below 0: that it uses up before its good ones."""
    more = op.pieces_left - before.pieces_left
    return min(more, 0) if before.begun is Begun.NO else more


def _is_plain(work: Work, op: Operation, sublots: bool) -> bool:
    """Does it take a machine and nothing else, without setup whatever ran before, in one go?"""
    groups = {work.machines[a.machine].group for a in op.alternatives}
    return (
        op.kind is Kind.MACHINE and op.begun is not Begun.RUNNING and op.pieces_left > 0 and not sublots
        and op.may_pause and not op.setup_ahead and not op.equipment and op.first_off_skill is None
        and all(a.setup_min == 0 for a in op.alternatives)
        and not any(minutes and group in groups for (group, _, _), minutes in work.changeovers.items())
    )  # fmt: skip


def _burst_room(work: Work, op: Operation, before: int) -> int:
    if not _gives_sublots(work, op, before):
        return 3
    prev = work.operations[before]
    return 4 + -(-max(prev.pieces_left, 1) // (prev.transfer_pieces or 1))


def _pair_lines(work: Work, store: _LineStore) -> np.ndarray:
    """Common windows of each machine with each person who may have to work on it."""
    wanted = {
        (a.machine, p)
        for o in work.operations
        if o.skill is not None
        for p, person in enumerate(work.people)
        if o.skill in person.skills
        for a in o.alternatives
    }
    lines = np.full((len(work.machines), len(work.people)), -1, np.int64)
    for m, p in sorted(wanted):
        lines[m, p] = store.line(
            ("pair", m, p),
            lambda m=m, p=p: open_together(work.machines[m].hours.attended, work.people[p].hours).windows,
        )
    return lines


def _operation_arrays(work: Work, store: _LineStore) -> dict[str, np.ndarray]:
    ops, before = work.operations, _operations_before(work)
    keys, families = _keys(work), _families(work)
    approve = {o.first_off_skill for o in ops if o.first_off_skill is not None}
    prev = [ops[b] if b >= 0 else None for b in before]
    sub = [_gives_sublots(work, o, before[o.index]) for o in ops]
    receipts: dict[int, int] = {}
    for need in work.needs:
        if need.batch is None:
            receipts[need.operation] = max(need.at_min, receipts.get(need.operation, 0))
    earliest = [_earliest(work, o, receipts.get(o.index, 0)) for o in ops]
    need_rows: list[list[int]] = [[] for _ in ops]
    for need in work.needs:
        if need.batch is not None:
            last = work.batches[need.batch].operations[-1]
            if _is_planned(ops[last]):
                need_rows[need.operation].append(last)
    need_lo, need_op = ragged(need_rows)
    use_rows: list[list[int]] = [[] for _ in ops]
    for i, row in enumerate(need_rows):
        for last in dict.fromkeys(row):
            use_rows[last].append(i)
    use_lo, use_op = ragged(use_rows)
    eq_lo, eq_what = ragged([[e for e, _ in o.equipment] for o in ops])
    _, eq_units = ragged([[u for _, u in o.equipment] for o in ops])
    alt_lo, own_lo, alt = _alternatives(work, store)
    charge_group, charge = _charge_groups(work)
    burst_lo = np.cumsum([0, *(_burst_room(work, o, before[o.index]) for o in ops)])
    op = records(
        kind=ints(o.kind for o in ops),
        planned=ints(_is_planned(o) for o in ops),
        running=ints(o.begun is Begun.RUNNING for o in ops),
        out=ints(o.begun is Begun.OUT for o in ops),
        batch=ints(o.batch for o in ops),
        key=ints(keys[_key(work, o)] for o in ops),
        family=ints(families[o.family] for o in ops),
        pieces=ints(o.pieces_left for o in ops),
        per_cycle=ints(o.pieces_per_cycle for o in ops),
        skill=ints(_or_none(o.skill) for o in ops),
        plain=ints(_is_plain(work, o, s) for o, s in zip(ops, sub, strict=True)),
        shared=ints(o.skill is not None or o.first_off_skill is not None or bool(o.equipment) for o in ops),
        stretched=ints(o.kind is Kind.MANUAL and o.skill in approve for o in ops),
        first_off_skill=ints(-1 if o.first_off_passed or not o.pieces_left else _or_none(o.first_off_skill) for o in ops),
        first_off_min=ints(o.first_off_min for o in ops),
        may_pause=ints(o.may_pause for o in ops),
        ahead=ints(o.kind is Kind.MACHINE and (o.setup_ahead or s) for o, s in zip(ops, sub, strict=True)),
        transfer=ints((p.transfer_pieces or 0) if p and s else 0 for p, s in zip(prev, sub, strict=True)),
        across=ints(
            pieces_across(o, p) if p and s else 0
            for o, p, s in zip(ops, prev, sub, strict=True)
        ),
        before=ints(before), after=ints(_operations_after(before)),
        move_min=ints(p.move_min if p else 0 for p in prev),
        move_line=ints(_move_line(work, o, p, store) for o, p in zip(ops, prev, strict=True)),
        idle_line=ints(_idle_line(work, p, store) for p in prev),
        wait_min=ints(o.wait_min for o in ops),
        setup_left=ints(o.setup_left_min for o in ops),
        back=ints(max(0, o.back_min) for o in ops),
        earliest=ints(t for t, _ in earliest),
        earliest_why=ints(w for _, w in earliest),
        gap_from=ints(0 for _ in ops),
        service=ints(_or_none(o.service) for o in ops),
        charge_group=charge_group, charge_pence=ints(o.pieces_left * o.piece_price_pence for o in ops),
        alt_lo=alt_lo[:-1], alt_hi=alt_lo[1:], own_lo=own_lo[:-1], own_hi=own_lo[1:], need_lo=need_lo[:-1], need_hi=need_lo[1:],
        use_lo=use_lo[:-1], use_hi=use_lo[1:], eq_lo=eq_lo[:-1],
        eq_hi=eq_lo[1:], burst_lo=burst_lo[:-1], burst_hi=burst_lo[1:],
    )  # fmt: skip
    return dict(
        op=op, alt=alt, charge=charge, need_op=need_op, use_op=use_op,
        outside=ints(o.index for o in ops if o.kind is Kind.OUTSIDE and _is_planned(o)), eq_what=eq_what, eq_units=eq_units,
        eq_count=ints(e.count for e in work.equipment), changeover=_changeovers(work, families),
    )  # fmt: skip


def _or_none(value: int | None) -> int:
    return -1 if value is None else value


def _key(work: Work, op: Operation) -> tuple[str, str, int]:
    batch = work.batches[op.batch]
    return batch.part, batch.revision, op.number


def _keys(work: Work) -> dict[tuple[str, str, int], int]:
    """A number for each part, revision and step: the same one following itself needs no setup."""
    keys: dict[tuple[str, str, int], int] = {}
    for op in work.operations:
        keys.setdefault(_key(work, op), len(keys))
    return keys


def _families(work: Work) -> dict[str, int]:
    named = {o.family for o in work.operations} | {m.on_family for m in work.machines}
    named |= {f for _, a, b in work.changeovers for f in (a, b)}
    return {"": 0, **{f: i + 1 for i, f in enumerate(sorted(named - {""}))}}


def _changeovers(work: Work, families: dict[str, int]) -> np.ndarray:
    table = np.zeros((max(1, len(work.groups)), len(families), len(families)), np.int32)
    for (group, a, b), minutes in work.changeovers.items():
        if a and b:
            table[group, families[a], families[b]] = minutes
    return table


def _move_line(work: Work, op: Operation, prev: Operation | None, store: _LineStore) -> int:
    """Where the move to ``op`` is counted; -1: in the attended minutes of the machine that takes it."""
    if prev is not None and prev.move_calendar is None and op.kind in (Kind.MACHINE, Kind.MANUAL):
        return -1
    return _idle_line(work, prev, store)


def _idle_line(work: Work, prev: Operation | None, store: _LineStore) -> int:
    """Where the move is counted when no machine takes it; -2: elapsed."""
    if prev is None:
        return -2
    calendar = work.shop_calendar if prev.move_calendar is None else prev.move_calendar
    if calendar is None:
        return -2
    return store.line(("c", calendar), lambda: work.move_calendars[calendar])


def _earliest(work: Work, op: Operation, receipt_min: int) -> tuple[int, int]:
    """Latest of release, not-before and the receipts the operation needs, with which of them it is."""
    best = (max(0, work.batches[op.batch].release_min), WHY_RELEASE)
    if op.not_before_min > best[0]:
        best = (op.not_before_min, WHY_PIN)
    if receipt_min > best[0]:
        best = (receipt_min, WHY_RECEIPT)
    return best


def _alternatives(work: Work, store: _LineStore) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Pointers by operation to its machines, and to each of them with a person by name, and the rows of both."""
    approve = {o.first_off_skill for o in work.operations if o.first_off_skill is not None}
    rows, run, line = [], [], []
    for o in work.operations:
        allowed = [a for a in o.alternatives if _allowed(o, a.machine)] if o.kind in (Kind.MACHINE, Kind.MANUAL) else []
        rows.append(allowed)
        cycles = -(-o.pieces_left // o.pieces_per_cycle)
        for a in allowed:
            minutes = -(-cycles * a.cycle_sec // 60)
            if o.kind is Kind.MANUAL and o.skill in approve:
                minutes = -(-minutes * work.inspection_stretch_percent // 100)
            limit = o.unattended_limit_min if o.kind is Kind.MACHINE else 0
            run.append(minutes)
            machine = work.machines[a.machine]
            line.append(store.line(("run", a.machine, limit), lambda m=machine, n=limit: run_hours(m.hours, n)))
    lo = np.zeros(len(rows) + 1, np.int64)
    lo[1:] = np.cumsum([len(r) for r in rows])
    flat = [a for r in rows for a in r]
    pinned = [_or_none(o.pin_person) for o, r in zip(work.operations, rows, strict=True) for _ in r]
    alt = records(
        machine=ints(a.machine for a in flat), setup_min=ints(a.setup_min for a in flat),
        cycle_sec=ints(a.cycle_sec for a in flat), run_min=ints(run), line=ints(line),
        person=ints(pinned), plain=np.arange(len(flat)),
    )  # fmt: skip
    able = _able_by_skill(work)
    choices = [_choice_of_people(o, able) for o in work.operations]
    own_lo, of = ragged([np.repeat(range(lo[i], lo[i + 1]), len(p)) for i, p in enumerate(choices)])
    own = alt[of]
    own["person"] = [p for people, row in zip(choices, rows, strict=True) for _ in row for p in people]
    return lo, own_lo + len(alt), np.concatenate([alt, own])


def _able_by_skill(work: Work) -> list[list[int]]:
    return [[p for p, person in enumerate(work.people) if s in person.skills] for s in range(len(work.skills))]


def _choice_of_people(op: Operation, able: list[list[int]]) -> list[int]:
    """Who may be named for its setting or hand work: nobody where there is but one, or it runs already."""
    people = [] if op.skill is None or op.begun is Begun.RUNNING or op.pin_person is not None else able[op.skill]
    return people if len(people) > 1 else []


def _allowed(op: Operation, machine: int) -> bool:
    """Begun work stays on its machine; a pin names one."""
    if op.begun is Begun.RUNNING and op.begun_machine is not None:
        return machine == op.begun_machine
    return op.pin_machine is None or machine == op.pin_machine


def _machine_arrays(work: Work, line: np.ndarray) -> dict[str, np.ndarray]:
    keys, families = _keys(work), _families(work)
    on_eq = np.zeros((len(work.machines), max(1, len(work.equipment))), np.int64)
    for i, m in enumerate(work.machines):
        for e in m.on_equipment:
            on_eq[i, e] += 1
    machine = records(
        group=ints(m.group for m in work.machines), line=line,
        on_key=ints(-1 if m.on_key is None else keys.get(m.on_key, -1) for m in work.machines),
        on_family=ints(families[m.on_family] for m in work.machines),
    )  # fmt: skip
    return dict(machine=machine, on_eq=on_eq)


def _people_arrays(work: Work) -> dict:
    lo, who = ragged(_able_by_skill(work))
    skills, known = ragged([sorted(s for s in person.skills if s < len(work.skills)) for person in work.people])
    return dict(
        skill_lo=lo, skill_person=who, person_lo=skills, person_skill=known, handover=-1 if work.handover_min is None else work.handover_min,
        setter_may_approve=int(work.setter_may_approve), change_machine=work.prices.change_machine_min,
        change_place=work.prices.change_place_min,
    )  # fmt: skip


def _charge_groups(work: Work) -> tuple[np.ndarray, np.ndarray]:
    """Outside work that shares a minimum charge when it goes together: group by operation, and the groups."""
    groups: dict[tuple, int] = {}
    for o in work.operations:
        if o.kind is Kind.OUTSIDE:
            groups.setdefault((o.service, o.charge_key), len(groups))
    services = [work.services[s] for s, _ in groups]
    lo, _ = ragged([range(len(s.trips)) for s in services])
    of = ints(groups.get((o.service, o.charge_key), -1) if o.kind is Kind.OUTSIDE else -1 for o in work.operations)
    return of, records(
        lo=lo[:-1],
        hi=lo[1:],
        minimum=ints(s.minimum_pence for s in services),
        fee=ints(s.line_fee_pence for s in services),
    )


def _outside_arrays(work: Work) -> dict[str, np.ndarray]:
    trips = [t for s in work.services for t in s.trips]
    trip_lo, _ = ragged([range(len(s.trips)) for s in work.services])
    unlimited = 1 << 60
    trip = records(
        cutoff=ints(t.cutoff_min for t in trips), collect=ints(t.collect_min for t in trips),
        back=ints(t.back_min for t in trips), run=ints(t.run for t in trips),
    )  # fmt: skip
    room = ints(unlimited if r.room_pieces is None else r.room_pieces for r in work.runs)
    return dict(trip=trip, trip_lo=trip_lo, run_room=room)


def _order_arrays(work: Work) -> dict[str, np.ndarray]:
    ops = work.operations
    batch_lo, batch_op = ragged([[i for i in b.operations if _is_planned(ops[i])] for b in work.batches])
    last = [[b.operations[-1]] if b.operations and _is_planned(ops[b.operations[-1]]) else [] for b in work.batches]
    sources = [[i for s in o.sources if s.batch is not None for i in last[s.batch]] for o in work.orders]
    source_lo, source_op = ragged(sources)
    feeding: list[list[int]] = [[] for _ in ops]
    for number, ends in enumerate(sources):
        for i in dict.fromkeys(ends):
            feeding[i].append(number)
    feeds_lo, feeds = ragged(feeding)
    begun = ints(any(ops[i].begun is not Begun.NO for i in b.operations) for b in work.batches)
    order = records(
        at=ints(max([0, *(s.at_min for s in o.sources if s.batch is None)]) for o in work.orders),
        due=ints(o.due_min for o in work.orders), weight=ints(o.weight for o in work.orders),
        lo=source_lo[:-1], hi=source_lo[1:],
    )  # fmt: skip
    kept = records(
        op=ints(k.operation for k in work.kept), machine=ints(k.machine for k in work.kept),
        after=ints(_or_none(k.after) for k in work.kept), weight=ints(k.weight for k in work.kept),
    )  # fmt: skip
    return dict(
        batch=records(lo=batch_lo[:-1], hi=batch_lo[1:], begun=begun), batch_op=batch_op, order=order,
        source_op=source_op, feeds_lo=feeds_lo, feeds=feeds, kept=kept,
    )  # fmt: skip
