"""Attempts written as scripts: acts checked as the room checks them, replies as the test says.

`careful` plays a refraction of both eyes without a fault; a test changes one of its stages.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from optics.light.frame import Place
from optics.light.lens import EyeSide
from optics.light.notation import power_text
from optics.light.power import SpheroCylinder
from server.attempts import acts, acts_hand
from server.attempts.acts import Act, guarded
from server.attempts.cards import checked_field
from server.attempts.chance import fresh_letters
from server.attempts.readings import rows_from
from server.attempts.state import State, WallState, folded, shown_lines, state_of
from server.casebook import Case, read_case
from server.marking.faults import Fault, found
from server.marking.mark import Mark, marked
from server.marking.rubric import Rubric
from server.marking.steps import steps_of
from server.marking.truth import Truth
from server.store.log import Event
from tests.student import case_text

SEED = b"s" * 16
NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
OTHER = {"R": "L", "L": "R"}
NAMES = {"R": "right", "L": "left"}


def case_of(folder: Path, text: str = "", more: str = "", **changes: object) -> Case:
    """Return a case of a text, `more` tables added to it."""
    path = folder / "one.toml"
    path.write_text((text or case_text(**changes)) + more)
    case = read_case(path)
    assert isinstance(case, Case), case
    return case


def truths_of(case: Case, right: float = -0.1, left: float = -0.1) -> dict[EyeSide, Truth]:
    """Return the needs of a case as end points, with acuities of our own."""
    return {
        side: Truth(vergence=case.eyes.eye(side).required_vergence, acuity_logmar=acuity)
        for side, acuity in ((EyeSide.RIGHT, right), (EyeSide.LEFT, left))
    }


def at(place: str) -> tuple[EyeSide, Place]:
    side, _, cell = place.partition(".")
    return EyeSide(side), Place(cell)


@dataclass
class Script:
    """A log that grows act by act."""

    case: Case
    events: list[Event] = field(default_factory=list)
    state: State = field(default_factory=State)

    def __post_init__(self) -> None:
        letters = fresh_letters(SEED, 1, shown_lines(WallState()), 5)
        self._adds("begin", {"mode": "practice", "letters": letters, "guided": False})

    def _adds(self, kind: str, body: dict) -> "Script":
        number = len(self.events) + 1
        event = Event(
            number=number,
            client_key=f"key-{number}",
            tab_id="tab",
            at=NOON + timedelta(seconds=number),
            kind=kind,
            body=body,
            engine_version="1",
        )
        self.events.append(event)
        self.state = folded(self.state, event)
        return self

    def does(self, *several: Act) -> "Script":
        for act in several:
            done = guarded(act)(self.state, SEED)
            self._adds(done.kind, dict(done.body))
        return self

    @property
    def last(self) -> int:
        """The number of the last event."""
        return len(self.events)

    def puts(self, place: str, power: float, axis: float | None = None) -> "Script":
        """Put in a sphere, or with an axis a cylinder; what stands there is taken out first."""
        self.takes(place)
        if power == 0.0:
            return self
        kind = "sphere" if axis is None else "cylinder"
        return self.does(acts.place(at(place), f"{kind}{power:+.2f}", axis))

    def exchanges(self, place: str, power: float) -> "Script":
        """Put in a sphere in exchange for what stands there."""
        self.does(acts.place(at(place), f"sphere{power:+.2f}"))
        assert self.events[-1].kind == "exchange"
        return self

    def steps_to(self, place: str, power: float) -> "Script":
        """Step to a power."""
        for _ in range(60):
            placed = self.state.frame.at(*at(place))
            now = placed.lens.power_d if placed else 0.0
            if abs(now - power) < 1e-6:
                return self
            self.does(acts.step(at(place), upwards=power > now))
        raise AssertionError(f"no step leads to {power}")

    def takes(self, place: str) -> "Script":
        return self.does(acts.take(at(place))) if self.state.frame.at(*at(place)) else self

    def disc(self, place: str, code: str) -> "Script":
        return self.does(acts.place(at(place), code))

    def turns(self, place: str, to_deg: float) -> "Script":
        return self.does(acts.turn(at(place), to_deg=to_deg))

    def undoes(self) -> "Script":
        """Take back the last change."""
        self.events.append(replace(self.events[-1], number=self.last + 1, kind="undo", body={}))
        self.state = state_of(self.events)
        return self

    def covers(self, side: str) -> "Script":
        return self.disc(f"{side}.4", "occluder")

    def asks(self, question: str, code: str = "", manner: str = "offered") -> "Script":
        body = {"question": question, "asked": f"{question}?", "reply": f"{code}.", "code": code}
        return self._adds("ask", body | {"manner": manner, "why": "", "rows": []})

    def reads(self, acuity: float, start: float | None = None) -> "Script":
        """Let the chart be read to an acuity, letter by letter, from the top or a line down."""
        hung = rows_from(self.state.wall, start)
        letters = round(((1.0 if start is None else start) + 0.1 - acuity) / 0.02)
        rows = []
        for row in hung:
            right = min(letters, len(row.letters))
            letters -= right
            said = row.letters[:right] + "?" * (len(row.letters) - right)
            rows.append([row.size_logmar, row.letters, said, right > 0])
            if right < len(row.letters):
                break
        body = {"question": "read-down", "asked": "Read.", "reply": "…", "rows": rows}
        if start is not None:
            body["start"] = start
        return self._adds("ask", body)

    def crosses(
        self, side: str, size: float, aim: str | float, code: str, manner: str = "offered"
    ) -> "Script":
        """Show both faces of a cross cylinder and ask which is clearer."""
        hand = self.state.hand
        if hand is None or (hand.side.value, hand.power_d, hand.tool) != (side, size, "cross"):
            self.does(acts_hand.hold(EyeSide(side), "cross", size))
        if isinstance(aim, str):
            self.does(acts_hand.aim(how=aim))
        else:
            self.does(acts_hand.aim(to_deg=aim))
        return self.does(acts_hand.show(1), acts_hand.show(2)).asks("which", code, manner)

    def pairs(self, side: str, size: float, code: str, manner: str = "offered") -> "Script":
        """Show plus and minus one after the other and ask which is clearer."""
        self.does(acts_hand.hold(EyeSide(side), "pair", size))
        self.does(acts_hand.show(1), acts_hand.show(2))
        return self.asks("which", code, manner).does(acts_hand.away())

    def writes(self, **fields: str) -> "Script":
        checked = {name: checked_field(name, text) for name, text in fields.items()}
        return self.does(acts.record(checked))

    # ---- what it comes to

    def faults(self, **acuities: float) -> dict[str, Fault]:
        """Return the faults found, by key."""
        truths = truths_of(self.case, **acuities)
        steps = steps_of(self.case, self.events, truths)
        found_ = found(steps, self.case, self.state.record, truths)
        return {fault.key: fault for fault in found_}

    def mark(self, rubric: Rubric | None = None, **acuities: float) -> Mark:
        """Return the mark, by the case's rubric if no other is given."""
        return marked(self.case, self.events, truths_of(self.case, **acuities), rubric)


# ---- a careful refraction of whatever the case needs, in steps of 0.50 D of cylinder

Stage = Callable[[Script, str], object]


def need(s: Script, side: str) -> SpheroCylinder:
    return s.case.needs[EyeSide(side)]


def fits(s: Script, _: str) -> None:
    right, left = s.case.pd_mm
    s.does(acts.fit(pd_right_mm=right, pd_left_mm=left))


def unaided(s: Script, side: str) -> None:
    s.covers(OTHER[side])
    s.reads(0.6)


def pinhole(s: Script, side: str) -> None:
    s.disc(f"{side}.4", "pinhole1.2").reads(0.1).takes(f"{side}.4")


def sphere(s: Script, side: str) -> None:
    """Find the mean sphere: fogged first, letters won step by step, one minus refused."""
    best, place = need(s, side).spherical_equivalent_d, f"{side}.1"
    for more, acuity in ((1.0, 0.5), (0.5, 0.3), (0.25, 0.2), (0.0, 0.1)):
        s.steps_to(place, best + more).reads(acuity)
    s.steps_to(place, best - 0.25).asks("better", "same").reads(0.1)
    s.steps_to(place, best)


def cross(s: Script, side: str) -> None:
    """Ask for a cylinder where there is none yet."""
    s.crosses(side, 0.25, 45, "second" if need(s, side).cylinder_d else "same")
    s.crosses(side, 0.25, 180, "same")


def cylinder(s: Script, side: str) -> None:
    """Give cylinder by halves of a dioptre, sphere with it, axis before power each time."""
    whole, axis = need(s, side).cylinder_d, need(s, side).axis_deg
    for halves in range(1, round(-whole / 0.5) + 1):
        gives(s, side, -0.5 * halves, axis)
        s.crosses(side, 0.25, "axis", "same")
        s.crosses(side, 0.25, "power", "same" if halves == round(-whole / 0.5) else "second")


def gives(s: Script, side: str, power: float, axis: float, *, with_sphere: bool = True) -> None:
    """Put in a cylinder and move the sphere with it."""
    s.puts(f"{side}.3", power, axis)
    if with_sphere:
        s.steps_to(f"{side}.1", need(s, side).spherical_equivalent_d - power / 2.0)


def ends(s: Script, side: str) -> None:
    laid_away(s)
    s.pairs(side, 0.25, "same").reads(0.0)


def laid_away(s: Script) -> None:
    if s.state.hand is not None:
        s.does(acts_hand.away())


def writes(s: Script, side: str) -> None:
    laid_away(s)
    eye, lens = NAMES[side], need(s, side)
    s.takes(f"{OTHER[side]}.4")
    fields = {"sphere": power_text(lens.sphere_d)}
    if lens.cylinder_d:
        fields |= {"cylinder": power_text(lens.cylinder_d), "axis": f"{lens.axis_deg:g}"}
    fields |= {"acuity": "6/6", "unaided": "6/24", "pd": f"{s.case.pd_mm[side == 'L']:g}"}
    s.writes(**{f"{eye}_{name}": text for name, text in fields.items()})


def decides(s: Script, _: str) -> None:
    s.writes(prescribe="yes", refer="none", vertex="12")


STAGES: dict[str, Stage] = {
    stage.__name__: stage for stage in (unaided, pinhole, sphere, cross, cylinder, ends, writes)
}


def careful(case: Case, **changes: Stage | None) -> Script:
    """Return a refraction of both eyes with stages of the right eye changed, or left out."""
    s = Script(case)
    outer = {"fits": fits, "decides": decides} | {
        name: stage for name, stage in changes.items() if name not in STAGES
    }
    right = STAGES | {name: stage for name, stage in changes.items() if name in STAGES}
    if outer["fits"]:
        outer["fits"](s, "R")
    for side, stages in (("R", right), ("L", STAGES)):
        for stage in stages.values():
            if stage is not None:
                stage(s, side)
    if outer["decides"]:
        outer["decides"](s, "L")
    return s.does(acts.finish())
