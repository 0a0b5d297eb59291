"""A house with patients for circuits, a clock that tests set, and end points found at once."""

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from server.marking.truth import Truth
from tests.sitting import Clock, Sitting, ranged, sees_nothing_ahead
from tests.student import case_text, opened

CASES = {
    "quince": ranged(who="a baker"),
    "sloe": ranged(who="a sailor"),
    "damson": ranged(who="a clerk"),
    "tamarisk": ranged(who="a diver", level=2),
    "medick": case_text(who="a miller", level=3),
}


@pytest.fixture(scope="module")
def house(tmp_path_factory) -> Iterator[TestClient]:
    with opened(tmp_path_factory.mktemp("house"), **CASES) as browser:
        yield browser


@pytest.fixture
def client(house) -> TestClient:
    return house


@pytest.fixture
def clock(monkeypatch) -> Clock:
    return Clock(monkeypatch)


@pytest.fixture(autouse=True)
def quick_truth(monkeypatch) -> None:
    # The search takes a while, and no test here is about what it finds.
    at_lens = -2.00 - 1.0 / (6.0 - 0.012)  # a lens of -2.00 at 12 mm, light from 6 m
    at_cornea = at_lens / (1.0 - 0.012 * at_lens)
    found = Truth(vergence=(at_cornea, 0.0, 0.0), acuity_logmar=-0.1)
    monkeypatch.setattr("server.attempts.service.find_truth", lambda *_: found)
    monkeypatch.setattr("server.web.arrival.STEP_S", 0.001)
    sees_nothing_ahead(monkeypatch)


@pytest.fixture
def sitting(client, clock) -> Sitting:
    return Sitting.begins(client)
