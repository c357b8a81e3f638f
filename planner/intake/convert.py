"""Text to typed values: each column type has one exact reading, and a fault where it does not fit."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime, time
from typing import Any

from planner.faults import Fault
from planner.intake.reader import TextRow, TextTable
from planner.intake.rows import Row
from planner.intake.tables import Column, Table

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
LARGEST = 10_000_000  # of any whole number: beyond it is a slip of the pen, not a shop
FIRST_YEAR, LAST_YEAR = 2000, 2099  # dates outside are dummies for "no date"
_SPREADSHEET_ERROR = re.compile(r"#(REF!|N/A|DIV/0!|VALUE!|NAME\?|NUM!|NULL!|SPILL!|CALC!)|#{3,}")
_DATE = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})")
_TIME = re.compile(r"([0-9]{2}):([0-9]{2})")


class Unfit(ValueError):
    """A text does not fit its type: what was expected, and how to mend it."""

    def __init__(self, expected: str, mend: str) -> None:
        self.expected, self.mend = expected, mend
        super().__init__(f"expected {expected}")


def convert_table(source: TextTable) -> tuple[list[Row], list[Fault]]:
    """Typed rows of a table, and a fault for each cell that does not fit."""
    rows: list[Row] = []
    faults: list[Fault] = []
    for text_row in source.rows:
        row, problems = _convert_row(source.table, source.file, text_row)
        rows.append(row)
        faults.extend(problems)
    return rows, faults


def _convert_row(table: Table, file: str, source: TextRow) -> tuple[Row, list[Fault]]:
    values: dict[str, Any] = {}
    text: dict[str, str] = {}
    faults: list[Fault] = []
    bad: set[str] = set()
    for column in table.columns:
        cell = source.cells.get(column.name, "")
        text[column.name] = cell
        values[column.name] = None
        if not source.whole and column.name not in table.key:
            bad.add(column.name)
            continue
        try:
            values[column.name] = convert_cell(column, cell)
        except Unfit as problem:
            bad.add(column.name)
            if source.whole:
                faults.append(Fault(file, source.number, column.name, cell, problem.expected, problem.mend))
    return Row(file, source.number, values, text, frozenset(bad)), faults


def convert_cell(column: Column, text: str) -> Any:
    """Value of a cell: its default where it is empty, None where there is none.

    Raises
    ------
    Unfit
        When the text does not fit the column's type, or is empty and required.
    """
    if not text:
        if column.required:
            raise Unfit(_expected(column), "Fill in the cell.")
        if not column.default:
            return {"text": "", "names": (), "amounts": ()}.get(column.type)
        text = column.default
    if _SPREADSHEET_ERROR.fullmatch(text):
        raise Unfit(
            _expected(column), "The spreadsheet could not work out this cell: mend the formula or enter the value."
        )
    if column.type == "time":
        return time_of(text, column.name == "to")
    return convert_text(column.type, text)


def convert_text(type_: str, text: str) -> Any:
    """Value of a text that is not empty.

    Raises
    ------
    Unfit
        When it does not fit the type.
    """
    if type_.startswith("one of "):
        return choice(type_.removeprefix("one of ").split("|"), text)
    return READERS[type_](text)


def _expected(column: Column) -> str:
    return EXPECTED.get(column.type, column.type.replace("|", ", "))


def _number(text: str, least: int, expected: str) -> int:
    """A whole number from ``least`` on; the mends are for the slips that spreadsheets and people make."""
    if re.fullmatch(r"\+?[0-9]+", text):
        value = int(text[:20])
        if least <= value <= LARGEST and len(text) < 20:
            return value
        limit = f"{least:,} to {LARGEST:,}".replace(",", " ")
        raise Unfit(f"{expected} ({limit})", "Check the number.")
    if re.fullmatch(r"[0-9]{1,3}(,[0-9]{3})+", text):
        mend = f"Write {text.replace(',', '')}, without commas."
    elif re.fullmatch(r"-[0-9.,]+|\([0-9.,]+\)", text):
        mend = "A negative number has no meaning here: check it."
    elif re.fullmatch(r"[0-9]*[.,][0-9]+", text):
        mend = "Write it without decimals (a decimal point and a thousands point look alike)."
    elif re.fullmatch(r"[0-9]+:[0-9]{2}|[0-9.]+ *(s|sec|secs|m|min|mins|h|hrs?)[0-9]*", text, re.IGNORECASE):
        mend = "Write only the number, in the unit that the heading names."
    else:
        mend = "Write it in digits only."
    raise Unfit(expected, mend)


def whole(text: str) -> int:
    return _number(text, 0, EXPECTED["whole"])


def positive(text: str) -> int:
    return _number(text, 1, EXPECTED["positive"])


def percent(text: str) -> float:
    if not re.fullmatch(r"[0-9]{1,3}(\.[0-9]{1,6})?", text) or not 0 < float(text) <= 100:
        raise Unfit(EXPECTED["percent"], "Write a number such as 97.5, without a percent sign.")
    return float(text)


def pence(text: str) -> int:
    match = re.fullmatch(r"([0-9]{1,7})(?:\.([0-9]{1,2}))?", text)
    if not match:
        raise Unfit(EXPECTED["pounds"], "Write pounds in digits, without pound sign or commas, e.g. 85.00.")
    return int(match[1]) * 100 + int((match[2] or "").ljust(2, "0"))


def day(text: str) -> date:
    match = _DATE.fullmatch(text)
    if not match:
        raise Unfit(EXPECTED["date"], "Write year, month and day, e.g. 2026-03-05 for 5 March 2026.")
    return _real_day(match, EXPECTED["date"])


def _real_day(match: re.Match[str], expected: str) -> date:
    try:
        result = date(int(match[1]), int(match[2]), int(match[3]))
    except ValueError:
        raise Unfit(expected, "There is no such day: check month and day.") from None
    if not FIRST_YEAR <= result.year <= LAST_YEAR:
        raise Unfit(f"{expected} in {FIRST_YEAR} to {LAST_YEAR}", "Leave the cell empty if there is no date.")
    return result


def month(text: str) -> date:
    """The first day of a month."""
    if not re.fullmatch(r"[0-9]{4}-[0-9]{2}", text):
        raise Unfit(EXPECTED["month"], "Write year and month, e.g. 2026-03 for March 2026.")
    try:
        return day(f"{text}-01")
    except Unfit as problem:
        raise Unfit(EXPECTED["month"], "There is no such month: check it.") from problem


def thousandths(text: str) -> int:
    """A number with up to three decimals, in thousandths."""
    match = re.fullmatch(r"([0-9]{1,6})(?:\.([0-9]{1,3}))?", text)
    if not match:
        raise Unfit(EXPECTED["thousandths"], "Write it in digits with a decimal point, without the unit, e.g. 42.5.")
    return int(match[1]) * 1000 + int((match[2] or "").ljust(3, "0"))


def time_of(text: str, is_end: bool = False) -> time:
    """A wall time. ``24:00`` is an end only and becomes midnight, the end of that day."""
    if is_end and text == "24:00":
        return time(0, 0)
    match = _TIME.fullmatch(text)
    if match and int(match[1]) < 24 and int(match[2]) < 60:
        return time(int(match[1]), int(match[2]))
    mend = "24:00 can only be the end of a window." if text == "24:00" else "Write hours and minutes, e.g. 07:30."
    raise Unfit(EXPECTED["time"], mend)


def moment(text: str) -> datetime:
    match = re.fullmatch(rf"({_DATE.pattern})[ T]({_TIME.pattern})", text)
    if not match:
        raise Unfit(EXPECTED["moment"], "Write date and time, e.g. 2026-03-05 07:30.")
    try:
        return datetime.combine(day(match[1]), time_of(match[5]))
    except Unfit as problem:
        raise Unfit(EXPECTED["moment"], problem.mend) from None


def due(text: str) -> date | datetime:
    if _DATE.fullmatch(text):
        return day(text)
    try:
        return moment(text)
    except Unfit as problem:
        raise Unfit(EXPECTED["due"], problem.mend) from None


def weekday(text: str) -> int:
    """0 for Mon to 6 for Sun."""
    for number, name in enumerate(WEEKDAYS):
        if text.casefold() == name.casefold():
            return number
    raise Unfit(EXPECTED["weekday"], "Write the first three letters of the day.")


def yesno(text: str) -> bool:
    return choice(["yes", "no"], text) == "yes"


def choice(options: list[str], text: str) -> str:
    if text.casefold() in options:
        return text.casefold()
    raise Unfit(f"one of {', '.join(options)}", "Write one of these words.")


def names(text: str) -> tuple[str, ...]:
    result = tuple(part.strip() for part in text.split(";"))
    if not all(result):
        raise Unfit(EXPECTED["names"], "Remove the semicolon that has no name on one side.")
    if len(set(result)) < len(result):
        raise Unfit(EXPECTED["names"], "Name each only once.")
    return result


def amounts(text: str) -> tuple[tuple[str, int], ...]:
    result = []
    for part in names(text):
        name, star, count = part.partition("*")
        try:
            result.append((name.strip(), positive(count.strip()) if star else 1))
        except Unfit:
            raise Unfit(EXPECTED["amounts"], f"Write the count after * in digits, not '{count.strip()}'.") from None
    if not all(name for name, _ in result) or len({name for name, _ in result}) < len(result):
        raise Unfit(EXPECTED["amounts"], "Name each thing once, with its count after *.")
    return tuple(result)


EXPECTED = {
    "text": "text",
    "name": "a name",
    "whole": "a whole number, 0 or more",
    "positive": "a whole number, 1 or more",
    "percent": "a percentage above 0 and up to 100",
    "date": "YYYY-MM-DD",
    "time": "HH:MM",
    "moment": "YYYY-MM-DD HH:MM",
    "due": "YYYY-MM-DD or YYYY-MM-DD HH:MM",
    "weekday": "one of Mon, Tue, Wed, Thu, Fri, Sat, Sun",
    "yesno": "yes or no",
    "pounds": "pounds with up to two decimals",
    "month": "YYYY-MM",
    "thousandths": "a number, 0 or more, with up to three decimals",
    "names": "names separated by ;",
    "amounts": "name or name*count, separated by ;",
}
READERS: dict[str, Callable[[str], Any]] = {
    "text": str, "name": str, "whole": whole, "positive": positive, "percent": percent, "date": day,
    "time": time_of, "moment": moment, "due": due, "weekday": weekday, "yesno": yesno, "pounds": pence,
    "month": month, "thousandths": thousandths,
    "names": names, "amounts": amounts,
}  # fmt: skip
