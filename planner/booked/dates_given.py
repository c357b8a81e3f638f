"""Dates that were given to customers with a chance, and what became of them."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any

from planner.booked.reading import Bookings
from planner.counted import counted
from planner.day.clock import state_moment
from planner.intake import shop_of
from planner.shop import BookedDate, Shop
from planner.store import Entry, ShopPlace, Store, StoredRow, is_store

STATED = "stated"  # in the data of the entry that kept an enquiry as an order
MOST = 1000  # dates to learn from, the last ones
AGE_DAYS = 63  # nearly all that were given with a date are ready then: before, the quick ones would count alone
BANDS = ((95, "95 % or more"), (85, "about 90 %"), (75, "about 80 %"), (65, "about 70 %"), (0, "less than 65 %"))


@dataclass(frozen=True)
class DateGiven:
    """A promised day with the chance (0 to 1) that was said of it then. ``kept`` is None until its dispatch cut-off is over.

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
        return _given(store)


def with_dates(place: ShopPlace | None, shop: Shop) -> Shop:
    """The shop with what its dates to come can learn from those given before."""
    dates = tuple(given.booked for given in dates_given(place) if given.booked is not None)
    return replace(shop, history=replace(shop.history, dates=dates[-MOST:]))


def _given(store: Store) -> tuple[DateGiven, ...]:
    kept = [e for e in store.entries("edit") if e.undone_by is None and e.data.get(STATED)]
    if not kept:
        return ()
    sheets = store.sheets()
    shop, now = shop_of(sheets.reading()), state_moment(sheets)
    cutoff = shop.settings.dispatch_cutoff
    events = [e for e in store.entries("event") if e.undone_by is None]
    gone, other = ({e.data["subject"] for e in events if e.what == what} for what in ("cancel", "quantity"))
    ready = _Ready(store, shop, events)
    rows = {row["order"]: row for row in sheets.rows("orders")}
    found = []
    for entry in kept:
        stated: dict[str, Any] = entry.data[STATED]
        order = stated["order"]
        if order in gone:
            continue
        promise = date.fromisoformat(stated["promise"])
        until, there = datetime.combine(promise, cutoff), ready.of(order, stated["part"], stated["pieces"])
        became = None if now < until else there is not None and there <= until
        as_given = order not in other and _as_given(stated, rows.get(order), ready.shipped(order))
        booked = _booked(stated, entry.at.date(), now, there, cutoff) if as_given else None
        found.append(
            DateGiven(
                order, entry.at.date(), promise, stated["chance"], stated["safe"], stated["sure_percent"], there, became,
                booked,
            )
        )  # fmt: skip
    return tuple(found)


def _as_given(stated: dict[str, Any], row: StoredRow | None, shipped: bool) -> bool:
    """Is it a firm order still with the promise and the pieces that the draws were made for? Else it is made for something else,
    or never."""
    if row is None or row["provisional_until"] or row["promise"] != stated["promise"]:
        return False
    return shipped or row["quantity"] == str(stated["pieces"])


def _booked(
    stated: dict[str, Any], given: date, now: datetime, ready: datetime | None, cutoff: time
) -> BookedDate | None:
    """None where it is too new, or was given later than it was safe: work is done for the day that is promised, so it
    says nothing of the days before."""
    by_day: dict[str, float] = stated.get("by_day", {})
    if not by_day:
        return None
    days, shares = list(by_day), list(by_day.values())

    def share_by(day: str) -> float:
        at = bisect_right(days, day)
        return shares[at - 1] if at else 0.0

    known_from = max(given + timedelta(days=AGE_DAYS), date.fromisoformat(max(days[-1], stated["promise"])))
    too_new = now <= datetime.combine(known_from, cutoff)
    if too_new or not stated["safe_day"] or share_by(stated["promise"]) > share_by(stated["safe_day"]):
        return None
    if ready is None:
        return BookedDate(stated["outside"], 1.0)
    last = ready.date() - timedelta(days=ready.time() <= cutoff)  # before it was ready
    return BookedDate(stated["outside"], share_by(last.isoformat()))


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

    def shipped(self, order: str) -> bool:
        """Was any of it?"""
        return order in self._shipped

    def _all_shipped(self, order: str) -> datetime | None:
        entry, at = self._shipped.get(order, (0, None))
        closed = any(n == entry and (c.after or {}).get("quantity") == "0" for n, c in self._orders)
        return at if closed else None

    def _made(self, order: str, part: str, pieces: int) -> datetime | None:
        """The last of its batches done, with pieces enough."""
        routing = self._shop.routings.get(part)
        steps = [s.number for s in routing.operations if s.kind != "wait"] if routing else []
        own = self._bookings.batches_of(order, part) if steps else set()
        done = {name: self._ends.get((name, steps[-1])) for name in own}
        ends = [end for end in done.values() if end is not None]
        open_ = any(end is None and name in self._shop.batches for name, end in done.items())  # others were taken back
        if not ends or open_:
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
