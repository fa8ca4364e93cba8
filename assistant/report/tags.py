"""Tags for the bags of a job: a sheet of labels to print, each with a code that a phone reads.

The code is a QR code (ISO/IEC 18004) of the text that `dialogue.tag_codes` makes and reads back.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from markupsafe import Markup

from assistant.dialogue import bags, events
from assistant.dialogue.state import State
from assistant.dialogue.tag_codes import code
from assistant.errors import AssistantError
from assistant.procedure.model import Step
from assistant.report import page, wording
from assistant.report.model import Record


@dataclass(frozen=True)
class Sheet:
    """A sheet of labels, known by its geometry; lengths in mm."""

    paper: tuple[float, float]
    across: int
    down: int
    label: tuple[float, float]
    left: float
    """Margin before the first column."""
    top: float
    gap: float = 0
    """Between columns; rows touch."""

    @property
    def count(self) -> int:
        """How many labels are on it."""
        return self.across * self.down


# Common practice, no source: the sizes that sheets of labels are sold in. Letter's are in inches.
_IN = 25.4
_A4, _LETTER = (210.0, 297.0), (8.5 * _IN, 11 * _IN)
SHEETS = {
    "a4-3x8": Sheet(_A4, 3, 8, (70, 37), left=0, top=0.5),
    "a4-3x7": Sheet(_A4, 3, 7, (63.5, 38.1), left=7.25, top=15.15, gap=2.5),
    "a4-2x7": Sheet(_A4, 2, 7, (99.1, 38.1), left=4.65, top=15.15, gap=2.5),
    "a4-2x4": Sheet(_A4, 2, 4, (99.1, 67.7), left=4.65, top=13.1, gap=2.5),
    "letter-3x10": Sheet(
        _LETTER, 3, 10, (2.625 * _IN, _IN), left=0.1875 * _IN, top=0.5 * _IN, gap=0.125 * _IN
    ),
    "letter-2x5": Sheet(
        _LETTER, 2, 5, (4 * _IN, 2 * _IN), left=0.15625 * _IN, top=0.5 * _IN, gap=0.1875 * _IN
    ),
}


_CODE = 22
"""The side of a code in mm, at most; its dots are never under 0.4 mm."""


@dataclass(frozen=True)
class Tag:
    """What stands on the label of one bag."""

    bag: int
    contents: str
    where: str
    """The step it is from."""
    job: int
    title: str
    unit: str | None
    at: datetime | None
    """When it was said back; None for a bag that is yet to be filled."""
    by: str | None
    code: str


def tags(record: Record, state: State, uid: str, only: Sequence[int] = ()) -> list[Tag]:
    """Return the tags of a job's bags in the order of their numbers, or of `only` these bags.

    A bag that was said back has what was recorded in it; one that a step ahead asks for has what
    the procedure says. Raises AssistantError for a bag that the job does not have.
    """
    found = {step.bag: _tag(record, state, uid, step) for step in state.route() if step.bag}
    recorded = state.of_job(events.BagRecorded)
    for event in recorded:
        found.pop(event.asked or 0, None)
    for event in recorded:
        step = state.procedure.step(event.step or "")
        found[event.number] = _tag(record, state, uid, step, event)
    for bag in only:
        if bag not in found:
            known = ", ".join(map(str, sorted(found))) or "none"
            raise AssistantError(f"Job {record.job} has no bag {bag}. It has these: {known}.")
    return [found[bag] for bag in sorted(found) if not only or bag in only]


def _tag(
    record: Record, state: State, uid: str, step: Step, event: events.BagRecorded | None = None
) -> Tag:
    bag = event.number if event else step.bag or 0
    number = state.procedure.number(step.id)
    inside = (event and event.contents) or bags.contents(state.procedure, step)
    return Tag(
        bag=bag,
        contents=wording.contents(inside) or "see the step",
        where=f"step {number}, {state.procedure.stage_of(step.id).name}",
        job=record.job,
        title=record.title,
        unit=record.unit,
        at=event.at if event else None,
        by=event.by if event else None,
        code=code(uid, bag),
    )


def qr(text: str) -> Markup:
    """Return the QR code of a text as an SVG drawing without a size of its own."""
    try:
        import segno
    except ImportError:
        raise AssistantError(
            "The codes on the tags need one more package: pip install '.[pdf]'"
        ) from None
    out = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        out, kind="svg", xmldecl=False, border=1, omitsize=True, svgclass="qr", lineclass=None
    )
    return Markup(out.getvalue().decode())


def sheets(of: Sequence[Tag], sheet: Sheet, skip: int = 0) -> list[list[Tag | None]]:
    """Return the tags of each sheet; the first `skip` labels are left empty, for they are used.

    Raises AssistantError for more than the sheet has.
    """
    if not 0 <= skip < sheet.count:
        raise AssistantError(
            f"This sheet has {sheet.count} labels: --skip is 0 to {sheet.count - 1}."
        )
    places: list[Tag | None] = [None] * skip + list(of)
    return [places[at : at + sheet.count] for at in range(0, len(places), sheet.count)]


def html(of: Sequence[Tag], sheet: Sheet, skip: int = 0) -> str:
    """Return the labels as a page to print at full size, on the sheet, with no margins added."""
    return page.environment().get_template("tags.html.j2").render(**data(of, sheet, skip))


def shortened(text: str, sheet: Sheet) -> str:
    """Return the text cut to what a label has room for, with three dots where it was cut."""
    # At 7.5 pt a letter takes some 1.5 mm.
    across = (sheet.label[0] - _code_side(sheet) - 8) / 1.5
    most = int(across * _lines(sheet))
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def _lines(sheet: Sheet) -> int:
    """Return how many lines of contents a label has room for, of 3.2 mm; the rest takes 15."""
    return max(1, int((sheet.label[1] - 15) // 3.2))


def _code_side(sheet: Sheet) -> float:
    return min(sheet.label[0] / 3.7, sheet.label[1] - 4, _CODE)


def data(of: Sequence[Tag], sheet: Sheet, skip: int = 0) -> dict[str, Any]:
    """Return the labels as the page and `assistant.report.document.typeset` take them."""
    return {
        "title": f"Tags of job {of[0].job}" if of else "Tags",
        "sheet": {**vars(sheet), "side": _code_side(sheet), "lines": _lines(sheet)},
        "sheets": [
            [
                tag
                and {
                    **{name: getattr(tag, name) or "" for name in ("title", "unit", "where", "by")},
                    "bag": str(tag.bag),
                    "job": str(tag.job),
                    "contents": shortened(tag.contents, sheet),
                    "at": f"{tag.at:%Y-%m-%d}" if tag.at else "",
                    "code": tag.code,
                    "qr": qr(tag.code),
                }
                for tag in places
            ]
            for places in sheets(of, sheet, skip)
        ],
    }
