"""Where an operation may start: stretches of starts for which the time from start to end is the same.

For the solver only, which needs the end as a step function of the start. People are seen as 'somebody with
the skill is there', a first-off as attended minutes, moving as elapsed minutes; the timetable has the last word.
"""

from __future__ import annotations

import numpy as np

from planner.compiling import compiled, inner
from planner.search.crews import crews
from planner.timetable.lines import after, build_lines, first_open, window_at
from planner.timetable.timetable import Timetable
from planner.work import NEVER, Kind, Span
from planner.worktime import common, run_hours, stretches, united

ROOM = 4096  # stretches of starts that one operation on one machine may have


class Starts:
    """The lines of every machine and skill, laid down once for a search."""

    def __init__(self, table: Timetable) -> None:
        self.table = table
        self._windows: list[list[Span]] = []
        self._at: dict[tuple[int, int, int], tuple[int, int, int]] = {}
        for o in table.work.operations:
            for alt in range(int(table.data.op[o.index]["alt_lo"]), int(table.data.op[o.index]["alt_hi"])):
                self._lay(int(table.data.alt[alt]["machine"]), *self._needs(o.index))
        self.lines = build_lines(self._windows, table.work.break_max_min)
        self.crews = crews(table.work)
        self._out = np.zeros((ROOM, 4), np.int64)
        self._cut = np.zeros((ROOM, 4), np.int64)

    def _needs(self, op: int) -> tuple[int, int]:
        o = self.table.work.operations[op]
        limit = o.unattended_limit_min if o.kind is Kind.MACHINE else 0
        return (-1 if o.skill is None else o.skill), limit

    def _lay(self, m: int, skill: int, limit: int) -> None:
        if (m, skill, limit) in self._at:
            return
        work = self.table.work
        hours = work.machines[m].hours
        attended = stretches(hours.attended, 0)
        there = united(s for p in work.people if skill in p.skills for s in p.hours)
        manned = stretches(common(attended, there), 0) if skill >= 0 else attended
        at = len(self._windows)
        self._windows += [manned, attended, stretches(run_hours(hours, limit), 0)]
        self._at[m, skill, limit] = (at, at + 1, at + 2)

    def of(self, op: int, alt: int, set_min: int, first: int, last: int, taken: np.ndarray) -> np.ndarray:
        """Stretches of allowed starts of ``op`` on alternative ``alt``.

        Parameters
        ----------
        set_min
            Setting, changeover included.
        first, last
            No start before, none after (minutes).
        taken
            ``[n, 2]`` starts and ends of what stands on the machine already, in order.

        Returns
        -------
        array [n, 4]
            First start, last start, minutes from start to end, and from start to the end of setting.
        """
        row, machine = self.table.data.op[op], self.table.data.alt[alt]
        manned, attended, run = self._at[(int(machine["machine"]), *self._needs(op))]
        if row["kind"] == Kind.MANUAL:
            attended = run = manned
        asked = int(row["first_off_min"]) if row["first_off_skill"] >= 0 else 0
        n = _stretches(
            self.lines, manned, attended, run, set_min, asked, int(machine["run_min"]), first, last, self._out
        )
        n = _between(self._out, n, taken, self._cut)
        return self._cut[:n].copy()


@inner
def _left_in_window(lines, line, t):
    """How far ``t``, the end of some work, can move on within its window."""
    return lines.end[window_at(lines, line, t - 1)] - t


@compiled
def _stretches(lines, manned, attended, run, set_min, asked_min, run_min, first, last, out):
    n, t = 0, first_open(lines, manned, first)
    while t <= last and t < NEVER and n < len(out):
        room = lines.end[window_at(lines, manned, t)] - 1 - t
        set_end = after(lines, manned, t, set_min)
        if set_end >= NEVER:
            break
        if set_min > 0:
            room = min(room, _left_in_window(lines, manned, set_end))
        at = first_open(lines, attended, set_end)
        if at >= NEVER:
            break
        if at > set_end:  # the end stays where it is while the start moves: only the latest start is of use
            t, set_end, room = t + room, set_end + room, 0
        else:
            room = min(room, lines.end[window_at(lines, attended, at)] - 1 - at)
        at = after(lines, attended, at, asked_min)
        if at < NEVER and asked_min > 0 and room > 0:
            room = min(room, _left_in_window(lines, attended, at))
        end = after(lines, run, at, run_min) if at < NEVER else NEVER
        if end >= NEVER:
            break
        if run_min > 0 and room > 0:
            room = min(room, _left_in_window(lines, run, end))
        if t <= last:
            out[n, 0], out[n, 1], out[n, 2], out[n, 3] = t, min(t + room, last), end - t, set_end - t
            n += 1
        t = first_open(lines, manned, t + room + 1)
    return n


@compiled
def _between(stretches, n, taken, out):
    """What is left of ``stretches`` when nothing may overlap ``taken``."""
    m = 0
    for i in range(n):
        t, last = stretches[i, 0], stretches[i, 1]
        minutes, set_min = stretches[i, 2], stretches[i, 3]
        for j in range(len(taken)):
            if taken[j, 1] <= t or t > last:
                continue
            if taken[j, 0] >= last + minutes or m >= len(out) - 1:
                break
            if taken[j, 0] - minutes >= t:
                m = _put(out, m, t, min(last, taken[j, 0] - minutes), minutes, set_min)
            t = max(t, taken[j, 1])
        if t <= last and m < len(out):
            m = _put(out, m, t, last, minutes, set_min)
    return m


@inner
def _put(out, m, first, last, minutes, set_min):
    out[m, 0], out[m, 1], out[m, 2], out[m, 3] = first, last, minutes, set_min
    return m + 1
