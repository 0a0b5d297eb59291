"""Two tabs, lost connections and cookies, a restarted server: nothing is lost or doubled."""

from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.bench import Bench
from tests.browser.conftest import Opens, Watch
from tests.browser.serving import Serving


@pytest.fixture
def context(opens: Opens) -> BrowserContext:
    return opens()


@pytest.fixture
def bench(context: BrowserContext) -> Bench:
    return Bench(context.new_page())


def second_tab(context: BrowserContext, bench: Bench) -> Bench:
    other = Bench(context.new_page())
    other.page.goto(bench.page.url)
    expect(other.page.locator("#room")).to_be_visible()
    return other


def alert(page: Page) -> str:
    """Return the words of the alert that shows."""
    shown = page.locator("[role=alert].alert")
    expect(shown).to_be_visible()
    expect(shown).to_be_in_viewport()
    return shown.inner_text()


def test_a_stale_tab_gets_the_fresh_room_and_a_message(
    context: BrowserContext, bench: Bench, serving: Serving, watch: Watch
) -> None:
    attempt = bench.sit_down()
    other = second_tab(context, bench)
    other.put("sphere-1.00")
    watch.expect("409")
    bench.page.bring_to_front()
    bench.page.locator("#step-plus").click()
    bench.sees(2)
    assert "Another tab" in alert(bench.page)
    expect(bench.page.locator("#controls .at")).to_contain_text("−1.00 sphere")
    assert serving.events(attempt, "step") == []
    bench.press("#step-plus")  # now it knows, and may act
    assert len(serving.events(attempt, "step")) == 1
    expect(bench.page.locator("#controls .at")).to_contain_text("−0.75 sphere")
    expect(bench.page.locator("[role=alert].alert")).to_have_count(0)


def test_a_stale_tab_cannot_finish_unseen(
    context: BrowserContext, bench: Bench, serving: Serving, watch: Watch
) -> None:
    attempt = bench.sit_down()
    other = second_tab(context, bench)
    other.put("sphere-1.00")
    watch.expect("409")
    bench.page.bring_to_front()
    bench.page.locator("#finish-open").click()
    bench.page.locator("#finish-now").click()
    assert "another tab" in alert(bench.page)
    expect(bench.page.locator("#finish")).to_be_hidden()
    bench.sees(2)
    assert serving.events(attempt, "finish") == []
    bench.press("#step-plus")


def test_an_ended_attempt_takes_no_more_and_opens_as_its_review(
    context: BrowserContext, bench: Bench, serving: Serving, watch: Watch
) -> None:
    attempt = bench.sit_down()
    other = second_tab(context, bench)
    other.finish()
    watch.expect("409")
    bench.page.bring_to_front()
    bench.page.locator("#step-plus").click()
    bench.page.wait_for_url("**/review")
    assert serving.events(attempt)[-1].kind == "finish"
    bench.page.goto("/")
    bench.page.locator(".past a").first.click()
    bench.page.wait_for_url("**/review")


def test_a_reload_resumes_where_it_stood(bench: Bench) -> None:
    bench.sit_down()
    bench.put("sphere-1.00")
    bench.read_down()
    bench.write("right_sphere", "-1")
    expect(bench.page.locator("#card-right_sphere")).to_have_value("−1.00")
    bench.page.reload()
    expect(bench.page.locator("#controls .at")).to_contain_text("−1.00 sphere")
    expect(bench.page.locator("#talk .said")).to_have_count(1)
    expect(bench.page.locator("#card-right_sphere")).to_have_value("−1.00")
    bench.press("#step-plus")
    bench.page.goto("/")
    bench.page.locator(".past a", has_text="Continue").first.click()
    expect(bench.page.locator("#controls .at")).to_contain_text("−0.75 sphere")


def test_back_from_the_review_does_not_reopen_the_room(bench: Bench) -> None:
    bench.sit_down()
    bench.put("sphere-1.00")
    bench.finish()
    bench.page.go_back()
    expect(bench.page.locator(".review, .home")).to_have_count(1)
    expect(bench.page.locator("#room")).to_have_count(0)
    expect(bench.page.locator("header.top")).to_have_count(1)


@pytest.mark.parametrize("loss", ["before it is sent", "after it is stored"])
def test_a_lost_press_is_sent_again_exactly_once(
    context: BrowserContext, bench: Bench, serving: Serving, watch: Watch, loss: str
) -> None:
    attempt = bench.sit_down()
    watch.expect("ERR_INTERNET_DISCONNECTED", "ERR_FAILED", "Failed to fetch")
    page = bench.page
    if loss == "before it is sent":
        context.set_offline(True)
    else:

        def store_and_drop(route, request) -> None:
            route.fetch()
            route.abort("failed")

        page.route("**/step", store_and_drop, times=1)
    page.locator("#step-plus").click()
    assert "connection was lost" in alert(page)
    assert bench.number == 1
    context.set_offline(False)
    page.get_by_role("button", name="Send again").click()
    bench.sees(2)
    expect(page.locator("#controls .at")).to_contain_text("+0.25 sphere")
    expect(page.locator("#alert")).to_be_empty()
    assert len(serving.events(attempt, "step")) == 1
    bench.press("#step-plus")
    assert len(serving.events(attempt, "step")) == 2


def test_presses_made_while_offline_keep_their_order(
    context: BrowserContext, bench: Bench, serving: Serving, watch: Watch
) -> None:
    attempt = bench.sit_down()
    watch.expect("ERR_INTERNET_DISCONNECTED", "Failed to fetch")
    context.set_offline(True)
    for _ in range(3):
        bench.page.locator("#step-plus").click()
    bench.page.locator("#new-letters").click()
    alert(bench.page)
    context.set_offline(False)
    bench.page.get_by_role("button", name="Send again").click()
    bench.sees(5)
    kinds = [one.kind for one in serving.events(attempt)[1:]]
    assert kinds == ["step", "step", "step", "letters"]
    expect(bench.page.locator("#controls .at")).to_contain_text("+0.75 sphere")


def test_a_card_field_that_was_not_saved_says_so(
    context: BrowserContext, bench: Bench, serving: Serving, watch: Watch
) -> None:
    attempt = bench.sit_down()
    watch.expect("ERR_INTERNET_DISCONNECTED", "Failed to fetch")
    context.set_offline(True)
    bench.write("right_sphere", "-1.25")
    alert(bench.page)
    context.set_offline(False)
    bench.page.get_by_role("button", name="Send again").click()
    expect(bench.page.locator("#card-right_sphere")).to_have_value("−1.25")
    expect(bench.page.locator("#card-says")).to_contain_text("saved")
    (written,) = serving.events(attempt, "record")
    assert written.body["fields"] == {"right_sphere": "−1.25"}


def test_a_lost_cookie_is_said(context: BrowserContext, bench: Bench, watch: Watch) -> None:
    bench.sit_down()
    context.clear_cookies()
    watch.expect("404")
    bench.page.locator("#step-plus").click()
    assert "not open in this browser" in alert(bench.page)
    expect(bench.page.locator("#room")).to_be_visible()
    bench.page.reload()
    expect(bench.page.locator("h1")).to_contain_text("Not found")


def test_a_restarted_server_goes_on(tmp_path: Path, opens: Opens, watch: Watch) -> None:
    watch.expect("ERR_CONNECTION_REFUSED", "ERR_CONNECTION_RESET", "Failed to fetch")
    with Serving(tmp_path / "data") as serving:
        bench = Bench(opens(base_url=serving.address).new_page())
        attempt = bench.sit_down()
        bench.put("sphere-1.00")
        serving.stop()
        bench.page.locator("#step-plus").click()
        assert "connection was lost" in alert(bench.page)
        serving.start()
        bench.page.get_by_role("button", name="Send again").click()
        bench.sees(3)
        bench.press("#step-plus")
        kinds = [one.kind for one in serving.events(attempt)]
        assert kinds == ["begin", "place", "step", "step"]
