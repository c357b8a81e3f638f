"""Entries that cannot be right are refused."""

from __future__ import annotations


class Refused(Exception):
    """What was to be entered cannot be, with the reason; nothing was written."""

    def __init__(self, reason: str) -> None:
        is_of_step = reason.startswith(
            "batch "
        )  # a sentence that begins with a step; names of machines and people stay as they are
        super().__init__(f"B{reason[1:]}" if is_of_step else reason)
