"""How quick and how heavy the pages are: ``python -m tests.benchmarks.page``.

The server is ``python -m server`` in a process of its own. Times on loopback, in ms, as median and
95th percentile, beside their budgets. The exit code is 1 when one is over.
"""

import os
import re
import shutil
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import cycle
from pathlib import Path

import httpx
from playwright.sync_api import Browser, Response, sync_playwright

from tests.browser.bench import CELLIST, Bench
from tests.browser.serving import FLAGS
from tests.test_server_command import running

HTMX = {"HX-Request": "true"}
TO_PICTURE = """async (ids) => {
  const times = [];
  for (const id of ids) {
    const image = document.getElementById("eye-picture");
    const before = image.src;
    const start = performance.now();
    document.getElementById(id).click();
    while (image.src === before) await new Promise((next) => setTimeout(next, 1));
    await image.decode();
    times.push(performance.now() - start);
    await new Promise((next) => setTimeout(next, 120));
  }
  return times;
}"""


@dataclass(frozen=True)
class Row:
    """One measurement beside its budget."""

    name: str
    median: float
    high: float
    budget: float
    unit: str

    @classmethod
    def of_times(cls, name: str, times_ms: list[float], budget_ms: float) -> "Row":
        high = statistics.quantiles(times_ms, n=20)[-1]
        return cls(name, statistics.median(times_ms), high, budget_ms, "ms")

    @classmethod
    def of_slowest(cls, name: str, times_ms: list[float], budget_ms: float) -> "Row":
        return cls(name, max(times_ms), max(times_ms), budget_ms, "ms")

    @classmethod
    def of_size(cls, name: str, size: int, budget_kb: float) -> "Row":
        return cls(name, size / 1000, size / 1000, budget_kb, "kB")

    def __str__(self) -> str:
        verdict = "" if self.high <= self.budget else "  OVER"
        return (
            f"{self.name:<52}{self.median:>8.1f}{self.high:>8.1f}{self.budget:>8.0f} "
            f"{self.unit}{verdict}"
        )


class Caller:
    """A student without a browser: one attempt, posts as htmx makes them."""

    def __init__(self, address: str, case: int = 0) -> None:
        self.client = httpx.Client(base_url=address, headers={"Origin": address}, timeout=60)
        cases = re.findall(r'name="case" value="([0-9a-f]{12})"', self.client.get("/").text)
        answer = self.client.post("/attempts", data={"case": cases[case]}, headers=HTMX)
        self.here = answer.headers["HX-Redirect"]

    def post(self, act: str, **fields: str) -> httpx.Response:
        answer = self.client.post(f"{self.here}/{act}", data=fields, headers=HTMX)
        answer.raise_for_status()
        return answer

    def steps(self, count: int) -> list[float]:
        """Return how long steps took, up and down in turn, letters changed between them."""
        times = []
        for way, _ in zip(cycle(("plus", "plus", "minus", "minus")), range(count), strict=False):
            times.append(timed(lambda way=way: self.post("step", step=way, at="R.2")))
            self.post("letters")
        return times

    def look(self, way: str) -> None:
        """Step, and get the picture after it."""
        fragment = self.post("step", step=way, at="R.2").text
        picture = re.search(r'src="(/attempts/[^"]+\.png)"', fragment)
        assert picture
        self.client.get(picture[1]).raise_for_status()


def timed(act: Callable[[], object]) -> float:
    start = time.perf_counter()
    act()
    return 1000.0 * (time.perf_counter() - start)


@contextmanager
def pictures_at_full_load(address: str) -> Iterator[None]:
    """Keep every picture slot busy from other attempts."""
    over = threading.Event()

    def keep_looking(case: int) -> None:
        caller = Caller(address, case)
        for way in cycle(("plus",) * 12 + ("minus",) * 12):
            if over.is_set():
                return
            caller.look(way)

    lookers = [
        threading.Thread(target=keep_looking, args=(case,)) for case in range(os.cpu_count() or 1)
    ]
    for looker in lookers:
        looker.start()
    time.sleep(1.0)
    try:
        yield
    finally:
        over.set()
        for looker in lookers:
            looker.join()


def of_the_server(address: str) -> Iterator[Row]:
    caller = Caller(address)
    caller.steps(5)
    yield Row.of_times("a step's post, a young attempt", caller.steps(60), 20)
    caller.steps(130)
    late = caller.steps(150)
    yield Row.of_times("a step's post, after 400 acts", late, 20)
    yield Row.of_slowest("the slowest of these 150", late, 50)
    yield Row.of_size("the room's fragment", len(caller.post("letters").content), 30)
    read = caller.post("ask", question="read-down")
    yield Row.of_size("the room's fragment, the chart read", len(read.content), 30)
    light = httpx.Client(base_url=address)
    with pictures_at_full_load(address):
        times = [timed(lambda: light.get("/help")) for _ in range(100)]
    yield Row.of_times("a light page while pictures are computed", times, 20)


def weight(browser: Browser, address: str, path: str) -> int:
    """Return the bytes that a first visit of a page takes, headers left out."""
    context = browser.new_context(base_url=address)
    page = context.new_page()
    answers: list[Response] = []
    page.on("response", lambda answer: answers.append(answer))
    page.goto(path, wait_until="networkidle")
    size = sum(len(answer.body()) for answer in answers)
    context.close()
    return size


def of_the_browser(address: str, browser: Browser) -> Iterator[Row]:
    page = browser.new_context(base_url=address).new_page()
    bench = Bench(page)
    bench.sit_down(CELLIST)
    bench.cover("L")
    bench.choose("R.2")
    fresh = ["step-plus"] * 20 + ["step-minus"] * 40
    yield Row.of_times("press to picture, new lenses", page.evaluate(TO_PICTURE, fresh), 150)
    again = ["new-letters"] * 30
    yield Row.of_times("press to picture, new letters", page.evaluate(TO_PICTURE, again), 150)
    page.context.close()
    yield Row.of_size("the start page with all it loads", weight(browser, address, "/"), 250)


def main() -> int:
    """Print the table."""
    print(f"{'':<52}{'median':>8}{'p95':>8}{'budget':>8}")
    over = False
    with (
        tempfile.TemporaryDirectory() as data,
        running(Path(data), "--port", "0") as (_, address),
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=list(FLAGS)
        )
        for rows in (of_the_server(address), of_the_browser(address, browser)):
            for row in rows:
                print(row, flush=True)
                over = over or row.high > row.budget
        browser.close()
    return 1 if over else 0


if __name__ == "__main__":
    sys.exit(main())
