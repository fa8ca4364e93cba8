"""The board: the shop's jobs in a browser, to read.

It lists them with where each stands, searches them, and shows the record of each with its clips and
photos.
"""

from __future__ import annotations

import asyncio
import math
import re
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, TypeVar
from urllib.parse import urlencode

from cachetools import TLRUCache
from markupsafe import Markup
from starlette.applications import Starlette
from starlette.datastructures import QueryParams
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from assistant.dialogue import events
from assistant.dialogue.replaying import procedure_of
from assistant.errors import AssistantError
from assistant.journal.clock import local_now
from assistant.journal.records import Hit, JobSummary, Records
from assistant.report import page, record, wording
from assistant.web import guard, guide, pages, standing
from assistant.web.recurrence import RECENT, Recurrence
from assistant.web.standing import Standing

T = TypeVar("T")

PAGE = 25
"""Jobs on a page."""
_HITS = 5
_REMEMBERED = 5_000
"""How many jobs' standings are kept in memory, the latest used; each is a few hundred bytes."""
_LONGEST_SEARCH = 200
_MOST = 2**63 - 1


@dataclass(frozen=True)
class _View:
    """One of the lists of jobs."""

    heading: str
    nothing: str
    """What is shown if it is empty."""
    jobs: dict[str, Any]
    """Which jobs, as `Records.jobs` takes it."""
    waits: Callable[[Standing], Sequence[str]] | None = None
    """What its jobs wait for: those that wait for nothing any more are left out."""


_START = "Start one at the bench with: assistant run PROCEDURE"
_VIEWS = {
    "open": _View("Open jobs", f"No job is open. {_START}", {"closed": False}),
    "parts": _View(
        "Open jobs waiting for parts",
        "No open job waits for a part.",
        {"closed": False, "ordered": True},
        lambda standing: standing.parts,
    ),
    "customer": _View(
        "Open jobs waiting for the customer",
        "No open job waits for the customer to agree to extra work.",
        {"closed": False, "asked": True},
        lambda standing: standing.customer,
    ),
    "closed": _View("Closed jobs", "No job is closed yet.", {"closed": True}),
    "all": _View("All jobs", f"No jobs yet. {_START}", {}),
}
_NOT_FOUND = (
    "No job has all of these words. The beginning of a word is enough; numbers of steps and values "
    "are not searched."
)
_TYPE = "Type a word: a part, a condition, a title, a serial number, a reason or a note."
_WITH_STYLE = guard.POLICY.replace("style-src 'self'", "style-src 'self' 'unsafe-inline'")
"""For the record, which as a file has its style inside."""


@dataclass(frozen=True)
class _Line:
    """One job in a list."""

    job: JobSummary
    standing: Standing | None
    trouble: str = ""
    """Why its record cannot be read; empty if it can."""
    hits: tuple[Hit, ...] = ()
    afterwards: tuple[str, ...] = ()
    """What the parts desk entered after it was closed."""
    signed: tuple[str, ...] = ()
    """Who signed it off, and when."""


class _Jobs:
    """What the pages ask of the journal. Everything is called in one thread."""

    def __init__(self, records: Records) -> None:
        self.records = records
        # Nothing is ever changed, so a job with as many events as before stands where it stood,
        # but for a wait that is over by then.
        self._standings: TLRUCache[tuple[str, int], Standing] = TLRUCache(
            _REMEMBERED,
            ttu=lambda key, one, now: one.until.timestamp() if one.until else math.inf,
            timer=lambda: local_now().timestamp(),
        )

        self.recurrence = Recurrence(records)

    def listed(self, view: _View, before: int | None) -> list[_Line]:
        """Return a page of jobs of one view, and one more where there are more."""
        lines: list[_Line] = []
        while len(lines) <= PAGE:
            part = self.records.jobs(PAGE + 1, before=before, **view.jobs)
            found = [self._line(job) for job in part]
            # An order, or a question, may have been taken back.
            lines += [one for one in found if view.waits is None or _waits(one, view.waits)]
            if len(part) <= PAGE:
                break
            before = part[-1].job
        return lines[: PAGE + 1]

    def found(self, text: str, before: int | None) -> list[_Line]:
        """Return a page of jobs in which words are found, and one more where there are more."""
        jobs = self.records.jobs(PAGE + 1, text, before=before)
        return [self._line(job, self.records.search(text, _HITS, job=job.job)) for job in jobs]

    def _line(self, job: JobSummary, hits: tuple[Hit, ...] = ()) -> _Line:
        try:
            if not job.closed:
                return _Line(job, self._standing(job), hits=hits)
            added = self.records.additions(job.job)
            history = self.records.events(job.job) if added else ()
            entered = tuple(_entered(one, history) for one in added)
            signed = tuple(map(_signed, self.records.sign_offs(job.job)))
            return _Line(job, self._standing(job), hits=hits, afterwards=entered, signed=signed)
        except AssistantError as error:
            return _Line(job, None, str(error), hits)

    def _standing(self, job: JobSummary) -> Standing:
        key = (job.uid, job.events)
        known, now = self._standings.get(key), local_now()
        if known is None or (known.until is not None and known.until <= now):
            known = standing.of(self.records.events(job.job), job.job, now)
            self._standings[key] = known
        return known

    def record(self, job: int) -> str | None:
        """Return the page of a job's record; None where there is no such job."""
        if self.records.head(job) is None:
            return None
        history = self.records.events(job)
        built = record.kept(self.records, job, history, procedure_of(history, job))
        clips = {e.heard.clip for e in history if e.heard and e.heard.clip is not None}
        live = page.Live(
            _part("record_head.html.j2", job=job, version=self.version_of(job)),
            _part("bar.html.j2", view="", tally=self.records.tally(), query=""),
            {number: f"/clips/{number}.flac" for number in clips},
            {one.sha256: f"/jobs/{job}/photos/{one.sha256}.jpg" for one in built.photos},
        )
        return page.html(built, {}, live)

    def clip(self, number: int) -> bytes | None:
        """Return a clip as FLAC; None where there is none of that number."""
        try:
            return self.records.clip(number)
        except AssistantError:
            return None

    def photo(self, job: int, digest: str) -> bytes | None:
        """Return a job's photo as JPEG; None where there is none of that SHA-256."""
        return self.records.picture(job, digest)

    def version_of(self, job: int) -> str:
        """Return a text that changes whenever something is added to a job's record."""
        head = self.records.head(job)
        made = sum(len(each) for each in self.records.transcripts(job).values())
        return f"{head.place if head else 0}-{made}-{len(self.records.addition_texts(job))}"


def _entered(event: events.Base, history: Sequence[events.Base]) -> str:
    by = f", {event.by}" if event.by else ""
    return f"{wording.afterwards(event, history)} ({event.at:%Y-%m-%d %H:%M}{by})"


def _signed(event: events.SignedOff) -> str:
    return f"{wording.signed_off(event)} ({event.at:%Y-%m-%d %H:%M})"


def _waits(line: _Line, waits: Callable[[Standing], Sequence[str]]) -> bool:
    return line.standing is not None and bool(waits(line.standing))


def app(open_records: Callable[[], Records]) -> Starlette:
    """Return the application that serves the board.

    Raises AssistantError where the records cannot be opened.
    """
    # One thread for all: a connection to SQLite belongs to the thread that opened it.
    thread = ThreadPoolExecutor(1, "board")
    jobs = _Jobs(thread.submit(open_records).result())

    async def ask(question: Callable[..., T], *about: Any) -> T:
        return await asyncio.get_running_loop().run_in_executor(thread, question, *about)

    async def listed(request: Request) -> Response:
        name = request.query_params.get("view", "open")
        if name not in _VIEWS:
            raise HTTPException(404, "There is no such list. The lists are above.")
        view, before = _VIEWS[name], _number(request.query_params)
        lines, tally = await ask(lambda: (jobs.listed(view, before), jobs.records.tally()))
        values = _paged(lines, before, f"/?view={name}")
        values |= {"view": name, "heading": view.heading, "nothing": view.nothing, "query": ""}
        return _html("jobs.html.j2", tally=tally, **values)

    async def found(request: Request) -> Response:
        query = " ".join(request.query_params.get("q", "").split())[:_LONGEST_SEARCH]
        before = _number(request.query_params)
        words = any(character.isalnum() for character in query)
        lines, tally = await ask(
            lambda: (jobs.found(query, before) if words else [], jobs.records.tally())
        )
        values = _paged(lines, before, f"/search?{urlencode({'q': query})}")
        values |= {"view": "", "heading": f"Found: {query}" if words else "Search"}
        values |= {"nothing": _NOT_FOUND if words else _TYPE, "query": query}
        return _html("jobs.html.j2", tally=tally, **values)

    async def recurs(request: Request) -> Response:
        (rows, bad), tally = await ask(lambda: (jobs.recurrence.listed(), jobs.records.tally()))
        values: dict[str, Any] = {"rows": rows, "unreadable": bad, "recent": RECENT}
        return _html("recurring.html.j2", tally=tally, view="recurring", query="", **values)

    async def shown(request: Request) -> Response:
        text = await ask(jobs.record, _within(request))
        if text is None:
            raise HTTPException(404, "There is no such job.")
        headers = {"Content-Security-Policy": _WITH_STYLE}
        return Response(text, media_type="text/html", headers=headers)

    async def clip(request: Request) -> Response:
        flac = await ask(jobs.clip, _within(request))
        if flac is None:
            raise HTTPException(404, "There is no such clip.")
        return _sound(flac, request.headers.get("range"))

    async def photo(request: Request) -> Response:
        jpeg = await ask(jobs.photo, _within(request), request.path_params["digest"])
        if jpeg is None:
            raise HTTPException(404, "There is no such photo.")
        return Response(jpeg, media_type="image/jpeg")

    async def version(request: Request) -> Response:
        return PlainTextResponse((await ask(jobs.records.tally)).version)

    async def version_of(request: Request) -> Response:
        return PlainTextResponse(await ask(jobs.version_of, _within(request)))

    async def not_shown(request: Request, error: Exception) -> Response:
        status = error.status_code if isinstance(error, HTTPException) else 503
        text = error.detail if isinstance(error, HTTPException) else str(error)
        return _html("message.html.j2", status, text=text, view="", query="", tally=None)

    return Starlette(
        routes=[
            Route("/", listed),
            Route("/search", found),
            Route("/recurring", recurs),
            Route("/jobs/{number:int}", shown),
            Route("/clips/{number:int}.flac", clip),
            Route("/jobs/{number:int}/photos/{digest}.jpg", photo),
            Route("/version", version),
            Route("/jobs/{number:int}/version", version_of),
            *guide.ROUTES,
            pages.STATIC,
        ],
        exception_handlers={AssistantError: not_shown, HTTPException: not_shown},
    )


def _within(request: Request) -> int:
    number = int(request.path_params["number"])
    if number > _MOST:
        raise HTTPException(404, "There is no such job.")
    return number


def _number(query: QueryParams) -> int | None:
    """Return the job before which a page begins; None for the first page."""
    text = query.get("before")
    if text is None:
        return None
    if not (text.isascii() and text.isdecimal() and int(text) <= _MOST):
        raise HTTPException(400, "A page begins before a job's number, such as ?before=120.")
    return int(text)


def _paged(lines: Sequence[_Line], before: int | None, here: str) -> dict[str, Any]:
    more = lines[PAGE - 1].job.job if len(lines) > PAGE else None
    return {"lines": lines[:PAGE], "more_from": more, "first": before is None, "here": here}


def _html(name: str, status: int = 200, **values: Any) -> Response:
    text = pages.template(name).render(**values)
    return Response(text, status, media_type="text/html")


def _part(name: str, **values: Any) -> Markup:
    return Markup(pages.template(name).render(**values))


def _sound(flac: bytes, wanted: str | None) -> Response:
    """Return a clip, or the part of it that a player asks for; some play nothing else."""
    headers = {"Accept-Ranges": "bytes"}
    asked = re.fullmatch(r"bytes=(\d{1,18})-(\d{0,18})", wanted or "")
    if asked is None:
        return Response(flac, media_type="audio/flac", headers=headers)
    first = int(asked[1])
    last = min(int(asked[2] or len(flac)), len(flac) - 1)
    if first > last:
        return Response(status_code=416, headers={"Content-Range": f"bytes */{len(flac)}"})
    headers["Content-Range"] = f"bytes {first}-{last}/{len(flac)}"
    return Response(flac[first : last + 1], 206, media_type="audio/flac", headers=headers)
