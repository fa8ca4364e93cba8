"""Values against limits: where the marks lie in the drawing, and what is said of them."""

from decimal import Decimal
from xml.etree import ElementTree

import pytest

from assistant.report import charts, svg

SVG = "{http://www.w3.org/2000/svg}"


def _drawn(
    value: str, least: str | None, most: str | None, asked: str | None = None
) -> tuple[svg.Drawing, ElementTree.Element]:
    numbers = [None if n is None else Decimal(n) for n in (value, least, most, asked)]
    assert numbers[0] is not None
    drawing = charts.against("x", "bore", numbers[0], "mm", *numbers[1:])
    return drawing, ElementTree.fromstring(drawing.alone)


def _disc(tree: ElementTree.Element) -> float:
    (disc,) = tree.findall(f"{SVG}circle")
    return float(disc.attrib["cx"])


def _limits(tree: ElementTree.Element) -> list[float]:
    lines = [p for p in tree.findall(f"{SVG}path") if p.attrib["class"] == "c-limit"]
    return [float(line.attrib["d"][1:].split()[0]) for line in lines]


@pytest.mark.parametrize(("value", "share"), [("24.95", 0), ("25.00", 0.5), ("25.04", 0.9)])
def test_a_value_lies_between_the_limits_as_it_does_in_numbers(value: str, share: float) -> None:
    drawing, tree = _drawn(value, "24.95", "25.05")
    low, high = _limits(tree)
    # Positions are written to a tenth of a pixel.
    assert _disc(tree) == pytest.approx(low + share * (high - low), abs=0.11)
    assert drawing.told == f"{value} mm keeps to 24.95 mm and 25.05 mm"


def test_a_value_outside_has_another_shape_and_another_word() -> None:
    drawing, tree = _drawn("25.06", "24.95", "25.05")
    assert not tree.findall(f"{SVG}circle")
    assert [p for p in tree.findall(f"{SVG}path") if p.attrib["class"] == "c-mark"]
    assert drawing.told == "25.06 mm is above 25.05 mm"


@pytest.mark.parametrize("value", ["-1e30", "1e30", "0", "1e-30"])
def test_nothing_is_drawn_beyond_the_edge(value: str) -> None:
    for least, most in (("24.95", "25.05"), (None, "0.5"), ("5", None), ("3", "3")):
        drawing, tree = _drawn(value, least, most)
        for element in tree.iter():
            for place in (element.attrib.get("d", "") or "").strip("MZ").split("L"):
                if place:
                    x, y = map(float, place.split())
                    assert -0.1 <= x <= drawing.width + 0.1 and -0.1 <= y <= drawing.height + 0.1


def test_one_limit_is_drawn_as_one() -> None:
    _, tree = _drawn("0.30", None, "0.5")
    (limit,) = _limits(tree)
    assert _disc(tree) < limit


def test_a_drawing_has_text_for_who_cannot_see_it() -> None:
    drawing, _ = _drawn("25.00", "24.95", "25.05")
    assert 'role="img" aria-labelledby="x-title x-desc"' in drawing.inline
    assert '<title id="x-title">bore</title>' in drawing.inline


def test_nothing_in_a_drawing_is_taken_as_markup() -> None:
    name = '</title><script>alert(1)</script> & "quoted"'
    drawing = charts.against("x", name, Decimal(1), name, Decimal(0), Decimal(2))
    assert "<script" not in drawing.inline
    assert "<script" not in svg.text(0, 0, name)
    ElementTree.fromstring(drawing.alone)


def test_the_bolts_that_were_called_out_are_full() -> None:
    drawing = charts.bolts("x", "cover bolt, pass 1 of 2", 14, (1, 8))
    discs = ElementTree.fromstring(drawing.alone).findall(f"{SVG}circle")
    full = [number for number, disc in enumerate(discs, 1) if disc.attrib["class"] == "c-good"]
    assert (len(discs), full) == (14, [1, 8])
    assert drawing.told == "called out: 1, 8 of 14"
    assert {disc.attrib["cy"] for disc in discs} == {"5.5", "16.5"}
