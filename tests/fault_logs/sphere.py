"""Logs of faults with the sphere: no fog, minus without letters, steps, plus taken out."""

from tests.fault_logs.log import Log, Logs, after, begun_with, ended, pairing, stepping
from tests.script import Script, Stage, laid_away, need, pinhole, sphere, writes

STRONG_HYPEROPE = {"right": "+3.50", "left": "+1.50"}
HYPEROPE = {"right": "+1.50", "left": "+1.50"}


def written(**fields: str) -> Stage:
    return after(writes, lambda s, _: s.writes(**fields))


def unfogged_from(fog: float) -> Stage:
    def stage(s: Script, side: str) -> None:
        best, place = need(s, side).spherical_equivalent_d, f"{side}.1"
        s.steps_to(place, best - 0.5).reads(0.1)
        s.steps_to(place, best + fog).reads(0.1)
        s.steps_to(place, best)

    return stage


def exchanged(s: Script, side: str) -> None:
    """Fog by taking a plus lens out and putting a stronger one in."""
    s.puts(f"{side}.1", +1.00).reads(0.1).puts(f"{side}.1", +2.50).reads(0.5)
    s.steps_to(f"{side}.1", +1.50).reads(0.1)


def in_one_act(s: Script, side: str) -> None:
    """Fog by a stronger plus lens in exchange for one."""
    s.puts(f"{side}.1", +1.00).reads(0.1).exchanges(f"{side}.1", +2.50).reads(0.5)
    s.steps_to(f"{side}.1", +1.50).reads(0.1)


def in_one_act_beside(s: Script, side: str) -> None:
    """Exchange plus for more with another plus standing by meanwhile."""
    s.puts(f"{side}.1", +1.00).reads(0.1).puts(f"{side}.2", +1.50).exchanges(f"{side}.1", +1.50)
    s.takes(f"{side}.2").reads(0.1)


def in_one_act_for_less(s: Script, side: str) -> None:
    """Take fog away by a weaker plus lens in exchange."""
    s.puts(f"{side}.1", +2.50).reads(0.5).exchanges(f"{side}.1", +1.50).reads(0.1)


def added(s: Script, side: str) -> None:
    """Fog by a second plus lens beside the first."""
    s.puts(f"{side}.1", +1.00).reads(0.1).puts(f"{side}.2", +1.50).reads(0.5)
    s.takes(f"{side}.1").puts(f"{side}.1", +1.50).takes(f"{side}.2").reads(0.1)


def relieved(s: Script, side: str) -> None:
    """Exchange plus for more with another plus standing by meanwhile."""
    s.puts(f"{side}.1", +1.00).reads(0.5).puts(f"{side}.2", +1.50).takes(f"{side}.1")
    s.puts(f"{side}.1", +1.50).takes(f"{side}.2").reads(0.4)


def tried_without(s: Script, side: str) -> None:
    """Ask without the plus lens, and put it back."""
    s.puts(f"{side}.1", +1.00).reads(0.3).takes(f"{side}.1").reads(0.4)
    s.puts(f"{side}.1", +1.00).reads(0.3)


def minus_at_the_end(
    *spheres: float, reads: float | None = 0.0, start: float | None = None
) -> Stage:
    def stage(s: Script, side: str) -> None:
        laid_away(s)
        s.pairs(side, 0.25, "same").reads(0.0)
        for power in spheres:
            s.steps_to("R.1", power).asks("smaller", "smaller-darker")
            if reads is not None:
                s.reads(reads, start)

    return stage


def small_steps(step: float, times: int, acuity: float = 0.7) -> Stage:
    """Return the pinhole with small steps after it, at a poor acuity."""

    def stage(s: Script, side: str) -> None:
        pinhole(s, side)
        s.reads(acuity).puts("R.1", -0.50).reads(acuity)
        for one in range(1, times + 1):
            s.steps_to("R.1", -0.50 - step * one).asks("better", "same")

    return stage


TOLD_PLUS = {"right": "+1.00/-1.00x180", "left": "-2.00"} | {
    "more": '\n[start]\nobjective_right = "+0.25/-0.50x180"\n'
}

SHOWS: Logs = {
    "no-fog": (
        Log("none", {"sphere": unfogged_from(0.0)}, HYPEROPE, size=0.0),
        Log("too little", {"sphere": unfogged_from(0.25)}, HYPEROPE, size=0.25),
        Log(
            "given, not fogged",
            {"sphere": begun_with(0.25, -0.50, 0.0), "cross": None},
            TOLD_PLUS,
            size=0.0,
        ),
    ),
    "minus-without-letters": (
        Log(
            "smaller",
            {"ends": minus_at_the_end(-1.25), "writes": written(right_sphere="-1.25")},
            number=1,
            size=0.25,
        ),
        Log(
            "twice, not read",
            {
                "ends": minus_at_the_end(-1.25, -1.50, reads=None),
                "writes": written(right_sphere="-1.50"),
            },
            number=2,
            size=0.5,
        ),
    ),
    "step-size": (
        Log("coarse", {"ends": ended(*pairing(0.50), *pairing(1.00))}, number=2),
        Log("fine", {"pinhole": small_steps(0.25, 3)}, number=3, size=1.0),
    ),
    "plus-out-first": (
        Log("stronger", {"sphere": exchanged}, HYPEROPE, 1, 1.5),
        Log("twice", {"sphere": after(exchanged, exchanged)}, HYPEROPE, 2, 1.5),
        Log("in one act", {"sphere": in_one_act}, HYPEROPE, 1, 1.5),
        Log("both ways", {"sphere": after(exchanged, in_one_act)}, HYPEROPE, 2, 1.5),
    ),
}

NEARLY: Logs = {
    "no-fog": (
        Log("just enough", {"sphere": unfogged_from(0.5)}, HYPEROPE),
        Log(
            "given, then fogged", {"sphere": begun_with(0.25, -0.50, 1.0), "cross": None}, TOLD_PLUS
        ),
        Log("nothing to relax", {"sphere": unfogged_from(0.0)}, HYPEROPE | {"age": 64}),
    ),
    "minus-without-letters": (
        Log(
            "a letter won",
            {
                "ends": minus_at_the_end(-1.25, reads=-0.02),
                "writes": written(right_sphere="-1.25"),
            },
        ),
        *(
            Log(
                f"a letter won below {start:.1f}",
                {
                    "ends": minus_at_the_end(-1.25, reads=-0.02, start=start),
                    "writes": written(right_sphere="-1.25"),
                },
            )
            for start in (0.0, -0.1)
        ),
        Log("refused", {"ends": after(minus_at_the_end(-1.25), ended(*stepping(-1.00)))}),
    ),
    "step-size": (
        Log("coarse once", {"ends": ended(*pairing(0.50))}),
        Log("fine twice", {"pinhole": small_steps(0.25, 2)}),
        Log("half a step", {"pinhole": small_steps(0.50, 3)}),
    ),
    "plus-out-first": (
        Log("beside it first", {"sphere": added}, HYPEROPE),
        Log("in before it, far from enough", {"sphere": after(relieved, sphere)}, STRONG_HYPEROPE),
        Log("in one act beside another", {"sphere": after(in_one_act_beside, sphere)}, HYPEROPE),
        Log("in one act for less", {"sphere": after(in_one_act_for_less, sphere)}, HYPEROPE),
        Log(
            "a myope, in one act",
            {"sphere": lambda s, side: sphere(s.puts("R.1", -1.0).exchanges("R.1", -0.5), side)},
        ),
        Log("tried without it", {"sphere": after(tried_without, sphere)}, HYPEROPE),
        Log(
            "a myope",
            {"sphere": lambda s, side: sphere(s.puts("R.1", -1.0).puts("R.1", -0.5), side)},
        ),
    ),
}
