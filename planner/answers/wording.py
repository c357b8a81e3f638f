"""Minutes and operations as words, in English whatever the machine's locale."""

from __future__ import annotations

from datetime import date, datetime

from planner.work import NEVER, Operation, Work

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
BEYOND = "beyond the known calendars"
DAY_MIN = 1440


def day_text(day: date) -> str:
    """'Tue 7 Apr 2026'."""
    return f"{short_day_text(day)} {day.year}"


def short_day_text(day: date) -> str:
    """'Mon 23 Mar', without the year."""
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"


def _clock_text(local: datetime) -> str:
    """'10:00'; where the clock shows a time twice, the second says so."""
    return f"{local.hour:02d}:{local.minute:02d}{' (second)' if local.fold else ''}"


def local_text(local: datetime) -> str:
    """'Tue 7 Apr 2026 10:00'; where the clock shows a time twice, the second says so."""
    return f"{day_text(local.date())} {_clock_text(local)}"


def moment_text(work: Work, minute: int) -> str:
    """Local time of a planning minute in words."""
    return BEYOND if abs(minute) >= NEVER else local_text(work.local(minute))


def short_moment_text(work: Work, minute: int) -> str:
    """'Tue 7 Apr 10:00': local time without the year, short enough for a chart or the telephone."""
    if abs(minute) >= NEVER:
        return BEYOND
    local = work.local(minute)
    return f"{short_day_text(local.date())} {_clock_text(local)}"


def moment_iso(work: Work, minute: int) -> str | None:
    """Local time of a planning minute in ISO 8601 with offset; None beyond the known calendars."""
    return None if abs(minute) >= NEVER else work.local(minute).isoformat()


def span_text(minutes: int) -> str:
    """A length of time: '45 min', '2 h 05 min', '1,204 h'. Negative lengths keep their sign."""
    sign, (hours, rest) = "-" if minutes < 0 else "", divmod(abs(minutes), 60)
    if not hours:
        return f"{sign}{rest} min"
    return f"{sign}{hours:,} h" + (f" {rest:02d} min" if rest else "")


def elapsed_text(minutes: int) -> str:
    """Elapsed time: days of 24 hours with one decimal, or hours and minutes when under a day."""
    return f"{minutes / DAY_MIN:,.1f} days" if abs(minutes) >= DAY_MIN else span_text(minutes)


def late_text(late_min: int) -> str:
    """'2.0 days late', '3 h 10 min early' or 'on the minute'; a day is 24 hours."""
    if late_min == 0:
        return "on the minute"
    return f"{elapsed_text(abs(late_min))} {'late' if late_min > 0 else 'early'}"


def pounds(pence: int) -> str:
    """'1,234.50', below nothing '-0.05'."""
    whole, rest = divmod(abs(pence), 100)
    return f"{'-' if pence < 0 else ''}{whole:,}.{rest:02d}"


def step_name(work: Work, op: Operation) -> str:
    """'B7 op 20'."""
    return f"{work.batches[op.batch].name} op {op.number}"


def capital(text: str) -> str:
    """With a capital first letter, the rest as it is."""
    return text[:1].upper() + text[1:]
