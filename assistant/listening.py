"""Feeds a bench with what a recogniser hears: from recordings, or from the microphone."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from assistant.audio import pcm, recogniser
from assistant.audio.endpoint import PAUSE_S, Endpointer, Phrase
from assistant.audio.recogniser import Hearing, Recogniser
from assistant.bench import Bench
from assistant.language import live, respelling
from assistant.session import events as ev

_BLOCK_BYTES = 960
"""30 ms of 16 kHz mono, as a microphone gives it."""

_PAUSE_S = 1.0
_FREE_SPEECH_S = 0.6
"""Speech after the word "note" that is longer than this is the note itself."""


def ears(kind: str, model: Path | None, respell: Path | None, own: Mapping[str, str]) -> Recogniser:
    """Return a recogniser with the shipped respellings, the procedure's own and the user's."""
    respellings = respelling.standing().with_extra(own)
    if respell is not None:
        respellings = respelling.read(respell, respellings)
    return recogniser.choose(kind, model, respellings, warn=_warn)


def _warn(text: str) -> None:
    print(text, file=sys.stderr)


def attend(listener: Recogniser, recordings: Sequence[Path] | None) -> Callable[[Bench], None]:
    """Return what feeds a bench: the recordings one after another, or else the microphone."""
    if recordings is not None:
        return lambda bench: from_recordings(bench, listener, recordings)
    from assistant.audio import microphone

    # A job is not begun for want of a microphone to be noticed.
    with microphone.blocks():
        pass
    return lambda bench: from_microphone(bench, listener)


def from_recordings(bench: Bench, listener: Recogniser, files: Sequence[Path]) -> None:
    """Play recordings to the bench as if into a microphone, each with a pause after it."""
    for file in files:
        if bench.over:
            return
        sound = pcm.read(file).tobytes() + bytes(int(_PAUSE_S * pcm.RATE) * 2)
        endpointer = Endpointer()
        for start in range(0, len(sound), _BLOCK_BYTES):
            for phrase in endpointer.feed(sound[start : start + _BLOCK_BYTES]):
                hear_phrase(bench, listener, phrase)
        for phrase in endpointer.flush():
            hear_phrase(bench, listener, phrase)


def from_microphone(bench: Bench, listener: Recogniser) -> None:
    """Listen until the job is closed. Deaf while it speaks, so that it does not answer itself."""
    from assistant.audio import microphone

    endpointer = Endpointer()
    a_second = round(1 / microphone.BLOCK_S)
    with microphone.blocks() as blocks:
        listener.listen_for(live.grammar_for(bench.state))
        _warn("Listening. Say: what can i say")
        for number, block in enumerate(blocks):
            begun = time.monotonic()
            spoke = number % a_second == 0 and bench.tick()
            for phrase in endpointer.feed(block):
                hear_phrase(bench, listener, phrase)
                spoke = True
            if bench.over:
                return
            if spoke:
                # What came in meanwhile is the assistant's own voice.
                for _ in range(round((time.monotonic() - begun) / microphone.BLOCK_S)):
                    next(blocks)
                endpointer = Endpointer()


def hear_phrase(bench: Bench, listener: Recogniser, phrase: Phrase) -> Hearing:
    """Recognise one phrase in the grammar that is live, and let the bench take it."""
    listener.listen_for(live.grammar_for(bench.state))
    listener.feed(phrase.data)
    hearing = listener.finish()
    heard = ev.Heard(
        words=" ".join(hearing.words),
        confidence=hearing.confidence,
        recogniser=hearing.recogniser,
    )
    bench.spoken(
        heard,
        hearing.accepted,
        lambda: pcm.write_flac(phrase.data),
        free_speech=_goes_on(hearing),
    )
    return hearing


def _goes_on(hearing: Hearing) -> bool:
    """Say whether there is speech after the last word that was recognised: a note's own words."""
    if not hearing.times:
        return False
    # The endpointer leaves its pause at the end of a phrase.
    speech_ends = hearing.audio_s - PAUSE_S
    return speech_ends - hearing.times[-1][2] > _FREE_SPEECH_S
