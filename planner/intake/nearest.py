"""What was probably meant: the nearest known name to one that is not known."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

_LOOK_ALIKES = str.maketrans("oil", "011")  # letters that are typed for digits, and the other way round


def _plain(name: str) -> str:
    return name.casefold().translate(_LOOK_ALIKES)


def nearest(value: str, known: Iterable[str]) -> str | None:
    """The known name most like ``value``, letter case and look-alikes apart; None where nothing is like it."""
    by_plain = {_plain(name): name for name in sorted(known, reverse=True)}
    found = get_close_matches(_plain(value), list(by_plain), n=1, cutoff=0.65)
    return by_plain[found[0]] if found else None


def did_you_mean(value: str, known: Iterable[str], otherwise: str) -> str:
    """A sentence on how to mend an unknown name: the nearest one, or ``otherwise`` (in lower case)."""
    found = nearest(value, known)
    return f"Did you mean '{found}'? If not: {otherwise}" if found else otherwise[0].upper() + otherwise[1:]
