"""Dates that were given to customers with a chance, and what became of them."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from planner.booked.reading import Bookings
from planner.counted import counted
from planner.day.clock import state_moment
from planner.intake import shop_of
from planner.shop import BookedDate, Shop
from planner.store import Entry, ShopPlace, Store, is_store

STATED = "stated"  # in the data of the entry that kept an enquiry as an order
AGE_DAYS = (
    63  # a date counts when nearly all that were given with it are ready, so that the quick ones do not count alone
)
BANDS = ((95, "95 % or more"), (85, "about 90 %"), (75, "about 80 %"), (65, "about 70 %"), (0, "less than 65 %"))


@dataclass(frozen=True)
class DateGiven:
    """A promised day with the chance (0 to 1) that the draws gave it then. ``kept`` is None until its dispatch cut-off is over.

    ``ready``: when the last step of the last batch that is reserved for the order was booked done, or all of it was
    shipped, whichever was first; None while it is neither.
    """

    order: str
    given: date
    promise: date
    chance: float
    safe: str
    sure_percent: int
    ready: datetime | None
    kept: bool | None
    booked: BookedDate | None = None  # what dates to come can learn from it

    @property
    def row(self) -> dict[str, Any]:
        """As plain data for JSON."""
        return {n: v.isoformat() if isinstance(v, date) else v for n, v in vars(self).items() if n != "booked"}


def dates_given(place: ShopPlace | None) -> tuple[DateGiven, ...]:
    """Every date that was given with a chance, the first first; none where there is no store. Orders that were cancelled are left out."""
    if place is None or not is_store(place):
        return ()
    with Store(place) as store:
        return given_in(store)


def given_in(store: Store, shop: Shop | None = None, last: int = 0) -> tuple[DateGiven, ...]:
    """As :func:`dates_given`. ``shop``: of the store's tables, where that has been read; ``last``: so many at most (0: all)."""
    kept = [e for e in store.entries("edit") if e.undone_by is None and e.data.get(STATED)][-last:]
    if not kept:
        return ()
    sheets = store.sheets()
    shop, now = shop or shop_of(sheets.reading()), state_moment(sheets)
    cutoff = shop.settings.dispatch_cutoff
    events = [e for e in store.entries("event") if e.undone_by is None]
    gone = {e.data["subject"] for e in events if e.what == "cancel"}
    ready = _Ready(store, shop, events)
    found = []
    for entry in kept:
        stated: dict[str, Any] = entry.data[STATED]
        order = stated["order"]
        if order in gone:
            continue
        promise = date.fromisoformat(stated["promise"])
        until, there = datetime.combine(promise, cutoff), ready.of(order, stated["part"], stated["pieces"])
        became = None if now < until else there is not None and there <= until
        found.append(
            DateGiven(
                order, entry.at.date(), promise, stated["chance"], stated["safe"], stated["sure_percent"], there, became,
                _booked(stated, entry.at.date(), now, there, cutoff),
            )
        )  # fmt: skip
    return tuple(found)


def _booked(
    stated: dict[str, Any], given: date, now: datetime, ready: datetime | None, cutoff: time
) -> BookedDate | None:
    """None where it is too new, or was given later than it was safe: work is done for the day that is promised, so it
    says nothing of the days before."""
    by_day: dict[str, float] = stated.get("by_day", {})
    if not by_day or stated["promise"] > stated["safe_day"] or now.date() < given + timedelta(days=AGE_DAYS):
        return None
    reached = 1.0
    if ready is not None:
        day = ready.date() + timedelta(days=ready.time() > cutoff)
        before = bisect_left(list(by_day), day.isoformat())
        reached = list(by_day.values())[before - 1] if before else 0.0
    return BookedDate(stated["outside"], stated["sure_percent"], reached)


class _Ready:
    """When orders were ready, by what was booked."""

    def __init__(self, store: Store, shop: Shop, events: Iterable[Entry]) -> None:
        self._shop = shop
        self._bookings = Bookings(store, None)  # a date that was kept stays kept, however long ago
        self._shipped: dict[str, tuple[int, datetime]] = {}
        for event in events:
            if event.what == "ship":
                self._shipped[event.data["subject"]] = event.id, event.at
        self._orders = store.changes_of(("orders",))
        self._ends = {b.step: b for b in self._bookings.all if b.ends}

    def of(self, order: str, part: str, pieces: int) -> datetime | None:
        moments = [m for m in (self._made(order, part, pieces), self._all_shipped(order)) if m is not None]
        return min(moments, default=None)

    def _all_shipped(self, order: str) -> datetime | None:
        entry, at = self._shipped.get(order, (0, None))
        closed = any(n == entry and (c.after or {}).get("quantity") == "0" for n, c in self._orders)
        return at if closed else None

    def _made(self, order: str, part: str, pieces: int) -> datetime | None:
        """The last of its batches done, with pieces enough."""
        own = self._bookings.batches_of(order, part)
        routing = self._shop.routings.get(part)
        steps = [s.number for s in routing.operations if s.kind != "wait"] if routing else []
        done = {name: self._ends.get((name, steps[-1])) for name in own} if steps else {}
        ends = [end for end in done.values() if end is not None]
        if not ends or len(ends) < len(own):
            return None
        made = sum(self._good(end.step[0], end.entry) for end in ends)
        return max(end.at for end in ends) if made >= pieces else None

    def _good(self, batch: str, entry: int) -> int:
        return self._bookings.pieces(batch, entry) - self._bookings.scrap(batch, entry)


def record_of(given: Iterable[DateGiven]) -> tuple[str, ...]:
    """What the chances have been worth, a sentence for each level; none where no date was given with one."""
    given = list(given)
    over = [g for g in given if g.kept is not None]
    lines = []
    for _, name in BANDS:
        own = [g for g in over if band_of(g.chance) == name]
        if own:
            kept = sum(bool(g.kept) for g in own)
            lines.append(
                f"Of {counted(len(own), 'date')} given at {name} sure whose day has come, {kept} "
                f"{'was' if kept == 1 else 'were'} kept."
            )
    coming = len(given) - len(over)
    if coming:
        lines.append(f"{counted(coming, 'date')} given with a chance {'is' if coming == 1 else 'are'} still to come.")
    return tuple(lines)


def band_of(chance: float) -> str:
    """The level, in words, that a chance counts with."""
    return next(name for least, name in BANDS if round(100 * chance) >= least)
