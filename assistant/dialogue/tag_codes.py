"""The text of the code on a bag's tag: which job's bag it is.

Plain text, `bench:job/<uid>/bag/3`: nothing that a phone would open by itself.
"""

from __future__ import annotations

import re

from assistant.errors import AssistantError

START = "bench:job/"
"""What every code begins with."""


def code(uid: str, bag: int) -> str:
    """Return the text of a bag's code."""
    return f"{START}{uid}/bag/{bag}"


def scanned(text: str) -> tuple[str, int]:
    """Return the uid of the job and the bag's number from the text of a code.

    Raises AssistantError for any other text.
    """
    match = re.fullmatch(START + r"([0-9a-f-]{36})/bag/([1-9]\d{0,2})", text)
    if match is None:
        raise AssistantError("That is not the code of a bag.")
    return match[1], int(match[2])
