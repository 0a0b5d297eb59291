"""Watch one: a refraction of an eye with nothing hidden, step by step, from the same engine.

The eye is invented for this page alone: a 26-year-old who needs −1.50 / −0.75 × 180.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from optics.eye.eye import EyePair, ordinary_pair, required_vergence
from optics.grammar import parse_frame
from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.notation import parse_prescription
from optics.sight.canvas import canvas_for
from optics.sight.targets import Row, Wall
from optics.sight.view import View, look
from server.web.contexts_pages import WatchPage, WatchStep
from server.web.notation import Notation
from server.web.present import lens_words

NEED = "-1.50/-0.75x180"
AGE_Y = 26.0
LETTERS = ((0.6, "DHNKC"), (0.5, "ZSROV"), (0.4, "KCDHN"), (0.3, "VORSZ"))
LETTERS_SMALL = ((0.2, "HNDKC"), (0.1, "SZVRO"), (0.0, "NCKHD"), (-0.1, "ROZSV"))
OCCLUDER = PlacedLens(lens=TrialLens(kind=LensKind.OCCLUDER))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Step:
    title: str
    words: str
    frame: str


STEPS = (
    _Step(
        title="Cover one eye",
        words="The occluder goes before the left eye, so that the right one answers alone."
        " With nothing before it, the right eye reads the big lines only.",
        frame="",
    ),
    _Step(
        title="Pinhole",
        words="A small hole makes every blur disc small. The letters come back, so lenses can"
        " help this eye. The hole costs light, so it never reaches the very best.",
        frame="4:pinhole1.2",
    ),
    _Step(
        title="Plus first",
        words="+1.00 makes it worse at once: the eye was not relaxing plus away. Had it read"
        " as well through plus, minus would have been the wrong way to start.",
        frame="2:+1.00",
    ),
    _Step(
        title="Minus for letters",
        words="−1.00 wins lines. Give minus only while each step wins letters.",
        frame="2:-1.00",
    ),
    _Step(
        title="Best sphere",
        words="−2.00 puts the circle of least confusion on the retina: as good as a sphere"
        " alone can make it. Letters still smear: astigmatism is left.",
        frame="2:-2.00",
    ),
    _Step(
        title="A cylinder the wrong way",
        words="−0.75 with its axis at 90 doubles the astigmatism instead of mending it.",
        frame="2:-1.50 3:-0.75x90",
    ),
    _Step(
        title="The same cylinder turned",
        words="At axis 180 both meridians come together. Half of the cylinder was given back"
        " to the sphere, so that the mean stays where it was.",
        frame="2:-1.50 3:-0.75x180",
    ),
    _Step(
        title="Stop in time",
        words="Another −0.50 looks no worse: this young eye adds plus of its own to"
        " see through it. Letters are not gained, so it is not given.",
        frame="2:-2.00 3:-0.75x180",
    ),
    _Step(
        title="Write it down",
        words="The most plus that keeps the best line: write sphere, cylinder, axis and acuity,"
        " then do the same for the other eye.",
        frame="2:-1.50 3:-0.75x180",
    ),
)


def watch_page(notation: Notation) -> WatchPage:
    """Return the demonstration."""
    return WatchPage(
        steps=tuple(_shown(index, notation) for index in range(len(STEPS))),
        need=notation.lens_text(parse_prescription(NEED)),
    )


def _shown(index: int, notation: Notation) -> WatchStep:
    step, view = STEPS[index], _view(index)
    reading = view.right.reading
    return WatchStep(
        number=index + 1,
        title=step.title,
        words=step.words,
        before=", ".join(lens_words(placed) for _, placed in _frame(index).before(EyeSide.RIGHT))
        or "nothing",
        acuity=notation.acuity_text(reading.acuity_logmar) if reading else "–",
        adds=f"{view.accommodation_d:.2f}" if view.accommodation_d >= 0.05 else "",
        picture=f"/watch/{index + 1}.png",
    )


@lru_cache(maxsize=1)
def _eyes() -> EyePair:
    vergence = required_vergence(parse_prescription(NEED), 12.0, 6.0)
    return ordinary_pair(vergence, vergence, age_y=AGE_Y, pupil_mm=4.5)


def _frame(index: int) -> TrialFrame:
    return parse_frame(STEPS[index].frame, EyeSide.RIGHT).with_lens(
        EyeSide.LEFT, Place.CELL_4, OCCLUDER
    )


@lru_cache(maxsize=len(STEPS))
def _view(index: int) -> View:
    return look(_eyes(), _frame(index), Wall())


def watch_picture(number: int) -> Any:
    """Return the picture of a step, or None if there is no such step."""
    if not 1 <= number <= len(STEPS):
        return None
    rows = tuple(Row(size_logmar=size, letters=text) for size, text in (*LETTERS, *LETTERS_SMALL))
    return _view(number - 1).right.picture(rows, canvas_for(rows, 480, 360))
