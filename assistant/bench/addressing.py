"""Who is being spoken to: whether a phrase is for the assistant.

A pure state machine: times are seconds on any one clock that only goes forward, and are given to
it. The ways, chosen per shop:

- open: every phrase is for it; for a quiet bench.
- call word: a phrase that begins with the word. The word alone, or an answer, opens a window in
  which the next phrase needs no word.
- key held: a phrase that begins while a key or pedal is down. A terminal tells no release, only
  that the key is down again and again, so it counts as held until no repeat comes.
- key tapped: a tap opens the window, and so does an answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

FOLLOW_UP_S = 8.0
"""How long after an answer the next phrase may begin without a call word or a tap."""
REPEAT_S = 0.6
"""A key that is held repeats sooner than this; terminals repeat ten to forty times a second."""
FIRST_REPEAT_S = 0.8
"""Until the first repeat it takes longer: a quarter to two thirds of a second, as set."""
_EARLY_S = 0.3
"""So much sooner than the hand the mouth may begin."""


class Way(StrEnum):
    """How the assistant knows that it is meant."""

    OPEN = "open"
    CALL_WORD = "call-word"
    KEY_HELD = "key-held"
    KEY_TAPPED = "key-tapped"

    @property
    def by_key(self) -> bool:
        """Whether a key or pedal is watched."""
        return self in (Way.KEY_HELD, Way.KEY_TAPPED)


@dataclass
class Addressing:
    """Keeps who is being spoken to at one bench.

    `word` is the call word, in one word or several, without regard to case; it counts in the way
    of call words alone.
    """

    way: Way = Way.OPEN
    word: tuple[str, ...] = ("bench",)
    follow_up_s: float = FOLLOW_UP_S
    _from: float = float("inf")
    """From here until `_until` a phrase may begin: the key is held, or the window is open."""
    _until: float = float("-inf")
    _released: bool = True

    def heard(self, words: Sequence[str], at: float) -> tuple[str, ...] | None:
        """Return the words of a phrase that began `at`, without the call word; None: not for us.

        The call word alone gives no words, and opens the window. A phrase without words, such as
        free speech, is only for us in the window.
        """
        rest, called = without_call(words, self.word) if self._calls else (tuple(words), False)
        if called and not rest:
            self._open(at)
        return rest if called or self._is_open(at) else None

    def key(self, down: bool, at: float) -> None:
        """Take that the key went down, or is down still, or was let go where that can be told."""
        if not self.way.by_key:
            return
        if self.way is Way.KEY_TAPPED:
            if down:
                self._open(at)
            return
        if not down:
            self._until = min(self._until, at)
            self._released = True
        elif self._released or at >= self._until:
            self._from, self._until = at - _EARLY_S, at + FIRST_REPEAT_S
            self._released = False
        else:
            self._until = max(self._until, at + REPEAT_S)

    def listening(self, at: float) -> bool:
        """Whether a phrase that begins now is to be recognised at all; with a call word, each."""
        return self._calls or self._is_open(at)

    def word_optional(self, at: float) -> bool:
        """Whether a phrase that begins now needs no call word."""
        return not self._calls or self._is_open(at)

    def meant(self, words: Sequence[str], at: float) -> bool:
        """Whether words that began at this time are for us: after the call word, where needed."""
        return self.word_optional(at) or without_call(words, self.word)[1]

    def answered(self, at: float, standing_by: bool = False) -> None:
        """Take that an answer to somebody ended now: what follows it is for us as well.

        Not while standing by: talk to others follows, and "resume" is called for like the first
        command. What is said unasked, such as that a timer is up, is no answer.
        """
        if self.way in (Way.CALL_WORD, Way.KEY_TAPPED):
            if standing_by:
                self._until = float("-inf")
            else:
                self._open(at)

    @property
    def _calls(self) -> bool:
        return self.way is Way.CALL_WORD

    def _open(self, at: float) -> None:
        self._from = min(self._from, at) if self._is_open(at) else at
        self._until = at + self.follow_up_s

    def _is_open(self, at: float) -> bool:
        return self.way is Way.OPEN or self._from <= at < self._until


def without_call(words: Sequence[str], call: Sequence[str]) -> tuple[tuple[str, ...], bool]:
    """Return the words without the call word in front, and whether it was there."""
    first = tuple(word.casefold() for word in words[: len(call)])
    if call and first == tuple(word.casefold() for word in call):
        return tuple(words[len(call) :]), True
    return tuple(words), False
