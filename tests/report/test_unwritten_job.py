"""The record of a job that nobody has written up: page, log, board and seal."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.dialogue.replaying import procedure_of
from assistant.journal import verification
from assistant.procedure import kit_list, lexicon, unwritten
from assistant.report import log, overview, record
from assistant.report.model import Record
from assistant.web import standing
from tests.bench_helpers import Hands


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    kit = (kit_list.KitLine("K-1", "gasket", "gaskets", 1, "Gasket", 2),)
    _, text = unwritten.begin("Capstan drive", lexicon.read("gearbox"), kit)
    made = Hands(tmp_path / "journal.db", text)
    made.say("affirm", "removed six long bolts", "bag one", "removed gasket", "removed piece")
    made.say("a brass ring", "make that two", "removed end cover", "disregard")
    return made


def kept(hands: Hands) -> Record:
    journal, job = hands.bench.journal, hands.bench.job
    history = journal.events(job)
    return record.kept(journal, job, history, procedure_of(history, job))


def test_a_job_closed_in_pieces_is_not_complete(hands: Hands) -> None:
    hands.say("close job", "affirm")
    made = kept(hands)
    assert overview.verdict(made) == ("Not complete: closed with the machine in pieces.", False)
    left = next(one for one in made.summary.stands_out if one.kind == "left undone")
    assert "6 long bolts left over, off" in str(left)
    history = hands.bench.journal.events(hands.bench.job)
    assert not standing.of(history, hands.bench.job, hands.now).complete
    assert verification.job(hands.bench.journal, hands.bench.job).fault is None


def test_a_job_built_up_again_is_complete(hands: Hands) -> None:
    hands.say("set torque long bolts two five", "start build up", "next step", "next step")
    hands.say("tightened two five", "next step", "close job")
    made = kept(hands)
    assert overview.verdict(made) == ("Complete: every step that applies is done.", True)
    assert [(one.part, one.count, one.new) for one in made.fitted] == [
        ("piece one", 2, False),
        ("gasket", 1, True),
        ("long bolt", 6, False),
    ]
    assert [(bag.bag, bag.contents, bag.asked) for bag in made.bags] == [(1, "6 long bolts", None)]
    assert [(t.fastener, str(t.value)) for t in made.torques] == [("long bolt", "25")]


def test_the_log_tells_what_came_off_and_what_was_taken_back(hands: Hands) -> None:
    journal, job = hands.bench.journal, hands.bench.job
    history = journal.events(job)
    text = "\n".join(log.lines(history, procedure_of(history, job)))
    assert "6 long bolts off" in text and "Take off six long bolts." in text
    assert "1 end cover off" in text and "[withdrawn" in text
