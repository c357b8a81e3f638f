"""Which operations to free and place anew together: a small part of the plan around something late."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator

import numpy as np

from planner.timetable.state import F_END, F_MACHINE, F_START
from planner.timetable.timetable import Timetable
from planner.work import Kind


def late_orders(table: Timetable) -> list[tuple[int, int]]:
    """Orders that are late in what was timed last, with their weighted minutes late."""
    found = []
    for i, row in enumerate(table.data.order):
        late = table.order_end(i) - int(row["due"])
        if late > 0 and row["hi"] > row["lo"]:
            found.append((i, late * int(row["weight"])))
    return found


def changed(table: Timetable) -> list[tuple[int, int]]:
    """Steps that are not where the kept plan has them in what was timed last, as indices of ``kept``, with what each costs."""
    found = []
    for i, kept in enumerate(table.data.kept):
        if table.state.res[kept["op"], F_MACHINE] != kept["machine"]:
            found.append((i, int(kept["weight"]) * table.data.change_machine))
        elif table.state.prev[kept["op"]] != kept["after"]:
            found.append((i, int(kept["weight"]) * table.data.change_place))
    return found


KINDS = ("waits", "batches", "moment", "machine")
"""Kinds of neighbourhood: what holds the machines of a late order while it waits; the whole batches of that, so that those
with time to spare can make way; all around a moment of it; its busiest machines for a while."""


def around_what_costs(table: Timetable, rng: random.Random, size: int, kind: str) -> list[int]:
    """Operations of a late order, or a step that is not where the kept plan has it, and others of a ``kind`` of neighbourhood.

    Returns
    -------
    list of int
        About ``size`` operations, in the order of the list timed last; empty when nothing is late or changed.
    """
    ends = [(_ends_of(table, order), cost) for order, cost in late_orders(table) if cost]
    ends += [(_pair_of(table, kept), cost) for kept, cost in changed(table) if cost]
    if not ends:
        return []
    own = _behind(table, rng.choices([e for e, _ in ends], [cost for _, cost in ends])[0])
    picked = [i for i in own if _free(table, i)] if len(own) < size else []
    if kind == "waits":
        picked = _filled(picked, ([i] for i in _in_the_way(table, own, rng)), size)
    if kind == "batches":
        picked = _filled(picked, (_batch_of(table, i) for i in _in_the_way(table, own, rng)), size)
    if kind == "machine":
        picked = _on_machines(table, own, picked, rng, size)
    picked = _near(table, int(table.state.res[rng.choice(own), F_START]), picked, size)
    return _in_list_order(table, _with_followers(table, picked))


def _ends_of(table: Timetable, order: int) -> list[int]:
    row = table.data.order[order]
    return table.data.source_op[row["lo"] : row["hi"]].tolist()


def _pair_of(table: Timetable, kept: int) -> list[int]:
    """A kept step and the one that it was to follow."""
    row = table.data.kept[kept]
    return [int(op) for op in (row["op"], row["after"]) if op >= 0]


def _free(table: Timetable, op: int) -> bool:
    row = table.data.op[op]
    return bool(row["planned"] and not row["running"] and not row["out"] and not table.state.never[op])


def _behind(table: Timetable, ends: Iterable[int]) -> list[int]:
    """``ends`` and all planned work that they wait for, nearest first."""
    seen = dict.fromkeys(ends)
    queue = list(seen)
    for op in queue:
        for other in table.waits_for(op):
            if other not in seen:
                seen[other] = None
                queue.append(other)
    return queue


def _in_the_way(table: Timetable, own: list[int], rng: random.Random) -> Iterator[int]:
    """What stands on the machines of ``own`` while it waits, longest waits first."""
    res, data = table.state.res, table.data
    waits = []
    for op in own:
        before = data.op[op]["before"]
        ready = max(int(data.op[op]["earliest"]), int(res[before, F_END]) if before >= 0 else 0)
        if res[op, F_MACHINE] >= 0 and res[op, F_START] > ready:
            waits.append(((int(res[op, F_START]) - ready) * rng.uniform(0.5, 1.0), op, ready))
    for _, op, ready in sorted(waits, reverse=True):
        machines = set(data.alt["machine"][data.op[op]["alt_lo"] : data.op[op]["alt_hi"]].tolist())
        for other in map(int, table.list):
            meanwhile = res[other, F_END] > ready and res[other, F_START] < res[op, F_END]
            if meanwhile and int(res[other, F_MACHINE]) in machines and _free(table, other):
                yield other


def _batch_of(table: Timetable, op: int) -> list[int]:
    """All that can be placed anew of the batch of ``op``."""
    return [i for i in table.work.batches[table.work.operations[op].batch].operations if _free(table, i)]


def _filled(picked: Iterable[int], more: Iterable[Iterable[int]], size: int) -> list[int]:
    """``picked`` with what is in ``more``, up to ``size`` operations or a few over."""
    found = dict.fromkeys(picked)
    for ops in more:
        if len(found) >= size:
            break
        found.update(dict.fromkeys(ops))
    return list(found)


def _on_machines(table: Timetable, own: list[int], picked: list[int], rng: random.Random, size: int) -> list[int]:
    """``picked`` with long stretches of a few machines of ``own``, nearest to when it is there."""
    res, found = table.state.res, dict.fromkeys(picked)
    on = [op for op in own if res[op, F_MACHINE] >= 0]
    for op in rng.sample(on, min(3, len(on))):
        moment, machine = int(res[op, F_START]), int(res[op, F_MACHINE])
        mates = [i for i in table.list.tolist() if int(res[i, F_MACHINE]) == machine and _free(table, i)]
        mates.sort(key=lambda i: (abs(int(res[i, F_START]) - moment), i))
        found.update(dict.fromkeys(mates[: size // 3]))
    return list(found)


def _near(table: Timetable, moment: int, picked: list[int], size: int) -> list[int]:
    """``picked`` filled up with the operations that start nearest to ``moment``."""
    res, found = table.state.res, dict.fromkeys(picked)
    for i in sorted(table.list.tolist(), key=lambda i: (abs(int(res[i, F_START]) - moment), i)):
        if len(found) >= size:
            break
        if _free(table, i):
            found[i] = None
    return list(found)


def _with_followers(table: Timetable, picked: list[int]) -> set[int]:
    """Steps that take no machine (outside, waiting) and follow a freed one move with it."""
    freed = set(picked)
    for op in picked:
        batch = table.work.batches[table.work.operations[op].batch].operations
        for later in batch[batch.index(op) + 1 :]:
            if table.work.operations[later].kind not in (Kind.OUTSIDE, Kind.WAIT) or not _free(table, later):
                break
            freed.add(later)
    return freed


def _in_list_order(table: Timetable, freed: set[int]) -> list[int]:
    at = {int(op): i for i, op in enumerate(np.asarray(table.list))}
    return sorted(freed, key=lambda op: at[op])
