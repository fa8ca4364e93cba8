"""Plays recordings to a bench, as if they were spoken into its microphone."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from assistant.audio import pcm
from assistant.bench.addressing import Addressing
from assistant.bench.hearer import Hearer
from assistant.bench.protocols import Attended
from assistant.recognition.two_pass import TwoPassRecogniser

_BLOCK_BYTES = 960
"""30 ms of 16 kHz mono, as a microphone gives it."""
_PAUSE_S = 1.0
"""Silence after each recording: longer than the pause that ends a phrase."""


def play(
    bench: Attended,
    ears: TwoPassRecogniser,
    files: Sequence[Path],
    addressing: Addressing | None = None,
) -> None:
    """Play recordings one after another, until they end or the job does.

    `addressing` tells which phrases are for the bench; without it all are. Time is that of the
    sound: it stands still while an answer is given. Raises AssistantError for a file that cannot
    be read.
    """
    hearer = Hearer(bench, ears, addressing or Addressing())
    phrases = hearer.phrases()
    for file in files:
        if bench.over:
            return
        sound = pcm.read(file).tobytes() + bytes(int(_PAUSE_S * pcm.RATE) * 2)
        for start in range(0, len(sound), _BLOCK_BYTES):
            for phrase, heard in phrases.feed(sound[start : start + _BLOCK_BYTES]):
                hearer.take(phrase, heard)
        for phrase, heard in phrases.flush():
            hearer.take(phrase, heard)
