"""An operation list in priority order with machine choices to exact times: the only place that computes times."""

from planner.timetable.timetable import Timetable

__all__ = ["Timetable"]
