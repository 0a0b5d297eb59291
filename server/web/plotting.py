"""A plot of acuities as places in a drawing: axes, curves, ranges and published points."""

from collections.abc import Callable
from dataclasses import dataclass

from optics.units import metric_snellen
from optics.validation.curves import Curve, Plot, Point
from server.web.contexts_evidence import PlotCurve, PlotPoint, PlotRow, PlotView, Tick
from server.web.notation import Notation

LEFT, RIGHT, TOP, BOTTOM = 56.0, 424.0, 14.0, 284.0  # of 480 by 340
BEST_LOGMAR, WORST_LOGMAR, TICK_LOGMAR = -0.3, 1.5, 0.3
STYLES = ("one", "two", "three")


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """The horizontal axis of a plot and its words."""

    title: str
    says: str
    name: str
    unit: str
    most: float
    step: float
    digits: int


AXES = {
    "defocus": Axis(
        title="Sphere",
        says="A myopic sphere left uncorrected, 4 mm pupil. Every dioptre costs; the first costs"
        " little while the blur is smaller than the letters' strokes.",
        name="sphere left, D",
        unit="D",
        most=3.5,
        step=0.5,
        digits=2,
    ),
    "pupil": Axis(
        title="Pupil",
        says="In focus a pupil of two to three millimetres is best: smaller ones diffract, larger"
        " ones let in the eye's own aberrations. Out of focus the smallest pupil wins.",
        name="pupil, mm",
        unit="mm",
        most=6.0,
        step=1.0,
        digits=2,
    ),
    "pinhole": Axis(
        title="Pinhole",
        says="Uncorrected myopia seen through a hole. Too large a hole leaves the blur, too small"
        " a one diffracts; the more there is to correct, the smaller the best hole.",
        name="hole, mm",
        unit="mm",
        most=4.0,
        step=0.5,
        digits=2,
    ),
    "cylinder": Axis(
        title="Cylinder",
        says="Mixed astigmatism, the circle of least confusion on the retina, 3.4 mm pupil.",
        name="cylinder left, DC",
        unit="DC",
        most=3.0,
        step=0.5,
        digits=2,
    ),
}


def plot_view(plot: Plot, notation: Notation) -> PlotView:
    """Return a plot ready to be drawn, acuities in the person's notation."""
    axis = AXES[plot.key]
    x_of = _across(axis.most)
    right_name, in_words = _right_axis(notation)
    ticks = [round(BEST_LOGMAR + TICK_LOGMAR * k, 1) for k in range(7)]
    steps = [axis.step * k for k in range(round(axis.most / axis.step) + 1)]
    return PlotView(
        key=plot.key,
        title=axis.title,
        says=axis.says,
        x_name=axis.name,
        x_ticks=tuple(Tick(at=_text(x_of(at)), words=f"{at:g}") for at in steps),
        y_ticks=tuple(Tick(at=_text(y_of(one)), words=_logmar(one, 1)) for one in ticks),
        right_name=right_name,
        right_ticks=tuple(Tick(at=_text(y_of(one)), words=in_words(one)) for one in ticks),
        left=_text(LEFT),
        right=_text(RIGHT),
        top=_text(TOP),
        bottom=_text(BOTTOM),
        curves=tuple(
            _drawn(curve, style, x_of) for curve, style in zip(plot.curves, STYLES, strict=False)
        ),
        published_name=plot.published_name,
        published_line=_line([(x_of(at), y_of(logmar)) for at, logmar in plot.published]),
        points=tuple(_placed(point, x_of) for point in plot.points),
        heads=tuple(curve.name for curve in plot.curves),
        rows=_table(plot, axis, notation),
        sources=tuple(dict.fromkeys(point.source for point in plot.points)),
    )


def y_of(acuity_logmar: float) -> float:
    """Return the height of an acuity in the drawing: better acuity stands higher."""
    share = (acuity_logmar - BEST_LOGMAR) / (WORST_LOGMAR - BEST_LOGMAR)
    return TOP + min(max(share, 0.0), 1.0) * (BOTTOM - TOP)


def _across(most: float) -> Callable[[float], float]:
    return lambda at: LEFT + at / most * (RIGHT - LEFT)


def _right_axis(notation: Notation) -> tuple[str, Callable[[float], str]]:
    if notation.acuity == "logmar":
        return "6/x", metric_snellen
    names = {"6": "6/x", "20": "20/x", "decimal": "decimal"}
    return names[notation.acuity], notation.acuity_text


def _drawn(curve: Curve, style: str, x_of: Callable[[float], float]) -> PlotCurve:
    places = list(zip(curve.at, curve.mean_logmar, curve.spread_logmar, strict=True))
    upper = [(x_of(at), y_of(mean - spread)) for at, mean, spread in places]
    lower = [(x_of(at), y_of(mean + spread)) for at, mean, spread in reversed(places)]
    return PlotCurve(
        style=style,
        name=curve.name,
        line=_line([(x_of(at), y_of(mean)) for at, mean, _ in places]),
        spread=_line(upper + lower),
    )


def _placed(point: Point, x_of: Callable[[float], float]) -> PlotPoint:
    top, bottom = y_of(point.least_logmar), y_of(point.most_logmar)
    return PlotPoint(
        x=_text(x_of(point.at)),
        y=_text((top + bottom) / 2.0),
        top=_text(top),
        bottom=_text(bottom),
    )


def _table(plot: Plot, axis: Axis, notation: Notation) -> tuple[PlotRow, ...]:
    """Return the plot as a table: every place that a curve or a published point has."""
    places = sorted({at for curve in plot.curves for at in curve.at} | {p.at for p in plot.points})
    return tuple(
        PlotRow(
            at=f"{at:.{axis.digits}f} {axis.unit}",
            ours=tuple(_ours(curve, at, notation) for curve in plot.curves),
            published="; ".join(_published(p, notation) for p in plot.points if p.at == at) or "–",
        )
        for at in places
    )


def _ours(curve: Curve, at: float, notation: Notation) -> str:
    if at not in curve.at:
        return "–"
    place = curve.at.index(at)
    return _both(curve.mean_logmar[place], notation) + f" ± {curve.spread_logmar[place]:.2f}"


def _published(point: Point, notation: Notation) -> str:
    middle = (point.least_logmar + point.most_logmar) / 2.0
    tolerance = (point.most_logmar - point.least_logmar) / 2.0
    return f"{_both(middle, notation)} ± {tolerance:.2f}"


def _both(acuity_logmar: float, notation: Notation) -> str:
    """Return an acuity in logMAR and in the person's notation."""
    logmar = _logmar(acuity_logmar, 2)
    return (
        logmar
        if notation.acuity == "logmar"
        else (f"{notation.acuity_text(acuity_logmar)} ({logmar})")
    )


def _logmar(acuity_logmar: float, digits: int) -> str:
    rounded = round(acuity_logmar, digits) + 0.0
    return f"{'−' if rounded < 0 else ''}{abs(rounded):.{digits}f}"


def _line(places: list[tuple[float, float]]) -> str:
    return " ".join(f"{_text(x)},{_text(y)}" for x, y in places)


def _text(length: float) -> str:
    return f"{length:.1f}"
