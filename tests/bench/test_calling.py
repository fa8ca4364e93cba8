"""Grammars with a call word, and words that make a bad one."""

from datetime import UTC, datetime

import pytest

from assistant.audio import pcm
from assistant.bench.addressing import without_call
from assistant.bench.calling import CALLED, call_word, with_call_word
from assistant.dialogue import decide, intents, live, understanding
from assistant.dialogue import state as job_state
from assistant.errors import AssistantError
from assistant.grammar import jsgf
from assistant.procedure import reading
from assistant.recognition.call_word import doubts
from assistant.recognition.lexicon import Lexicon
from assistant.recognition.recogniser import hear_all
from assistant.recognition.sphinx import PocketSphinx
from tests.bench_helpers import SMALL
from tests.benchmark import voices

WORD = ("bench",)


@pytest.fixture(scope="module")
def state() -> job_state.State:
    procedure = reading.parse(SMALL, "small.yaml")
    opened = decide.open_job(procedure, SMALL, datetime(2031, 3, 4, 9, tzinfo=UTC))
    return job_state.replay(procedure, list(opened.events))


@pytest.mark.parametrize("mode", ["working", "standing by", "noting", "skipping"])
def test_every_sentence_is_called_and_none_without_the_word(
    state: job_state.State, mode: str
) -> None:
    plain = (
        live.working_grammar(state) if mode == "working" else live.few_words(job_state.Mode(mode))
    )
    called, optional = (with_call_word(plain, WORD, each) for each in (False, True))
    sentences = jsgf.cover(plain.network(), garbage="whatever")
    assert sentences
    for sentence in sentences[:200]:
        words = tuple(sentence.split())
        assert called.network().accepts((*WORD, *words))
        assert optional.network().accepts((*WORD, *words))
        assert optional.network().accepts(words)
        assert not called.network().accepts(words)
    for grammar in (called, optional):
        assert grammar.network().accepts(WORD)
        assert grammar.words() == plain.words() | {"bench"}
    if mode != "noting":  # There anything may be said.
        assert not called.network().accepts(("bench", "bench", *words))


def test_what_is_called_means_what_it_means_without_the_word(state: job_state.State) -> None:
    grammar = with_call_word(live.working_grammar(state), WORD, False)
    words = ("bench", "order", "two", "drain", "plugs")
    tree = grammar.parse_first(words)
    assert tree is not None and tree.rule == CALLED
    (command,) = tree.find_all("command")
    assert command.words() == words[1:]
    rest, was_called = without_call(words, WORD)
    assert was_called
    assert understanding.understand(rest, state) == intents.Order("drain plug", 2)


def test_the_word_has_its_share_of_probability(state: job_state.State) -> None:
    for optional, share in ((False, 1.0), (True, 0.5)):
        network = with_call_word(live.working_grammar(state), WORD, optional).network().compact()
        (call,) = [arc for arc in network.leaving[network.start] if arc.word == "bench"]
        # Rules that are void at this step take a little of it along.
        assert call.probability == pytest.approx(share, abs=0.01)


def test_it_is_made_once_for_each_grammar(state: job_state.State) -> None:
    grammar = live.working_grammar(state)
    assert with_call_word(grammar, WORD, True) is with_call_word(grammar, WORD, True)
    assert with_call_word(grammar, WORD, True) is not with_call_word(grammar, WORD, False)
    assert with_call_word(grammar, WORD, True) is not with_call_word(grammar, ("shop",), True)
    # The grammar itself can be said as before.
    assert grammar.network().accepts(("say", "again"))


def test_a_call_word_of_several_words(state: job_state.State) -> None:
    grammar = with_call_word(live.working_grammar(state), call_word("Hello  Workshop"), False)
    assert grammar.network().accepts(("hello", "workshop", "say", "again"))
    assert not grammar.network().accepts(("hello", "say", "again"))


@pytest.mark.parametrize("text", ["", "  ", "r2d2", "one two three four", "<part>", "a|b", "-"])
def test_what_is_no_call_word(text: str) -> None:
    with pytest.raises(AssistantError, match="no call word"):
        call_word(text)


@pytest.mark.parametrize(
    ("word", "expected"),
    [
        ("bench", []),
        ("workbench", []),
        ("computer", []),
        ("hey", ["short syllable", "sounds like “say”"]),
        ("beg", ["short syllable", "sounds like “bag”"]),
        ("nest", ["sounds like “next”"]),
        ("circlip", ["also begins a command"]),
        ("hello drain", ["also begins a command"]),
    ],
)
def test_what_makes_a_bad_call_word(state: job_state.State, word: str, expected: list[str]) -> None:
    told = list(doubts(call_word(word), live.working_grammar(state), Lexicon()))
    assert len(told) == len(expected)
    for text, part in zip(told, expected, strict=True):
        assert part in text and "--call-word" in text


@pytest.mark.parametrize(
    ("said", "called", "optional"),
    [
        ("bench what torque", ("bench", "what", "torque"), ("bench", "what", "torque")),
        ("bench", ("bench",), ("bench",)),
        ("what torque", None, ("what", "torque")),
    ],
)
def test_the_fast_listener_hears_it(
    state: job_state.State,
    said: str,
    called: tuple[str, ...] | None,
    optional: tuple[str, ...],
) -> None:
    sound = pcm.Pcm(voices.speak(said, "heart", pause_s=0.3))
    listener = PocketSphinx()
    for is_optional, expected in ((False, called), (True, optional)):
        listener.listen_for(with_call_word(live.working_grammar(state), WORD, is_optional))
        hearing = hear_all(listener, sound)
        assert (hearing.words if hearing.accepted else None) == expected, hearing
