"""What was measured beside what is accepted, as rows of one table."""

import statistics
from collections.abc import Callable, Sequence

from tests.examiner.shipped import Shipped
from tests.examiner.survey import Outcome

Line = tuple[str, str, str]  # what, measured, accepted
OVER_MINUS_D = 0.50


def share(flags: Sequence[bool]) -> str:
    """Return a share in percent with its count."""
    return f"{100 * sum(flags) / len(flags):.0f} % of {len(flags)}"


def upto(values: Sequence[float], part: float) -> float:
    """Return the value that a part of the values do not exceed."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, max(0, round(part * len(ordered)) - 1))]


def of_population(found: Sequence[Outcome], who: str) -> list[Line]:
    """Return the lines of refractions by the textbook."""
    distances = [one.distance_d for one in found]
    m, j0, j45 = zip(*(one.error for one in found), strict=True)
    return [
        (f"{who}: distance, median", f"{statistics.median(distances):.2f} D", "≤ 0.16"),
        (f"{who}: distance, 90 %", f"{upto(distances, 0.9):.2f} D", "≤ 0.35"),
        (f"{who}: M within 0.50", share([abs(one) <= 0.5 for one in m]), "≥ 95 %"),
        (
            f"{who}: M, J0, J45, mean ± SD",
            ", ".join(
                f"{statistics.mean(p):+.2f} ± {statistics.stdev(p):.2f}" for p in (m, j0, j45)
            ),
            "–",
        ),
        (f"{who}: distance on the review, median", f"{median(found, marked):.2f} D", "–"),
        (f"{who}: questions, median", f"{median(found, questions):.0f}", "–"),
        (f"{who}: patient's time, median", f"{median(found, minutes):.0f} min", "–"),
        (f"{who}: processor time, median", f"{median(found, cpu):.1f} s", "≤ 6 s"),
    ]


def of_acuity(found: Sequence[Outcome], who: str) -> list[Line]:
    """Return the line of a group of one acuity."""
    distances = [one.distance_d for one in found]
    middle, most = statistics.median(distances), upto(distances, 0.9)
    wide = share([abs(one.error[0]) <= 0.5 for one in found])
    return [(f"{who}: distance", f"{middle:.2f} D, 90 % {most:.2f}; M within 0.50 in {wide}", "–")]


def of_repeats(found: Sequence[Outcome]) -> list[Line]:
    """Return the spread of the same eyes refracted again and again."""
    by_eye: dict[str, list[Outcome]] = {}
    for one in found:
        by_eye.setdefault(one.drawn.name, []).append(one)
    parts = [
        statistics.fmean(
            statistics.variance([one.error[part] for one in again]) for again in by_eye.values()
        )
        for part in range(3)
    ]
    m, j = parts[0] ** 0.5, ((parts[1] + parts[2]) / 2) ** 0.5
    who = f"{len(by_eye)} eyes, {len(found) // len(by_eye)} times each"
    return [
        (f"{who}: SD of M", f"{m:.2f} D", "0.10–0.16"),
        (f"{who}: SD of J", f"{j:.2f} D", "0.03–0.08"),
    ]


ACCEPTED = {"textbook": "≤ 2 %", "better": "≥ 60 %", "same": "≥ 80 %"}


def of_habits(found: Sequence[Outcome]) -> list[Line]:
    """Return what each habit costs on the same eyes; acuity beside the textbook's."""
    lines = []
    letters = {one.drawn.name: one.done.letters for one in found if one.habit == "textbook"}
    for habit in dict.fromkeys(one.habit for one in found):
        of_it = [one for one in found if one.habit == habit]
        over = [-one.error[0] for one in of_it]
        lost = [0.02 * (letters[one.drawn.name] - one.done.letters) for one in of_it]
        middle, least, most = statistics.median(over), upto(over, 0.1), upto(over, 0.9)
        measured = (
            f"{share([one >= OVER_MINUS_D for one in over])}; median {middle:+.2f}"
            f" (10–90 % {least:+.2f} to {most:+.2f}) D; acuity {statistics.median(lost):+.2f}"
            " logMAR beside the textbook's"
        )
        what = f"young myopes, {habit}: over-minus ≥ 0.50"
        lines.append((what, measured, ACCEPTED.get(habit, "–")))
    return lines


def of_shipped(found: Sequence[Shipped]) -> list[Line]:
    """Return a line for each case, and one for all that are to be refracted."""
    lines = [
        (
            f"{one.case.stem}, level {one.case.level}",
            f"{one.done.beside}: {one.distance_d:.2f} D",
            "– (stop)" if one.stopping else f"{one.share:.2f} of accuracy, ≥ 0.57",
        )
        for one in found
    ]
    refracted = [one.passed for one in found if not one.stopping]
    return [*lines, ("cases to be refracted: accurate enough", share(refracted), "all")]


def median(found: Sequence[Outcome], of: Callable[[Outcome], float]) -> float:
    """Return the median of something of each."""
    return statistics.median(of(one) for one in found)


def marked(one: Outcome) -> float:
    """Return the distance on the review page."""
    return one.done.marked_d


def questions(one: Outcome) -> float:
    """Return how many questions were asked."""
    return one.done.questions


def minutes(one: Outcome) -> float:
    """Return the patient's time."""
    return one.done.patient_s / 60


def cpu(one: Outcome) -> float:
    """Return the processor's seconds."""
    return one.done.cpu_s
