"""Photos: what one shows, asking the bench to take it, and what is said of it.

A photo belongs to an event: the finding, the note or the word about a part that was said last at
the step. It is decided in two turns, because a camera can fail. "Photo" records nothing; it asks
the bench for the picture. When the bench has one it comes back with `PictureReady`, and only then
is there an event, which goes on disk together with the picture itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from assistant.dialogue import events, facts, intents, ledger, wording
from assistant.dialogue.effects import TakePicture
from assistant.dialogue.state import State
from assistant.dialogue.turn import Tone, Turn
from assistant.dialogue.withdrawal import corrected_to, named, place_of, what_stands

_SAID = (
    events.FindingRecorded,
    events.NoteRecorded,
    events.PartOrdered,
    events.OrderMoved,
    events.BagRecorded,
)
"""What a photo goes with where it is not said with what: findings, notes and parts."""
SHOWN = (
    *_SAID,
    events.TorqueRecorded,
    events.ReadingRecorded,
    events.KitItemChecked,
    events.StepSkipped,
)
"""What a photo can go with."""


def said_last(history: Sequence[events.Base], step: str | None = None) -> events.Base | None:
    """Return the finding, note or part that was said last, at a step where one is given.

    `history` is what stands. None where there is nothing.
    """
    for event in reversed(history):
        if isinstance(event, _SAID) and ledger.said_at_bench(event) and step in (None, event.step):
            return event
    return None


def on_photo(turn: Turn, intent: intents.Photo) -> None:
    """Have a picture taken of what was said last at this step."""
    last = said_last(turn.state.history, turn.state.step_id)
    if last is None:
        turn.say(wording.photos.OF_NOTHING, Tone.REFUSED)
        return
    turn.ask_for(TakePicture(facts.EventRef(turn=last.turn, place=place_of(last, turn.state.log))))


def on_ready(turn: Turn, intent: intents.PictureReady) -> None:
    """Record a picture that was taken, if what it shows still stands."""
    of = _standing(turn.state, intent.of)
    if of is None:
        turn.say(wording.photos.OF_NOTHING, Tone.REFUSED)
        return
    turn.record(
        events.PictureTaken,
        of=intent.of,
        sha256=intent.sha256,
        width=intent.width,
        height=intent.height,
    )
    turn.say(wording.photos.kept(of), Tone.RECORDED)


def on_failed(turn: Turn, intent: intents.PictureFailed) -> None:
    """Say that there is no picture, and that nothing was recorded."""
    turn.say(wording.photos.failed(intent.why, intent.told), Tone.REFUSED)


def _standing(state: State, ref: facts.EventRef) -> events.Base | None:
    of = named(state.log, ref)
    stands = isinstance(of, SHOWN) and any(of is event for event in state.history)
    return of if stands else None


def put_in_later(afterwards: Sequence[events.Base]) -> tuple[events.PictureTaken, ...]:
    """Return the pictures that stand of those that were put in when the job was closed already.

    `afterwards` is all that was entered then, in order.
    """
    found: list[events.PictureTaken] = []
    for event in afterwards:
        if isinstance(event, events.PictureTaken):
            found.append(event)
        elif isinstance(event, events.PictureTakenBack):
            found = [o for o in found if (o.of, o.sha256) != (event.of, event.sha256)]
    return tuple(found)


def shown_with(log: Sequence[events.Base]) -> Mapping[int, tuple[events.PictureTaken, ...]]:
    """Return the pictures that stand, by the `id` of the event of `log` that each now goes with.

    A picture of what was corrected goes with what stands in its place. A picture of what was
    withdrawn still goes with that: it shows what was there when it was taken.
    """
    standing = what_stands(log)
    found: dict[int, tuple[events.PictureTaken, ...]] = {}
    for picture in standing:
        if not isinstance(picture, events.PictureTaken):
            continue
        of = named(log, picture.of)
        if of is not None:
            now = corrected_to(of, log, standing)
            found[id(now)] = (*found.get(id(now), ()), picture)
    return found
