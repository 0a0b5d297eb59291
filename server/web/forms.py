"""What pages may post: limits and steps here, domain types behind."""

import re
import uuid
from typing import Annotated, Literal

from fastapi import Request
from pydantic import BaseModel, ConfigDict, Field

from optics.light.frame import Place
from optics.light.lens import EyeSide
from optics.patient.questions import Question
from optics.patient.traits import Manner
from optics.sight.canvas import MOST_PARTS
from optics.sight.targets import CHART_LINES_LOGMAR
from server.attempts.circuit import MINUTES, MOST_STATIONS, Plan
from server.attempts.service import Press
from server.attempts.words import Put
from server.errors import Refused
from server.web.present import FIRST_AT, parse_at

Key = Annotated[str, Field(pattern=r"^[\w.:-]{6,64}$")]
Short = Annotated[str, Field(max_length=40)]
Look = Annotated[int, Field(ge=0, le=MOST_PARTS)]
ViewName = Literal[
    "chart", "line", "letter", "rings", "duochrome", "fan", "block", "dots", "spotlight"
]
Half = Annotated[float, Field(ge=-40, le=40, allow_inf_nan=False)]


class PressForm(BaseModel):
    """What every press carries: its own key, its tab, what the tab had seen, what is selected."""

    model_config = ConfigDict(extra="ignore")

    client_key: Key = Field(default_factory=lambda: uuid.uuid4().hex)
    tab_id: Short = ""
    seen: Annotated[int, Field(ge=0, le=10_000_000)] = 10_000_000
    at: Short = FIRST_AT
    kind: Short = "sphere"
    look: Look = 0
    manner: Manner = Manner.OFFERED

    def press(self, request: Request) -> Press:
        """Return it as the service has it, with the time at which it came.

        Raises
        ------
        Refused
            If the place that is selected is none: said before the act, not after it is stored.
        """
        parse_at(self.at)
        return Press(
            client_key=self.client_key,
            tab_id=self.tab_id,
            seen_number=self.seen,
            arrived=request.state.arrived_at,
        )

    def spot(self) -> tuple[EyeSide, Place]:
        """Return the selected place."""
        return parse_at(self.at)

    def looks(self) -> int:
        """Return the part of the wall that the picture shows closer, 0 for the whole."""
        return self.look


class PlaceForm(PressForm):
    """A lens from the case into the selected place."""

    code: Short


class StepForm(PressForm):
    """One step of the set; the button says which way, and whether by an eighth."""

    step: Literal["plus", "minus", "plus-eighth", "minus-eighth"]

    @property
    def upwards(self) -> bool:
        """Whether toward plus."""
        return self.step.startswith("plus")

    @property
    def eighth(self) -> bool:
        """Whether lenses of an eighth of a dioptre are wanted."""
        return self.step.endswith("eighth")


class TurnForm(PressForm):
    """A relative turn, or a typed or dragged direction."""

    by: Annotated[int, Field(ge=-90, le=90)] | None = None
    to: Annotated[int, Field(ge=0, le=360)] | None = None


class MoveForm(PressForm):
    """The selected lens to another place."""

    to: Short


class WallForm(PressForm):
    """What hangs on the wall; only what is named changes."""

    view: ViewName | None = None
    line: Annotated[float, Field(ge=-0.3, le=1.0, allow_inf_nan=False)] | None = None
    distance: Annotated[float, Field(ge=1, le=10, allow_inf_nan=False)] | None = None
    light: Literal["on", "off"] | None = None
    block: Annotated[int, Field(ge=0, le=180)] | None = None

    def looks(self) -> int:
        """Return the part looked at; another chart is seen whole first."""
        return self.look if self.view is None and self.line is None else 0

    def changes(self) -> dict[str, object]:
        """Return the changes as the service has them."""
        line = None
        if self.line is not None:
            line = min(CHART_LINES_LOGMAR, key=lambda size: abs(size - (self.line or 0.0)))
        named = {
            "view": self.view,
            "line_logmar": line,
            "distance_m": self.distance,
            "lit": None if self.light is None else self.light == "on",
            "block_deg": None if self.block is None else float(self.block or 180),
        }
        return {name: value for name, value in named.items() if value is not None}


class AskForm(PressForm):
    """A question to the patient, and how it is put; ``start``: the line where reading begins."""

    question: Question
    start: Annotated[float, Field(ge=-0.3, le=1.0, allow_inf_nan=False)] | None = None

    def put(self) -> Put:
        """Return it as the service has it.

        Raises
        ------
        Refused
            If a line is named for a question that reads no chart down.
        """
        if self.start is not None and self.question is not Question.READ_DOWN:
            raise Refused("Only reading down begins at a line: leave start out", "start")
        return Put(question=self.question, manner=self.manner, start_logmar=self.start)


class HoldForm(PressForm):
    """A tool and its power, ``cross:0.25``, taken up before the selected eye."""

    tool: Short

    def held(self) -> tuple[str, float]:
        """Return the tool and its power.

        Raises
        ------
        Refused
            If it is not written so.
        """
        name, _, power = self.tool.partition(":")
        if not re.fullmatch(r"\d{1,2}\.\d{2}", power, re.ASCII):
            raise Refused(f"A tool is written as cross:0.25, got {self.tool!r}", "tool")
        return name, float(power)


class AimForm(PressForm):
    """Where a cross cylinder's handle lies."""

    aim: Short | None = None
    to: Annotated[int, Field(ge=0, le=180)] | None = None
    by: Annotated[int, Field(ge=-90, le=90)] | None = None


class ShowForm(PressForm):
    """Which face of what is held is shown; 0 holds it away."""

    face: Annotated[int, Field(ge=0, le=2)]


class HistoryForm(PressForm):
    """A question of the history."""

    topic: Short


class FitForm(PressForm):
    """The frame's settings; only what is named changes."""

    pd_right_mm: Half | None = None
    pd_left_mm: Half | None = None
    height_mm: Half | None = None
    tilt_deg: Half | None = None
    wrap_deg: Half | None = None
    vertex_mm: Half | None = None

    def changes(self) -> dict[str, float]:
        """Return the named settings.

        Raises
        ------
        Refused
            If nothing is named.
        """
        named = {
            "pd_right_mm": self.pd_right_mm,
            "pd_left_mm": self.pd_left_mm,
            "height_mm": self.height_mm,
            "tilt_deg": self.tilt_deg,
            "wrap_deg": self.wrap_deg,
            "vertex_mm": self.vertex_mm,
        }
        changes = {name: value for name, value in named.items() if value is not None}
        if not changes:
            raise Refused("Name a setting of the frame and its value", "fit")
        return changes


class CardForm(PressForm):
    """One field of the record card."""

    field: Short
    text: Annotated[str, Field(max_length=400)] = ""


class GoBackForm(BaseModel):
    """The step of a finished attempt that a copy begins at."""

    number: Annotated[int, Field(ge=1, le=10_000_000)]
    client_key: Key = Field(default_factory=lambda: uuid.uuid4().hex)


class ForgetForm(BaseModel):
    """A visitor is sure that everything is to be deleted."""

    sure: Literal["yes"]


class StartForm(BaseModel):
    """A patient and a mode."""

    case: Short
    mode: Short = "teaching"
    guided: bool = False
    client_key: Key = Field(default_factory=lambda: uuid.uuid4().hex)


class CircuitForm(BaseModel):
    """How a circuit is to be."""

    stations: Annotated[int, Field(ge=1, le=MOST_STATIONS)]
    levels: Annotated[list[Annotated[int, Field(ge=1, le=4)]], Field(min_length=1, max_length=4)]
    minutes: Annotated[int, Field(ge=MINUTES[0], le=MINUTES[1])]
    extra: Literal["0", "25", "50", "100"] = "0"
    client_key: Key = Field(default_factory=lambda: uuid.uuid4().hex)

    def plan(self) -> Plan:
        """Return it as the service has it."""
        return Plan(
            stations=self.stations,
            levels=tuple(sorted(set(self.levels))),
            minutes=self.minutes,
            extra_percent=int(self.extra),
        )


class NextForm(BaseModel):
    """The station that is to be opened."""

    station: Annotated[int, Field(ge=1, le=MOST_STATIONS)]


class NotationForm(BaseModel):
    """How acuities and cylinders are written."""

    acuity: Literal["6", "20", "decimal", "logmar"] = "6"
    cylinder: Literal["minus", "plus"] = "minus"
