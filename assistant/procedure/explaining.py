"""Says in the writer's words why a value does not fit its key, and what to write instead."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, get_args

from pydantic import ValidationError
from pydantic_core import ErrorDetails
from rapidfuzz import process

from assistant.procedure.model import Model, Procedure
from assistant.procedure.problems import Fault, Place

_LONGEST_SHOWN = 80


def faults(error: ValidationError) -> Iterator[Fault]:
    """Yield what is wrong with each value that the model refused, every unknown key with it."""
    found = error.errors()
    for fault in found:
        inner = len(fault["loc"])
        if fault["type"] == "too_short" and any(
            other is not fault and other["loc"][:inner] == fault["loc"] for other in found
        ):
            # The list is short only because its bad entries do not count; they are reported.
            continue
        yield tuple(fault["loc"]), _explained(fault)


def _explained(fault: ErrorDetails) -> str:
    kind, value = fault["type"], fault.get("input")
    where: Place = tuple(fault["loc"])
    if kind == "missing":
        return f"the key '{where[-1]}' is missing here"
    if kind == "extra_forbidden":
        return _unknown(where, value)
    if value is None:
        return "nothing is written here: write its value, or delete the key"
    message = _worded(fault, where)
    if message is not None:
        return message
    message = str(fault["msg"]).removeprefix("Value error, ")
    if isinstance(value, str | int | float) and repr(value) not in message:
        message += f", not {_shown(value)}"
    return message[0].lower() + message[1:]


def _worded(fault: ErrorDetails, where: Place) -> str | None:
    """Return our own words for the kinds of fault that people make; None for others."""
    kind, value = fault["type"], fault.get("input")
    shown = _shown(value) if isinstance(value, str | int | float) else "a list or keys of its own"
    match kind:
        case "tuple_type":
            return "expected a list: begin each entry with a dash, or put it in square brackets"
        case "model_type" | "dict_type" | "model_attributes_type":
            if isinstance(value, str) and re.match(r"[a-z_]+:\S", value):
                return f"write a space after the colon in {shown}"
            return f"expected keys under it{_such_as(where)}, not {shown}"
        case "string_type" if isinstance(value, Mapping):
            return "expected text: put it in quotes, because it has a colon or brackets in it"
        case "string_type" if isinstance(value, Sequence):
            return "expected one text: put it in quotes if it begins with a bracket"
        case "string_type":
            return f"expected text: put {shown} in quotes"
        case "int_parsing" | "int_type" | "int_from_float":
            return f"expected a whole number (an integer), such as 4, not {shown}"
        case "too_short":
            return "expected at least 1 entry, and the list has too few: add one or delete the key"
        case "string_too_long":
            most = fault["ctx"]["max_length"]
            return f"the text is too long: {most} characters at most. Put the rest elsewhere"
        case "literal_error" | "enum":
            expected = fault["ctx"]["expected"]
            more = (
                ". Look up the strength in its data sheet; a product's name can go into 'note'"
                if where[-1] == "strength"
                else ""
            )
            return f"expected {expected}, not {shown}{more}"
        case "string_pattern_mismatch":
            if "'" in fault["ctx"]["pattern"]:
                wanted = "words to be said aloud: letters, hyphens and whole numbers, and no marks"
            else:
                wanted = "a short name of small letters, digits and hyphens"
            return f"expected {wanted}, not {shown}"
    return None


def _unknown(where: Place, value: Any) -> str:
    key = str(where[-1])
    text = f"unknown key '{key}'; "
    if value is None and re.match(r"\d", key):
        return text + "if this is a number with a decimal comma, write a point, such as 8.5 N·m"
    if value is None and (" " in key or key[-1:] in ".?!"):
        return text + "if this is text with a comma in it, put the whole text in quotes"
    cls = _class_at(where[:-1])
    known = list(cls.model_fields) if cls else []
    near = process.extractOne(key, known, score_cutoff=60)
    if near:
        return f"{text}did you mean '{near[0]}'?"
    return text + "known keys are " + ", ".join(known)


def _such_as(where: Place) -> str:
    cls = _class_at(where)
    if cls is None:
        return ""
    needed = [name for name, field in cls.model_fields.items() if field.is_required()]
    if not needed:
        return ""
    return f" ({', '.join(needed)}), such as {{{', '.join(f'{name}: …' for name in needed)}}}"


def _class_at(where: Place) -> type[Model] | None:
    """Return the part of the model that the file holds at a place; None if it is no such part."""
    cls: type[Model] = Procedure
    for part in where:
        if isinstance(part, int):
            continue
        field = cls.model_fields.get(str(part))
        inner = next(_models(field.annotation), None) if field else None
        if inner is None:
            return None
        cls = inner
    return cls


def _models(hint: Any) -> Iterator[type[Model]]:
    if isinstance(hint, type) and issubclass(hint, Model):
        yield hint
    for inner in get_args(hint):
        yield from _models(inner)


def _shown(value: object) -> str:
    text = repr(value) if isinstance(value, str) else str(value)
    return text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 3] + "…"
