"""What checking found as SARIF 2.1.0, the format in which editors and CI show such results.

Static Analysis Results Interchange Format, OASIS Standard, 27 March 2020.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from urllib.parse import quote

from assistant.authoring.checks import Checked, uri
from assistant.procedure.problems import RULES, Severity

_SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)


def log(of: Iterable[Checked], version: str) -> dict[str, Any]:
    """Return a SARIF log of one run; `version` is this program's."""
    rules = {name: number for number, name in enumerate(RULES)}
    results = [
        {
            "ruleId": one.rule,
            "ruleIndex": rules[one.rule],
            "level": _level(one.severity),
            "message": {"text": one.text},
            "locations": [
                {
                    "physicalLocation": {
                        "artifactLocation": {"uri": _address(one.source or checked.source)},
                        "region": {"startLine": one.line},
                    }
                }
            ],
        }
        for checked in of
        for one in checked.problems
    ]
    driver = {
        "name": "assistant check",
        "version": version,
        "rules": [
            {"id": name, "shortDescription": {"text": about}} for name, about in RULES.items()
        ],
    }
    return {
        "$schema": _SCHEMA,
        "version": "2.1.0",
        "runs": [
            {"tool": {"driver": driver}, "columnKind": "unicodeCodePoints", "results": results}
        ],
    }


def _level(severity: Severity) -> str:
    """Return the level of a result (3.27.10), which has the same three words as ours."""
    return str(severity)


def _address(source: str) -> str:
    found = uri(source)
    return found if found.startswith("file:") else quote(found)
