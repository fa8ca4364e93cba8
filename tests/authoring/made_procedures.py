"""Procedures of any shape, made from the model: what the property tests put through sheets.

They hold whatever the model takes, also texts that a spreadsheet would make something of. Whether
they make sense at a bench is not asked; only steps have names of their own.
"""

from __future__ import annotations

import types
from datetime import date
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from assistant.procedure import model
from assistant.procedure.model import Model, Procedure

TRICKY = (
    "=1+1", "-5 °C at most", "3-4", "8.8", "007", "TRUE", "#N/A", '"quoted"', "{a: b}", "[x]",
    "one; two", "a  b", "a\nb", "  x", "yes", "'tis", "1e5", "x: y", "a | b", "@home", "% done",
    "null", "~", "- item", "0x1F", "2026-03-04", "\u202eabc", "a\tb", "“tight”", "ß µ Ω", "=",
    "\x0b1", "no", "1,5", "_x000D_", "&amp;<b>", "\ufeffx", "a\u00a0b",
)  # fmt: skip
"""Texts that a spreadsheet, YAML or a careless reader makes something else of."""

_texts = (
    st.sampled_from(TRICKY)
    | st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12)
    | st.from_regex(r"[A-Z][a-z ]{3,20}\.", fullmatch=True)
)
_words = st.from_regex(r"[a-z][a-z' -]{0,12}", fullmatch=True)
_names = st.from_regex(r"[a-z0-9][a-z0-9-]{0,8}", fullmatch=True)
_amounts = st.builds(
    "{} {}".format,
    st.decimals(-999, 999, places=2).map(str) | st.integers(0, 99).map(str),
    st.sampled_from(("N·m", "mm", "ft lb", "°C", "min", "bar", "°", "l")),
)


def _strategy(annotation: Any) -> st.SearchStrategy[Any]:
    """Return values for a key of the model, as its file could have them."""
    if annotation == model.Amount:
        return _amounts
    if annotation == model.Unit:
        return st.sampled_from(("N·m", "mm", "bar", "l"))
    if annotation in (model.Words, model.Ident):
        return _words if annotation == model.Words else _names
    origin, inner = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _strategy(inner[0])
    if origin is Literal:
        return st.sampled_from(inner)
    if origin in (Union, types.UnionType):
        return st.one_of(*(_strategy(one) for one in inner if one is not types.NoneType))
    if origin is tuple:
        return st.lists(_strategy(inner[0]), min_size=1, max_size=3)
    if origin is dict:
        return st.dictionaries(_strategy(inner[0]), _strategy(inner[1]), min_size=1, max_size=2)
    if isinstance(annotation, type) and issubclass(annotation, model.Quantity):
        return _amounts
    if isinstance(annotation, type) and issubclass(annotation, Model):
        return _models(annotation)
    if isinstance(annotation, type) and issubclass(annotation, model.Signal):
        return st.sampled_from([one.value for one in annotation])
    simple: dict[Any, st.SearchStrategy[Any]] = {
        bool: st.booleans(),
        int: st.integers(1, 40),
        str: _texts,
        date: st.dates().map(str),
        model.Decimal: st.decimals(1, 20, places=1).map(str),
        Any: _texts | st.integers() | st.lists(_texts, max_size=2),
    }
    return simple[annotation]


@st.composite
def _models(draw: Any, of: type[Model]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    hints = _hints(of)
    for name, field in of.model_fields.items():
        if name == "unwritten":  # only the program writes it
            continue
        if field.is_required() or draw(st.integers(0, 3)) == 0:
            found[name] = draw(_valid(of, name, _strategy(hints[name])))
    return found


def _hints(of: type[Model]) -> dict[str, Any]:
    """Return the types of a model's keys with what they are checked by."""
    import typing

    return typing.get_type_hints(of, include_extras=True)


def _valid(of: type[Model], name: str, values: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Return those of the values that the model takes for a key."""
    hint = _hints(of)[name]
    field = of.model_fields[name]
    metadata = tuple(field.metadata)
    adapter: TypeAdapter[Any] = TypeAdapter(Annotated[(hint, *metadata)] if metadata else hint)

    def taken(value: Any) -> bool:
        try:
            adapter.validate_python(value)
        except ValidationError:
            return False
        return True

    return values.filter(taken)


@st.composite
def _wholes(draw: Any) -> Procedure:
    tree = draw(_models(Procedure))
    number = 0
    for stage in tree["stages"]:
        for step in stage["steps"]:
            step["id"] = f"{step['id'][:50]}-{number}"
            number += 1
    try:
        return Procedure.model_validate(tree)
    except ValidationError:
        from hypothesis import reject

        reject()


procedures = _wholes()
