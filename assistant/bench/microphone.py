"""Listens at a bench by microphone until its job is over.

One loop takes the sound block by block, and does in between what else is due: keys, timers, lost
devices. The voice plays in threads of its own meanwhile, and is never waited for.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, nullcontext
from dataclasses import dataclass, field

from assistant.audio.capture import BLOCK_S
from assistant.audio.endpoint import Phrase
from assistant.audio.levels import Levels
from assistant.audio.microphone import Block, Microphone
from assistant.audio.voice import Voice
from assistant.bench import keys
from assistant.bench.addressing import Addressing
from assistant.bench.calling import Called
from assistant.bench.echo import EchoGuard
from assistant.bench.hearer import Hearer
from assistant.bench.inputs import Inputs
from assistant.bench.protocols import Attended
from assistant.dialogue.intents import Intent
from assistant.errors import AssistantError
from assistant.recognition.two_pass import TwoPassRecogniser
from assistant.recognition.utterance import Utterance

_log = logging.getLogger(__name__)

_TICK_S = 1.0
"""How often timers are looked at."""
_BETWEEN_S = 0.4
"""A reply goes on although nothing is heard for this long: the pause between two sentences."""


@dataclass
class Live:
    """The devices of a bench that is talked to live."""

    microphone: Microphone
    voice: Voice
    headset: bool = False
    """Whether the microphone cannot hear the replies; they can then be talked over."""
    answers: keys.Answers = field(default_factory=keys.Answers)
    levels: Levels = field(default_factory=Levels)
    inputs: Inputs = field(default_factory=Inputs)
    """The instruments and scanners."""
    clock: Callable[[], float] = time.monotonic
    """The microphone's, in seconds."""


def listen(
    bench: Attended, ears: TwoPassRecogniser, live: Live, addressing: Addressing | None = None
) -> None:
    """Listen until the job is over. A device that is lost is told of, and the job goes on.

    `addressing` tells which phrases are for the bench; without it all are. Returns, or raises the
    AssistantError that ends the run, when the last reply has been heard.
    """
    addressing = addressing or Addressing()
    watch = addressing.way.by_key or live.answers.phrases or live.inputs.types
    with (
        _said_to_the_end(live.voice),
        closing(live.microphone),
        live.inputs.opened(),
        keys.presses() if watch else nullcontext(str) as pressed,
    ):
        listening = _Listening(bench, ears, live, addressing)
        while not bench.over:
            listening.look_after_devices()
            if sent := live.inputs.keys(pressed()):
                listening.press(sent)
            listening.attend()
            listening.tick()
            block = live.microphone.next()
            if block is not None:
                listening.take(block)


class _Listening:
    """What the loop knows from one block to the next."""

    def __init__(
        self, bench: Attended, ears: TwoPassRecogniser, live: Live, addressing: Addressing
    ) -> None:
        self._bench = bench
        self._live = live
        self._addressing = addressing
        self._hearer = Hearer(bench, ears, addressing, live.clock)
        self._guard = EchoGuard(live.voice, live.headset)
        self._phrases = self._hearer.phrases()
        self._ticked = live.clock()
        self._answer_at: float | None = None
        """When the answer began that is being said; None while none is."""
        self._hearer.prepare()
        _log.info("Listening. To hear what can be said, say: what words")

    def look_after_devices(self) -> None:
        """Say that a device was lost or came back, and show whether there is a microphone."""
        for news in (self._live.voice.tend(), self._live.microphone.tend()):
            if news is not None:
                self._bench.tell(news)
        self._bench.refresh(deaf=not self._live.microphone.connected)

    def press(self, sent: str) -> None:
        """Take what the keys sent: an answer, or that somebody wants to be listened to."""
        now = self._live.clock()
        phrase = self._live.answers.said(sent, now)
        if phrase is None:
            if self._addressing.way.by_key:
                self._live.voice.stop()
            self._addressing.key(True, now)
        elif phrase:
            self._live.voice.stop()
            self._bench.typed(phrase, by="key")

    def attend(self) -> None:
        """Take what instruments and scanners sent. It is answered as a phrase is."""
        if self._live.inputs.attend(self._bench):
            self._answer_at = self._live.clock()
            self._hearer.prepare()

    def tick(self) -> None:
        """Have the bench look at its timers, every so often."""
        if self._live.clock() >= self._ticked + _TICK_S:
            self._ticked = self._live.clock()
            self._bench.tick(self._phrases.in_speech)

    def take(self, block: Block) -> None:
        """Hear the next block, and act on the phrase that ends in it, if one does."""
        if self._answer_at is not None:
            if self._being_said(self._answer_at, block.at):
                self._hearer.answered(block.at)
            else:
                self._answer_at = None
        deaf = self._guard.deaf(block, BLOCK_S)
        if deaf or not block.follows:
            # A phrase with a hole in it, or with the assistant's own voice in it, is dropped.
            self._phrases = self._hearer.phrases()
        if deaf:
            return
        for phrase, heard in self._phrases.feed(block.data):
            self._live.voice.duck(False)
            self._heard(phrase, heard, block.at)
        self._live.voice.duck(self._phrases.in_speech)

    def _being_said(self, begun: float, now: float) -> bool:
        """Return whether the answer goes on."""
        return now < begun + _BETWEEN_S or self._live.voice.audible(now - _BETWEEN_S, now)

    def _heard(self, phrase: Phrase, heard: Utterance[Intent | Called], until: float) -> None:
        first_word_s = heard.times[0][1] if heard.times else 0.0
        if self._guard.own_words(heard.words, until - phrase.seconds + first_word_s):
            self._bench.not_taken(heard.text, "my own voice")
        elif self._hearer.take(phrase, heard):
            if heard.accepted:
                self._answer_at = self._live.clock()
            self._hearer.prepare()
            self._live.voice.prepare(self._bench.likely())
        if heard.words and (advice := self._live.levels.phrase(phrase.data)) is not None:
            self._bench.tell(advice)


@contextmanager
def _said_to_the_end(voice: Voice) -> Iterator[None]:
    try:
        yield
    except AssistantError:
        voice.wait()
        raise
    voice.wait()
