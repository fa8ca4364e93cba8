"""A bench whose instruments and scanner send what a test says."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from assistant.dialogue import events, intents
from assistant.dialogue.instrument import Instrument
from assistant.dialogue.intents import Intent
from assistant.dialogue.state import Mode
from assistant.recognition.utterance import Utterance, Verdict
from tests.bench_helpers import Hands

MICROMETER = Instrument(name="micrometer", serial="M-17", calibrated_until=date(2031, 12, 31))
WRENCH = Instrument(name="torque wrench", serial="W-2")


class Workshop(Hands):
    """Hands that also press the buttons of instruments, and scan."""

    def send(self, value: str, unit: str | None = None, by: Instrument = MICROMETER) -> str:
        """Have an instrument send a value; return what was said to it."""
        return self.take(intents.Sent(Decimal(value), unit, by), value)

    def scan(self, what: int | str, ours: bool = True) -> str:
        """Scan a bag's tag, or a part number; return what was said to it."""
        meant = (
            intents.ScannedTag(what, ours) if isinstance(what, int) else intents.ScannedNumber(what)
        )
        return self.take(meant, str(what))

    def take(self, intent: Intent, words: str) -> str:
        self.notes.replies.clear()
        said = Utterance((words,), intent, Verdict.ACCEPTED, None, "instrument")
        self.bench.take(said)
        return " ".join(self.notes.replies)

    @property
    def mode(self) -> Mode:
        return self.bench.state.mode

    def measured(self) -> list[tuple[str, Decimal, str | None]]:
        """Return the readings that stand, each with the instrument's name."""
        return [
            (e.name, e.value, e.instrument and e.instrument.name)
            for e in self.bench.state.of_job(events.ReadingRecorded)
        ]

    def at_measure(self) -> None:
        self.say("affirm", "bag one", "next step", "splined shaft", "next step")
