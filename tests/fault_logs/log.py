"""One log: a careful refraction with stages of the right eye changed; stages that many change."""

from collections.abc import Callable
from dataclasses import dataclass, field

from server.attempts import acts
from tests.script import Script, Stage, decides, laid_away, need

ASTIGMAT = {"right": "-1.00/-1.00x180", "left": "-2.00"}
Act = Callable[[Script], object]


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


def left_open(stage: Stage) -> Stage:
    """Return a stage with the left eye uncovered."""

    def opened(s: Script, side: str) -> None:
        s.takes("L.4")
        stage(s, side)
        s.covers("L")

    return opened


def dim(s: Script, _: str = "") -> Script:
    return s.does(acts.change_wall(view="duochrome", lit=False))


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


def begun_with(sphere_d: float, cylinder_d: float, fog: float) -> Stage:
    """Return a search for the sphere that begins with a given result, fogged first or not."""

    def stage(s: Script, side: str) -> None:
        s.puts("R.3", cylinder_d, 180).steps_to("R.1", sphere_d).reads(0.3)
        best = need(s, side).spherical_equivalent_d - cylinder_d / 2.0
        for more in (fog, 0.0):
            s.steps_to("R.1", best + more).reads(0.1)

    return stage


def writing(**fields: str) -> Stage:
    """Return the last entries with others written over the first."""
    return after(decides, lambda s, _: s.writes(**fields))


Logs = dict[str, tuple[Log, ...]]  # of each fault, by its key
