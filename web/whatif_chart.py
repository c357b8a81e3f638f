"""Both plans on one chart: two strips for each machine, the plan as it is above the changed one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from web.chart import Bar, Chart, ChartBatch, Row, chart
from web.site import Site

BELOW = "→ "  # before the name of the lower strip


@dataclass(frozen=True)
class Compared:
    """A chart of both plans. ``moved``: operations, by ``Bar.op``, that the other plan has elsewhere or not at all.

    Operations of the changed plan have numbers from ``first_after`` on.
    """

    chart: Chart
    moved: tuple[int, ...]
    first_after: int


def compared(before: Site, after: Site) -> Compared:
    """The charts of two plans laid into one."""
    a, b = chart(before), chart(after)
    first = 1 + max((bar.op for bar in a.bars), default=-1)
    rows = _rows(a.rows, b.rows)
    place = {(row.group, row.name): n for n, row in enumerate(rows)}
    upper = _moved(a, a.bars, place, 0, 0, 0)
    lower = _moved(b, b.bars, place, 1, len(a.batches), first)
    orders = len(a.orders)
    batches = (*a.batches, *(replace(x, orders=tuple(o + orders for o in x.orders)) for x in b.batches))
    classes, batches = _classes(a, b, batches)
    days, marks = max((a, b), key=lambda c: c.until_min).days, max((a, b), key=lambda c: c.until_min).hour_marks
    whole = replace(
        a, from_min=min(a.from_min, b.from_min), until_min=max(a.until_min, b.until_min), days=days, hour_marks=marks,
        groups=tuple(dict.fromkeys(row.group for row in rows)), classes=classes, hours=(*a.hours, *b.hours),
        rows=_strips(a, b, rows), orders=(*a.orders, *b.orders), batches=batches, bars=(*upper, *lower), links=(),
    )  # fmt: skip
    return Compared(whole, _differ(whole), first)


def _rows(a: Sequence[Row], b: Sequence[Row]) -> list[Row]:
    """Rows of both, each once; one that only the second has comes at the end of its group."""
    rows = list(a)
    for row in b:
        if not any((r.group, r.name) == (row.group, row.name) for r in rows):
            last = max((n for n, r in enumerate(rows) if r.group == row.group), default=len(rows) - 1)
            rows.insert(last + 1, row)
    return rows


def _strips(a: Chart, b: Chart, rows: Sequence[Row]) -> tuple[Row, ...]:
    """An upper and a lower strip for each row; where one plan does not have it, the strip is closed and empty."""
    of_a = {(r.group, r.name): r for r in a.rows}
    of_b = {(r.group, r.name): r for r in b.rows}
    found = []
    for row in rows:
        key = (row.group, row.name)
        up, down = of_a.get(key), of_b.get(key)
        lanes = max(r.lanes for r in (up, down) if r is not None)
        found.append(Row(row.name, row.group, up.hours if up else None, lanes))
        hours = None if down is None or down.hours is None else down.hours + len(a.hours)
        found.append(Row(BELOW + row.name, row.group, hours, lanes))
    return tuple(found)


def _moved(
    source: Chart, bars: Sequence[Bar], place: dict[tuple[str, str], int], strip: int, batches: int, ops: int
) -> tuple[Bar, ...]:
    """Bars with their numbers in the chart of both."""
    key = [(row.group, row.name) for row in source.rows]
    return tuple(
        replace(
            bar, op=bar.op + ops, batch=bar.batch + batches, row=2 * place[key[bar.row]] + strip,
            next_op=None if bar.next_op is None else bar.next_op + ops,
        )
        for bar in bars
    )  # fmt: skip


def _classes(a: Chart, b: Chart, batches: Sequence[ChartBatch]) -> tuple[tuple[str, ...], tuple[ChartBatch, ...]]:
    """Classes of both, and batches that point into them."""
    names = tuple(dict.fromkeys((*a.classes, *b.classes)))
    of = [*(a.classes for _ in a.batches), *(b.classes for _ in b.batches)]
    found = (replace(batch, priority=names.index(own[batch.priority])) for batch, own in zip(batches, of, strict=True))
    return names, tuple(found)


def _differ(both: Chart) -> tuple[int, ...]:
    """Operations that do not stand at the same time on the same machine in both plans."""
    spots: dict[tuple[str, int, int, int, int], list[int]] = {}
    for bar in both.bars:
        spots.setdefault((both.batches[bar.batch].name, bar.number, bar.row // 2, bar.start, bar.end), []).append(
            bar.op
        )
    return tuple(sorted(op for ops in spots.values() if len(ops) < 2 for op in ops))
