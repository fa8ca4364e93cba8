"""Photos: kept, not taken, or of nothing."""

from __future__ import annotations

from assistant.dialogue import events, intents
from assistant.dialogue.wording.quantities import sentence
from assistant.dialogue.wording.record import event

OF_NOTHING = (
    "Nothing was said at this step for a photo to go with. Say a finding or a note first, then "
    "photo."
)

_NOTHING = "Nothing recorded."
_FAILED: dict[intents.NoPictureWhy, str] = {
    "no camera": "There is no camera.",
    "not there": "The camera cannot be opened.",
    "no answer": "The camera does not answer.",
    "no picture": "The camera gives no picture.",
}
_WAY_OUT: dict[intents.NoPictureWhy, str] = {
    "no camera": "Take the picture with a telephone and add it at the computer, or start the "
    "assistant with a camera.",
    "not there": "Look at its cable, then say photo again.",
    "no answer": "Pull its plug, put it in again, then say photo again.",
    "no picture": "Look at its cable, then say photo again.",
}


def kept(of: events.Base) -> str:
    """Word that a photo is on disk, and what it goes with."""
    return sentence(f"Photo kept, with {event(of)}")


def failed(why: intents.NoPictureWhy, told: bool) -> str:
    """Word why there is no photo; what to do about it unless that was told before."""
    return f"{_FAILED[why]} {_NOTHING}" + ("" if told else f" {_WAY_OUT[why]}")
