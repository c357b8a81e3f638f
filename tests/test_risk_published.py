"""Published and computed distributions through the draws of whole plans.

Minutes are thousandths of the unit of each source, so that whole minutes do not show. Tolerances are four standard errors
of so many draws, with fixed seeds, besides what is said.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest
from builders import ShopBuilder, as_plan
from scipy.special import ndtri

from planner.risk import Draws, Lognormal, Spread, Spreads, ThreePoint, draw
from planner.risk.spread import AsBooked
from planner.timetable import Timetable
from planner.work import Work

UNIT = 1000
NORMAL = NormalDist()
VARIANCE_ERRORS = (
    4 * (2 / 20_000) ** 0.5
)  # four standard errors of the variance of so many normal draws, as a share of it
Activity = tuple[tuple[float, float, float], str]  # three points, what it waits for

# Hillier and Lieberman, Introduction to Operations Research, construction prototype with three-point times
HOUSE: dict[str, Activity] = {
    "A": ((1, 2, 3), ""), "B": ((2, 3.5, 8), "A"), "C": ((6, 9, 18), "B"), "D": ((4, 5.5, 10), "C"),
    "E": ((1, 4.5, 5), "C"), "F": ((4, 4, 10), "E"), "G": ((5, 6.5, 11), "D"), "H": ((5, 8, 17), "EG"),
    "I": ((3, 7.5, 9), "C"), "J": ((3, 9, 9), "FI"), "K": ((4, 4, 4), "J"), "L": ((1, 5.5, 7), "J"),
    "M": ((1, 2, 3), "H"), "N": ((5, 5.5, 9), "KL"),
}  # fmt: skip
# Heizer and Render, Operations Management, eight activities
FILTER: dict[str, Activity] = {
    "A": ((1, 2, 3), ""), "B": ((2, 3, 4), ""), "C": ((1, 2, 3), "A"), "D": ((2, 4, 6), "AB"), "E": ((1, 4, 7), "C"),
    "F": ((1, 2, 9), "C"), "G": ((3, 4, 11), "DE"), "H": ((1, 2, 3), "FG"),
}  # fmt: skip


def mean_of(points: tuple[float, float, float]) -> float:
    low, likely, high = points
    return (low + 4 * likely + high) / 6


def network(activities: Mapping[str, Activity], due: float = 0) -> tuple[Work, Spreads]:
    """A machine for each activity; one order is ready with the last of them."""
    shop = ShopBuilder()
    for name, (points, _) in activities.items():
        shop.batch(name).op(f"m{name}", 0, round(60 * UNIT * mean_of(points)))
    for name, (_, before) in activities.items():
        for other in before:
            shop.need(name, 10, other)
    work = shop.order("all", *activities, due=round(UNIT * due)).build()
    own: dict[int, Spread] = {
        i: ThreePoint(*(p / mean_of(points) for p in points)) for i, (points, _) in enumerate(activities.values())
    }
    return work, replace(Spreads.none(), own=own)


def normal(mean: float, deviation: float) -> AsBooked:
    """Ratios of a normal distribution, as if so booked."""
    return AsBooked(tuple(1 + deviation / mean * ndtri((np.arange(4001) + 0.5) / 4001)), 1.0, Lognormal())


def chain(minutes: Sequence[float], spreads: Sequence[Spread], due: float = 0) -> tuple[Work, Spreads]:
    """Steps one after another, each on a machine of its own."""
    shop = ShopBuilder().batch("B")
    for i, mean in enumerate(minutes):
        shop.op(f"m{i}", 0, round(60 * UNIT * mean))
    work = shop.order("O", "B", due=round(UNIT * due)).build()
    return work, replace(Spreads.none(), own=dict(enumerate(spreads)))


def drawn(work: Work, spreads: Spreads, draws: int = 20_000) -> Draws:
    table = Timetable(work)
    assert table.time(table.repaired([])) == 0
    return draw(work, as_plan(work, table), spreads, draws=draws, seed=11)


def within(draws: Draws, limit: float) -> float:
    return float((draws.finish[:, 0] <= UNIT * limit).mean())


def four_errors(share: float, draws: int = 20_000) -> float:
    return 4 * (share * (1 - share) / draws) ** 0.5


# --- networks -----------------------------------------------------------------------------------


def test_the_house_takes_44_with_its_three_point_means() -> None:
    work, _ = network(HOUSE)
    table = Timetable(work)
    table.time(table.repaired([]))
    assert table.ends().max() == 44 * UNIT


def as_the_books_count(activities: Mapping[str, Activity], path: str, due: float) -> Draws:
    """The activities of a path alone, each normal with the books' mean and standard deviation (high - low) / 6, drawn."""
    points = [activities[name][0] for name in path]
    spreads = [normal(mean_of(p), (p[2] - p[0]) / 6) for p in points]
    return drawn(*chain([mean_of(p) for p in points], spreads, due))


def test_drawn_as_the_book_counts_the_house_has_variance_9_and_its_chance_within_47() -> None:
    """Hillier and Lieberman: mean 44 and variance 9 of the critical path, 0.84134 within 47."""
    draws = as_the_books_count(HOUSE, "ABCEFJLN", due=47)
    assert draws.finish.mean() / UNIT == pytest.approx(44, abs=4 * (9 / 20_000) ** 0.5)
    assert draws.finish.var() / UNIT**2 == pytest.approx(9, rel=VARIANCE_ERRORS)
    assert draws.on_time(0) == pytest.approx(0.84134, abs=four_errors(0.84134))


def test_drawn_as_the_book_counts_eight_activities_have_variance_28_ninths_and_their_99_percent_date() -> None:
    """Heizer and Render: path A-C-E-G-H of 15, variance 28/9, 0.71462 within 16 (printed 71.57 % from z rounded), 99 % by 19.10."""
    draws = as_the_books_count(FILTER, "ACEGH", due=16)
    assert draws.finish.mean() / UNIT == pytest.approx(15, abs=4 * (28 / 9 / 20_000) ** 0.5)
    assert draws.finish.var() / UNIT**2 == pytest.approx(28 / 9, rel=VARIANCE_ERRORS)
    assert draws.on_time(0) == pytest.approx(0.71462, abs=four_errors(0.71462))
    # the standard error of a quantile: that of its share over the density there
    density = NORMAL.pdf(NORMAL.inv_cdf(0.99)) / (28 / 9) ** 0.5
    assert draws.at(0, 0.99) / UNIT == pytest.approx(19.10, abs=0.005 + four_errors(0.99) / density)


def test_the_house_is_less_sure_than_its_critical_path_alone() -> None:
    """The book's 0.841 within 47 is that of one path; drawn with beta shapes the whole network has a mean of 44.33 and 0.816
    (own simulation with other code, give or take 0.002)."""
    draws = drawn(*network(HOUSE, due=47))
    assert draws.finish[:, 0].mean() / UNIT == pytest.approx(44.33, abs=0.01 + 4 * 3 / 20_000**0.5)
    assert draws.on_time(0) == pytest.approx(0.816, abs=0.002 + four_errors(0.816))
    assert draws.on_time(0) < NORMAL.cdf(1) - 0.01


def test_the_critical_path_alone_has_the_mean_of_the_book_and_the_variance_of_its_beta_shapes() -> None:
    """Beta-PERT has the variance (mean - low)(high - mean) / 7, not ((high - low) / 6)^2."""
    path = [HOUSE[name][0] for name in "ABCEFJLN"]
    draws = drawn(*network({chr(65 + i): (points, chr(64 + i) if i else "") for i, points in enumerate(path)}))
    variance = sum((mean_of(p) - p[0]) * (p[2] - mean_of(p)) / 7 for p in path)
    assert draws.finish.mean() / UNIT == pytest.approx(44, abs=4 * (variance / 20_000) ** 0.5)
    assert draws.finish.var() / UNIT**2 == pytest.approx(variance, rel=0.05)


def test_eight_activities_of_length_15() -> None:
    """0.715 within 16 by the book, that of one path; the whole network drawn: mean 15.235 and 0.690 (own simulation, other
    code)."""
    draws = drawn(*network(FILTER, due=16))
    assert draws.finish.mean() / UNIT == pytest.approx(15.235, abs=0.003 + 4 * 1.8 / 20_000**0.5)
    assert draws.on_time(0) == pytest.approx(0.690, abs=0.002 + four_errors(0.69))


def test_two_paths_that_meet_are_later_than_either() -> None:
    """Two independent N(10, 2^2): the later has mean 10 + 2 / sqrt(pi); both within 12 with the square of the chance of one."""
    either = normal(10, 2)
    shop = ShopBuilder().batch("A").op("M", 0, 60 * 10 * UNIT).batch("B").op("N", 0, 60 * 10 * UNIT)
    work = shop.order("O", "A", "B", due=12 * UNIT).build()
    draws = drawn(work, replace(Spreads.none(), own={0: either, 1: either}))
    assert draws.finish[:, 0].mean() / UNIT == pytest.approx(11.12838, abs=4 * 2 * (1 - 1 / np.pi) ** 0.5 / 20_000**0.5)
    assert draws.on_time(0) == pytest.approx(0.70786, abs=four_errors(0.70786))


# --- percentiles ----------------------------------------------------------------------------------

EXPONENTIAL = AsBooked(tuple(-np.log1p(-(np.arange(20_001) + 0.5) / 20_001)), 1.0, Lognormal())
PERCENTS = (0.1, 0.5, 0.8, 0.9, 0.95)
ROWS = [
    ("beta-PERT (2, 5, 14)", [6], [ThreePoint(2 / 6, 5 / 6, 14 / 6)], 6, 32 / 7, (3.3468, 5.7657, 7.8823, 9.0067, 9.8899)),
    ("beta-PERT (1, 4, 7)", [4], [ThreePoint(1 / 4, 1, 7 / 4)], 4, 9 / 7, (2.4798, 4, 5.0404, 5.5202, 5.8645)),
    ("triangular (2, 5, 14)", [7], [ThreePoint(2 / 7, 5 / 7, 2, True)], 7, 6.5, (3.8974, 6.6515, 9.3524, 10.7137, 11.6762)),
    ("lognormal 10, CV 0.5", [10], [Lognormal(50)], 10, 25, (4.8824, 8.9443, 13.3108, 16.3854, 19.4532)),
    ("lognormal 60, CV 0.3", [60], [Lognormal(30)], 60, 324, (39.4504, 57.4696, 73.5763, 83.7192, 93.1415)),
    ("five exponentials of 10", [10] * 5, [EXPONENTIAL] * 5, 50, 500, (None, 46.7091, 67.2098, 79.9359, 91.5352)),
    ("ten lognormals of 10, CV 0.5", [10] * 10, [Lognormal(50)] * 10, 100, 250, (None, 98.7, 112.7, 120.8, 128.0)),
    ("one lognormal with their moments", [100], [Lognormal(100 * 250**0.5 / 100)], 100, 250, (None, 98.773, 112.739, 120.808, 127.906)),
]  # fmt: skip


@pytest.mark.parametrize(
    ("minutes", "spreads", "mean", "variance", "points"), [r[1:] for r in ROWS], ids=[r[0] for r in ROWS]
)
def test_percentiles_of_what_is_drawn(minutes, spreads, mean: float, variance: float, points) -> None:
    """Percentiles computed with scipy 1.x from the closed forms (the last row simulated, give or take 0.1): at each the share
    of the draws below is the percent, but for sampling error."""
    draws = drawn(*chain(minutes, spreads))
    assert draws.finish.mean() / UNIT == pytest.approx(mean, abs=4 * (variance / 20_000) ** 0.5)
    assert draws.finish.var() / UNIT**2 == pytest.approx(variance, rel=0.1)
    for share, point in zip(PERCENTS, points, strict=True):
        if point is not None:
            assert within(draws, point) == pytest.approx(share, abs=0.003 + four_errors(share))
            assert draws.at(0, share) / UNIT == pytest.approx(point, rel=0.03)


LOGNORMALS = [row[1:2] + row[2:3] + row[-1:] for row in ROWS if len(row[1]) == 1 and isinstance(row[2][0], Lognormal)]


@pytest.mark.parametrize(("minutes", "spreads", "points"), LOGNORMALS)
def test_percentiles_of_a_lognormal_to_the_digits_shown(minutes, spreads, points) -> None:
    """scipy's closed forms against the spread itself, without sampling."""
    found = minutes[0] * spreads[0].ratios(np.array(PERCENTS))
    for point, told in zip(found, points, strict=True):
        if told is not None:
            assert point == pytest.approx(told, abs=6e-4 if told > 30 else 6e-5)


# --- scrap ------------------------------------------------------------------------------------------


def made(start: int, wanted: int, good: float, draws: int = 20_000) -> tuple[Draws, np.ndarray]:
    """A minute a piece; with the pieces that were made again in each draw."""
    work = ShopBuilder().batch("B", pieces=start).op("M", 0, 60).order("O", "B", due=start, pieces=wanted).build()
    found = drawn(work, replace(Spreads.none(), yields={0: good}), draws)
    return found, found.finish[:, 0] - start


@pytest.mark.parametrize(
    ("start", "wanted", "good", "chance"),
    [(112, 100, 0.98 * 0.95 * 0.99 * 0.97, 0.592), (115, 100, 0.98 * 0.95 * 0.99 * 0.97, 0.843),
     (117, 100, 0.98 * 0.95 * 0.99 * 0.97, 0.932), (118, 100, 0.98 * 0.95 * 0.99 * 0.97, 0.958),
     (121, 100, 0.98 * 0.95 * 0.99 * 0.97, 0.992),
     (52, 50, 0.95, 0.515), (55, 50, 0.95, 0.944), (56, 50, 0.95, 0.979)],
)  # fmt: skip
def test_the_chance_that_enough_are_good(start: int, wanted: int, good: float, chance: float) -> None:
    """Binomial chances computed with scipy: then nothing is made again and the order is in time."""
    draws, again = made(start, wanted, good)
    assert draws.on_time(0) == pytest.approx(chance, abs=0.0005 + four_errors(chance))
    assert ((again == 0) == (draws.finish[:, 0] <= start)).all()


def test_scrap_of_a_hundred_at_three_percent() -> None:
    """Mean 3, variance 2.91, none with 0.047553, at most five with 0.919163; half 3, nine tenths 5, 95 % 6, 99 % 8. Each scrapped
    piece is made again with its share of scrap, rounded up once: 1 / 0.97 a piece."""
    draws, again = made(100, 100, 0.97)
    assert (again == 0).mean() == pytest.approx(0.047553, abs=four_errors(0.047553))
    assert (again <= 6).mean() == pytest.approx(0.919163, abs=four_errors(0.919163))
    scrap = np.floor(again * 0.97)
    assert scrap.mean() == pytest.approx(3, abs=4 * 1.70587 / 20_000**0.5)
    assert scrap.std() == pytest.approx(1.70587, rel=0.03)
    assert [draws.at(0, share) - 100 for share in (0.5, 0.9, 0.95, 0.99)] == [4, 6, 7, 9]
