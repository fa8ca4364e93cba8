"""A procedure as it is heard, printed: a page and a PDF with the same words.

What stands in it is made by `assistant.authoring.preview.data`.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from assistant.report import document, page
from assistant.report.document import Paper

_AT = datetime(2000, 1, 1, tzinfo=UTC)
"""The time in the file: the same procedure gives the same file."""


def html(data: Mapping[str, Any]) -> str:
    """Return the sheet as one page that needs nothing else."""
    return page.environment().get_template("preview.html.j2").render(**data)


def pdf(data: Mapping[str, Any], paper: Paper = "a4") -> bytes:
    """Return the sheet as a PDF.

    Raises AssistantError where the packages of the extra `pdf` are not installed.
    """
    size = {"paper": "us-letter" if paper == "letter" else "a4"}
    return document.typeset("preview.typ", {**data, **size}, _AT)
