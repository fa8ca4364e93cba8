"""How grave a finding is, and what is to be done about it, where nobody has said so.

The table is common practice, no source: what a careful foreman would write beside each condition
until somebody who has looked at the part says otherwise. A condition that it does not know, one of
the procedure's own, is not rated, and is referred to whoever answers for the work.
"""

from __future__ import annotations

from collections.abc import Sequence

from assistant.dialogue import events
from assistant.report.model import Fitted, Judgement, Severity

# A part that cannot do its work, or that may give way, is serious; one that is on the way there and
# has to be measured or looked at is moderate; one that needs a cloth or a spanner is slight.
_USUAL: dict[str, tuple[Severity, events.Disposition]] = {
    "missing": ("serious", "renew"),
    "cracked": ("serious", "renew"),
    "broken": ("serious", "renew"),
    "burnt": ("serious", "renew"),
    "stripped": ("serious", "renew"),
    "thread stripped": ("serious", "repair"),
    "needs a thread insert": ("serious", "repair"),
    "too short": ("serious", "renew"),
    "wrong length": ("serious", "renew"),
    "frayed": ("serious", "renew"),
    "wrong part": ("serious", "renew"),
    "seized": ("serious", "repair"),
    "fitted wrong": ("serious", "repair"),
    "perished": ("moderate", "renew"),
    "chipped": ("moderate", "refer"),
    "bent": ("moderate", "refer"),
    "distorted": ("moderate", "refer"),
    "worn": ("moderate", "refer"),
    "scored": ("moderate", "refer"),
    "pitted": ("moderate", "refer"),
    "corroded": ("moderate", "refer"),
    "undersize": ("moderate", "refer"),
    "oversize": ("moderate", "refer"),
    # What is made to be used once, such as a stretched bolt or a soft seal, and was used again.
    "reused": ("moderate", "renew"),
    "leaking": ("moderate", "repair"),
    "blocked": ("moderate", "clean"),
    "contaminated": ("moderate", "clean"),
    "loose": ("slight", "repair"),
    "scratched": ("slight", "refer"),
    "dirty": ("slight", "clean"),
    "damp": ("slight", "clean"),
    "clean": ("none", "leave"),
    "sound": ("none", "leave"),
}


_NOT_KNOWN: tuple[Severity, events.Disposition] = ("not rated", "refer")


def severity_of(condition: str) -> Severity:
    """Return how grave a condition usually is."""
    return _USUAL.get(condition, _NOT_KNOWN)[0]


def judge(finding: events.FindingRecorded, ordered: int, fitted: Sequence[Fitted]) -> Judgement:
    """Return the severity and the disposition of a finding.

    `ordered` is how many of the same part are on order or were, not counting what was cancelled;
    `fitted` is what was fitted of it. What was said at the bench goes before all; then what was
    done about the part goes before the table: one that was ordered, or of which a new one was
    fitted, is renewed.
    """
    severity, usual = _USUAL.get(finding.condition, _NOT_KNOWN)
    renewed = next((one for one in fitted if one.new), None)
    if finding.disposition is not None:
        disposition, because = finding.disposition, "said at the bench"
    elif severity == "none":
        disposition, because = usual, "nothing is wrong with it"
    elif ordered:
        disposition, because = "renew", f"{ordered} asked for"
    elif renewed is not None:
        disposition, because = "renew", f"a new one was fitted at step {renewed.number}"
    elif finding.condition in _USUAL:
        disposition, because = usual, "usual for this condition"
    else:
        disposition, because = usual, "a condition of this procedure’s own"
    return Judgement(severity=severity, disposition=disposition, because=because)
