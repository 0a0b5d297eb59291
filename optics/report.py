"""What ``see`` reports of one eye behind a trial frame, as plain values."""

from dataclasses import dataclass, replace

import numpy as np

from optics.eye.accommodation import objective_amplitude_d
from optics.eye.eye import Eye, EyePair, required_vergence
from optics.eye.population import average_aberrations
from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.power import SpheroCylinder, blur_strength_d, from_vector
from optics.sight.targets import CHART_LINES_LOGMAR, Wall
from optics.sight.view import EyeView, View, look
from optics.units import decimal_acuity, feet_snellen, metric_snellen

PINHOLE = TrialLens(kind=LensKind.PINHOLE, aperture_mm=1.2)
OCCLUDED = PlacedLens(lens=TrialLens(kind=LensKind.OCCLUDER))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitting:
    """One eye tried from the command line; the other eye is covered."""

    side: EyeSide
    need: SpheroCylinder
    need_vertex_mm: float
    need_distance_m: float
    pupil_mm: float | None
    age_y: float
    cycloplegia: bool
    average: bool
    frame: TrialFrame
    distance_m: float

    def view(self, frame: TrialFrame | None = None) -> View:
        """Return what is seen through a frame, the sitting's own if none is given."""
        vergence = required_vergence(self.need, self.need_vertex_mm, self.need_distance_m)
        right, left = (
            Eye(
                side=side,
                required_vergence=vergence,
                pupil_mm=self.pupil_mm,
                zernike_um=average_aberrations(side) if self.average else (),
            )
            for side in EyeSide
        )
        amplitude = 0.0 if self.cycloplegia else objective_amplitude_d(self.age_y)
        eyes = EyePair(right=right, left=left, age_y=self.age_y, amplitude_d=amplitude)
        covered = (frame or self.frame).with_lens(self.side.other, Place.CELL_4, OCCLUDED)
        return look(eyes, covered, Wall(distance_m=self.distance_m))


def see_report(sitting: Sitting) -> dict[str, object]:
    """Return what is measured of the eye, numbers rounded for reading."""
    view = sitting.view()
    eye = view.eye(sitting.side)
    beam = eye.beam
    return {
        "over_refraction": _over_refraction(eye),
        "defocus": dict(zip(("m", "j0", "j45"), _rounded(*eye.defocus), strict=True)),
        "accommodation_d": round(view.accommodation_d, 3),
        "pupil_mm": round(eye.pupil_mm, 3),
        "prism": dict(zip(("horizontal_pd", "vertical_pd"), _rounded(*beam.prism_pd), strict=True)),
        "magnification": round(beam.mean_magnification, 4),
        "transmittance": round(eye.transmittance, 4),
        "field_half_deg": round(beam.field_half_deg, 2),
        "dark": eye.transfer is None,
        **_acuity(eye),
        "pinhole": {"diameter_mm": PINHOLE.aperture_mm, "logmar": _pinhole_logmar(sitting)},
    }


def _rounded(*values: float) -> tuple[float, ...]:
    return tuple(round(float(value), 4) + 0.0 for value in values)


def _over_refraction(eye: EyeView) -> dict[str, float]:
    vector = np.array(eye.over_refraction)
    lens = from_vector(vector)
    numbers = _rounded(
        lens.sphere_d, lens.cylinder_d, lens.axis_deg, *vector, blur_strength_d(vector)
    )
    names = ("sphere", "cylinder", "axis", "m", "j0", "j45", "blur_strength")
    return dict(zip(names, numbers, strict=True))


def _acuity(eye: EyeView) -> dict[str, object]:
    reading = eye.reading
    if reading is None:
        return {"logmar": None, "metric": None, "feet": None, "decimal": None, "letters": {}}
    acuity = reading.acuity_logmar
    return {
        "logmar": round(acuity, 3),
        "metric": metric_snellen(acuity),
        "feet": feet_snellen(acuity),
        "decimal": round(decimal_acuity(acuity), 3),
        "letters": {
            metric_snellen(line): round(reading.of_line(line), 3) for line in CHART_LINES_LOGMAR
        },
    }


def _pinhole_logmar(sitting: Sitting) -> float | None:
    """Return the acuity with a pinhole in the outermost empty place; None if none is empty."""
    for place in reversed(Place):
        if sitting.frame.at(sitting.side, place) is None:
            frame = sitting.frame.with_lens(sitting.side, place, PlacedLens(lens=PINHOLE))
            reading = replace(sitting, frame=frame).view().eye(sitting.side).reading
            return None if reading is None else round(reading.acuity_logmar, 3)
    return None
