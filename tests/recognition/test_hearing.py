"""The project's own recordings through the real recognisers, in the grammar of each step."""

import json
import zlib

import numpy as np
import pytest

from assistant.audio import pcm
from assistant.audio.pcm import Pcm
from assistant.bench import ears as bench_ears
from assistant.dialogue import intents, live, stakes
from assistant.recognition.two_pass import TwoPassRecogniser
from assistant.recognition.utterance import Verdict
from tests.benchmark import noises
from tests.fixtures import AUDIO, meanings_at, state_of, utterances

# Only some of the recordings, because each takes half a second.
SOME = [pytest.param(2), pytest.param(1, marks=pytest.mark.slow)]


@pytest.fixture(scope="module")
def ears() -> TwoPassRecogniser:
    made = bench_ears.build("pocketsphinx", None, None, {})
    # pip installs all of them, so a missing one is a fault and not a reason to skip.
    assert made.second is not None and made.suppressor is not None and made.activity is not None
    return made


def heard(
    ears: TwoPassRecogniser, sound: Pcm, row: dict[str, str]
) -> tuple[intents.Intent | None, bool]:
    """Return what is accepted, and whether the assistant asks again instead."""
    state = state_of(row["step"], row["asked"])
    hearing = ears.hear(sound, live.grammar_for(state), meanings_at(state))
    return hearing.meaning if hearing.accepted else None, hearing.verdict is Verdict.DOUBTFUL


@pytest.mark.parametrize("one_in", SOME)
def test_without_noise_commands_are_understood_or_asked_for_and_never_wrong(
    ears: TwoPassRecogniser, one_in: int
) -> None:
    rows = utterances()[:: 4 * one_in]
    assert len(rows) >= 90 // one_in
    assert len({row["voice"] for row in rows}) >= 4
    right, wrong = 0, []
    for row in rows:
        taken, _ = heard(ears, pcm.read(AUDIO / row["file"]), row)
        if taken is not None and intents.as_dict(taken) == json.loads(row["intent"]):
            right += 1
        elif taken is not None:
            wrong.append((row["voice"], row["text"], taken))
    assert not wrong
    assert right / len(rows) >= 0.95


@pytest.mark.parametrize("one_in", SOME)
def test_in_shop_noise_nothing_wrong_is_recorded(ears: TwoPassRecogniser, one_in: int) -> None:
    rows = utterances()[1 :: 6 * one_in]
    kinds = list(noises.SHOP.values())
    right, wrong = 0, []
    for number, row in enumerate(rows):
        chance = np.random.default_rng(zlib.crc32(row["file"].encode()))
        speech = pcm.read(AUDIO / row["file"]).samples
        noise = kinds[number % len(kinds)](len(speech), chance)
        taken, _ = heard(ears, Pcm(noises.mix(speech, noise, 10.0)), row)
        if taken is not None and intents.as_dict(taken) == json.loads(row["intent"]):
            right += 1
        elif taken is not None and stakes.high(taken):
            wrong.append((row["voice"], row["text"], taken))
    assert not wrong
    # PocketSphinx alone gets about half of these right, and four in ten wrong.
    assert right / len(rows) >= 0.7


@pytest.mark.parametrize("name", [*noises.SHOP, "clatter", "coughs"])
def test_noise_alone_is_no_command(ears: TwoPassRecogniser, name: str) -> None:
    kind = {**noises.SHOP, "clatter": noises.clatter, "coughs": noises.coughs}[name]
    row = next(row for row in utterances() if not row["asked"])
    for seed in range(3):
        sound = kind(3 * pcm.RATE, np.random.default_rng(seed)) * 3000
        samples = np.clip(sound, -32000, 32000).astype(np.int16)
        assert heard(ears, Pcm(samples), row) == (None, False)


def test_other_talk_is_no_command(ears: TwoPassRecogniser) -> None:
    data = AUDIO.parent / "tests" / "audio" / "data"
    files = sorted(data.glob("prose-*.flac"))
    assert len(files) >= 4
    row = next(row for row in utterances() if not row["asked"])
    for file in files:
        # Cut as an endpointer might cut it.
        samples = pcm.read(file).samples
        for start in range(0, len(samples) - pcm.RATE, 2 * pcm.RATE):
            taken, _ = heard(ears, Pcm(samples[start : start + 2 * pcm.RATE]), row)
            assert taken is None, (file.name, start, taken)
