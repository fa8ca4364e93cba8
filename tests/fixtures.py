"""The tables of utterances, and the state in which each is said."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from functools import cache
from pathlib import Path

from assistant.dialogue import events, facts, intents
from assistant.dialogue import state as job_state
from assistant.dialogue.decide import decide, open_job
from assistant.dialogue.meaning import Meanings
from assistant.procedure import lexicon, reading, unwritten
from assistant.procedure.model import Procedure

AUDIO = Path(__file__).resolve().parents[1] / "audio_fixtures"
NOW = datetime(2031, 1, 1, tzinfo=UTC)


@cache
def sample(name: str) -> Procedure:
    """Return a sample procedure, read once."""
    return reading.read(reading.find(name))


def state_of(step: str, asked: str) -> job_state.State:
    """Return the state at "procedure/step": asked for a reason, about the kit, or whether a reading
    that is taken already is a further one; standing by; or with the names of two technicians.
    """
    name, step_id = step.split("/")
    if name == "unwritten":
        return _unwritten(building=step_id == "building-up")
    state = job_state.at_step(sample(name), step_id)
    if asked == "reason":
        return job_state.apply(state, events.SkipAsked(at=NOW, turn=1, step=step_id))
    if asked == "stand by":
        return job_state.apply(state, events.StoodBy(at=NOW, turn=1, step=step_id))
    if asked == "kit":
        return job_state.apply(state, events.KitOpened(at=NOW, turn=1, step=step_id))
    if asked == "taken":
        one = state.step.readings[0]
        taken = events.ReadingRecorded(
            at=NOW, turn=1, step=step_id, name=one.name, value=Decimal(0), unit=one.unit
        )
        doubt = facts.TakenAlready(value=taken.value, unit=taken.unit)
        again = events.ValueQuestioned(at=NOW, turn=2, step=step_id, candidate=taken, doubt=doubt)
        return job_state.apply(job_state.apply(state, taken), again)
    if asked == "names":
        return replace(state, technicians=("Ann", "Bo"))
    return state


@cache
def _unwritten(building: bool) -> job_state.State:
    """Return a job without a procedure, in which a cover came off with its bolts; on its way up it
    is at the bolts, whose torque is set.
    """
    procedure, text = unwritten.begin("Test drive", lexicon.read("gearbox"))
    state = job_state.start(procedure)
    said: list[intents.Intent] = [
        *(intents.Affirm(), intents.Next()),
        intents.Removed("end cover", "end covers"),
        intents.Removed("long bolt", "long bolts", 6),
        intents.SetTorque(Decimal(25)),
    ]
    if building:
        said.append(intents.StartBuildUp())
    decision = open_job(procedure, text, NOW)
    for intent in (None, *said):
        decision = decision if intent is None else decide(state, intent, NOW)
        for event in decision.events:
            state = job_state.apply(state, event)
    return state


def meanings_at(state: job_state.State) -> Meanings:
    """Return the understanding of words in this state, as a bench in it has it."""
    return Meanings(state, NOW)


def every_state() -> list[job_state.State]:
    """Return the state at each step at which a command is said, with nothing done yet."""
    return [state_of(step, "") for step in dict.fromkeys(row["step"] for row in commands())]


def commands() -> list[dict[str, str]]:
    """Return each command once: its text, where it is said, and the intent expected."""
    return _table("commands.tsv")


def utterances() -> list[dict[str, str]]:
    """Return each recording: its file, voice, text, where it is said, and the intent expected."""
    return _table("utterances.tsv")


def _table(name: str) -> list[dict[str, str]]:
    with (AUDIO / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE))
