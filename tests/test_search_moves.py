"""Each kind of move of the list search: what it brings where, what it refuses, and that it can be taken back whole."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass, field

import numpy as np
import pytest
from builders import ShopBuilder, at
from random_shops import decided, random_work

from planner.by_ref import by_ref
from planner.compiling import compiled
from planner.search.climb import Climber, _fixed_places
from planner.search.dispatch import RULES, dispatch
from planner.search.moves import STAYS, W_HI, W_LO, carry_out, take_back
from planner.search.pick import NO_MOVE, along_machine, critical, other_machine, pull, swap, to_family
from planner.timetable import Timetable
from planner.timetable.arrays import WHY_MACHINE, WHY_PERSON
from planner.timetable.changes import begin, make_touched
from planner.timetable.state import F_END, F_ON, F_RUN_END, F_WHY
from planner.work import Work

FAMILY, PULL, SWAP, CRITICAL, ALONG, OTHER = range(6)
SEEDS = range(40)


@compiled
def _lay_out(data, st, win, cur, fixed, kind, op, machine, seed):
    data, st, win = by_ref(data), by_ref(st), by_ref(win)
    np.random.seed(seed)
    if kind == FAMILY:
        return to_family(data, st, win, cur, fixed, op)
    if kind == PULL:
        return pull(data, st, win, cur, fixed, op)
    if kind == SWAP:
        return swap(data, st, win, cur, fixed, op)
    if kind == CRITICAL:
        return critical(data, st, win, cur, fixed, op)
    if kind == ALONG:
        return along_machine(data, st, win, cur, fixed, op)
    return op if other_machine(data, st, win, cur, fixed, op, machine) else NO_MOVE


@compiled
def _carry_out(data, st, ch, win, cur, choice, op, alt):
    data, st, ch, win = by_ref(data), by_ref(st), by_ref(ch), by_ref(win)
    begin(ch)
    carry_out(data, st, ch, win, cur, choice, op, alt)


@compiled
def _take_back(st, win, cur, choice):
    take_back(by_ref(st), by_ref(win), cur, choice)


@compiled
def _fixed(data, cur):
    return _fixed_places(by_ref(data), cur)


@dataclass
class Listing:
    """A timed list, moves of which are carried out and taken back."""

    work: Work
    wish: list[int] | None = None  # in place of a list by rule
    climber: Climber = field(init=False)

    def __post_init__(self) -> None:
        self.table = Timetable(self.work)
        if self.wish is None:
            sequence = dispatch(self.table, RULES[0])
            choice = self.table.choice.copy()
            self.table.reset()
        else:
            sequence, choice = self.table.repaired(self.wish), np.full(len(self.work.operations), -1, np.int64)
        self.climber = Climber(self.table, sequence, choice, 1)
        self.data, self.state, self.window = self.table.data, self.table.state, self.climber.window
        self.fixed = int(_fixed(self.data, self.climber.sequence))

    @property
    def list(self) -> list[int]:
        return self.climber.sequence.tolist()

    @property
    def where(self) -> tuple:
        """All that a move changes: list, places, turns on machines, choices."""
        st = self.state
        turns = [a.tolist() for a in (st.on, st.prev, st.next, st.first, st.last)]
        return self.list, st.place[self.climber.sequence].tolist(), turns, self.climber.choice.tolist()

    def turns(self, machine: int) -> list[int]:
        """Operations on a machine, as they are linked."""
        found, op = [], int(self.state.first[machine])
        while op >= 0:
            found.append(op)
            op = int(self.state.next[op])
        return found

    def lay_out(self, kind: int, op: int, machine: int, seed: int) -> int:
        cur = self.climber.sequence
        return int(_lay_out(self.data, self.state, self.window, cur, self.fixed, kind, op, machine, seed))

    def carry_out(self, moved: int, machine: int = -1) -> None:
        c = self.climber
        alt = int(c.choice[moved]) if machine < 0 else self.table.alternative(moved, machine)
        touched = make_touched(self.data, self.state)
        _carry_out(self.data, self.state, touched, self.window, c.sequence, c.choice, moved, alt)

    def take_back(self) -> None:
        _take_back(self.state, self.window, self.climber.sequence, self.climber.choice)

    def after(self, kind: int, op: int, seed: int = 1, machine: int = -1) -> list[int] | None:
        """The list after a move, which is taken back again; None where none is made."""
        moved = self.lay_out(kind, op, machine, seed)
        if moved == NO_MOVE:
            return None
        self.carry_out(moved, machine)
        found = self.list
        self.take_back()
        return found

    def waited_for(self, op: int) -> set[int]:
        """All that has to come before an operation, from the first on."""
        found: set[int] = set()
        ahead = [op]
        while ahead:
            new = [i for i in self.table.waits_for(ahead.pop()) if i not in found]
            found.update(new)
            ahead += new
        return found


# --- all kinds --------------------------------------------------------------------------------------


def moves_of(listing: Listing, rng: random.Random) -> list[tuple[int, int, int]]:
    """Kind, operation and machine (-1: as it is) of moves that the search may ask for."""
    found = []
    data, st = listing.data, listing.state
    for op in listing.list[listing.fixed :]:
        found += [(kind, op, -1) for kind in (PULL, SWAP, ALONG)]
        if data.op[op]["family"] > 0 and st.on[op] >= 0:
            found.append((FAMILY, op, -1))
        on = int(st.res[op, F_ON])
        if st.res[op, F_WHY] in (WHY_MACHINE, WHY_PERSON) and on >= 0 and st.place[on] >= listing.fixed:
            found.append((CRITICAL, op, -1))
        others = [int(data.alt[a]["machine"]) for a in range(data.op[op]["alt_lo"], data.op[op]["alt_hi"])]
        found += [(OTHER, op, m) for m in others if len(others) > 1 and m != st.on[op]]
    return rng.sample(found, min(60, len(found)))


@pytest.mark.parametrize("block", range(5))
def test_every_move_leaves_the_list_allowed_and_is_taken_back_whole(block: int) -> None:
    """Begun work stays first, nothing is before what it waits for, turns on machines are those of the list; and what is refused
    changes nothing."""
    made: Counter[int] = Counter()
    for number in range(100 * block, 100 * block + 25):
        rng = random.Random(number)
        listing = Listing(decided(random_work(number, jobs=10), rng))
        before = listing.where
        for kind, op, machine in moves_of(listing, rng):
            moved = listing.lay_out(kind, op, machine, number)
            if moved != NO_MOVE:
                made[kind] += 1
                listing.carry_out(moved, machine)
                check_list(listing, before[0])
                if kind == OTHER:
                    assert listing.state.on[op] in (machine, -1)  # -1: nothing of it is left to be made
                listing.take_back()
            assert listing.where == before, (number, kind, op, moved)
            assert (listing.window.tag == STAYS).all()
    assert set(made) == {FAMILY, PULL, SWAP, CRITICAL, ALONG, OTHER}


def check_list(listing: Listing, before: list[int]) -> None:
    now, st = listing.list, listing.state
    lo, hi = int(listing.window.at[W_LO]), int(listing.window.at[W_HI])
    assert listing.fixed <= lo <= hi
    assert (now[:lo], now[hi + 1 :]) == (before[:lo], before[hi + 1 :])
    assert listing.table.repaired(now).tolist() == now
    assert st.place[listing.climber.sequence].tolist() == list(range(len(now)))
    for machine in range(len(listing.work.machines)):
        turns = listing.turns(machine)
        assert turns == [op for op in now if st.on[op] == machine]
        assert int(st.last[machine]) == (turns[-1] if turns else -1)
        assert [int(st.prev[op]) for op in turns] == [-1, *turns[:-1]][: len(turns)]


# --- to another of the family -----------------------------------------------------------------------


def of_families(families: str) -> Listing:
    """One machine and a batch of one step for each letter, in this order."""
    shop = ShopBuilder()
    for n, family in enumerate(families):
        shop.batch(f"B{n}").op("M", 0, 60, family=family).order(f"O{n}", f"B{n}", due=0)
    return Listing(shop.build(), list(range(len(families))))


@pytest.mark.parametrize(
    ("families", "op", "after"),
    [
        ("abba", 3, [0, 3, 1, 2]),
        ("abba", 0, [1, 2, 3, 0]),
        ("ababba", 2, [0, 2, 1, 3, 4, 5]),  # the one before is nearer
        ("abbaba", 3, [0, 1, 2, 4, 5, 3]),  # the one after is nearer
        ("abaxyza", 2, [0, 2, 1, 3, 4, 5, 6]),
        ("abacba", 2, [0, 2, 1, 3, 4, 5]),
        ("aab", 1, None),  # it follows one already
        ("abc", 1, None),
        ("a", 0, None),
    ],
)
def test_to_just_behind_the_nearest_of_its_family(families: str, op: int, after: list[int] | None) -> None:
    assert of_families(families).after(FAMILY, op) == after


def test_to_its_family_among_any_families() -> None:
    """The nearest of those with another in between; the one before of two that are as near."""
    rng, made = random.Random(1), 0
    for _ in range(30):
        families = "".join(rng.choices("abc", k=rng.randint(1, 9)))
        listing = of_families(families)
        for op, family in enumerate(families):
            mates = [i for i, f in enumerate(families) if f == family and abs(i - op) > 1]
            nearest = min(mates, key=lambda i, op=op: (abs(i - op), i), default=None)
            rest = [i for i in range(len(families)) if i != op]
            turn = None if nearest is None else rest.index(nearest) + 1
            assert listing.after(FAMILY, op) == (None if turn is None else [*rest[:turn], op, *rest[turn:]])
            made += turn is not None
    assert made > 50


def test_to_its_family_on_its_own_machine_only_and_never_past_what_it_needs() -> None:
    """A of the family is on another machine, B stands before C, which the last one needs."""
    shop = ShopBuilder().batch("A").op("N", family="a").batch("B").op("M", family="a")
    shop.batch("C").op("M", family="c").batch("D").op("M", family="d").batch("E").op("M", family="a")
    shop.need("E", 10, "C").order("O", "A", "B", "D", "E", due=0)
    work = shop.build()
    a, b, c, d, e = (at(work, name, 10).index for name in "ABCDE")
    assert Listing(work, [a, b, c, d, e]).after(FAMILY, e) is None
    assert Listing(work, [b, a, d, c, e]).after(FAMILY, e) is None  # C would have to pass D as well
    free = Listing(shop.build(), [c, a, b, d, e])
    assert free.after(FAMILY, e) == [c, a, b, e, d]


# --- forward, with what it waits for ----------------------------------------------------------------


def test_pulled_forward_with_all_that_it_waits_for() -> None:
    """What it waits for comes just before it, all others behind, each as they stood; refused where nothing would be passed."""
    made = refused = 0
    for number in range(30):
        listing = Listing(random_work(number, jobs=8))
        before = listing.list
        for op in before[listing.fixed :]:
            along = {*listing.waited_for(op), op}
            for seed in (1, 2, 3):
                after = listing.after(PULL, op, seed)
                a = before.index(op)
                if after is None:
                    refused += 1
                    assert a == listing.fixed or along & set(before[listing.fixed : a])
                    continue
                made += 1
                lo = next(p for p in range(len(before)) if before[p] != after[p])
                head, stretch = before[:lo], before[lo : a + 1]
                moved, others = ([i for i in stretch if (i in along) == yes] for yes in (True, False))
                assert after == [*head, *moved, *others, *before[a + 1 :]]
                assert lo >= listing.fixed and others and op == moved[-1]
    assert made > 100 and refused > 20


def test_pulled_past_others_its_whole_batch_comes_along() -> None:
    """However far, the first step of its batch is before it; and the first in the list can go nowhere."""
    shop = ShopBuilder()
    for name in "ABC":
        shop.batch(name).op("M").op("N").order(name, name, due=0)
    work = shop.build()
    a1, a2, b1, b2, c1, c2 = range(6)
    listing = Listing(work, [a1, a2, b1, b2, c1, c2])
    found = {tuple(after) for seed in SEEDS if (after := listing.after(PULL, c2, seed))}
    assert found == {
        (c1, c2, a1, a2, b1, b2), (a1, c1, c2, a2, b1, b2), (a1, a2, c1, c2, b1, b2), (a1, a2, b1, c1, c2, b2),
    }  # fmt: skip
    assert all(listing.after(PULL, a1, seed) is None for seed in SEEDS)


# --- batches take each other's turns ----------------------------------------------------------------


def test_batches_take_each_other_s_turns() -> None:
    shop = ShopBuilder()
    for name in "AB":
        shop.batch(name).op("M").op("N").order(name, name, due=0)
    work = shop.build()
    a1, a2, b1, b2 = range(4)
    for before, after in (([a1, a2, b1, b2], [b1, b2, a1, a2]), ([a1, b1, b2, a2], [b1, a1, a2, b2])):
        found = {tuple(listed) for seed in SEEDS if (listed := Listing(work, before).after(SWAP, a1, seed))}
        assert found == {tuple(after)}


def test_batches_do_not_change_turns_where_one_needs_the_other() -> None:
    """Nor where one would come before a third that it needs. With no need of it they do."""
    for needed, changes in (("A", False), ("C", False), ("", True)):
        shop = ShopBuilder().batch("A").op("M").batch("C").op("N").batch("B").op("M")
        if needed:
            shop.need("B", 10, needed)
        listing = Listing(shop.order("O", "A", "B", "C", due=0).build(), [0, 1, 2])
        made = {tuple(after) for seed in SEEDS for op in (0, 2) if (after := listing.after(SWAP, op, seed))}
        assert made == ({(2, 1, 0)} if changes else set())


def test_only_two_batches_that_meet_change_turns() -> None:
    """All else stays in its place, and each of the two keeps its own order."""
    made = 0
    for number in range(30):
        listing = Listing(random_work(number, jobs=8))
        before, batch_of = listing.list, [o.batch for o in listing.work.operations]
        for op in before[listing.fixed :]:
            after = listing.after(SWAP, op, number)
            if after is None or after == before:
                continue
            made += 1
            two = {batch_of[i] for i, j in zip(before, after, strict=True) if i != j}
            (other,) = two - {batch_of[op]}
            turns = listing.turns(int(listing.state.on[op]))
            assert other in {batch_of[i] for i in turns}
            places = [p for p, i in enumerate(before) if batch_of[i] in two and p >= listing.fixed]
            left = {b: [i for i in before[listing.fixed :] if batch_of[i] == b] for b in two}
            for p in places:
                mine = batch_of[before[p]]
                theirs = next(b for b in two if b != mine)
                assert after[p] == left[theirs if left[theirs] else mine].pop(0)
    assert made > 30


# --- to another machine ------------------------------------------------------------------------------


def test_on_another_machine_it_goes_about_where_that_is_free() -> None:
    """It is there at 60, when the first of five is done: behind that, or one or two more."""
    shop = ShopBuilder().batch("X").op("K", 0, 3600).op(["M", "N"], 0, 3600).order("O", "X", due=0)
    for n in range(5):
        shop.batch(f"B{n}").op("N", 0, 3600).order(f"O{n}", f"B{n}", due=0)
    work = shop.build()
    first, op, *others = (o.index for o in work.operations)
    m, n = (next(i for i, machine in enumerate(work.machines) if machine.name == name) for name in "MN")
    found = set()
    for wish in ([first, op, *others], [first, *others, op]):
        listing = Listing(work, wish)
        listing.climber.choice[op] = listing.table.alternative(op, m)
        listing.climber.restart(listing.climber.sequence, listing.climber.choice)
        for seed in SEEDS:
            after = listing.after(OTHER, op, seed, n)
            assert after is not None and [i for i in after if i != op] == [first, *others]
            found.add((wish.index(op), after.index(op) - 1))
    assert found == {(1, 1), (1, 2), (1, 3), (6, 1), (6, 2), (6, 3)}


def test_on_another_machine_of_any_shop_two_at_most_that_end_later_are_before_it() -> None:
    """But for those that it has to follow; and none behind it, among those it may pass, that is done when it is there."""
    made = 0
    for number in range(40):
        listing = Listing(random_work(number, jobs=10))
        data, st = listing.data, listing.state
        for kind, op, machine in moves_of(listing, random.Random(number)):
            if kind != OTHER:
                continue
            listed, row = listing.list, data.op[op]
            first = max([listing.fixed, *(listed.index(i) + 1 for i in listing.table.waits_for(op))])
            last = min([len(listed), *(p for p, i in enumerate(listed) if op in listing.table.waits_for(i))])
            ready = max(int(row["earliest"]), int(st.res[row["before"], F_END]) if row["before"] >= 0 else 0)
            done = {i: int(st.res[i, F_RUN_END]) <= ready for i in listing.turns(machine)}
            after = listing.after(OTHER, op, number, machine)
            if after is None:
                continue
            made += 1
            ahead = set(after[: after.index(op)])
            free = [i for i in done if first <= listed.index(i) < last]
            assert sum(i in ahead and not done[i] for i in free) <= 2
            assert all(i in ahead for i in free if done[i])
    assert made > 50


# --- along what binds, and along a machine -----------------------------------------------------------


def test_what_waited_its_turn_comes_before_what_it_waited_for() -> None:
    made = 0
    for number in range(30):
        listing = Listing(random_work(number, jobs=10))
        for kind, op, _ in moves_of(listing, random.Random(number)):
            if kind == CRITICAL:
                after = listing.after(CRITICAL, op, number)
                made += after is not None
                assert after is None or after.index(op) < after.index(int(listing.state.res[op, F_ON]))
    assert made > 20


def test_along_its_machine_it_passes_others_both_ways_and_no_step_of_its_batch() -> None:
    shop = ShopBuilder()
    for n in range(4):
        shop.batch(f"B{n}").op("M", 0, 60).order(f"O{n}", f"B{n}", due=0)
    work = shop.batch("X").op("M").op("M").order("X", "X", due=0).build()
    listing = Listing(work, [0, 1, 4, 2, 3, 5])
    found = {after.index(2) for seed in range(100) if (after := listing.after(ALONG, 2, seed))}
    assert found == {0, 1, 2, 4, 5}
    ahead = [after for seed in SEEDS if (after := listing.after(ALONG, 5, seed))]
    assert ahead and all(after.index(4) < after.index(5) for after in ahead)
