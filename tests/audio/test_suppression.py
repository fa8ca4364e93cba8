"""The network that takes the noise out of a phrase, on recorded commands in made noise."""

import numpy as np
import pytest

from assistant.audio import pcm, suppression
from assistant.audio.pcm import Pcm
from tests.benchmark import noises
from tests.fixtures import AUDIO, utterances


@pytest.fixture(scope="module")
def suppressor() -> suppression.DeepFilter:
    return suppression.DeepFilter()


def in_noise(number: int) -> Pcm:
    speech = pcm.read(AUDIO / utterances()[number]["file"]).samples
    noise = noises.SHOP["water"](len(speech), np.random.default_rng(number))
    return Pcm(noises.mix(speech, noise, 10.0))


def power(samples: np.ndarray) -> float:
    return float(np.mean(samples.astype(np.float64) ** 2))


def test_the_noise_is_taken_out_and_the_length_kept(suppressor: suppression.DeepFilter) -> None:
    speech = pcm.read(AUDIO / utterances()[1]["file"]).samples
    noisy = in_noise(1)
    clean = suppressor.clean(noisy).samples
    assert len(clean) == len(noisy.samples)
    assert power(clean - speech.astype(float)) < 0.5 * power(noisy.samples - speech.astype(float))


@pytest.mark.parametrize("length", [0, 1, 100])
def test_any_length_is_taken(suppressor: suppression.DeepFilter, length: int) -> None:
    assert len(suppressor.clean(Pcm(np.full(length, 300, np.int16))).samples) == length


@pytest.mark.parametrize("number", [1, 13, 25, 61])
def test_a_phrase_is_cleaned_alike_whatever_came_before_it(
    suppressor: suppression.DeepFilter, number: int
) -> None:
    after = []
    for before in (37, 109):
        suppressor.clean(in_noise(before))
        after.append(suppressor.clean(in_noise(number)).samples.astype(np.float64))
    # With a run-up of 0.2 s of silence they differed by as much as the phrase itself.
    assert power(after[0] - after[1]) < 0.1 * power(after[0])
