"""Values of a procedure as text in a cell, and back.

Each value is written as a person would write it, where that reads back as the same value; else as
JSON, so that nothing is lost: a text with two blanks in it, a list whose entries have semicolons.
A text in quotes is always taken word for word.
"""

from __future__ import annotations

import json
import re
from typing import Any

from assistant.authoring.layout import Kind
from assistant.errors import AssistantError
from assistant.procedure.table import ERRORS
from assistant.text import FORMULA, plain

LONGEST = 32_767
"""Characters that a cell of a workbook can hold."""
_BETWEEN = re.compile(r"\s*[;\n]\s*")
_YES, _NO = ("yes", "y", "true", "x", "✓", "✔"), ("no", "n", "false", "-", "–")


def written(value: Any, kind: Kind) -> str:
    """Return a value as the text of a cell; "" for None.

    Raises AssistantError for a value longer than a cell can be.
    """
    if value is None:
        return ""
    text = _plainly(value, kind)
    # What a spreadsheet would take for a formula is put in quotes too (OWASP, "CSV Injection").
    formula = kind != "amount" and text.startswith(FORMULA)
    whole = " ".join(plain(text).split()) == text and not formula
    if not text or not whole or text in ERRORS or read(text, kind) != value:
        # Readers of sheets make one blank of several.
        text = json.dumps(value, ensure_ascii=True).replace("  ", " \\u0020")
    if len(text) > LONGEST:
        raise AssistantError(
            f"A value is longer than a cell of a workbook can be ({LONGEST} characters): "
            f"{text[:40]}…"
        )
    return text


def _plainly(value: Any, kind: Kind) -> str:
    if kind == "yes or no" and isinstance(value, bool):
        return "yes" if value else "no"
    if kind == "pairs" and isinstance(value, dict):
        return "; ".join(f"{key}: {_either(wanted)}" for key, wanted in value.items())
    if kind in ("list", "order") and isinstance(value, list):
        return ("; " if kind == "list" else ", ").join(map(str, value))
    return json.dumps(value) if isinstance(value, dict | list) else str(value)


def _either(wanted: Any) -> str:
    return " | ".join(wanted) if isinstance(wanted, list) else str(wanted)


def read(text: str, kind: Kind) -> Any:
    """Return the value that the text of a cell stands for; None for nothing.

    What the text does not fit is given back as it is: the model tells what is wrong with it.
    """
    text = text.strip()
    if not text:
        return None
    if text[0] in '"[{':
        try:
            return json.loads(text)
        except (ValueError, RecursionError):
            pass
    if kind == "yes or no":
        low = text.casefold()
        return True if low in _YES else False if low in _NO else text
    if kind == "whole":
        return int(text) if re.fullmatch(r"\d{1,9}", text) else text
    if kind == "list":
        return [one for one in _BETWEEN.split(text) if one]
    if kind == "order" and re.fullmatch(r"\d{1,4}(\s*[,;\s]\s*\d{1,4})+", text):
        return [int(one) for one in re.findall(r"\d+", text)]
    if kind == "pairs":
        return _pairs(text)
    return text


def _pairs(text: str) -> Any:
    found: dict[str, Any] = {}
    for one in _BETWEEN.split(text):
        name, colon, wanted = (part.strip() for part in one.partition(":"))
        if not (name and colon and wanted):
            return text
        either = [part.strip() for part in wanted.split("|")]
        found[name] = either if len(either) > 1 else wanted
    return found
