"""The display at the bench: one page to glance at, which follows the conversation live.

Two threads meet here. The bench's thread calls `heard`, `said`, `update` and the like, as it does
of any screen, and publishes what the page shows as one immutable `Moment`. The server's thread only
ever reads the latest moment and makes a snapshot of it for each browser. So the bench never waits
for a browser: one that is slow gets fewer moments, and without a browser no snapshot is made.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from itertools import takewhile

from sse_starlette import EventSourceResponse, ServerSentEvent
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from assistant.audio import cue as cues
from assistant.bench.presenter import Presenter
from assistant.bench.protocols import Situation
from assistant.dialogue import events
from assistant.dialogue.commands import RULEBOOK
from assistant.dialogue.turn import Reply, Tone
from assistant.web import pages, snapshot
from assistant.web.snapshot import Cue, Exchange, Moment

BEAT_S = 3.0
"""How often something is sent even if nothing changes, so that a browser can tell a quiet bench
from a lost connection; the page calls it lost after 8 s."""
_EXCHANGES = 3
"""How many of the last exchanges are shown."""
_CUES = {
    Tone.RECORDED: Cue.RECORDED,
    Tone.QUESTION: Cue.QUESTION,
    Tone.REFUSED: Cue.REFUSED,
    Tone.ALERT: Cue.ALERT,
}


class Display:
    """A screen of the bench that browsers can open.

    `clock` is the bench's, and may be called in any thread. `hint` says how to be heard, for
    whoever wonders why they are not.
    """

    def __init__(self, presenter: Presenter, clock: Callable[[], datetime], hint: str = "") -> None:
        self._presenter = presenter
        self._clock = clock
        self._hint = hint
        self._moment = Moment()
        """The latest; all that the two threads share, besides waking the server's."""
        self._situation = presenter.situation
        self._turn: tuple[int, int] | None = None
        """The job and its last turn that were shown."""
        self._changed = asyncio.Event()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._publish()
        presenter.screens.append(self)

    # Called in the bench's thread

    def heard(self, words: str) -> None:
        """Show what was understood."""
        self._publish(Exchange(heard=words))

    def not_taken(self, words: str, why: str) -> None:
        """Show what was heard and not acted on, or could not be recorded."""
        before = self._moment.exchanges[0] if self._moment.exchanges else Exchange()
        understood = not (before.reply or before.cues) and before.heard in (words, "…")
        if understood and self._situation.cannot_record is not None:
            self._publish(replace(before, cues=(Cue.NOT_RECORDED,)), instead=True)
        else:
            self._publish(Exchange(words or "…", cues=(Cue.NOT_TAKEN,), why=why))

    def said(self, replies: Sequence[Reply], cue: cues.Cue | None) -> None:
        """Show what the assistant says, and what kind of answer it is."""
        text = " ".join(reply.text for reply in replies)
        shown = tuple(dict.fromkeys(self._cues(replies, cue)))
        before = self._moment.exchanges[:1]
        if Cue.TIMER in shown or not before or before[0].reply:
            # Nobody asked: a timer is up, or the job was just opened.
            self._publish(Exchange(reply=text, cues=shown))
        else:
            shown = tuple(dict.fromkeys((*before[0].cues, *shown)))
            self._publish(replace(before[0], reply=text, cues=shown), instead=True)

    def update(self, situation: Situation) -> None:
        """Show where the job stands, and whether the assistant speaks and hears."""
        self._situation = situation
        self._publish()

    def stop(self) -> None:
        """Show that the program has ended, and nothing more; whoever reads is let go."""
        if self in self._presenter.screens:
            self._presenter.screens.remove(self)
        self._publish(last=True)

    def _cues(self, replies: Sequence[Reply], cue: cues.Cue | None) -> Iterator[Cue]:
        """Yield what came of the phrase: by the replies to it, and by what it left in the job."""
        if any(isinstance(event, RULEBOOK.read_back) for event in self._new_events()):
            yield Cue.RECORDED
        for reply in replies:
            if reply.tone in _CUES:
                shown = _CUES[reply.tone]
                rang = cue is cues.Cue.TIMER and shown is Cue.ALERT
                yield Cue.TIMER if rang else shown

    def _new_events(self) -> list[events.Event]:
        job, state = self._situation.job, self._situation.state
        if state is None:
            return []
        seen, self._turn = self._turn, (job, state.turn)
        # Of a job that is taken up, only the taking up is new.
        after = seen[1] if seen and seen[0] == job else state.turn - 1
        return list(takewhile(lambda event: event.turn > after, reversed(state.history)))

    def _publish(
        self, exchange: Exchange | None = None, *, instead: bool = False, last: bool = False
    ) -> None:
        """Make what is shown the latest moment, `instead` with the newest exchange replaced."""
        exchanges, now = self._moment.exchanges, self._situation
        if exchange is not None:
            exchanges = (exchange, *exchanges[1 if instead else 0 :])[:_EXCHANGES]
        self._moment = Moment(
            job=now.job,
            by=now.by,
            state=now.state,
            cannot_record=now.cannot_record,
            speaking=now.speaking,
            deaf=now.deaf,
            exchanges=exchanges,
            last=last,
        )
        if self._loop is not None:
            # The loop may have ended meanwhile.
            with suppress(RuntimeError):
                self._loop.call_soon_threadsafe(self._wake)

    # Called in the server's thread

    def _wake(self) -> None:
        changed, self._changed = self._changed, asyncio.Event()
        changed.set()

    async def messages(self) -> AsyncIterator[ServerSentEvent]:
        """Yield the version of the page, and a snapshot of the latest moment when it changes.

        Moments that pass while a snapshot is being sent are skipped.
        """
        self._loop = asyncio.get_running_loop()
        yield ServerSentEvent(pages.VERSION, event="version")
        shown: Moment | None = None
        while shown is None or not shown.last:
            changed, moment = self._changed, self._moment
            if moment is shown:
                await changed.wait()
                continue
            shown = moment
            taken = snapshot.take(moment, self._clock(), hint=self._hint)
            yield ServerSentEvent(json.dumps(taken), event="snapshot")

    def _beat(self) -> ServerSentEvent:
        return ServerSentEvent(str(snapshot.ms(self._clock())), event="beat")

    def app(self) -> Starlette:
        """Return the application that serves the page and its events."""
        page = pages.template("display.html.j2").render(version=pages.VERSION)

        async def show(request: Request) -> Response:
            return Response(page, media_type="text/html")

        async def follow(request: Request) -> Response:
            return EventSourceResponse(
                self.messages(), ping=BEAT_S, ping_message_factory=self._beat
            )

        return Starlette(routes=[Route("/", show), Route("/events", follow), pages.STATIC])
