"""Finite-state networks of words, built from a grammar, for a recogniser to search.

A network holds which word sequences are sentences, and the probability of each branch. The
structure of a sentence comes from `assistant.grammar.jsgf.Grammar.parse_words`.
"""

from collections import defaultdict, deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

from assistant.errors import AssistantError

GARBAGE = "<GARBAGE>"
"""The word of an arc that stands for any speech (the special rule GARBAGE of W3C SRGS 1.0, 2.2.3).

It matches any number of words, none included.
"""

_MOST_STATES = 20_000


class Arc(NamedTuple):
    """An arc of a network. An arc without a word is an epsilon arc: nothing is said on it."""

    source: int
    target: int
    probability: float
    word: str | None
    tags: tuple[str, ...] = ()


@dataclass(frozen=True)
class Network:
    """A finite-state network. Its states are the numbers 0 to `states` - 1."""

    start: int
    finals: frozenset[int]
    arcs: tuple[Arc, ...]
    states: int

    @cached_property
    def leaving(self) -> tuple[tuple[Arc, ...], ...]:
        """The arcs that leave each state, by the state's number."""
        out: list[list[Arc]] = [[] for _ in range(self.states)]
        for arc in self.arcs:
            out[arc.source].append(arc)
        return tuple(tuple(arcs) for arcs in out)

    def closure(self, states: Iterable[int]) -> set[int]:
        """Return the states that can be reached from these without a word, these included."""
        seen = set(states)
        waiting = list(seen)
        while waiting:
            for arc in self.leaving[waiting.pop()]:
                if (arc.word is None or arc.word == GARBAGE) and arc.target not in seen:
                    seen.add(arc.target)
                    waiting.append(arc.target)
        return seen

    def accepts(self, words: Sequence[str]) -> bool:
        """Whether these words, in any case, are a whole sentence."""
        return not self.finals.isdisjoint(self._after(words))

    def following(self, words: Sequence[str]) -> set[str]:
        """Return the words that can follow these, in any case; `GARBAGE` stands for any speech."""
        return {arc.word for state in self._after(words) for arc in self.leaving[state] if arc.word}

    def _after(self, words: Sequence[str]) -> set[int]:
        """Return the states that these words can lead to."""
        current = self.closure([self.start])
        for word in map(str.casefold, words):
            after: set[int] = set()
            for state in current:
                for arc in self.leaving[state]:
                    if arc.word == word:
                        after.add(arc.target)
                    elif arc.word == GARBAGE:
                        after.update((state, arc.target))
            current = self.closure(after)
        return current

    def trimmed(self) -> "Network":
        """Return the network without the states that are on no path from start to a final state."""
        ahead = _reach({self.start}, ((a.source, a.target) for a in self.arcs))
        useful = ahead & _reach(set(self.finals), ((a.target, a.source) for a in self.arcs))
        useful.add(self.start)
        number = {state: n for n, state in enumerate(sorted(useful))}
        arcs = tuple(
            arc._replace(source=number[arc.source], target=number[arc.target])
            for arc in self.arcs
            if arc.source in useful and arc.target in useful
        )
        finals = frozenset(number[state] for state in self.finals & useful)
        return Network(number[self.start], finals, arcs, len(number))

    def compact(self) -> "Network":
        """Return a smaller network of the same sentences: deterministic, minimal, no epsilon arcs.

        Tags are dropped. The probabilities of several paths with the same words are added. Where
        states are joined whose probabilities differ, the higher probability of each arc counts.
        Raises AssistantError if the network needs too many states.
        """
        return self._compact

    @cached_property
    def _compact(self) -> "Network":
        # Each recogniser asks for it.
        return _minimal(_deterministic(self)).trimmed()


def _reach(seen: set[int], edges: Iterable[tuple[int, int]]) -> set[int]:
    following = defaultdict(list)
    for source, target in edges:
        following[source].append(target)
    seen = set(seen)
    waiting = list(seen)
    while waiting:
        for target in following[waiting.pop()]:
            if target not in seen:
                seen.add(target)
                waiting.append(target)
    return seen


def _spread(network: Network, weights: dict[int, float]) -> dict[int, float]:
    """Follow epsilon arcs from weighted states; each state keeps the weight of its best path."""
    best: dict[int, float] = {}
    waiting = deque(weights.items())
    while waiting:
        state, weight = waiting.popleft()
        if weight <= best.get(state, 0.0):
            continue
        best[state] = weight
        for arc in network.leaving[state]:
            if arc.word is None:
                waiting.append((arc.target, weight * arc.probability))
    return best


def _deterministic(network: Network) -> Network:
    """Subset construction (Rabin and Scott, 1959), with the share of each state in its subset."""
    first = _spread(network, {network.start: 1.0})
    number = {frozenset(first): 0}
    waiting = deque([first])
    finals: set[int] = set()
    arcs: list[Arc] = []
    while waiting:
        weights = waiting.popleft()
        source = number[frozenset(weights)]
        if not network.finals.isdisjoint(weights):
            finals.add(source)
        total = sum(weights.values())
        targets: dict[str, dict[int, float]] = defaultdict(lambda: defaultdict(float))
        for state, weight in weights.items():
            for arc in network.leaving[state]:
                if arc.word is not None:
                    targets[arc.word][arc.target] += weight * arc.probability / total
        for word, reached in targets.items():
            spread = _spread(network, reached)
            key = frozenset(spread)
            if key not in number:
                if len(number) >= _MOST_STATES:
                    raise AssistantError(
                        f"The grammar needs more than {_MOST_STATES} states to listen for; make "
                        "it smaller, or give optional words and repeats fewer ways to overlap."
                    )
                number[key] = len(number)
                waiting.append(spread)
            probability = min(1.0, sum(reached.values()))
            arcs.append(Arc(source, number[key], probability, word))
    return Network(0, frozenset(finals), tuple(arcs), len(number))


def _minimal(network: Network) -> Network:
    """Join the states that allow the same words ahead.

    Without cycles one pass from the ends to the start does, since what is ahead of a state is
    joined before it (Revuz, 1992); otherwise a partition is refined (Moore, 1956).
    """
    order = _ends_first(network)
    group = _refined(network) if order is None else _joined(network, order)
    count = max(group) + 1
    kept: dict[tuple[int, str | None], Arc] = {}
    for arc in network.arcs:
        joined = Arc(group[arc.source], group[arc.target], arc.probability, arc.word)
        earlier = kept.setdefault((joined.source, joined.word), joined)
        if joined.probability > earlier.probability:
            kept[joined.source, joined.word] = joined
    finals = frozenset(group[state] for state in network.finals)
    return Network(group[network.start], finals, tuple(kept.values()), count)


def _ends_first(network: Network) -> list[int] | None:
    """Return every state, each after all that can follow it; None if the network has a cycle."""
    ahead = [len(arcs) for arcs in network.leaving]
    sources: list[list[int]] = [[] for _ in range(network.states)]
    for arc in network.arcs:
        sources[arc.target].append(arc.source)
    order = [state for state, count in enumerate(ahead) if not count]
    for state in order:  # grows meanwhile
        for source in sources[state]:
            ahead[source] -= 1
            if not ahead[source]:
                order.append(source)
    return order if len(order) == network.states else None


def _joined(network: Network, order: Sequence[int]) -> list[int]:
    """Return the number of each state's group, given the states with the ends first."""
    group = [0] * network.states
    signatures: dict[object, int] = {}
    for state in order:
        ahead = frozenset((arc.word, group[arc.target]) for arc in network.leaving[state])
        signature = (state in network.finals, ahead)
        group[state] = signatures.setdefault(signature, len(signatures))
    return group


def _refined(network: Network) -> list[int]:
    """Return the number of each state's group, by splitting groups until all in one are alike."""
    group = [int(state in network.finals) for state in range(network.states)]
    count = len(set(group))
    while True:
        signatures: dict[object, int] = {}
        refined = []
        for state in range(network.states):
            ahead = frozenset((arc.word, group[arc.target]) for arc in network.leaving[state])
            refined.append(signatures.setdefault((group[state], ahead), len(signatures)))
        group = refined
        if len(signatures) == count:
            return group
        count = len(signatures)


def cover(network: Network, limit: int = 5000, garbage: str | None = None) -> list[str]:
    """Return sentences that together use every arc and every pair of words that can follow.

    They are for recognisers that take a grammar as a list of phrases and learn word pairs from it.
    Free speech becomes the word `garbage`, or is left out if that is None. Raises AssistantError if
    more than `limit` sentences are needed.
    """
    network = network.compact()
    to_final = _distances_to_final(network)
    path_to = _shortest_paths(network)
    uncovered = {
        (before.word, after.word): (before, after)
        for before in network.arcs
        for after in network.leaving[before.target]
    }
    unused = set(network.arcs)
    sentences: dict[str, None] = {}

    def say(path: list[Arc]) -> None:
        """Extend a path to a final state through arcs not covered yet; add it as a sentence."""
        seen = {arc.target for arc in path}
        while True:
            state = path[-1].target if path else network.start
            choices = network.leaving[state]
            last = path[-1].word if path else None
            fresh = [
                arc
                for arc in choices
                if arc.target not in seen and (arc in unused or (last, arc.word) in uncovered)
            ]
            if fresh:
                arc = fresh[0]
            elif to_final[state] == 0:
                break
            else:
                arc = min(choices, key=lambda choice: to_final[choice.target])
            path.append(arc)
            seen.add(arc.target)
        for before, after in pairwise(path):
            uncovered.pop((before.word, after.word), None)
        unused.difference_update(path)
        said = (garbage if arc.word == GARBAGE else arc.word for arc in path)
        text = " ".join(word for word in said if word)
        if text:
            sentences[text] = None
        if len(sentences) > limit:
            raise AssistantError(
                f"The grammar needs more than {limit} phrases to be covered; make it smaller."
            )

    for arc in network.arcs:
        if arc in unused:
            say([*path_to[arc.source], arc])
    while uncovered:
        before, after = next(iter(uncovered.values()))
        say([*path_to[before.source], before, after])
    return list(sentences)


def _distances_to_final(network: Network) -> dict[int, int]:
    entering: dict[int, list[int]] = defaultdict(list)
    for arc in network.arcs:
        entering[arc.target].append(arc.source)
    distance = dict.fromkeys(network.finals, 0)
    waiting = deque(network.finals)
    while waiting:
        state = waiting.popleft()
        for source in entering[state]:
            if source not in distance:
                distance[source] = distance[state] + 1
                waiting.append(source)
    return distance


def _shortest_paths(network: Network) -> dict[int, list[Arc]]:
    paths: dict[int, list[Arc]] = {network.start: []}
    waiting = deque([network.start])
    while waiting:
        state = waiting.popleft()
        for arc in network.leaving[state]:
            if arc.target not in paths:
                paths[arc.target] = [*paths[state], arc]
                waiting.append(arc.target)
    return paths
