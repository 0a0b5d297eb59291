"""The mark of an attempt: what it adds up to, what it leaves out, and that it is kept."""

import contextlib
import json
import random
from dataclasses import replace

import pytest
from sqlalchemy import delete, update
from sqlalchemy.exc import IntegrityError

from optics.light.lens import EyeSide
from optics.light.lens_case import full_set
from server.attempts import acts, acts_hand
from server.errors import NotFound, Refused
from server.marking.mark import Mark
from server.marking.rubric import RUBRIC, Rubric
from server.marking.steps import steps_of
from server.store import schema
from tests.fault_logs import SHOWS
from tests.fault_logs.card import NO_LENS, NONE_NEEDED, SAME_DAY, STOP, judged
from tests.fault_logs.log import ASTIGMAT, Log, writing
from tests.script import Script, at, careful, case_of, laid_away, truths_of, writes
from tests.student import Student, case_text, opened
from tests.test_faults import listed, played

# lines that are wrong because of what the record says, beside the fault itself
ANSWERS = {
    *("minus-without-letters", "eyes-swapped", "sign-lost", "vertex-not-recorded"),
    *("warning-missed", "prescribed-against"),
}


def part(mark: Mark, key: str):
    return next(one for one in mark.parts if one.key == key)


def line(mark: Mark, key: str, start: str):
    return next(one for one in part(mark, key).lines if one.words.startswith(start))


@pytest.fixture
def perfect(tmp_path) -> Script:
    return played(Log("careful"), tmp_path)


def test_a_careful_refraction_has_everything(perfect):
    mark = perfect.mark()
    assert mark.total == 100.0
    assert mark.passed
    assert mark.faults == mark.caps == ()
    assert mark.verdict == "Both eyes are within a quarter of a dioptre of their end points."
    assert mark.one_thing.startswith("Nothing to do otherwise: try a patient with a cylinder")


def test_what_cannot_be_marked_is_named_and_the_rest_scaled(perfect, tmp_path):
    mark = perfect.mark()
    # of the hundred points of the whole: balance 4 and 2, near 6, judgement 6
    assert {one.key: one.most for one in mark.parts} == {
        "accuracy": 40.0,
        "procedure": 28.0,
        "talk": 6.0,
        "record": 6.0,
        "time": 2.0,
    }
    assert mark.most == 100.0 - 6.0 - 6.0 - 6.0
    assert [words.split(":")[0] for words in mark.left_out] == [
        "Balance of the two eyes (6 points)",
        "Near addition (6 points)",
        "Prescribing and referring",
    ]
    judged_too = played(Log("no lens", {}, ASTIGMAT | NO_LENS), tmp_path).mark()
    assert judged_too.most == mark.most + 6.0
    assert len(judged_too.left_out) == 2


@pytest.mark.parametrize(
    ("key", "log"), listed({key: logs for key, logs in SHOWS.items() if key not in ANSWERS})
)
def test_a_fault_costs_its_points_once(key, log, tmp_path):
    mark = played(log, tmp_path).mark()
    [fault] = mark.faults
    clean = played(Log("careful", case=log.case), tmp_path)
    lost = clean.mark().points - mark.points
    assert fault.charge > 0.0
    assert lost == pytest.approx(fault.charge, abs=1e-9)


@pytest.mark.parametrize(
    ("key", "charge"),
    [
        ("frame-not-fitted", 3.0),  # the item is lost for both eyes
        ("pd-wrong", 2.0),  # charged under accuracy, not under procedure
        ("no-unaided-acuity", 1.5),  # half an item: one eye
        ("other-eye-open", 2.0),
        ("no-fog", 2.0),
        ("minus-without-letters", 3.0),  # major
        ("cross-size", 1.0),  # minor
        ("sphere-not-compensated", 1.5),
        ("leading-question", 2.0),
        ("eyes-swapped", 6.0),
        ("warning-missed", 5.0),
    ],
)
def test_the_charges_are_those_of_the_rubric(key, charge, tmp_path):
    case = {"level": 4} if key == "warning-missed" else {}
    log = SHOWS[key][0]
    mark = played(replace(log, case=log.case | case), tmp_path).mark()
    assert {fault.key: fault.charge for fault in mark.faults}[key] == pytest.approx(charge)


def unwritten(s: Script, _: str) -> None:
    laid_away(s)
    s.takes("L.4")


def test_an_eye_that_was_not_recorded_earns_nothing_and_is_named(tmp_path):
    mark = careful(case_of(tmp_path, **ASTIGMAT), writes=unwritten).mark()
    assert mark.eyes[0].band == "missing"
    assert line(mark, "accuracy", "Right eye").words == "Right eye: nothing was recorded"
    assert part(mark, "accuracy").points == pytest.approx(18.0 + 4.0)
    assert part(mark, "procedure").points == pytest.approx(14.0)
    assert "right not recorded" in line(mark, "procedure", "Fogged").words
    assert part(mark, "time").points == 0.0
    assert mark.verdict == (
        "The right eye was not recorded; the left eye is 0.00 D from its end point."
    )
    assert mark.one_thing == "Write a lens for each eye that you have refracted, plano too."


def test_nothing_done_is_worth_nothing(tmp_path):
    mark = Script(case_of(tmp_path, **ASTIGMAT)).does(acts.finish()).mark()
    assert (mark.total, mark.points, mark.faults) == (0.0, 0.0, ())
    assert mark.verdict == "Nothing was recorded for either eye, so there is little to mark."


def test_a_cylinder_without_an_axis_is_no_record(tmp_path):
    s = Script(case_of(tmp_path, **ASTIGMAT)).writes(right_sphere="-1", right_cylinder="-1")
    mark = s.does(acts.finish()).mark()
    assert mark.eyes[0].missing == "the right cylinder stands without an axis"


def test_an_eye_without_need_asks_for_acuity_and_cover_only(tmp_path):
    case = case_of(tmp_path, right="plano", left="plano")
    s = Script(case).does(acts.fit(pd_right_mm=31, pd_left_mm=32.5))
    for side, other in (("R", "L"), ("L", "R")):
        s.covers(other).reads(-0.1).takes(f"{other}.4")
        writes(s, side)
    mark = s.writes(prescribe="no", refer="none").does(acts.finish()).mark()
    assert mark.total == 100.0
    assert "it needs no lens and got none" in line(mark, "accuracy", "Right eye").words
    assert "right not needed" in line(mark, "procedure", "Fogged").words


def written(right: str, left: str, folder, **more: str) -> Mark:
    s = Script(case_of(folder, **ASTIGMAT))
    s.writes(right_sphere=right, left_sphere=left, **more)
    return s.does(acts.finish()).mark()


def test_too_much_minus_and_plus_cost_more_than_their_blur(tmp_path):
    mark = written("-2.00", "-1.50", tmp_path, right_cylinder="-1", right_axis="180")
    lines = [one for one in part(mark, "accuracy").lines if one.most == 0.0]
    assert [(one.words, one.points) for one in lines] == [
        ("Right eye: over-minus by 1.00 D", -2.0),
        ("Left eye: over-plus by 0.50 D", -2.0),
    ]
    assert mark.verdict == "The right eye is 1.00 D from its end point: over-minus by 1.00 D."


def test_one_thing_is_what_cost_most(tmp_path):
    """The line that lost most, before a minor fault; a grave fault, for it says why."""
    led, unlearned = SHOWS["leading-question"][0], SHOWS["cylinder-before-sphere"][0]
    for log, said in ((led, "Right eye: 1.00 D from its end point"), (unlearned, "The cylinder")):
        wrong = Log("wrong", log.stages | {"decides": writing(right_sphere="-2.00")}, log.case)
        assert played(wrong, tmp_path).mark().one_thing.startswith(said)
    for log in (led, unlearned):
        mark = played(log, tmp_path).mark()
        [fault] = mark.faults
        assert mark.one_thing == f"{fault.title}. {fault.instead}"


def test_an_answer_that_was_guessed_has_little_procedure(perfect, tmp_path):
    s = Script(case_of(tmp_path, **ASTIGMAT)).does(acts.fit(pd_right_mm=31, pd_left_mm=32.5))
    s.covers("L").reads(0.6).writes(right_sphere="-2.00", left_sphere="-2.00")
    assert part(s.does(acts.finish()).mark(), "procedure").points <= RUBRIC.guess_cap
    assert part(perfect.mark(), "procedure").points == 28.0


@pytest.mark.parametrize(
    ("key", "index", "cap"),
    [
        ("eyes-swapped", 0, 50.0),
        ("sign-lost", 1, 50.0),
        ("warning-missed", 0, 40.0),
        ("prescribed-against", 1, 40.0),
    ],
)
def test_what_must_not_happen_holds_the_total_down(key, index, cap, tmp_path):
    mark = played(SHOWS[key][index], tmp_path).mark()
    assert [one.points for one in mark.caps] == [cap]
    assert mark.total <= cap
    assert not mark.passed
    assert mark.verdict.startswith(next(one for one in mark.faults if one.key == key).title)


def test_a_sign_within_two_dioptres_holds_nothing_down(tmp_path):
    assert played(SHOWS["sign-lost"][0], tmp_path).mark().caps == ()


def test_lenses_where_none_are_needed_are_no_matter_of_safety(tmp_path):
    assert played(SHOWS["prescribed-against"][0], tmp_path).mark().caps == ()


def stopped(folder, **decided: str) -> Mark:
    s = Script(case_of(folder, more=STOP["more"], **ASTIGMAT))
    s.does(acts.fit(pd_right_mm=31, pd_left_mm=32.5))
    for side, other in (("R", "L"), ("L", "R")):
        s.covers(other).reads(0.6).disc(f"{side}.4", "pinhole1.2").reads(0.6)
        s.takes(f"{side}.4").takes(f"{other}.4")
    card = {f"{eye}_{name}": "6/24" for eye in ("right", "left") for name in ("acuity", "unaided")}
    s.writes(right_pd="31", left_pd="32.5", **card, **decided)
    return s.does(acts.finish()).mark(right=0.6, left=0.6)


def test_stopping_where_it_is_right_is_a_full_mark(tmp_path):
    mark = stopped(tmp_path, prescribe="no", refer="urgent", comments="The pinhole won nothing.")
    assert mark.total == 100.0
    assert mark.left_out[-1] == "Accuracy: the right thing was to stop and refer"
    assert mark.verdict.startswith("You stopped where stopping was right")


@pytest.mark.parametrize(
    ("decided", "points"),
    [
        ({"prescribe": "no", "refer": "urgent"}, 5.0),  # without the reason
        ({"prescribe": "no", "refer": "same day", "comments": "?"}, 4.5),  # faster than needed
        ({"prescribe": "no", "refer": "routine", "comments": "?"}, 3.0),  # slower
        ({"prescribe": "yes", "refer": "urgent", "comments": "?"}, 4.0),
        ({}, 0.0),
    ],
)
def test_judgement_is_prescribing_referring_and_the_reason(decided, points, tmp_path):
    assert part(stopped(tmp_path, **decided), "judgement").points == pytest.approx(points)


def test_the_highest_level_weighs_judgement_more(tmp_path):
    log = Log("level 4", {"decides": judged("no", "same day")}, ASTIGMAT | SAME_DAY | {"level": 4})
    assert part(played(log, tmp_path).mark(), "judgement").most == 10.0
    routine = NONE_NEEDED.format(refer="routine").replace('"no"', '"yes"')
    log = Log("level 4", {}, ASTIGMAT | {"more": routine, "level": 4})
    mark = played(log, tmp_path).mark()
    assert part(mark, "accuracy").most == 40.0 - 4.0
    assert mark.most == 100.0 - 6.0 - 6.0


def test_time_beyond_the_target_earns_no_points(tmp_path):
    def slow(s: Script, _: str) -> None:
        for _ in range(20):
            s.asks("wait", "stays")

    script = played(Log("slow", {"cross": slow}), tmp_path)
    mark = script.mark()
    assert part(mark, "time").points == 0.0
    assert part(mark, "time").lines[0].words == f"{script.state.clock_s / 60:.0f} of 20 minutes"
    assert 20.0 < script.state.clock_s / 60 < 30.0


def test_another_rubric_weighs_otherwise(perfect):
    half = Rubric(version="2", eye_points=9.0)
    mark = perfect.mark(half)
    assert mark.rubric_version == "2"
    assert part(mark, "accuracy").most == 22.0


def test_a_mark_is_stored_whole(tmp_path):
    mark = played(SHOWS["warning-missed"][0], tmp_path).mark()
    assert Mark.from_body(json.loads(json.dumps(mark.as_body(), allow_nan=False))) == mark


def test_steps_have_the_error_left_at_the_cornea(tmp_path):
    case = case_of(tmp_path, **ASTIGMAT)
    s = Script(case).covers("L").puts("R.1", -1.25)
    first, covered, lens = steps_of(case, s.events, truths_of(case))
    # bare, the right eye lacks its need: mean sphere −1.50, at the cornea a little less
    assert first.error[EyeSide.RIGHT] == pytest.approx((-1.47, 0.48, 0.0), abs=0.03)
    assert covered.error[EyeSide.LEFT] is None
    assert lens.error[EyeSide.RIGHT] == pytest.approx((-0.25, 0.48, 0.0), abs=0.03)
    assert (lens.number, lens.kind, lens.clock_s) == (3, "place", 10.0)


# ---- through the service


@pytest.fixture
def room(tmp_path, monkeypatch):
    with opened(tmp_path, one=case_text(**ASTIGMAT)) as client:
        [case] = client.app.state.attempts.casebook.cases.values()
        found = truths_of(case)
        monkeypatch.setattr("server.attempts.service.find_truth", lambda _, side: found[side])
        yield Student.begins(client)


def marks(room: Student) -> tuple:
    return room.client.app.state.store.marks_of(room.attempt)


def service_and_attempt(room: Student):
    attempts = room.client.app.state.attempts
    return attempts, attempts.open(1, room.attempt)


def test_an_attempt_is_marked_once_by_a_rubric_and_never_over(room):
    room.does("card", field="right_sphere", text="-1")
    room.does("finish")
    attempts, attempt = service_and_attempt(room)
    first = attempts.mark(attempt)
    assert attempts.mark(attempt) == first
    assert [one.rubric_version for one in marks(room)] == ["1"]
    second = attempts.mark(attempt, Rubric(version="2", eye_points=9.0))
    assert second.most < first.most
    assert [one.rubric_version for one in marks(room)] == ["1", "2"]
    assert Mark.from_body(marks(room)[0].body) == first == attempts.mark(attempt)


def test_an_attempt_that_goes_on_is_not_marked(room):
    attempts, attempt = service_and_attempt(room)
    with pytest.raises(Refused, match="marked when it has ended"):
        attempts.mark(attempt)
    assert marks(room) == ()


@pytest.mark.parametrize("change", [update(schema.mark).values(body="{}"), delete(schema.mark)])
def test_the_database_refuses_to_change_a_mark(room, change):
    room.does("finish")
    attempts, attempt = service_and_attempt(room)
    attempts.mark(attempt)
    with (
        pytest.raises(IntegrityError, match="marks are never changed"),
        room.client.app.state.store._writing() as connection,
    ):
        connection.execute(change)
    assert len(marks(room)) == 1


def test_no_mark_is_kept_of_an_attempt_that_is_not_there(room):
    room.does("finish")
    attempts, attempt = service_and_attempt(room)
    attempts.mark(attempt)
    with pytest.raises(NotFound):
        room.client.app.state.store.add_mark("nobody", marks(room)[0])


# ---- whatever was done


def muddle(s: Script, dice: random.Random) -> None:
    """Do one thing out of all that can be done; refusals count for nothing."""
    side, cell = dice.choice("RL"), dice.choice(("1", "2", "3", "4", "hand"))
    code = dice.choice(sorted(full_set().lenses))
    tool = dice.choice(("cross", "pair", "over", "plano"))
    view = dice.choice(("chart", "line", "fan", "block", "duochrome", "dots"))
    deeds = (
        lambda: s.disc(f"{side}.{cell}", code),
        lambda: s.takes(f"{side}.{cell}"),
        lambda: s.turns(f"{side}.{cell}", dice.randint(1, 180)),
        lambda: s.does(acts.step(at(f"{side}.{cell}"), upwards=dice.random() < 0.5)),
        lambda: s.does(acts_hand.hold(EyeSide(side), tool, 0.0 if tool == "plano" else 1.00)),
        lambda: s.does(acts_hand.aim(how=dice.choice(("axis", "power")))),
        lambda: s.does(acts_hand.show(dice.randint(0, 2))),
        lambda: s.does(acts_hand.away()),
        lambda: s.does(acts.change_wall(view=view, distance_m=dice.choice((6.0, 1.0)))),
        lambda: s.undoes() if s.state.undoable else s,
        lambda: s.reads(dice.choice((0.0, 0.3, 0.9))),
        lambda: s.asks("which", dice.choice(("first", "second", "same")), "forced"),
        lambda: s.asks(dice.choice(("better", "smaller", "more")), "same"),
        lambda: s.asks(dice.choice(("lines", "colour", "wait", "nearer", "history-onset")), "red"),
        lambda: s.writes(**{dice.choice(("right_sphere", "left_sphere")): "-1.25"}),
        lambda: s.writes(**{dice.choice(("right_cylinder", "left_cylinder")): "+0.50"}),
        lambda: s.writes(right_axis="90", refer="urgent", prescribe="yes", vertex="14"),
    )
    with contextlib.suppress(Refused):
        dice.choice(deeds)()


@pytest.mark.parametrize("seed", range(12))
def test_any_log_at_all_can_be_marked(seed, tmp_path):
    dice = random.Random(seed)
    more = dice.choice(("", STOP["more"], NO_LENS["more"]))
    s = Script(case_of(tmp_path, right="+3.50/-1.25x70", left="plano", more=more))
    for _ in range(120):
        muddle(s, dice)
    mark = s.does(acts.finish()).mark()
    assert 0.0 <= mark.total <= 100.0
    assert all(0.0 <= one.points <= one.most for one in mark.parts)
    assert Mark.from_body(json.loads(json.dumps(mark.as_body(), allow_nan=False))) == mark
    assert mark.verdict
    assert mark.one_thing
