"""A whole refraction with the mouse, from the start page to a review that praises it.

The student knows only what the page shows: letters read. Chance is fixed, so that the same
answers come each time.
"""

import re

import pytest
from playwright.sync_api import Page, expect

from optics.light.notation import power_text
from tests.browser.bench import CELLIST, Bench
from tests.browser.refraction import Lens, Refraction


def code(kind: str, power_d: float) -> str:
    return f"{kind}{power_d:+.2f}"


class Hands:
    """Put sphere and cylinder before one eye, and have the chart read."""

    def __init__(self, bench: Bench, side: str) -> None:
        self.bench, self.side = bench, side
        self.sphere_d = self.cylinder_d = 0.0
        self.axis = 180

    def read(self, sphere_d: float, cylinder_d: float, axis: int) -> int:
        """Set the lenses as they are wanted, change the letters, and count those read."""
        if sphere_d != self.sphere_d:
            self.place(f"{self.side}.2", "sphere", self.sphere_d, sphere_d)
        if cylinder_d != self.cylinder_d:
            self.place(f"{self.side}.3", "cylinder", self.cylinder_d, cylinder_d)
        self.sphere_d, self.cylinder_d = sphere_d, cylinder_d
        if cylinder_d and axis != self.axis:
            self.turn(axis)
        self.bench.new_letters()
        self.bench.read_down()
        return self.bench.letters_read

    def place(self, at: str, kind: str, before_d: float, power_d: float) -> None:
        self.bench.choose(at)
        if before_d:
            self.bench.take()
        if power_d:
            self.bench.put(code(kind, power_d))

    def turn(self, axis: int) -> None:
        """Type the axis."""
        self.bench.choose(f"{self.side}.3")
        number = self.bench.number
        box = self.bench.page.locator("#axis")
        box.click()
        box.fill(str(axis))
        box.press("Enter")
        self.bench.sees(number + 1)
        self.axis = axis


def refract(bench: Bench, side: str) -> tuple[Lens, str]:
    """Refract one eye; return the lens, left in place, and the acuity with it."""
    hands = Hands(bench, side)
    lens = Refraction(hands.read).result()
    hands.read(*lens)
    return lens, bench.lowest_line


def write(bench: Bench, eye: str, lens: Lens, acuity: str) -> None:
    sphere_d, cylinder_d, axis = lens
    bench.write(f"{eye}_sphere", power_text(sphere_d))
    if cylinder_d:
        bench.write(f"{eye}_cylinder", power_text(cylinder_d))
        bench.write(f"{eye}_axis", str(axis))
    bench.write(f"{eye}_acuity", acuity)


def errors_in_review(page: Page) -> list[float]:
    """Return what the review says of each eye, in D."""
    numbers = page.locator(".result .number")
    expect(numbers).to_have_count(2)
    found = [re.match(r"[\d.]+", text) for text in numbers.all_inner_texts()]
    return [float(one[0]) for one in found if one]


@pytest.mark.usefixtures("same_chance")
def test_an_astigmat_is_refracted_to_a_quarter_of_a_dioptre(bench: Bench) -> None:
    bench.sit_down(CELLIST, mode="practice")  # where no picture can be peeked at
    bench.cover("L")
    right = refract(bench, "R")
    bench.uncover("L")
    bench.cover("R")
    left = refract(bench, "L")
    for eye, (lens, acuity) in (("right", right), ("left", left)):
        write(bench, eye, lens, acuity)
    bench.page.locator("#card-prescribe").select_option("yes")
    bench.page.locator("#card-refer").select_option("none")
    expect(bench.page.locator("#card-says")).to_contain_text("Refer none saved")
    bench.finish()

    errors = errors_in_review(bench.page)
    assert max(errors) <= 0.25, f"right {right}, left {left}: {errors} D"
    expect(bench.page.locator("h1")).to_contain_text("within a quarter of a dioptre")
