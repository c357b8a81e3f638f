"""The tables of a shop folder: one CSV each, with declared columns.

The reader, the messages, ``sample_shop/README.md`` and the tests all go by this list.
Column types: ``text``, ``name`` (a key or a reference, compared exactly after trimming),
``whole`` (whole number >= 0), ``positive`` (whole number >= 1), ``percent`` (0 < x <= 100, decimals
allowed), ``date`` (YYYY-MM-DD), ``time`` (HH:MM, 24:00 allowed as an end), ``moment``
(YYYY-MM-DD HH:MM, a T between is accepted), ``due`` (date or moment), ``weekday`` (Mon..Sun), ``yesno``, ``pence``
(pounds with up to two decimals, e.g. 85.00), ``month`` (YYYY-MM), ``thousandths`` (0 or more with up to three decimals), ``names`` (names separated by ``;``), ``amounts`` (``name`` or ``name*count`` separated by ``;``),
or ``one of a|b``.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Column:
    """A column: ``required`` cells may not be empty; ``refers`` names the table whose key it must be in."""

    name: str
    type: str
    meaning: str
    required: bool = False
    refers: str | None = None
    default: str = ""


@dataclass(frozen=True)
class Table:
    name: str  # file is name + '.csv'
    meaning: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()
    required: bool = False


def _c(name: str, type_: str, meaning: str, need: bool = False, refers: str | None = None, default: str = "") -> Column:
    return Column(name, type_, meaning, need, refers, default)


TABLES: tuple[Table, ...] = (
    Table("settings", "Choices for the whole shop; names and meanings as in planner.shop.Settings", (
        _c("name", "name", "which setting", True),
        _c("value", "text", "its value; empty means the default"),
    ), ("name",), True),
    Table("calendars", "Named calendars and the last date they are known to", (
        _c("calendar", "name", "", True),
        _c("known_to", "date", "last date, included; all time after it is closed", True),
    ), ("calendar",), True),
    Table("hours", "Weekly windows of each calendar, in local wall time", (
        _c("calendar", "name", "", True, "calendars"),
        _c("weekday", "weekday", "day on which the window begins", True),
        _c("from", "time", "", True),
        _c("to", "time", "not after 'from' means the next day", True),
        _c("attended", "yesno", "is someone there? no: unattended running only", default="yes"),
    ), required=True),
    Table("closed_days", "Days on which no window of the calendar begins", (
        _c("calendar", "name", "a calendar, or * for all", True),
        _c("first", "date", "", True),
        _c("last", "date", "included; empty: the same day"),
        _c("reason", "text", ""),
    )),
    Table("extra_shifts", "Extra windows on one date, closed day or not", (
        _c("calendar", "name", "", True, "calendars"),
        _c("date", "date", "", True),
        _c("from", "time", "", True),
        _c("to", "time", "", True),
        _c("attended", "yesno", "", default="yes"),
    )),
    Table("people", "Who works when and can do what", (
        _c("person", "name", "", True),
        _c("calendar", "name", "", True, "calendars"),
        _c("skills", "names", "skills, with a semicolon (;) between them", True),
    ), ("person",), True),
    Table("leave", "Spans in which a person is away", (
        _c("person", "name", "", True, "people"),
        _c("from", "moment", "", True),
        _c("to", "moment", "", True),
        _c("reason", "text", ""),
    )),
    Table("groups", "Groups of interchangeable machines", (
        _c("group", "name", "", True),
        _c("description", "text", ""),
        _c("setup_skill", "name", "who sets these machines; empty: nobody in particular"),
        _c("minding_skill", "name", "who minds them while they run; empty: not checked"),
        _c("machines_per_person", "positive", "how many one person minds at once"),
        _c("availability_percent", "percent", "share of the attended hours left after breakdowns; load is compared with it, plans are not changed", default="100"),
        _c("performance_percent", "percent", "share of the speed that the times in the tables promise; as above", default="100"),
        _c("hourly_rate", "pounds", "an hour of one machine, pounds; empty: as in settings.csv"),
        _c("overtime_rate", "pounds", "an hour of overtime, all in, pounds; empty: the hourly rate and a half"),
        _c("overtime_percent", "whole", "most overtime in a month, of its hours", default="0"),
        _c("outside_rate", "pounds", "an hour of this work sent to another firm, pounds; empty: it cannot be"),
        _c("outside_hours", "whole", "most hours a month that can be sent out", default="0"),
    ), ("group",), True),
    Table("machines", "Machines, benches, measuring machines", (
        _c("machine", "name", "", True),
        _c("group", "name", "", True, "groups"),
        _c("calendar", "name", "", True, "calendars"),
        _c("description", "text", ""),
        _c("on_part", "name", "part set on it at plan start", refers="parts"),
        _c("on_operation", "positive", "operation number set on it at plan start"),
        _c("on_family", "name", "changeover family set on it at plan start"),
        _c("on_equipment", "names", "equipment on it at plan start"),
        _c("hours_between_breakdowns", "whole", "its open hours between breakdowns on average; 0: none; empty: setting breakdown_hours for machine steps, none else"),
        _c("repair_hours", "positive", "attended hours until it is mended, on average; empty: as in the settings"),
    ), ("machine",), True),
    Table("downtime", "Spans in which a machine cannot be used", (
        _c("machine", "name", "", True, "machines"),
        _c("from", "moment", "", True),
        _c("to", "moment", "", True),
        _c("reason", "text", ""),
    )),
    Table("equipment", "Fixtures, soft jaws, collet sets, gauges: things there are only so many of", (
        _c("equipment", "name", "", True),
        _c("count", "positive", "how many there are", True),
        _c("description", "text", ""),
    ), ("equipment",)),
    Table("changeovers", "Minutes added to a setup by what was on the machine before; directed", (
        _c("group", "name", "", True, "groups"),
        _c("from_family", "name", "family before", True),
        _c("to_family", "name", "family to be set", True),
        _c("minutes", "whole", "", True),
    ), ("group", "from_family", "to_family")),
    Table("parts", "Everything made or bought", (
        _c("part", "name", "part number", True),
        _c("revision", "text", ""),
        _c("description", "text", ""),
        _c("made", "yesno", "made here (needs a routing), or bought", True),
        _c("own_product", "yesno", "part of a product of our own", default="no"),
        _c("yield_percent", "percent", "good pieces out of the whole routing", default="100"),
        _c("batch_minimum", "positive", "smallest start quantity", default="1"),
        _c("batch_multiple", "positive", "start quantity is a multiple of this", default="1"),
        _c("batch_maximum", "positive", "largest start quantity; empty: none"),
        _c("split_minimum", "positive", "the planner may split a batch in two, each half at least this start quantity; empty: never"),
        _c("combine_within_days", "whole", "the planner may run batches as one whose due dates are so many days apart at most; empty: never"),
        _c("first_time", "yesno", "not made here before, so its times are less sure", default="no"),
        _c("piece_value", "pounds", "value of a finished piece in stock, pounds; empty: its own work at the hourly rates"),
        _c("contribution", "pounds", "what a piece sold brings before the shop's own hours (price less material and outside work), pounds"),
        _c("learning_percent", "percent", "time of manual steps each time the pieces made double, of the time before; 100: nothing left to learn", default="100"),
        _c("made_before", "whole", "good pieces made so far: the times in routings.csv are those of the next one", default="0"),
    ), ("part",), True),
    Table("routings", "The steps of each made part", (
        _c("part", "name", "", True, "parts"),
        _c("operation", "positive", "10, 20, 30...", True),
        _c("description", "text", ""),
        _c("kind", "one of machine|manual|outside|wait", "", True),
        _c("group", "name", "machine group, for machine and manual steps", refers="groups"),
        _c("setup_min", "whole", "base setup, minutes; required for machine and manual steps"),
        _c("cycle_sec", "whole", "seconds a cycle; required for machine and manual steps; 0 is none: not with a first-off, sublots or setup ahead"),
        _c("pieces_per_cycle", "positive", "", default="1"),
        _c("family", "name", "changeover family"),
        _c("skill", "name", "who does it (manual) or sets it (machine; empty: the group's setter)"),
        _c("setting_pieces", "whole", "pieces used up in setting", default="0"),
        _c("sample_pieces", "positive", "only this many go through; empty: all"),
        _c("first_off_skill", "name", "who approves the first piece; empty: no first-off"),
        _c("first_off_min", "whole", "minutes the approval takes", default="0"),
        _c("unattended_limit_min", "whole", "running minutes allowed in each unattended stretch", default="0"),
        _c("may_pause", "yesno", "may the run stop at shift end and go on later?", default="yes"),
        _c("transfer_pieces", "positive", "pieces moved to the next step before the batch is finished; empty: all"),
        _c("setup_ahead", "yesno", "may it be set before the batch is there?", default="no"),
        _c("move_min", "whole", "minutes to the next step", default="0"),
        _c("move_calendar", "name", "whose minutes; empty: attended minutes of the receiving machine", refers="calendars"),
        _c("wait_min", "whole", "elapsed minutes after the step (curing, cooling); the length of a wait step", default="0"),
        _c("equipment", "amounts", "held from setup start to run end: name or name*count, with a semicolon (;) between them", refers="equipment"),
        _c("supplier", "name", "for outside steps", refers="suppliers"),
        _c("process", "name", "for outside steps"),
        _c("charge_key", "text", "outside work with the same key shares one minimum charge"),
        _c("piece_price", "pounds", "outside price of a piece, pounds", default="0"),
    ), ("part", "operation"), True),
    Table("routing_machines", "Machines with times of their own; a step listed here can be done only on the machines listed", (
        _c("part", "name", "", True, "parts"),
        _c("operation", "positive", "", True),
        _c("machine", "name", "", True, "machines"),
        _c("setup_min", "whole", "empty: as in the routing"),
        _c("cycle_sec", "whole", "empty: as in the routing"),
    ), ("part", "operation", "machine")),
    Table("structure", "What goes into what", (
        _c("parent", "name", "", True, "parts"),
        _c("component", "name", "", True, "parts"),
        _c("quantity_per", "positive", "pieces in one parent", True),
        _c("operation", "positive", "step of the parent that needs it; empty: the first"),
    ), ("parent", "component", "operation")),
    Table("stock", "Free stock at plan start", (
        _c("part", "name", "", True, "parts"),
        _c("quantity", "whole", "pieces", True),
    ), ("part",)),
    Table("receipts", "Bought (or promised) pieces still to come", (
        _c("reference", "name", "", True),
        _c("part", "name", "", True, "parts"),
        _c("quantity", "positive", "pieces", True),
        _c("date", "date", "usable from the first open minute of the shop calendar that day", True),
    ), ("reference",)),
    Table("suppliers", "Outside firms", (
        _c("supplier", "name", "", True),
        _c("calendar", "name", "their working days (days with a window)", True, "calendars"),
    ), ("supplier",)),
    Table("processes", "What each outside firm does for us", (
        _c("supplier", "name", "", True, "suppliers"),
        _c("process", "name", "", True),
        _c("turn_days", "whole", "their working days after the day of collection", True),
        _c("minimum_charge", "pounds", "pounds", default="0"),
        _c("line_fee", "pounds", "pounds a batch", default="0"),
        _c("turn_low", "whole", "shortest turn, working days; empty: one less than turn_days"),
        _c("turn_high", "whole", "longest turn; empty: half as long again as turn_days, and a day"),
    ), ("supplier", "process")),
    Table("collections", "When each outside firm's work is fetched", (
        _c("supplier", "name", "", True, "suppliers"),
        _c("weekday", "weekday", "", True),
        _c("collect", "time", "", True),
        _c("cutoff", "time", "ready by then, to go", True),
        _c("capacity_pieces", "positive", "room; empty: no limit"),
        _c("missed_percent", "whole", "chance that the van does not come or is missed; empty: as in the settings"),
    ), ("supplier", "weekday", "collect")),
    Table("deliveries", "When each outside firm's work comes back", (
        _c("supplier", "name", "", True, "suppliers"),
        _c("weekday", "weekday", "", True),
        _c("at", "time", "", True),
    ), ("supplier", "weekday", "at")),
    Table("classes", "What a late minute costs, by class of order", (
        _c("class", "name", "", True),
        _c("weight", "whole", "whole number", True),
    ), ("class",), True),
    Table("orders", "What is wanted, and when", (
        _c("order", "name", "", True),
        _c("customer", "text", ""),
        _c("part", "name", "", True, "parts"),
        _c("quantity", "whole", "pieces; 0: closed, listed and not planned", True),
        _c("due", "due", "date (ready by the dispatch cut-off) or date and time", True),
        _c("class", "name", "", True, "classes"),
        _c("material_date", "date", "material is here from that day; empty: taken as here, and listed"),
        _c("promise", "date", "the date we gave"),
        _c("provisional_until", "date", "an enquiry that holds its place up to and with that day; then it is left out. Empty: a firm order"),
        _c("after_all", "yesno", "kept as an enquiry: until a batch is released for it, it is given of stock and batches what all other orders leave", default="no"),
        _c("note", "text", ""),
    ), ("order",), True),
    Table("batches", "Batches already released", (
        _c("batch", "name", "", True),
        _c("part", "name", "", True, "parts"),
        _c("quantity", "positive", "start quantity without setting pieces", True),
        _c("order", "name", "reserved for this order; empty: by due date", refers="orders"),
        _c("material_date", "date", ""),
    ), ("batch",)),
    Table("progress", "What has been done on released batches; a step not listed has not begun", (
        _c("batch", "name", "", True, "batches"),
        _c("operation", "positive", "", True),
        _c("state", "one of done|running|part|out", "running: set up on the machine now; part: begun, setup torn down; out: collected by the outside firm", True),
        _c("machine", "name", "required when running", refers="machines"),
        _c("person", "name", "who is on it", refers="people"),
        _c("setup_left_min", "whole", "running: minutes of setting still to do", default="0"),
        _c("first_off_passed", "yesno", "", default="no"),
        _c("good", "whole", "good pieces so far", default="0"),
        _c("scrap", "whole", "scrapped pieces so far", default="0"),
        _c("collected", "moment", "required when out"),
        _c("set_again", "yesno", "running: set up once more after it had been torn down, so there may be pieces from before", default="no"),
    ), ("batch", "operation")),
    Table("pins", "The manager's own decisions for a step; what cannot be kept is listed", (
        _c("batch", "name", "", True),
        _c("operation", "positive", "", True),
        _c("machine", "name", "", refers="machines"),
        _c("person", "name", "", refers="people"),
        _c("not_before", "moment", ""),
        _c("reason", "text", ""),
        _c("not_machines", "names", "machines that are not to do it, with a semicolon (;) between them", refers="machines"),
        _c("after_batch", "name", "right after a step of this batch on the pinned machine, as firm as change can be"),
        _c("after_operation", "positive", "that step's number"),
    ), ("batch", "operation")),
    Table("left_alone", "Batches that are left as they are: the planner neither splits them nor runs them as one with others", (
        _c("batch", "name", "as the lists name it; a half, or what several are run as, stands for all that it comes of", True),
        _c("reason", "text", ""),
    ), ("batch",)),
    Table("forecast", "What is expected to be wanted in the months ahead, for the longer view", (
        _c("part", "name", "a part that is made", True, "parts"),
        _c("month", "month", "", True),
        _c("pieces", "whole", "in all, orders in hand included", True),
    ), ("part", "month")),
    Table("bars", "The bar that a part is made from, for the bars a batch needs", (
        _c("part", "name", "", True, "parts"),
        _c("bar_mm", "thousandths", "length of a bar", True),
        _c("remnant_mm", "thousandths", "what the machine cannot use of it", True),
        _c("part_mm", "thousandths", "length of the finished part", True),
        _c("cutoff_mm", "thousandths", "width of the cut-off", True),
        _c("facing_mm", "thousandths", "faced off each part", default="0"),
        _c("diameter_mm", "thousandths", "for the mass"),
        _c("density", "thousandths", "g a cubic centimetre, for the mass: aluminium 2.70, stainless 8.00"),
    ), ("part",)),
    Table("booked_times", "Setups and runs as they really were, for how sure dates are", (
        _c("day", "date", "when it ended", True),
        _c("part", "text", "for the reader"),
        _c("operation", "positive", "for the reader"),
        _c("machine", "name", "empty: see group", refers="machines"),
        _c("group", "name", "empty: that of the machine", refers="groups"),
        _c("what", "one of setup|run", "", True),
        _c("planned_min", "positive", "minutes that the tables plan for it now, with the changeover or for the pieces made", True),
        _c("actual_min", "positive", "minutes it took, in the machine's hours: without nights, breaks and downtime", True),
        _c("first_time", "yesno", "was the part made here for the first time?", default="no"),
    )),
    Table("booked_turns", "Outside work as long as it really took, for how sure dates are", (
        _c("day", "date", "when it came back", True),
        _c("part", "text", "for the reader"),
        _c("supplier", "name", "", True, "suppliers"),
        _c("process", "name", "", True),
        _c("days", "whole", "their working days after the day of collection", True),
    )),
)  # fmt: skip


def table_named(name: str) -> Table:
    """The declared table of that name."""
    return next(table for table in TABLES if table.name == name)
