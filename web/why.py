"""Why an order is ready when it is: the sentence, a strip to scale, what would gain nothing, and every minute."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import Response

from planner.answers.why import Unknown, Why, why, why_batch
from planner.chain import PartKind
from web.errors import NotHere
from web.pages import JSON, as_json
from web.site import Site
from web.templating import TEMPLATES

LETTER_PERCENT = 1.2  # a narrower segment has no room for its letter
LABELS = 12  # days with a date at the strip, at most about
WEEK_DAYS = 7


@dataclass(frozen=True)
class Look:
    """How a kind of part is shown: its letter and hatch tell it without colour."""

    letter: str
    look: str  # own, queue, date, away, still
    words: str


LOOKS = {
    PartKind.SETUP: Look("S", "own", "setting"), PartKind.RUN: Look("R", "own", "running"),
    PartKind.APPROVING: Look("F", "own", "first piece looked at"), PartKind.MOVE: Look("T", "own", "moved"),
    PartKind.MACHINE: Look("M", "queue", "machine"), PartKind.TURN: Look("M", "queue", "machine"),
    PartKind.KEPT: Look("Z", "queue", "machine, its place kept"),
    PartKind.PERSON: Look("P", "queue", "person"), PartKind.EQUIPMENT: Look("E", "queue", "equipment"),
    PartKind.APPROVER: Look("A", "queue", "approver"), PartKind.STRETCH: Look("L", "queue", "long enough stretch"),
    PartKind.OTHER: Look("?", "queue", "place in the list"),
    PartKind.RELEASE: Look("D", "date", "release (material date)"), PartKind.RECEIPT: Look("B", "date", "bought material"),
    PartKind.DECISION: Look("K", "date", "decision"), PartKind.HELD: Look("H", "date", "held back on purpose"),
    PartKind.VAN: Look("V", "date", "collection"), PartKind.OUTSIDE: Look("O", "away", "outside firm"),
    PartKind.WAIT: Look("W", "still", "set time (curing)"), PartKind.CLOSED: Look("c", "still", "closed"),
}  # fmt: skip
MEANING = {
    "own": "worked on", "queue": "waits for its turn", "date": "waits for a date", "away": "away", "still": "lies still",
}  # fmt: skip


@dataclass(frozen=True)
class Segment:
    """A piece of the strip, in percent of its width."""

    x: float
    width: float
    look: str
    letter: str  # empty where there is no room for it
    text: str


@dataclass(frozen=True)
class Mark:
    """A midnight at the strip; ``label`` empty: a line alone."""

    x: float
    label: str


@dataclass(frozen=True)
class WhyPage:
    """What the template shows beside the answer itself."""

    answer: Why
    segments: tuple[Segment, ...]
    legs: tuple[Segment, ...]
    marks: tuple[Mark, ...]
    legend: tuple[tuple[str, str, tuple[Look, ...]], ...]  # look, its meaning, kinds in it that occur
    longest_min: int  # of any line, whose bar fills its cell


def add_why(router: APIRouter, site: Site) -> None:
    """A page for each order and batch, and its JSON twin."""

    @router.get("/why/{name:path}", include_in_schema=False)
    def page(request: Request, name: str, batch: bool = False) -> Response:
        context = {"page": site, "why": why_page(site, _answer(site, name, batch)), "looks": LOOKS}
        return TEMPLATES.TemplateResponse(request, "why.html", context)

    @router.get("/api/why/{name:path}", response_model=Why, name="why")
    def twin(name: str, batch: bool = False) -> Response:
        """Why an order (with batch=true, a batch) is ready when it is: what each minute goes into."""
        return Response(as_json(_answer(site, name, batch)), media_type=JSON)


def _answer(site: Site, name: str, batch: bool) -> Why:
    try:
        return (why_batch if batch else why)(site.work, site.plan, name, site.rooms)
    except Unknown as unknown:
        raise NotHere(str(unknown)) from unknown


def why_page(site: Site, answer: Why) -> WhyPage:
    """The answer laid out along a strip."""
    lead = max(1, answer.lead_min)

    def at(minute: int) -> float:
        return round(100 * (minute - answer.origin_min) / lead, 3)

    def segment(start: int, end: int, look: str, letter: str, text: str) -> Segment:
        width = round(100 * (end - start) / lead, 3)
        return Segment(
            at(start), width, look, letter if width >= LETTER_PERCENT * max(1, len(letter) / 2) else "", text
        )

    segments = tuple(
        segment(
            b.start_min,
            b.end_min,
            LOOKS[b.kind].look,
            LOOKS[b.kind].letter,
            f"{site.clock.text(b.start_min)}: {b.text}",
        )
        for b in answer.bits
    )
    legs = tuple(
        segment(leg.start_min, leg.end_min, "leg", leg.batch, leg.description or leg.part) for leg in answer.legs
    )
    longest = max((line.minutes for leg in answer.legs for stage in leg.stages for line in stage.lines), default=1)
    return WhyPage(answer, segments, legs, _marks(site, answer, at), _legend(answer), longest)


def _marks(site: Site, answer: Why, at: Callable[[int], float]) -> tuple[Mark, ...]:
    """Each midnight, with dates on every day, or on Mondays where there are many."""
    days = [
        d for d in site.clock.days(answer.finish_min or 0) if answer.origin_min < d.start < (answer.finish_min or 0)
    ]
    step = 1 if len(days) <= LABELS else WEEK_DAYS
    shown = [d for d in days if step == 1 or d.label.startswith("Mon")]
    every = max(1, -(-len(shown) // LABELS))
    labelled = set(shown[::every])
    return tuple(Mark(at(d.start), d.label if d in labelled and at(d.start) < 95 else "") for d in days)


def _legend(answer: Why) -> tuple[tuple[str, str, tuple[Look, ...]], ...]:
    found = dict.fromkeys(LOOKS[b.kind] for b in sorted(answer.bits, key=lambda b: list(LOOKS).index(b.kind)))
    groups = ((look, words, tuple(k for k in found if k.look == look)) for look, words in MEANING.items())
    return tuple(group for group in groups if group[2])
