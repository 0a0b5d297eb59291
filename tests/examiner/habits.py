"""Bad habits, each an examiner: no fog, minus on a word, a sphere that is never compensated."""

from collections.abc import Mapping

from tests.examiner import cross, sphere
from tests.examiner.bench import TRIAL, Bench, code
from tests.examiner.routine import Routine, textbook

STEP_D = 0.25
REFUSALS = 2  # running, then the sphere is left, as the textbook's unfogging ends
MOST_MINUS_D = 4.0


def minus_while(bench: Bench, *accepted: str) -> None:
    """Offer minus by quarters, never plus, and keep what is answered so, to the second refusal."""
    refused, start_d = 0, bench.sphere_d
    while refused < REFUSALS and start_d - bench.sphere_d < MOST_MINUS_D:
        bench.puts(TRIAL, code("sphere", -STEP_D))
        said = bench.asks("better")
        bench.puts(TRIAL, None)
        if said in accepted:
            bench.moves_sphere(-STEP_D)
            refused = 0
        else:
            refused += 1


def minus_on_a_word(bench: Bench, compensated: cross.Compensation, *accepted: str) -> int:
    """Minus on a word, the cross cylinder, minus on a word again; never fogged."""
    minus_while(bench, *accepted)
    letters = bench.letters()
    cross.from_nothing(bench, letters, compensated)
    cross.refine(bench, letters, compensated)
    minus_while(bench, *accepted)
    return bench.letters()


def minus_on_better(bench: Bench) -> int:
    """No fog, no compensation, minus whenever it is better."""
    return minus_on_a_word(bench, cross.keep_sphere, "better")


def minus_on_same(bench: Bench) -> int:
    """No fog, no compensation, minus whenever it is better or the same."""
    return minus_on_a_word(bench, cross.keep_sphere, "better", "same")


def no_fog(bench: Bench) -> int:
    """Minus whenever it is better and no fog, but the sphere goes with the cylinder."""
    return minus_on_a_word(bench, cross.keep_mean, "better")


def no_compensation(bench: Bench) -> int:
    """Fogged once, by the textbook; then a cylinder whose sphere is never moved or looked at."""
    letters = sphere.fogged_sphere(bench, sphere.find_roughly(bench))
    cross.from_nothing(bench, letters, cross.keep_sphere)
    cross.refine(bench, letters, cross.keep_sphere)
    return bench.letters()


HABITS: Mapping[str, Routine] = {
    "textbook": textbook,
    "better": minus_on_better,
    "same": minus_on_same,
    "no-fog": no_fog,
    "no-compensation": no_compensation,
}
