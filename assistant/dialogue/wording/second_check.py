"""The second check: made, refused, void."""

from __future__ import annotations

from collections.abc import Sequence

from assistant.dialogue.wording import steps
from assistant.dialogue.wording.quantities import listing, sentence

SAY_DONE_FIRST = (
    "Nobody has said yet that this step is done. Whoever did it says step done. Then somebody else "
    "signs on, and says second check."
)


def not_asked(number: int) -> str:
    """Refuse a check that the procedure does not ask for."""
    return sentence(f"{steps.name(number)} asks for no second check. To keep it, say note")


def made_already(by: str | None) -> str:
    """Say that the check is made, and by whom."""
    return sentence(f"the second check is made, by {by}. Say next step")


def made(by: str, done_by: Sequence[str]) -> str:
    """Word that the check is recorded, and whose work was checked."""
    return sentence(f"second check by {by}, of the work of {listing(done_by)}. Recorded")


def same_person(name: str, by_voice: bool) -> str:
    """Refuse a check by somebody who did the step."""
    return sentence(f"{name} did this step, so somebody else has to check it. {_way(by_voice)}")


def sign_on(by_voice: bool) -> str:
    """Refuse a check by somebody who has not said who they are."""
    return sentence(f"nobody has signed on. {_way(by_voice)}")


def nobody_named(number: int) -> str:
    """Refuse to check work that nobody has put their name to."""
    return sentence(
        "nobody was signed on when this step was done, so nobody can tell who else may check it. "
        f"Sign on, and say rework {steps.name(number)}"
    )


def _way(by_voice: bool) -> str:
    if by_voice:
        return "They say this is, and their name, then second check"
    return "Set the job aside, have it taken up under their name, then say second check"


def void(number: int) -> str:
    """Word that what was checked is not what stands now."""
    return sentence(f"{steps.name(number)} needs its second check again")


def outstanding(done_by: Sequence[str]) -> str:
    """Word a check that is outstanding; no full stop."""
    other = f"somebody other than {listing(done_by)}" if done_by else "somebody else"
    return f"the second check by {other}, once they have signed on: say second check"
