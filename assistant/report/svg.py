"""Small drawings as SVG that stand in a page: no script, no style of their own, nothing fetched.

Shapes have classes, and whoever shows the drawing gives these their colours: the page for light,
dark and print, `Drawing.alone` for one that is a file by itself.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from markupsafe import Markup

from assistant.text import plain

_PAPER = (
    ".c-line{stroke:#8a8f93;stroke-width:1;fill:none}"
    ".c-grid{stroke:#d8d9d6;stroke-width:1;fill:none}"
    ".c-band{fill:#cfe3d6}.c-limit{stroke:#1d5a35;stroke-width:1.5;fill:none}"
    ".c-work{fill:#21414d}.c-quiet{fill:#c3d0d5}"
    ".c-by{fill:#fff;stroke:#21414d;stroke-width:1.2;stroke-dasharray:3 2}"
    ".c-open{fill:none;stroke:#8a8f93}.c-good{fill:#1c2024}.c-mark{fill:#8a2a00}.c-fix{fill:#21414d}"
    "text{fill:#333;font:10px 'DejaVu Sans Mono'}"
)


def rect(kind: str, x: float, y: float, width: float, height: float) -> Markup:
    """Return a rectangle."""
    shape = '<rect class="{}" x="{:.1f}" y="{:.1f}" width="{:.1f}" height="{:.1f}"/>'
    return Markup(shape).format(kind, x, y, width, height)


def line(kind: str, x: float, y: float, to_x: float, to_y: float) -> Markup:
    """Return a straight line."""
    shape = '<path class="{}" d="M{:.1f} {:.1f}L{:.1f} {:.1f}"/>'
    return Markup(shape).format(kind, x, y, to_x, to_y)


def circle(kind: str, x: float, y: float, radius: float) -> Markup:
    """Return a disc."""
    return Markup('<circle class="{}" cx="{:.1f}" cy="{:.1f}" r="{:.1f}"/>').format(
        kind, x, y, radius
    )


def polygon(kind: str, points: Iterable[tuple[float, float]]) -> Markup:
    """Return a filled shape."""
    path = "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    return Markup('<path class="{}" d="M{}Z"/>').format(kind, path)


def text(x: float, y: float, words: str, anchor: str = "start") -> Markup:
    """Return a text on its base line; `anchor` is start, middle or end."""
    shape = '<text x="{:.1f}" y="{:.1f}" text-anchor="{}">{}</text>'
    return Markup(shape).format(x, y, anchor, plain(words))


@dataclass(frozen=True)
class Drawing:
    """A whole drawing, of a size in pixels, with its text for who cannot see it."""

    name: str
    """The page's only one, and fit to be an id."""
    width: float
    height: float
    title: str
    told: str
    shapes: tuple[Markup, ...]

    @property
    def inline(self) -> Markup:
        """As it stands in a page, which gives the classes their colours."""
        head = (
            '<svg class="chart" role="img" aria-labelledby="{0}-title {0}-desc" '
            'viewBox="0 0 {1:.0f} {2:.0f}" width="{1:.0f}" height="{2:.0f}">'
            '<title id="{0}-title">{3}</title><desc id="{0}-desc">{4}</desc>'
        )
        begun = Markup(head).format(
            self.name, self.width, self.height, plain(self.title), plain(self.told)
        )
        return begun + Markup().join(self.shapes) + Markup("</svg>")

    @property
    def alone(self) -> str:
        """As a file by itself, in colours for paper."""
        size = f"0 0 {self.width:.0f} {self.height:.0f}"
        begun = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{size}"><style>{_PAPER}</style>'
        return begun + "".join(self.shapes) + "</svg>"
