"""A student's hands and eyes at the bench: presses what a page shows, reads what it says."""

import re
from dataclasses import dataclass

from playwright.sync_api import Locator, Page, expect

BAKER = "a bakery apprentice"
CELLIST = "a cellist"
PLACES = {"hand": "held"} | {str(cell): f"cell {cell}" for cell in range(1, 5)}
EYES = {"R": "Right", "L": "Left"}


@dataclass(frozen=True)
class Bench:
    """The room of one attempt on one page."""

    page: Page

    def sit_down(self, who: str = BAKER, mode: str = "teaching") -> str:
        """Begin an attempt from the start page and return its id."""
        page = self.page
        page.goto("/")
        page.locator(f"#choose input[name=mode][value={mode}]").check()
        page.locator("#choose .patients button", has_text=re.compile(who, re.IGNORECASE)).click()
        expect(page.locator("#room")).to_be_visible()
        page.wait_for_load_state("load")
        return self.attempt

    @property
    def attempt(self) -> str:
        found = re.search(r"/attempts/([^/?#]+)", self.page.url)
        assert found, f"no attempt at {self.page.url}"
        return found[1]

    @property
    def number(self) -> int:
        """The number of the last event that the page knows."""
        return int(self.page.locator("#seen").input_value())

    def sees(self, number: int) -> None:
        """Wait until the page shows the room as it is after that event."""
        # waiting for an element is quicker than asking for a value again and again
        self.page.locator(f'#seen[value="{number}"]').wait_for(state="attached")

    def press(self, what: str | Locator) -> None:
        """Click something that becomes one event, and wait for the room after it."""
        number = self.number
        (self.page.locator(what) if isinstance(what, str) else what).click()
        self.sees(number + 1)

    def choose(self, at: str) -> None:
        """Select a place such as ``R.2`` or ``L.hand``."""
        side, place = at.split(".")
        # A full place has its lens over the radio button: a person clicks on the whole of it.
        self.page.locator(f"label.cell:has(#cell-{side}-{place})").click(
            position={"x": 20, "y": 20}
        )
        self.has_chosen(at)

    def has_chosen(self, at: str) -> None:
        """Wait until a place is selected."""
        side, place = at.split(".")
        title = f"The selected place: {EYES[side]}, {PLACES[place]}"
        self.page.locator(f'#controls[aria-label="{title}"]').wait_for(state="attached")

    def drawer(self, kind: str) -> None:
        """Look into another drawer of the lens case."""
        radio = self.page.locator(f"#kind-{kind}")
        if not radio.is_checked():
            self.page.locator(f".tabs label:has(#kind-{kind})").click()
        expect(self.page.locator(f".slots.{kind}")).to_be_visible()

    def put(self, code: str) -> None:
        """Put a lens into the chosen place: ``sphere-1.00``, ``cylinder-0.50``, ``occluder``."""
        family = re.split(r"[-+0-9]", code)[0]
        self.drawer(family if family in ("sphere", "cylinder", "prism") else "disc")
        self.press(f'[form="place-form"][value="{code}"]')

    def take(self) -> None:
        self.press("#take")

    def step(self, way: str, times: int = 1) -> None:
        """Press ``more plus`` or ``more minus``."""
        for _ in range(times):
            self.press(f"#step-{way}")

    def cover(self, side: str) -> None:
        """Put the occluder before an eye."""
        self.choose(f"{side}.4")
        self.put("occluder")

    def uncover(self, side: str) -> None:
        self.choose(f"{side}.4")
        self.take()

    def new_letters(self) -> None:
        self.press("#new-letters")

    def read_down(self) -> str:
        """Ask to read the chart, and return the words of the answer."""
        self.press("#ask-read-down")
        return self.page.locator("#talk .said .reply").first.inner_text()

    @property
    def letters_read(self) -> int:
        """How many letters the wall shows as read rightly."""
        scores = self.page.locator(".wall-rows .score").all_inner_texts()
        return sum(int(score.split("/")[0]) for score in scores if "/" in score)

    @property
    def lowest_line(self) -> str:
        """The smallest line of which most letters were read: 6/9.5."""
        rows = self.page.locator(".wall-rows li").all_inner_texts()
        read = [row.split() for row in rows if "/5" in row.split()[-1]]
        return [size for size, *_, score in read if int(score[0]) >= 3][-1]

    def write(self, field: str, text: str) -> None:
        """Write a field of the record card and leave it."""
        box = self.page.locator(f"#card-{field}")
        box.fill(text)
        box.press("Tab")

    def finish(self) -> None:
        """End the attempt through its dialog, and wait for the review."""
        self.page.locator("#finish-open").click()
        self.page.locator("#finish-now").click()
        self.page.wait_for_url("**/review")
