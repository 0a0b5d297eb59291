"""Every page and state of the room under axe, light and dark; text size, contrast modes, zoom."""

from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.browser.bench import Bench
from tests.browser.conftest import Opens, Watch
from tests.browser.serving import Serving
from tests.evidence_sample import keep_sample

GRAVE = {"serious", "critical"}
LEAST_PX = 12.0
SMALL_TEXT = """(least) => {
  const small = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const holder = walk.currentNode.parentElement;
    if (!walk.currentNode.textContent.trim() || !holder.checkVisibility()) continue;
    if (holder.closest("script, style")) continue;
    const drawing = holder.closest("svg") && holder.getScreenCTM ? holder.getScreenCTM().a : 1;
    const size = parseFloat(getComputedStyle(holder).fontSize) * drawing;
    if (size < least - 0.05) small.push(`${size.toFixed(1)} ${walk.currentNode.textContent}`);
  }
  return [...new Set(small)];
}"""
WIDER = "document.scrollingElement.scrollWidth - document.documentElement.clientWidth"

axe = Axe()
State = Callable[[Bench], None]


def home(bench: Bench) -> None:
    bench.page.goto("/")


def empty_room(bench: Bench) -> None:
    bench.sit_down()


def first_patient(bench: Bench) -> None:
    bench.page.goto("/")
    bench.page.locator("#first-patient").click()
    expect(bench.page.locator(".prompts")).to_be_visible()


def room_with_talk(bench: Bench) -> None:
    bench.sit_down()
    bench.cover("L")
    bench.choose("R.3")
    bench.put("cylinder-1.00")
    bench.read_down()
    bench.page.locator(".why").first.click()
    expect(bench.page.locator(".why-words")).to_be_visible()


def room_with_alert(bench: Bench) -> None:
    bench.sit_down()
    bench.put("sphere-1.00")
    bench.page.locator("#slot-sphere-1_00").click()  # once more
    expect(bench.page.locator("#alert")).to_contain_text("Not accepted")
    bench.write("right_sphere", "2")
    expect(bench.page.locator("#card-says .alert")).to_be_visible()
    wrong = bench.page.locator("#card-right_sphere")
    expect(wrong).to_have_attribute("aria-invalid", "true")


def shut_picture(bench: Bench) -> None:
    bench.sit_down(mode="practice")


def finish_dialog(bench: Bench) -> None:
    bench.sit_down()
    bench.page.locator("#finish-open").click()
    expect(bench.page.locator("#finish")).to_be_visible()


def open_tip(bench: Bench) -> None:
    bench.sit_down()
    bench.page.locator("#q-step").click()
    expect(bench.page.locator("#tip-step")).to_be_visible()


def review(bench: Bench) -> None:
    bench.sit_down()
    bench.read_down()
    bench.write("right_sphere", "-2.00")
    expect(bench.page.locator("#card-says")).to_contain_text("saved")
    bench.finish()


def held(bench: Bench) -> None:
    bench.sit_down()
    bench.page.locator("#tool").select_option("cross:0.25")
    expect(bench.page.locator(".held-lens")).to_be_visible()
    for what in ("#show-1", "#show-2", "#ask-which"):
        bench.press(what)


def fan(bench: Bench) -> None:
    bench.sit_down()
    bench.page.locator("#wall-view").select_option("fan")
    expect(bench.page.locator(".wall-figure svg")).to_be_visible()


def reviewed(bench: Bench) -> None:
    """Finish and wait for what is drawn afterwards, everything unfolded."""
    review(bench)
    expect(bench.page.locator(".timeline .way").first).to_be_attached()
    bench.page.evaluate("document.querySelectorAll('details').forEach((one) => one.open = true)")


def progress(bench: Bench) -> None:
    review(bench)
    bench.page.goto("/progress")


def truth(bench: Bench) -> None:
    bench.page.goto("/how-true")
    expect(bench.page.locator(".plot")).to_have_count(4)
    bench.page.evaluate("document.querySelectorAll('details').forEach((one) => one.open = true)")


def page_at(path: str) -> State:
    return lambda bench: bench.page.goto(path) and None


STATES: dict[str, State] = {
    "home": home,
    "room, empty": empty_room,
    "room, first patient": first_patient,
    "room, talk": room_with_talk,
    "room, alert": room_with_alert,
    "room, picture shut": shut_picture,
    "room, finish": finish_dialog,
    "room, tip": open_tip,
    "room, held": held,
    "room, fan": fan,
    "review": reviewed,
    "progress": progress,
    "help": page_at("/help"),
    "watch": page_at("/watch"),
    "how true": truth,
    "failure": page_at("/nowhere"),
}


@pytest.fixture(autouse=True, scope="module")
def evidence(serving: Serving) -> None:
    """Let the page about the engine have its table without computing it."""
    keep_sample(serving.settings.data_folder)


@pytest.fixture(autouse=True)
def expected(watch: Watch) -> None:
    watch.expect("404.*/nowhere", "422")


def grave(page: Page) -> list[str]:
    """Return what axe finds serious or critical."""
    violations: list[dict[str, Any]] = axe.run(page).response["violations"]
    return [
        f"{one['id']}: {node['target']} {node['failureSummary']}"
        for one in violations
        if one["impact"] in GRAVE
        for node in one["nodes"]
    ]


@pytest.mark.parametrize("state", STATES)
def test_axe_finds_nothing_grave_and_no_text_is_tiny(opens: Opens, state: str) -> None:
    bench = Bench(opens(color_scheme="light").new_page())
    STATES[state](bench)
    found = [f"light, {one}" for one in grave(bench.page)]
    small = bench.page.evaluate(SMALL_TEXT, LEAST_PX)
    bench.page.emulate_media(color_scheme="dark")
    found += [f"dark, {one}" for one in grave(bench.page)]
    assert found == []
    assert small == []


@pytest.mark.parametrize(
    "state", ["home", "room, talk", "room, held", "review", "progress", "how true"]
)
def test_no_text_is_tiny_on_a_phone(opens: Opens, state: str) -> None:
    phone = {"viewport": {"width": 390, "height": 844}, "is_mobile": True, "has_touch": True}
    bench = Bench(opens(**phone).new_page())
    {"room, talk": read_on_a_phone}.get(state, STATES[state])(bench)
    assert bench.page.evaluate(SMALL_TEXT, LEAST_PX) == []
    assert grave(bench.page) == []


def test_the_lines_of_a_review_are_drawn_on_every_screen(opens: Opens) -> None:
    """What the page's columns are called must not be what hides a line."""
    bench = Bench(opens().new_page())
    reviewed(bench)
    ways = bench.page.locator(".timeline figure > .scroll .way, .timeline figure > svg .way")
    assert ways.count() >= 2
    for width in (1280, 390):
        bench.page.set_viewport_size({"width": width, "height": 800})
        for way in ways.all():
            assert way.evaluate("(one) => getComputedStyle(one).display") == "inline", width


def read_on_a_phone(bench: Bench) -> None:
    bench.sit_down()
    bench.read_down()


def test_forced_colours_keep_what_is_chosen_visible(opens: Opens) -> None:
    bench = Bench(opens(forced_colors="active").new_page())
    bench.sit_down()
    bench.put("sphere-1.00")
    chosen = bench.page.locator(".cell input:checked + .box")
    assert chosen.evaluate("(box) => getComputedStyle(box).outlineStyle") == "solid"
    expect(bench.page.locator("#controls .at")).to_contain_text("−1.00 sphere")


def test_reduced_motion_moves_nothing(opens: Opens) -> None:
    moving = """() => [...document.querySelectorAll("*")].filter((one) => {
      const style = getComputedStyle(one);
      return style.transitionDuration !== "0s" || style.animationName !== "none";
    }).length"""
    bench = Bench(opens(reduced_motion="reduce").new_page())
    bench.sit_down()
    assert bench.page.evaluate(moving) == 0


@pytest.mark.parametrize(
    "state", ["home", "room, talk", "room, finish", "review", "help", "how true"]
)
def test_twice_the_zoom_needs_no_sideways_scroll(opens: Opens, state: str) -> None:
    zoomed = opens(viewport={"width": 640, "height": 400}, device_scale_factor=2)
    bench = Bench(zoomed.new_page())
    {"room, talk": read_on_a_phone}.get(state, STATES[state])(bench)
    assert bench.page.evaluate(WIDER) <= 0
