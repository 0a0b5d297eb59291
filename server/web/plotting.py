"""A plot of acuities as places in a drawing: axes, curves, ranges and published points."""

import re
from collections.abc import Callable
from dataclasses import dataclass

from optics.units import metric_snellen
from optics.validation.curves import Best, Curve, Plot, Point
from server.web.contexts_evidence import PlotBest, PlotCurve, PlotPoint, PlotRow, PlotView, Tick
from server.web.notation import Notation

LEFT, RIGHT, TOP, BOTTOM = 58.0, 420.0, 14.0, 284.0  # of 480 by 340
BEST_LOGMAR, WORST_LOGMAR, TICK_LOGMAR = -0.3, 1.5, 0.3
SIGN = re.compile(r"(?<![\w)])-(?=\d)")
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


AXES = {
    "defocus": Axis(
        title="Sphere",
        says="A myopic sphere left uncorrected, 4 mm pupil. Every dioptre costs; the first costs"
        " little while the blur is smaller than the letters' strokes.",
        name="sphere left, D",
        unit="D",
        most=3.5,
        step=0.5,
    ),
    "pupil": Axis(
        title="Pupil",
        says="In focus a pupil of two to three millimetres is best: smaller ones diffract, larger"
        " ones let in the eye's own aberrations. Out of focus the smallest pupil wins.",
        name="pupil, mm",
        unit="mm",
        most=6.0,
        step=1.0,
    ),
    "pinhole": Axis(
        title="Pinhole",
        says="Uncorrected myopia seen through a hole. Too large a hole leaves the blur, too small"
        " a one diffracts; the more there is to correct, the smaller the best hole.",
        name="hole, mm",
        unit="mm",
        most=4.0,
        step=0.5,
    ),
    "cylinder": Axis(
        title="Cylinder",
        says="Mixed astigmatism, the circle of least confusion on the retina, 3.4 mm pupil.",
        name="cylinder left, DC",
        unit="DC",
        most=3.0,
        step=0.5,
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
        points_name=plot.points_name,
        best=tuple(_best(one, plot, x_of) for one in plot.best),
        best_words=tuple(_best_words(one, plot, axis.unit) for one in plot.best),
        heads=tuple(curve.name for curve in plot.curves),
        rows=_table(plot, axis, notation),
        sources=_sources(plot),
    )


def _sources(plot: Plot) -> tuple[str, ...]:
    """Return where what is published comes from, each once."""
    named = [one.source for one in plot.points] + [one.source for one in plot.best]
    return tuple(dict.fromkeys(true_minus(name) for name in named))


def _best_words(best: Best, plot: Plot, unit: str) -> str:
    """Return a range in words; one that begins where the curve does has no lower end."""
    curve = next(one for one in plot.curves if one.name == best.curve)
    least = "at most" if best.least <= curve.at[0] else f"{best.least:g} to"
    return f"{best.curve}: best at {least} {best.most:g} {unit}".replace("at at", "at")


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
        limit=point.limit,
    )


def _best(best: Best, plot: Plot, x_of: Callable[[float], float]) -> PlotBest:
    """Return the bar of a range, a little above the curve that it is about."""
    curve = next(one for one in plot.curves if one.name == best.curve)
    highest = min(
        mean
        for at, mean in zip(curve.at, curve.mean_logmar, strict=True)
        if best.least <= at <= best.most
    )
    return PlotBest(
        left=_text(x_of(best.least)), right=_text(x_of(best.most)), y=_text(y_of(highest) - 10.0)
    )


def _table(plot: Plot, axis: Axis, notation: Notation) -> tuple[PlotRow, ...]:
    """Return the plot as a table: every place that a curve or a published point has."""
    places = sorted({at for curve in plot.curves for at in curve.at} | {p.at for p in plot.points})
    return tuple(
        PlotRow(
            at=f"{at:.2f} {axis.unit}",
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
    if point.limit:
        return f"{_both(point.most_logmar, notation)} or better"
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


def true_minus(text: str) -> str:
    """Return words with true minus signs before figures."""
    return SIGN.sub("−", text)


def _line(places: list[tuple[float, float]]) -> str:
    return " ".join(f"{_text(x)},{_text(y)}" for x, y in places)


def _text(length: float) -> str:
    return f"{length:.1f}"
