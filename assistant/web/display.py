"""The display at the bench: one page to glance at, that follows the session live.

`Display` is a screen of the bench: what it is told it keeps as a `Moment`, which is all that the
bench ever does for it. The server's own thread makes a snapshot of the latest moment for whoever
reads: a browser that is slow gets fewer of them, and without a browser none is made.
"""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import AsyncIterator, Iterator
from contextlib import suppress
from dataclasses import replace
from itertools import takewhile

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse
from starlette.routing import Route

from assistant.audio import cue as cues
from assistant.bench.job import Attended, Bench, Screen
from assistant.dialogue import events
from assistant.dialogue.commands import RULEBOOK
from assistant.dialogue.state import State
from assistant.dialogue.turn import Tone
from assistant.web import pages, snapshot
from assistant.web.snapshot import Cue, Exchange, Moment

BEAT_S = 3.0
"""So often something is sent, so that a browser can tell silence from a lost connection."""
_LOOK_S = 0.2
"""So often it is looked whether it speaks and can hear: neither is asked to tell."""
_EXCHANGES = 3
_CUES = {
    Tone.RECORDED: Cue.RECORDED,
    Tone.QUESTION: Cue.QUESTION,
    Tone.REFUSED: Cue.REFUSED,
    Tone.ALERT: Cue.ALERT,
}


class Display:
    """Shows a bench in a browser, beside the screen that it has.

    `hint` says how to be heard, for whoever wonders why they are not.
    """

    def __init__(self, bench: Bench, hint: str = "") -> None:
        self._attended: Attended = bench
        self._hint = hint
        bench.screen = _Screens(bench.screen, self)
        self._moment = Moment()
        self._tone: cues.Cue | None = None
        """Of the answer that follows."""
        self._turn: tuple[int, int] | None = None
        """The job and its last turn that were shown."""
        self._changed = asyncio.Event()
        self._loop: asyncio.AbstractEventLoop | None = None

    def follow(self, attended: Attended) -> None:
        """Show the bench that is being worked at in there: from job to job, where it is a shift."""
        self._attended = attended

    @property
    def _bench(self) -> Bench:
        return self._attended.at_bench

    # What the bench tells it, in the bench's thread

    def heard(self, words: str) -> None:
        """Show what was understood."""
        self._show(Exchange(heard=words))

    def not_taken(self, words: str, why: str) -> None:
        """Show what was heard and not taken, or could not be recorded."""
        before = self._moment.exchanges[0] if self._moment.exchanges else Exchange()
        understood = not (before.reply or before.cues) and before.heard in (words, "…")
        if understood and self._bench.cannot_record is not None:
            self._show(replace(before, cues=(Cue.NOT_RECORDED,)), instead=True)
        else:
            self._show(Exchange(words or "…", cues=(Cue.NOT_TAKEN,), why=why))

    def cue(self, cue: cues.Cue) -> None:
        """Keep what kind of answer follows, as the tone tells it."""
        self._tone = cue

    def said(self, text: str) -> None:
        """Show what the assistant says, and what kind of answer it is."""
        shown = tuple(dict.fromkeys(self._cues()))
        self._tone = None
        before = self._moment.exchanges[:1]
        if Cue.TIMER in shown or not before or before[0].reply:
            # Nobody asked: a timer is up, or the job was just opened.
            self._show(Exchange(reply=text, cues=shown))
        else:
            shown = tuple(dict.fromkeys((*before[0].cues, *shown)))
            self._show(replace(before[0], reply=text, cues=shown), instead=True)

    def stop(self) -> None:
        """Show that the program has ended."""
        self._show(last=True)

    def _cues(self) -> Iterator[Cue]:
        """Yield what came of the phrase: as it was said, and as the new events of the job show."""
        new = self._new_events()
        if any(isinstance(event, RULEBOOK.read_back) for event in new):
            yield Cue.RECORDED
        rang = self._tone is cues.Cue.TIMER
        for reply in self._bench.replies:
            if reply.tone in _CUES:
                cue = _CUES[reply.tone]
                yield Cue.TIMER if rang and cue is Cue.ALERT else cue

    def _new_events(self) -> list[events.Event]:
        state = self._state()
        if state is None:
            return []
        seen, self._turn = self._turn, (self._bench.job, state.turn)
        # Of a job that is taken up, only the taking up is new.
        after = seen[1] if seen and seen[0] == self._bench.job else state.turn - 1
        return list(takewhile(lambda event: event.turn > after, reversed(state.history)))

    def _state(self) -> State | None:
        # It has none before the job is opened.
        return getattr(self._bench, "state", None)

    def _show(
        self, exchange: Exchange | None = None, *, instead: bool = False, last: bool = False
    ) -> None:
        exchanges = self._moment.exchanges
        if exchange is not None:
            exchanges = (exchange, *exchanges[1 if instead else 0 :])[:_EXCHANGES]
        self._moment = Moment(
            self._bench.job,
            self._bench.by,
            self._state(),
            self._bench.cannot_record,
            exchanges,
            last,
        )
        if self._loop is not None:
            # The loop may have ended between the two.
            with suppress(RuntimeError):
                self._loop.call_soon_threadsafe(self._wake)

    # What browsers are told, in the server's thread

    def _wake(self) -> None:
        changed, self._changed = self._changed, asyncio.Event()
        changed.set()

    async def messages(self) -> AsyncIterator[str]:
        """Yield the latest moment as a server-sent event, again whenever it has changed."""
        self._loop = asyncio.get_running_loop()
        shown: Moment | None = None
        was = False, False
        sent = 0.0
        yield f"event: version\ndata: {pages.VERSION}\n\n"
        while True:
            changed = self._changed
            moment, speaking, deaf = self._moment, self._speaks(), self._bench.deaf
            now, passed = self._bench.clock(), self._loop.time()
            if moment is not shown or (speaking, deaf) != was:
                shown, was, sent = moment, (speaking, deaf), passed
                made = snapshot.take(moment, now, speaking=speaking, deaf=deaf, hint=self._hint)
                taken = json.dumps(made)
                yield f"event: snapshot\ndata: {taken}\n\n"
            elif passed - sent >= BEAT_S:
                sent = passed
                yield f"event: beat\ndata: {snapshot.ms(now)}\n\n"
            if moment.last:
                return
            with suppress(TimeoutError):
                await asyncio.wait_for(changed.wait(), _LOOK_S)

    def _speaks(self) -> bool:
        now = time.monotonic()
        return self._bench.speaker.audible(now, now)

    def app(self) -> Starlette:
        """Return the application that serves the page and its events."""
        page = pages.template("display.html.j2").render(version=pages.VERSION)

        async def show(request: Request) -> Response:
            return Response(page, media_type="text/html")

        async def events(request: Request) -> Response:
            # The header keeps a proxy in front from holding back what comes.
            return StreamingResponse(
                self.messages(),
                media_type="text/event-stream",
                headers={"X-Accel-Buffering": "no"},
            )

        return Starlette(routes=[Route("/", show), Route("/events", events), pages.STATIC])


class _Screens:
    """Several screens that show the same."""

    def __init__(self, *screens: Screen) -> None:
        self._screens = screens

    def heard(self, words: str) -> None:
        """Show what was understood."""
        for screen in self._screens:
            screen.heard(words)

    def not_taken(self, words: str, why: str) -> None:
        """Show what was heard and not taken."""
        for screen in self._screens:
            screen.not_taken(words, why)

    def cue(self, cue: cues.Cue) -> None:
        """Show what kind of answer follows, as the tone tells it."""
        for screen in self._screens:
            screen.cue(cue)

    def said(self, text: str) -> None:
        """Show what the assistant says."""
        for screen in self._screens:
            screen.said(text)
