"""The usual cautions in words, for plans and for changes alike. People decide; local rules come first."""

from __future__ import annotations

EXTRA_HOURS = (
    "Extra hours: check working-time rules, rest between shifts and lone working with the people responsible, and ask "
    "the people themselves; local rules come first."
)
NOBODY_THERE = (
    "Running with nobody there needs a risk assessment, fire precautions and the agreement of the people responsible; "
    "local rules come first."
)
TRAINING = "A skill counts once the person is trained and signed off; the people responsible say when."
ANOTHER_PLACE = "Another machine, method or firm may need a new first-off, a proven program and the customer's consent."
SENT_OUT = (
    "Work sent to another firm may need a new first-off or the customer's consent, and its transport is not counted."
)
