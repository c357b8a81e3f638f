"""How many people there are for settings and hand work, as the solver sees it: counts by skill, not names.

For each skill, and each two skills that some person has both of: how many people could be at work at once.
The timetable says who does what; this only keeps the solver from asking for more hands than there are.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations, pairwise

from planner.work import Person, Work

Weighed = tuple[int, int, int]  # start, end, how many


@dataclass(frozen=True)
class Crew:
    """People who have one of ``skills``; ``fewer`` are spans in which some, not all, of ``most`` are there.

    A span has start, end and how many are missing. Time in which nobody is there is left out: work pauses then.
    """

    skills: frozenset[int]
    people: frozenset[int]
    most: int
    fewer: tuple[Weighed, ...]


def crews(work: Work) -> list[Crew]:
    """The crews of all skills that set or work by hand, in order of skill."""
    used = sorted({o.skill for o in work.operations if o.skill is not None})
    wanted = [frozenset({s}) for s in used]
    wanted += [frozenset(pair) for pair in combinations(used, 2) if any(p.skills.issuperset(pair) for p in work.people)]
    found = (_crew(work.people, skills) for skills in wanted)
    return [c for c in found if c.most]


def _crew(people: tuple[Person, ...], skills: frozenset[int]) -> Crew:
    members = frozenset(i for i, p in enumerate(people) if p.skills & skills)
    there = profile((a, b, 1) for i in sorted(members) for a, b in people[i].hours)
    most = max((n for _, _, n in there), default=0)
    return Crew(skills, members, most, tuple((a, b, most - n) for a, b, n in there if n < most and b > 0))


def profile(spans: Iterable[Weighed]) -> list[Weighed]:
    """Spans without overlap, each with the sum of what holds in it, where that is not 0."""
    edges: dict[int, int] = {}
    for start, end, n in spans:
        edges[start] = edges.get(start, 0) + n
        edges[end] = edges.get(end, 0) - n
    out, here = [], 0
    times = sorted(edges)
    for t, until in pairwise(times):
        here += edges[t]
        if here:
            out.append((t, until, here))
    return out


def fitted(taken: Iterable[Weighed], present: Iterable[Weighed], most: int) -> list[Weighed]:
    """``taken`` cut down so that ``present`` fits beside it into ``most``.

    A setting that pauses while others work is longer here than in the plan; what the plan does now must stay possible.
    """
    scale = 1 << 20  # two sums in one: what is present counts in the high digits
    both = profile([*((a, b, n) for a, b, n in taken), *((a, b, n * scale) for a, b, n in present)])
    cut = [(a, b, min(n % scale, max(0, most - n // scale))) for a, b, n in both]
    return [span for span in cut if span[2]]
