"""The table of nominal eyes: kept, refused, filled by the optics, made once."""

import numpy as np
import pytest

from optics.errors import EyeError
from optics.evidence import nominal
from optics.evidence.nominal import CLEAR, NominalEyes, nominal_age_y
from server.attempts.nominal import NominalKeeper
from server.keeper import Progress
from tests.supposed_eyes import plain_eyes


def test_a_kept_table_is_read_back_and_another_refused():
    eyes = plain_eyes()
    kept = eyes.as_bytes()
    assert np.array_equal(NominalEyes.from_bytes(60.0, kept).values, eyes.values)
    with pytest.raises(EyeError, match="bytes"):
        NominalEyes.from_bytes(60.0, kept[:-4])
    with pytest.raises(EyeError, match="finite"):
        NominalEyes.from_bytes(60.0, np.float32(np.nan).tobytes() + kept[4:])
    assert len(kept) < 50e6


def test_the_nearest_age_serves():
    assert [nominal_age_y(age) for age in (10, 29, 31, 52, 95)] == [20, 20, 40, 60, 80]


@pytest.fixture
def few_nodes(monkeypatch):
    """Make the table's axes short, so that it is computed in a moment."""
    monkeypatch.setattr(nominal, "M_D", np.array([-0.5, 0.0, 0.5]))
    monkeypatch.setattr(nominal, "J_D", np.array([0.0, 0.5]))


def test_the_true_optics_fill_the_table(few_nodes):
    steps: list[int] = []
    values = nominal.nominal_eyes(40.0, steps.append).values
    assert steps == list(range(1, 6 * 6 + 1))
    ordinary = values[:3]
    # laid on their own end points: nothing nearby is clearer, poor nerves read worse
    assert (ordinary[:, 1, 0, CLEAR + 3] > ordinary[:, [0, 2], 0, CLEAR + 3].max(axis=1)).all()
    assert (ordinary[:, 1, 0, CLEAR + 3] > ordinary[:, 1, 1, CLEAR + 3]).all()
    acuity = values[:, 1, 0, nominal.ACUITY]
    assert acuity[4] > acuity[3] > acuity[:3].max()
    # fogged, red is the sharper; behind the retina green (trade, common practice)
    assert (ordinary[:, 2, 0, nominal.COLOUR + 6] > 0.0).all()
    assert (ordinary[:, 0, 0, nominal.COLOUR + 6] < 0.0).all()
    # M = J0 = 0.5: in focus up and down, a point is drawn out across, and lines across stay
    # black; M = -0.5 leaves the blur up and down, and upright lines black
    assert (ordinary[:, 2, 1, nominal.PULL] > 0.0).all()
    assert (ordinary[:, 0, 1, nominal.PULL] < 0.0).all()


def test_the_keeper_says_how_far_it_is_and_keeps_the_table(tmp_path, monkeypatch):
    made = []

    def quick(age_y, each):
        made.append(age_y)
        each(7)
        return plain_eyes()

    monkeypatch.setattr("server.attempts.nominal.nominal_eyes", quick)
    keeper = NominalKeeper(tmp_path)
    assert keeper.ask(45.0, begin=False) == Progress(done=0, total=nominal.STEPS)
    keeper.ask(45.0, begin=True)
    for _ in range(500):
        if not isinstance(keeper.ask(45.0, begin=False), Progress):
            break
        keeper._of_age[40.0]._thread and keeper._of_age[40.0]._thread.join(0.01)
    found = keeper.ask(45.0, begin=False)
    assert not isinstance(found, Progress)
    again = NominalKeeper(tmp_path).ask(38.0, begin=True)
    assert not isinstance(again, Progress)
    assert np.array_equal(again.columns, found.columns)
    assert made == [40.0]
    keeper.close()
