"""What the verifier says: one breach of one rule."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Breach:
    """One rule broken at one place.

    ``rule`` is the number and name in the list of timing rules (``"2 setup"``) or a word
    for what is not a timing rule (``"complete"``, ``"cost"``). ``message`` says where, in shop words;
    ``expected`` and ``found`` are the two values.
    """

    rule: str
    message: str
    expected: str
    found: str

    def __str__(self) -> str:
        return f"rule {self.rule}: {self.message}: expected {self.expected}, found {self.found}"
