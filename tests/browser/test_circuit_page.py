"""A circuit in the browser: the bell counts down, warns once, sends what is typed and leads on."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.browser.serving import Serving
from tests.sitting import ranged, sees_nothing_ahead

PASSES = Callable[[float], None]


@pytest.fixture(scope="module")
def serving(tmp_path_factory) -> Iterator[Serving]:
    folder = tmp_path_factory.mktemp("circuit")
    (folder / "cases").mkdir()
    for stem, who in (("quince", "a lamp lighter"), ("sloe", "a rope maker")):
        (folder / "cases" / f"{stem}.toml").write_text(ranged(who=who))
    served = Serving(folder / "data")
    served.settings = replace(served.settings, cases_folder=folder / "cases")
    with served:
        yield served


@pytest.fixture
def passes(monkeypatch) -> PASSES:
    """Let the server's time pass at once."""
    ahead = timedelta()

    def pass_by(seconds: float) -> None:
        nonlocal ahead
        ahead += timedelta(seconds=seconds)

    monkeypatch.setattr("server.moment.now", lambda: datetime.now(UTC) + ahead)
    sees_nothing_ahead(monkeypatch)
    return pass_by


def begins(page: Page) -> None:
    page.goto("/")
    page.fill("#circuit-stations", "2")
    page.fill("#circuit-minutes", "3")
    page.click("#circuit-begin")
    page.click("#next-station")
    expect(page.locator("#room")).to_be_visible()


def test_the_bell_warns_once_sends_what_is_typed_and_leads_on(page: Page, passes: PASSES, watch):
    # Chromium may say so of fonts that are used, where a page is left as soon as it is there
    watch.expect(r"console warning: .*woff2 was preloaded using link preload but not used")
    begins(page)
    expect(page.locator(".bell")).to_contain_text("station 1 of 2")
    assert page.locator(".bell [role=status]").inner_text() == ""
    assert page.locator("#eye-picture, #open-picture, #undo").count() == 0
    passes(120)
    page.reload()
    expect(page.locator(".bell [role=status]")).to_have_text("One minute left.")
    passes(52)
    page.reload()
    page.locator("#card-comments").focus()
    page.keyboard.type("typed until the bell")
    expect(page.locator("h1")).to_have_text("Station 1 is closed")
    page.click("#next-station")
    expect(page.locator(".bell")).to_contain_text("station 2 of 2")
    passes(186)
    page.goto("/")
    page.locator("#test ~ .past a").first.click()
    expect(page.locator("h1")).to_contain_text("Not passed")
    page.locator(".stations a").first.click()
    expect(page.locator(".review")).to_contain_text("typed until the bell")


def test_an_act_after_the_bell_leads_on(page: Page, passes: PASSES, watch):
    watch.expect("409")
    begins(page)
    page.evaluate(
        "() => { for (let id = 1; id < 9999; id++) clearInterval(id); }"
    )  # no script helps
    passes(181)
    page.locator("#new-letters").click()
    expect(page.locator("h1")).to_have_text("Station 1 is closed")


@pytest.mark.parametrize("width", [1280, 390])
def test_every_page_of_a_circuit_is_accessible_and_fits(opens, passes: PASSES, width):
    page = opens(viewport={"width": width, "height": 844}).new_page()

    def looks() -> None:
        found = Axe().run(page).response["violations"]
        serious = [one["id"] for one in found if one["impact"] in ("serious", "critical")]
        assert not serious, f"{page.url}: {serious}"
        assert page.evaluate("document.documentElement.scrollWidth") <= width

    page.goto("/")
    looks()
    page.fill("#circuit-stations", "2")
    page.click("#circuit-begin")
    expect(page.locator("#next-station")).to_be_visible()
    looks()
    page.click("#next-station")
    expect(page.locator("#room")).to_be_visible()
    looks()
    page.click("#finish-open")
    page.click("#finish-now")
    expect(page.locator("h1")).to_have_text("Station 1 is closed")
    looks()
    passes(10_000)
    page.reload()
    expect(page.locator(".stations")).to_be_visible()
    looks()
