"""The application: settings in, a ready server out."""

import logging
import mimetypes
import re
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from os import PathLike, stat_result
from pathlib import Path

from fastapi import FastAPI
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from server.attempts.exams import Exams
from server.attempts.nominal import NominalKeeper
from server.attempts.service import Attempts
from server.casebook import read_casebook
from server.evidence import EvidenceKeeper
from server.settings import REPOSITORY, Settings
from server.store.log import Store
from server.store.migrate import upgrade
from server.web.arrival import Arrival
from server.web.failures import HANDLERS, LastResort
from server.web.routes import routers
from server.web.security import BodyLimit, SameOrigin, SecurityHeaders
from server.web.sessions import SessionCookie

logger = logging.getLogger(__name__)

STATIC_FOLDER = REPOSITORY / "static"
VERSIONED_NAME = re.compile(r"-\d+\.\d+\.\d+\.")

# Browsers refuse scripts and styles of another type, and machines differ in what they know.
MEDIA_TYPES = {
    ".css": "text/css",
    ".js": "text/javascript",
    ".svg": "image/svg+xml",
    ".woff2": "font/woff2",
}


def create_app(settings: Settings | None = None) -> FastAPI:
    """Return the application; without settings, with those of the environment."""
    settings = settings or Settings.from_environment()
    app = FastAPI(
        title="Least Confusion",
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        redirect_slashes=False,
        telemetry={"tracing": False},
        lifespan=lifespan,
        exception_handlers=HANDLERS,
        middleware=guards(settings),
    )
    app.state.settings = settings
    for router in routers:
        app.include_router(router)
    app.mount("/static", Assets(directory=STATIC_FOLDER), name="static")
    return app


def guards(settings: Settings) -> list[Middleware]:
    """Return what stands around every route, outermost first."""
    return [
        Middleware(Arrival),
        Middleware(SecurityHeaders, https=settings.https),
        Middleware(LastResort),
        Middleware(BodyLimit),
        Middleware(SameOrigin, public_origins=settings.public_origins),
        Middleware(SessionCookie, https=settings.https),
    ]


@asynccontextmanager
async def lifespan(app: FastAPI) -> AsyncIterator[None]:
    """Bring the database up to date, hold the store open, close it at the end."""
    settings: Settings = app.state.settings
    await run_in_threadpool(upgrade, settings)
    app.state.store = Store.open(settings)
    casebook = read_casebook(settings.cases_folder)
    for fault in casebook.faults:
        logger.warning("left out of the casebook: %s", fault)
    app.state.attempts = Attempts(app.state.store, casebook)
    app.state.exams = Exams(app.state.attempts, app.state.store)
    app.state.evidence = EvidenceKeeper(settings.data_folder)
    app.state.nominal = NominalKeeper(settings.data_folder)
    try:
        yield
    finally:
        app.state.evidence.close()
        app.state.nominal.close()
        app.state.exams.close()
        app.state.attempts.close()
        app.state.store.close()


class Assets(StaticFiles):
    """Static files; one with its version in its name never changes, the others are asked for."""

    def file_response(
        self,
        full_path: str | PathLike[str],
        stat_result: stat_result,
        scope: Scope,
        status_code: int = 200,
    ) -> Response:
        """Return the file, or that it has not changed."""
        response = super().file_response(full_path, stat_result, scope, status_code)
        fixed = VERSIONED_NAME.search(Path(full_path).name) is not None
        response.headers["Cache-Control"] = (
            "public, max-age=31536000, immutable" if fixed else "no-cache"
        )
        return response


for ending, media_type in MEDIA_TYPES.items():
    mimetypes.add_type(media_type, ending)
