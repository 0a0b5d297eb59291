"""What the eyes of a case see at a state of the bench; kept a while, since pages ask again."""

from functools import lru_cache
from threading import Lock

from optics.eye.eye import EyePair, ordinary_pair
from optics.light.frame import TrialFrame
from optics.sight.targets import Wall
from optics.sight.view import View, look
from server.attempts.seat import seated
from server.attempts.state import State
from server.casebook import Case

KEPT_VIEWS = 48
_LOCKS = tuple(Lock() for _ in range(64))


def view_of(case: Case, state: State) -> View:
    """Return the view at a state: letters do not change it, so they are left out."""
    wall = state.wall.wall
    bare = Wall(distance_m=wall.distance_m, luminance_cd_m2=wall.luminance_cd_m2)
    key = _Keyed(case.digest, case.eyes)
    frame = seated(state.frame, state.fit, case.pd_mm)
    # the picture and what the eye adds are asked for together: the second waits for the first
    with _LOCKS[hash((key, frame, bare)) % len(_LOCKS)]:
        return _view(key, frame, bare)


def warm_up() -> None:
    """Make what every view needs once, so that the first student does not wait for it."""
    eyes = ordinary_pair((-0.5, 0.25, 0.0), (-0.5, 0.25, 0.0), age_y=25.0)
    view = look(eyes, TrialFrame(), Wall())
    if view.right.reading is not None:
        view.right.reading.chance("C", 0.0)


class _Keyed:
    """The eyes of a case, equal when the case file is."""

    def __init__(self, digest: str, eyes: EyePair) -> None:
        self.digest = digest
        self.eyes = eyes

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Keyed) and other.digest == self.digest

    def __hash__(self) -> int:
        return hash(self.digest)


@lru_cache(maxsize=KEPT_VIEWS)
def _view(keyed: _Keyed, frame: TrialFrame, wall: Wall) -> View:
    return look(keyed.eyes, frame, wall)
