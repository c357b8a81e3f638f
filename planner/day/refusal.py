"""Entries that cannot be right are refused."""

from __future__ import annotations


class Refused(Exception):
    """What was to be entered cannot be, with the reason; nothing was written."""
