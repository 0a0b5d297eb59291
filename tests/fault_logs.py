"""Logs that show each fault and logs that nearly do.

A log is a careful refraction (`tests/script.py`) of which the right eye has a stage changed.
The rules of the faults are common practice, no source.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

from server.attempts import acts
from tests.script import (
    Script,
    Stage,
    cross,
    cylinder,
    decides,
    gives,
    laid_away,
    need,
    pinhole,
    sphere,
    unaided,
    writes,
)

ASTIGMAT = {"right": "-1.00/-1.00x180", "left": "-2.00"}
HYPEROPE = {"right": "+1.50", "left": "+1.50"}
Act = Callable[[Script], object]
NONE_NEEDED = '\n[answer]\nprescribe = "no"\nrefer = "{refer}"\nbecause = "So it is."\n'


@dataclass(frozen=True)
class Log:
    """A careful refraction of a case with stages of the right eye changed."""

    name: str
    stages: dict[str, Stage | None] = field(default_factory=dict)
    case: dict[str, object] = field(default_factory=lambda: ASTIGMAT)
    number: int = 0  # of pieces of evidence, where that is the point
    size: float | None = None  # of the worst, where it follows from the lenses by hand


def after(*several: Stage) -> Stage:
    """Return one stage of several."""

    def stage(s: Script, side: str) -> None:
        for one in several:
            one(s, side)

    return stage


def fitted(right: float, left: float) -> Stage:
    return lambda s, _: s.does(acts.fit(pd_right_mm=right, pd_left_mm=left))


def written(**fields: str) -> Stage:
    return after(writes, lambda s, _: s.writes(**fields))


def left_open(stage: Stage) -> Stage:
    """Return a stage with the left eye uncovered."""

    def opened(s: Script, side: str) -> None:
        s.takes("L.4")
        stage(s, side)
        s.covers("L")

    return opened


def dim(s: Script, _: str = "") -> Script:
    return s.does(acts.change_wall(view="duochrome", lit=False))


def lit(s: Script) -> Script:
    return s.does(acts.change_wall(lit=True))


def chart(s: Script, _: str = "") -> Script:
    return s.does(acts.change_wall(view="chart", lit=True))


def ended(*several: Act, plainly: bool = True) -> Stage:
    """Return an end with something more in it; `plainly` after the usual pair."""

    def stage(s: Script, side: str) -> None:
        laid_away(s)
        if plainly:
            s.pairs(side, 0.25, "same").reads(0.0)
        for one in several:
            one(s)
        if s.state.wall.view == "chart":
            s.reads(0.0)

    return stage


# ---- stages of the right eye


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


def added(s: Script, side: str) -> None:
    """Fog by a second plus lens beside the first."""
    s.puts(f"{side}.1", +1.00).reads(0.1).puts(f"{side}.2", +1.50).reads(0.5)
    s.takes(f"{side}.1").puts(f"{side}.1", +1.50).takes(f"{side}.2").reads(0.1)


def turned(*turns: tuple[str, float], size: float = -0.50) -> Stage:
    """Return a search for the axis: (answer, axis turned to after it) each."""

    def stage(s: Script, side: str) -> None:
        gives(s, side, size, 180)
        for answer, axis in turns:
            s.crosses(side, 0.25, "axis", answer)
            s.turns(f"{side}.3", axis)
        s.crosses(side, 0.25, "axis", "same").crosses(side, 0.25, "power", "second")
        gives(s, side, -1.00, 180)
        s.crosses(side, 0.25, "axis", "same").crosses(side, 0.25, "power", "same")

    return stage


def uncompensated(*powers: float) -> Stage:
    def stage(s: Script, side: str) -> None:
        for power in powers:
            gives(s, side, power, 180, with_sphere=False)
            s.crosses(side, 0.25, "axis", "same").crosses(side, 0.25, "power", "second")
        s.crosses(side, 0.25, "power", "same").steps_to("R.1", -1.00)

    return stage


def compensated_late(s: Script, side: str) -> None:
    for power in (-0.50, -1.00):
        gives(s, side, power, 180, with_sphere=False)
        s.crosses(side, 0.25, "axis", "same")
        gives(s, side, power, 180)
        s.crosses(side, 0.25, "power", "same")


def over_plussed_first(s: Script, side: str) -> None:
    """Let the cylinder itself bring the mean sphere home."""
    s.steps_to("R.1", -1.25).asks("better", "worse")
    gives(s, side, -0.50, 180, with_sphere=False)
    s.crosses(side, 0.25, "axis", "same").crosses(side, 0.25, "power", "second")
    gives(s, side, -1.00, 180)
    s.crosses(side, 0.25, "power", "same")


def stopping(*answers: tuple[float, str, str], axis: float = 180) -> Stage:
    """Return a cylinder that ends with (power, aim, answer) each."""

    def stage(s: Script, side: str) -> None:
        for power, aim, answer in answers:
            gives(s, side, power, axis)
            s.crosses(side, 0.25, aim, answer)

    return stage


def fanned(s: Script, _: str = "") -> None:
    laid_away(s)
    s.does(acts.change_wall(view="fan")).asks("lines", "6")


def power_then_axis(s: Script, side: str) -> None:
    gives(s, side, -0.50, 180)
    s.crosses(side, 0.25, "power", "second").crosses(side, 0.25, "axis", "same")
    gives(s, side, -1.00, 180)
    s.crosses(side, 0.25, "power", "same")


def minus_at_the_end(*spheres: float, reads: float | None = 0.0) -> Stage:
    def stage(s: Script, side: str) -> None:
        laid_away(s)
        s.pairs(side, 0.25, "same").reads(0.0)
        for power in spheres:
            s.steps_to("R.1", power).asks("smaller", "smaller-darker")
            if reads is not None:
                s.reads(reads)

    return stage


def in_place(place: str, *powers: float) -> Stage:
    def stage(s: Script, side: str) -> None:
        for power in powers:
            s.puts(place, power).reads(0.3)
        s.takes(place)
        sphere(s, side)

    return stage


def stacked(*lenses: tuple) -> Stage:
    """Return an end through other lenses before the right eye: (place, power, axis) each."""

    def stage(s: Script, side: str) -> None:
        laid_away(s)
        for place, *_ in lenses:
            s.takes(place)
        for place, power, *axis in lenses:
            s.puts(place, power, *axis)
        s.pairs(side, 0.25, "same").reads(0.0).takes("R.4")

    return stage


def reverses(s: Script) -> None:
    s.crosses("R", 0.25, "power", "second")
    gives(s, "R", -1.50, 180)
    s.crosses("R", 0.25, "power", "first")
    laid_away(s)


# ---- small acts for an end


def tries(*spheres: float, manner: str = "offered", question: str = "better") -> list[Act]:
    """Return acts that step the right eye to spheres and ask about each."""
    return [
        lambda s, one=one: s.steps_to("R.1", one).asks(question, "same", manner) for one in spheres
    ]


def pairing(size: float, manner: str = "offered", times: int = 1) -> list[Act]:
    return [lambda s: s.pairs("R", size, "same", manner)] * times


def asking(question: str, code: str, times: int = 1) -> list[Act]:
    return [lambda s: s.asks(question, code)] * times


def stepping(power: float) -> list[Act]:
    return [lambda s: s.steps_to("R.1", power)]


def reading(acuity: float) -> list[Act]:
    return [lambda s: s.reads(acuity)]


def colours(answer: str, then: float) -> list[Act]:
    """Return acts that ask the two colours in the dim, step, ask again and go back."""
    follow = [*stepping(then), *asking("colour", "same"), *stepping(-1.00)]
    return [dim, *asking("colour", answer), *follow, chart]


def crossing(size: float, times: int = 2, answer: str = "second") -> Stage:
    def stage(s: Script, side: str) -> None:
        for aim in (45, 180, 45, 180)[:times]:
            s.crosses(side, size, aim, answer)

    return stage


def weakly(s: Script, side: str) -> None:
    """Hold ±0.25 before an eye that reads 6/24."""
    s.reads(0.6)
    cross(s, side)
    laid_away(s)
    s.reads(0.1)


def askew(handle_deg: float) -> Stage:
    return after(cylinder, lambda s, side: s.crosses(side, 0.25, handle_deg, "same"))


def also(times: int, aim: str = "power") -> Stage:
    """Return the careful cylinder with its last comparison asked again."""
    return after(cylinder, *again(times, aim))


def again(times: int, aim: str) -> list[Stage]:
    return [lambda s, side: s.crosses(side, 0.25, aim, "same")] * times


def placed_early(s: Script, _: str) -> None:
    s.puts("R.3", -0.50, 180).takes("R.3").steps_to("R.1", -1.50).reads(0.1)


def begun_with(sphere_d: float, cylinder_d: float, fog: float) -> Stage:
    """Return a search for the sphere that begins with a given result, fogged first or not."""

    def stage(s: Script, side: str) -> None:
        s.puts("R.3", cylinder_d, 180).steps_to("R.1", sphere_d).reads(0.3)
        best = need(s, side).spherical_equivalent_d - cylinder_d / 2.0
        for more in (fog, 0.0):
            s.steps_to("R.1", best + more).reads(0.1)

    return stage


def fan_early(s: Script, _: str) -> None:
    fanned(s)
    s.puts("R.3", -0.50, 180).takes("R.3").steps_to("R.1", -1.50)
    chart(s).reads(0.1)


def both_new(s: Script) -> None:
    s.puts("R.3", -0.50, 180).steps_to("R.1", -1.50).asks("better", "worse")
    s.puts("R.3", -1.00, 180).steps_to("R.1", -1.00).pairs("R", 0.25, "same")


def axis_and_sphere(s: Script) -> None:
    s.turns("R.3", 20).steps_to("R.1", -0.75).asks("more", "fewer")
    s.turns("R.3", 180).steps_to("R.1", -1.00)


def exchanged_evenly(s: Script) -> None:
    s.puts("R.3", -0.50, 180).steps_to("R.1", -1.25).asks("better", "worse")
    s.puts("R.3", -1.00, 180).steps_to("R.1", -1.00).pairs("R", 0.25, "same")


def cylinder_alone(s: Script) -> None:
    s.puts("R.3", -0.75, 180).asks("better", "worse").puts("R.3", -1.00, 180)
    s.pairs("R", 0.25, "same")


def both_at_the_end(s: Script, side: str) -> None:
    """Ask about more plus before both eyes, each of which has been examined alone."""
    s.takes("R.4").takes("L.4").puts("R.2", +0.25).puts("L.2", +0.25).asks("better", "worse")
    s.takes("R.2").takes("L.2")
    decides(s, side)


def small_steps(step: float, times: int, acuity: float = 0.7) -> Stage:
    """Return the pinhole with small steps after it, at a poor acuity."""

    def stage(s: Script, side: str) -> None:
        pinhole(s, side)
        s.reads(acuity).puts("R.1", -0.50).reads(acuity)
        for one in range(1, times + 1):
            s.steps_to("R.1", -0.50 - step * one).asks("better", "same")

    return stage


def judged(prescribe: str, refer: str) -> Stage:
    return lambda s, _: s.writes(prescribe=prescribe, refer=refer)


def writing(**fields: str) -> Stage:
    """Return the last entries with others written over the first."""
    return after(decides, lambda s, _: s.writes(**fields))


WALK = (-0.75, -0.50, -0.25, 0.00, -0.25, -0.50, -0.75, -1.00)
TOLD = ASTIGMAT | {"more": '\n[start]\nobjective_right = "-1.25/-0.50x180"\n'}
TOLD_PLUS = {"right": "+1.00/-1.00x180", "left": "-2.00"} | {
    "more": '\n[start]\nobjective_right = "+0.25/-0.50x180"\n'
}
SWAP = {"right_sphere": "-2.00", "right_cylinder": "", "left_sphere": "-1.00"}
AXIS_OFF = ((-1.00, "axis", "first"),)
WIDE = ASTIGMAT | {"pd": (34.0, 34.0)}
AS_WIDE_AS_THE_FRAME = ASTIGMAT | {"pd": (33.0, 32.0)}
STOP = {"more": NONE_NEEDED.format(refer="urgent")}
SAME_DAY = {"more": NONE_NEEDED.format(refer="same day")}
NO_LENS = {"more": NONE_NEEDED.format(refer="none")}

SHOWS: dict[str, tuple[Log, ...]] = {
    "frame-not-fitted": (
        Log("never", {"fits": None}, WIDE, number=1, size=2.0),
        Log("late", {"fits": None, "sphere": after(sphere, fitted(34, 34))}, WIDE, number=1),
    ),
    "pd-wrong": (
        Log("both", {"fits": fitted(34, 34)}, size=3.0),
        Log("one eye", {"fits": fitted(32.75, 32.5)}, size=1.75),
    ),
    "vertex-not-recorded": (
        Log("sphere", {"decides": writing(right_sphere="-4.25", vertex="")}),
        Log("meridian", {"decides": writing(right_sphere="-3.25", vertex="")}),
    ),
    "no-unaided-acuity": (
        Log("not asked", {"unaided": lambda s, _: s.covers("L")}, size=1.5),
        Log("together", {"unaided": lambda s, _: s.reads(0.2).covers("L"), "pinhole": None}),
    ),
    "other-eye-open": (
        Log("sphere", {"sphere": left_open(sphere)}, ASTIGMAT | {"left": "-0.50"}, 1, 0.5),
        Log("cross", {"cross": left_open(cross)}, ASTIGMAT | {"left": "plano"}, 2, 0.0),
    ),
    "pinhole-skipped": (
        Log("unaided", {"pinhole": None}, size=6.0),
        Log("at the end", {"ends": after(ended(), lambda s, _: s.reads(0.3))}, size=3.0),
    ),
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
    ),
    "cylinder-before-sphere": (
        Log("held", {"sphere": lambda s, _: s.reads(0.1)}, size=1.5),
        Log("placed", {"sphere": placed_early}),
    ),
    "power-before-axis": (
        Log("after pairs", {"cylinder": power_then_axis}, size=0.5),
        Log("at once", {"cross": None, "cylinder": power_then_axis}, size=0.5),
    ),
    "cross-size": (
        Log("strong", {"cross": crossing(1.00)}, number=2, size=1.0),
        Log("weak", {"cross": weakly}, number=2, size=0.25),
    ),
    "cross-askew": (
        Log("15 degrees", {"cylinder": askew(30)}, number=1, size=15.0),
        Log("10 degrees", {"cylinder": askew(125)}, number=1, size=10.0),
    ),
    "turned-away": (
        Log("clockwise", {"cylinder": turned(("first", 165), ("same", 180))}, number=1),
        Log("counter-clockwise", {"cylinder": turned(("second", 15), ("same", 180))}, number=1),
    ),
    "turn-size": (
        Log("fine", {"cylinder": turned(("first", 5), ("first", 10), ("same", 180))}, number=2),
        Log("coarse", {"cylinder": turned(("first", 45), ("second", 180))}, number=2, size=45.0),
    ),
    "stopped-early": (
        Log("power", {"cylinder": stopping((-0.50, "axis", "same"), (-0.50, "power", "second"))}),
        Log("axis", {"cylinder": stopping(*AXIS_OFF, axis=170)}, number=1),
    ),
    "sphere-not-compensated": (
        Log("by halves", {"cylinder": uncompensated(-0.50, -1.00)}, number=2, size=0.5),
        Log("at once", {"cylinder": uncompensated(-1.00)}, number=1, size=0.5),
    ),
    "no-return-to-sphere": (
        Log("read only", {"ends": ended(plainly=False)}, size=0.0),
        Log("asked else", {"ends": ended(*asking("doubled", "single"), plainly=False)}),
    ),
    "two-at-once": (
        Log("cylinder and sphere", {"ends": ended(both_new)}, number=1, size=0.25),
        Log("axis and sphere", {"ends": ended(axis_and_sphere)}, number=1, size=0.25),
    ),
    "duochrome-misused": (
        Log("lit", {"ends": ended(dim, lit, *asking("colour", "same"), chart)}, number=1),
        Log(
            "both eyes", {"ends": left_open(ended(dim, *asking("colour", "same"), chart))}, number=1
        ),
    ),
    "duochrome-backwards": (
        Log("plus after red", {"ends": ended(*colours("red", -0.75))}, number=1, size=0.25),
        Log("minus after green", {"ends": ended(*colours("green", -1.25))}, number=1, size=0.25),
    ),
    "leading-question": (
        Log("once", {"ends": ended(*pairing(0.25, "leading"))}, number=1, size=0.5),
        Log("twice", {"ends": ended(*pairing(0.25, "leading", 2))}, number=2, size=0.5),
    ),
    "same-not-offered": (
        Log("mostly", {"ends": ended(*tries(*WALK * 2, manner="forced"))}, number=16),
        Log(
            "smaller",
            {"ends": ended(*tries(*WALK * 2, manner="forced", question="smaller"))},
            number=16,
        ),
    ),
    "asked-again": (
        Log("the cross", {"cylinder": also(3)}, number=1, size=4.0),
        Log(
            "a change",
            {"ends": ended(*stepping(-0.75), *asking("better", "same", 5), *stepping(-1.00))},
            number=1,
            size=5.0,
        ),
    ),
    "wrong-cell": (
        Log("cell 2", {"sphere": in_place("R.2", -5.00)}, number=1),
        Log("cell 4", {"sphere": in_place("R.4", +6.00)}, number=1),
    ),
    "stack": (
        Log(
            "three spheres",
            {"ends": stacked(("R.1", -0.25), ("R.2", -0.25), ("R.4", -0.50))},
            number=1,
        ),
        Log("two cylinders", {"ends": stacked(("R.3", -0.50, 180), ("R.2", -0.50, 180))}, number=1),
    ),
    "eyes-swapped": (
        Log("both", {"decides": writing(**SWAP, left_cylinder="-1.00", left_axis="180")}),
        Log(
            "nearly as found", {"decides": writing(**SWAP, left_cylinder="-0.75", left_axis="180")}
        ),
    ),
    "sign-lost": (
        Log("right", {"decides": writing(right_sphere="+1.00")}, size=2.0),
        Log("left", {"decides": writing(left_sphere="+2.00")}, size=4.0),
    ),
    "warning-missed": (
        Log("not at all", {"decides": judged("no", "none")}, ASTIGMAT | STOP),
        Log("too slowly", {"decides": judged("no", "urgent")}, ASTIGMAT | SAME_DAY),
    ),
    "prescribed-against": (
        Log("none needed", {}, ASTIGMAT | NO_LENS, size=2.0),
        Log("to be referred", {"decides": judged("yes", "urgent")}, ASTIGMAT | STOP, size=2.0),
    ),
}

NEARLY: dict[str, tuple[Log, ...]] = {
    "frame-not-fitted": (
        Log("it fits as it is", {"fits": None}, AS_WIDE_AS_THE_FRAME),
        Log("fitted by a millimetre", {"fits": fitted(33, 33)}, WIDE),
    ),
    "pd-wrong": (
        Log("a millimetre each", {"fits": fitted(32, 33.5)}),
        Log("a millimetre and a half", {"fits": fitted(32.5, 32)}),
    ),
    "vertex-not-recorded": (
        Log("4 D", {"decides": writing(right_sphere="-3.00", vertex="")}),
        Log("with its vertex", {"decides": writing(right_sphere="-4.25")}),
    ),
    "no-unaided-acuity": (
        Log("a finger count", {"unaided": lambda s, _: s.covers("L").asks("nearer", "fingers-1")}),
        Log("after the occluder", {"unaided": after(unaided, lambda s, _: s.reads(0.6))}),
    ),
    "other-eye-open": (
        Log("the other is fogged", {"sphere": left_open(sphere)}),
        Log("both at the end", {"decides": both_at_the_end}),
    ),
    "pinhole-skipped": (
        Log("6/9 unaided", {"unaided": lambda s, _: s.covers("L").reads(0.2), "pinhole": None}),
        Log(
            "at the end too", {"ends": after(ended(), lambda s, side: pinhole(s.reads(0.3), side))}
        ),
    ),
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
        Log("refused", {"ends": after(minus_at_the_end(-1.25), ended(*stepping(-1.00)))}),
    ),
    "step-size": (
        Log("coarse once", {"ends": ended(*pairing(0.50))}),
        Log("fine twice", {"pinhole": small_steps(0.25, 2)}),
        Log("half a step", {"pinhole": small_steps(0.50, 3)}),
    ),
    "plus-out-first": (
        Log("beside it first", {"sphere": added}, HYPEROPE),
        Log(
            "a myope",
            {"sphere": lambda s, side: sphere(s.puts("R.1", -1.0).puts("R.1", -0.5), side)},
        ),
    ),
    "cylinder-before-sphere": (
        Log("within half", {"sphere": lambda s, _: s.steps_to("R.1", -1.00).reads(0.3)}),
        Log("by the fan", {"sphere": fan_early}),
        Log("given", {"sphere": begun_with(-1.25, -0.50, 0.5), "cross": None}, TOLD),
    ),
    "power-before-axis": (
        Log(
            "the fan has told it",
            {
                "cross": lambda s, _: fanned(s),
                "cylinder": after(lambda s, _: chart(s), power_then_axis),
            },
        ),
        Log("axis first", {"cross": None}),
    ),
    "cross-size": (
        Log("once", {"cross": crossing(0.50, 1)}),
        Log("after no answer", {"cross": after(crossing(0.25, 1, "same"), crossing(0.50))}),
    ),
    "cross-askew": (
        Log("5 degrees", {"cylinder": askew(5)}),
        Log("45 degrees set by hand", {"cylinder": askew(135)}),
    ),
    "turned-away": (
        Log("towards and back", {"cylinder": turned(("first", 15), ("second", 180))}),
        Log("after the same", {"cylinder": turned(("same", 165), ("same", 180))}),
    ),
    "turn-size": (
        Log("fine once", {"cylinder": turned(("first", 5), ("second", 180))}),
        Log(
            "fine after a reversal",
            {"cylinder": turned(("first", 15), ("second", 10), ("second", 5), ("second", 180))},
        ),
    ),
    "stopped-early": (
        Log("reversed", {"cylinder": after(cylinder, lambda s, _: reverses(s))}),
        Log(
            "next to nothing left",
            {"cylinder": after(cylinder, lambda s, side: s.crosses(side, 0.25, "power", "second"))},
        ),
    ),
    "sphere-not-compensated": (
        Log("a question late", {"cylinder": compensated_late}),
        Log("over-plus before", {"cylinder": over_plussed_first}),
    ),
    "no-return-to-sphere": (
        Log("two colours", {"ends": ended(dim, *asking("colour", "same"), chart, plainly=False)}),
        Log("a quarter more plus", {"ends": ended(*tries(-0.75), *stepping(-1.00), plainly=False)}),
    ),
    "two-at-once": (
        Log("the mean kept", {"ends": ended(exchanged_evenly)}),
        Log("the cylinder alone", {"ends": ended(cylinder_alone)}),
    ),
    "duochrome-misused": (
        Log("dim and alone", {"ends": ended(dim, *asking("colour", "same"), chart)}),
        Log("at 6/9", {"ends": ended(*reading(0.2), dim, *asking("colour", "green"), chart)}),
    ),
    "duochrome-backwards": (
        Log("minus after red", {"ends": ended(*colours("red", -1.25))}),
        Log("plus after green", {"ends": ended(*colours("green", -0.75))}),
    ),
    "leading-question": (
        Log("forced", {"ends": ended(*pairing(0.25, "forced"))}),
        Log("even", {"ends": ended(*pairing(0.25, times=2))}),
    ),
    "same-not-offered": (
        Log("half", {"ends": ended(*tries(*WALK, *WALK[:4], manner="forced"), *tries(*WALK[4:]))}),
        Log("never", {"ends": ended(*tries(*WALK * 2))}),
    ),
    "asked-again": (
        Log("three times", {"cylinder": also(2)}),
        Log("another thing", {"cylinder": after(also(2), *again(2, "axis"))}),
    ),
    "wrong-cell": (
        Log("cell 1", {"sphere": in_place("R.1", -5.00)}),
        Log("4 D in cell 2", {"sphere": in_place("R.2", -4.00)}),
    ),
    "stack": (
        Log("two spheres", {"ends": stacked(("R.1", -0.50), ("R.2", -0.50))}),
        Log("a power the set lacks", {"ends": stacked(("R.1", -0.75), ("R.2", -0.12))}),
    ),
    "eyes-swapped": (
        Log("eyes alike", {"decides": decides}, {"right": "-1.50", "left": "-1.75"}),
        Log(
            "one written twice",
            {"decides": writing(left_sphere="-1.00", left_cylinder="-1.00", left_axis="180")},
        ),
    ),
    "sign-lost": (
        Log("another power", {"decides": writing(right_sphere="+0.25")}),
        Log(
            "transposed",
            {"decides": writing(right_sphere="-2.00", right_cylinder="+1.00", right_axis="90")},
        ),
    ),
    "warning-missed": (
        Log("as fast as needed", {"decides": judged("no", "urgent")}, ASTIGMAT | STOP),
        Log("faster", {"decides": judged("no", "same day")}, ASTIGMAT | STOP),
    ),
    "prescribed-against": (
        Log("not prescribed", {"decides": judged("no", "none")}, ASTIGMAT | NO_LENS),
        Log("not decided", {"decides": None}, ASTIGMAT | NO_LENS),
    ),
}
