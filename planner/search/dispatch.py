"""First plans by rule: build a list by always giving the next free machine the most urgent operation.

Of all operations that could go next, the one that would end first names a machine; of those
that could start on that machine before then, the rule's index picks one (Giffler and Thompson,
Operations Research 8:487-503, 1960, non-delay towards the earliest end). What is picked is timed
exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.by_ref import by_ref
from planner.compiling import allocating, inner
from planner.search.due import operation_dues
from planner.timetable.kernel import APPEND, lose, time_op
from planner.timetable.lines import after, first_open
from planner.timetable.state import F_END, F_RUN_END, placed
from planner.timetable.timetable import Timetable
from planner.timetable.trial import changeover, moved, same_key
from planner.work import NEVER

EARLIEST_DUE, CRITICAL_RATIO, WEIGHTED_SHORTEST, APPARENT_COST = 0, 1, 2, 3


@dataclass(frozen=True)
class Rule:
    """A dispatch rule. ``look_ahead`` (apparent tardiness cost only) is in mean operation lengths."""

    name: str
    index: int
    look_ahead: float = 1.0


# Earliest operation due date; critical ratio; weighted shortest time (Smith, Naval Res. Logist. Q. 3:59-66, 1956);
# apparent tardiness cost (Vepsalainen and Morton, Management Science 33:1035-1047, 1987).
RULES = (
    Rule("earliest due", EARLIEST_DUE),
    Rule("critical ratio", CRITICAL_RATIO),
    Rule("weighted shortest", WEIGHTED_SHORTEST),
    *(Rule(f"apparent tardiness cost, look-ahead {k:g}", APPARENT_COST, k) for k in (0.5, 2.0, 8.0, 30.0)),
)


def dispatch(table: Timetable, rule: Rule, dues: tuple[np.ndarray, np.ndarray] | None = None) -> np.ndarray:
    """List by ``rule``; its machine choices are left in ``table.choice``.

    Parameters
    ----------
    dues
        Operation due times and weights (:func:`planner.search.due.operation_dues`), to save making them again.
    """
    due, weight = dues or operation_dues(table)
    table.reset()
    data = table.data
    followers = _followers(table)
    ways = data.alt[data.alt["plain"] == np.arange(len(data.alt))]  # each machine once, whoever may be named for it
    lengths = ways["run_min"] + ways["setup_min"]
    mean_min = float(lengths.mean()) if len(lengths) else 1.0
    out = np.zeros(int(data.op["planned"].sum()), np.int64)
    choice = np.full(len(data.op), -1, np.int64)
    _dispatch(
        data, table.state, *followers, due, weight, rule.index, rule.look_ahead * max(mean_min, 1.0),
        out, choice,
    )  # fmt: skip
    # begun work has to lead the list for the timetable, wherever the rule came to it
    table.choice = choice
    return table.repaired(out)


def _followers(table: Timetable) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """How many planned operations each waits for, and (ragged) which wait for it."""
    planned = np.flatnonzero(table.data.op["planned"]).tolist()
    waits = {op: sorted(set(table.waits_for(op))) for op in planned}
    rows: list[list[int]] = [[] for _ in range(len(table.data.op))]
    for op in planned:
        for other in waits[op]:
            rows[other].append(op)
    lo = np.concatenate(([0], np.cumsum([len(r) for r in rows]))).astype(np.int64)
    flat = np.array([i for r in rows for i in r], np.int64)
    count = np.array([len(waits.get(i, ())) for i in range(len(table.data.op))], np.int64)
    return count, lo, flat


@inner
def _index(rule, look_min, due, weight, minutes, now):
    """Urgency, higher first."""
    minutes = max(minutes, 1)
    if rule == EARLIEST_DUE:
        return -float(due)
    if rule == CRITICAL_RATIO:
        return -(due - now) / minutes if due > now else 1e12 - due
    if rule == WEIGHTED_SHORTEST:
        return weight / minutes
    slack = max(0.0, float(due - minutes - now))
    return weight / minutes * np.exp(-min(slack / look_min, 600.0))


@inner
def _guess(data, st, op, guess):
    """Fill a cheap guess for ``op``: start, end, alternative, minutes (people and things ignored)."""
    row = data.op[op]
    ready = row.earliest
    for i in range(row.need_lo, row.need_hi):
        ready = max(ready, st.res[data.need_op[i], F_END])
    out = st.res[row.before, F_END] if row.before >= 0 else 0
    if row.alt_lo == row.alt_hi:
        t = max(ready, moved(data, op, -1, out))
        guess[0], guess[1], guess[2], guess[3] = t, t, -1, 0
        return
    guess[0], guess[1], guess[2], guess[3] = NEVER, NEVER, row.alt_lo, 1
    for alt in range(row.alt_lo, row.alt_hi):
        machine = data.alt[alt].machine
        prev = placed(st, st.last[machine])
        t = max(ready, moved(data, op, machine, out))
        if prev >= 0:
            t = max(t, st.res[prev, F_RUN_END])
        set_min = (
            0 if same_key(data, op, prev, machine) else data.alt[alt].setup_min + changeover(data, op, prev, machine)
        )
        minutes = set_min + data.alt[alt].run_min
        t = first_open(data.lines, data.machine[machine].line, t)
        end = after(data.lines, data.alt[alt].line, t, minutes) if t < NEVER else NEVER
        if end < guess[1]:
            guess[0], guess[1], guess[2], guess[3] = t, end, alt, minutes


@allocating
def _dispatch(data, st, missing, follow_lo, follow, due, weight, rule, look_min, out, choice):
    data, st = by_ref(data), by_ref(st)
    ready = np.zeros(len(data.op), np.int64)  # operations that may go next
    guess = np.zeros((len(data.op), 4), np.int64)
    changed = np.zeros(len(data.machine) + 1, np.int64)
    made = np.full(len(data.op), -1, np.int64)  # when the guess was made
    n_ready, n = 0, 0
    for i in range(len(data.op)):
        if data.op[i].planned == 1 and missing[i] == 0:
            ready[n_ready] = i
            n_ready += 1
    while n_ready > 0:
        best_end, pick = NEVER + 1, -1
        for j in range(n_ready):
            op = ready[j]
            stale = made[op] < 0
            for alt in range(data.op[op].alt_lo, data.op[op].alt_hi):
                stale = stale or changed[data.alt[alt].machine] > made[op]
            if stale:
                _guess(data, st, op, guess[op])
                made[op] = n
            end = guess[op, 1]
            if data.op[op].running == 1 or data.op[op].out == 1:
                end = -1
            if end < best_end or (end == best_end and op < ready[pick]):
                best_end, pick = end, j
        chosen = pick
        alt = guess[ready[pick], 2]
        if alt >= 0 and best_end >= 0:
            machine, now = data.alt[alt].machine, guess[ready[pick], 0]
            best = -1e300
            for j in range(n_ready):
                op = ready[j]
                if guess[op, 2] < 0 or data.alt[guess[op, 2]].machine != machine or guess[op, 0] >= best_end:
                    continue
                value = _index(rule, look_min, due[op], weight[op], guess[op, 3], now)
                if value > best or (value == best and op < ready[chosen]):
                    best, chosen = value, j
        op = ready[chosen]
        alt = guess[op, 2]
        st.place[op] = n
        choice[op] = -1 if data.op[op].running == 1 else alt
        if not time_op(data, st, op, choice[op], APPEND):
            lose(data, st, op)
        out[n] = op
        n += 1
        if alt >= 0:
            changed[data.alt[alt].machine] = n
        ready[chosen] = ready[n_ready - 1]
        n_ready -= 1
        for k in range(follow_lo[op], follow_lo[op + 1]):
            missing[follow[k]] -= 1
            if missing[follow[k]] == 0:
                ready[n_ready] = follow[k]
                n_ready += 1
