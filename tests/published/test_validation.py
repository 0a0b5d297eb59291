"""The validation table: its exact rows hold, and wrong models are found out by the rows named."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import j1

from optics.errors import EyeError, OpticsError
from optics.eye import chromatic, wavefront
from optics.eye.eye import ordinary_pair
from optics.eye.population import (
    AVERAGE_RIGHT_UM,
    DEVIATES,
    SPREAD_UM,
    average_aberrations,
    drawn_aberrations,
    higher_order_rms_um,
    mirrored_terms,
    standardised_sample,
)
from optics.eye.pupil import pupil_diameter_mm
from optics.light import beam
from optics.light.beam import beam_at_cornea
from optics.light.lens import EyeSide
from optics.sight import laying, neural, reader
from optics.sight.probit import normal_cdf
from optics.sight.reader import SIZES, Reading
from optics.validation import bands, bodies, lenses, sources, waves
from optics.validation import sample as sample_of_eyes
from optics.validation.row import Group, Row, Verdict, about, at_least, at_most, exact, within
from optics.validation.sample import (
    Sample,
    drawn_sample,
    mixed,
    psychometric_spread,
    simple_myopic,
)
from optics.validation.table import all_rows, run_table

ROWS = {row.condition: row for _, row in all_rows()}
EXACT = [name for name, row in ROWS.items() if row.group is Group.EXACT]
CHEAP = [
    *("in focus, 4 mm", "1.00 D of sphere, 4 mm", "2.00 D of sphere, 4 mm"),
    *(
        "3.00 DC mixed, 3.4 mm",
        "in focus, 1.0 mm less 3 mm",
        "half the light, the same image, 4 mm",
    ),
    *("psychometric spread in focus, 4 mm", "mean higher-order rms, 6 mm"),
]


@pytest.fixture(scope="module")
def sample() -> Sample:
    return drawn_sample()


@pytest.fixture
def few() -> Sample:
    """Return four eyes, for wrong models that no exactness is asked of."""
    return Sample(standardised_sample(4, 1))


@pytest.mark.parametrize("name", EXACT)
def test_an_exact_row_holds(name, sample):
    assert ROWS[name].checked(sample).verdict is Verdict.HOLDS


@pytest.mark.parametrize("name", CHEAP)
def test_some_of_the_others_hold(name, sample):
    assert ROWS[name].checked(sample).verdict is Verdict.HOLDS


def test_the_table_is_as_wide_as_it_says():
    assert len(ROWS) == len(all_rows()) >= 60
    assert len({row.source.name for row in ROWS.values()}) >= 20
    assert {row.group for row in ROWS.values()} == set(Group)
    assert all(row.catches and row.source.name for row in ROWS.values())
    assert any(row.source.from_memory for row in ROWS.values())


# ---- wrong models are found out


class BlurCircles:
    """A transfer of blur discs alone: no diffraction, light taken for rays."""

    def __init__(self, wave: wavefront.Wavefront) -> None:
        self.open_mm2 = math.pi * wave.pupil_mm**2 / 4.0
        self._disc_mrad = wave.pupil_mm * (
            2.0 * wave.path[2, 0] + chromatic.chromatic_defocus_d(waves.GREEN_NM)
        )

    def at(self, x_cpd: np.ndarray, y_cpd: np.ndarray) -> np.ndarray:
        turns = np.hypot(x_cpd, y_cpd) * abs(self._disc_mrad) * 1e-3 * 180.0 / math.pi
        turns = np.maximum(turns * math.pi, 1e-9)
        return (2.0 * j1(turns) / turns).astype(complex)


def base_e(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        wavefront.Wavefront,
        "amplitude_decay",
        property(lambda wave: wave.stiles_crawford_per_mm2 / 2.0),
    )


def covered_eye_ignored(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        bodies,
        "pupil_diameter_mm",
        lambda light, field, age, _: pupil_diameter_mm(light, field, age, 2),
    )


def age_ignored(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        bodies,
        "pupil_diameter_mm",
        lambda light, field, _, eyes: pupil_diameter_mm(light, field, 28.58, eyes),
    )


def zero_at_580(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        waves, "chromatic_refraction_d", lambda nm: chromatic.chromatic_refraction_d(nm) + 0.046
    )


def rays_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(waves, "transfer_function", lambda wave, **_: BlurCircles(wave))


def push_up_amplitude(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bodies, "objective_amplitude_d", lambda age: 18.5 - 0.3 * age)  # Hofstetter


def vertex_ignored(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lenses, "at_vertex", lambda lens, *_: lens)


def upright(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lenses, "tilted", lambda power, *_: power)


def centres_ignored(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        lenses,
        "beam_at_cornea",
        lambda frame, *rest: beam_at_cornea(replace(frame, centre_right_mm=(0.0, 0.0)), *rest),
    )


def pupil_at_the_cornea(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(beam, "ENTRANCE_PUPIL_M", 0.0)


def glare_without_age(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bodies, "glare_per_sr", lambda angle_deg, *_: 10.0 / angle_deg**2)


def straylight_of_the_young(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bodies, "straylight_log_s", lambda _: 0.87)


def not_centred(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reader, "laid", lambda seen, *_: seen)


def no_neural_filter(monkeypatch: pytest.MonkeyPatch) -> None:
    flat = lambda cpd, _loss: np.where(cpd > neural.HIGHEST_CPD, 0.0, 10.0)  # noqa: E731
    monkeypatch.setattr(reader, "neural_transfer", flat)
    reader._letter_table.cache_clear()


def shallow_reader(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reader, "_steeper", lambda right: right)


def pupil_ignored(monkeypatch: pytest.MonkeyPatch) -> None:
    real = sample_of_eyes.wave_of
    monkeypatch.setattr(sample_of_eyes, "wave_of", lambda base, error, _: real(base, error, 4.0))


def ageless(monkeypatch: pytest.MonkeyPatch) -> None:
    young = lambda right, left, **_: ordinary_pair(right, left, age_y=26.9)  # noqa: E731
    monkeypatch.setattr(bands, "ordinary_pair", young)


def light_by_its_root(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(laying, "LIGHT_EXPONENT", 0.5)


WRONG: dict[str, tuple[Callable[[pytest.MonkeyPatch], None], str]] = {
    "Stiles-Crawford base e": (base_e, "Stiles-Crawford factor 3 mm from the centre"),
    "its area too": (base_e, "effective share of a 6 mm pupil's area"),
    "covered eye ignored": (covered_eye_ignored, "pupil at 160 cd/m², 20 years, the other covered"),
    "age ignored": (age_ignored, "pupil at 160 cd/m², 60 years, both eyes open"),
    "chromatic zero at 580": (zero_at_580, "chromatic difference of refraction at 589 nm"),
    "blur circles": (rays_alone, "first contrast lost, 1 mm pupil, 3 D"),
    "no diffraction": (rays_alone, "contrast at 10 c/deg, 1.2 mm pupil, 555 nm"),
    "push-up amplitude": (push_up_amplitude, "objective amplitude of accommodation at 30 years"),
    "vertex ignored": (vertex_ignored, "-10.00 from 12 mm to the cornea"),
    "tilt ignored": (upright, "-10.00 tilted by 15°: cylinder"),
    "lens centres ignored": (
        centres_ignored,
        "-6.00 off its centre by 5 mm: prism, base to the centre",
    ),
    "pupil at the cornea": (pupil_at_the_cornea, "magnification by -6.00 at 12 mm"),
    "glare without age": (glare_without_age, "glare at 10° times its square, 70 years"),
    "a young eye's straylight": (
        straylight_of_the_young,
        "straylight parameter at 40 years, log10",
    ),
    "templates not centred": (not_centred, "3.00 DC mixed, 3.4 mm"),
    "no neural filter": (no_neural_filter, "in focus, 4 mm"),
    "plain template reader": (shallow_reader, "psychometric spread in focus, 4 mm"),
    "noise by the root of light": (light_by_its_root, "half the light, the same image, 4 mm"),
    "eyes that do not age": (ageless, "best acuity at 72.7 years, natural pupil"),
    "pupil ignored": (pupil_ignored, "3 D through 1.0 mm"),
}


@pytest.mark.parametrize("wrong", WRONG)
def test_a_wrong_model_fails_the_row_that_names_it(wrong, few, monkeypatch):
    break_it, name = WRONG[wrong]
    right = ROWS[name].checked(few)
    assert right.verdict is Verdict.HOLDS, "the row must hold before the model is broken"
    broken = Sample(few.terms)
    broken._refracted = few._refracted  # how the eyes are refracted is not what is broken
    with monkeypatch.context() as patches:
        break_it(patches)
        try:
            assert ROWS[name].checked(broken).verdict is Verdict.FAILED
        finally:
            reader._letter_table.cache_clear()


# ---- the rows themselves


def row(wanted=None, **changes: object) -> Row:
    given: dict = {
        "group": Group.BAND,
        "condition": "a thing",
        "wanted": wanted or about(1.0, 0.1),
        "unit": "",
        "source": sources.SANTOS,
        "catches": "nothing",
        "ours": lambda _: 1.25,
    }
    return Row(**(given | changes))


@pytest.mark.parametrize(
    ("ours", "recorded", "verdict"),
    [
        (1.05, 0.0, Verdict.HOLDS),
        (1.05, 0.2, Verdict.BETTER),
        (1.25, 0.15, Verdict.KNOWN),
        (1.25, 0.14, Verdict.FAILED),
        (0.74, 0.15, Verdict.FAILED),
        (math.nan, 9.0, Verdict.FAILED),
    ],
)
def test_a_miss_stands_only_as_large_as_it_is_recorded(ours, recorded, verdict):
    one = row(ours=lambda _: ours, recorded_miss=recorded, reason="so it is" if recorded else "")
    assert one.checked(Sample(())).verdict is verdict


def test_a_miss_needs_its_reason_and_an_exact_row_has_none():
    with pytest.raises(OpticsError, match="a thing"):
        row(recorded_miss=0.1)
    with pytest.raises(OpticsError, match="no exact row"):
        row(group=Group.EXACT, recorded_miss=0.1, reason="so it is")


def test_ranges_say_what_they_allow():
    assert (about(0.865, 0.005, 3).text, about(0.35, 0.1).text) == ("0.865 ± 0.005", "0.35 ± 0.10")
    assert (within(2, 3.5, 1).text, at_most(0.2).text) == ("2.0 to 3.5", "at most 0.20")
    assert at_least(0.3).miss(0.1) == pytest.approx(0.2)
    assert at_most(0.2).miss(-5.0) == 0.0


def test_the_table_fails_with_a_failed_row(monkeypatch):
    lines: list[str] = []
    rows = (
        ("A", exact("one and one", about(2.0, 0.1), sources.GOODMAN, lambda: 2.0, catches="–")),
        ("A", row(condition="another")),
    )
    monkeypatch.setattr("optics.validation.table.all_rows", lambda: rows)
    assert run_table(lines.append, Sample(())) == 1
    assert "FAILED by 0.150" in "\n".join(lines)
    assert "asked of memory" in "\n".join(lines)
    monkeypatch.setattr("optics.validation.table.all_rows", lambda: rows[:1])
    assert run_table(lines.append, Sample(())) == 0


def test_a_pause_may_end_the_work():
    def stop() -> None:
        raise InterruptedError

    with pytest.raises(InterruptedError):
        drawn_sample(stop).readings((0.0, 0.0, 0.0), 4.0)


def test_the_errors_of_astigmatism_are_what_lenses_leave():
    # against the power vectors of Thibos, Wheeler & Horner 1997: J0 = -(C/2) cos 2a
    assert mixed(2.0, 180.0) == pytest.approx((0.0, 1.0, 0.0), abs=1e-12)
    # an eye that needs plano/-2.00x45: M -1, J45 +1; the error left is the opposite
    assert simple_myopic(2.0, 45.0) == pytest.approx((1.0, 0.0, -1.0), abs=1e-12)


def test_the_psychometric_spread_is_that_of_a_normal_distribution():
    # letters named by a cumulative normal of 0.08 logMAR about 0.1, guessing one in ten
    chance = 0.1 + 0.9 * normal_cdf((np.array(SIZES) - 0.1) / 0.08)
    reading = Reading(
        sizes_logmar=SIZES,
        right=np.repeat(chance[:, np.newaxis], 10, axis=1),
        match=np.zeros((len(SIZES), 10, 10)),
    )
    assert psychometric_spread(reading) == pytest.approx(0.08, abs=0.002)
    assert reading.acuity_logmar == pytest.approx(0.1, abs=0.002)


# ---- drawn eyes


def test_a_standardised_sample_has_the_printed_means_and_spreads():
    eyes = [dict(eye) for eye in standardised_sample(12, 7)]
    for term, spread_um in SPREAD_UM:
        values = np.array([eye[term] for eye in eyes])
        assert values.mean() == pytest.approx(dict(AVERAGE_RIGHT_UM).get(term, 0.0), abs=1e-12)
        assert values.std(ddof=1) == pytest.approx(spread_um, abs=1e-12)
    assert standardised_sample(12, 7) == standardised_sample(12, 7)
    assert standardised_sample(12, 7) != standardised_sample(12, 8)


def test_many_drawn_eyes_have_the_published_rms():
    # Thibos 2002: 0.279 um; Salmon & van de Pol 2006: 0.33
    draws = np.random.default_rng(3).standard_normal((500, DEVIATES))
    rms = [higher_order_rms_um(drawn_aberrations(one, EyeSide.RIGHT)) for one in draws]
    assert 0.25 <= np.mean(rms) <= 0.36


def test_left_eyes_are_mirror_images():
    deviates = np.random.default_rng(4).standard_normal(DEVIATES)
    right = drawn_aberrations(deviates, EyeSide.RIGHT)
    assert drawn_aberrations(deviates, EyeSide.LEFT) == mirrored_terms(right)
    # x to -x turns cos 3t and cos t about, and sin 2t and sin 4t
    changed = {nm for (nm, a), (_, b) in zip(right, mirrored_terms(right), strict=True) if a != b}
    assert changed == {(3, 1), (3, 3), (4, -2), (4, -4)}


def test_aberrations_grow_with_age_as_published():
    # Berrio 2010, 5 mm: C(4,0) +0.0011, rms +0.0032 um a year; by r^4, and by the mean of r^3, r^4
    young, old = (dict(average_aberrations(EyeSide.RIGHT, age)) for age in (26.0, 66.0))
    assert old[4, 0] - young[4, 0] == pytest.approx(40 * 0.0011 * 1.2**4)
    assert average_aberrations(EyeSide.RIGHT, 20.0) == average_aberrations(EyeSide.RIGHT)
    powers = [
        np.mean([higher_order_rms_um(eye) ** 2 for eye in standardised_sample(40, 2, age)])
        for age in (None, 66.0)
    ]
    grown = math.sqrt(powers[1]) - math.sqrt(powers[0])
    assert grown == pytest.approx(40 * 0.0032 * (1.2**3 + 1.2**4) / 2, rel=0.05)


@pytest.mark.parametrize("deviates", [[0.0] * 8, [0.0] * 8 + [math.nan]])
def test_deviates_must_be_nine_finite_numbers(deviates):
    with pytest.raises(EyeError, match="9 finite numbers"):
        drawn_aberrations(deviates, EyeSide.RIGHT)
    with pytest.raises(EyeError, match="at least 2, got 1"):
        standardised_sample(1, 1)
