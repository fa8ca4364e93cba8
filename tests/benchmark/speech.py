"""The commands that are measured: each said by a voice at a step, with the intent expected."""

import json
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from assistant.audio import pcm
from assistant.dialogue.state import State
from tests.benchmark import noises, talk, voices
from tests.fixtures import AUDIO, commands, state_of, utterances

NOISES: dict[str, noises.Noise] = {**noises.SHOP, "babble": talk.babble}
"""Every noise by name."""

TUNED = tuple(dict.fromkeys(row["voice"] for row in utterances()))
"""The recorded voices of audio_fixtures: thresholds were set on them."""
HELD_OUT = tuple(voices.HELD_OUT)
"""Voices that nothing was set on."""


@dataclass(frozen=True, eq=False)
class Case:
    """One command in one voice, without noise."""

    text: str
    voice: str
    state: State
    intent: dict[str, Any]
    samples: pcm.Samples

    @property
    def speech_ends(self) -> int:
        """The last sample above 2 % of the peak: what comes after is room, not speech."""
        return last_speech(self.samples)

    def in_noise(self, noise: str | None, decibels: float | None) -> pcm.Pcm:
        """The same with a noise so far under it; the noise differs from phrase to phrase only."""
        if noise is None or decibels is None:
            return pcm.Pcm(self.samples)
        made = NOISES[noise](len(self.samples), random(noise, self.voice, self.text))
        return pcm.Pcm(noises.mix(self.samples, made, decibels))


def random(*names: str) -> np.random.Generator:
    """A generator that is the same for the same names in every run and on every machine."""
    return np.random.default_rng(zlib.crc32("|".join(names).encode()))


def last_speech(samples: pcm.Samples) -> int:
    loud = np.abs(samples.astype(np.int32))
    return int(np.flatnonzero(loud > 0.02 * loud.max())[-1])


def cases(names: Iterable[str], every: int = 1, first: int = 0) -> Iterator[Case]:
    """Every so manieth command of each voice; each voice begins with another one.

    `first` moves all of them on, so that conditions between them meet every command.
    """
    for number, name in enumerate(names):
        rows = commands() if name in voices.HELD_OUT else _recorded(name)
        for row in rows[(first + number) % every :: every]:
            samples = (
                voices.speak(row["text"], name)
                if name in voices.HELD_OUT
                else pcm.read(AUDIO / row["file"]).samples
            )
            state = state_of(row["step"], row["asked"])
            yield Case(row["text"], name, state, json.loads(row["intent"]), samples)


def _recorded(voice: str) -> list[dict[str, str]]:
    return [row for row in utterances() if row["voice"] == voice]
