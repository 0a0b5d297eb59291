"""What an examiner reads off the pages: letters read, replies, the hand, the clock, the card."""

import html
import re
from dataclasses import dataclass

SCORE = re.compile(r'<span class="score">([^<]*)</span>')
SAID = re.compile(r'<div class="said" id="said-(\d+)"(?: data-code="([^"]*)")?>')
UP = re.compile(r'<p class="up">[^<]*minus axis at (\d+)')
CLOCK = re.compile(r'<p class="clock">.*?<b>(\d+):(\d\d)</b>', re.S)
GIVEN = re.compile(r"<dt>([^<]*)</dt><dd>([^<]*)</dd>")
LENS = re.compile(r"([+-]?\d+\.\d\d|plano)(?:/([+-]\d+\.\d\d)[x×](\d+)|DS)?")
RESULT = re.compile(r'<h2 id="eye-right">.*?<span class="number">([^<]*)</span>', re.S)
ROW = re.compile(r'<tr><th scope="row">(You wrote|End point)</th>(.*?)</tr>', re.S)
CELL = re.compile(r"<td>([^<]*)</td>")


def plain(text: str) -> str:
    """Return text with signs as they are typed."""
    return html.unescape(text).replace("−", "-").strip()


@dataclass(frozen=True)
class Lens:
    """Sphere, minus cylinder and its axis."""

    sphere_d: float
    cylinder_d: float = 0.0
    axis_deg: int = 180


def letters_read(page: str) -> int:
    """Return how many letters of the chart were read right, those of each tried line together."""
    return sum(int(score.partition("/")[0]) for score in SCORE.findall(page) if "/" in score)


def reply(page: str) -> str:
    """Return the code of the newest reply."""
    found = SAID.search(page)
    assert found, "nothing has been said"
    return found[2] or ""


def minus_axis(page: str) -> int:
    """Return where the minus axis of the face that is up lies."""
    found = UP.search(page)
    assert found, "no face of a cross cylinder is up"
    return int(found[1])


def patient_seconds(page: str) -> int:
    """Return the patient's time."""
    found = CLOCK.search(page)
    assert found, "there is no clock"
    return 60 * int(found[1]) + int(found[2])


def given_lens(page: str) -> Lens | None:
    """Return what the card shows of the right eye: the objective result, else what is worn."""
    given = dict(GIVEN.findall(page))
    for label in ("Objective result, right", "Spectacles worn, right"):
        found = LENS.fullmatch(plain(given.get(label, "")).replace(" ", ""))
        if found:
            sphere = 0.0 if found[1] == "plano" else float(found[1])
            return Lens(sphere, float(found[2] or 0.0), int(found[3] or 180))
    return None


def reviewed(page: str) -> tuple[float, tuple[str, ...], tuple[str, ...]]:
    """Return the right eye's distance from its end point, what was written, the end point."""
    found = RESULT.search(page)
    assert found, "the review has no right eye"
    rows = [tuple(plain(one) for one in CELL.findall(cells)) for _, cells in ROW.findall(page)]
    return float(found[1].removesuffix(" D")), rows[0], rows[1]
