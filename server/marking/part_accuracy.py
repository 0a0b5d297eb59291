"""The accuracy part: the error of each eye, too much minus or plus, vertex and PD."""

from collections.abc import Iterable, Iterator, Mapping

from optics.light.frame import SIDE_NAMES
from optics.light.lens import EyeSide
from server.attempts.state import Fit
from server.marking.eye_mark import EyeMark
from server.marking.faults.fault import Fault, Scene
from server.marking.looks import EyeWork
from server.marking.part import Line, Part
from server.marking.rubric import Rubric

WRITE_IT = "Write a lens for each eye that you have refracted, plano too."
NO_MORE_OF = {
    "over-minus": "Fog at the end and give back minus only while letters are won.",
    "over-plus": "At the end offer 0.25 D of minus and take it if it wins letters.",
}


def accuracy_part(
    scene: Scene,
    eyes: Iterable[EyeMark],
    faults: Mapping[str, Fault],
    rubric: Rubric,
    eye_points: float,
) -> Part:
    """Return the part; ``eye_points`` are those of one eye."""
    eyes = tuple(eyes)
    lines = [line for eye in eyes for line in _eye_lines(eye, rubric, eye_points)]
    if any(eye.given for eye in eyes):
        lines.append(_vertex_line(scene, faults, rubric))
        lines.append(_pd_line(scene, faults, rubric))
    else:
        most = rubric.vertex_points + rubric.pd_points
        lines.append(
            Line(words="Vertex distance and PD: no lens was recorded", points=0, most=most)
        )
    return Part.of("accuracy", "How close it comes", lines)


def _eye_lines(eye: EyeMark, rubric: Rubric, eye_points: float) -> Iterator[Line]:
    name = f"{SIDE_NAMES[EyeSide(eye.side)].capitalize()} eye"
    if eye.error_d is None:
        yield Line(words=f"{name}: {eye.missing}", points=0.0, most=eye_points, instead=WRITE_IT)
        return
    allowed = f", {eye.allowed_d:.2f} D of it allowed" if eye.allowed_d >= 0.005 else ""
    plano = "; it needs no lens and got none" if eye.no_need and eye.share == 1.0 else ""
    yield Line(
        words=f"{name}: {eye.error_d:.2f} D from its end point ({eye.band}{allowed}){plano}",
        points=eye.share * eye_points,
        most=eye_points,
        details=eye.details,
        instead=NO_MORE_OF.get(
            eye.named, "Repeat the sphere and the cross cylinder until nothing more is gained."
        ),
    )
    if eye.named and not plano:
        yield Line(
            words=f"{name}: {eye.named} by {abs(eye.mean_off_d):.2f} D",
            points=-rubric.mean_off_points,
            instead=NO_MORE_OF[eye.named],
        )


def _vertex_line(scene: Scene, faults: Mapping[str, Fault], rubric: Rubric) -> Line:
    missed = "vertex-not-recorded" in faults
    written = scene.record.get("vertex")
    words = f"recorded, {written} mm" if written else "not recorded" if missed else "not needed"
    return Line(
        words=f"Vertex distance of powers beyond {rubric.vertex_from_d:g} D: {words}",
        points=0.0 if missed else rubric.vertex_points,
        most=rubric.vertex_points,
        fault="vertex-not-recorded" if missed else "",
    )


def _pd_line(scene: Scene, faults: Mapping[str, Fault], rubric: Rubric) -> Line:
    """Return the line for the PD that the frame had when a lens was last asked through."""
    fit = _last_fit(scene.work.values()) or scene.end.state.fit
    off_mm = abs(fit.pd_right_mm + fit.pd_left_mm - sum(scene.case.pd_mm))
    words, wrong = f"PD of the frame: {off_mm:.1f} mm off", "pd-wrong" in faults
    share = _pd_share(off_mm, rubric)
    if "frame-not-fitted" in faults:
        return Line(
            words=f"{words}, charged where the frame was to be fitted",
            points=rubric.pd_points,
            most=rubric.pd_points,
        )
    return Line(
        words=words,
        points=0.0 if wrong else share * rubric.pd_points,
        most=rubric.pd_points,
        fault="pd-wrong" if wrong else "",
        instead="Set each half PD until the pupil stands in the middle of its ring.",
    )


def _pd_share(off_mm: float, rubric: Rubric) -> float:
    if off_mm <= rubric.pd_full_mm + 1e-9:
        return 1.0
    return 0.5 if off_mm <= rubric.pd_half_mm + 1e-9 else 0.0


def _last_fit(work: Iterable[EyeWork]) -> Fit | None:
    looks = [look for one in work for look in one.looks if look.lenses.count]
    return max(looks, key=lambda look: look.number).step.state.fit if looks else None
