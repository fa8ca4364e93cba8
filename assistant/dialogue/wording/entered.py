"""What was entered into the record away from the bench, as the bench says it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assistant.dialogue import events
from assistant.dialogue.wording.quantities import count, listing, sentence
from assistant.dialogue.wording.record import event
from assistant.grammar import nouns


def told(new: Sequence[events.Base]) -> Iterator[str]:
    """Yield what is said of new entries: those of the parts desk, what customers
    answered, then of pictures."""
    moved = [event(one) for one in new if isinstance(one, events.OrderMoved)]
    if moved:
        yield sentence(f"From the parts desk: {listing(moved)}")
    for one in new:
        if isinstance(one, events.CustomerAnswered):
            yield sentence(f"From the parts desk: {event(one)}")
    for kind, what in ((events.PictureTaken, "added"), (events.Withdrawn, "withdrawn")):
        number = sum(isinstance(one, kind) for one in new)
        if number:
            photos = nouns.counted(number, "photo")
            yield sentence(f"{count(number)} {photos} {what} at the computer")
