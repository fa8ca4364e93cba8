"""Makes the README's picture of a job record again: `python -m tests.report.picture`.

It needs Chromium, and Pillow (in the extra `dev`).
"""

from __future__ import annotations

import io
import tempfile
from pathlib import Path

import pypdfium2
from PIL import Image

from assistant.report import document
from assistant.report import page as record_page
from tests.report.overhaul import Overhaul
from tests.web import browser as browsers

PICTURE = Path(__file__).resolve().parents[2] / ".pictures" / "record.png"
VIEW = {"width": 1000, "height": 1414}
PANEL = (560, 792)
"""Of the shape of A4."""
PAGES = (1, 3)
"""Of the PDF, from 0: the time line, and the tightening."""


def make() -> None:
    """Write the picture: the head of an overhaul's record as a page, and pages of its PDF."""
    with tempfile.TemporaryDirectory() as folder:
        overhaul = Overhaul(Path(folder) / "journal.db")
        file = Path(folder) / "record.html"
        file.write_text(record_page.html(overhaul.record(), overhaul.clips), encoding="utf-8")
        with browsers.chromium() as browser, browsers.page(browser, viewport=VIEW) as page:
            page.goto(file.as_uri())
            page.wait_for_load_state("networkidle")
            panels = [Image.open(io.BytesIO(page.screenshot()))]
        printed = pypdfium2.PdfDocument(document.pdf(overhaul.record()))
        panels += [printed[number].render(scale=2).to_pil() for number in PAGES]
        overhaul.bench.journal.close()
    picture = Image.new("RGB", (len(panels) * (PANEL[0] + 10) - 10, PANEL[1]), "#8a8f93")
    for number, panel in enumerate(panels):
        picture.paste(panel.convert("RGB").resize(PANEL), (number * (PANEL[0] + 10), 0))
    PICTURE.parent.mkdir(exist_ok=True)
    picture.quantize(96, Image.Quantize.FASTOCTREE).save(PICTURE, optimize=True)
    print(PICTURE, PICTURE.stat().st_size)


if __name__ == "__main__":
    make()
