"""Whole populations refracted: who, by which habit, how far from the truth."""

import tempfile
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from tests.examiner.habits import HABITS
from tests.examiner.patients import (
    Drawn,
    drawn_patient,
    error_vector,
    length_d,
    marked_lens,
    practice,
)
from tests.examiner.routine import Refraction, refract

YOUNG_MYOPES_D = (-2.00, -0.25)
YOUNG_Y = (18, 30)
YOUNG_AMPLITUDE_D = 8.0


@dataclass(frozen=True)
class Outcome:
    """One refraction beside the truth: answer minus truth (M, J0, J45) in D, at 12 mm."""

    drawn: Drawn
    habit: str
    error: tuple[float, float, float]
    done: Refraction

    @property
    def distance_d(self) -> float:
        """The dioptric distance to the truth."""
        return length_d(self.error)

    def __str__(self) -> str:
        m, j0, j45 = self.error
        return (
            f"{self.drawn.name} {self.habit}: {self.done.beside}: {m:+.2f} {j0:+.2f} {j45:+.2f},"
            f" {self.distance_d:.2f} D; {self.done.questions} questions,"
            f" {self.done.cpu_s:.1f} s"
        )


@dataclass(frozen=True)
class Play:
    """A patient, the habits they are refracted by, and how often by each."""

    drawn: Drawn
    habits: tuple[str, ...] = ("textbook",)
    times: int = 1


def outcomes(play: Play) -> list[Outcome]:
    """Return every refraction of one patient; attempts differ by their own secrets."""
    with (
        tempfile.TemporaryDirectory() as folder,
        practice(Path(folder), one=play.drawn.text) as (browser, book),
    ):
        truth = marked_lens(book.cases["one"])
        done = [
            (habit, refract(browser, HABITS[habit]))
            for habit in play.habits
            for _ in range(play.times)
        ]
    return [Outcome(play.drawn, habit, error_vector(one.lens, truth), one) for habit, one in done]


def survey(plays: Iterable[Play], jobs: int = 1) -> Iterator[Outcome]:
    """Yield the refractions of all, in order; one process unless more are asked for."""
    if jobs == 1:
        for play in plays:
            yield from outcomes(play)
        return
    with ProcessPoolExecutor(max_workers=jobs) as pool:
        for done in pool.map(outcomes, plays):
            yield from done


def population(seed: int, eyes: int, best_logmar: float | None = None) -> list[Drawn]:
    """Return patients of all ages, needs within 6 D."""
    return [drawn_patient(seed, number, best_logmar=best_logmar) for number in range(eyes)]


def young_myopes(seed: int, eyes: int) -> list[Drawn]:
    """Return young myopes who accommodate by 8 D."""
    return [
        drawn_patient(
            seed,
            5000 + number,
            mean_d=YOUNG_MYOPES_D,
            ages_y=YOUNG_Y,
            amplitude_d=YOUNG_AMPLITUDE_D,
        )
        for number in range(eyes)
    ]
