"""Which questions fit the wall and the hand, and the chances of each reply, by the optics."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from optics.light.frame import TrialFrame
from optics.light.lens import LensKind
from optics.patient.change import (
    better_or_worse,
    clearer_or_smaller,
    clears_with_waiting,
    more_letters,
)
from optics.patient.colours import red_or_green
from optics.patient.compare import LOOKED_ABOVE_LOGMAR, Answer, Asked, Looked, which_is_clearer
from optics.patient.far_off import FINGERS_M, NEARER_M, how_near
from optics.patient.ghost import doubled
from optics.patient.lines import blackest_lines, blocks_equal
from optics.patient.questions import Question
from optics.patient.traits import RELIEF_LOGMAR, Manner
from optics.sight.details import DOTS, LETTERS, RINGS
from optics.sight.figures import FigureKind
from optics.sight.targets import CHART_LINES_LOGMAR
from optics.sight.view import View
from server.attempts.clock import WAIT_S
from server.attempts.fogged import is_fogged
from server.attempts.sight import view_of
from server.attempts.state import STROKE_ARCMIN, State
from server.casebook import Case
from server.errors import Refused

ROW_VIEWS = ("chart", "line", "letter", "rings")
LINE_STROKE_LOGMAR = math.log10(STROKE_ARCMIN[FigureKind.FAN])  # of the block too
NEEDS = {
    Question.READ_DOWN: "a chart of letters on the wall",
    Question.READ_LINE: "letters on the wall",
    Question.WHICH: "something with two faces in the hand: a cross cylinder or a pair of spheres",
    Question.BETTER: "a change of lens before it",
    Question.SMALLER: "a change of lens before it",
    Question.MORE: "letters on the wall and a change of lens before it",
    Question.LINES: "the fan on the wall",
    Question.BLOCKS: "the blocks on the wall",
    Question.COLOUR: "the two colours on the wall",
    Question.DOUBLED: "letters or the spotlight on the wall",
    Question.WAIT: "something on the wall",
    Question.NEARER: "the whole chart on the wall",
}


def fitting(state: State) -> tuple[Question, ...]:
    """Return the questions that fit what is on the wall and in the hand."""
    view = state.wall.view
    changed = state.before is not None
    fits = {
        Question.READ_DOWN: view in ROW_VIEWS,
        Question.READ_LINE: view in ROW_VIEWS,
        Question.WHICH: state.hand is not None,
        Question.BETTER: changed,
        Question.SMALLER: changed,
        Question.MORE: changed and view in ROW_VIEWS,
        Question.LINES: view == "fan",
        Question.BLOCKS: view == "block",
        Question.COLOUR: view == "duochrome",
        Question.DOUBLED: view in (*ROW_VIEWS, "spotlight"),
        Question.WAIT: True,
        Question.NEARER: view == "chart",
    }
    return tuple(question for question in Question if fits[question])


@dataclass(frozen=True, kw_only=True)
class Moment:
    """An attempt at the moment of a question: the views that an answer may need, when needed."""

    case: Case = field(repr=False)
    state: State = field(repr=False)
    fogged_s: float = 0.0

    def through(self, frame: TrialFrame | None) -> View:
        """Return the view through another frame, or the present one."""
        return view_of(self.case, self.state, frame=frame, fogged_s=self.fogged_s)

    @cached_property
    def now(self) -> View:
        """The view as it is."""
        return self.through(None)

    @cached_property
    def before(self) -> View:
        """The view through what stood there before the last change."""
        return self.through(self.state.before)

    def face(self, face: int) -> View:
        """Return the view through one face of what is held."""
        hand = self.state.hand
        return self.through(None if hand is None else hand.before(self.state.frame, face))

    @cached_property
    def later(self) -> View:
        """The view after a wait: under fog what an eye holds on to relaxes."""
        waited_s = WAIT_S if is_fogged(self.case, self.state, self.fogged_s) else 0.0
        return view_of(self.case, self.state, fogged_s=self.fogged_s + waited_s)

    def at(self, distance_m: float) -> View:
        """Return the view of the wall from another distance."""
        return view_of(self.case, self.state, distance_m=distance_m, fogged_s=self.fogged_s)

    def looked(self, *views: View) -> Looked:
        """Return what is compared: the detail on the wall, of a whole chart one line of it."""
        view, line = self.state.wall.view, self.state.wall.line_logmar
        if view == "chart":
            return Looked(size_logmar=_smallest_read(views))
        if view in ("line", "letter", "duochrome", "rings"):
            return Looked(size_logmar=line, detail=RINGS if view == "rings" else LETTERS)
        return Looked(size_logmar=line if view == "dots" else LINE_STROKE_LOGMAR, detail=DOTS)

    @property
    def owned_logmar(self) -> float | None:
        """The best acuity that the person owns up to now; a plano lens before the eye helps it."""
        traits = self.case.traits
        if traits.claims_logmar is None:
            return None
        lenses = self.state.seen_through.lenses()
        helped = any(lens.kind is LensKind.PLANO for lens in lenses)
        return traits.claims_logmar - RELIEF_LOGMAR * traits.suggestible * helped


def _smallest_read(views: tuple[View, ...]) -> float:
    """Return the line of a chart that is looked at: one above the smallest that a view shows."""
    acuities = [
        eye.reading.acuity_logmar
        for eye in (view.better for view in views)
        if eye is not None and eye.reading is not None
    ]
    best = min(acuities, default=CHART_LINES_LOGMAR[0])
    readable = [line for line in CHART_LINES_LOGMAR if line >= best + LOOKED_ABOVE_LOGMAR]
    return min(readable, default=CHART_LINES_LOGMAR[0])


def answer_to(moment: Moment, question: Question, manner: Manner) -> Answer:
    """Return the chances of each reply to a question that is no reading.

    Raises
    ------
    Refused
        If the question does not fit the wall or the hand, saying what it needs.
    """
    check_fits(moment.state, question)
    asked = Asked(traits=moment.case.traits, manner=manner, minutes=moment.state.clock_s / 60.0)
    return _ANSWERS[question](moment, asked)


def check_fits(state: State, question: Question) -> None:
    """Refuse a question that does not fit, saying what it needs."""
    if question not in fitting(state):
        raise Refused(f"That question needs {NEEDS[question]}", "question")
    hand = state.hand
    if question is Question.WHICH and hand is not None and hand.shown != {1, 2}:
        raise Refused("Show the first and the second before you ask", "question")


def _which(moment: Moment, asked: Asked) -> Answer:
    first, second = moment.face(1), moment.face(2)
    return which_is_clearer(first, second, moment.looked(first, second), asked)


def _better(moment: Moment, asked: Asked) -> Answer:
    now, before = moment.now, moment.before
    return better_or_worse(now, before, moment.looked(now, before), asked)


def _smaller(moment: Moment, asked: Asked) -> Answer:
    now, before = moment.now, moment.before
    return clearer_or_smaller(now, before, moment.looked(now, before), asked)


def _blocks(moment: Moment, asked: Asked) -> Answer:
    turned_deg = moment.state.wall.block_deg
    return blocks_equal(moment.now.better, LINE_STROKE_LOGMAR, turned_deg, asked)


def _wait(moment: Moment, asked: Asked) -> Answer:
    now, later = moment.now, moment.later
    return clears_with_waiting(later, now, moment.looked(now, later), asked)


_ANSWERS: Mapping[Question, Callable[[Moment, Asked], Answer]] = {
    Question.WHICH: _which,
    Question.BETTER: _better,
    Question.SMALLER: _smaller,
    Question.MORE: lambda moment, asked: more_letters(moment.now, moment.before, asked),
    Question.LINES: lambda moment, asked: blackest_lines(
        moment.now.better, LINE_STROKE_LOGMAR, asked
    ),
    Question.BLOCKS: _blocks,
    Question.COLOUR: lambda moment, asked: red_or_green(
        moment.now.better, moment.state.wall.line_logmar, asked
    ),
    Question.DOUBLED: lambda moment, asked: doubled(moment.now.better, asked),
    Question.WAIT: _wait,
    Question.NEARER: lambda moment, _: how_near(
        {at: moment.at(at) for at in (*NEARER_M, *FINGERS_M)}
    ),
}
