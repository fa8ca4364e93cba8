"""How what is handed to other programs is laid out: JSON Schema (2020-12), kept as files.

The files are made from the models, and kept so that a change shows: `python -m
assistant.report.layouts` writes them again, and the tests fail where they differ. Where one
changes, raise `model.VERSION`.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from assistant.dialogue.events import EVENT
from assistant.errors import AssistantError
from assistant.report.lists import LISTS, layout
from assistant.report.model import VERSION, Record

FOLDER = Path(__file__).with_name("schemas")
_DIALECT = "https://json-schema.org/draft/2020-12/schema"


def names() -> dict[str, str]:
    """Return the names of the schemas, each with what prints what is laid out so."""
    found = {"record": "report JOB --json", "event": "log JOB --json, each line"}
    return found | {name: f"report JOB --list {name} --json, or --csv" for name in LISTS}


def read(name: str) -> dict[str, Any]:
    """Return the schema of that name. Raises AssistantError for one that there is not."""
    if name not in names():
        raise AssistantError(f"There is no schema {name!r}: it is one of {', '.join(names())}.")
    found: dict[str, Any] = json.loads(_file(name).read_text(encoding="utf-8"))
    return found


def made(name: str) -> dict[str, Any]:
    """Return the schema as the models have it now."""
    if name == "event":
        inner = EVENT.json_schema(mode="serialization")
        # The log leaves the procedure's text out; an export has it.
        for kind in ("JobOpened", "RevisionOffered"):
            inner["$defs"][kind]["required"].remove("source")
    else:
        of: type[BaseModel] = Record if name == "record" else layout(name)
        inner = of.model_json_schema(mode="serialization")
    return {"$schema": _DIALECT, "$id": f"urn:bench-assistant:{name}:{VERSION}"} | inner


def _file(name: str) -> Path:
    return FOLDER / f"{name}.json"


def _write_all() -> None:
    for name in names():
        text = json.dumps(made(name), indent=1, ensure_ascii=False)
        _file(name).write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    _write_all()
