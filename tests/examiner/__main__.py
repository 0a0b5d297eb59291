"""Refract drawn patients through the pages and print what was measured beside what is accepted."""

import argparse
import datetime as dt
import sys
from collections.abc import Iterable

from tests.examiner import table
from tests.examiner.habits import HABITS
from tests.examiner.shipped import shipped
from tests.examiner.survey import Outcome, Play, population, survey, young_myopes
from tests.examiner.table import Line

BEST_LOGMAR = {"6/9": 0.18, "6/12": 0.30, "6/18": 0.48, "6/36": 0.78}
PARTS = ("population", "acuity", "repeats", "habits", "cases")


def read_words() -> argparse.Namespace:
    """Return what the command line says."""
    words = argparse.ArgumentParser(prog="python -m tests.examiner", description=__doc__)
    words.add_argument(
        "--eyes", type=int, default=40, help="in the population; the rest by it, but cases"
    )
    words.add_argument("--seed", type=int, default=100, help="of the patients that are drawn")
    words.add_argument("--habit", choices=HABITS, nargs="+", default=list(HABITS))
    words.add_argument("--part", choices=PARTS, nargs="+", default=list(PARTS))
    words.add_argument("--jobs", type=int, default=1, help="processes at once")
    return words.parse_args()


def lines_of(part: str, said: argparse.Namespace) -> list[Line]:
    """Play one part of the table."""
    seed, eyes = said.seed, said.eyes

    def played(plays: Iterable[Play]) -> list[Outcome]:
        found = []
        for one in survey(plays, said.jobs):
            print(one, file=sys.stderr, flush=True)
            found.append(one)
        return found

    if part == "population":
        drawn = population(seed, eyes)
        return table.of_population(played(Play(one) for one in drawn), f"{eyes} eyes")
    if part == "acuity":
        lines = []
        for name, best in BEST_LOGMAR.items():
            drawn = population(seed + 1, max(2, eyes // 8), best)
            lines += table.of_acuity(played(Play(one) for one in drawn), f"best acuity {name}")
        return lines
    if part == "repeats":
        drawn = population(seed + 2, max(2, eyes // 20))
        return table.of_repeats(played(Play(one, times=max(2, eyes // 5)) for one in drawn))
    if part == "cases":
        return table.of_shipped(list(shipped()))
    habits = tuple(dict.fromkeys(["textbook", *said.habit]))
    drawn = young_myopes(seed + 3, max(2, eyes // 2))
    return table.of_habits(played(Play(one, habits) for one in drawn))


def main() -> None:
    """Play what is asked for and print the table."""
    said = read_words()
    print(f"{dt.datetime.now(dt.UTC):%Y-%m-%d}, seed {said.seed}")
    print("| | measured | accepted |\n| --- | --- | --- |")
    for part in said.part:
        for line in lines_of(part, said):
            print(f"| {' | '.join(line)} |", flush=True)


if __name__ == "__main__":
    main()
