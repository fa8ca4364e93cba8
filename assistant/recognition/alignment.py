"""Finds the sentences of a grammar that sound closest to a text.

A recogniser without a grammar may write "location" when somebody said "what caution". This module
compares the two by their phones. The closest sentence is the shortest path through pairs of (state
of the grammar's network, position in the phones heard), where each phone substituted, deleted or
inserted has a cost. That is a weighted edit distance (Wagner and Fischer, 1974). Phones are grouped
by manner of articulation, so that "fifteen" is closer to "fifty" than to "nine".
"""

import heapq
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count

import numpy as np
import numpy.typing as npt

from assistant.grammar.network import GARBAGE, Arc, Network
from assistant.recognition.lexicon import Lexicon, Phones
from assistant.recognition.pronunciation import PHONES

Floats = npt.NDArray[np.float32]


@dataclass(frozen=True)
class PhoneCosts:
    """The cost of each phone that differs, without unit.

    Found by trial on the voices of audio_fixtures in shop noise.
    """

    gap: float = 0.7
    """A phone deleted or inserted. Lower: sentences of another length come closer."""
    alike: float = 0.4
    """A phone substituted by one of its own group. Lower: "fifteen" and "fifty" come closer."""
    other: float = 0.8
    """A vowel substituted by another vowel, or a consonant by another consonant."""
    vowel_for_consonant: float = 1.2
    """A vowel substituted by a consonant, or the other way round."""
    free: float = 0.25
    """A phone of free speech. It costs more than a right phone (0) and less than a wrong one."""


COSTS = PhoneCosts()
_FAR = np.float32(1e6)

# Phones that are easily confused, by manner of articulation (textbooks of phonetics).
_ALIKE = (
    "P T K", "B D G", "P B", "T D", "K G", "F TH S SH HH", "V DH Z ZH", "F V", "TH DH", "S Z",
    "SH ZH", "CH JH SH", "T CH", "D JH", "M N NG", "L R W", "L OW AO", "R ER", "W UW UH", "Y IY",
    "IY IH EY", "EH AE IH", "AE AH AA", "AA AO AH", "AH IH EH UH ER", "UH UW", "OW AO", "AY AA",
    "AW AE AO", "EY EH AY", "OY AO OW", "N L D", "B V W M",
)  # fmt: skip
_VOWELS = frozenset(phone for phone in PHONES if phone[0] in "AEIOU")
_NUMBER = {phone: place for place, phone in enumerate(PHONES)}


def _substitution() -> Floats:
    """Return the cost of substituting each phone by each other one, shape (phones, phones)."""
    size = len(PHONES)
    table = np.full((size, size), COSTS.other, dtype=np.float32)
    for a in PHONES:
        for b in PHONES:
            if (a in _VOWELS) != (b in _VOWELS):
                table[_NUMBER[a], _NUMBER[b]] = COSTS.vowel_for_consonant
    for group in _ALIKE:
        members = [_NUMBER[phone] for phone in group.split()]
        for member in members:
            table[member, members] = COSTS.alike
    np.fill_diagonal(table, 0.0)
    return table


_SUBSTITUTION = _substitution()


def phone_distance(one: Phones, other: Phones) -> float:
    """Return the weighted edit distance of two pronunciations: 0 if they are the same."""
    row = [COSTS.gap * place for place in range(len(other) + 1)]
    for phone in one:
        above, row = row, [row[0] + COSTS.gap]
        costs = _SUBSTITUTION[_NUMBER[phone]]
        for place, against in enumerate(other):
            row.append(
                min(
                    above[place] + float(costs[_NUMBER[against]]),
                    above[place + 1] + COSTS.gap,
                    row[place] + COSTS.gap,
                )
            )
    return row[-1]


@dataclass(frozen=True)
class Match:
    """A sentence and its distance from the phones heard: 0 if every phone is the same.

    The last `free` phones were taken as free speech, and do not count in the distance.
    """

    words: tuple[str, ...]
    distance: float
    free: int = 0


class Aligner:
    """Finds the closest sentences of one grammar's network.

    The network must not have cycles, except for free speech. Networks of JSGF without `*`, `+` and
    recursion have none.
    """

    def __init__(self, network: Network, lexicon: Lexicon) -> None:
        network = network.compact()
        self._network = network
        self._order = _backwards(network)
        words = sorted({arc.word for arc in network.arcs if arc.word not in (None, GARBAGE)})
        lexicon.add(word for word in words if word)
        # One row for each pronunciation; a word's rows lie together.
        spoken: list[Phones] = []
        rows: dict[str, tuple[int, int]] = {}
        for word in words:
            assert word is not None
            first = len(spoken)
            spoken.extend(dict.fromkeys(lexicon.of(word)))
            rows[word] = (first, len(spoken))
        self._lengths = np.array([len(phones) for phones in spoken], dtype=np.intp)
        longest = int(self._lengths.max(initial=1))
        self._phones = np.zeros((len(spoken), longest), dtype=np.intp)
        for row, phones in enumerate(spoken):
            self._phones[row, : len(phones)] = [_NUMBER[phone] for phone in phones]
        self._starts = np.array([rows[word][0] for word in words if word], dtype=np.intp)
        self._place = {word: place for place, word in enumerate(words)}
        self._free_place = len(words)
        self._leaving = [
            (
                arcs,
                np.array([self._word_place(arc) for arc in arcs], dtype=np.intp),
                np.array([arc.target for arc in arcs], dtype=np.intp),
            )
            for arcs in network.leaving
        ]

    def _word_place(self, arc: Arc) -> int:
        return self._free_place if arc.word == GARBAGE else self._place[str(arc.word)]

    def nearest(self, heard: Phones, most: int = 8) -> list[Match]:
        """Return the `most` closest sentences, the closest first."""
        if not self._network.arcs or not self._network.finals:
            return []
        costs = self._word_costs(heard)
        ahead = self._costs_ahead(costs, len(heard))
        return list(self._best_first(costs, ahead, len(heard), most))

    def distance(self, heard: Phones, words: Sequence[str]) -> float:
        """Return the distance of these words from the phones heard; infinite if not a sentence."""
        costs = self._word_costs(heard)
        at = {self._network.start: np.where(np.arange(len(heard) + 1) == 0, 0.0, _FAR)}
        for word in [*words, None]:
            # Free speech may come between any two words.
            waiting = list(at)
            while waiting:
                state = waiting.pop()
                for arc, place in zip(
                    self._leaving[state][0], self._leaving[state][1], strict=True
                ):
                    if arc.word == GARBAGE:
                        reached = (at[state][:, None] + costs[place]).min(axis=0)
                        if arc.target not in at or (reached < at[arc.target]).any():
                            at[arc.target] = np.minimum(at.get(arc.target, _FAR), reached)
                            waiting.append(arc.target)
            if word is None:
                break
            after: dict[int, npt.NDArray[np.float64]] = {}
            for state, reached in at.items():
                for arc, place in zip(
                    self._leaving[state][0], self._leaving[state][1], strict=True
                ):
                    if arc.word == word:
                        then = (reached[:, None] + costs[place]).min(axis=0)
                        after[arc.target] = np.minimum(after.get(arc.target, _FAR), then)
            at = after
        ends = [float(at[state][-1]) for state in self._network.finals if state in at]
        return min(ends, default=float("inf"))

    def _word_costs(self, heard: Phones) -> Floats:
        """Return the cost of each word against the phones from i to j, shape (words + 1, i, j).

        Free speech comes last.
        """
        size = len(heard) + 1
        place = np.arange(size, dtype=np.float32)
        put_in = COSTS.gap * place
        spans = place[None, :] - place[:, None]
        before = np.where(spans >= 0, COSTS.gap * spans, _FAR).astype(np.float32)
        costs = np.broadcast_to(before, (len(self._phones), size, size)).copy()
        numbers = [_NUMBER[phone] for phone in heard]
        for step in range(self._phones.shape[1]):
            live = np.flatnonzero(self._lengths > step)
            last = costs[live]
            now = last + COSTS.gap
            if numbers:
                change = _SUBSTITUTION[self._phones[live, step]][:, numbers]
                np.minimum(now[:, :, 1:], last[:, :, :-1] + change[:, None, :], out=now[:, :, 1:])
            # Insertions after this phone.
            now = np.minimum.accumulate(now - put_in, axis=2) + put_in
            costs[live] = now
        if len(self._starts):
            costs = np.minimum.reduceat(costs, self._starts, axis=0)
        free = np.where(spans >= 0, COSTS.free * spans, _FAR)[None].astype(np.float32)
        return np.concatenate([costs, free])

    def _costs_ahead(self, costs: Floats, size: int) -> Floats:
        """Return the lowest cost from each state and position to the end, (states, positions)."""
        ahead = np.full((self._network.states, size + 1), _FAR, dtype=np.float32)
        for state in self._network.finals:
            ahead[state] = COSTS.gap * (size - np.arange(size + 1))
        for state in self._order:
            arcs, words, targets = self._leaving[state]
            if arcs:
                # One axis after the other takes a quarter of the time of both at once.
                best = (costs[words] + ahead[targets][:, None, :]).min(axis=0).min(axis=1)
                np.minimum(ahead[state], best, out=ahead[state])
        return ahead

    def _best_first(self, costs: Floats, ahead: Floats, size: int, most: int) -> "list[Match]":
        """Search over beginnings of sentences with A*; the cost ahead is exact, so it is fast."""
        found: list[Match] = []
        tie = count()
        start = np.where(np.arange(size + 1) == 0, 0.0, _FAR).astype(np.float32)
        first = self._network.start
        # Total cost, a tie-breaker, the state, the words and free phones so far, and the cost up
        # to each position.
        waiting: list[tuple[float, int, int | None, tuple[str, ...], int, Floats]] = [
            (float((start + ahead[first]).min()), next(tie), first, (), 0, start)
        ]
        while waiting and len(found) < most:
            distance, _, state, words, free, reached = heapq.heappop(waiting)
            if state is None:
                if all(match.words != words for match in found):
                    found.append(Match(words, distance - COSTS.free * free, free))
                continue
            if state in self._network.finals:
                ended = float(reached[-1])
                heapq.heappush(waiting, (ended, next(tie), None, words, free, reached))
            arcs, places, targets = self._leaving[state]
            if not arcs:
                continue
            after = (reached[None, :, None] + costs[places]).min(axis=1)
            totals = (after + ahead[targets]).min(axis=1)
            for number, arc in enumerate(arcs):
                if totals[number] < _FAR / 2:
                    spoken, skipped = (*words, str(arc.word)), free
                    if arc.word == GARBAGE:
                        # Free speech ends a sentence: it runs from the cheapest place to the end.
                        to_end = reached + costs[places[number]][:, -1]
                        spoken, skipped = words, size - int(to_end.argmin())
                    heapq.heappush(
                        waiting,
                        (
                            float(totals[number]),
                            next(tie),
                            arc.target,
                            spoken,
                            skipped,
                            after[number],
                        ),
                    )
        return found


def _backwards(network: Network) -> Sequence[int]:
    """Return the states in reverse topological order: each after all states that can follow it."""
    order: list[int] = []
    seen: set[int] = set()
    stack: list[tuple[int, bool]] = [(network.start, False)]
    while stack:
        state, done = stack.pop()
        if done:
            order.append(state)
            continue
        if state in seen:
            continue
        seen.add(state)
        stack.append((state, True))
        stack.extend((arc.target, False) for arc in network.leaving[state])
    return order
