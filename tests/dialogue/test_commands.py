"""The declarations of the commands: complete, and agreeing with the grammar, the events and the
recordings.
"""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import get_args

import pytest

from assistant.dialogue import events, intents, live, understanding, wording
from assistant.dialogue import state as job_state
from assistant.dialogue.command import EVERYDAY, WAITING, Command, Rulebook
from assistant.dialogue.commands import COMMANDS, RULEBOOK
from assistant.dialogue.decide import TABLE, decide
from assistant.dialogue.state import Mode
from assistant.procedure import reading
from tests.bench_helpers import SMALL, Hands
from tests.fixtures import AUDIO

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
UNSAID = {
    intents.Tick,
    intents.PictureReady,
    intents.PictureFailed,
    intents.Sent,
    intents.ScannedTag,
    intents.ScannedNumber,
}
PROCEDURE = reading.parse(SMALL, "small.yaml")


def test_every_intent_is_declared_once() -> None:
    assert {command.intent for command in COMMANDS} == set(intents.ALL) - _of_the_lobby()
    assert len(RULEBOOK.by_intent) == len(COMMANDS)


def _of_the_lobby() -> set[type[intents.Intent]]:
    return {kind for kind in intents.ALL if kind.__module__.endswith("lobby")}


def test_what_is_declared_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="declared twice"):
        _ = Rulebook((COMMANDS[0], COMMANDS[0])).by_intent
    with pytest.raises(ValueError, match="declared twice"):
        _ = Rulebook((COMMANDS[0], COMMANDS[0])).by_rule


@pytest.mark.parametrize("command", COMMANDS, ids=lambda c: c.intent.__name__)
def test_a_declaration_is_complete(command: Command) -> None:
    if command.intent in UNSAID:
        assert not command.phrases and not command.help
        return
    assert command.phrases
    assert command.help, "help and the card of commands need an example"
    assert command.heard_in
    # A mode with a handler of its own must be able to hear it, and what is heard needs an answer.
    assert set(command.modes) - {Mode.CLOSED} <= set(command.heard_in)
    if any(field for field in command.intent.__dataclass_fields__):
        assert command.means is not None
    if command.low_stakes:
        assert not command.records, "what is recorded is not cheap to get wrong"
    if command.corrects_by_number:
        assert command.corrects is not None
    if command.corrects is not None:
        assert command.corrects in command.records


def test_every_event_is_recorded_by_a_command_by_opening_a_job_or_at_the_desk() -> None:
    declared = {kind for c in COMMANDS for kind in (*c.records, *c.progress, *c.other)} | {
        events.JobOpened,
        events.JobTakenUp,
        events.CustomerAnswered,
        events.RevisionOffered,
    }
    every = set(get_args(get_args(events.Event)[0]))
    assert declared == every


def test_an_event_is_not_both_read_back_and_a_question() -> None:
    kept = {kind for c in COMMANDS for kind in (*c.records, *c.progress)}
    stays = {kind for c in COMMANDS for kind in c.other}
    assert not kept & stays


def test_each_mode_has_an_answer_to_each_intent() -> None:
    assert set(TABLE) == set(Mode)
    for mode, handlers in TABLE.items():
        assert set(handlers) == {command.intent for command in COMMANDS}, mode


@pytest.mark.parametrize("mode", [m for m in Mode if m not in EVERYDAY])
def test_a_mode_of_few_words_hears_its_own_answers_and_no_more(mode: Mode) -> None:
    grammar = live.few_words(mode)
    rules = dict(RULEBOOK.grammar_rules(mode))
    assert rules.keys() - {"command"} == {
        c.rule_name for c in COMMANDS if c.phrases and mode in c.heard_in
    }
    assert grammar.network().arcs


@pytest.mark.parametrize("mode", [Mode.WORKING, *WAITING])
def test_every_mode_tells_what_can_be_said(mode: Mode) -> None:
    told = wording.help.what_can_be_said(mode, RULEBOOK.examples(mode))
    assert len(told.split()) >= 3
    assert not any(sign.isdigit() for sign in told)


def test_where_an_answer_is_waited_for_only_the_answers_are_told() -> None:
    told = wording.help.what_can_be_said(Mode.CLOSING, RULEBOOK.examples(Mode.CLOSING))
    assert told == "Say affirm, negative or disregard."
    at_work = wording.help.what_can_be_said(Mode.WORKING, RULEBOOK.examples(Mode.WORKING))
    assert "next step" in at_work and "affirm" not in at_work and "removed" not in at_work


def test_every_command_has_a_recording_that_means_it() -> None:
    with (AUDIO / "commands.tsv").open(encoding="utf-8") as file:
        heard = {
            json.loads(row["intent"])["intent"] for row in csv.DictReader(file, delimiter="\t")
        }
    spoken = {c.intent.__name__ for c in COMMANDS if c.phrases and Mode.WORKING in c.heard_in}
    assert spoken <= heard


def test_deciding_on_each_command_records_only_what_it_declares(tmp_path: Path) -> None:
    state = job_state.at_step(PROCEDURE, "close")
    for command in COMMANDS:
        if any(True for _ in command.intent.__dataclass_fields__):
            continue
        may = {*command.records, *command.progress, *command.other}
        recorded = {type(event) for event in decide(state, command.intent(), NOW).events}
        assert recorded <= may, command.intent


def test_who_is_at_the_bench(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    assert hands.say("who is at the bench") == "Sam is at the bench."
    hands.technicians = ("Ann", "Bo")
    hands.stop_and_take_up()
    hands.say("this is ann")
    assert hands.say("who is here") == "Ann is at the bench."
    hands.say("bo here", "affirm")
    before = hands.bench.journal.events(1)
    assert hands.say("who is at the bench") == "Bo is at the bench."
    assert hands.bench.journal.events(1) == before, "a question records nothing"


def test_where_nobody_has_signed_on_it_says_how_to() -> None:
    state = job_state.at_step(PROCEDURE, "close")
    alone = decide(state, intents.WhoIsHere(), NOW).replies[0].text
    assert alone == "Nobody has signed on."
    listed = replace(state, technicians=("Ann",))
    told = decide(listed, intents.WhoIsHere(), NOW).replies[0].text
    assert told == "Nobody has signed on. Say this is, and your name."


def test_what_the_parts_desk_enters_does_not_put_it_at_the_bench() -> None:
    state = job_state.at_step(PROCEDURE, "close")
    signed = events.SignedOn(at=NOW, turn=1, step="close", by="Ann", name="Ann")
    moved = events.OrderMoved(
        at=NOW,
        turn=2,
        by="desk",
        part="circlip",
        count=1,
        state="received",
        at_desk=True,
    )
    for event in (signed, moved):
        state = job_state.apply(state, event)
    assert state.technician == "Ann"


def test_who_is_here_is_answered_while_a_value_is_in_question() -> None:
    state = job_state.at_step(PROCEDURE, "close")
    meant = understanding.understand(("who", "is", "here"), state)
    assert meant == intents.WhoIsHere()
    assert WAITING and all(
        TABLE[mode][intents.WhoIsHere] is TABLE[Mode.WORKING][intents.WhoIsHere] for mode in WAITING
    )
