"""From what a case file states to the two eyes that the engine sees with."""

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache

from optics.errors import OpticsError
from optics.eye.accommodation import objective_amplitude_d
from optics.eye.eye import Eye, EyePair, required_vergence
from optics.eye.media import Media, Opacity, straylight_log_s
from optics.eye.nerve import Nerve, nerve_of_age
from optics.eye.population import Terms, average_aberrations, individual_aberrations
from optics.light.frame import SIDE_NAMES
from optics.light.lens import EyeSide
from optics.light.notation import parse_prescription
from optics.light.power import SpheroCylinder
from optics.sight.best_acuity import nerve_for
from server.case_file import CaseFile, EyePart, term_of


class UnfitError(Exception):
    """What a case states cannot be, by the optics of its eyes; names the field."""

    def __init__(self, place: tuple[str, ...], message: str) -> None:
        super().__init__(message)
        self.place = place


def needs_of(file: CaseFile) -> dict[EyeSide, SpheroCylinder]:
    """Return the lens that each eye needs now: as stated, with what a hardening lens added."""
    return {side: _need(part) for side, part in _parts(file).items()}


def _parts(file: CaseFile) -> dict[EyeSide, EyePart]:
    return {EyeSide.RIGHT: file.right, EyeSide.LEFT: file.left}


def _need(part: EyePart) -> SpheroCylinder:
    stated = parse_prescription(part.need)
    return replace(stated, sphere_d=stated.sphere_d + part.nuclear_shift_d)


def eyes_of(file: CaseFile) -> EyePair:
    """Return the two eyes of a case.

    Raises
    ------
    UnfitError
        If a stated value lies beyond what the eye can be.
    """
    shared = file.eyes
    own_d = objective_amplitude_d(file.person.age)
    try:
        right, left = (_eye(file, side, part) for side, part in _parts(file).items())
        eyes = EyePair(
            right=right,
            left=left,
            age_y=file.person.age,
            amplitude_d=own_d if shared.amplitude_d is None else shared.amplitude_d,
            floor_d=shared.floor_d,
            latent_d=shared.latent_d,
            tonic_d=shared.tonic_d,
            lag=shared.lag,
        )
    except OpticsError as fault:
        raise UnfitError(("eyes",), str(fault)) from None
    return _with_nerves(eyes, {side: part.best_logmar for side, part in _parts(file).items()})


def _eye(file: CaseFile, side: EyeSide, part: EyePart) -> Eye:
    shared = file.eyes
    return Eye(
        side=side,
        required_vergence=required_vergence(
            _need(part), shared.need_vertex_mm, shared.need_distance_m
        ),
        pupil_mm=shared.pupil_mm if part.pupil_mm is None else part.pupil_mm,
        zernike_um=_aberrations(file, side, part),
        media=_media(file.person.age, part),
        nerve=nerve_of_age(file.person.age),
    )


def _aberrations(file: CaseFile, side: EyeSide, part: EyePart) -> Terms:
    individual, age_y = file.eyes.individual, file.person.age
    terms = dict(
        average_aberrations(side, age_y)
        if individual is None
        else individual_aberrations(individual, side, age_y)
    )
    for name, um in part.zernike_um.items():
        terms[term_of(name)] = terms.get(term_of(name), 0.0) + um
    return tuple(terms.items())


def _media(age_y: float, part: EyePart) -> Media:
    times = 1.0
    if part.straylight_log_s is not None:
        times = 10.0 ** (part.straylight_log_s - straylight_log_s(age_y))
    spots = tuple(
        Opacity(
            x_mm=one.x_mm,
            y_mm=one.y_mm,
            radius_mm=one.radius_mm,
            transmittance=one.transmittance,
        )
        for one in part.opacity
    )
    return Media(age_y=age_y, straylight_times=times, opacities=spots)


def _with_nerves(eyes: EyePair, best: Mapping[EyeSide, float | None]) -> EyePair:
    for side, logmar in best.items():
        if logmar is None:
            continue
        try:
            eyes = eyes.with_eye(replace(eyes.eye(side), nerve=_nerve(eyes, side, logmar)))
        except OpticsError as fault:
            raise UnfitError((SIDE_NAMES[side], "best_logmar"), str(fault)) from None
    return eyes


@lru_cache(maxsize=128)
def _nerve(eyes: EyePair, side: EyeSide, best_logmar: float) -> Nerve:
    return nerve_for(eyes, side, best_logmar)
