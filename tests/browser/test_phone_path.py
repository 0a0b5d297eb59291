"""The room on phones and tablets, by touch; and on one screen of a laptop."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.bench import CELLIST, Bench
from tests.browser.conftest import Opens

PHONES = [(390, 844), (320, 640)]
WIDER = "document.scrollingElement.scrollWidth - document.documentElement.clientWidth"
FINGER_PX = 44
STRIP_PX = 160
OVER_FOCUS = """() => {
  const at = document.activeElement;
  if (at === document.body) return null;
  const shown = at.matches("input[type=radio]") ? at.nextElementSibling : at;
  const box = shown.getBoundingClientRect();
  const over = [];
  for (const selector of [".changing", ".seen"]) {
    const bar = document.querySelector(selector);
    if (!bar || bar.contains(at)) continue;
    const edge = bar.getBoundingClientRect();
    const apart = box.bottom <= edge.top + 1 || box.top >= edge.bottom - 1;
    if (!apart) over.push(`${selector} over ${at.id || at.textContent}`);
  }
  return { id: at.id, over };
}"""

Phone = Callable[[int, int], Bench]


@pytest.fixture
def phone(opens: Opens) -> Phone:
    """Return benches on touch screens of some size."""

    def of(width: int, height: int) -> Bench:
        size: dict[str, Any] = {"viewport": {"width": width, "height": height}}
        return Bench(
            opens(**size, device_scale_factor=2, is_mobile=True, has_touch=True).new_page()
        )

    return of


def assert_fits(page: Page) -> None:
    assert page.evaluate(WIDER) <= 0, page.url


def tap(bench: Bench, what: str) -> None:
    """Tap what becomes one event."""
    number = bench.number
    bench.page.locator(what).tap()
    bench.sees(number + 1)


@pytest.mark.parametrize(("width", "height"), PHONES)
def test_no_page_scrolls_sideways(phone: Phone, width: int, height: int) -> None:
    bench = phone(width, height)
    page = bench.page
    for path in ("/", "/help", "/watch", "/nowhere"):
        page.goto(path)
        assert_fits(page)
    bench.sit_down(CELLIST)
    assert_fits(page)
    bench.read_down()
    page.locator("label[for=cell-R-2]").tap()
    bench.write("right_sphere", "-0.25")
    bench.write("left_sphere", "nonsense")
    expect(page.locator("#card-says .alert")).to_be_visible()
    assert_fits(page)
    page.locator("#finish-open").tap()
    assert_fits(page)
    page.locator("#finish-now").tap()
    page.wait_for_url("**/review")
    assert_fits(page)


@pytest.fixture(autouse=True)
def expected(watch: Any) -> None:
    watch.expect("404.*/nowhere", "422")


@pytest.mark.parametrize(("width", "height"), PHONES)
def test_the_picture_stays_on_top(phone: Phone, width: int, height: int) -> None:
    bench = phone(width, height)
    bench.sit_down()
    page = bench.page
    for _ in range(2):
        page.evaluate("scrollBy(0, 500)")
        page.wait_for_timeout(50)
        box = page.locator(".seen").bounding_box()
        assert box
        assert -1 <= box["y"] <= 1
        assert box["height"] <= STRIP_PX
        expect(page.locator("#eye-picture")).to_be_in_viewport(ratio=0.9)


@pytest.mark.parametrize(("width", "height"), PHONES)
def test_fingers_look_closer(phone: Phone, width: int, height: int) -> None:
    bench = phone(width, height)
    bench.sit_down()
    page = bench.page
    picture = page.locator("#eye-picture")
    page.locator("#look").select_option("11")
    expect(picture).to_have_attribute("src", re.compile(r"\?look=11$"))
    strip = page.locator(".seen").bounding_box()
    assert strip
    assert strip["height"] <= STRIP_PX
    page.locator("#strip-size").tap()
    expect(page.locator(".closer p")).to_be_visible()
    picture.tap()
    expect(picture).not_to_have_attribute("src", re.compile("look"))
    assert_fits(page)


@pytest.mark.parametrize(("width", "height"), PHONES)
def test_the_lens_case_is_a_sheet(phone: Phone, width: int, height: int) -> None:
    bench = phone(width, height)
    bench.sit_down()
    page = bench.page
    expect(page.locator(".drawer")).to_be_hidden()
    page.locator("#open-case").tap()
    expect(page.locator(".drawer")).to_be_visible()
    tap(bench, "#slot-sphere-1_00")
    expect(page.locator("#controls .at")).to_contain_text("−1.00 sphere")
    page.locator("#close-case").tap()
    expect(page.locator(".drawer")).to_be_hidden()
    tap(bench, "#step-minus")
    expect(page.locator("#controls .at")).to_contain_text("−1.25 sphere")


def test_the_sheet_changes_drawers_and_closes_with_escape(phone: Phone) -> None:
    bench = phone(390, 844)
    bench.sit_down()
    page = bench.page
    page.locator(".side-tabs label", has_text="Left").tap()
    page.locator("label.cell:has(#cell-L-4)").tap()
    bench.has_chosen("L.4")
    page.locator("#open-case").tap()
    page.locator(".tabs label:has(#kind-disc)").tap()
    tap(bench, "#slot-occluder")
    page.keyboard.press("Escape")
    expect(page.locator(".drawer")).to_be_hidden()
    expect(page.locator("#controls .at")).to_contain_text("occluder")


@pytest.mark.parametrize(("width", "height"), PHONES)
def test_tabs_show_the_rail_of_an_eye(phone: Phone, width: int, height: int) -> None:
    bench = phone(width, height)
    bench.sit_down()
    page = bench.page
    rails = page.locator(".rail")
    expect(rails.nth(0)).to_be_visible()
    expect(rails.nth(1)).to_be_hidden()
    page.locator(".side-tabs label", has_text="Left").tap()
    bench.has_chosen("L.2")
    expect(rails.nth(0)).to_be_hidden()
    expect(rails.nth(1)).to_be_visible()
    expect(page.locator(".seen figcaption")).to_contain_text("left eye")


@pytest.mark.parametrize(("width", "height"), PHONES)
def test_nothing_docked_covers_the_focus(phone: Phone, width: int, height: int) -> None:
    bench = phone(width, height)
    bench.sit_down()
    page = bench.page
    page.locator("#finish-open").focus()
    covered: list[str] = []
    for _ in range(120):
        page.keyboard.press("Tab")
        found = page.evaluate(OVER_FOCUS)
        if not found:
            break
        covered += found["over"]
        if found["id"] == "card-refer":
            break
    assert covered == []


@pytest.mark.parametrize(("width", "height"), PHONES)
def test_fingers_find_their_targets(phone: Phone, width: int, height: int) -> None:
    bench = phone(width, height)
    bench.sit_down()
    bench.choose("R.3")
    bench.page.locator("#open-case").tap()
    bench.page.locator(".tabs label:has(#kind-cylinder)").tap()
    tap(bench, "#slot-cylinder-1_00")
    bench.page.locator("#close-case").tap()
    docked = bench.page.locator(".changing button:visible, .changing input:visible")
    heights = docked.evaluate_all("(all) => all.map((one) => one.offsetHeight)")
    assert min(heights) >= FINGER_PX
    tap(bench, "#turn-p5")
    expect(bench.page.locator("#axis")).to_have_value("5")
    small = "(all) => all.filter((one) => Math.min(one.offsetWidth, one.offsetHeight) < 24).length"
    assert bench.page.locator("button:visible, select:visible").evaluate_all(small) == 0


def test_a_tablet_shows_both_columns(phone: Phone) -> None:
    bench = phone(1024, 768)
    bench.sit_down()
    page = bench.page
    assert_fits(page)
    tap(bench, "#slot-sphere-1_00")
    tap(bench, "#step-plus")
    left, right = (page.locator(side).bounding_box() for side in (".left", ".right"))
    assert left
    assert right
    assert left["x"] + left["width"] <= right["x"]


def test_a_laptop_shows_the_bench_without_scrolling(bench: Bench) -> None:
    bench.page.goto("/")
    bench.page.locator("#first-patient").click()  # with the prompts, which take a row
    expect(bench.page.locator(".prompts")).to_be_visible()
    assert_fits(bench.page)
    for at, kind, code in (("R.2", "sphere", "sphere-1.00"), ("R.3", "cylinder", "cylinder-1.00")):
        bench.choose(at)
        bench.drawer(kind)
        bench.put(code)
        for column in (".left", ".right"):
            box = bench.page.locator(column).bounding_box()
            assert box
            assert box["y"] + box["height"] <= 800, f"{column} with {code}"
