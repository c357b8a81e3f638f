"""Answers to an enquiry at the terminal: each as it is found, and in the end all together with what they rest on."""

from __future__ import annotations

from planner.answers.wording import elapsed_text, late_text
from planner.cli.output import say, show_table
from planner.cli.summary import show_lines
from planner.counted import counted
from planner.dates import Dates, Moved, Reply

ADVICE = "Likely and safe dates come from draws of what usually goes otherwise; people decide what is promised."
FEW, MANY = 6, 20


def tell_answer(way: str, what: Reply | str) -> None:
    """An answer while the others are still being looked for, on standard error."""
    if isinstance(what, str):
        say(f"{way}: {what} so far, still looking", stderr=True)
    elif what.safe:
        say(f"{way}: {what.ready}, likely {what.likely}, {what.sure_percent} % sure {what.safe}", stderr=True)
    else:
        say(f"{way}: {what.ready}; how sure is being worked out", stderr=True)


def show_dates(found: Dates) -> None:
    """A table of the answers, what is behind each, and what they rest on."""
    wanted = f", wanted {found.wanted}" if found.wanted else ""
    say(f"{found.pieces:,} of {found.part_number}{wanted}")
    show_table(
        "When",
        ("way", "pieces", "planned", "likely", "safe", "against wanted", "chance of wanted", "others"),
        [_line(r) for r in found.replies],
        "lr",
    )
    for note in found.notes:
        say(note)
    said: list[Reply] = []
    for reply in found.replies:
        same = next((r.way for r in said if _facts(r) == _facts(reply)), None)
        say(f"\n{reply.way}: {f'as {same}, step for step' if same else reply.ready}")
        if same is None:
            _show_reply(reply)
        said.append(reply)
    say("")
    show_lines("this rests on", list(found.assumptions), most=30)
    say(ADVICE)


def _show_reply(reply: Reply) -> None:
    """What decides it, where it runs, its kit, whom it hurts, and what it alone rests on."""
    if reply.why is not None:
        say(reply.why.sentence)
        show_lines("where the time goes", [cause.text for cause in reply.why.causes], most=FEW)
    runs = [
        f"{u.batch} {u.operation} {u.description}{f' on {u.on}' if u.on else ''}: {u.start} to {u.end}"
        for u in reply.used
    ]
    show_lines("where it runs", runs, most=FEW)
    show_lines("its kit, what it waits for first", [k.text for k in reply.kit], most=FEW)
    slips = [f"{m.order} ({m.customer}): {late_text(m.late_now_min)}, was {_before(m)}" for m in reply.slips]
    show_lines("orders that slip for it", slips, most=MANY)
    show_lines("this alone rests on", list(reply.assumptions), most=MANY)


def _facts(reply: Reply) -> tuple[object, ...]:
    return reply.pieces, reply.used, reply.kit, reply.moved, reply.assumptions


def _before(m: Moved) -> str:
    if m.late_before_min:
        return late_text(m.late_before_min)
    return f"in time ({elapsed_text(m.early_before_min)} early)" if m.early_before_min else "on the minute"


def _line(r: Reply) -> tuple[object, ...]:
    others = (
        counted(len(r.slips), "order") + " slip" + ("s" if len(r.slips) == 1 else "")
        if r.slips
        else "no promise broken"
    )
    if not r.moved:
        others = "nothing moves"
    return (
        r.way + (" (none is earlier)" if r.proved_earliest else ""), f"{r.pieces:,}", r.ready, r.likely, f"{r.safe} ({r.sure_percent} %)",
        "" if r.late_min is None else late_text(r.late_min),
        "" if r.chance_wanted is None else f"{100 * r.chance_wanted:.0f} %", others,
    )  # fmt: skip
