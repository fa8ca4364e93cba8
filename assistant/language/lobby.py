"""What can be said between jobs: the grammar, made from the open jobs and the procedures."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from assistant.language import jsgf, live, numbers
from assistant.language.understanding import typed_words
from assistant.session import intents as it
from assistant.session.lobby import Lobby, NewJob, Procedure, TakeUp, WhichJobs


def grammar(lobby: Lobby) -> jsgf.Grammar:
    """Return the grammar of what can be said there; numbers are those of the open jobs alone."""
    if lobby.standing_by:
        return live.fixed("standby")
    return live.joined(
        ("lobby",),
        (
            ("open_number", live.any_of(_numbers(lobby))),
            ("procedure", live.any_of(_procedures(lobby))),
            ("technician", live.any_of(name.lower() for name in lobby.technicians)),
        ),
    )


def _numbers(lobby: Lobby) -> dict[str, int]:
    """Return the ways to say each open job's number: "twelve" and "one two"."""
    ways = (numbers.spell_digits, numbers.cardinal)
    return {way(job.number): job.number for job in lobby.jobs for way in ways}


def _procedures(lobby: Lobby) -> dict[str, str]:
    """Return what each procedure may be called, and its first name; the first of a name has it."""
    return {name: names[0] for names in reversed(lobby.procedures) for name in names}


def understand(words: Sequence[str], lobby: Lobby) -> it.Intent | None:
    """Return what the words mean there, or None."""
    tree = grammar(lobby).parse_first(words)
    command = next((c for c in tree.children if isinstance(c, jsgf.Node)), None) if tree else None
    return None if command is None else _MEANINGS[command.rule](command, lobby)


def understand_typed(text: str, lobby: Lobby) -> it.Intent | None:
    """Return what a typed line means."""
    return understand(typed_words(text[:200]), lobby)


def _take_up(node: jsgf.Node, lobby: Lobby) -> it.Intent:
    said = node.find("open_number")
    return TakeUp(_numbers(lobby)[" ".join(said.words())] if said else 0)


def _named(node: jsgf.Node, lobby: Lobby) -> str | None:
    said = node.find("procedure")
    return _procedures(lobby)[" ".join(said.words())] if said else None


def _speak(node: jsgf.Node, lobby: Lobby) -> it.Intent:
    return it.Speak(next(it.Change(tag) for inner in node.walk() for tag in inner.tags))


def _signed_on(node: jsgf.Node, lobby: Lobby) -> it.Intent:
    said = node.find("technician")
    words = " ".join(said.words()) if said else ""
    return it.SignOn(next(name for name in lobby.technicians if name.lower() == words))


_MEANINGS: dict[str, Callable[[jsgf.Node, Lobby], it.Intent]] = {
    "which_jobs": lambda node, lobby: WhichJobs(),
    "take_up": _take_up,
    "new_job": lambda node, lobby: NewJob(_named(node, lobby)),
    "procedure_named": lambda node, lobby: Procedure(_named(node, lobby) or ""),
    "affirm": lambda node, lobby: it.Affirm(),
    "negative": lambda node, lobby: it.Negative(),
    "disregard": lambda node, lobby: it.Disregard(),
    "say_again": lambda node, lobby: it.SayAgain(),
    "help": lambda node, lobby: it.Help(),
    "speak": _speak,
    "sign_on": _signed_on,
    "stand_by": lambda node, lobby: it.StandBy(),
    "resume": lambda node, lobby: it.Resume(),
}
"""For each rule under <command> in lobby.gram, what it means."""
