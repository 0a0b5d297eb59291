"""How often the region that should hold the truth holds it: ``python -m tests.calibration``.

The examiner refracts drawn eyes, and eyes with the mean aberrations, by the textbook; what the
log told is laid beside the end point. Eyes 0 to 27 of seed 5 served in choosing the widening.
"""

import argparse
import statistics
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np

from optics.evidence.likelihood import AT_FACE_VALUE, WIDENED, Widening
from optics.evidence.lookup import Supposed, supposed
from optics.evidence.nominal import NominalEyes, nominal_age_y, nominal_eyes
from optics.evidence.posterior import Posterior
from optics.eye.accommodation import objective_amplitude_d
from optics.light.beam import Vector
from optics.light.lens import EyeSide
from server.attempts.told import known_of, sufficed_at, told
from server.marking.truth import find_truth
from server.store.log import Event
from tests.examiner.patients import (
    Drawn,
    drawn_patient,
    error_vector,
    length_d,
    marked_lens,
    practice,
)
from tests.examiner.routine import refract, textbook

HELD_OUT_SEED = 77


@dataclass(frozen=True)
class Attempt:
    """A refraction's log, the truth at the cornea, and how far the examiner's lens was from it."""

    age_y: int
    events: tuple[Event, ...]
    truth: Vector
    examiner_d: float


@dataclass(frozen=True)
class Found:
    """What the log told of the eye, beside its truth."""

    known: Posterior
    attempt: Attempt

    @property
    def error(self) -> np.ndarray:
        return np.subtract(self.known.mean_d, self.attempt.truth)


def attempts(seed: int, numbers: range, drawn: bool) -> Iterator[Attempt]:
    """Yield refractions by the textbook of eyes that are drawn, or have mean aberrations."""
    for number in numbers:
        patient = drawn_patient(seed, number)
        yield refracted(patient if drawn else replace(patient, text=of_the_mean(patient.text)))


def of_the_mean(text: str) -> str:
    lines = text.splitlines(keepends=True)
    return "".join(line for line in lines if not line.startswith("individual"))


def refracted(patient: Drawn) -> Attempt:
    with (
        tempfile.TemporaryDirectory() as folder,
        practice(Path(folder), one=patient.text) as (browser, book),
    ):
        done = refract(browser, textbook)
        [attempt] = browser.app.state.attempts.of_session(1)
        case = book.cases["one"]
        return Attempt(
            age_y=patient.age_y,
            events=attempt.events,
            truth=find_truth(case, EyeSide.RIGHT).vergence,
            examiner_d=length_d(error_vector(done.lens, marked_lens(case))),
        )


@cache
def table(age_y: float) -> NominalEyes:
    return nominal_eyes(age_y, lambda _: None)


def eyes_of(age_y: float) -> Supposed:
    return supposed(table(nominal_age_y(age_y)), objective_amplitude_d(age_y))


def found(attempt: Attempt, widening: Widening) -> Found:
    eyes = eyes_of(attempt.age_y)
    return Found(known_of(attempt.events, EyeSide.RIGHT, eyes, widening), attempt)


def line(name: str, all_found: Sequence[Found]) -> str:
    """Return one row of the table."""
    errors = np.array([one.error for one in all_found])
    sds = np.array([one.known.sds_d for one in all_found])
    holds = [
        100.0 * statistics.fmean(one.known.holds(one.attempt.truth, share) for one in all_found)
        for share in (0.9, 0.5)
    ]
    rms, stated = (np.sqrt((values**2).mean(axis=0)) for values in (errors, sds))
    j, stated_j = (np.sqrt((values[1:] ** 2).mean()) for values in (rms, stated))
    own, examiner = (
        statistics.median(values)
        for values in (
            np.linalg.norm(errors, axis=1).tolist(),
            [one.attempt.examiner_d for one in all_found],
        )
    )
    return (
        f"| {name} | {len(all_found)} | {holds[0]:.0f} % | {holds[1]:.0f} % |"
        f" {rms[0]:.2f} {j:.2f} | {stated[0]:.2f} {stated_j:.2f} | {own:.2f} | {examiner:.2f} |"
    )


HEAD = (
    "| eyes, setting | n | 90 % region holds | 50 % region | rms error of mean M, J"
    " | stated SD M, J | mean to truth, median | examiner to truth |\n"
    "| --- | --- | --- | --- | --- | --- | --- | --- |"
)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.calibration")
    parser.add_argument("--attempts", type=int, default=100, metavar="N")
    parser.add_argument("--seed", type=int, default=HELD_OUT_SEED)
    given = parser.parse_args()
    print(HEAD)
    for who, drawn in (("drawn", True), ("mean aberrations", False)):
        done = list(attempts(given.seed, range(given.attempts), drawn))
        for how, widening in (("widened", WIDENED), ("at face value", AT_FACE_VALUE)):
            print(line(f"{who}, {how}", [found(one, widening) for one in done]), flush=True)
        enough = [sufficed_at(told(one.events, eyes_of(one.age_y)), EyeSide.RIGHT) for one in done]
        counts = [at for at in enough if at is not None]
        print(f"{who}: known to 0.25 D in {len(counts)} of {len(done)}")


if __name__ == "__main__":
    main()
