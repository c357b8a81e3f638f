"""Published networks of activities as shops in which every activity has its own machine.

Hillier and Lieberman, Introduction to Operations Research, construction prototype: the network's length is 44 and its
critical path A-B-C-E-F-J-L-N. Heizer and Render, Operations Management, eight activities: length 15, A-C-E-G-H.
"""

from __future__ import annotations

import pytest
from builders import ShopBuilder
from published import found

from planner.answers.feeds import order_finish
from planner.answers.kits import kits
from planner.answers.leeway import Rooms
from planner.answers.why import why, why_batch
from planner.plan import Plan
from planner.search import search
from planner.timetable import Timetable
from planner.work import Work

Network = dict[str, tuple[int, str, int, int, int]]

CRITICAL = "ABCEFJLN"

# activity: minutes, what it waits for, earliest start, total float, free float
NETWORK: Network = {
    "A": (2, "", 0, 0, 0), "B": (4, "A", 2, 0, 0), "C": (10, "B", 6, 0, 0), "D": (6, "C", 16, 4, 0),
    "E": (4, "C", 16, 0, 0), "F": (5, "E", 20, 0, 0), "G": (7, "D", 22, 4, 0), "H": (9, "EG", 29, 4, 0),
    "I": (7, "C", 16, 2, 2), "J": (8, "FI", 25, 0, 0), "K": (4, "J", 33, 1, 1), "L": (5, "J", 33, 0, 0),
    "M": (2, "H", 38, 4, 4), "N": (6, "KL", 38, 0, 0),
}  # fmt: skip
FILTER: Network = {
    "A": (2, "", 0, 0, 0), "B": (3, "", 0, 1, 0), "C": (2, "A", 2, 0, 0), "D": (4, "AB", 3, 1, 1),
    "E": (4, "C", 4, 0, 0), "F": (3, "C", 4, 6, 6), "G": (5, "DE", 8, 0, 0), "H": (2, "FG", 13, 0, 0),
}  # fmt: skip
BOTH = pytest.mark.parametrize(("activities", "length"), [(NETWORK, 44), (FILTER, 15)], ids=["house", "filter"])
EACH = pytest.mark.parametrize(
    ("activities", "name"), [(n, a) for n in (NETWORK, FILTER) for a in n],
    ids=[f"{kind}-{a}" for kind, n in (("house", NETWORK), ("filter", FILTER)) for a in n],
)  # fmt: skip


def network(activities: Network = NETWORK, held: str = "", until: int = 0) -> Work:
    """One order is ready with the last activity; ``held`` may not start before ``until``."""
    shop = ShopBuilder()
    for name, (minutes, *_) in activities.items():
        shop.batch(name).op(f"m{name}", 0, 60 * minutes, not_before_min=until if name == held else 0)
    for name, (_, before, *_) in activities.items():
        for other in before:
            shop.need(name, 10, other)
    return shop.order("house", *activities, due=0).build()


def starts(work: Work, plan: Plan) -> dict[str, int]:
    return {work.batches[work.operations[s.operation].batch].name: s.start for s in plan.steps}


@BOTH
def test_the_length_of_the_network(activities: Network, length: int) -> None:
    assert found(network(activities), trials=20) == length


@BOTH
def test_each_activity_starts_and_ends_at_its_earliest(activities: Network, length: int) -> None:
    work = network(activities)
    table = Timetable(work)
    table.time(table.repaired([]))
    times = {work.batches[work.operations[s.operation].batch].name: (s.run_start, s.run_end) for s in table.steps()}
    assert times == {name: (start, start + minutes) for name, (minutes, _, start, *_) in activities.items()}


@pytest.mark.parametrize(("activities", "critical", "length"), [(NETWORK, CRITICAL, 44), (FILTER, "ACEGH", 15)])
def test_the_binding_chain_is_the_critical_path_and_adds_up_to_its_length(
    activities: Network, critical: str, length: int
) -> None:
    work = network(activities)
    plan = search(work, trials=20)
    answer = why(work, plan, "house", Rooms(work, plan))
    assert "".join(leg.batch for leg in answer.legs) == critical
    assert [(leg.start_min, leg.end_min) for leg in answer.legs] == [
        (activities[name][2], activities[name][2] + activities[name][0]) for name in critical
    ]  # fmt: skip
    assert answer.lead_min == sum(leg.minutes for leg in answer.legs) == length
    assert [leg.stages[0].can_wait_min for leg in answer.legs] == [0] * len(critical)


@BOTH
def test_how_much_later_each_could_start_is_the_total_float(activities: Network, length: int) -> None:
    """Floats of both books: 4 for D, G, H, M, 2 for I, 1 for K; and 1 for B and D, 6 for F."""
    work = network(activities)
    plan = search(work, trials=20)
    steps = plan.step_of()
    found = {
        work.batches[work.operations[op].batch].name: room.latest - steps[op].start
        for op, room in Rooms(work, plan).of(list(steps)).items()
    }
    assert found == {name: slack for name, (_, _, _, slack, _) in activities.items()}


@BOTH
def test_how_long_a_component_lies_at_its_kits_is_the_free_float(activities: Network, length: int) -> None:
    """The least slack at any kit that it goes into; what goes into none lies until the order is ready."""
    work = network(activities)
    plan = search(work, trials=20)
    lies = [(c.source.removeprefix("batch "), c.slack_min) for kit in kits(work, plan) for c in kit.components]
    assert len(lies) == sum(len(before) for _, before, *_ in activities.values())
    ready, ends = order_finish(work, plan.step_of(), work.orders[0]), plan.step_of()
    free = {
        b.name: min([slack for name, slack in lies if name == b.name] or [ready - ends[b.operations[0]].end])
        for b in work.batches
    }
    assert free == {name: slack for name, (*_, slack) in activities.items()}


@EACH
def test_an_activity_held_by_its_free_float_moves_no_other_and_a_minute_more_does(
    activities: Network, name: str
) -> None:
    _, _, start, _, free = activities[name]
    planned = {other: entry[2] for other, entry in activities.items()}
    length = max(entry[0] + entry[2] for entry in activities.values())
    for over in (0, 1):
        work = network(activities, name, start + free + over)
        plan = search(work, trials=20)
        moved = {other for other, begun in starts(work, plan).items() if begun != planned[other]} - {name}
        assert bool(moved) or plan.cost.late > length if over else not moved and plan.cost.late == length


@pytest.mark.parametrize("name", "JH")
def test_what_governs_a_merge_is_named_with_what_comes_next(name: str) -> None:
    """J waits for F to 25 and I to 23, H for G to 29 and E to 20: by so much and no more could F and G gain anything."""
    work = network()
    after = {"J": ("F", "2 min", "I"), "H": ("G", "9 min", "E")}[name]
    answer = (
        why(work, search(work, trials=20), "house") if name == "J" else why_batch(work, search(work, trials=20), "H")
    )
    governs, gap, then = after
    assert (
        f"{governs} ({governs}) governs {name} op 10: no more than {gap} is gained there by having it sooner, "
        f"then {then} ({then}) is waited for."
    ) in answer.notes


@EACH
@pytest.mark.parametrize("over", [0, 1])
def test_an_activity_held_by_its_float_delays_nothing_and_a_minute_more_delays_all(
    activities: Network, name: str, over: int
) -> None:
    _, _, start, slack, _ = activities[name]
    length = max(entry[0] + entry[2] for entry in activities.values())
    assert found(network(activities, name, start + slack + over), trials=20) == length + over
