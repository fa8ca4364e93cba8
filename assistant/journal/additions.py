"""What is added to a job after it was closed: it stands beside the chain, and is under no seal.

An addition is what the desk enters: of orders, an `OrderMoved`; the customer's answer to extra
work, a `CustomerAnswered`; a picture from a file, a `PictureTaken`, or that one is taken back, a
`PictureTakenBack`; or a sign-off, a `SignedOff`. It is stored as an event is, and known by its own
text, so the same addition can arrive by any way and any number of times, and is kept once.

A picture's addition carries the picture's hash. Nothing proves that the addition was not removed
together with its picture; a picture that is altered, or that is there without it, shows.

A sign-off carries the hash of what it follows: of the event that closed the job, or of the sign-off
before it. So it cannot be moved to another job or to a record that was made anew, and one that
others follow cannot be changed or left out. Who has the file can still leave out the last, or write
another name under it: nobody's key is in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from hashlib import sha256
from typing import Annotated

from pydantic import Field, TypeAdapter

from assistant.dialogue import events

Entry = events.OrderMoved | events.CustomerAnswered | events.PictureTaken | events.PictureTakenBack
"""What the desk enters."""
Addition = Entry | events.SignedOff
_ADDITION: TypeAdapter[Addition] = TypeAdapter(Annotated[Addition, Field(discriminator="kind")])

MOST = 10_000
"""Additions of one job that are accepted with it; far more than a job has orders."""
LONGEST = 16_000
"""Characters of one entry of the desk."""
_LONGEST_SIGN_OFF = 64_000
"""Characters of one sign-off, which can name more than a hundred results that fail."""


def read(texts: Iterable[str]) -> tuple[Addition, ...]:
    """Return additions from their stored texts. Raises ValueError where a text is not one."""
    return tuple(map(_addition, texts))


def fits(event: events.SignedOff) -> bool:
    """Return whether a sign-off is short enough to be read again."""
    return len(event.model_dump_json()) <= _LONGEST_SIGN_OFF


def digest(text: str) -> str:
    """Return what an addition is known by: the SHA-256 of its text, in hex."""
    return sha256(text.encode()).hexdigest()


def pictures(texts: Iterable[str]) -> dict[str, events.PictureTaken]:
    """Return the additions that put in a picture, the first of each, by the picture's SHA-256.

    Raises ValueError where a text is no addition.
    """
    found: dict[str, events.PictureTaken] = {}
    for event in read(texts):
        if isinstance(event, events.PictureTaken):
            found.setdefault(event.sha256, event)
    return found


def last_sign_off(texts: Iterable[str], seal: str) -> str:
    """Return what the next sign-off follows: the last one, or the seal of the job.

    Raises ValueError where a text is no addition.
    """
    signed = [text for text in texts if isinstance(_addition(text), events.SignedOff)]
    return digest(signed[-1]) if signed else seal


def stray(texts: Sequence[str], seal: str | None) -> events.SignedOff | None:
    """Return a sign-off that follows neither the job's seal nor a sign-off of it; None for none.

    Copies of a job that were signed off apart may come together, so two may follow the same.
    Raises ValueError where a text is no addition.
    """
    signed = {digest(text): e for text, e in zip(texts, read(texts), strict=True) if _signed(e)}
    for event in signed.values():
        if isinstance(event, events.SignedOff) and event.follows not in {seal, *signed}:
            return event
    return None


def _signed(event: Addition) -> bool:
    return isinstance(event, events.SignedOff)


def _addition(text: str) -> Addition:
    if len(text) > _LONGEST_SIGN_OFF:
        raise ValueError("too long")
    event = _ADDITION.validate_json(text)
    # Nobody said it, so it has no words and no clip, which might be another job's.
    if event.heard is not None:
        raise ValueError("said at the bench")
    if isinstance(event, events.SignedOff):
        if not event.by:
            raise ValueError("signed by nobody")
        return event
    if len(text) > LONGEST:
        raise ValueError("too long")
    if not event.at_desk:
        raise ValueError("not entered by the desk")
    if isinstance(event, events.OrderMoved) and event.count < 1:
        raise ValueError("counts no part")
    return event
