"""Context to HTML: the only place that reads or writes htmx headers."""

from functools import lru_cache
from typing import ClassVar, Protocol

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template

from server.settings import REPOSITORY

TEMPLATES = REPOSITORY / "templates"


class Context(Protocol):
    """What a template is given: it names its file."""

    template: ClassVar[str]


@lru_cache(maxsize=1)
def environment() -> Environment:
    """Return the templates: everything escaped, unknown names raise."""
    return Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def html(context: Context) -> str:
    """Return a context's HTML; its template sees it as ``it``."""
    template: Template = environment().get_template(context.template)
    return template.render(it=context)


def page(context: Context, status: int = 200) -> HTMLResponse:
    """Return a page or fragment that no cache keeps."""
    return HTMLResponse(
        html(context),
        status_code=status,
        headers={"Vary": "HX-Request", "Cache-Control": "no-store"},
    )


def wants_fragment(request: Request) -> bool:
    """Return whether htmx asks."""
    return "HX-Request" in request.headers


def acted(request: Request, fragment: Context, address: str, status: int = 200) -> Response:
    """Answer a post: the fresh fragment for htmx, else a way back to the page."""
    if wants_fragment(request):
        return page(fragment, status)
    return RedirectResponse(address, status_code=303)


def go_to(request: Request, address: str) -> Response:
    """Send the browser to another page."""
    if wants_fragment(request):
        return Response(status_code=200, headers={"HX-Redirect": address})
    return RedirectResponse(address, status_code=303)
