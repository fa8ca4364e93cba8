"""Checks what is spoken as somebody hears it: how long it takes, and whether hazards come first."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from assistant.audio.manner import Manner
from assistant.procedure import routes
from assistant.procedure.model import Procedure, Step
from assistant.procedure.problems import Fault, Place


@dataclass(frozen=True)
class Listening:
    """How long somebody with a tool in hand listens. Common practice, no source."""

    longest_step: float = 15.0
    """Seconds for what to do in one step. Lower: more steps are told to be too long."""
    longest_hazard: float = 14.0
    """Seconds for one hazard, which is heard in full each time."""
    longest_answer: float = 25.0
    """Seconds for what is only told on asking."""


LISTENING = Listening()
_SIGNAL = re.compile(
    r"(?:^|[.!?;]\s+)(danger|warning|caution|beware)(?=\s*[:!.,–—-]|\s+of\b)", re.IGNORECASE
)
_VOICE = Manner()
"""The voice at its usual speed."""


def faults(procedure: Procedure) -> Iterator[Fault]:
    """Yield hazards that are spoken after the act that they warn of."""
    for where, step in routes.placed(procedure):
        for field in ("say", "detail"):
            text = getattr(step, field) or ""
            match = _SIGNAL.search(text)
            # At the very start of what to do it is heard in time, though nobody affirms it.
            if match and (match.start() > 0 or field == "detail"):
                yield (
                    (*where, field),
                    f"“{match[1]}” is spoken after the act that it warns of"
                    f"{'' if field == 'say' else ', and only on asking'}. Move it to 'hazards': "
                    "they are spoken first, and affirmed",
                )


def warnings(procedure: Procedure) -> Iterator[Fault]:
    """Yield texts that are too long to listen to, and hazards that come a step late."""
    yield from _late_hazards(procedure)
    for where, step in routes.placed(procedure):
        texts: list[tuple[Place, str | None, float, str]] = [
            (
                ("say",),
                step.say,
                LISTENING.longest_step,
                "put what is only asked for into 'detail'",
            ),
            (("detail",), step.detail, LISTENING.longest_answer, "shorten it"),
            (("why",), step.why, LISTENING.longest_answer, "shorten it"),
        ]
        texts += [
            (("hazards", number, "say"), hazard.say, LISTENING.longest_hazard, "one hazard each")
            for number, hazard in enumerate(step.hazards)
        ]
        for key, text, most, instead in texts:
            seconds = _VOICE.seconds(text or "")
            if seconds > most:
                yield (
                    (*where, *key),
                    f"this takes {seconds:.0f} seconds to listen to, each time; {most:.0f} "
                    f"is long. Make two of it, or {instead}",
                )


def _late_hazards(procedure: Procedure) -> Iterator[Fault]:
    """Yield a hazard about a part that an earlier step already took off, with no warning there."""
    off: dict[str, Step] = {}
    fitted: set[str] = set()
    for where, step in routes.placed(procedure):
        fitted |= {fit.part for fit in step.fit}
        here = {remove.part for remove in step.remove} | {fit.part for fit in step.fit}
        for number, hazard in enumerate(step.hazards):
            for part, earlier in off.items():
                if part in here or part in fitted or earlier.hazards:
                    continue
                if re.search(rf"\b{re.escape(part)}\b", hazard.say.lower()):
                    yield (
                        (*where, "hazards", number, "say"),
                        f"this warns of the {part}, which step '{earlier.id}' took off before "
                        "without a word. Move it to that step, or say there what is to fear",
                    )
        for remove in step.remove:
            off.setdefault(remove.part, step)
