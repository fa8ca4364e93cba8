"""Guides for reading: as HTML, as a page that needs no other file, and as text for a terminal.

Two kinds of fenced blocks are our own. ``dialogue`` is set as a conversation; ``console`` holds
commands. The tests run both, see `tests/test_documents.py`.
"""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import MutableMapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markdown_it import MarkdownIt
from markupsafe import Markup, escape

from assistant.guide.guides import Guide

if TYPE_CHECKING:
    from markdown_it.renderer import RendererHTML
    from markdown_it.token import Token

_FOLDER = Path(__file__).parent
_TO_A_GUIDE = re.compile(r"\[(?P<text>[^\]]+)\]\((?P<name>[a-z-]+)\.md(?P<place>#[\w-]+)?\)")

_DIALOGUE = re.compile(r"^```dialogue[^\n]*\n(?P<said>.*?)^```\n", re.DOTALL | re.MULTILINE)
_EDGES = 2
"""Columns that rich leaves free beside a fenced block."""


@dataclass(frozen=True)
class Article:
    """A guide as HTML."""

    body: Markup
    contents: tuple[tuple[str, str], ...]
    """The sections, each as its id and its title."""


def article(guide: Guide, root: str | None = None) -> Article:
    """Return the guide as HTML. Links to other guides lead to `root` and the guide's name.

    Without a root there is nowhere to lead to, and the command that shows the guide is named.
    """
    renderer = _markdown()
    tokens = renderer.parse(_linked(guide.markdown, root))
    contents = []
    for token, inline in pairwise(tokens):
        if token.type == "heading_open" and token.tag in ("h2", "h3"):
            identifier = "-".join(re.findall(r"[a-z0-9]+", inline.content.lower()))
            token.attrSet("id", identifier)
            if token.tag == "h2":
                contents.append((identifier, inline.content.replace("`", "")))
    html: str = renderer.renderer.render(tokens, renderer.options, {})
    return Article(Markup(html), tuple(contents))


def page(guide: Guide) -> str:
    """Return the guide as a page that needs no other file."""
    shown = article(guide)
    return _environment().get_template("page.html.j2").render(guide=guide, article=shown, css=css())


def css() -> Markup:
    """Return the style of a guide, on a page of its own and on the board."""
    return Markup((_FOLDER / "guide.css").read_text(encoding="utf-8"))


def text(guide: Guide, width: int) -> str:
    """Return the guide as plain text, its lines at most `width` characters long."""
    from rich.console import Console
    from rich.markdown import Markdown

    out = io.StringIO()
    console = Console(file=out, width=width, color_system=None, legacy_windows=False)
    markdown = _DIALOGUE.sub(
        lambda block: f"```\n{_set(block['said'], width - _EDGES)}\n```\n",
        _linked(guide.markdown, None),
    )
    console.print(Markdown(markdown, hyperlinks=False))
    return "\n".join(line.rstrip() for line in out.getvalue().splitlines()) + "\n"


def spoken_lines(dialogue: str) -> list[tuple[str, str]]:
    """Return the lines of a dialogue as (who, what is said); an indented line goes on."""
    lines: list[tuple[str, str]] = []
    for line in dialogue.splitlines():
        who, colon, said = line.partition(":")
        if colon and who in ("technician", "assistant"):
            lines.append((who, said.strip()))
        elif lines and line.strip():
            lines[-1] = (lines[-1][0], f"{lines[-1][1]} {line.strip()}")
        elif line.strip():
            raise ValueError(f"nobody says {line!r}")
    return lines


def _set(dialogue: str, width: int) -> str:
    """Return a dialogue as lines of at most that width."""
    return "\n".join(
        textwrap.fill(f"{who:>10}: {said}", width, subsequent_indent=" " * 12)
        for who, said in spoken_lines(dialogue)
    )


def _linked(markdown: str, root: str | None) -> str:
    if root is None:
        return _TO_A_GUIDE.sub(r"\g<text> (`assistant guide \g<name>`)", markdown)
    return _TO_A_GUIDE.sub(
        lambda link: f"[{link['text']}]({root}{link['name']}{link['place'] or ''})", markdown
    )


@cache
def _markdown() -> MarkdownIt:
    # No raw HTML: what is in angle brackets in a guide is meant to be read.
    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")
    markdown.add_render_rule("fence", _fence)
    return markdown


def _fence(
    renderer: RendererHTML,
    tokens: Sequence[Token],
    index: int,
    options: Any,
    environment: MutableMapping[str, Any],
) -> str:
    token = tokens[index]
    kind = (token.info.split() or [""])[0]
    if kind != "dialogue":
        return f'<pre tabindex="0"><code>{escape(token.content)}</code></pre>\n'
    said = [
        f'<p class="{who}"><span class="who">{who}:</span> {escape(words)}</p>'
        for who, words in spoken_lines(token.content)
    ]
    return '<div class="dialogue">\n' + "\n".join(said) + "\n</div>\n"


@cache
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(_FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
