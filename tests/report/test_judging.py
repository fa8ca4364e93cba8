"""Severity and disposition of findings: the table, and what was done about the part."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from assistant import resources
from assistant.dialogue import events
from assistant.report.judging import judge
from assistant.report.model import Fitted
from tests.bench_helpers import Hands
from tests.report.test_record import _built
from tests.report.whole_job import PROCEDURE

AT = datetime(2031, 3, 4, tzinfo=UTC)


def _finding(condition: str) -> events.FindingRecorded:
    return events.FindingRecorded(at=AT, turn=1, part="circlip", condition=condition)


def _fitted(new: bool) -> Fitted:
    return Fitted(
        at=AT,
        step="fit",
        number=33,
        by=None,
        part="circlip",
        part_number=None,
        count=1,
        new=new,
        how=None,
        bag=None,
    )


def test_the_table_knows_every_usual_condition_of_the_grammar() -> None:
    text = (resources.folder("grammars") / "shared.gram").read_text(encoding="utf-8")
    rule = text.split("<usual_condition> =")[1].split(";")[0]
    conditions = [" ".join(one.split()) for one in rule.split("|")]
    assert len(conditions) > 20
    for condition in conditions:
        assert judge(_finding(condition), 0, []).severity != "not rated", condition


@pytest.mark.parametrize(
    ("condition", "severity", "disposition"),
    # Common practice, no source.
    [
        ("missing", "serious", "renew"),
        ("worn", "moderate", "refer"),
        ("dirty", "slight", "clean"),
        ("loose", "slight", "repair"),
        ("sound", "none", "leave"),
        ("blued", "not rated", "refer"),
    ],
)
def test_where_nothing_was_done_the_table_says(
    condition: str, severity: str, disposition: str
) -> None:
    of = judge(_finding(condition), 0, [])
    assert (of.severity, of.disposition) == (severity, disposition)


def test_what_is_ordered_is_renewed() -> None:
    of = judge(_finding("worn"), 3, [])
    assert (of.severity, of.disposition, of.because) == ("moderate", "renew", "3 asked for")


def test_a_part_of_which_a_new_one_was_fitted_is_renewed() -> None:
    of = judge(_finding("worn"), 0, [_fitted(new=False), _fitted(new=True)])
    assert (of.disposition, of.because) == ("renew", "a new one was fitted at step 33")
    assert judge(_finding("worn"), 0, [_fitted(new=False)]).disposition == "refer"


def test_what_is_sound_is_left_whatever_is_ordered() -> None:
    # One of two circlips is sound, the other was ordered.
    assert judge(_finding("sound"), 1, [_fitted(new=True)]).disposition == "leave"


def test_what_was_said_goes_before_all() -> None:
    said = _finding("cracked").model_copy(update={"disposition": "repair"})
    of = judge(said, 1, [_fitted(new=True)])
    assert (of.severity, of.disposition, of.because) == ("serious", "repair", "said at the bench")


def test_an_order_by_another_name_is_of_the_same_part_until_it_is_taken_back(
    tmp_path: Path,
) -> None:
    hands = Hands(tmp_path / "journal.db", PROCEDURE)
    hands.say("affirm", "circlip scored drum side", "order two circlips")
    (finding,) = _built(hands).findings
    assert (finding.judgement.disposition, finding.judgement.because) == ("renew", "2 asked for")
    hands.say("disregard")
    (finding,) = _built(hands).findings
    assert finding.judgement.disposition == "refer"
