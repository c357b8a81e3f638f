"""What if: a form for changes, a run that plans them, and the questions kept by name beside the shop's tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field, TypeAdapter
from starlette.responses import Response

from planner.alter import KINDS, Alteration, AlterFaults, altered, replan
from planner.alter.base import known
from planner.alter.fields import said_of
from planner.alter.named import can_keep, changes_of, forget_named, read_named, row_of, save_named
from planner.alter.replan import SECONDS
from planner.answers.rows import as_row
from planner.main_job import Job, PlanRefused
from web.asking import Started, job_of, place_of, told
from web.running import Report
from web.site import Site
from web.templating import TEMPLATES
from web.whatif_chart import Compared, compared

MOST = 40  # changes in one question
Texts = dict[str, str]  # a change as its kind and the text of each field


class Question(BaseModel):
    """Changes, in the order in which they are made, and how long to search."""

    changes: list[Texts] = Field(max_length=MOST)
    seconds: float = Field(SECONDS, ge=0.5, le=300)


class Named(BaseModel):
    """Changes to be kept under a name."""

    name: str = Field(min_length=1, max_length=100)
    changes: list[Texts] = Field(max_length=MOST)


class Forgotten(BaseModel):
    name: str = Field(max_length=100)


@dataclass(frozen=True)
class FieldView:
    """A field of a form. ``names``: what it may name; empty where it is no name."""

    name: str
    label: str
    word: str
    type: str
    meaning: str
    needed: bool
    names: tuple[str, ...]


@dataclass(frozen=True)
class KindView:
    kind: str
    title: str
    fields: tuple[FieldView, ...]


@dataclass(frozen=True)
class ChangeView:
    """A change that fits: what it says, and as it is sent back."""

    texts: Texts
    text: str
    said: str
    caution: str


def add_whatif(router: APIRouter, site: Site) -> None:
    """The page, and what it sends."""

    @router.get("/whatif", include_in_schema=False)
    def page(request: Request) -> Response:
        context = {
            "page": site,
            "can_ask": site.shop is not None,
            "can_keep": site.folder is not None and can_keep(site.folder),
            "seconds": SECONDS,
        }
        return TEMPLATES.TemplateResponse(request, "whatif.html", context)

    @router.get("/api/whatif/kinds", name="kinds of change")
    def kinds() -> list[KindView]:
        """Every kind of change with its fields and the names that they may have."""
        return [_kind_view(site, kind) for kind in KINDS.values()]

    @router.post("/api/whatif/changes", name="check changes")
    def check(question: Question) -> list[ChangeView]:
        """What some changes say, if they fit the shop together."""
        _, changes = _asked(site, question.changes)
        return [_view(change) for change in changes]

    @router.post("/api/whatif", name="ask what if")
    def ask(question: Question) -> Started:
        """Start planning a changed copy; the run's last part has the comparison and both plans' chart."""
        job, changes = _asked(site, question.changes)

        def work(report: Report) -> None:
            found = replan(
                job, changes, seconds=question.seconds, stop=report.stopped,
                progress=report.tell,
            )  # fmt: skip
            before, after = (Site(j.work, j.plan, j.shop) for j in (found.before, found.after))
            picture = TypeAdapter(Compared).dump_python(compared(before, after), mode="json")
            report.part({"answer": as_row(found.answer), "chart": picture})

        return Started(run=site.runs.start("A question about what if", work, (AlterFaults, PlanRefused)))

    _add_named(router, site)


def _add_named(router: APIRouter, site: Site) -> None:
    @router.get("/api/whatif/named", name="kept questions")
    def kept() -> dict[str, list[ChangeView]]:
        """The changes kept with the shop, by name."""
        folder = site.folder
        return _named(told(lambda: read_named(folder))) if folder is not None and can_keep(folder) else {}

    @router.post("/api/whatif/named", name="keep a question")
    def keep(question: Named) -> dict[str, list[ChangeView]]:
        """Keep changes under a name, beside the shop's tables, which stay as they are."""
        folder = place_of(site)
        _, changes = _asked(site, question.changes)
        told(lambda: save_named(folder, question.name, changes))
        return kept()

    @router.post("/api/whatif/named/forget", name="remove a kept question")
    def forget(question: Forgotten) -> dict[str, list[ChangeView]]:
        """Remove what is kept under a name."""
        folder = place_of(site)
        told(lambda: forget_named(folder, question.name))
        return kept()


def _asked(site: Site, rows: Sequence[Texts]) -> tuple[Job, list[Alteration]]:
    """The shop with its plan, and changes that fit it; a plain answer where some do not."""
    changes = told(lambda: changes_of(rows))
    job = job_of(site)
    told(lambda: altered(job.shop, changes, job.accepted, job.work.proposals))
    return job, changes


def _named(found: Mapping[str, Sequence[Alteration]]) -> dict[str, list[ChangeView]]:
    return {name: [_view(change) for change in changes] for name, changes in found.items()}


def _view(change: Alteration) -> ChangeView:
    return ChangeView(row_of(change), change.text, change.phrase, change.caution)


def _kind_view(site: Site, kind: type[Alteration]) -> KindView:
    fields = tuple(
        FieldView(f.name, f.label, f.word, f.type, f.meaning, f.needed, _names(site, f.name, f.of))
        for f in said_of(kind)
    )
    return KindView(kind.kind, kind.title, fields)


def _names(site: Site, field: str, of: tuple[str, ...]) -> tuple[str, ...]:
    """What a field may name. Batches are in no table: those of the plan that are not released."""
    if field == "batches":
        return tuple(sorted(batch.name for batch in site.work.batches if not batch.is_open))
    return tuple(known(site.shop, of)) if of and site.shop is not None else ()
