"""What each case comes to: for those who write cases, never for those who refract them."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.lens_case import PINHOLE_MM
from optics.light.notation import parse_prescription, prescription_text
from optics.light.power import SpheroCylinder, blur_strength_d, power_vector
from optics.sight.targets import Wall
from optics.sight.view import look
from optics.units import metric_snellen
from server.casebook import Case, Casebook
from server.marking.truth import Truth, find_truth

OCCLUDER = PlacedLens(lens=TrialLens(kind=LensKind.OCCLUDER))
PINHOLE = PlacedLens(lens=TrialLens(kind=LensKind.PINHOLE, aperture_mm=PINHOLE_MM))
STRONG_D, UNEQUAL_D, CYLINDER_D, HIDDEN_D = 6.0, 1.5, 0.5, 0.75
MIXED_D = 0.5
FULL_LOGMAR = 0.1  # 6/7.5; common practice, no source
OBJECTIVE_OFF_D = 1.0


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
        yield f"{stem}: level {case.level}; {case.who}, {case.age_y}", False
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
    other = EyeSide.LEFT if side is EyeSide.RIGHT else EyeSide.RIGHT
    bare = TrialFrame().with_lens(other, Place.CELL_4, OCCLUDER)
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
        problems.append(f"level: stated {case.level}, by its eyes it is {found}")
    for side, eye in ((EyeSide.RIGHT, "right"), (EyeSide.LEFT, "left")):
        objective = case.start.get(f"objective_{eye}")
        if objective is None:
            continue
        off = power_vector(parse_prescription(objective)) - power_vector(case.needs[side])
        if blur_strength_d(off) > OBJECTIVE_OFF_D:
            problems.append(
                f"start.objective_{eye}: {blur_strength_d(off):.2f} D from the need;"
                f" more than {OBJECTIVE_OFF_D:g} D misleads rather than helps"
            )
    return problems


def level_of(case: Case, truths: Mapping[EyeSide, Truth]) -> int:
    """Return the level that a case's eyes ask for; the rules stand in DEVELOPERS.md."""
    needs = list(case.needs.values())
    if any(rule(needs) for rule in LEVEL_3) or _disturbed(truths):
        return 3
    if any(abs(need.cylinder_d) >= CYLINDER_D for need in needs) or _hides(case):
        return 2
    return 1


def _oblique(needs: list[SpheroCylinder]) -> bool:
    return any(
        abs(need.cylinder_d) >= CYLINDER_D and 20 < need.in_minus_cylinder().axis_deg % 90 < 70
        for need in needs
    )


def _mixed(needs: list[SpheroCylinder]) -> bool:
    forms = [need.in_minus_cylinder() for need in needs]
    return any(
        form.sphere_d >= MIXED_D and form.sphere_d + form.cylinder_d <= -MIXED_D
        for form in forms
        if form.axis_deg <= 20 or form.axis_deg >= 160
    )


def _unequal(needs: list[SpheroCylinder]) -> bool:
    right, left = (need.spherical_equivalent_d for need in needs)
    return abs(right - left) >= UNEQUAL_D


def _strong(needs: list[SpheroCylinder]) -> bool:
    return any(abs(need.spherical_equivalent_d) >= STRONG_D for need in needs)


LEVEL_3: tuple[Callable[[list[SpheroCylinder]], bool], ...] = (_oblique, _mixed, _unequal, _strong)


def _disturbed(truths: Mapping[EyeSide, Truth]) -> bool:
    """Return whether an eye reads worse than 6/7.5 with every lens."""
    return any(truth.acuity_logmar > FULL_LOGMAR for truth in truths.values())


def _hides(case: Case) -> bool:
    """Return whether accommodation can hide the error: latent plus, or worn lenses too minus."""
    for side, eye in ((EyeSide.RIGHT, "right"), (EyeSide.LEFT, "left")):
        needed = case.needs[side].spherical_equivalent_d
        worn = case.start.get(f"worn_{eye}")
        worn_d = parse_prescription(worn).spherical_equivalent_d if worn else 0.0
        excess = needed - worn_d if worn else needed
        if HIDDEN_D <= excess <= case.eyes.amplitude_d:
            return True
    return False
