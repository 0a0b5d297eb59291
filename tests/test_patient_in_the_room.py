"""The patient in the room: what is held and shown, the clock, fog, and what is owned up to."""

import math
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from optics.light.frame import Place
from optics.light.lens import EyeSide, LensKind
from optics.patient.far_off import how_near
from optics.patient.questions import READING, Question
from optics.patient.replies import read_rows
from optics.patient.traits import Manner
from optics.sight.targets import CHART_LINES_LOGMAR, Row
from server.attempts import acts
from server.attempts.acts import Act
from server.attempts.acts_hand import aim, hold, show, swap
from server.attempts.clock import ANSWER_S, clock_text, seconds_of
from server.attempts.fogged import fogged_seconds
from server.attempts.questions import Moment, answer_to, fitting
from server.attempts.sight import view_of
from server.attempts.state import State, state_of
from server.casebook import Case, read_case
from server.errors import Refused
from server.store.log import Event
from tests.student import case_text

RIGHT, LEFT = EyeSide.RIGHT, EyeSide.LEFT
LETTERS = [(size, "CDHKN") for size in CHART_LINES_LOGMAR]


def case_of(folder: Path, more: str = "", **changes: object) -> Case:
    text = case_text(**changes)
    path = folder / "one.toml"
    path.write_text(text.replace("[history]", f"{more}\n[history]"))
    case = read_case(path)
    assert isinstance(case, Case), case
    return case


class Bench:
    """An attempt without a server: acts become events, events a state."""

    def __init__(self) -> None:
        self.events: list[Event] = []
        self.notes("begin", {"mode": "teaching", "letters": LETTERS})

    @property
    def state(self) -> State:
        return state_of(self.events)

    def notes(self, kind: str, body: dict) -> None:
        number = len(self.events) + 1
        at = datetime(2026, 11, 25, tzinfo=UTC)
        event = Event(
            number=number,
            client_key=str(number),
            tab_id="tab",
            at=at,
            kind=kind,
            body=body,
            engine_version="1",
        )
        self.events.append(event)

    def does(self, *done: Act) -> State:
        for act in done:
            became = act(self.state, b"s" * 16)
            self.notes(became.kind, dict(became.body))
        return self.state

    def places(self, code: str, at: str, direction: float = 180.0) -> State:
        side, place = at.split(".")
        self.notes("place", {"side": side, "place": place, "lens": code, "direction": direction})
        return self.state

    def waits(self) -> None:
        self.notes("ask", {"question": "wait", "asked": "", "reply": "", "rows": []})


def minus_axes(state: State) -> tuple[float, float]:
    assert state.hand is not None
    return tuple(state.hand.minus_axis_deg(state.frame, face) for face in (1, 2))


# ---- the hand


def test_a_cross_cylinders_minus_axes_lie_45_degrees_either_side_of_its_handle():
    bench = Bench()
    bench.places("cylinder-1.00", "R.3", 20.0)
    state = bench.does(hold(RIGHT, "cross", 0.25), aim("axis"))
    # handle along 20: 65 and 155; handle at 65: 110 and 20, along the axis of the cylinder
    assert minus_axes(state) == (65.0, 155.0)
    assert minus_axes(bench.does(aim("power"))) == (110.0, 20.0)
    bench.notes("turn", {"side": "R", "place": "3", "direction": 30.0})
    assert minus_axes(bench.state) == (120.0, 30.0)
    assert minus_axes(bench.does(aim("axis"))) == (75.0, 165.0)
    assert minus_axes(bench.does(swap())) == (165.0, 75.0)
    assert minus_axes(bench.does(aim(to_deg=0.0))) == (135.0, 45.0)
    assert minus_axes(bench.does(aim(by_deg=10.0))) == (145.0, 55.0)


def test_without_a_cylinder_the_first_faces_are_90_and_180_then_45_and_135():
    state = Bench().does(hold(LEFT, "cross", 0.5))
    assert minus_axes(state) == (90.0, 180.0)
    bench = Bench()
    assert minus_axes(bench.does(hold(LEFT, "cross", 0.5), aim("axis"))) == (45.0, 135.0)


@pytest.mark.parametrize(
    ("tool", "power_d", "first", "second"),
    [
        ("cross", 0.25, (LensKind.CROSS_CYLINDER, 0.25), (LensKind.CROSS_CYLINDER, 0.25)),
        ("pair", 0.5, (LensKind.SPHERE, 0.5), (LensKind.SPHERE, -0.5)),
        ("over", 1.0, None, (LensKind.SPHERE, 1.0)),
        ("plano", 0.0, (LensKind.PLANO, 0.0), (LensKind.PLANO, 0.0)),
    ],
)
def test_a_face_holds_its_lens_before_the_eye_and_away_holds_none(tool, power_d, first, second):
    bench = Bench()
    bench.does(hold(RIGHT, tool, power_d))
    for face, lens in ((1, first), (2, second), (0, None)):
        held = bench.does(show(face)).seen_through.at(RIGHT, Place.HAND)
        assert (held and (held.lens.kind, held.lens.power_d)) == lens, face
        assert bench.state.frame.lenses() == []


def test_which_is_asked_when_both_have_been_seen_since_the_last_change(tmp_path):
    case, bench = case_of(tmp_path), Bench()
    bench.places("cylinder-0.50", "R.3", 90.0)
    bench.does(hold(RIGHT, "cross", 0.25), aim("axis"), show(1))

    def asked() -> object:
        return answer_to(Moment(case=case, state=bench.state), Question.WHICH, Manner.OFFERED)

    with pytest.raises(Refused, match="Show the first and the second"):
        asked()
    bench.does(show(2))
    asked()
    for change in (swap(), aim("power")):
        bench.does(change)
        assert bench.state.hand.shown == frozenset()
        with pytest.raises(Refused):
            asked()
        bench.does(show(2), show(0), show(1))
        asked()
    bench.notes("turn", {"side": "R", "place": "3", "direction": 80.0})
    with pytest.raises(Refused):
        asked()


def test_a_hand_takes_no_other_powers_and_no_handle_is_turned_on_a_pair():
    with pytest.raises(Refused, match=r"0\.25, 0\.50, 1\.00, got 0\.75"):
        Bench().does(hold(RIGHT, "cross", 0.75))
    with pytest.raises(Refused, match="Only a cross cylinder"):
        Bench().does(hold(RIGHT, "pair", 0.25), aim("axis"))
    with pytest.raises(Refused, match="Nothing is held"):
        Bench().does(show(1))
    with pytest.raises(Refused, match="must be 1, 2 or 0"):
        Bench().does(hold(RIGHT, "pair", 0.25), show(3))


def test_better_is_asked_of_what_stood_there_before_the_last_change(tmp_path):
    case, bench = case_of(tmp_path, right="-1.00", left="-1.00"), Bench()
    assert Question.BETTER not in fitting(bench.state)
    bench.places("occluder", "L.4")
    bench.places("sphere-1.00", "R.2")
    moment = Moment(case=case, state=bench.state)
    told = answer_to(moment, Question.BETTER, Manner.OFFERED).chances
    assert told["better"] > 0.9
    bench.does(acts.change_wall(view="line", line_logmar=0.3))  # the wall is no change of lens
    assert bench.state.before is not None
    assert bench.state.before.at(RIGHT, Place.CELL_2) is None


# ---- every question has a closed set


WALLS = {
    Question.LINES: {"view": "fan"},
    Question.BLOCKS: {"view": "block"},
    Question.COLOUR: {"view": "duochrome", "line_logmar": 0.3},
}


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("question", [one for one in Question if one not in READING])
def test_the_chances_of_every_question_add_up_to_one(tmp_path, question, dark):
    more = "tires = 0.5\nlapse = 0.1\nlean_sd = 0.4\nsuggestible = 0.5"
    case, bench = case_of(tmp_path, f"[traits]\n{more}\n", right="+0.50/-1.25x020"), Bench()
    if question in WALLS:
        bench.does(acts.change_wall(**WALLS[question]))
    for side in ("L", "R") if dark else ("L",):
        bench.places("occluder", f"{side}.4")
    bench.places("sphere+0.75", "R.2")
    bench.does(hold(RIGHT, "cross", 0.5), show(1), show(2), show(0))
    moment = Moment(case=case, state=bench.state)
    for manner in Manner:
        chances = answer_to(moment, question, manner).chances
        assert sum(chances.values()) == pytest.approx(1.0, abs=1e-9), manner
        assert min(chances.values()) >= 0.0


# ---- time


def test_the_patients_time_runs_by_what_is_done():
    """By hand: placing 5 s, the wall 3 s, an answer 3 s and 0.6 s a letter, waiting 30 s more."""
    bench = Bench()
    assert bench.state.clock_s == 0.0
    bench.places("sphere-1.00", "R.2")
    bench.does(acts.change_wall(view="line", line_logmar=0.3))
    bench.waits()
    rows = [(1.0, "CDHKN", "CDHKN", True), (0.9, "SVZRO", "SV", True)]
    bench.notes("ask", {"question": "read-down", "asked": "", "reply": "", "rows": rows})
    assert bench.state.clock_s == pytest.approx(5.0 + 3.0 + 33.0 + 3.0 + 0.6 * 7)
    assert seconds_of("finish", {}) == 0.0
    bench.does(acts.undo())  # what is taken back took its time all the same only if it stands
    assert [clock_text(s) for s in (0.0, 59.6, 245.0, 3600.0)] == ["0:00", "1:00", "4:05", "60:00"]


LATENT = "latent_d = 1.5\namplitude_d = 6.0"


def fogging(case: Case, sphere: str, waits: int) -> float:
    bench = Bench()
    bench.places("occluder", "L.4")
    bench.places(sphere, "R.2")
    for _ in range(waits):
        bench.waits()
    return fogged_seconds(case, bench.events)


def latent_case(folder: Path) -> Case:
    return case_of(folder, LATENT, right="+2.00", left="+2.00", age=20)


def test_only_time_with_the_image_before_the_retina_counts_as_fog(tmp_path):
    case = latent_case(tmp_path)
    # +2.00 needed, 1.50 held: +0.50 is sharp, more fogs. A wait is 3 + 30 s
    assert fogging(case, "sphere+0.50", waits=4) == 0.0
    assert fogging(case, "sphere+3.00", waits=4) == pytest.approx(132.0)
    # it stays fog until what is held has relaxed to within 0.25 of what is still needed:
    # 1.5 exp(-t / 120 s) = 1.00 + 0.25 at 21.9 s, so that the first wait is the last to count
    relaxed_s = 120.0 * math.log(1.5 / (2.0 - 1.0 + 0.25))
    assert relaxed_s == pytest.approx(21.9, abs=0.05)
    assert fogging(case, "sphere+1.00", waits=9) == pytest.approx(33.0)


def test_a_latent_hyperope_takes_more_plus_after_minutes_under_fog(tmp_path):
    """1.5 D held relax to 1.5 exp(-t / 120 s): after 4 minutes 0.2 D, so 1.3 D more plus."""
    case = latent_case(tmp_path)
    bench = Bench()
    bench.places("occluder", "L.4")
    bench.places("sphere+4.00", "R.2")
    before_s = fogged_seconds(case, bench.events)
    for _ in range(8):
        bench.waits()
    after_s = fogged_seconds(case, bench.events)
    assert (before_s, after_s) == pytest.approx((0.0, 264.0), abs=10.0)

    def most_plus(fogged_s: float) -> float:
        reads = []
        for step in range(1, 13):
            trial = Bench()
            trial.places("occluder", "L.4")
            trial.places(f"sphere+{step / 4.0:.2f}", "R.2")
            view = view_of(case, trial.state, fogged_s=fogged_s)
            assert view.right.reading is not None
            reads.append(view.right.reading.acuity_logmar)
        best = min(reads)
        return max(step / 4.0 for step, read in enumerate(reads, 1) if read <= best + 0.05)

    gained_d = most_plus(after_s) - most_plus(before_s)
    assert gained_d == pytest.approx(1.5 * (1.0 - math.exp(-after_s / 120.0)), abs=0.25)


def test_it_clears_with_waiting_only_where_something_is_held(tmp_path):
    case, plain = latent_case(tmp_path), case_of(tmp_path, right="+2.00", left="+2.00", age=20)
    bench = Bench()
    bench.places("occluder", "L.4")
    bench.places("sphere+1.50", "R.2")
    for one, least, most in ((case, 0.5, 1.0), (plain, 0.0, 0.35)):
        told = answer_to(Moment(case=one, state=bench.state), Question.WAIT, Manner.OFFERED)
        assert least <= told.chances["clears"] <= most


def test_what_is_seen_after_a_wait_is_what_the_wait_promised(tmp_path):
    """The clock of the log and the eye of the answer wait alike, but for the asking itself."""
    case = latent_case(tmp_path)
    bench = Bench()
    bench.places("occluder", "L.4")
    bench.places("sphere+2.50", "R.2")
    promised = Moment(case=case, state=bench.state).later
    bench.waits()
    after = fogged_seconds(case, bench.events) - ANSWER_S
    assert view_of(case, bench.state, fogged_s=after).accommodation_d == promised.accommodation_d


# ---- far from reading


def nearer(folder: Path, best_logmar: float) -> dict[str, float]:
    case = case_of(folder, right=f'plano"\nbest_logmar = {best_logmar}\n#"', left="plano")
    bench = Bench()
    bench.places("occluder", "L.4")
    moment = Moment(case=case, state=bench.state)
    return dict(answer_to(moment, Question.NEARER, Manner.OFFERED).chances)


@pytest.mark.parametrize(
    ("best_logmar", "half_by_m"),
    [(1.0, 6.0), (1.3, 3.0), (1.48, 2.0)],
    ids=["6/60", "3/60", "2/60"],
)
def test_an_eye_reads_the_top_letter_where_it_is_as_large_as_its_acuity(
    tmp_path, best_logmar, half_by_m
):
    # by definition of the acuity half are read, beyond guessing, where the letter has that size
    told = nearer(tmp_path, best_logmar)
    read = sum(told.get(f"top-{at:g}", 0.0) for at in (6.0, 3.0, 2.0, 1.0) if at >= half_by_m)
    assert read == pytest.approx(0.5, abs=0.12)
    assert sum(told.values()) == pytest.approx(1.0)


def test_worse_than_all_letters_leaves_fingers_and_a_hand(tmp_path):
    told = nearer(tmp_path, 1.6)
    letters = sum(chance for name, chance in told.items() if name.startswith("top"))
    assert letters > 0.5  # 1.6: three in four read the top letter by 1 m (size 1.78)
    worse = how_near(dict.fromkeys((6.0, 3.0, 2.0, 1.0, 0.5), _dark(tmp_path)))
    assert worse.chances == {"no-light": 1.0}


def _dark(folder: Path) -> object:
    bench = Bench()
    bench.places("occluder", "L.4")
    bench.places("occluder", "R.4")
    return view_of(case_of(folder), bench.state)


# ---- what a person owns up to


@pytest.mark.parametrize(
    ("suggestible", "plano", "smallest"), [(1.0, False, 0.5), (1.0, True, 0.2), (0.0, True, 0.5)]
)
def test_one_who_claims_to_see_badly_reads_more_through_plano_if_suggestible(
    tmp_path, suggestible, plano, smallest
):
    """No line below what is claimed is tried; three lines more through a plano lens."""
    traits = f"[traits]\nclaims_logmar = 0.5\nsuggestible = {suggestible}\n"
    case, bench = case_of(tmp_path, traits, right="plano", left="plano"), Bench()
    bench.places("occluder", "L.4")
    if plano:
        bench.does(hold(RIGHT, "plano", 0.0), show(1))
    moment = Moment(case=case, state=bench.state)
    rows = tuple(Row(size_logmar=size, letters="CDHKN") for size in CHART_LINES_LOGMAR)
    replies = read_rows(moment.now, rows, moment.owned_logmar)
    tried = [reply.row.size_logmar for reply in replies if reply.tried]
    assert min(tried) == pytest.approx(smallest)
    honest = replace(case, traits=replace(case.traits, claims_logmar=None))
    assert Moment(case=honest, state=bench.state).owned_logmar is None
