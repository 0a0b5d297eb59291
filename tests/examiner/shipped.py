"""The cases that come with the product, each refracted by the textbook."""

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from server.casebook import Case
from server.marking.mark import Mark
from server.settings import REPOSITORY
from tests.examiner.habits import HABITS
from tests.examiner.patients import error_vector, length_d, marked_lens, practice
from tests.examiner.routine import Refraction, refract

ENOUGH = 4 / 7  # of accuracy's points: 0.50 D after what acuity and power allow
TIMES = 3


@dataclass(frozen=True)
class Shipped:
    """A case, its refraction, how far it came from the end point, and the share it earns."""

    case: Case
    done: Refraction
    distance_d: float
    share: float

    @property
    def stopping(self) -> bool:
        """Whether the right thing is to stop, or to give no lens."""
        answer = self.case.answer
        return answer is not None and (answer.pressing or answer.prescribe == "no")

    @property
    def passed(self) -> bool:
        """Whether the right eye's accuracy reaches what is enough."""
        return self.share >= ENOUGH - 1e-9


def shipped() -> Iterator[Shipped]:
    """Yield the right eye of every shipped case, refracted: of three times the middle one.

    Answers are chances: with a poor eye they lead astray now and then.
    """
    texts = {path.stem: path.read_text("utf-8") for path in (REPOSITORY / "cases").glob("*.toml")}
    with (
        tempfile.TemporaryDirectory() as folder,
        practice(Path(folder), **dict(sorted(texts.items()))) as (browser, book),
    ):
        for case in book.cases.values():
            plays = sorted((played(browser, case) for _ in range(TIMES)), key=lambda one: one.share)
            yield plays[TIMES // 2]


def played(browser: Any, case: Case) -> Shipped:
    """Return one refraction of a case's right eye."""
    done = refract(browser, HABITS["textbook"], case.public_id)
    [kept] = browser.app.state.store.marks_of(done.attempt)
    eye = Mark.from_body(kept.body).eyes[0]
    distance_d = length_d(error_vector(done.lens, marked_lens(case)))
    return Shipped(case, done, distance_d, eye.share)
