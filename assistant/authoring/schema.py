"""The JSON Schema (2020-12) of a procedure file, made from the model, for the editors of writers.

An editor completes keys by it, shows what each means, and marks what does not fit while it is
typed. It tells less than `check`: what depends on other parts of the file is no matter of a schema.
A file as it stands is described, so a quantity is text such as `14 N·m`.
"""

from __future__ import annotations

import json
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from assistant.procedure import fragments, model, reference

DIALECT = "https://json-schema.org/draft/2020-12/schema"
FILE = "procedure.schema.json"
"""What the schema's file is called where nothing else is said."""
NAME, ABOUT = "procedure", "a procedure file, for the editor that it is written in"
LINE = f"yaml-language-server: $schema={FILE}"
"""The comment at the top of a YAML file by which editors find its schema, in the same folder."""


class _AsWritten(GenerateJsonSchema):
    """Describes what stands in a file and not what is made of it."""

    def str_schema(self, schema: core_schema.StringSchema) -> JsonSchemaValue:
        found = super().str_schema(schema)
        if schema.get("coerce_numbers_to_str"):
            found["type"] = ["string", "number"]
        return found

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        """Leave out null: a key with nothing behind it is one that is not written yet."""
        return self.generate_inner(schema["schema"])


def procedure() -> dict[str, Any]:
    """Return the schema of a procedure file, with a sentence or two for each key."""
    schema = model.Procedure.model_json_schema(schema_generator=_AsWritten)
    defined = schema["$defs"]
    defined["Include"] = fragments.Include.model_json_schema()
    defined["Stage"]["properties"]["steps"]["items"] = {
        "if": {"type": "object", "required": ["include"]},
        "then": {"$ref": "#/$defs/Include"},
        "else": {"$ref": "#/$defs/Step"},
    }
    parts: list[type[model.Model]] = [*reference.classes(), fragments.Include]
    for cls in parts:
        described = schema if cls is model.Procedure else defined[cls.__name__]
        _describe(described, cls)
    for name in reference.OURS & schema["properties"].keys():
        del schema["properties"][name]
    kept = {cls.__name__ for cls in parts}
    kept.add(model.Signal.__name__)
    schema["$defs"] = {name: one for name, one in defined.items() if name in kept}
    return {"$schema": DIALECT, **schema}


def _describe(described: dict[str, Any], cls: type[model.Model]) -> None:
    """Put in what each key means, and leave out what says nothing to a reader."""
    for key, written in described["properties"].items():
        written.pop("title", None)
        if written.get("default", "") in (None, [], {}):
            del written["default"]
        if key not in reference.OURS:
            written["description"] = reference.meaning(cls, key)


def text() -> str:
    """Return the schema as a file's text."""
    return json.dumps(procedure(), ensure_ascii=False, indent=1) + "\n"
