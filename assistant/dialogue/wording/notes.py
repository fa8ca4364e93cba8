"""Notes that are played, or said where their sound cannot be heard."""

from __future__ import annotations

from assistant.dialogue.wording.quantities import count, figures, sentence

NONE_HERE = "There is no note with this. Say note, and your own words, to keep one."
NO_SOUND = "Its sound is not kept."
UNREADABLE = "Its sound cannot be read."
NOT_PLAYED = "It cannot be played here."
NO_TRANSCRIPT = "There is no transcript of it. Hear it in the report of the job."


def spoken(number: int) -> str:
    """Say that notes were spoken, and follow."""
    return "A spoken note." if number == 1 else sentence(f"{count(number)} spoken notes")


def transcript(text: str) -> str:
    """Say what a recogniser made of a note, or that none did, where `text` is blank."""
    words = " ".join(text.split())
    if not words:
        return NO_TRANSCRIPT
    return sentence(f"as it was heard, and nobody has checked: {figures(words)}")
