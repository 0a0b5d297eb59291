"""What each case comes to: for those who write cases, never for those who refract them."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from optics.light.frame import SIDE_NAMES, Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.lens_case import PINHOLE_MM
from optics.light.notation import parse_prescription, prescription_text
from optics.light.power import SpheroCylinder, blur_strength_d, power_vector
from optics.patient.traits import ORDINARY
from optics.sight.targets import Wall
from optics.sight.view import look
from optics.units import metric_snellen
from server.casebook import Case, Casebook
from server.marking.rubric import has_own_weights
from server.marking.truth import Truth, find_truth

OCCLUDER = PlacedLens(lens=TrialLens(kind=LensKind.OCCLUDER))
PINHOLE = PlacedLens(lens=TrialLens(kind=LensKind.PINHOLE, aperture_mm=PINHOLE_MM))
STRONG_D, UNEQUAL_D, CYLINDER_D, HIDDEN_D = 6.0, 1.5, 0.5, 0.75
SMALL_MM, WIDE_MM = 2.5, 6.5  # pupils fixed there or beyond; common practice, no source
FULL_LOGMAR = 0.1  # 6/7.5; common practice, no source
OBJECTIVE_OFF_D = END_POINT_OFF_D = 1.0
CLUES = ("history", "pinhole")  # where what must be referred or left alone can be noticed


@dataclass(frozen=True, slots=True, kw_only=True)
class EyeReport:
    """One eye of a case: acuities in logMAR, need and truth as lenses."""

    side: EyeSide
    unaided_logmar: float
    pinhole_logmar: float
    best_logmar: float
    need: SpheroCylinder
    truth: SpheroCylinder


def report_lines(casebook: Casebook) -> Iterator[tuple[str, bool]]:
    """Yield each line of the report and whether it is a fault."""
    for fault in casebook.faults:
        yield f"FAULT {fault}", True
    for stem, case in casebook.cases.items():
        own = "; own weights" if has_own_weights(case.rubric.version) else ""
        yield f"{stem}: level {case.level}; {case.who}, {case.age_y}{own}", False
        truths = {side: find_truth(case, side) for side in EyeSide}
        for side, truth in truths.items():
            yield f"  {_eye_line(eye_report(case, side, truth))}", False
        for problem in inconsistencies(case, truths):
            yield f"  FAULT {problem}", True


def _eye_line(eye: EyeReport) -> str:
    unaided, pinhole, best = (
        metric_snellen(acuity)
        for acuity in (eye.unaided_logmar, eye.pinhole_logmar, eye.best_logmar)
    )
    return (
        f"{eye.side.value}  unaided {unaided:7} pinhole {pinhole:7} best {best:7}"
        f" need {prescription_text(eye.need):24} truth {prescription_text(eye.truth)}"
    )


def eye_report(case: Case, side: EyeSide, truth: Truth) -> EyeReport:
    """Return what one eye of a case comes to, the other covered."""
    bare = TrialFrame().with_lens(side.other, Place.CELL_4, OCCLUDER)
    holed = bare.with_lens(side, Place.CELL_4, PINHOLE)
    unaided, pinhole = (
        reading.acuity_logmar if reading else 9.0
        for reading in (look(case.eyes, frame, Wall()).eye(side).reading for frame in (bare, holed))
    )
    return EyeReport(
        side=side,
        unaided_logmar=unaided,
        pinhole_logmar=pinhole,
        best_logmar=truth.acuity_logmar,
        need=case.needs[side],
        truth=truth.lens(),
    )


def inconsistencies(case: Case, truths: Mapping[EyeSide, Truth]) -> list[str]:
    """Return what does not fit together in a case."""
    problems = []
    found = level_of(case, truths)
    if found != case.level:
        problems.append(f"level: stated {case.level}, by its eyes and answers it is {found}")
    for side, eye in SIDE_NAMES.items():
        objective = case.start.get(f"objective_{eye}")
        if objective is None:
            continue
        off = power_vector(parse_prescription(objective)) - power_vector(case.needs[side])
        if blur_strength_d(off) > OBJECTIVE_OFF_D:
            problems.append(
                f"start.objective_{eye}: {blur_strength_d(off):.2f} D from the need;"
                f" more than {OBJECTIVE_OFF_D:g} D misleads rather than helps"
            )
    for side, truth in truths.items():
        off_d = blur_strength_d(power_vector(truth.lens()) - power_vector(case.needs[side]))
        off_d -= case.eyes.floor_d
        if off_d > END_POINT_OFF_D:
            problems.append(
                f"{SIDE_NAMES[side]}.need: the end point lies {off_d:.2f} D away;"
                f" more than {END_POINT_OFF_D:g} D is no longer the eye that was meant"
            )
    return problems + _without_a_clue(case)


def _without_a_clue(case: Case) -> list[str]:
    answer = case.answer
    if answer is None or (answer.prescribe == "yes" and answer.refer == "none"):
        return []
    if any(clue in answer.because.lower() for clue in CLUES):
        return []
    return [f"answer.because: names no clue to the answer; it must name {' or '.join(CLUES)}"]


def level_of(case: Case, truths: Mapping[EyeSide, Truth]) -> int:
    """Return the level that a case asks for; the rules stand in DEVELOPERS.md."""
    needs = list(case.needs.values())
    hurdles = [_uneven(case, truths), _holds_on(case), _answers_oddly(case)]
    if sum(hurdles) > 1 or _strong(needs) or _is_sent_on(case):
        return 4
    if any(hurdles):
        return 3
    if any(abs(need.cylinder_d) >= CYLINDER_D for need in needs) or _hides(case):
        return 2
    return 1


def _strong(needs: list[SpheroCylinder]) -> bool:
    return any(abs(need.spherical_equivalent_d) >= STRONG_D for need in needs)


def _is_sent_on(case: Case) -> bool:
    """Return whether the person must not wait: what no lens mends."""
    return case.answer is not None and case.answer.pressing


def _uneven(case: Case, truths: Mapping[EyeSide, Truth]) -> bool:
    """Return whether the eyes are apart, one of them disturbed, or a pupil is not as usual."""
    right, left = (need.spherical_equivalent_d for need in case.needs.values())
    pupils_mm = [eye.pupil_mm for eye in (case.eyes.right, case.eyes.left) if eye.pupil_mm]
    return (
        abs(right - left) >= UNEQUAL_D
        or _disturbed(truths)
        or any(not SMALL_MM < pupil_mm < WIDE_MM for pupil_mm in pupils_mm)
    )


def _holds_on(case: Case) -> bool:
    """Return whether accommodation stays where it is not wanted."""
    return case.eyes.floor_d + case.eyes.latent_d > 0.0


def _answers_oddly(case: Case) -> bool:
    """Return whether a habit of answering misleads; little noise does not."""
    return replace(case.traits, noise=max(case.traits.noise, ORDINARY.noise)) != ORDINARY


def _disturbed(truths: Mapping[EyeSide, Truth]) -> bool:
    """Return whether an eye reads worse than 6/7.5 with every lens."""
    return any(truth.acuity_logmar > FULL_LOGMAR for truth in truths.values())


def _hides(case: Case) -> bool:
    """Return whether accommodation can hide the error: latent plus, or worn lenses too minus."""
    for side, eye in SIDE_NAMES.items():
        needed = case.needs[side].spherical_equivalent_d
        worn = case.start.get(f"worn_{eye}")
        worn_d = parse_prescription(worn).spherical_equivalent_d if worn else 0.0
        excess = needed - worn_d if worn else needed
        if HIDDEN_D <= excess <= case.eyes.amplitude_d:
            return True
    return False
