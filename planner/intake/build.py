"""Typed rows that have passed every check to the frozen ``Shop``."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from planner import shop
from planner.intake.checks.references import ALL_CALENDARS
from planner.intake.rows import Row, Tables


def build_shop(tables: Tables) -> shop.Shop:
    """The shop of fault-free tables; records stand in table order, operations in order of number."""
    return shop.Shop(
        settings=shop.Settings(**tables.settings),
        calendars=_calendars(tables),
        people=_people(tables),
        groups={r["group"]: _group(r) for r in tables["groups"]},
        machines=_machines(tables),
        equipment={
            r["equipment"]: shop.Equipment(r["equipment"], r["count"], r["description"]) for r in tables["equipment"]
        },
        changeovers={(r["group"], r["from_family"], r["to_family"]): r["minutes"] for r in tables["changeovers"]},
        parts={r["part"]: _part(r) for r in tables["parts"]},
        routings={
            part: shop.Routing(part, tuple(_operation(tables, step) for step in steps))
            for part, steps in tables.routings.items()
        },
        structure=tuple(shop.Component(**_columns(r)) for r in tables["structure"]),
        stock={r["part"]: r["quantity"] for r in tables["stock"]},
        receipts=tuple(shop.Receipt(r["part"], r["quantity"], r["date"], r["reference"]) for r in tables["receipts"]),
        suppliers=_suppliers(tables),
        classes={r["class"]: shop.PriorityClass(r["class"], r["weight"]) for r in tables["classes"]},
        orders={
            r["order"]: shop.Order(**_columns(r, "order", "class", number="order", priority="class"))
            for r in tables["orders"]
        },
        batches=_batches(tables),
        pins=tuple(shop.Pin(**_columns(r)) for r in tables["pins"]),
        left_alone=tuple(r["batch"] for r in tables["left_alone"]),
        forecast=tuple(shop.Forecast(**_columns(r)) for r in tables["forecast"]),
        bars={r["part"]: shop.Bar(*list(r.values.values())[1:]) for r in tables["bars"]},
        history=_history(tables),
    )


def _columns(row: Row, *without: str, **renamed: str) -> dict[str, Any]:
    """Values by column, some left out, some under the name of another field."""
    result = {name: value for name, value in row.values.items() if name not in without}
    return result | {field: row[column] for field, column in renamed.items()}


def _gather(tables: Tables, table: str, column: str) -> dict[str, list[Row]]:
    result: dict[str, list[Row]] = defaultdict(list)
    for row in tables[table]:
        result[row[column]].append(row)
    return result


def _calendars(tables: Tables) -> dict[str, shop.Calendar]:
    hours, closed, extra = (_gather(tables, t, "calendar") for t in ("hours", "closed_days", "extra_shifts"))
    return {
        row["calendar"]: shop.Calendar(
            row["calendar"],
            row["known_to"],
            tuple(shop.Hours(r["weekday"], r["from"], r["to"], r["attended"]) for r in hours[row["calendar"]]),
            tuple(
                shop.ClosedDays(r["first"], r["last"] or r["first"], r["reason"])
                for r in closed[ALL_CALENDARS] + closed[row["calendar"]]
            ),
            tuple(shop.ExtraShift(r["date"], r["from"], r["to"], r["attended"]) for r in extra[row["calendar"]]),
        )
        for row in tables["calendars"]
    }


def _absences(rows: list[Row]) -> tuple[shop.Absence, ...]:
    return tuple(shop.Absence(r["from"], r["to"], r["reason"]) for r in rows)


def _people(tables: Tables) -> dict[str, shop.Person]:
    leave = _gather(tables, "leave", "person")
    return {
        r["person"]: shop.Person(r["person"], r["calendar"], r["skills"], _absences(leave[r["person"]]))
        for r in tables["people"]
    }


def _machines(tables: Tables) -> dict[str, shop.Machine]:
    downtime = _gather(tables, "downtime", "machine")
    result = {}
    for row in tables["machines"]:
        name = row["machine"]
        fields = _columns(row, "machine", name="machine") | {"downtime": _absences(downtime[name])}
        if not row["on_family"] and row["on_part"]:
            # the step set on it has its family; left out, the next setup would have no changeover
            fields["on_family"] = tables.steps[row["on_part"], row["on_operation"]]["family"]
        result[name] = shop.Machine(**fields)
    return result


def _group(row: Row) -> shop.Group:
    rates = ("hourly_rate", "overtime_rate", "outside_rate")
    return shop.Group(**_columns(row, "group", *rates, name="group", **{f"{rate}_pence": rate for rate in rates}))


def _part(row: Row) -> shop.Part:
    rule = shop.BatchRule(row["batch_minimum"], row["batch_multiple"], row["batch_maximum"])
    return shop.Part(
        row["part"], row["revision"], row["description"], row["made"], row["own_product"], row["yield_percent"], rule,
        row["split_minimum"], row["combine_within_days"], row["first_time"], row["piece_value"], row["contribution"],
        row["learning_percent"], row["made_before"],
    )  # fmt: skip


def _operation(tables: Tables, row: Row) -> shop.Operation:
    fields = _columns(
        row, "part", "operation", "setup_min", "cycle_sec", "piece_price",
        number="operation", piece_price_pence="piece_price",
    )  # fmt: skip
    fields["charge_key"] = row["charge_key"] or None
    return shop.Operation(alternatives=_alternatives(tables, row), **fields)


def _alternatives(tables: Tables, step: Row) -> tuple[shop.Alternative, ...]:
    """The machines listed for the step with their own times, else all of its group with the step's."""
    own = {r["machine"]: r for r in tables.listed_machines.get((step["part"], step["operation"]), ())}
    result = []
    for machine in tables.machines_of(step):
        times = [
            own[machine][c] if machine in own and own[machine][c] is not None else step[c]
            for c in ("setup_min", "cycle_sec")
        ]
        result.append(shop.Alternative(machine, *times))
    return tuple(result)


def _suppliers(tables: Tables) -> dict[str, shop.Supplier]:
    does, fetched, back = (_gather(tables, t, "supplier") for t in ("processes", "collections", "deliveries"))
    return {
        row["supplier"]: shop.Supplier(
            row["supplier"],
            row["calendar"],
            tuple(
                shop.Process(
                    r["process"], r["turn_days"], r["minimum_charge"], r["line_fee"], r["turn_low"], r["turn_high"]
                )
                for r in does[row["supplier"]]
            ),
            tuple(
                shop.Collection(r["weekday"], r["collect"], r["cutoff"], r["capacity_pieces"], r["missed_percent"])
                for r in fetched[row["supplier"]]
            ),
            tuple(shop.WeeklyTime(r["weekday"], r["at"]) for r in back[row["supplier"]]),
        )
        for row in tables["suppliers"]
    }


def _batches(tables: Tables) -> dict[str, shop.OpenBatch]:
    progress = _gather(tables, "progress", "batch")
    return {
        row["batch"]: shop.OpenBatch(
            progress=tuple(
                shop.Progress(**_columns(r, "batch"))
                for r in sorted(progress[row["batch"]], key=lambda r: r["operation"])
            ),
            **_columns(row, "batch", number="batch"),
        )
        for row in tables["batches"]
    }


def _history(tables: Tables) -> shop.History:
    group_of = {r["machine"]: r["group"] for r in tables["machines"]}
    return shop.History(
        times=tuple(
            shop.BookedTime(
                r["day"], r["what"], r["group"] or group_of[r["machine"]], r["planned_min"], r["actual_min"], r["first_time"],
                " ".join(filter(None, (r["part"], r["operation"] and f"operation {r['operation']}"))),
            )
            for r in tables["booked_times"]
        ),
        turns=tuple(
            shop.BookedTurn(r["day"], r["supplier"], r["process"], r["days"], r["part"]) for r in tables["booked_turns"]
        ),
    )  # fmt: skip
