"""Measured beside accepted for what simulated patients answer; exit status 1 if a row fails.

Run with ``python -m tests.acceptance [--eyes N] [--first NUMBER]``.
"""

import argparse
import sys
import time
from collections.abc import Callable, Iterator, Sequence

from tests.acceptance.beyond import beyond
from tests.acceptance.check import Check
from tests.acceptance.colours import duochrome
from tests.acceptance.crosses import cross_cylinder
from tests.acceptance.eyes import FIRST, Tested, ordinary
from tests.acceptance.focusing import accommodation
from tests.acceptance.habits import habits
from tests.acceptance.lines import fan, slit_axis
from tests.acceptance.spheres import by_acuity, just_noticeable, plus_one

Subject = Callable[[Sequence[Tested]], Iterator[Check]]
SUBJECTS: tuple[Subject, ...] = (
    *(just_noticeable, by_acuity, cross_cylinder, fan, duochrome, slit_axis, plus_one),
    *(accommodation, beyond, habits),
)


def main() -> int:
    """Print the table, return the exit status."""
    parser = argparse.ArgumentParser(prog="python -m tests.acceptance")
    parser.add_argument("--eyes", type=int, default=100, help="how many eyes are drawn")
    parser.add_argument("--first", type=int, default=FIRST, help="the first person's number")
    parser.add_argument("--only", default="", help="subjects whose name holds this")
    given = parser.parse_args()
    if given.eyes < 1:
        parser.error(f"--eyes must be at least 1, got {given.eyes}")
    began = time.perf_counter()
    eyes = list(ordinary(given.eyes, given.first))
    failed = 0
    print(f"{'row':92} {'measured':>16} {'± sd':>6}  accepted", flush=True)
    for subject in SUBJECTS:
        if given.only not in subject.__name__:
            continue
        for check in subject(eyes):
            missed = check.judged and not check.holds()
            failed += missed
            said = f"{check.measured:.3g}{check.unit}"
            whose = " (ours)" if check.ours and check.judged else ""
            print(
                f"{check.name:92} {said:>16} {check.sampling_sd:6.2g}  {check.accepted}{whose}"
                f"{'  MISSED' if missed else ''}",
                flush=True,
            )
    print(f"{given.eyes} eyes, {failed} rows missed, {time.perf_counter() - began:.0f} s")
    return 1 if failed else 0


sys.exit(main())
