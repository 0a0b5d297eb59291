"""A cross-cylinder refraction of one eye with keys alone, from the first sphere to the review."""

import pytest
from playwright.sync_api import Page

from tests.browser.bench import CELLIST
from tests.browser.test_keyboard_path import Keys, focused, start_with_keys, tab_to

LONGEST = 12  # rounds of one test


class Hands(Keys):
    """Keys that hold a cross cylinder."""

    def take_up(self, down: int) -> None:
        """Choose what is held by pressing down in the list of tools."""
        tab_to(self.page, "tool")
        for _ in range(down):
            self.press("ArrowDown")

    def aim(self, at: str) -> None:
        tab_to(self.page, f"aim-{at}")
        self.press("Enter")

    def prefers(self) -> str:
        """Show both faces and ask; the group's keys are 1, 2 and 3."""
        tab_to(self.page, "show-1")
        for key in ("1", "2", "3"):
            self.press(key)
        return self.code

    @property
    def code(self) -> str:
        return self.page.locator(".said").first.get_attribute("data-code") or ""

    @property
    def letters(self) -> float:
        """How many are read, the mean of two readings."""
        return (self.ask() + self.ask()) / 2.0

    def turn(self, by: int) -> None:
        self.choose("R.3")
        tab_to(self.page, "axis")
        for _ in range(abs(by) // 5):
            self.press("Shift+ArrowUp" if by > 0 else "Shift+ArrowDown")

    def step(self, at: str, key: str) -> None:
        self.choose(at)
        self.press(key)


def axis(hands: Hands) -> None:
    """Turn toward the minus axis that is liked, in halving steps, until the sides are alike."""
    hands.aim("axis")
    by, last = 20, 0
    for _ in range(LONGEST):
        said = hands.prefers()
        if said == "same":
            return
        way = 1 if said == "first" else -1  # the first face's minus axis lies 45 degrees on
        by = max(5, by // 10 * 5) if last and way != last else by
        if by == 5 and last and way != last:
            return
        hands.turn(way * by)
        last = way


def power(hands: Hands) -> None:
    """More or less cylinder until the faces are alike or it turns round; sphere follows."""
    hands.aim("power")
    last, quarters = "", 0
    for _ in range(LONGEST):
        said = hands.prefers()
        if said == "same" or (last and said != last):
            return
        # 45 degrees off, the first face's minus axis lies across the cylinder's: less of it
        more = said == "second"
        hands.step("R.3", "-" if more else "+")
        quarters += 1 if more else -1
        if quarters % 2 == 0:
            hands.step("R.2", "+" if more else "-")
        last = said


def sphere(hands: Hands) -> None:
    """Minus only for letters, from plus."""
    for _ in range(3):
        hands.step("R.2", "+")
    letters = hands.letters
    for _ in range(LONGEST):
        hands.step("R.2", "-")
        gained = hands.letters - letters
        if gained < 1 and letters > 45:
            hands.step("R.2", "+")
            return
        letters += max(gained, 0)


@pytest.fixture
def hands(page: Page) -> Hands:
    return Hands(start_with_keys(page, CELLIST))


@pytest.mark.usefixtures("same_chance")
def test_an_astigmat_is_refracted_with_a_cross_cylinder_by_keys(hands: Hands) -> None:
    page = hands.page
    hands.choose("L.4")
    hands.drawer("disc")
    hands.put_disc("occluder")
    hands.choose("R.2")
    hands.drawer("sphere")
    hands.put("-0.75")
    hands.choose("R.3")
    hands.drawer("cylinder")
    hands.put("-0.75")
    hands.take_up(1)
    for _ in range(3):
        axis(hands)
        power(hands)
    tab_to(page, "away")
    hands.press("Enter")
    sphere(hands)
    powers = page.locator(".rail .cell:has(.direction) .power, .rail .cell.sphere .power")
    cylinder_d, sphere_d = (text.replace("−", "-") for text in powers.all_inner_texts())
    at = page.locator(".rail .cell.cylinder .direction").inner_text().lstrip("×")
    for field, text in (("sphere", sphere_d), ("cylinder", cylinder_d), ("axis", at)):
        hands.write(f"right_{field}", text)
    tab_to(page, "card-left_sphere")
    tab_to(page, "finish-open")
    page.keyboard.press("Enter")
    tab_to(page, "finish-now")
    page.keyboard.press("Enter")
    page.wait_for_url("**/review")
    number = page.locator(".result .number").first.inner_text()
    assert float(number.split()[0]) <= 0.50, page.locator(".result").first.inner_text()


def test_the_keys_of_the_hand_do_nothing_in_a_field_of_degrees(hands: Hands) -> None:
    hands.choose("R.3")
    hands.take_up(2)
    tab_to(hands.page, "handle")
    number = hands.bench.number
    hands.page.keyboard.press("Control+a")
    hands.page.keyboard.type("120")
    assert hands.bench.number == number
    hands.press("Enter")
    assert hands.page.locator("#handle").input_value() == "120"
    assert focused(hands.page) == "handle"
