"""What a visitor has done so far: attempts over time, faults, kinds of eye, what to do next."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from optics.light.lens import EyeSide
from server.attempts.service import Attempt, Attempts
from server.casebook import Case
from server.marking.mark import Mark

STRONG_D, CYLINDER_D, UNEQUAL_D = 5.0, 0.75, 1.0
PASSES_TO_GO_UP = 2  # of a level, before the next is advised
FAULTS_SHOWN = 5
WELL = 80.0  # of 100; below it a kind of eye wants practice
LEVELS = (1, 2, 3, 4)
KINDS = {
    "myopic": "Myopia",
    "hyperopic": "Hyperopia",
    "astigmatic": "Astigmatism",
    "unequal": "Unequal eyes",
    "strong": "Strong powers",
    "poor": "Poor best acuity",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """A finished attempt that counts, with its mark and the kinds of eye it had."""

    attempt: Attempt = field(repr=False)
    mark: Mark = field(repr=False)
    kinds: frozenset[str]

    @property
    def error_d(self) -> float | None:
        """The worse eye's error; None where neither was recorded."""
        errors = [eye.error_d for eye in self.mark.eyes if eye.error_d is not None]
        return max(errors, default=None)

    @property
    def begun(self) -> datetime:
        """When it began."""
        return self.attempt.row.created_at


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """All finished attempts that count, oldest first, and what they come to."""

    done: tuple[Done, ...]
    faults: tuple[tuple[str, str, int], ...]  # title, what to do instead, in how many attempts
    kinds: tuple[tuple[str, int, float], ...]  # kind, attempts, mean total
    next_level: int
    next_why: str


def progress(service: Attempts, session_id: int) -> Progress:
    """Return what a session has done; an attempt whose case is lost or a copy does not count."""
    counted = [
        one
        for one in service.of_session(session_id, exams=True)
        if one.revealed and not one.state.copied_from
    ]
    done = tuple(
        Done(attempt=one, mark=service.mark(one), kinds=kinds_of(one.case))
        for one in reversed(counted)
    )
    kinds = _kinds(done)
    level, why = advised([(one.attempt.case.level, one.mark.passed) for one in done], kinds)
    return Progress(done=done, faults=_faults(done), kinds=kinds, next_level=level, next_why=why)


def kinds_of(case: Case) -> frozenset[str]:
    """Return what kinds of eye a case has; known only after its attempt has ended."""
    needs = [case.needs[side] for side in EyeSide]
    means = [need.spherical_equivalent_d for need in needs]
    found = {
        "myopic": min(means) <= -0.5,
        "hyperopic": max(means) >= 0.5,
        "astigmatic": any(abs(need.cylinder_d) >= CYLINDER_D for need in needs),
        "unequal": abs(means[0] - means[1]) >= UNEQUAL_D,
        "strong": any(abs(mean) >= STRONG_D for mean in means),
        "poor": any(eye.nerve.loss > 1.2 for eye in (case.eyes.right, case.eyes.left)),
    }
    return frozenset(kind for kind, has in found.items() if has)


def _faults(done: Sequence[Done]) -> tuple[tuple[str, str, int], ...]:
    counts = Counter(fault.key for one in done for fault in one.mark.faults)
    named = {fault.key: fault for one in done for fault in one.mark.faults}
    return tuple(
        (named[key].title, named[key].instead, count)
        for key, count in counts.most_common(FAULTS_SHOWN)
    )


def _kinds(done: Sequence[Done]) -> tuple[tuple[str, int, float], ...]:
    found = []
    for kind, name in KINDS.items():
        totals = [one.mark.total for one in done if kind in one.kinds]
        if totals:
            found.append((name, len(totals), sum(totals) / len(totals)))
    return tuple(found)


def advised(
    results: Sequence[tuple[int, bool]], kinds: Sequence[tuple[str, int, float]]
) -> tuple[int, str]:
    """Return the level to try next and why, by level and pass of each attempt, and by kind of eye.

    Who passes at a level need not go below it.
    """
    level = next((level for level in LEVELS if _passed(results, level) < PASSES_TO_GO_UP), None)
    if level is None:
        why = "You passed at every level: try the ones that went least well again."
    elif (level, True) in results:
        why = f"You have passed 1 of level {level}; {PASSES_TO_GO_UP} open the next."
    elif (level, False) in results:
        why = f"You have passed none of level {level} yet; {PASSES_TO_GO_UP} open the next."
    elif level == LEVELS[0]:
        why = "Begin with one thing to find."
    else:
        why = f"You passed {PASSES_TO_GO_UP} of level {level - 1} or higher."
    return level or LEVELS[-1], f"{why}{_weakest(kinds)}"


def _passed(results: Sequence[tuple[int, bool]], level: int) -> int:
    return sum(passed for at, passed in results if at >= level)


def _weakest(kinds: Sequence[tuple[str, int, float]]) -> str:
    """Return a sentence about the kind of eye that went least well, if one went badly."""
    name, _, mean = min(kinds, key=lambda kind: kind[2], default=("", 0, 100.0))
    if mean >= WELL:
        return ""
    return f" Of the eyes so far this kind went least well: {name.lower()}, {mean:.0f} of 100."
