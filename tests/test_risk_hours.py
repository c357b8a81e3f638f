"""Hours less breakdowns and absences: window for window what plain lists of spans come to."""

from __future__ import annotations

import numpy as np
from builders import ShopBuilder, days
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.risk.hours import calm_hours, fill_line, no_cuts, stretch_minutes, with_room
from planner.timetable import Timetable
from planner.timetable.lines import after, before, first_open
from planner.work import NEVER, Work
from planner.worktime import OpenTime, common, stretches, without

SHIFTS = days(40, (0, 240), (270, 480))
NIGHT = days(40, (480, 900))
PERSON = days(40, (60, 300), (330, 600))
UNTIL = 20 * 1440

spans = st.lists(st.tuples(st.integers(0, 19 * 1440), st.integers(1, 4000)), max_size=5).map(
    lambda found: _disjoint(sorted((a, a + length) for a, length in found))
)


def _disjoint(found: list[tuple[int, int]]) -> list[tuple[int, int]]:
    kept: list[tuple[int, int]] = []
    for a, b in found:
        if not kept or a > kept[-1][1]:
            kept.append((a, b))
    return kept


def shop() -> Work:
    made = ShopBuilder().machine("M", SHIFTS, NIGHT).person("Ann", "set", PERSON)
    made.batch("B").op("M", 10, 60, skill="set", unattended_limit_min=100)
    return made.order("O", "B", due=0).build()


WORK = shop()
DATA = Timetable(WORK).data
CALM = calm_hours(WORK, DATA, UNTIL)


def cut(machine: list[tuple[int, int]], person: list[tuple[int, int]]):
    cuts = no_cuts(1, 1, len(DATA.lines.lo) - 1, 5, 5)
    for to, count, found in ((cuts.machine, cuts.machines, machine), (cuts.person, cuts.people, person)):
        count[0] = len(found)
        for i, span in enumerate(found):
            to[0, i] = span
    lines = with_room(CALM, no_cuts(1, 1, len(DATA.lines.lo) - 1, 5, 5))
    for k in range(len(lines.lo) - 1):
        fill_line(CALM, cuts, lines, k)
    return lines


@settings(max_examples=60)
@given(machine=spans, person=spans, moments=st.lists(st.integers(-100, UNTIL), min_size=1, max_size=20))
def test_lines_are_the_calendar_less_what_is_cut(machine, person, moments) -> None:
    lines = cut(machine, person)
    night = [(a, a + 100) for a, _ in NIGHT]
    plain = {
        int(DATA.machine["line"][0]): without(SHIFTS, machine),
        int(DATA.person_line[0]): without(PERSON, person),
        int(DATA.pair_line[0, 0]): without(common(SHIFTS, PERSON), [*machine, *person]),
        int(DATA.alt["line"][0]): without(sorted([*SHIFTS, *night]), machine),
    }
    assert len(plain) == 4
    for k, windows in plain.items():
        known = OpenTime(tuple(w for w in windows if w[0] < UNTIL))
        for t in moments:
            assert first_open(lines, k, t) == known.first_open(t)
            for minutes in (0, 1, 95, 3000):
                assert after(lines, k, t, minutes) == known.after(t, minutes)
                assert before(lines, k, t, minutes) == known.before(t, minutes)


def test_without_cuts_lines_are_the_calendar_and_come_back_to_it() -> None:
    lines = cut([], [])
    for k in range(len(lines.lo) - 1):
        a, b = CALM.lines.lo[k], CALM.lines.lo[k + 1]
        n = b - a
        at = slice(int(lines.lo[k]), int(lines.lo[k] + n))
        for name in ("start", "end", "done", "stretch_end"):
            assert np.array_equal(getattr(lines, name)[at], getattr(CALM.lines, name)[a:b])
        assert (lines.end[at.stop : lines.lo[k + 1]] == lines.end[at.stop - 1]).all()


def test_a_cut_does_not_end_a_stretch() -> None:
    lines = cut([(100, 200)], [])
    k = int(DATA.machine["line"][0])
    assert lines.start[lines.lo[k] : lines.lo[k] + 3].tolist() == [0, 200, 270]
    assert lines.stretch_end[lines.lo[k] : lines.lo[k] + 3].tolist() == [480, 480, 480]


def test_known_hours_end_where_they_were_cut_off() -> None:
    k = int(DATA.machine["line"][0])
    assert after(CALM.lines, k, UNTIL, 481) == NEVER
    assert after(DATA.lines, k, UNTIL, 481) < NEVER
    assert calm_hours(WORK, DATA, NEVER).lines is DATA.lines


def test_shifts_of_people_are_stretches_of_their_hours() -> None:
    found = list(zip(CALM.shift_start.tolist(), CALM.shift_end.tolist(), strict=True))
    assert found == [s for s in stretches(PERSON, WORK.break_max_min) if s[0] < UNTIL]


def test_the_longest_stretch() -> None:
    assert stretch_minutes(DATA.lines, int(DATA.machine["line"][0])) == 450
