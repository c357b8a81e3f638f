"""The chain in one sentence, for the telephone, and in short for the list of orders."""

from __future__ import annotations

from collections import Counter
from itertools import groupby

from planner.answers.why.causes import Gathered, cause_text, gathered
from planner.answers.why.facts import Facts
from planner.answers.wording import elapsed_text, late_text, short_moment_text
from planner.chain import WAITS, Chain, PartKind
from planner.counted import listed

MOST = 3  # causes named
LEAST_SHARE = 12  # one that takes less than this part of the lead time is left to the table
VERBS = {PartKind.OUTSIDE: "is", PartKind.HELD: "is held back", PartKind.DECISION: "is held"}


def sentence(facts: Facts, name: str, chain: Chain, due_min: int | None) -> str:
    """When it is ready, how late or early, and what took the most time."""
    late = None if due_min is None else chain.finish - due_min
    if not chain.parts:
        return f"{name} is ready now: nothing is left to be done for it" + (
            "." if not late or late < 0 else f", {late_text(late)}."
        )
    head = f"{name} is ready {short_moment_text(facts.work, chain.finish)}" + (
        "" if late is None else f", {late_text(late)}"
    )
    said = reason(facts, chain, due_min)
    said = f"it {said}" if said.startswith(tuple(f"{verb} " for verb in ("waits", "was", *VERBS.values()))) else said
    return f"{head}: {said}." if said else f"{head}: {_nothing_waits(facts, chain)}."


def reason(facts: Facts, chain: Chain, due_min: int | None) -> str:
    """The causes with the most minutes: 'its lid waits 2.1 days for L2 behind B7, then is 7.0 days at Blue Tank'.

    For what is late, whether there was time enough at all comes first. Empty where nothing is waited for.
    """
    late = due_min is not None and chain.finish > due_min
    if late and due_min is not None and due_min <= chain.origin:
        return "was due before the plan start"
    all_causes = gathered(facts, chain, late)
    waited = sum(g.minutes for g in all_causes if g.kind in WAITS)
    said = _said(facts, chain, _chosen(chain, all_causes))
    last = chain.parts[-1].operation if chain.parts else None
    if not late or due_min is None or last is None or chain.finish - waited <= due_min:
        return said  # without its waits, for material too, it would be in time
    alone = facts.alone_end(last)
    if alone <= due_min:
        return said
    short = (
        f"too little time: even with every machine and person free for it, it takes {elapsed_text(alone - chain.origin)}, "
        f"{elapsed_text(due_min - chain.origin)} to the due date"
    )
    # what is late by its waits for the most part says them too
    return (
        f"{short}; besides, {said if said.startswith('its ') else f'it {said}'}"
        if 2 * waited >= chain.finish - due_min
        else short
    )


def _chosen(chain: Chain, causes: list[Gathered]) -> list[Gathered]:
    """The few that took most, waits before time outside, in order of time."""
    told = [g for g in causes if g.kind in WAITS or g.kind is PartKind.OUTSIDE]
    large = [g for g in told if g.minutes * LEAST_SHARE >= chain.lead_min][:MOST]
    return sorted(large or told[:1], key=lambda g: g.parts[0].start)


def _said(facts: Facts, chain: Chain, chosen: list[Gathered]) -> str:
    """'waits A, then B, then is C at D; its lid waits E': whom it happens to is said where it changes."""
    said, last = "", None
    for (subject, verb), causes in groupby(
        chosen, key=lambda g: (_subject(facts, chain, g), VERBS.get(g.kind, "waits"))
    ):
        clause = f"{verb} {', then '.join(cause_text(facts, g) for g in causes)}"
        if last is None:
            said = f"{subject} {clause}".strip()
        elif subject == last:
            said += f", then {clause}"
        else:
            said += f"; {subject or 'it'} {clause}"
        last = subject
    return said


def _subject(facts: Facts, chain: Chain, cause: Gathered) -> str:
    """'its hopper lid' where most of it happens to a component; nothing for the batch itself."""
    minutes: Counter[int | None] = Counter()
    for part in cause.of_kind:
        minutes[None if part.operation is None else facts.work.operations[part.operation].batch] += part.minutes
    batch = max(minutes, key=lambda b: minutes[b])
    last = chain.parts[-1].operation
    if batch is None or last is None or batch == facts.work.operations[last].batch:
        return ""
    record = facts.work.batches[batch]
    return f"its {(record.description or record.part).split(',')[0]}"


def _nothing_waits(facts: Facts, chain: Chain) -> str:
    told = [cause_text(facts, g) for g in gathered(facts, chain, False)[:MOST]]
    return f"it waits for nothing ({listed(told)})"
