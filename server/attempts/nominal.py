"""The tables of nominal eyes, one for an age, each computed at the first request and kept."""

from pathlib import Path

from optics import ENGINE_VERSION
from optics.evidence.lookup import Supposed, supposed
from optics.evidence.nominal import AGES_Y, STEPS, NominalEyes, nominal_age_y, nominal_eyes
from optics.eye.accommodation import objective_amplitude_d
from server.keeper import Keeper, Pause, Progress, Told


class _OfAge(Keeper[NominalEyes]):
    def __init__(self, folder: Path, age_y: float) -> None:
        file = folder / f"nominal-{age_y:g}-{ENGINE_VERSION}.f4"
        super().__init__(file, total=STEPS, name="nominal")
        self._age_y = age_y

    def compute(self, pause: Pause, told: Told) -> NominalEyes:
        def each(done: int) -> None:
            pause()
            told(done)

        return nominal_eyes(self._age_y, each)

    def as_bytes(self, kept: NominalEyes) -> bytes:
        return kept.as_bytes()

    def from_bytes(self, raw: bytes) -> NominalEyes:
        return NominalEyes.from_bytes(self._age_y, raw)


class NominalKeeper:
    """Keeps the nominal eyes of every age; nothing of any case is in them."""

    def __init__(self, folder: Path) -> None:
        self._of_age = {age_y: _OfAge(folder, age_y) for age_y in AGES_Y}

    def ask(self, age_y: float, *, begin: bool) -> Supposed | Progress:
        """Return the eyes to suppose of a person of an age, or how far the work is."""
        kept = self._of_age[nominal_age_y(age_y)].ask(begin=begin)
        if isinstance(kept, Progress):
            return kept
        return supposed(kept, objective_amplitude_d(age_y))

    def close(self) -> None:
        """End all work."""
        for keeper in self._of_age.values():
            keeper.close()
