import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.audio import pcm
from assistant.cli import hear
from assistant.errors import AssistantError

DATA = Path(__file__).parents[1] / "audio" / "data"
KEYS = ["file", "words", "accepted", "confidence", "audio_s", "took_s"]


def test_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = [DATA / "cards-003.flac", DATA / "prose-0880.flac"]
    status = hear.run(files, grammar=DATA / "cards.gram", recogniser="pocketsphinx", as_json=True)
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert status == 0 and [list(line) for line in lines] == [KEYS, KEYS]
    assert lines[0]["words"] == "seven of clubs" and lines[0]["accepted"] is True
    assert lines[1]["accepted"] is False and lines[1]["file"] == str(files[1])
    assert lines[0]["audio_s"] == pytest.approx(1.538, abs=0.001)


def test_other_recordings_of_the_same_phrase(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sound = pcm.read(DATA / "cards-003.flac").samples / 32768
    import soxr

    for rate in (8000, 44100):
        stereo = np.repeat(soxr.resample(sound, 16000, rate)[:, None], 2, axis=1)
        for subtype in ("PCM_U8", "PCM_24"):
            soundfile.write(tmp_path / f"{rate}-{subtype}.wav", stereo, rate, subtype=subtype)
    files = sorted(tmp_path.glob("*.wav"))
    hear.run(files, grammar=DATA / "cards.gram", recogniser="pocketsphinx", as_json=True)
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    wide = [line for line in lines if "44100" in line["file"]]
    assert len(lines) == 4
    assert all(line["words"] == "seven of clubs" and line["accepted"] for line in wide)


def test_bad_files_are_told_and_the_rest_heard(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "text.wav").write_text("not sound")
    (tmp_path / "empty.wav").touch()
    pcm.write_wav(pcm.read(DATA / "cards-005.flac"), tmp_path / "cut.wav")
    data = (tmp_path / "cut.wav").read_bytes()
    (tmp_path / "cut.wav").write_bytes(data[: len(data) // 2])
    files = [tmp_path / name for name in ("text.wav", "empty.wav", "none.wav", "cut.wav")]
    status = hear.run(
        [*files, DATA / "cards-004.flac"], grammar=DATA / "cards.gram", recogniser="pocketsphinx"
    )
    told = capsys.readouterr()
    assert status == 1
    assert "cards-004.flac: five five  [confidence " in told.out and len(told.out.splitlines()) == 2
    errors = told.err.splitlines()
    assert len(errors) == 4
    assert all(file.name in line for file, line in zip(files, errors, strict=True))
    assert hear.run(files[3:], grammar=DATA / "cards.gram", recogniser="pocketsphinx") == 0


def test_at_a_step_the_intent_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    files = [DATA / "rms-note.flac", DATA / "prose-0930.flac"]
    hear.run(files, procedure="pump-rebuild", recogniser="pocketsphinx", as_json=True)
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [list(line) for line in lines] == [[*KEYS, "intent"]] * 2
    assert lines[0]["intent"]["intent"] == "Note" and lines[1]["intent"] is None


def test_what_cannot_be_listened_for(tmp_path: Path) -> None:
    with pytest.raises(AssistantError, match="Say what to listen for"):
        hear.run([])
    with pytest.raises(AssistantError, match="cannot read this grammar"):
        hear.run([], grammar=tmp_path / "none.gram")
    with pytest.raises(AssistantError, match="no step 'none'"):
        hear.run([], procedure="pump-rebuild", step="none")
