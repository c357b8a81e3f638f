"""A published network of activities as a shop in which every activity has its own machine.

Hillier and Lieberman, Introduction to Operations Research, construction prototype: the network's length is 44 and its
critical path A-B-C-E-F-J-L-N. Free floats are I 2, K 1, M 4 and else none.
"""

from __future__ import annotations

import pytest
from builders import ShopBuilder
from published import found

from planner.answers.leeway import Rooms
from planner.answers.why import why, why_batch
from planner.search import search
from planner.timetable import Timetable
from planner.work import Work

CRITICAL = "ABCEFJLN"

# activity: minutes, what it waits for, earliest start, total float
NETWORK = {
    "A": (2, "", 0, 0), "B": (4, "A", 2, 0), "C": (10, "B", 6, 0), "D": (6, "C", 16, 4), "E": (4, "C", 16, 0),
    "F": (5, "E", 20, 0), "G": (7, "D", 22, 4), "H": (9, "EG", 29, 4), "I": (7, "C", 16, 2), "J": (8, "FI", 25, 0),
    "K": (4, "J", 33, 1), "L": (5, "J", 33, 0), "M": (2, "H", 38, 4), "N": (6, "KL", 38, 0),
}  # fmt: skip


def network(held: str = "", until: int = 0) -> Work:
    """One order is ready with the last activity; ``held`` may not start before ``until``."""
    shop = ShopBuilder()
    for name, (minutes, _, _, _) in NETWORK.items():
        shop.batch(name).op(f"m{name}", 0, 60 * minutes, not_before_min=until if name == held else 0)
    for name, (_, before, _, _) in NETWORK.items():
        for other in before:
            shop.need(name, 10, other)
    return shop.order("house", *NETWORK, due=0).build()


def test_the_length_of_the_network_is_44() -> None:
    assert found(network(), trials=20) == 44


def test_each_activity_starts_and_ends_at_its_earliest() -> None:
    work = network()
    table = Timetable(work)
    table.time(table.repaired([]))
    times = {work.batches[work.operations[s.operation].batch].name: (s.run_start, s.run_end) for s in table.steps()}
    assert times == {name: (start, start + minutes) for name, (minutes, _, start, _) in NETWORK.items()}


def test_the_binding_chain_is_the_critical_path_and_adds_up_to_its_length() -> None:
    work = network()
    plan = search(work, trials=20)
    answer = why(work, plan, "house", Rooms(work, plan))
    assert "".join(leg.batch for leg in answer.legs) == CRITICAL
    assert [(leg.start_min, leg.end_min) for leg in answer.legs] == [
        (NETWORK[name][2], NETWORK[name][2] + NETWORK[name][0]) for name in CRITICAL
    ]  # fmt: skip
    assert answer.lead_min == sum(leg.minutes for leg in answer.legs) == 44
    assert [leg.stages[0].can_wait_min for leg in answer.legs] == [0] * len(CRITICAL)


def test_how_much_later_each_could_start_is_the_total_float() -> None:
    work = network()
    plan = search(work, trials=20)
    steps = plan.step_of()
    found = {
        work.batches[work.operations[op].batch].name: room.latest - steps[op].start
        for op, room in Rooms(work, plan).of(list(steps)).items()
    }
    assert found == {name: slack for name, (_, _, _, slack) in NETWORK.items()}


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


@pytest.mark.parametrize("name", NETWORK)
@pytest.mark.parametrize("over", [0, 1])
def test_an_activity_held_by_its_float_delays_nothing_and_a_minute_more_delays_all(name: str, over: int) -> None:
    _, _, start, slack = NETWORK[name]
    assert found(network(name, start + slack + over), trials=20) == 44 + over
