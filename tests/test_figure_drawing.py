"""What the examiner sees of a figure on the wall: the drawing is the geometry, with its writing."""

import math
import re
from html.parser import HTMLParser

import pytest

from optics.sight.figures import Bar, Figure, FigureKind, strokes_of
from optics.sight.letters import RINGS
from server.web.contexts_wall import FigureDrawing
from server.web.present_figure import figure_drawing
from server.web.present_room import letter_symbols
from server.web.render import environment

FAN, BLOCK, DOTS, SPOTLIGHT = (Figure(kind=kind) for kind in FigureKind)
EVERY = (FAN, BLOCK, DOTS, SPOTLIGHT, Figure(kind=FigureKind.BLOCK, turned_deg=30.0))


def drawn(drawing: FigureDrawing) -> str:
    return str(environment().get_template("room/_figure.html").module.figure(drawing))


class Elements(HTMLParser):
    """Every element of a drawing with its attributes, in turn."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str]]] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))

    def of(self, tag: str) -> list[dict[str, str]]:
        return [attributes for name, attributes in self.found if name == tag]


@pytest.mark.parametrize("figure", EVERY)
@pytest.mark.parametrize("degrees", [False, True])
def test_everything_drawn_lies_in_the_view_and_has_a_name(figure, degrees):
    elements = Elements(drawn(figure_drawing(figure, degrees=degrees)))
    [svg] = elements.of("svg")
    assert svg["role"] == "img"
    assert len(svg["aria-label"]) > 20
    left, top, wide, tall = map(float, svg["viewbox"].split())
    assert len(elements.of("path") + elements.of("circle")) == len(strokes_of(figure))
    places = [(float(one["cx"]), float(one["cy"])) for one in elements.of("circle")]
    places += [(float(one["x"]), float(one["y"])) for one in elements.of("text")]
    for path in elements.of("path"):
        x1, y1, x2, y2 = map(float, re.findall(r"[-\d.e]+", path["d"]))
        places += [(x1, y1), (x2, y2)]
    rim = figure.stroke_arcmin / 2.0
    for x, y in places:
        assert left + rim <= x <= left + wide - rim
        assert top + rim <= y <= top + tall - rim


@pytest.mark.parametrize("figure", EVERY)
def test_the_bars_drawn_are_the_bars_seen(figure):
    bars = [one for one in strokes_of(figure) if isinstance(one, Bar)]
    for bar, line in zip(bars, figure_drawing(figure).bars, strict=True):
        x1, y1, x2, y2 = (float(part) for part in (line.x1, line.y1, line.x2, line.y2))
        assert (x1 + x2) / 2.0 == pytest.approx(bar.x_arcmin, abs=0.02)
        assert -(y1 + y2) / 2.0 == pytest.approx(bar.y_arcmin, abs=0.02)  # y runs down here
        assert math.hypot(x2 - x1, y2 - y1) == pytest.approx(bar.length_arcmin, abs=0.05)
        turn = math.degrees(math.atan2(y1 - y2, x2 - x1)) - bar.angle_deg
        assert abs(math.sin(math.radians(turn))) < 0.002
        assert float(line.width) == bar.width_arcmin


def test_the_hours_stand_round_the_fan_as_on_a_clock():
    labels = {one.words: (float(one.x), float(one.y)) for one in figure_drawing(FAN).labels}
    assert set(labels) == {str(hour) for hour in range(1, 13)}
    assert labels["12"][0] == labels["6"][0] == labels["3"][1] == labels["9"][1] == 0.0
    assert labels["12"][1] < 0.0 < labels["6"][1]
    assert labels["9"][0] < 0.0 < labels["3"][0]
    assert labels["1"][0] > 0.0
    assert labels["1"][1] < labels["2"][1] < 0.0


def test_the_degrees_are_thirty_times_the_lower_hour():
    # rule of 30 (common practice, no source)
    labels = {one.words: (float(one.x), float(one.y)) for one in figure_drawing(FAN).labels}
    with_degrees = figure_drawing(FAN, degrees=True).labels
    axes = {one.words: (float(one.x), float(one.y)) for one in with_degrees if "°" in one.words}
    assert len(axes) == 6
    for hour, axis in ((1, 30), (2, 60), (3, 90), (4, 120), (5, 150), (6, 180)):
        (x, y), (beside_x, beside_y) = axes[f"{axis}°"], labels[str(hour)]
        assert math.atan2(y, x) == pytest.approx(math.atan2(beside_y, beside_x), abs=0.01)
        assert math.hypot(x, y) > math.hypot(beside_x, beside_y)


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        ((3,), "called blackest: 3–9"),
        ((9,), "called blackest: 3–9"),
        ((12,), "called blackest: 6–12"),
        ((1.5, 2), "called blackest: 1:30–7:30 and 2–8"),
        ((6.5,), "called blackest: 12:30–6:30"),
    ],
)
def test_the_lines_called_blackest_are_marked_and_said(hours, said):
    drawing = figure_drawing(FAN, hours)
    assert drawing.label.endswith(said)
    marked = [place for place, bar in enumerate(drawing.bars) if bar.named]
    assert marked == sorted({int(2 * hour + more) % 24 for hour in hours for more in (0, 12)})
    assert not any(bar.named for bar in figure_drawing(FAN).bars)
    assert "blackest" not in figure_drawing(FAN).label
    # by weight too, not by colour alone
    assert drawn(drawing).count('font-weight="700"') == sum(one.named for one in drawing.labels)


@pytest.mark.parametrize(
    ("turned_deg", "first", "second"),
    [(180.0, "180", "90"), (30.0, "30", "120"), (90.0, "90", "180")],
)
def test_the_blocks_are_called_a_and_b_with_their_directions(turned_deg, first, second):
    drawing = figure_drawing(Figure(kind=FigureKind.BLOCK, turned_deg=turned_deg))
    left, right = drawing.labels
    assert (left.words, right.words) == (f"A {first}°", f"B {second}°")
    assert float(left.x) < 0.0 < float(right.x)
    lowest = max(float(end) for bar in drawing.bars for end in (bar.y1, bar.y2))
    assert float(left.y) > lowest
    assert f"A along {first}°" in drawing.label


def test_a_spotlight_is_light_on_dark_and_all_else_ink_on_paper():
    assert figure_drawing(SPOTLIGHT).shines
    assert not any(figure_drawing(figure).shines for figure in (FAN, BLOCK, DOTS))
    [wall], [light] = (
        Elements(drawn(figure_drawing(SPOTLIGHT))).of(tag) for tag in ("rect", "circle")
    )
    [paper], dots = (Elements(drawn(figure_drawing(DOTS))).of(tag) for tag in ("rect", "circle"))
    assert (wall["fill"], light["fill"]) == (dots[0]["fill"], paper["fill"])


def test_rings_have_symbols_beside_those_of_letters():
    symbols = dict(letter_symbols())
    assert set(RINGS) < symbols.keys()
    assert len({symbols[ring] for ring in RINGS}) == 8
    assert symbols["→"] == symbols["C"]
    # y runs down: the gap of the ring that points up is cut out above the middle
    gap, ink = symbols["↑"][-1]
    assert not ink
    assert all(0.0 <= float(y) <= 2.5 for y in re.findall(r"[ML][-\d.]+ ([-\d.]+)", gap))
