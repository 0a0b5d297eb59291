"""The thirty people of the casebook: spread over levels and ages, each fit to be refracted."""

import re
from collections import Counter
from functools import cache

import pytest

from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.notation import parse_prescription
from optics.sight.targets import Wall
from optics.sight.view import look
from server.case_report import OCCLUDER, PINHOLE, eye_report, inconsistencies
from server.casebook import read_casebook
from server.marking.truth import Truth, find_truth
from server.settings import REPOSITORY
from server.web.present_home import LEVELS
from tests.test_casebook import TELLING

BOOK = read_casebook(REPOSITORY / "cases").cases
RIGHT = EyeSide.RIGHT
A_LINE = 0.1
MAY_BE_CAPITAL = {"I", "I'm", "I'd", "Saturday"}


@cache
def truths(stem: str) -> dict[EyeSide, Truth]:
    return {side: find_truth(BOOK[stem], side) for side in EyeSide}


def test_there_are_thirty():
    assert len(BOOK) == 30
    assert all(re.fullmatch("[a-z]+", stem) for stem in BOOK)


def test_each_level_has_at_least_five_and_words_on_the_start_page(client):
    found = Counter(case.level for case in BOOK.values())
    assert set(found) == set(LEVELS) == {1, 2, 3, 4}
    assert min(found.values()) >= 5
    home = client.get("/").text
    for level, words in LEVELS.items():
        assert f"Level {level} <span" in home
        assert words in home
        assert f'value="random:{level}"' in home
    assert all(case.complaint.replace("'", "&#39;") in home for case in BOOK.values())


def test_every_age_group_comes():
    decades = {case.age_y // 10 for case in BOOK.values()}
    assert decades == {1, 2, 3, 4, 5, 6, 7, 8}


@pytest.mark.parametrize("stem", BOOK)
def test_people_are_known_by_what_they_do_and_have_no_name(stem):
    case = BOOK[stem]
    assert re.match("an? [a-z]", case.who)
    assert not TELLING.search(stem + " " + case.who + " " + case.complaint)
    for words in (case.who, case.complaint, *case.history.values()):
        assert set(re.findall(r"(?<![.?!] )(?<!^)\b[A-Z][\w']*", words)) <= MAY_BE_CAPITAL


@pytest.mark.parametrize("stem", BOOK)
def test_a_case_holds_together(stem):
    case = BOOK[stem]
    assert inconsistencies(case, truths(stem)) == []
    for side in EyeSide:  # what is stated as the best acuity is what the best lens gives
        stated = getattr(case.file, side.name.lower()).best_logmar
        assert stated is None or truths(stem)[side].acuity_logmar == pytest.approx(stated, abs=0.01)


NO_LENS = {stem for stem, case in BOOK.items() if case.answer and case.answer.prescribe == "no"}
SENT_ON, COMES_AGAIN = {"nettle", "saxifrage"}, {"comfrey"}


@pytest.mark.parametrize("stem", sorted(NO_LENS - SENT_ON - COMES_AGAIN))
def test_who_needs_no_lens_reads_well_with_next_to_none(stem):
    for truth in truths(stem).values():
        assert truth.acuity_logmar <= 0.0
        lens = truth.lens()
        assert max(abs(lens.sphere_d), abs(lens.cylinder_d)) <= 0.25


@pytest.mark.parametrize("stem", ["aspen", "medlar", "nettle"])
def test_a_pinhole_does_not_help_where_the_seeing_behind_the_optics_is_poor(stem):
    side = EyeSide.LEFT if stem == "aspen" else RIGHT
    report = eye_report(BOOK[stem], side, truths(stem)[side])
    assert report.pinhole_logmar > report.best_logmar + 0.05
    assert report.pinhole_logmar > report.unaided_logmar - A_LINE


@pytest.mark.parametrize("stem", ["burdock", "larch"])
def test_a_pinhole_before_the_best_lens_helps_where_the_cornea_is_irregular(stem):
    case, truth = BOOK[stem], truths(stem)[RIGHT]
    lens = truth.lens()
    cylinder = TrialLens(kind=LensKind.CYLINDER, power_d=lens.cylinder_d)
    frame = TrialFrame().with_lens(EyeSide.LEFT, Place.CELL_4, OCCLUDER)
    for place, one in (
        (Place.CELL_1, PlacedLens(lens=TrialLens(kind=LensKind.SPHERE, power_d=lens.sphere_d))),
        (Place.CELL_2, PlacedLens(lens=cylinder, direction_deg=lens.axis_deg)),
        (Place.CELL_4, PINHOLE),
    ):
        frame = frame.with_lens(RIGHT, place, one)
    holed = look(case.eyes, frame, Wall()).eye(RIGHT).reading
    assert holed.acuity_logmar < truth.acuity_logmar - 1.5 * A_LINE


def test_new_flashes_are_told_only_to_the_one_who_asks():
    case = BOOK["saxifrage"]
    assert re.search("lightning", case.history["flashes"])
    others = [text for topic, text in case.history.items() if topic != "flashes"]
    assert not re.search("lightning|flash|speck|soot", " ".join([*others, case.complaint]))
    assert case.answer.refer == "same day"
    # all that is measured is well: nothing else would give it away
    assert all(truth.acuity_logmar <= 0.0 for truth in truths("saxifrage").values())


def test_strong_lenses_are_too_weak_as_worn_by_about_what_sliding_down_gives():
    # F at 12 mm works at 12 + d mm like F / (1 - dF): 3 mm of 10 D are 0.31 D
    case = BOOK["mullein"]
    worn = parse_prescription(case.start["worn_right"])
    short_d = case.needs[RIGHT].spherical_equivalent_d - worn.spherical_equivalent_d
    slid_d = worn.spherical_equivalent_d / (1 - 0.006 * worn.spherical_equivalent_d)
    assert 0.5 <= short_d <= 1.0
    assert slid_d - worn.spherical_equivalent_d == pytest.approx(0.58, abs=0.05)
