"""The guides on the board: a list of them, and each as a page."""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from assistant.guide import guides, rendering
from assistant.web import pages

_ROOT = "/guide/"


async def _listed(request: Request) -> Response:
    return _page(guides=guides.every(), guide=None, article=None)


async def _shown(request: Request) -> Response:
    try:
        guide = guides.read(request.path_params["name"])
    except KeyError:
        raise HTTPException(404, "There is no such guide. See Guides, above.") from None
    return _page(guides=(), guide=guide, article=rendering.article(guide, _ROOT))


async def _style(request: Request) -> Response:
    return Response(rendering.css(), media_type="text/css")


def _page(**values: object) -> Response:
    # The bar of the board; the guides know nothing of jobs, so it has no counts.
    text = pages.template("guide.html.j2").render(view="guide", query="", tally=None, **values)
    return Response(text, media_type="text/html")


ROUTES = [
    Route("/guide", _listed),
    Route("/guide/style.css", _style),
    Route("/guide/{name}", _shown),
]
