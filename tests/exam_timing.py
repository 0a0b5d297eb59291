"""Whether the time of an answer tells twin eyes apart: ``python -m tests.exam_timing``.

Each twin sits an exam of its own on a real server; both are asked the same in turns, through new
lenses each time, so that the engine has to work. Nobody asks sooner than `REACH_S` after a change
of lens. Printed: how long answers took at each twin, held to their time and at once.
"""

import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import httpx2
import pytest

from server.web import arrival
from tests.browser.serving import Serving
from tests.student import HTMX
from tests.twins import NEEDS, STEM, draws_twin, twin_case

ROUNDS = 3
REACH_S = 1.5  # from one press to the next
WITHIN_S = 0.002
AT_ONCE_S = 1e-6
SPHERES = ("-0.50", "-1.25", "-3.00", "-5.00", "+1.00", "+2.50", "+4.00", "+6.00")

Act = tuple[str, dict[str, str]]


def ways() -> list[list[Act]]:
    """Return what is done before each question, and the question last."""
    return [
        [
            ("place", {"at": "R.2", "code": f"sphere{power}"}),
            ("ask", {"question": "read-down"}),
            ("ask", {"question": "better"}),
            ("take", {"at": "R.2"}),
        ]
        for power in SPHERES
    ]


def durations(acts: Sequence[Callable[[], object]]) -> list[float]:
    """Return how long each took, in seconds."""
    found = []
    for act in acts:
        begun = time.perf_counter()
        act()
        found.append(time.perf_counter() - begun)
    return found


class Sitter:
    """One browser at one twin."""

    def __init__(self, address: str, name: str) -> None:
        self.client = httpx2.Client(
            base_url=address, headers={"Origin": address} | HTMX, timeout=60.0
        )
        self.client.get("/")
        with pytest.MonkeyPatch.context() as patches:
            draws_twin(patches, name)
            plan = {"stations": "1", "levels": "1", "minutes": "20", "extra": "100"}
            circuit = self.client.post("/circuits", data=plan).headers["HX-Redirect"]
            self.client.post(f"{circuit}/next", data={"station": "1"})
            self.room = self.client.get(circuit).headers["HX-Redirect"]

    def does(self, act: str, fields: dict[str, str]) -> float:
        """Post an act that must be taken, and return how long its answer took, in seconds."""
        begun = time.perf_counter()
        answer = self.client.post(f"{self.room}/{act}", data=fields)
        took_s = time.perf_counter() - begun
        assert answer.status_code == 200, f"{act} {fields}: {answer.text}"
        return took_s


def asked(sitters: dict[str, Sitter], rounds: int) -> Iterator[tuple[str, float]]:
    """Yield twin and duration of every question, the twins in turns and first in turns."""
    names = list(sitters)
    for turn in range(rounds):
        for acts in ways():
            for name in names if turn % 2 else names[::-1]:
                for act, fields in acts:
                    took = sitters[name].does(act, fields)
                    if act == "ask":
                        yield name, took
                    else:
                        time.sleep(REACH_S)


def measured(address: str, step_s: float, rounds: int) -> dict[str, list[float]]:
    """Return how long the questions took at each twin, leaving at multiples of a step."""
    arrival.STEP_S = step_s
    sitters = {name: Sitter(address, name) for name in NEEDS}
    took: dict[str, list[float]] = {name: [] for name in NEEDS}
    for name, seconds in asked(sitters, rounds):
        took[name].append(seconds)
    return took


def main() -> int:
    """Measure, print and judge."""
    held_s = arrival.STEP_S
    with tempfile.TemporaryDirectory() as folder:
        cases = Path(folder) / "cases"
        cases.mkdir()
        (cases / f"{STEM}.toml").write_text(twin_case())
        serving = Serving(Path(folder) / "data")
        serving.settings = replace(serving.settings, cases_folder=cases)
        with serving:
            free = measured(serving.address, AT_ONCE_S, 1)
            held = measured(serving.address, held_s, ROUNDS)
    say = sys.stdout.write
    say(f"{datetime.now(UTC):%Y-%m-%d}, answers held to {1000 * held_s:.0f} ms\n")
    for title, took in (("at once", free), ("held", held)):
        for name, all_s in took.items():
            say(
                f"{title:8} {name:7} n {len(all_s):3}  mean {1000 * statistics.mean(all_s):7.2f} ms"
                f"  sd {1000 * statistics.stdev(all_s):6.2f}  most {1000 * max(all_s):6.1f}"
                f"  late {sum(took_s > 1.5 * held_s for took_s in all_s)}\n"
            )
    means = [statistics.mean(all_s) for all_s in held.values()]
    apart_s = abs(means[0] - means[1])
    say(f"held means are {1000 * apart_s:.2f} ms apart\n")
    return 0 if apart_s <= WITHIN_S else 1


if __name__ == "__main__":
    sys.exit(main())
