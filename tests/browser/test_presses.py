"""Every press counts once and in its order, and a slow picture says that it is slow."""

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Locator, Page, Route, expect

from tests.browser.bench import Bench
from tests.browser.serving import Serving

PRESSES = 20
QUICKLY = """async ([ids, apart]) => {
  for (const id of ids) {
    document.getElementById(id).click();
    await new Promise((done) => setTimeout(done, apart));
  }
}"""
NOTING_WAITS = """() => {
  const waits = [];
  let asked = performance.now();
  let slow = false;
  new MutationObserver(() => {
    const image = document.getElementById("eye-picture");
    if (image.src !== image.noted) { image.noted = image.src; asked = performance.now(); }
    const now = document.querySelector(".picture-box").classList.contains("slow");
    if (now && !slow) waits.push(performance.now() - asked);
    slow = now;
  }).observe(document.body, { subtree: true, attributes: true });
  return waits;
}"""
ICON = Path(__file__).parents[2] / "static" / "icon.svg"


def quickly(page: Page, ids: list[str]) -> None:
    """Press buttons 15 ms apart."""
    page.evaluate(QUICKLY, [ids, 15])


def test_twenty_steps_of_power_are_twenty_events(bench: Bench, serving: Serving) -> None:
    attempt = bench.sit_down()
    number = bench.number
    quickly(bench.page, ["step-plus"] * PRESSES)
    bench.sees(number + PRESSES)
    steps = serving.events(attempt, "step")
    assert len(steps) == PRESSES
    assert len({one.client_key for one in steps}) == PRESSES
    # each 0.25 to 4.00, then each 0.50
    expect(bench.page.locator("#controls .at")).to_contain_text("+6.00 sphere")


def test_a_quick_mouse_loses_nothing(bench: Bench, serving: Serving) -> None:
    attempt = bench.sit_down()
    number = bench.number
    box = bench.page.locator("#step-plus").bounding_box()
    assert box
    for _ in range(PRESSES):  # the button must not slip away from under the pointer
        bench.page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    bench.sees(number + PRESSES)
    assert len(serving.events(attempt, "step")) == PRESSES


def test_twenty_turns_are_twenty_events(bench: Bench, serving: Serving) -> None:
    attempt = bench.sit_down()
    bench.choose("R.3")
    bench.put("cylinder-1.00")
    number = bench.number
    quickly(bench.page, ["turn-p5"] * PRESSES)
    bench.sees(number + PRESSES)
    assert len(serving.events(attempt, "turn")) == PRESSES
    expect(bench.page.locator("#axis")).to_have_value("100")


def test_presses_of_several_buttons_keep_their_order(bench: Bench, serving: Serving) -> None:
    attempt = bench.sit_down()
    bench.choose("R.3")
    bench.put("cylinder-1.00")
    number = bench.number
    ids = ["turn-p5", "step-minus", "turn-m1", "new-letters", "step-plus", "turn-p1", "light"] * 3
    quickly(bench.page, ids)
    bench.sees(number + len(ids))
    kinds = [one.kind for one in serving.events(attempt) if one.number > number]
    assert kinds == ["turn", "step", "turn", "letters", "step", "turn", "wall"] * 3


def test_a_double_click_begins_one_attempt(page: Page) -> None:
    page.goto("/")
    page.locator("#choose .patients button").first.dblclick()
    expect(page.locator("#room")).to_be_visible()
    page.goto("/")
    expect(page.locator(".past li")).to_have_count(1)


def painted(image: Locator) -> np.ndarray:
    """Return what is painted in the upper half of the picture, away from its busy mark."""
    shot = np.asarray(Image.open(io.BytesIO(image.screenshot())).convert("L"), dtype=float)
    return shot[: len(shot) // 2]


def differ(one: np.ndarray, other: np.ndarray) -> bool:
    """Whether two pictures are plainly not the same, in grey levels."""
    return float(np.abs(one - other).mean()) > 2.0


def has_settled(page: Page) -> None:
    expect(page.locator("#eye-picture")).to_have_js_property("complete", True)
    expect(page.locator(".picture-box .busy")).to_be_hidden()


def test_the_picture_is_one_element_and_the_old_one_stays(bench: Bench) -> None:
    bench.sit_down()
    image = bench.page.locator("#eye-picture")
    has_settled(bench.page)
    node = image.element_handle()
    assert node
    old = painted(image)

    held: list[Route] = []
    bench.page.route("**/pictures/**", lambda route: held.append(route))
    bench.press("#slot-sphere-2_00")
    busy = bench.page.locator(".picture-box .busy")
    expect(busy).to_be_visible()
    assert not differ(painted(image), old)
    held.pop().continue_()
    has_settled(bench.page)
    assert differ(painted(image), old)

    bench.page.unroute("**/pictures/**")
    bench.step("minus", 2)
    bench.read_down()
    bench.choose("L.2")
    bench.step("plus")
    assert node.evaluate("(node) => node === document.getElementById('eye-picture')")


def test_the_busy_mark_waits_for_300_ms(bench: Bench) -> None:
    """A picture that comes at once says nothing; one held back says so after 0.3 s."""
    bench.sit_down()
    has_settled(bench.page)
    bench.page.route("**/pictures/**", lambda route: route.fulfill(path=ICON))
    waits = bench.page.evaluate_handle(NOTING_WAITS)
    bench.step("plus", 2)
    bench.page.wait_for_timeout(500)
    assert waits.json_value() == []

    held: list[Route] = []
    bench.page.route("**/pictures/**", lambda route: held.append(route))
    bench.step("plus")
    expect(bench.page.locator(".picture-box .busy")).to_be_visible()
    (wait,) = waits.json_value()
    assert wait >= 295
    held.pop().fulfill(path=ICON)
    has_settled(bench.page)


@pytest.mark.parametrize("mode", ["teaching", "practice"])
def test_every_press_has_a_key_and_one_tab(bench: Bench, serving: Serving, mode: str) -> None:
    attempt = bench.sit_down(mode=mode)
    bench.step("plus", 2)
    bench.new_letters()
    bench.read_down()
    events = serving.events(attempt)[1:]
    assert len({one.client_key for one in events}) == len(events) == 4
    assert len({one.tab_id for one in events}) == 1
    assert all(len(one.client_key) == 24 for one in events)
