"""A browser, a server of its own for each module, and an eye on everything the browser says."""

import os
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Response,
    WebError,
    expect,
)

from server.attempts import service
from tests.browser.bench import Bench
from tests.browser.serving import FLAGS, Serving

HERE = Path(__file__).parent
NO_BROWSER = "These tests drive Debian's chromium, which is not installed here."
WIDE = {"width": 1280, "height": 800}
PATIENCE_MS = 15_000  # for machines with much else to do

expect.set_options(timeout=PATIENCE_MS)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, Any]:
    chromium = shutil.which("chromium")
    if chromium is None and os.environ.get("REQUIRE_BROWSER") == "1":
        pytest.fail(f"{NO_BROWSER} REQUIRE_BROWSER=1 asks for it.", pytrace=False)
    if chromium is None:
        pytest.skip(NO_BROWSER)
    return {"executable_path": chromium, "args": list(FLAGS)}


@pytest.fixture(scope="module")
def serving(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Serving]:
    """Serve, with records of their own, the tests of a module."""
    with Serving(tmp_path_factory.mktemp("data")) as served:
        yield served


class Watch:
    """What went wrong in the browser, but for what a test says it expects."""

    def __init__(self) -> None:
        self.problems: list[str] = []
        self.expected: list[str] = []

    def expect(self, *patterns: str) -> None:
        """Declare problems that belong to the test, as regular expressions."""
        self.expected.extend(patterns)

    def follow(self, context: BrowserContext) -> None:
        """Take note of the console, script errors and failed answers of every page."""

        def console(message: ConsoleMessage) -> None:
            if message.type in ("error", "warning", "assert"):
                place = message.location.get("url", "")
                self.problems.append(f"console {message.type}: {message.text} ({place})")

        def script(error: WebError) -> None:
            self.problems.append(f"script: {error.error}")

        def answer(response: Response) -> None:
            if response.status >= 400:
                self.problems.append(f"answer {response.status}: {response.url}")

        context.on("console", console)
        context.on("weberror", script)
        context.on("response", answer)

    @property
    def unexpected(self) -> list[str]:
        return [
            problem
            for problem in self.problems
            if not any(re.search(pattern, problem) for pattern in self.expected)
        ]


@pytest.fixture
def watch() -> Iterator[Watch]:
    watching = Watch()
    yield watching
    assert not watching.unexpected, "the browser complained:\n" + "\n".join(watching.unexpected)


Opens = Callable[..., BrowserContext]


@pytest.fixture
def opens(browser: Browser, serving: Serving, watch: Watch) -> Iterator[Opens]:
    """Open browsers with cookies of their own; anything Playwright's contexts take."""
    opened: list[BrowserContext] = []

    def one(**options: Any) -> BrowserContext:
        context = browser.new_context(
            **{"base_url": serving.address, "viewport": WIDE, "reduced_motion": "reduce"} | options
        )
        context.set_default_timeout(PATIENCE_MS)
        watch.follow(context)
        opened.append(context)
        return context

    yield one
    for context in opened:
        context.close()


@pytest.fixture
def page(opens: Opens) -> Page:
    """Return a page at 1280×800."""
    return opens().new_page()


@pytest.fixture
def bench(page: Page) -> Bench:
    """Return a student's hands on that page."""
    return Bench(page)


@pytest.fixture
def same_chance(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every attempt draw the same letters and guesses, so that a test says the same twice."""

    class Fixed:
        @staticmethod
        def token_bytes(count: int) -> bytes:
            return bytes(range(count))

    monkeypatch.setattr(service, "secrets", Fixed)
