"""Marking: answers beside the truth, as power vectors worked out here by hand and again.

Vectors: Thibos, Wheeler & Horner, Optom Vis Sci 1997;74(6):367-375. The names over-minus and
over-plus are common practice: more minus, or more plus, than the eye needs.
"""

import json
import math

import pytest

from optics.errors import NotationError
from optics.light.lens import EyeSide
from optics.light.power import SpheroCylinder
from server.casebook import read_case
from server.marking.accuracy import accuracy, recorded_lens
from server.marking.eye_mark import NAMED_BANDS
from server.marking.truth import MARKED_VERTEX_MM, Truth, find_truth
from tests.student import Student, case_text, opened

Written = tuple[float, float, float]


def vector_of(lens: Written) -> tuple[float, float, float]:
    """Return (M, J0, J45): the definitions of Thibos and others."""
    sphere, cylinder, axis = lens
    double = math.radians(2.0 * axis)
    return (
        sphere + cylinder / 2.0,
        -cylinder / 2.0 * math.cos(double),
        -cylinder / 2.0 * math.sin(double),
    )


def at_12_mm(lens: Written, from_mm: float) -> Written:
    """Move a lens meridian by meridian: F' = F / (1 − d F), d the way towards the eye in m."""
    way_m = (from_mm - 12.0) / 1000.0
    first, second = (power / (1.0 - way_m * power) for power in (lens[0], lens[0] + lens[1]))
    return first, second - first, lens[2]


def at_cornea(lens: Written) -> tuple[float, float, float]:
    """Return the light at the cornea, as a vector, behind a lens at 12 mm for a wall at 6 m."""
    incoming = -1.0 / (6.0 - 0.012)
    first, second = (
        (power + incoming) / (1.0 - 0.012 * (power + incoming))
        for power in (lens[0], lens[0] + lens[1])
    )
    return vector_of((first, second - first, lens[2]))


def truth_of(lens: Written) -> Truth:
    return Truth(vergence=at_cornea(lens), acuity_logmar=-0.1)


def power(lens: Written) -> SpheroCylinder:
    return SpheroCylinder(sphere_d=lens[0], cylinder_d=lens[1], axis_deg=lens[2])


@pytest.mark.parametrize(
    "lens", [(-2.0, 0.0, 180.0), (-3.25, -1.25, 20.0), (4.5, -2.0, 135.0), (-12.0, -3.0, 90.0)]
)
def test_a_truth_is_the_lens_that_it_came_from(lens):
    truth = truth_of(lens)
    assert truth.lens() == power(lens)
    kept = Truth.from_body(json.loads(json.dumps(truth.as_body())))
    assert kept == truth
    assert kept.lens() == power(lens)


@pytest.mark.parametrize(
    ("answer", "truth", "m", "equivalent", "strength"),
    [
        # the same lens
        ((-2.00, -1.00, 180), (-2.00, -1.00, 180), 0.0, 0.0, 0.0),
        # half a dioptre too much minus, nothing else: |M| alone
        ((-2.50, -1.00, 180), (-2.00, -1.00, 180), -0.50, 0.50, 0.50),
        ((-1.50, -1.00, 180), (-2.00, -1.00, 180), +0.50, 0.50, 0.50),
        # a cylinder left out, its mean kept: what is missing is a crossed cylinder of ±0.50
        ((-2.50, 0.00, 180), (-2.00, -1.00, 180), 0.0, 0.50, 0.50),
        # a cylinder left out with its mean: M +0.50 and C/2 0.50, length √(0.5² + 0.5²)
        ((-2.00, 0.00, 180), (-2.00, -1.00, 180), +0.50, 1.00, math.sqrt(0.5)),
        # an axis 90° off doubles the cylinder: 2 × 0.50
        ((-2.00, -1.00, 90), (-2.00, -1.00, 180), 0.0, 1.00, 1.00),
        # an axis 30° off leaves 2 sin 30° of the half cylinder
        ((-2.00, -1.00, 30), (-2.00, -1.00, 180), 0.0, 0.50, 0.50),
    ],
)
def test_an_answer_at_12_mm_is_as_far_off_as_the_vectors_say(
    answer, truth, m, equivalent, strength
):
    marked = accuracy(power(answer), 12.0, truth_of(truth))
    assert marked.difference_m_d == pytest.approx(m, abs=1e-9)
    assert marked.defocus_equivalent_d == pytest.approx(equivalent, abs=1e-9)
    assert marked.blur_strength_d == pytest.approx(strength, abs=1e-9)


@pytest.mark.parametrize("from_mm", [8.0, 12.0, 13.75, 20.0])
@pytest.mark.parametrize("answer", [(-8.0, -2.0, 30.0), (-1.0, 0.0, 180.0), (11.0, -1.5, 100.0)])
@pytest.mark.parametrize("truth", [(-8.0, -2.0, 30.0), (10.5, -1.0, 95.0)])
def test_an_answer_is_moved_to_12_mm_first(answer, truth, from_mm):
    there, ideal = vector_of(at_12_mm(answer, from_mm)), vector_of(truth)
    difference = [a - b for a, b in zip(there, ideal, strict=True)]
    marked = accuracy(power(answer), from_mm, truth_of(truth))
    assert marked.difference_m_d == pytest.approx(difference[0], abs=1e-9)
    assert marked.defocus_equivalent_d == pytest.approx(
        abs(difference[0]) + math.hypot(*difference[1:]), abs=1e-9
    )
    assert marked.blur_strength_d == pytest.approx(math.hypot(*difference), abs=1e-9)


def test_a_strong_lens_written_for_its_own_vertex_is_right():
    # −10.00 D at 14 mm does what −10 / (1 + 0.002 × 10) = −9.80 D does at 12 mm.
    marked = accuracy(power((-10, 0, 180)), 14.0, truth_of((-9.8039216, 0, 180)))
    assert marked.difference_m_d == pytest.approx(0.0, abs=1e-6)
    marked = accuracy(power((-10, 0, 180)), 14.0, truth_of((-10.0, 0, 180)))
    assert marked.difference_m_d == pytest.approx(0.196, abs=5e-4)


@pytest.mark.parametrize("axis", [1.0, 45.0, 90.0, 91.0, 137.0, 180.0])
def test_transposed_answers_mark_equal(axis):
    truth = truth_of((-1.0, -0.75, 60.0))
    turned = axis + 90.0 if axis <= 90.0 else axis - 90.0
    one = accuracy(power((-2.0, -1.25, axis)), 14.0, truth)
    other = accuracy(power((-3.25, 1.25, turned)), 14.0, truth)
    assert one.defocus_equivalent_d == pytest.approx(other.defocus_equivalent_d, abs=1e-12)
    assert one.difference_m_d == pytest.approx(other.difference_m_d, abs=1e-12)
    assert one.answer == other.answer


@pytest.mark.parametrize(
    ("fields", "lens"),
    [
        ({"sphere": "−2.00"}, (-2.0, 0.0, 180.0)),
        ({"sphere": "−2.00", "cylinder": "−1.00", "axis": "090"}, (-2.0, -1.0, 90.0)),
        ({"sphere": "+1.00", "cylinder": "+0.50", "axis": "005"}, (1.0, 0.5, 5.0)),
        ({"sphere": "0.00", "cylinder": "0.00"}, (0.0, 0.0, 180.0)),
        ({"sphere": "−2.00", "axis": "090"}, (-2.0, 0.0, 90.0)),
    ],
)
@pytest.mark.parametrize("eye", ["right", "left"])
def test_the_card_is_read_as_a_lens(eye, fields, lens):
    record = {f"{eye}_{name}": text for name, text in fields.items()}
    assert recorded_lens(record, eye) == power(lens)
    assert recorded_lens(record, "left" if eye == "right" else "right") is None


@pytest.mark.parametrize("record", [{}, {"right_sphere": ""}, {"right_cylinder": "−1.00"}])
def test_a_card_without_a_sphere_says_nothing(record):
    assert recorded_lens(record, "right") is None


def test_a_cylinder_without_an_axis_is_not_marked():
    record = {"right_sphere": "−1.00", "right_cylinder": "−1.00"}
    with pytest.raises(NotationError, match="right cylinder stands without an axis"):
        recorded_lens(record, "right")


NEED = (-3.00, -1.25, 20.0)


@pytest.fixture(scope="module")
def myope(tmp_path_factory):
    path = tmp_path_factory.mktemp("case") / "one.toml"
    path.write_text(case_text(right="-3.00/-1.25x20", left="-1.75"))
    return read_case(path)


@pytest.mark.parametrize(("side", "need"), [("R", NEED), ("L", (-1.75, 0.0, 180.0))])
def test_the_search_finds_what_a_myope_needs(myope, side, need):
    found = find_truth(myope, EyeSide(side))
    marked = accuracy(power(need), MARKED_VERTEX_MM, found)
    assert marked.defocus_equivalent_d <= 0.12
    assert -0.3 <= found.acuity_logmar <= 0.0


@pytest.fixture
def room(tmp_path):
    with opened(tmp_path, one=case_text(right="-3.00/-1.25x20", left="-1.75")) as client:
        yield Student.begins(client)


def test_the_truth_is_searched_once_and_kept(room, monkeypatch):
    searched = []

    def search(case, side):
        searched.append(side)
        return truth_of(NEED if side is EyeSide.RIGHT else (-1.75, 0.0, 180.0))

    monkeypatch.setattr("server.attempts.service.find_truth", search)
    attempts = room.client.app.state.attempts
    [case] = attempts.casebook.cases.values()
    first = {side: attempts.truth(case, side) for side in EyeSide}
    again = {side: attempts.truth(case, side) for side in EyeSide}
    assert searched == [EyeSide.RIGHT, EyeSide.LEFT]
    assert first == again
    assert first[EyeSide.RIGHT].lens() == power(NEED)
    room.does("finish")
    for _ in range(2):
        assert room.gets("/review").status_code == 200
    assert len(searched) == 2


CARD = {
    "right_sphere": "-3",
    "right_cylinder": "-1.25",
    "right_axis": "20",
    "left_sphere": "-2.75",
    "left_acuity": "6/6-2",
}


@pytest.fixture
def quick(monkeypatch):
    truths = {EyeSide.RIGHT: truth_of(NEED), EyeSide.LEFT: truth_of((-1.75, 0.0, 180.0))}
    monkeypatch.setattr("server.attempts.service.find_truth", lambda _, side: truths[side])


def reviewed(room: Student, card: dict[str, str]) -> str:
    for name, text in card.items():
        room.does("card", field=name, text=text)
    room.does("finish")
    answer = room.gets("/review")
    assert answer.status_code == 200
    return answer.text


def test_the_review_names_what_was_written_and_how_far_off_it_is(room, quick):
    page = reviewed(room, CARD)
    assert "The left eye is 1.00 D from its end point: over-minus by 1.00 D." in page
    assert "Over-minus by 1.00 D of mean sphere." in page
    for written in ("−3.00", "−1.25", "020", "−2.75", "6/6−2"):
        assert f">{written}<" in page


def test_the_review_moves_the_answer_from_the_vertex_on_the_card(room, quick):
    # −2.75 at 20 mm is −2.75 / (1 + 0.008 × 2.75) = −2.69 at 12 mm, 0.94 beyond −1.75.
    page = reviewed(room, CARD | {"vertex": "20 mm"})
    assert "Over-minus by 0.94 D of mean sphere." in page


def test_the_review_follows_the_sign_of_cylinder_that_is_liked(room, quick):
    room.client.post("/notation", data={"cylinder": "plus"})
    page = reviewed(room, CARD)
    # −3.00 / −1.25 × 20 is −4.25 / +1.25 × 110
    for written in ("−4.25", "+1.25", "110"):
        assert f">{written}<" in page
    assert "1.00 D from its end point" in page


@pytest.mark.parametrize(
    ("card", "words"),
    [
        ({}, "Nothing was recorded for either eye"),
        ({"right_sphere": "-3"}, "The left eye was not recorded"),
        (
            {"right_sphere": "-3", "right_cylinder": "-1", "left_sphere": "-1.75"},
            "the right cylinder stands without an axis",
        ),
        (
            {
                "right_sphere": "-3",
                "right_cylinder": "-1.25",
                "right_axis": "20",
                "left_sphere": "-2",
            },
            "Both eyes are within a quarter of a dioptre",
        ),
    ],
)
def test_the_review_says_what_is_missing_and_what_is_good(room, quick, card, words):
    assert words in reviewed(room, card)


def test_the_bands_widen():
    limits = [limit for limit, _ in NAMED_BANDS]
    assert limits == sorted(limits)
