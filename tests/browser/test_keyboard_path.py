"""A whole job from the start page to the review with keys alone."""

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.bench import BAKER, Bench
from tests.browser.test_mouse_path import errors_in_review

FOCUSED = "document.activeElement.id"
LONGEST_WALK = 150  # stops of Tab, more than the room has
STOP = """() => {
  const at = document.activeElement;
  const shown = at.matches("input[type=radio]") ? at.nextElementSibling : at;
  const style = getComputedStyle(shown || at);
  const group = at.closest(".slots") ? "slots" : at.type === "radio" ? at.name : "";
  return {
    id: at.id, group,
    width: style.outlineStyle === "none" ? 0 : parseFloat(style.outlineWidth),
  };
}"""


def focused(page: Page) -> str:
    return str(page.evaluate(FOCUSED))


def tab_to(page: Page, wanted: str) -> None:
    """Press Tab until the wanted id has the focus; ``slots`` is any lens of the case."""
    for _ in range(LONGEST_WALK):
        page.keyboard.press("Tab")
        if re.fullmatch(wanted, focused(page)):
            return
    raise AssertionError(f"Tab never reaches {wanted}")


def start_with_keys(page: Page, whom: str = BAKER) -> Bench:
    page.goto("/")
    who = page.locator("#choose .patients button", has_text=re.compile(whom, re.IGNORECASE))
    for _ in range(LONGEST_WALK):
        page.keyboard.press("Tab")
        if who.evaluate("(button) => button === document.activeElement"):
            break
    page.keyboard.press("Enter")
    expect(page.locator("#room")).to_be_visible()
    return Bench(page)


class Keys:
    """The same acts as hands do, by keys."""

    def __init__(self, bench: Bench) -> None:
        self.bench, self.page = bench, bench.page

    def press(self, key: str) -> None:
        """Press a key that becomes one event."""
        number = self.bench.number
        self.page.keyboard.press(key)
        self.bench.sees(number + 1)

    def choose(self, at: str) -> None:
        """Walk with arrows to a place."""
        wanted = f"cell-{at.replace('.', '-')}"
        if not focused(self.page).startswith("cell-"):
            tab_to(self.page, "cell-.*")
        here, there = (
            self.page.locator("input[name=at]").evaluate_all(
                "(all, id) => all.findIndex((one) => one.id === id)", one
            )
            for one in (focused(self.page), wanted)
        )
        key = "ArrowRight" if there > here else "ArrowLeft"
        for _ in range(abs(there - here)):
            self.page.keyboard.press(key)
        assert focused(self.page) == wanted
        self.bench.has_chosen(at)

    def drawer(self, kind: str) -> None:
        tab_to(self.page, "kind-.*")
        kinds = ["sphere", "cylinder", "prism", "disc"]
        here, there = kinds.index(focused(self.page)[5:]), kinds.index(kind)
        for _ in range(abs(there - here)):
            self.page.keyboard.press("ArrowRight" if there > here else "ArrowLeft")
        expect(self.page.locator(f".slots.{kind}")).to_be_visible()

    def put(self, typed: str) -> None:
        """Type a power into the lens case, and place it."""
        tab_to(self.page, "slot-.*")
        self.page.keyboard.type(typed)
        self.press("Enter")

    def put_disc(self, name: str) -> None:
        """Walk along the discs to one, and place it."""
        tab_to(self.page, "slot-.*")
        for _ in range(3):
            if focused(self.page) != f"slot-{name}":
                self.page.keyboard.press("ArrowRight")
        assert focused(self.page) == f"slot-{name}"
        self.press("Enter")

    def ask(self) -> int:
        tab_to(self.page, "ask-read-down")
        self.press("Enter")
        return self.bench.letters_read

    def write(self, field: str, text: str) -> None:
        tab_to(self.page, f"card-{field}")
        self.page.keyboard.type(text)


@pytest.fixture
def keys(page: Page) -> Keys:
    return Keys(start_with_keys(page))


def sphere_by_letters(keys: Keys, side: str) -> None:
    """Start with too little minus, typed, and add minus from the rails while letters come."""
    keys.choose(f"{side}.2")
    keys.put("-1.25")
    letters = keys.ask()
    while True:
        keys.choose(f"{side}.2")
        keys.press("-")
        gained = keys.ask() - letters
        if gained < 1:
            break
        letters += gained
    keys.choose(f"{side}.2")
    keys.press("+")


@pytest.mark.usefixtures("same_chance")
def test_a_patient_is_seen_from_start_to_review(keys: Keys) -> None:
    page, bench = keys.page, keys.bench
    for side, other in (("R", "L"), ("L", "R")):
        keys.choose(f"{other}.4")
        keys.drawer("disc")
        keys.put_disc("occluder")
        keys.choose(f"{side}.2")
        keys.drawer("sphere")
        sphere_by_letters(keys, side)
        keys.choose(f"{other}.4")
        keys.press("Delete")
    powers = page.locator(".rail .cell.sphere .power").all_inner_texts()
    assert len(powers) == 2
    keys.write("right_sphere", powers[0].replace("−", "-"))
    keys.write("left_sphere", powers[1].replace("−", "-"))
    tab_to(page, "card-prescribe")
    page.keyboard.press("ArrowDown")
    expect(page.locator("#card-says")).to_contain_text("Prescribe yes saved")
    tab_to(page, "finish-open")
    page.keyboard.press("Enter")
    tab_to(page, "finish-now")
    page.keyboard.press("Enter")
    page.wait_for_url("**/review")
    assert max(errors_in_review(page)) <= 0.50, bench.page.locator("h1").inner_text()


def test_a_cylinder_is_set_and_turned(keys: Keys) -> None:
    page, bench = keys.page, keys.bench
    keys.choose("R.3")
    keys.drawer("cylinder")
    keys.put("-0.75")
    tab_to(page, "axis")
    keys.press("ArrowUp")
    expect(page.locator("#axis")).to_have_value("1")
    keys.press("Shift+ArrowUp")
    keys.press("Shift+ArrowUp")
    expect(page.locator("#axis")).to_have_value("11")
    keys.press("ArrowDown")
    expect(page.locator("#axis")).to_have_value("10")
    page.keyboard.press("Control+a")
    page.keyboard.type("85")
    keys.press("Enter")
    assert focused(page) == "axis"
    expect(page.locator("#controls .at")).to_contain_text("axis 85")
    keys.press("ArrowDown")  # a typed field goes on showing where the lens stands
    expect(page.locator("#axis")).to_have_value("84")
    page.keyboard.press("Control+a")
    page.keyboard.type("120")
    number = bench.number
    page.keyboard.press("Tab")  # what was typed is not lost by walking on
    bench.sees(number + 1)
    expect(page.locator("#axis")).to_have_value("120")


@pytest.mark.parametrize(
    "stop", ["step-plus", "turn-p1", "new-letters", "ask-read-down", "cell-R-3"]
)
def test_the_focus_stays_over_ten_presses(keys: Keys, stop: str) -> None:
    keys.choose("R.3")
    keys.drawer("cylinder")
    keys.put("-0.75")
    tab_to(keys.page, stop)
    for _ in range(10):
        keys.press("+" if stop.startswith("cell") else "Enter")
        assert focused(keys.page) == stop


def test_the_focus_stays_near_what_goes_away(keys: Keys) -> None:
    page = keys.page
    keys.choose("L.4")
    keys.drawer("disc")
    keys.put_disc("occluder")  # there is but one: its slot is now a gap
    expect(page.locator("#slot-occluder")).to_be_disabled()
    assert focused(page).startswith("slot-")
    tab_to(page, "take")
    keys.press("Enter")  # and its button goes with the lens
    assert focused(page) == "cell-L-4"


def test_arrows_walk_along_the_lenses(keys: Keys) -> None:
    page = keys.page
    tab_to(page, "slot-.*")
    assert focused(page) == "slot-spherep0_12"
    for key, there in (
        ("ArrowRight", "slot-spherep0_25"),
        ("ArrowDown", "slot-spherep3_00"),
        ("ArrowUp", "slot-spherep0_25"),
        ("ArrowLeft", "slot-spherep0_12"),
        ("End", "slot-sphere-20_00"),
        ("Home", "slot-spherep0_12"),
    ):
        page.keyboard.press(key)
        assert focused(page) == there, key
    page.keyboard.type("-1.25")
    assert focused(page) == "slot-sphere-1_25"
    page.keyboard.press("Tab")
    page.keyboard.press("Shift+Tab")
    assert focused(page) == "slot-sphere-1_25"


def test_each_group_is_one_stop_and_every_stop_shows(keys: Keys) -> None:
    page = keys.page
    keys.choose("R.3")
    keys.drawer("cylinder")
    keys.put("-0.75")
    stops: list[dict[str, Any]] = []
    tab_to(page, "finish-open")
    while focused(page) != "card-refer" and len(stops) < LONGEST_WALK:
        page.keyboard.press("Tab")
        stops.append(page.evaluate(STOP))
    for group in ("at", "kind", "slots", "start"):
        assert [stop["group"] for stop in stops].count(group) == 1, group
    assert [stop["id"] for stop in stops if stop["width"] < 2] == []


def test_the_dialog_holds_the_focus_and_gives_it_back(keys: Keys) -> None:
    page = keys.page
    tab_to(page, "finish-open")
    page.keyboard.press("Enter")
    dialog = page.locator("#finish")
    expect(dialog).to_be_visible()
    inside = (
        "document.activeElement === document.body || !!document.activeElement.closest('dialog')"
    )
    for _ in range(6):
        assert page.evaluate(inside)
        page.keyboard.press("Tab")
    page.keyboard.press("Escape")
    expect(dialog).to_be_hidden()
    assert focused(page) == "finish-open"
    assert keys.bench.number == 1


def test_a_help_opens_and_closes_with_keys(keys: Keys) -> None:
    page = keys.page
    tab_to(page, "q-step")
    page.keyboard.press("Enter")
    tip = page.locator("#tip-step")
    expect(tip).to_be_visible()
    page.keyboard.press("Escape")
    expect(tip).to_be_hidden()
    assert focused(page) == "q-step"
