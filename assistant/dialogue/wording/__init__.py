"""The catalogue for the ear: every sentence that the assistant speaks in a job, by topic.

Each function takes data and returns words. Numbers that matter are spoken digit by digit (ICAO
Annex 10 Volume II, 5.2.1.4.1); counts and step numbers in ordinary words; the number comes last in
a sentence, because that is what has to stay in the ear. Nothing here holds a figure or a unit
symbol ("M8", "N·m"), so that no voice has to guess. A refusal or a question names the way out in
the same breath.

What is written for the eye has a catalogue of its own, `assistant.report.wording`.
"""

from assistant.dialogue.wording import (
    answers,
    attention,
    changes,
    customer,
    entered,
    failures,
    handing_over,
    help,
    job,
    kit,
    last_time,
    notes,
    orders,
    photos,
    pieces,
    questions,
    record,
    refusals,
    remaining,
    revisions,
    second_check,
    sent,
    steps,
    timers,
)
from assistant.dialogue.wording.attention import STANDING_BY
from assistant.dialogue.wording.quantities import (
    count,
    date,
    digits,
    duration,
    listing,
    quantity,
    sentence,
    several,
)
from assistant.dialogue.wording.record import event

__all__ = [
    "STANDING_BY",
    "answers",
    "attention",
    "changes",
    "count",
    "customer",
    "date",
    "digits",
    "duration",
    "entered",
    "event",
    "failures",
    "handing_over",
    "help",
    "job",
    "kit",
    "last_time",
    "listing",
    "notes",
    "orders",
    "photos",
    "pieces",
    "quantity",
    "questions",
    "record",
    "refusals",
    "remaining",
    "revisions",
    "second_check",
    "sent",
    "sentence",
    "several",
    "steps",
    "timers",
]
