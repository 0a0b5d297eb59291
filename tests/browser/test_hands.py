"""What hands do beside pressing: drag an axis, pick from lists, take back, open the picture."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.bench import Bench


def letters(page: Page) -> list[str | None]:
    rows = page.locator(".wall-rows .letters")
    return [rows.nth(row).get_attribute("aria-label") for row in range(rows.count())]


def with_a_cylinder(bench: Bench) -> None:
    bench.sit_down()
    bench.choose("R.3")
    bench.put("cylinder-1.00")


@pytest.mark.parametrize(
    ("across", "up", "axis"), [(0.0, 0.4, 90), (0.3, 0.3, 45), (-0.4, 0.0, 180), (-0.3, -0.3, 45)]
)
def test_the_axis_can_be_dragged(bench: Bench, across: float, up: float, axis: int) -> None:
    """The scale runs counter-clockwise, from the examiner's side, in steps of 5°."""
    with_a_cylinder(bench)
    box = bench.page.locator("[data-dial=R]").bounding_box()
    assert box
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    number = bench.number
    mouse = bench.page.mouse
    mouse.move(x + 0.4 * box["width"], y)
    mouse.down()
    mouse.move(x + across * box["width"], y - up * box["height"], steps=4)
    mouse.up()
    bench.sees(number + 1)
    expect(bench.page.locator("#axis")).to_have_value(str(axis))


def test_the_other_eyes_scale_turns_nothing(bench: Bench) -> None:
    with_a_cylinder(bench)
    number = bench.number
    bench.page.locator("[data-dial=L]").click()
    bench.press("#new-letters")
    assert bench.number == number + 1


def test_light_and_distance_leave_the_letters(bench: Bench) -> None:
    bench.sit_down()
    shown = letters(bench.page)
    bench.press("#light")
    expect(bench.page.locator("#light")).to_have_text("Light: off")
    bench.page.locator("#wall-distance").select_option("4")
    bench.sees(3)
    assert letters(bench.page) == shown
    bench.new_letters()
    assert letters(bench.page) != shown


def test_undo_takes_the_lists_and_fields_back_too(bench: Bench) -> None:
    bench.sit_down()
    page = bench.page
    view = page.locator("#wall-view")
    view.select_option("line")
    bench.sees(2)
    expect(page.locator("#ask-read-line")).to_be_visible()
    page.locator(".fit summary").click()
    page.locator("#fit-vertex_mm").fill("14")
    bench.press("#fit-set")
    bench.press("#undo")
    expect(page.locator("#fit-vertex_mm")).to_have_value("12")
    expect(view).to_have_value("line")
    bench.press("#undo")
    expect(view).to_have_value("chart")
    expect(page.locator("#ask-read-down")).to_be_visible()


def test_a_lens_moves_to_another_place(bench: Bench) -> None:
    bench.sit_down()
    bench.put("sphere-1.00")
    bench.page.locator("#move").select_option("L.1")
    bench.sees(3)
    bench.choose("L.1")
    expect(bench.page.locator("#controls .at")).to_contain_text("−1.00 sphere")


def test_practice_opens_the_picture_once_and_cannot_undo(bench: Bench) -> None:
    bench.sit_down(mode="practice")
    page = bench.page
    expect(page.locator("#eye-picture")).to_have_count(0)
    expect(page.locator("#undo")).to_have_count(0)
    expect(page.locator("#adds")).to_have_count(0)
    bench.press("#open-picture")
    expect(page.locator("#eye-picture")).to_have_js_property("complete", True)
    bench.step("plus")
    expect(page.locator("#open-picture")).to_have_count(0)


def test_a_press_on_the_picture_looks_closer_and_back(bench: Bench) -> None:
    bench.sit_down()
    page, look = bench.page, bench.page.locator("#look")
    picture = page.locator("#eye-picture")
    box = picture.bounding_box()
    assert box
    events = bench.number
    picture.click(position={"x": box["width"] / 2, "y": box["height"] * 0.12})
    expect(look).to_have_value("1")
    expect(picture).to_have_attribute("src", re.compile(r"\?look=1$"))
    expect(picture).to_have_attribute("alt", "6/60 line, as the right eye forms it now")
    picture.click(position={"x": 20, "y": 20})
    expect(look).to_have_value("0")
    expect(picture).not_to_have_attribute("src", re.compile("look"))
    assert bench.number == events  # looking is no act


def test_keys_look_closer_and_it_stays_through_presses(bench: Bench) -> None:
    bench.sit_down()
    page, look = bench.page, bench.page.locator("#look")
    look.focus()
    for _ in range(3):
        look.press("ArrowDown")
    expect(page.locator("#eye-picture")).to_have_attribute("src", re.compile(r"\?look=3$"))
    expect(look).to_be_focused()
    bench.step("plus")
    expect(page.locator("#eye-picture")).to_have_attribute("src", re.compile(r"\?look=3$"))
    expect(page.locator(".closer")).to_contain_text("minutes of arc")
    bench.choose("L.2")
    expect(page.locator("#eye-picture")).to_have_attribute("alt", re.compile("left eye"))
    expect(look).to_have_value("3")
    expect(page.locator("#adds-words")).to_be_visible()
    page.locator("#wall-view").select_option("line")
    expect(look).to_have_value("0")


def test_the_picture_stands_in_the_same_grey_in_both_themes(bench: Bench) -> None:
    bench.sit_down()
    seen = []
    for theme in ("light", "dark"):
        bench.page.emulate_media(color_scheme=theme)
        box = bench.page.locator(".picture-box")
        seen.append(box.evaluate("(box) => getComputedStyle(box).backgroundColor"))
    assert seen == ["rgb(119, 119, 119)"] * 2


def test_the_room_runs_on_the_htmx_it_was_tried_with(bench: Bench) -> None:
    bench.sit_down()
    assert bench.page.evaluate("htmx.version") == "4.0.1"


def test_what_was_unfolded_stays_so_and_tells_what_the_fit_does(bench: Bench) -> None:
    bench.sit_down()
    bench.choose("R.2")
    bench.put("sphere-6.00")
    page = bench.page
    page.locator(".fit summary").click()
    page.locator("#fit-tilt_deg").fill("15")
    bench.press("#fit-set")
    # pantoscopic tilt gives a cylinder on the horizontal axis (Martin)
    expect(page.locator(".fit-effect").first).to_be_visible()
    expect(page.locator(".fit-effect").first).to_contain_text("× 180")


def test_a_disc_has_no_power_to_step(bench: Bench) -> None:
    bench.sit_down()
    bench.choose("R.4")
    bench.put("red")
    expect(bench.page.locator("#step-plus")).to_contain_text("no power")
