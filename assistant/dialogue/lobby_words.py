"""What can be said between jobs, and what it means.

The grammar is made from the open jobs and the procedures that there are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from assistant.audio.manner import Change
from assistant.dialogue import intents, live, vocabulary
from assistant.dialogue.lobby import UNWRITTEN, Lobby, NewJob, Procedure, TakeUp, WhichJobs
from assistant.dialogue.state import Mode
from assistant.dialogue.understanding import plain_word, typed_words
from assistant.grammar import jsgf, numbers


def grammar(lobby: Lobby) -> jsgf.Grammar:
    """Return the grammar of what can be said; of numbers only those of open jobs."""
    if lobby.standing_by:
        return live.few_words(Mode.STANDING_BY)
    return live.joined(
        ("lobby",),
        (
            ("open_number", vocabulary.any_of(_numbers(lobby))),
            ("procedure", vocabulary.any_of(_procedures(lobby))),
            ("technician", vocabulary.any_of(name.lower() for name in lobby.technicians)),
        ),
    )


def _numbers(lobby: Lobby) -> dict[str, int]:
    """Return the ways to say each open job's number: "twelve" and "one two"."""
    ways = (numbers.spell_digits, numbers.cardinal)
    return {way(job.number): job.number for job in lobby.jobs for way in ways}


def _procedures(lobby: Lobby) -> dict[str, str]:
    """Return each name of a procedure with its first name; a name that two have is the first's.

    The word for a job without a procedure is among them.
    """
    named = {name: names[0] for names in reversed(lobby.procedures) for name in names}
    return named | {UNWRITTEN: UNWRITTEN}


def understand(words: Sequence[str], lobby: Lobby) -> intents.Intent | None:
    """Return what the words mean between jobs; None where they mean nothing."""
    tree = grammar(lobby).parse_first(words)
    command = next((c for c in tree.children if isinstance(c, jsgf.Node)), None) if tree else None
    return None if command is None else _MEANINGS[command.rule](command, lobby)


def understand_typed(text: str, lobby: Lobby) -> intents.Intent | None:
    """Return what a typed line means; None where it means nothing."""
    words = typed_words(text[:200])
    return plain_word(words) or understand(words, lobby)


def _take_up(node: jsgf.Node, lobby: Lobby) -> intents.Intent:
    said = node.find("open_number")
    return TakeUp(_numbers(lobby)[" ".join(said.words())] if said else 0)


def _named(node: jsgf.Node, lobby: Lobby) -> str | None:
    said = node.find("procedure")
    return _procedures(lobby)[" ".join(said.words())] if said else None


def _speak(node: jsgf.Node, lobby: Lobby) -> intents.Intent:
    return intents.Speak(next(Change(tag) for inner in node.walk() for tag in inner.tags))


def _signed_on(node: jsgf.Node, lobby: Lobby) -> intents.Intent:
    said = node.find("technician")
    words = " ".join(said.words()) if said else ""
    return intents.SignOn(next(name for name in lobby.technicians if name.lower() == words))


_MEANINGS: dict[str, Callable[[jsgf.Node, Lobby], intents.Intent]] = {
    "which_jobs": lambda node, lobby: WhichJobs(),
    "take_up": _take_up,
    "new_job": lambda node, lobby: NewJob(_named(node, lobby)),
    "procedure_named": lambda node, lobby: Procedure(_named(node, lobby) or ""),
    "affirm": lambda node, lobby: intents.Affirm(),
    "negative": lambda node, lobby: intents.Negative(),
    "disregard": lambda node, lobby: intents.Disregard(),
    "say_again": lambda node, lobby: intents.SayAgain(),
    "help": lambda node, lobby: intents.Help(),
    "speak": _speak,
    "sign_on": _signed_on,
    "stand_by": lambda node, lobby: intents.StandBy(),
    "resume": lambda node, lobby: intents.Resume(),
}
"""For each rule under <command> in lobby.gram, what it means."""
