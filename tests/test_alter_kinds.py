"""Every kind of change on a shop so small that the answer is known by hand.

Unless said otherwise: plan start Monday 23 March 2026 08:00, hours 08:00-12:00 and 12:30-16:30 on weekdays, part P is set
in 30 min and turned in one minute a piece. Clocks go forward on 29 March.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time
from typing import Any

import pytest
from explode_shops import (
    MONDAY,
    calendar,
    machine_step,
    manual_step,
    order,
    outside_step,
    part,
    shop,
    supplier,
)

from planner.alter import KINDS, AlterFaults, altered
from planner.alter.named import change_of, row_of
from planner.alter.phrase import from_phrase, how_to
from planner.answers.feeds import order_finish
from planner.search import search
from planner.shop import Alternative, BatchRule, Component, Hours, Person, PriorityClass, Process, Receipt, Shop
from planner.verify import verify

NOON, TUESDAY = 240, 1440
AFTER_BREAK = 30
BACK_31_MARCH, BACK_2_APRIL = 8 * 1440 + 120 - 60, 10 * 1440 + 120 - 60
MONDAY_NOON = datetime(2026, 3, 23, 12)
EITHER = {"P": (machine_step(10, alternatives=(Alternative("LATHE", 30, 60), Alternative("LATHE2", 30, 60))),)}
URGENT = {"normal": PriorityClass("normal", 3), "urgent": PriorityClass("urgent", 9)}


def change(kind: str, phrase: str) -> Any:
    return from_phrase(KINDS[kind], phrase)


def ready(shop_: Shop, *changes: Any) -> dict[str, int]:
    """When each order is ready in a plan of the changed shop that no rule speaks against."""
    work = altered(shop_, changes).work
    plan = search(work, trials=60)
    assert verify(work, plan) == []
    steps = plan.step_of()
    return {o.number: order_finish(work, steps, o) or 0 for o in work.orders}


def one(quantity: int = 210, **more: Any) -> Shop:
    return shop((order("A", "P", quantity, due=MONDAY_NOON),), **more)


def two(**more: Any) -> Shop:
    """Two orders of 210 due at noon on Monday."""
    return shop(tuple(order(n, "P", 210, due=MONDAY_NOON) for n in ("A", "B")), **more)


def anodised(*before: Any) -> Shop:
    """P is turned and goes to the anodiser: collected on Tuesdays and Thursdays, five working days."""
    return one(routings={"P": (machine_step(10), outside_step(20))})


def test_the_plain_shop() -> None:
    assert ready(one()) == {"A": NOON}
    assert ready(two()) == {"A": NOON, "B": NOON + AFTER_BREAK + 210}
    assert ready(anodised()) == {"A": BACK_2_APRIL}


# --- hours --------------------------------------------------------------------------------------


def test_an_extra_shift() -> None:
    """720 minutes: 480 on Monday, 240 on Tuesday; with four hours more on Monday evening all on Monday."""
    assert ready(one(690)) == {"A": TUESDAY + 240}
    assert ready(one(690), change("shift", "LATHE on 2026-03-23 at 16:30-20:30 by Ann")) == {"A": 750}


def test_an_extra_shift_on_a_group_is_for_all_its_machines() -> None:
    found = altered(one(), [change("shift", "lathes on 2026-03-28 at 08:00-12:00 by Bob")]).shop
    assert found.machines["LATHE"].calendar == found.machines["LATHE2"].calendar != "day"
    assert found.machines["BENCH"].calendar == found.people["Ann"].calendar == "day"


def test_somebody_has_to_be_there_until_the_clock_says_so() -> None:
    """The night before 29 March is an hour short: who comes at 06:00 comes when the shift is over."""
    early = calendar("early", hours=(Hours(6, time(6), time(8), True),))
    late = one(people={"Cy": Person("Cy", "early", ("turning",))})
    late = replace(late, calendars={**late.calendars, "early": early})
    with pytest.raises(AlterFaults, match="somebody there for LATHE"):
        change("shift", "LATHE on 2026-03-28 at 22:00-06:00").apply(late)
    change("shift", "LATHE on 2026-03-28 at 22:00-06:01").apply(late)


def test_people_may_come_in_for_hours_that_the_machine_has() -> None:
    """LATHE is there on Saturday; then Ann is as well."""
    saturday = change("shift", "LATHE on 2026-03-28 at 08:00-12:00 by Ann").apply(one())
    alone = replace(saturday, people={**saturday.people, "Ann": one().people["Ann"]})
    again = change("shift", "LATHE on 2026-03-28 at 08:00-12:00 by Ann").apply(alone)
    assert again.people["Ann"].calendar != "day"


def test_a_machine_down() -> None:
    assert ready(one(), change("down", "LATHE from 2026-03-23 to 2026-03-23")) == {"A": TUESDAY + NOON}
    assert ready(one(), change("down", "LATHE from 2026-03-23 08:00 to 2026-03-23 10:00")) == {
        "A": 120 + NOON + AFTER_BREAK
    }


def test_people_away() -> None:
    """With one setter away the other sets; with both away nobody does."""
    ann, bob = (change("away", f"{name} from 2026-03-23 to 2026-03-23") for name in ("Ann", "Bob"))
    assert ready(one(), ann) == {"A": NOON}
    assert ready(one(), ann, bob) == {"A": TUESDAY + NOON}


# --- means --------------------------------------------------------------------------------------


def test_a_new_machine() -> None:
    assert ready(two(), change("machine", "LATHE3 like LATHE")) == {"A": NOON, "B": NOON}


def test_a_new_machine_that_comes_later_or_is_slower() -> None:
    """From Tuesday on it is no help; with cycles twice as long it is no quicker than the second place on the old one."""
    second = NOON + AFTER_BREAK + 210
    assert ready(two(), change("machine", "LATHE3 like LATHE from 2026-03-24"))["B"] == second
    assert max(ready(two(), change("machine", "LATHE3 like LATHE slower 100")).values()) == second


def one_setter(**more: Any) -> Shop:
    """Two lathes, and only Ann to set them."""
    base = two(routings=EITHER, **more)
    return replace(base, people={**base.people, "Bob": Person("Bob", "day", ("fitting",))})


def test_another_setter() -> None:
    assert sorted(ready(one_setter()).values()) == [NOON, 30 + NOON + AFTER_BREAK]
    assert ready(one_setter(), change("person", "Cy with turning hours day")) == {"A": NOON, "B": NOON}


def test_somebody_learns_to_set() -> None:
    assert ready(one_setter(), change("skill", "Bob can turning")) == {"A": NOON, "B": NOON}


# --- orders -------------------------------------------------------------------------------------


def test_an_order_added() -> None:
    found = ready(one(), change("order", "E for 90 of P by 2026-04-30 class normal"))
    assert found == {"A": NOON, "E": NOON + AFTER_BREAK + 90}


def test_an_order_taken_out() -> None:
    assert ready(two(), change("drop", "A")) == {"B": NOON}


def test_an_order_for_another_quantity() -> None:
    assert ready(one(), change("quantity", "A to 90")) == {"A": 120}


def test_an_order_moved() -> None:
    assert ready(two(), change("due", "A to 2026-03-24")) == {"A": NOON + AFTER_BREAK + 210, "B": NOON}


def test_what_was_promised_for_an_order_goes_with_its_day() -> None:
    promised = shop((order("A", "P", 210, promise=date(2026, 3, 25)),))
    (moved,) = altered(promised, [change("due", "A to 2026-04-30 12:00")]).work.orders
    assert moved.promised_min == moved.due_min


def test_an_order_of_another_class() -> None:
    assert ready(two(classes=URGENT), change("class", "B to urgent"))["B"] == NOON
    assert ready(two(classes=URGENT), change("class", "A to urgent"))["A"] == NOON


def test_material_on_another_day() -> None:
    late = shop((order("A", "P", 210, due=MONDAY_NOON, material_date=date(2026, 3, 25)),))
    assert ready(late) == {"A": 2 * 1440 + NOON}
    assert ready(late, change("material", "A on 2026-03-24")) == {"A": TUESDAY + NOON}


def test_bought_pieces_on_another_day() -> None:
    kit = shop(
        (order("A", "P", 210, due=MONDAY_NOON),), parts=(part("P"), part("NUT", made=False)),
        structure=(Component("P", "NUT", 1),), receipts=(Receipt("NUT", 210, date(2026, 3, 25), "R1"),),
    )  # fmt: skip
    assert ready(kit) == {"A": 2 * 1440 + NOON}
    assert ready(kit, change("receipt", "R1 on 2026-03-24")) == {"A": TUESDAY + NOON}


# --- batches ------------------------------------------------------------------------------------


def test_a_batch_split() -> None:
    """420 pieces on one lathe, or 210 on each of two."""
    assert ready(one(420, routings=EITHER)) == {"A": 480}
    assert ready(one(420, routings=EITHER), change("split", "A-1 of P")) == {"A": NOON}


def test_a_batch_that_is_to_be_left_alone_is_not_split_or_run_as_one_before_its_row_is_gone() -> None:
    left = replace(one(420, routings=EITHER), left_alone=("A-1/1",))
    for said in (change("split", "A-1 of P"), change("combine", "A-1, B-1 of P")):
        with pytest.raises(AlterFaults, match=r"Remove its row from left_alone\.csv first"):
            altered(left, [said])
    altered(replace(left, left_alone=("B-1",)), [change("split", "A-1 of P")])


def test_batches_of_an_order_whose_day_has_passed_are_none_of_the_plan() -> None:
    """Orders provisional until last week are left out, so nothing of theirs can be split."""
    lapsed = shop(
        (order("A", "P", 420, provisional_until=date(2026, 3, 20)), order("B", "P", 420)), routings=EITHER
    )  # fmt: skip
    altered(lapsed, [change("split", "B-1 of P")])
    with pytest.raises(AlterFaults, match="a batch of the plan"):
        altered(lapsed, [change("split", "A-1 of P")])


def test_batches_run_as_one() -> None:
    work = altered(two(), [change("combine", "A-1, B-1 of P")]).work
    assert [(b.name, b.start_pieces) for b in work.batches] == [("A-1+B-1", 420)]
    assert ready(two(), change("combine", "A-1, B-1 of P")) == {"A": 480, "B": 480}


def test_smaller_batches() -> None:
    large = shop((order("A", "P", 210, due=MONDAY_NOON),), parts=(part("P", rule=BatchRule(minimum=420)),))
    assert ready(large) == {"A": 480}
    assert ready(large, change("lot", "P from 1")) == {"A": NOON}


# --- steps --------------------------------------------------------------------------------------


def test_a_step_moved_to_another_group() -> None:
    assert ready(one(), change("group", "P op 10 to benches setup 0 cycle 30")) == {"A": 105}
    assert ready(one(), change("group", "P op 10 to benches")) == {"A": NOON}


def test_a_step_on_one_more_machine() -> None:
    assert ready(two(), change("also", "P op 10 on LATHE2")) == {"A": NOON, "B": NOON}


def test_a_step_sent_out() -> None:
    """Collected on Tuesday at 15:00, ready there on Tuesday the 31st at 15:00, back with the van of Thursday."""
    assert ready(one(), change("out", "P op 10 to Bright process hard price 1.20")) == {"A": BACK_2_APRIL}


def test_a_step_made_here() -> None:
    here = change("here", "P op 20 on lathes setup 10 cycle 30")
    assert ready(anodised(), here) == {"A": NOON + AFTER_BREAK + 10 + 105}


def test_another_firm() -> None:
    """Collected as by the other, three working days in place of five, at a price of its own."""
    swift = replace(supplier(), name="Swift", processes=(Process("hard", 3),))
    base = anodised()
    both = replace(base, suppliers={**base.suppliers, "Swift": swift})
    assert ready(both, change("firm", "P op 20 to Swift")) == {"A": BACK_31_MARCH}
    step = change("firm", "P op 20 to Swift price 1.20").apply(both).routings["P"].operations[1]
    assert (step.supplier, step.process, step.piece_price_pence) == ("Swift", "hard", 120)


def test_a_transfer_quantity() -> None:
    """100 pieces through two machines of a minute a piece: one after the other, or ten at a time."""
    steps = (machine_step(10, setup_min=0), machine_step(20, "LATHE2", setup_min=0))
    assert ready(one(100, routings={"P": steps})) == {"A": 200}
    assert ready(one(100, routings={"P": steps}), change("transfer", "P op 10 of 10")) == {"A": 110}


def test_running_with_nobody_there() -> None:
    """720 minutes: 480 until 16:30, 120 with nobody there, 120 on Tuesday."""
    night = change("unattended", "P op 10 up-to 120 at 16:30-20:00")
    assert ready(one(690), night) == {"A": TUESDAY + 120}


def test_a_second_window_with_nobody_there_leaves_the_first() -> None:
    """LATHE has its nights when the step gets LATHE2 as well; both then have the mornings."""
    nights, mornings = (f"P op 10 up-to 120 at {hours}" for hours in ("16:30-20:00", "05:00-07:00"))
    changes = [change("unattended", nights), change("also", "P op 10 on LATHE2"), change("unattended", mornings)]
    found = altered(one(), changes).shop
    begins = {
        name: {h.start.hour for h in found.calendars[found.machines[name].calendar].hours if not h.attended}
        for name in ("LATHE", "LATHE2")
    }
    assert begins == {"LATHE": {16, 5}, "LATHE2": {5}}


def test_another_cycle_time() -> None:
    assert ready(one(), change("cycle", "P op 10 to 30")) == {"A": 135}


def test_another_yield() -> None:
    assert ready(one(), change("yield", "P to 50")) == {"A": 480}


def test_shorter_setting() -> None:
    """Half of 30 minutes; a third off is 20.1 minutes, rounded up."""
    assert ready(one(), change("setup", "lathes by 50")) == {"A": 225}
    assert ready(one(), change("setup", "lathes by 33 %")) == {"A": 231}


# --- outside ------------------------------------------------------------------------------------


def test_a_van_on_another_day() -> None:
    assert ready(anodised(), change("van", "Bright from Tue to Mon")) == {"A": BACK_31_MARCH}


def test_a_special_collection() -> None:
    assert ready(anodised(), change("collection", "Bright on 2026-03-23 at 15:00 charge 45")) == {"A": BACK_31_MARCH}


def test_a_special_collection_with_a_delivery_of_its_own() -> None:
    special = change("collection", "Bright on 2026-03-23 at 15:00 back 2026-03-30 15:00")
    assert ready(anodised(), special) == {"A": 7 * 1440 + 420 - 60}


def test_a_shorter_turn() -> None:
    assert ready(anodised(), change("turn", "Bright process hard to 3")) == {"A": BACK_31_MARCH}
    assert ready(anodised(), change("turn", "Bright process hard to 3 for P")) == {"A": BACK_31_MARCH}


def test_a_dearer_turn_for_one_part_leaves_others_alone() -> None:
    both = shop(
        parts=(part("P"), part("Q")),
        routings={n: (machine_step(10), outside_step(20, piece_price_pence=101)) for n in ("P", "Q")},
    )
    found = change("turn", "Bright process hard to 3 dearer 50 for P").apply(both)
    prices = {n: r.operations[1].piece_price_pence for n, r in found.routings.items()}
    turns = {p.name: p.turn_days for p in found.suppliers["Bright"].processes}
    assert prices == {"P": 152, "Q": 101}
    assert turns == {"hard": 5, "soft": 3, found.routings["P"].operations[1].process: 3}


# --- several, and what does not fit -------------------------------------------------------------


def test_several_at_once_go_one_after_the_other() -> None:
    """The added order can be changed by what comes after it."""
    added = change("order", "E for 300 of P by 2026-04-30 class normal")
    assert ready(one(), change("drop", "A"), added, change("quantity", "E to 90")) == {"E": 120}


def test_the_shop_itself_stays_as_it_is() -> None:
    before = one()
    altered(before, [change("drop", "A"), change("setup", "lathes by 50")])
    assert before == one()


REFUSED = [
    ("shift", "LATH on 2026-03-28 at 08:00-12:00", "Did you mean 'LATHE'"),
    (
        "shift",
        "LATHE on 2026-03-28 at 08:00-12:00",
        "found 'nobody named', expected somebody there for LATHE with the skill turning",
    ),
    (
        "shift",
        "LATHE on 2026-03-23 at 15:30-20:30",
        "found 'nobody named', expected somebody there for LATHE with the skill turning",
    ),
    ("shift", "LATHE on 2026-03-28 at 12:00-06:00 by Ann", "an end after the start, or at most 16 h over midnight"),
    ("quantity", "A to 9000000", "That is too many pieces"),
    ("order", "E for 9000000 of P by 2026-04-30 class normal", "expected at most 1,000,000 pieces"),
    ("firm", "P op 30 to Bright", "another firm or process than it goes to now"),
    ("firm", "P op 30 to Bright process sof", "Did you mean 'soft'"),
    ("firm", "P op 10 to Bright", "a step of kind outside"),
    ("shift", "LATHE on 2026-03-20 at 08:00-12:00 by Ann", "not before the plan start"),
    ("shift", "LATHE on 2026-09-26 at 08:00-12:00 by Ann", "known to (2026-06-30)"),
    ("shift", "LATHE on 2026-03-23 at 09:00-11:00 by Ann", "hours that are not there already"),
    ("down", "LATHE from 2026-03-25 to 2026-03-24", "a time after 2026-03-25"),
    ("down", "LATHE from 2026-03-25 10:00 to 2026-03-25 09:00", "a time after 2026-03-25 10:00. "),
    ("down", "LATHE from 2026-03-01 to 2026-03-02", "after the plan start"),
    ("away", "Anne from 2026-03-25 to 2026-03-26", "Did you mean 'Ann'"),
    ("machine", "LATHE2 like LATHE", "no machine or group has yet"),
    ("person", "Ann with turning hours day", "nobody has yet"),
    ("person", "Cy with turnin hours days", "Did you mean 'turning'"),
    ("skill", "Ann can turning", "a skill that Ann has not"),
    ("order", "A for 5 of P by 2026-04-30 class normal", "no order has yet"),
    ("order", "E for 5 of P by 2026-03-02 class normal", "not before the plan start"),
    ("drop", "AA", "the name of an order of the shop"),
    ("split", "A-2 of P", "Did you mean 'A-1'"),
    ("split", "A-1 of Q", "the name of a part of the shop"),
    ("combine", "A-1 of P", "two batches or more"),
    ("lot", "P from 10 to 5", "not below 10"),
    ("group", "P op 20 to benches", "The routing has 10 and 30"),
    ("group", "P op 30 to benches", "a step of kind machine or manual"),
    ("also", "P op 10 on LATHE", "cannot be done on yet"),
    ("out", "P op 10 to Bright process harder", "Did you mean 'hard'"),
    ("here", "P op 30 on benches setup 1 cycle 1", "for work by hand"),
    ("transfer", "P op 10 of 5", "only a machine step takes sublots"),
    ("unattended", "P op 10 up-to 60", "hours in which LATHE may run"),
    ("unattended", "P op 10 up-to 60 at 09:00-11:00", "outside the attended hours"),
    ("van", "Bright from Mon to Fri", "It collects on Tue, Thu"),
    ("collection", "Bright on 2026-03-28 at 10:00", "a day on which Bright and the shop both work"),
    ("turn", "Bright process soft to 2 for P", "a part that goes to Bright for soft"),
]


@pytest.mark.parametrize(("kind", "phrase", "words"), REFUSED)
def test_what_does_not_fit_is_refused_in_plain_words(kind: str, phrase: str, words: str) -> None:
    mixed = one(routings={"P": (machine_step(10), outside_step(30))}, parts=(part("P"), part("NUT", made=False)))
    bench = replace(
        mixed,
        routings={**mixed.routings, "NUTS": replace(mixed.routings["P"], part="NUTS", operations=(manual_step(10),))},
    )
    with pytest.raises(AlterFaults) as found:
        altered(bench, [change(kind, phrase)])
    assert words in str(found.value)


def test_all_faults_of_all_changes_at_once() -> None:
    with pytest.raises(AlterFaults) as found:
        altered(
            one(),
            [
                change("down", "LATH from 2026-03-23 to 2026-03-24"),
                change("drop", "Z"),
                change("skill", "Bo can flying"),
            ],
        )
    assert len(found.value.faults) == 4


def test_a_change_that_leaves_no_plan_says_what_is_missing() -> None:
    away = [change("away", f"{n} from 2026-03-23 to 2026-06-30") for n in ("Ann", "Bob")]
    with pytest.raises(AlterFaults, match="somebody who sets it"):
        altered(one(), away)


def test_the_day_of_the_plan_start_is_a_monday() -> None:
    assert MONDAY.weekday() == 0


# --- words --------------------------------------------------------------------------------------

EXAMPLES = {
    "shift": "LATHE, BENCH on 2026-03-28, 2026-03-30..2026-04-01 at 08:00-12:00 by Ann, Bob",
    "down": "LATHE from 2026-03-23 08:00 to 2026-03-24", "away": "Ann from 2026-03-23 to 2026-03-24 12:00",
    "machine": "L9 like LATHE hours day from 2026-03-24 slower 20", "person": "Cy with turning, fitting hours day",
    "skill": "Bob can inspecting", "order": "E for 5 of P by 2026-04-30 12:00 class normal material 2026-03-24",
    "drop": "A", "due": "A to 2026-04-30", "quantity": "A to 5", "class": "A to normal", "material": "A on 2026-04-01",
    "receipt": "R1 on 2026-04-01", "split": "A-1 of P", "combine": "A-1, B-1 of P", "lot": "P from 2 by 4 to 8",
    "group": "P op 10 to benches setup 0 cycle 30", "also": "P op 10 on LATHE2", "out": "P op 10 to Bright process hard price 1.20",
    "firm": "P op 20 to Bright process soft price 1.20", "here": "P op 20 on benches setup 1 cycle 2 skill fitting", "transfer": "P op 10 of 5", "unattended": "P op 10 up-to 60 at 22:00-06:00",
    "van": "Bright from Tue to Mon", "collection": "Bright on 2026-03-24 at 15:00 back 2026-03-30 10:00 charge 45.50",
    "turn": "Bright process hard to 3 dearer 20 for P", "setup": "lathes by 12.5", "cycle": "P op 10 to 30", "yield": "P to 97.5",
}  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_a_change_is_read_back_from_what_it_says(kind: str) -> None:
    """From its phrase, and from the texts of its fields; and it says in a sentence what it changes."""
    made = change(kind, EXAMPLES[kind])
    assert made.phrase == f'--{kind} "{made.phrase.split(chr(34))[1]}"'
    assert change(kind, made.phrase.split('"')[1]) == made
    assert change_of(row_of(made)) == made
    assert made.text.endswith(".")


def test_a_name_with_a_small_word_in_it_stands_in_quotes() -> None:
    made = change("turn", "Penny process 'press to fit' to 3")
    assert made.process == "press to fit"
    assert change("turn", made.phrase.split('"')[1]) == made


def test_a_word_said_twice_is_refused() -> None:
    with pytest.raises(AlterFaults, match="'to' once"):
        change("turn", "Penny process press to fit to 3")


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_missing_is_named_with_how_to_say_it(kind: str) -> None:
    with pytest.raises(AlterFaults) as found:
        change(kind, "")
    assert how_to(KINDS[kind]) in str(found.value)
