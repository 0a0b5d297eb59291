"""What a case file may state: every key, its range and its default."""

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, field_validator, model_validator

from optics.errors import OpticsError
from optics.eye.zernike import unit_polynomial
from optics.light.notation import parse_prescription
from server.marking.rubric import PROCEDURE

Words = Annotated[str, Field(min_length=2, max_length=300)]
Level = Annotated[int, Field(ge=1, le=4)]
Lens = Annotated[str, Field(max_length=60)]
Age = Annotated[int, Field(ge=10, le=95)]
NARROWEST_D = 0.1  # so that an eye drawn from a range is hardly ever the stated one


def _between(least: float, most: float) -> object:
    return Field(ge=least, le=most, allow_inf_nan=False)


_Sphere = Annotated[float, _between(-20, 20)]
_Cylinder = Annotated[float, _between(-10, 0)]
_Axis = Annotated[int, Field(ge=1, le=360)]
HalfPd = Annotated[float, _between(24, 40)]


def _ordered(pair: tuple[float, float]) -> tuple[float, float]:
    if pair[0] > pair[1]:
        raise ValueError("the least comes first, then the most")
    if any(round(end, 2) != end for end in pair):
        raise ValueError("write both ends with two decimals at most")
    return pair


Ordered = (Field(strict=False), AfterValidator(_ordered))  # TOML has lists where we keep pairs


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class PersonPart(_Part):
    """Who comes: age, what they do, and what they complain of in their own words."""

    age: Age
    who: Words
    complaint: Words


def _prescription(text: str) -> str:
    try:
        parse_prescription(text)
    except OpticsError as fault:
        raise ValueError(str(fault)) from None
    return text


class OpacityPart(_Part):
    """A spot in the media: its middle in the pupil as the examiner sees it, radius, what passes."""

    x_mm: Annotated[float, _between(-4, 4)] = 0.0
    y_mm: Annotated[float, _between(-4, 4)] = 0.0
    radius_mm: Annotated[float, _between(0.1, 5)]
    transmittance: Annotated[float, _between(0, 1)] = 0.0


class EyePart(_Part):
    """One eye: the lens that it needs, and what is not ordinary about it.

    ``zernike_um`` adds terms "n,m" (orders 3 to 6, over 6 mm, facing frame) to the aberrations.
    """

    need: Lens
    pd_mm: HalfPd = 31.5
    pupil_mm: Annotated[float, _between(1.5, 8.5)] | None = None
    best_logmar: Annotated[float, _between(-0.3, 1.6)] | None = None
    nuclear_shift_d: Annotated[float, _between(-6, 0)] = 0.0
    straylight_log_s: Annotated[float, _between(0.6, 2.4)] | None = None
    opacity: Annotated[tuple[OpacityPart, ...], Field(max_length=8, strict=False)] = ()
    zernike_um: dict[str, Annotated[float, _between(-3, 3)]] = {}

    _need = field_validator("need")(_prescription)

    @field_validator("zernike_um")
    @classmethod
    def _terms(cls, terms: dict[str, float]) -> dict[str, float]:
        for name in terms:
            term_of(name)
        return terms


def term_of(name: str) -> tuple[int, int]:
    """Return the order and frequency that a key such as ``"3,-1"`` names.

    Raises
    ------
    ValueError
        If there is no such term of orders 3 to 6.
    """
    parts = name.split(",")
    try:
        n, m = (int(part) for part in parts)
        unit_polynomial(n, m)
    except (ValueError, OpticsError):
        n, m = 0, 0
    if n < 3:
        raise ValueError(f'{name[:20]!r} is no term of orders 3 to 6; write "3,-1"')
    return n, m


class SharedPart(_Part):
    """What both eyes share, and how the need is stated."""

    need_vertex_mm: Annotated[float, _between(0, 20)] = 12.0
    need_distance_m: Annotated[float, _between(1, 100)] = 6.0
    pupil_mm: Annotated[float, _between(1.5, 8.5)] | None = None
    amplitude_d: Annotated[float, _between(0, 15)] | None = None
    floor_d: Annotated[float, _between(0, 5)] = 0.0
    latent_d: Annotated[float, _between(0, 5)] = 0.0
    tonic_d: Annotated[float, _between(0, 5)] | None = None
    lag: Annotated[float, _between(0, 0.5)] = 0.0
    individual: Annotated[int, Field(ge=1, le=9999)] | None = None


class HistoryPart(_Part):
    """What the person answers to six questions of the history."""

    onset: Words
    which_eye: Words
    pain: Words
    flashes: Words
    health: Words
    spectacles: Words


class StartPart(_Part):
    """What stands on the card before the first lens, as prescriptions."""

    objective_right: Lens | None = None
    objective_left: Lens | None = None
    worn_right: Lens | None = None
    worn_left: Lens | None = None

    @field_validator("objective_right", "objective_left", "worn_right", "worn_left")
    @classmethod
    def _readable(cls, text: str | None) -> str | None:
        return None if text is None else _prescription(text)


class AnswerPart(_Part):
    """What should follow from the refraction, and why; shown after the end."""

    prescribe: Literal["yes", "no"] = "yes"
    refer: Literal["none", "routine", "urgent", "same day"] = "none"
    because: Annotated[str, Field(min_length=2, max_length=600)]

    @property
    def pressing(self) -> bool:
        """Whether the person must be seen by somebody else before a routine referral would."""
        return self.refer in ("urgent", "same day")


class TraitsPart(_Part):
    """How the person answers; what is not stated is ordinary."""

    noise: Annotated[float, _between(0.3, 4)] = 1.0
    band_sd: Annotated[float, _between(0, 3)] = 0.6
    lapse: Annotated[float, _between(0, 0.5)] = 0.0
    lean_sd: Annotated[float, _between(-2, 2)] = 0.0
    tires: Annotated[float, _between(0, 1)] = 0.0
    suggestible: Annotated[float, _between(0, 1)] = 0.0
    claims_logmar: Annotated[float, _between(-0.2, 1.6)] | None = None


class EyeRangePart(_Part):
    """From where to where one eye's need and half PD may be drawn; the cylinder in minus form.

    Without a cylinder's range cylinder and axis stay; an axis may run past 180.
    """

    sphere_d: Annotated[tuple[_Sphere, _Sphere], *Ordered]
    cylinder_d: Annotated[tuple[_Cylinder, _Cylinder], *Ordered] | None = None
    axis_deg: Annotated[tuple[_Axis, _Axis], *Ordered] | None = None
    pd_mm: Annotated[tuple[HalfPd, HalfPd], *Ordered] | None = None

    @field_validator("sphere_d")
    @classmethod
    def _wide(cls, pair: tuple[float, float]) -> tuple[float, float]:
        if pair[1] - pair[0] < NARROWEST_D - 1e-9:
            raise ValueError(f"the most must lie {NARROWEST_D:g} D or more above the least")
        return pair

    @model_validator(mode="after")
    def _whole(self) -> "EyeRangePart":
        if (self.cylinder_d is None) != (self.axis_deg is None):
            raise ValueError("cylinder_d and axis_deg go together; state both or neither")
        return self


class RangePart(_Part):
    """What an exam may draw its own eyes from; what is not stated stays."""

    age: Annotated[tuple[Age, Age], *Ordered] | None = None
    right: EyeRangePart
    left: EyeRangePart


Points = Annotated[float, _between(0, 100)]
ErrorD = Annotated[float, _between(0, 20)]
Band = Annotated[tuple[ErrorD, Annotated[float, _between(0, 1)]], Field(strict=False)]
AxisBand = Annotated[tuple[ErrorD, Annotated[float, _between(0, 90)]], Field(strict=False)]
Many = Field(strict=False, max_length=20)


class MarkingPart(_Part):
    """Weights and tolerances of this case's own, by the rubric's names; the others stay.

    ``minutes`` is the patient's time for this case, ``procedure`` the points of single items.
    """

    eye_points: Points | None = None
    vertex_points: Points | None = None
    pd_points: Points | None = None
    bands: Annotated[tuple[Band, ...], Many] | None = None
    allows_from_logmar: Annotated[float, _between(0, 1.6)] | None = None
    allows_strong: Annotated[float, _between(0, 1)] | None = None
    strong_from_d: ErrorD | None = None
    mean_off_from_d: ErrorD | None = None
    mean_off_points: Points | None = None
    power_full_d: ErrorD | None = None
    power_pass_d: ErrorD | None = None
    axis_bands: Annotated[tuple[AxisBand, ...], Many] | None = None
    vertex_from_d: ErrorD | None = None
    pd_full_mm: Annotated[float, _between(0, 20)] | None = None
    pd_half_mm: Annotated[float, _between(0, 20)] | None = None
    no_need_d: Annotated[float, _between(0, 5)] | None = None
    procedure: dict[str, Points] = {}
    talk_points: Points | None = None
    record_points: Points | None = None
    judgement_points: Points | None = None
    judged_from_level: Level | None = None
    judged_points: Points | None = None
    time_points: Points | None = None
    minutes: Annotated[float, _between(1, 240)] | None = None
    minor: Points | None = None
    major: Points | None = None
    critical: Points | None = None
    safety_cap: Points | None = None
    swap_cap: Points | None = None
    sign_cap: Points | None = None
    sign_from_d: ErrorD | None = None
    guess_cap: Points | None = None
    guess_under: Annotated[int, Field(ge=0, le=100)] | None = None
    pass_total: Points | None = None

    @field_validator("procedure")
    @classmethod
    def _items(cls, procedure: dict[str, float]) -> dict[str, float]:
        for name in procedure:
            if name not in PROCEDURE:
                raise ValueError(f"no item {name[:20]!r}; one of {', '.join(PROCEDURE)}")
        return procedure


class CaseFile(_Part):
    """A case as its file states it."""

    level: Level
    first: bool = False
    person: PersonPart
    right: EyePart
    left: EyePart
    eyes: SharedPart = SharedPart()
    history: HistoryPart
    start: StartPart = StartPart()
    traits: TraitsPart = TraitsPart()
    answer: AnswerPart | None = None
    range: RangePart | None = None
    marking: MarkingPart | None = None
