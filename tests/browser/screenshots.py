"""Twelve pictures of the pages: ``python -m tests.browser.screenshots FOLDER``.

Six states, on a laptop and on a phone, the themes in turn; to be looked at.
"""

import shutil
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, expect, sync_playwright

from tests.browser.bench import CELLIST, Bench
from tests.browser.serving import FLAGS, Serving

SIZES: dict[str, dict[str, Any]] = {
    "laptop": {"viewport": {"width": 1280, "height": 800}},
    "phone": {
        "viewport": {"width": 390, "height": 844},
        "device_scale_factor": 2,
        "is_mobile": True,
        "has_touch": True,
    },
}
THEMES = ("light", "dark")


def start(bench: Bench) -> None:
    bench.page.goto("/")


def empty_room(bench: Bench) -> None:
    bench.page.goto("/")
    bench.page.locator("#first-patient").click()
    expect(bench.page.locator(".prompts")).to_be_visible()


def put(bench: Bench, at: str, code: str) -> None:
    """Put a lens in, through the sheet where the case is one."""
    side = bench.page.locator(f".side-tabs label[for=cell-{at[0]}-2]")
    if side.is_visible():
        side.click()
        bench.has_chosen(f"{at[0]}.2")
    bench.choose(at)
    opener = bench.page.locator("#open-case")
    sheet = opener.is_visible()
    if sheet:
        opener.click()
    bench.put(code)
    if sheet:
        bench.page.locator("#close-case").click()


def mid_refraction(bench: Bench) -> None:
    bench.sit_down(CELLIST)
    for at, code in (("L.4", "occluder"), ("R.2", "sphere-0.75"), ("R.3", "cylinder-1.00")):
        put(bench, at, code)
    bench.press("#turn-m5")
    bench.page.locator("#history-onset").evaluate("(one) => one.closest('details').open = true")
    bench.press("#history-onset")
    bench.read_down()
    bench.page.locator(".why").first.click()
    expect(bench.page.locator(".why-words")).to_be_visible()


def record_error(bench: Bench) -> None:
    mid_refraction(bench)
    bench.write("right_sphere", "-0.75")
    bench.write("right_axis", "200")
    expect(bench.page.locator("#card-says .alert")).to_be_visible()


def review(bench: Bench) -> None:
    mid_refraction(bench)
    for field, text in (("sphere", "-0.75"), ("cylinder", "-1.00"), ("axis", "175")):
        bench.write(f"right_{field}", text)
    bench.write("left_sphere", "-1.00")
    expect(bench.page.locator("#card-left_sphere")).to_have_value("−1.00")
    bench.finish()


def words_of_help(bench: Bench) -> None:
    bench.page.goto("/help")


STATES: dict[str, Callable[[Bench], None]] = {
    "start": start,
    "room-empty": empty_room,
    "room-mid": mid_refraction,
    "record-error": record_error,
    "review": review,
    "help": words_of_help,
}


def take_all(browser: Browser, address: str, folder: Path) -> list[Path]:
    """Take every picture, the second size in the theme that the first has not."""
    taken = []
    for turn, (state, go) in enumerate(STATES.items()):
        for second, (size, options) in enumerate(SIZES.items()):
            theme = THEMES[(turn + second) % 2]
            context = browser.new_context(base_url=address, color_scheme=theme, **options)
            bench = Bench(context.new_page())
            go(bench)
            bench.page.wait_for_load_state("networkidle")
            path = folder / f"{turn + 1}-{state}-{size}-{theme}.png"
            # what is docked on a phone would lie across the middle of a whole page
            docked = size == "phone" and bench.page.locator("#room").count() > 0
            bench.page.screenshot(path=path, full_page=not docked)
            taken.append(path)
            context.close()
    return taken


def main(folder: Path) -> None:
    """Serve, browse and take the pictures."""
    folder.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as data,
        Serving(Path(data)) as serving,
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=list(FLAGS)
        )
        for path in take_all(browser, serving.address, folder):
            sys.stdout.write(f"{path}\n")
        browser.close()


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: python -m tests.browser.screenshots FOLDER")
    main(Path(sys.argv[1]))
