"""What the tests share: a database of their own, and the real application on it."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from server.app import create_app
from server.settings import Settings
from server.store.log import Store
from server.store.migrate import upgrade

np.seterr(all="raise", under="ignore")  # next to nothing may become nothing

OUR_ORIGIN = "http://testserver"


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(data_folder=tmp_path / "data", render_slots=2)


@pytest.fixture
def store(settings: Settings) -> Iterator[Store]:
    upgrade(settings)
    opened = Store.open(settings)
    yield opened
    opened.close()


@pytest.fixture
def app(settings: Settings) -> FastAPI:
    return create_app(settings)


@pytest.fixture
def client(app: FastAPI) -> Iterator[TestClient]:
    """Act as a browser on one of our pages; the database is made as the application starts."""
    with TestClient(app, base_url=OUR_ORIGIN, headers={"Origin": OUR_ORIGIN}) as browser:
        yield browser
