"""The textbook's refraction of a right eye, from the bare eye to the card."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from tests.examiner import cross, sphere
from tests.examiner.bench import TRIAL, Bench, acuity_text
from tests.examiner.pages import Lens, reviewed

ROUNDS = 3


@dataclass(frozen=True)
class Refraction:
    """What came of it: the lens at 12 mm, what was read, what it took, what the review says.

    ``attempt`` is the last part of the attempt's address.
    """

    attempt: str
    lens: Lens
    letters: int
    questions: int
    patient_s: int
    cpu_s: float
    marked_d: float
    wrote: tuple[str, ...]
    end_point: tuple[str, ...]

    @property
    def beside(self) -> str:
        """What was written beside the end point."""
        return f"{' '.join(self.wrote)} for {' '.join(self.end_point)}"


Routine = Callable[[Bench], int]


def refract(browser: Any, routine: Routine, case: str | None = None) -> Refraction:
    """Play a whole refraction of a patient's right eye, the first on the list if none is named."""
    begun = time.process_time()
    bench = Bench(browser, case)
    bench.does("place", at="L.1", code="occluder")
    unaided = bench.letters()
    bench.puts(TRIAL, "pinhole1.2")
    pinhole = bench.letters()
    bench.puts(TRIAL, None)
    letters = routine(bench)
    lens = bench.lens
    fields = {
        "right_unaided": acuity_text(unaided),
        "right_pinhole": acuity_text(pinhole),
        "right_sphere": f"{lens.sphere_d:+.2f}",
        "right_cylinder": f"{lens.cylinder_d:+.2f}" if lens.cylinder_d else "",
        "right_axis": f"{lens.axis_deg}" if lens.cylinder_d else "",
        "right_acuity": acuity_text(letters),
        "vertex": "12",
    }
    marked, wrote, end_point = reviewed(bench.finishes(**fields))
    return Refraction(
        attempt=bench.address.rpartition("/")[2],
        lens=lens,
        letters=letters,
        questions=bench.questions,
        patient_s=bench.seconds,
        cpu_s=time.process_time() - begun,
        marked_d=marked,
        wrote=wrote,
        end_point=end_point,
    )


def textbook(bench: Bench) -> int:
    """Fog, unfog, cross cylinder and sphere in rounds, fog again, two colours.

    A round that loses a line is taken back.
    """
    given = bench.given
    if given is not None:
        bench.sets(given.sphere_d, given.cylinder_d, given.axis_deg)
    letters = sphere.fogged_sphere(bench, sphere.find_roughly(bench))
    best, kept = letters, bench.powers
    most_d = max(cross.most_cylinder_d(letters), 1.5 * abs(bench.cylinder_d))
    for _ in range(ROUNDS):
        before = bench.lens
        guess_d = cross.most_cylinder_d(letters)
        letters = sphere.toward_least_confusion(bench, letters, guess_d)
        if not bench.cylinder_d:
            cross.from_nothing(bench, letters)
        cross.refine(bench, letters, most_d=most_d)
        letters = sphere.fogged_sphere(bench, bench.letters())
        if letters >= best:
            best, kept = letters, bench.powers
        changed = abs(bench.cylinder_d - before.cylinder_d) >= 0.5
        if not changed:
            break
    if best - letters >= sphere.LINE:
        bench.sets(*kept)
    letters = sphere.bracket(bench, letters)
    sphere.duochrome(bench, letters)
    bench.does("letters")
    return bench.letters()
