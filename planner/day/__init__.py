"""The plan lives through the day: what was booked, what happened, what was decided, and the plan from now on."""
