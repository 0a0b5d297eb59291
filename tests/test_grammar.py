"""The words of --eye and --frame: accepted and refused strings as the EBNF has them."""

import pytest

from optics.errors import NotationError
from optics.grammar import parse_frame, parse_lens
from optics.light.frame import Place
from optics.light.lens import EyeSide, LensKind
from optics.light.notation import parse_prescription
from optics.light.power import SpheroCylinder

RIGHT = EyeSide.RIGHT
KIND = LensKind

# frame: what stands in each place as (kind, power, aperture or density, direction)
FRAMES = {
    "": {},
    "1:-2.00": {"1": (KIND.SPHERE, -2.0, 180)},
    "1:+0.25": {"1": (KIND.SPHERE, 0.25, 180)},
    "1:-2": {"1": (KIND.SPHERE, -2.0, 180)},
    "1:-0.00": {"1": (KIND.PLANO, 0.0, 180)},
    "2:-1.00x30": {"2": (KIND.CYLINDER, -1.0, 30)},
    "4:+2.25x180": {"4": (KIND.CYLINDER, 2.25, 180)},
    "1:-2.00 3:-1.00x30": {"1": (KIND.SPHERE, -2.0, 180), "3": (KIND.CYLINDER, -1.0, 30)},
    "3:plano": {"3": (KIND.PLANO, 0.0, 180)},
    "1:prism2@180": {"1": (KIND.PRISM, 2.0, 180)},
    "1:prism0.5@270": {"1": (KIND.PRISM, 0.5, 270)},
    "2:prism10@360": {"2": (KIND.PRISM, 10.0, 360)},
    "4:pinhole1.2": {"4": (KIND.PINHOLE, 1.2, 180)},
    "4:slit@90": {"4": (KIND.SLIT, 0.0, 90)},
    "4:occluder": {"4": (KIND.OCCLUDER, 0.0, 180)},
    "1:red": {"1": (KIND.RED, 0.0, 180)},
    "2:green": {"2": (KIND.GREEN, 0.0, 180)},
    "3:rod@180": {"3": (KIND.ROD, 0.0, 180)},
    "1:-1.00 4:rod@90": {"1": (KIND.SPHERE, -1.0, 180), "4": (KIND.ROD, 0.0, 90)},
    "4:neutral": {"4": (KIND.NEUTRAL, 0.6, 180)},
    "4:neutral2": {"4": (KIND.NEUTRAL, 2.0, 180)},
    "hand:cross0.25@45": {"hand": (KIND.CROSS_CYLINDER, 0.25, 45)},
    "1:-31.25": {"1": (KIND.SPHERE, -31.25, 180)},  # powers that no set holds are allowed here
}
EYES = {
    "-2.00/-1.00x30": SpheroCylinder(sphere_d=-2.0, cylinder_d=-1.0, axis_deg=30.0),
    "+1.25": SpheroCylinder(sphere_d=1.25),
    "plano": SpheroCylinder(sphere_d=0.0),
}


@pytest.mark.parametrize("text", FRAMES)
@pytest.mark.parametrize("side", EyeSide)
def test_a_frame_in_words_is_the_frame_that_it_describes(text, side):
    frame = parse_frame(text, side)
    assert len(frame.fitted) == len(FRAMES[text])
    for place, (kind, amount, direction_deg) in FRAMES[text].items():
        placed = frame.at(side, Place(place))
        lens = placed.lens
        assert (lens.kind, placed.direction_deg) == (kind, direction_deg)
        named = {KIND.PINHOLE: lens.aperture_mm, KIND.NEUTRAL: lens.density}
        assert named.get(kind, lens.power_d) == amount


@pytest.mark.parametrize("text", EYES)
def test_an_eye_in_words_is_its_correcting_lens(text):
    assert parse_prescription(text) == EYES[text]


@pytest.mark.parametrize(
    "text",
    [
        "-2.00",
        "5:-2.00",
        "1:",
        "1:2.00",
        "1:-2.00/-1.00x30",
        "1:-1.00x181",
        "1:-1.00x0",
        "1:prism2@361",
        "1:prism2",
        "1:red@90",
        "2:greenish",
        "3:rod",
        "3:rod@181",
        "3:rod2@90",
        "1:neutral0",
        "1:neutral9",
        "1:neutral-0.3",
        "1:slit",
        "1:pinhole99",
        "1:pinhole0",
        "1:cross-0.25@45",
        "1:-2.00 1:-1.00",
        "hand-2.00",
        "1:nan",
        "1:+infx90",
        "1:<script>",
        "1:" + "-2.00" * 200,
    ],
)
def test_other_words_are_refused_and_named(text):
    with pytest.raises(NotationError, match="not understood in the frame: '") as refusal:
        parse_frame(text, RIGHT)
    message = str(refusal.value)
    assert text.split()[-1][:30] in message
    assert "\n" not in message
    assert len(message) < 220


def test_base_directions_are_tabo():
    # base 180 lies to the examiner's left, base 90 up, base 270 down (TABO)
    for word, prism_pd in {
        "prism2@360": (2.0, 0.0),
        "prism2@180": (-2.0, 0.0),
        "prism2@90": (0.0, 2.0),
        "prism2@270": (0.0, -2.0),
    }.items():
        assert parse_lens(word).prism_pd == pytest.approx(prism_pd, abs=1e-12)
