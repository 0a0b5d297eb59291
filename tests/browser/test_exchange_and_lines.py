"""A lens exchanged for another, and the chart read from a line down: by mouse and by keys."""

from playwright.sync_api import expect

from tests.browser.bench import Bench
from tests.browser.serving import Serving

EXCHANGE = "exchange for +1.00 sphere"


def test_a_mouse_is_told_what_comes_out_before_it_presses(bench: Bench, serving: Serving) -> None:
    attempt = bench.sit_down()
    page, says = bench.page, bench.page.locator("#goes")
    page.locator("#slot-spherep1_00").hover()
    expect(says).to_have_text("+1.00: into cell 2 before the right eye")
    bench.put("sphere+1.00")
    expect(says).to_have_text("+1.00 stands there now", use_inner_text=True)
    page.locator("#slot-spherep1_25").hover()
    expect(says).to_have_text(f"+1.25: {EXCHANGE}")
    page.locator("#wall-title").hover()
    expect(says).to_contain_text("+1.00")  # where the focus is
    bench.put("sphere+1.25")
    expect(page.locator("#controls .at")).to_contain_text("+1.25 sphere")
    expect(page.locator("#status")).to_contain_text("+1.25 sphere, in exchange for +1.00 sphere")
    assert [one.kind for one in serving.events(attempt)][1:] == ["place", "exchange"]
    bench.press("#undo")
    expect(page.locator("#controls .at")).to_contain_text("+1.00 sphere")


def test_keys_walk_along_the_lenses_and_exchange(bench: Bench, serving: Serving) -> None:
    attempt = bench.sit_down()
    page, says = bench.page, bench.page.locator("#goes")
    page.locator("#slot-spherep1_00").focus()
    number = bench.number
    page.keyboard.press("Enter")
    bench.sees(number + 1)
    page.keyboard.press("ArrowRight")
    slot = page.locator("#slot-spherep1_25")
    expect(slot).to_be_focused()
    expect(says).to_have_text(f"+1.25: {EXCHANGE}")
    expect(slot).to_have_accessible_description(EXCHANGE)
    page.keyboard.press("Enter")
    bench.sees(number + 2)
    expect(slot).to_be_focused()
    expect(says).to_have_text("+1.25 stands there now", use_inner_text=True)
    assert [one.kind for one in serving.events(attempt)][1:] == ["place", "exchange"]


def test_an_eighth_is_pressed_where_it_is_offered(bench: Bench) -> None:
    bench.sit_down()
    at = bench.page.locator("#controls .at")
    bench.press("#step-plus-eighth")
    expect(at).to_contain_text("+0.12 sphere")
    expect(bench.page.locator("#step-plus-eighth")).to_have_count(0)
    bench.press("#step-plus")
    expect(at).to_contain_text("+0.25 sphere")
    bench.press("#step-minus-eighth")
    expect(at).to_contain_text("+0.12 sphere")


def test_a_line_is_pressed_and_read_from_there(bench: Bench, serving: Serving) -> None:
    attempt = bench.sit_down()
    bench.cover("L")
    page, here = bench.page, bench.page.locator("#read-here")
    expect(here).to_be_hidden()
    row = page.locator(".wall-rows li", has_text="6/30")
    row.click()
    expect(here).to_be_visible()
    assert serving.events(attempt, "ask") == []  # pointing is no act
    for _ in range(2):  # what was pointed at stays
        bench.press("#read-here")
        expect(row.locator("input")).to_be_checked()
        expect(page.locator("#talk .asked").first).to_have_text("Read from the 6/30 line down.")
    assert [one.body["start"] for one in serving.events(attempt, "ask")] == [0.7, 0.7]
    scores = page.locator(".wall-rows .score")
    assert scores.all_inner_texts()[:3] == ["", "", ""]
    assert scores.nth(3).inner_text() != ""
    bench.read_down()
    expect(page.locator("#talk .asked").first).to_have_text("Read down as far as you can.")
    assert "/5" in scores.first.inner_text()


def test_keys_point_at_a_line_and_enter_reads_from_there(bench: Bench, serving: Serving) -> None:
    attempt = bench.sit_down()
    bench.cover("L")
    page = bench.page
    page.locator("#new-letters").focus()
    for _ in range(6):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.name") == "start":
            break
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    number = bench.number
    page.keyboard.press("Enter")
    bench.sees(number + 1)
    assert serving.events(attempt, "ask")[0].body["start"] == 0.8
    focused = page.evaluate("[document.activeElement.name, document.activeElement.value]")
    assert focused == ["start", "0.8"]
