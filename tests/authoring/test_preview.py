"""A preview says what the bench says, in print and aloud; the picture shows what opens what."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from pathlib import Path
from unicodedata import normalize

import pypdf
import pytest

from assistant.audio import synthesis
from assistant.audio.manner import Manner
from assistant.authoring import preview
from assistant.cli.main import main
from assistant.errors import AssistantError
from assistant.procedure import reading
from assistant.procedure.model import Procedure
from assistant.report import flow, opening
from tests.bench_helpers import SMALL, Hands
from tests.report.whole_job import Page

TOLD = """\
procedure: told
title: Told
revision: A
equipment: {kind: test box}
hazards: [{signal: danger, say: It can start.}]
stages:
  - name: First
    steps:
      - {id: lock, say: Lock it., why: It can start by itself., gate: job}
      - id: look
        say: Look at it.
        hazards: [{signal: warning, say: It is sharp.}, {signal: notice, say: It scratches.}]
        detail: From both sides.
        question:
          name: seal
          say: Is the seal worn?
          answers:
            - {say: worn, then: Have it renewed.}
            - {say: sound, also: [good], go_to: label}
      - {id: worn, say: Write the wear down., when: {seal: worn}}
  - name: Second
    steps:
      - id: fit
        say: Fit it.
        before: [{step: lock}, {affirm: Is it clean?}, {affirm: Is it dry?}]
      - {id: label, say: Put the label on., lifts: [lock]}
"""


def told(text: str = TOLD) -> Procedure:
    return reading.parse(text, "told.yaml")


@pytest.mark.parametrize("answers", [{}, {"seal": "worn"}, {"seal": "sound"}])
def test_it_is_word_for_word_what_the_bench_says(tmp_path: Path, answers: dict[str, str]) -> None:
    found = preview.preview(told(), answers)
    hands = Hands(tmp_path / "journal.db", TOLD)
    first = True
    for step in found.steps:
        for turn in step.turns:
            said = " ".join(hands.notes.replies) if first else hands.say(turn.phrase)
            assert turn.text == said
            first = False
    assert [one.step.id for one in found.steps][-1] == "label"


def test_the_answers_choose_what_is_heard() -> None:
    by_the_first = preview.preview(told())
    assert [one.step.id for one in by_the_first.steps] == ["lock", "look", "worn", "fit", "label"]
    assert (by_the_first.answers, by_the_first.left_out) == ({"seal": "worn"}, ())
    other = preview.preview(told(), {"seal": "Good"})
    assert [one.step.id for one in other.steps] == ["lock", "look", "label"]
    assert (other.answers, other.left_out) == ({"seal": "sound"}, (3, 4))


@pytest.mark.parametrize(
    ("answers", "why"),
    [
        ({"seals": "worn"}, "asks no question seals. Did you mean seal"),
        ({"seal": "torn"}, "torn is no answer to seal. The answers are: worn, sound."),
    ],
)
def test_what_is_not_asked_is_refused(answers: dict[str, str], why: str) -> None:
    with pytest.raises(AssistantError, match=why):
        preview.preview(told(), answers)


def test_further_readings_are_heard_and_what_is_told_on_asking_takes_no_time() -> None:
    small = reading.parse(SMALL, "small.yaml")
    steps = {one.step.id: one for one in preview.preview(small).steps}
    assert "Next. Shaft." in [turn.text for turn in steps["measure"].turns]
    (lock, *_) = preview.preview(told()).steps
    assert [turn.phrase for turn in lock.turns if turn.on_asking] == ["why"]
    without = TOLD.replace("why: It can start by itself., ", "")
    (same, *_) = preview.preview(told(without)).steps
    assert same.seconds(Manner()) == lock.seconds(Manner())


@pytest.mark.parametrize("name", reading.samples())
def test_every_sample_is_heard_to_its_end(name: str) -> None:
    procedure = reading.read(reading.samples()[name])
    found = preview.preview(procedure)
    heard = [one.number for one in found.steps]
    assert sorted([*heard, *found.left_out]) == list(range(1, len(procedure.steps) + 1))
    assert all(one.turns[0].replies for one in found.steps)


def test_the_seconds_are_about_those_of_the_voice() -> None:
    engine = synthesis.start_engine()
    (first, *_, last) = preview.preview(reading.read(reading.find("pump-rebuild"))).steps
    for text in (turn.text for step in (first, last) for turn in step.turns):
        parts = synthesis.sentences(text)
        sound = [synthesis._trimmed(engine.sound(part, 150)) for part in parts]
        taken = sum(len(samples) / engine.rate + synthesis.SYNTHESIS.pause_s for samples in sound)
        assert Manner().seconds(text) == pytest.approx(taken, rel=0.15)
    slow, usual = Manner(rate=100).seconds("One two."), Manner(rate=150).seconds("One two.")
    assert slow == pytest.approx(1.5 * usual)
    assert Manner().seconds("") == 0


def test_the_sheet_has_the_same_words_on_paper_as_on_the_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, page, paper = (tmp_path / name for name in ("told.yaml", "told.html", "told.pdf"))
    path.write_text(TOLD.replace("Look at it.", "Look at <b>it</b> & see."), encoding="utf-8")
    assert main(["preview", str(path), "--html", str(page), "--pdf", str(paper)]) == 0
    assert capsys.readouterr().out.splitlines() == [str(page), str(paper)]
    shown = Page(page.read_text(encoding="utf-8"))
    assert not any(shown.all(tag) for tag in ("b", "script", "img", "link"))
    printed = " ".join(one.extract_text() for one in pypdf.PdfReader(paper).pages)
    printed = "".join(normalize("NFKC", printed).split()).replace("\u200b", "")
    for step in preview.preview(reading.read(path)).steps:
        for turn in step.turns:
            assert turn.text in " ".join(shown.text.split())
            assert "".join(turn.text.split()) in printed


def test_it_is_printed_as_the_bench_prints_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "told.yaml"
    path.write_text(TOLD, encoding="utf-8")
    assert main(["preview", str(path), "--answer", "seal=sound"]) == 0
    printed = capsys.readouterr().out
    assert "told, revision A, not approved" in printed
    assert (
        "Questions answered: seal: sound. Not heard with these answers: steps 3 and 4." in printed
    )
    assert "-- First, step 2, look: " in printed
    assert "?  assistant: Step two. Warning. It is sharp." in printed.replace("? a", "?  a")
    assert main(["preview", str(path), "--answer", "sound"]) == 2
    assert "as in shaft=keyed shaft" in capsys.readouterr().err
    assert main(["preview", str(path), "--html", str(tmp_path)]) == 2


def test_aloud_it_is_said_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[str] = []

    class Mouth:
        def cue(self, cue: object) -> None:
            pass

        def say(self, text: str) -> None:
            said.append(text)

    def opened(silent: bool) -> Mouth:
        assert not silent
        return Mouth()

    monkeypatch.setattr("assistant.audio.voice.open_voice", opened)
    path = tmp_path / "told.yaml"
    path.write_text(TOLD, encoding="utf-8")
    assert main(["preview", str(path), "--aloud"]) == 0
    found = preview.preview(told())
    assert said == [turn.text for step in found.steps for turn in step.turns]


# The picture


def test_what_opens_what_is_found() -> None:
    assert opening.gates(told()) == (opening.Gate(1, 5),)
    found = [(link.kind, link.number, link.to) for link in opening.links(told())]
    assert found == [("answer", 2, 3), ("after", 1, 4), ("answer", 2, 5)]
    procedure = reading.read(reading.find("cylinder-head"))
    kinds = {link.kind for link in opening.links(procedure)}
    assert {"after", "choice"} <= kinds
    assert opening.gates(procedure)[0] == opening.Gate(1, 22)


@pytest.mark.parametrize("text", [TOLD, SMALL, TOLD.replace("Fit it.", "'Fit <it>\u202e & more.'")])
def test_the_picture_is_sound_and_names_every_step(text: str) -> None:
    procedure = told(text)
    drawn = flow.drawing(procedure)
    root = ElementTree.fromstring(drawn.alone)
    lines = [one.text or "" for one in root.iter() if one.tag.endswith("text")]
    for number, step in enumerate(procedure.steps, 1):
        assert any(line.startswith(f"{number}  {step.say[:5]}") for line in lines)
    assert not any("\u202e" in line for line in lines)
    for link in opening.links(procedure):
        assert any(link.told in line for line in lines)
        assert link.told in drawn.told
    for box in root.iter("{http://www.w3.org/2000/svg}rect"):
        assert min(float(box.attrib["x"]), float(box.attrib["y"])) >= 0
        assert float(box.attrib["y"]) + float(box.attrib["height"]) <= drawn.height


def test_the_picture_is_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "flow.svg"
    assert main(["preview", "winch-gearbox", "--flow", str(out)]) == 0
    assert capsys.readouterr().out == f"{out}\n"
    ElementTree.parse(out)
