"""What people write that is not wrong: it is taken as it is meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.authoring import checks
from assistant.procedure import reading
from assistant.procedure.problems import Severity
from tests.bench_helpers import SMALL


def test_a_grade_needs_no_quotes_and_a_revision_keeps_its_zero() -> None:
    text = SMALL.replace("thread: M6", "thread: M6, grade: 8.8").replace(
        "revision: A", "revision: 1.10"
    )
    procedure = reading.parse(text, "x")
    assert procedure.step("open").fasteners[0].grade == "8.8"
    assert procedure.revision == "1.10"
    assert reading.parse(text.replace("1.10", "1.1"), "x").revision == "1.1"


def test_capitals_are_taken_in_names_and_in_what_refers_to_them() -> None:
    text = SMALL.replace("name: end plate", "name: End Plate").replace("id: measure", "id: Measure")
    text = text.replace("signal: warning", "signal: Warning").replace("say: keyed", "say: Keyed")
    assert reading.parse(text, "x") == reading.parse(SMALL, "x")


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("comp-200", "comp two hundred"),
        ("COMP 200", "comp two hundred"),
        ("6203 bearing", "six two zero three bearing"),
        ("M8 bolt", "m eight bolt"),
        ("o-ring", "o-ring"),
        ("shim 05", "shim zero five"),
        ("pump 2", "pump two"),
    ],
)
def test_figures_in_a_name_are_taken_as_they_are_said(
    tmp_path: Path, written: str, said: str
) -> None:
    path = tmp_path / "x.yaml"
    path.write_text(
        SMALL.replace("{name: end plate}", f"{{name: end plate}}\n  - {{name: {written}}}")
    )
    loaded = reading.load(path)
    assert loaded.procedure.parts[-1].name == said
    # The step of the record and a job begun with the text have the same name.
    assert reading.parse(loaded.text, "job 1", stored=True).parts[-1].name == said
    told = [one.text for one in checks.check(str(path)).problems if one.severity is Severity.NOTE]
    assert (f"name: '{written}' is said “{said}”." in told) == (
        written != said and "o-" not in written
    )


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_other_encodings_with_their_mark_are_read(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "x.yaml"
    path.write_bytes(SMALL.replace("\n", "\r\n").encode(encoding))
    assert reading.load(path).procedure == reading.parse(SMALL, "x")


def test_a_comment_after_a_value_is_no_text_cut_short(tmp_path: Path) -> None:
    path = tmp_path / "x.yaml"
    path.write_text(
        SMALL.replace("say: Take out the key.", "say: Take out the key.  # or tap it out")
        .replace("bag: 1\n", "bag: 1  # from the rack\n", 1)
        .replace("title: Small box", 'title: "Small box #4"')
    )
    assert reading.load(path).warnings == ()
    assert reading.load(path).procedure.title == "Small box #4"


def test_a_torque_in_the_text_may_be_rounded_and_in_other_words(tmp_path: Path) -> None:
    path = tmp_path / "x.yaml"
    for said in (
        "tighten to fourteen newton metres",
        "tighten the long bolts to 14 Nm, the short ones to 10",
        "tighten all four bolts to 10.3 foot pounds",
        "tighten to ten newton metres, then turn it by 90 degrees",
        "tighten it with the wrench set to 9",
    ):
        path.write_text(SMALL.replace("say: Fit the end plate.", f"say: Fit the plate and {said}."))
        assert reading.load(path).warnings == (), said
    path.write_text(SMALL.replace("say: Fit the end plate.", "say: Tighten to 60 degrees more."))
    with pytest.raises(reading.ProcedureError, match="the text says 60 °"):
        reading.load(path)


def test_what_is_mended_for_reading_on_is_never_worked_from(tmp_path: Path) -> None:
    path = tmp_path / "x.yaml"
    path.write_text(SMALL.replace("say: Take off the end plate.", "say: Take off: the end plate."))
    with pytest.raises(reading.ProcedureError) as caught:
        reading.load(path)
    assert len(caught.value.problems) == 1
    assert reading.inspect(path).procedure is None
