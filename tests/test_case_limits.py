"""Every key of a case file at, below and above its bounds; a fault says what came and is allowed.

The bounds are those that DEVELOPERS.md states, written out again.
"""

import json
import math
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import pytest
from pydantic import BaseModel

from server.case_file import CaseFile
from server.casebook import Case, CaseFault, read_case
from tests.student import case_text

EYES = ("right", "left")
NUMBERS: dict[str, tuple[float, float]] = {
    "level": (1, 4),
    "person.age": (10, 95),
    **{
        f"{eye}.{key}": bounds
        for eye in EYES
        for key, bounds in {
            "pd_mm": (24.0, 40.0),
            "pupil_mm": (1.5, 8.5),
            "best_logmar": (-0.3, 1.6),
            "nuclear_shift_d": (-6.0, 0.0),
            "straylight_log_s": (0.6, 2.4),
            "opacity.0.x_mm": (-4.0, 4.0),
            "opacity.0.y_mm": (-4.0, 4.0),
            "opacity.0.radius_mm": (0.1, 5.0),
            "opacity.0.transmittance": (0.0, 1.0),
            "zernike_um.3,-1": (-3.0, 3.0),
        }.items()
    },
    "eyes.need_vertex_mm": (0.0, 20.0),
    "eyes.need_distance_m": (1.0, 100.0),
    "eyes.pupil_mm": (1.5, 8.5),
    "eyes.amplitude_d": (0.0, 15.0),
    "eyes.floor_d": (0.0, 5.0),
    "eyes.latent_d": (0.0, 5.0),
    "eyes.tonic_d": (0.0, 5.0),
    "eyes.lag": (0.0, 0.5),
    "eyes.individual": (1, 9999),
    "traits.noise": (0.3, 4.0),
    "traits.band_sd": (0.0, 3.0),
    "traits.lapse": (0.0, 0.5),
    "traits.lean_sd": (-2.0, 2.0),
    "traits.tires": (0.0, 1.0),
    "traits.suggestible": (0.0, 1.0),
    "traits.claims_logmar": (-0.2, 1.6),
    **{
        f"marking.{key}": (0.0, 100.0)
        for key in (
            *("eye_points", "vertex_points", "pd_points", "mean_off_points", "talk_points"),
            *("record_points", "judgement_points", "judged_points", "time_points", "minor"),
            *("major", "critical", "safety_cap", "swap_cap", "sign_cap", "guess_cap"),
            *("pass_total", "procedure.axis", "procedure.end-point"),
        )
    },
    **{
        f"marking.{key}": (0.0, 20.0)
        for key in (
            *("strong_from_d", "mean_off_from_d", "power_full_d", "power_pass_d"),
            *("vertex_from_d", "pd_full_mm", "pd_half_mm", "sign_from_d"),
        )
    },
    "marking.allows_from_logmar": (0.0, 1.6),
    "marking.allows_strong": (0.0, 1.0),
    "marking.no_need_d": (0.0, 5.0),
    "marking.judged_from_level": (1, 4),
    "marking.minutes": (1.0, 240.0),
    "marking.guess_under": (0, 100),
}
HISTORY = ("onset", "which_eye", "pain", "flashes", "health", "spectacles")
WORDS: dict[str, tuple[int, int]] = {
    "person.who": (2, 300),
    "person.complaint": (2, 300),
    **{f"history.{topic}": (2, 300) for topic in HISTORY},
    "answer.because": (2, 600),
}
CHOICES = {
    "answer.prescribe": ("yes", "no"),
    "answer.refer": ("none", "routine", "urgent", "same day"),
}
LENSES = (
    *(f"{eye}.need" for eye in EYES),
    *(f"start.{which}_{eye}" for which in ("objective", "worn") for eye in EYES),
)
# pairs of numbers, with rules of their own: tests/test_casebook.py, tests/test_case_range.py and
# tests/test_case_marking.py
PAIRS = (
    *("marking.bands", "marking.axis_bands", "range.age"),
    *(
        f"range.{eye}.{key}"
        for eye in EYES
        for key in ("sphere_d", "cylinder_d", "axis_deg", "pd_mm")
    ),
)
OTHERS = ("first",)
BEYOND_D = 0.001  # by how much a number is taken out of its range


def changed(place: str, value: object) -> dict[str, Any]:
    """Return a whole case with one key of it set; tables that the key needs are there."""
    table: dict[str, Any] = tomllib.loads(case_text())
    if place.startswith("answer."):
        table["answer"] = {"because": "Nothing is wrong."}
    at: Any = table
    *path, key = place.split(".")
    if "opacity" in path:
        table[path[0]]["opacity"] = [{"radius_mm": 1.0}]
    for part in path:
        at = at[int(part)] if part.isdigit() else at.setdefault(part, {})
    at[key] = value
    return table


def toml(table: dict[str, Any], name: str = "") -> str:
    """Return a table as TOML text."""
    lines, below = [], []
    for key, value in table.items():
        within = f"{name}.{key}" if name else key
        if isinstance(value, dict):
            below.append(f"\n[{within}]\n{toml(value, within)}")
        elif isinstance(value, list):
            below += [f"\n[[{within}]]\n{toml(one, within)}" for one in value]
        else:
            lines.append(f"{json.dumps(key)} = {written(value)}\n")
    return "".join(lines + below)


def written(value: object) -> str:
    return str(value) if isinstance(value, float) else json.dumps(value, ensure_ascii=False)


def read(folder: Path, place: str, value: object) -> Case | tuple[CaseFault, ...]:
    path = folder / "one.toml"
    path.write_text(toml(changed(place, value)), encoding="utf-8")
    return read_case(path)


def fault(folder: Path, place: str, value: object) -> str:
    """Return the message of the one fault, which must name the place."""
    found = read(folder, place, value)
    assert not isinstance(found, Case), f"{place} = {value!r} was taken"
    [one] = found
    assert (one.file, one.field) == ("one.toml", place)
    return one.message


def keys_of(model: type[BaseModel], name: str = "") -> Iterator[str]:
    """Yield every key that a case file may state, dotted."""
    for key, part in model.model_fields.items():
        inner = [
            one
            for one in (part.annotation, *get_args(part.annotation))
            if isinstance(one, type) and issubclass(one, BaseModel)
        ]
        if inner:
            many = part.annotation is not inner[0] and key == "opacity"
            yield from keys_of(inner[0], f"{name}{key}.{'0.' if many else ''}")
        else:
            yield f"{name}{key}"


def test_no_key_is_left_out():
    tabled = {*NUMBERS, *WORDS, *CHOICES, *LENSES, *PAIRS, *OTHERS}
    tabled = {re.sub(r"(zernike_um|procedure)\..*", r"\1", place) for place in tabled}
    assert set(keys_of(CaseFile)) == tabled


def test_the_case_that_is_changed_is_whole(tmp_path):
    assert isinstance(read(tmp_path, "first", False), Case)
    assert tomllib.loads(toml(tomllib.loads(case_text()))) == tomllib.loads(case_text())


@pytest.mark.parametrize(
    ("place", "value"), [(place, bound) for place, bounds in NUMBERS.items() for bound in bounds]
)
def test_a_number_at_its_bound_is_taken(tmp_path, place, value):
    assert isinstance(read(tmp_path, place, value), Case)


@pytest.mark.parametrize("place", NUMBERS)
def test_a_number_beyond_its_bounds_is_refused(tmp_path, place):
    least, most = NUMBERS[place]
    step = 1 if isinstance(least, int) else BEYOND_D
    for value, relation, bound in (
        (least - step, "greater than or equal to", least),
        (most + step, "less than or equal to", most),
    ):
        message = fault(tmp_path, place, value)
        assert message == f"Input should be {relation} {bound:g}; got {value!r}"


@pytest.mark.parametrize("place", NUMBERS)
def test_what_is_no_finite_number_is_refused(tmp_path, place):
    wanted = "valid integer" if isinstance(NUMBERS[place][0], int) else "finite number"
    for value in (math.nan, math.inf, -math.inf):
        message = fault(tmp_path, place, value)
        assert f"Input should be a {wanted}" in message
        assert message.endswith(f"got {value!r}")
    for value in ("4", True):
        message = fault(tmp_path, place, value)
        assert "should be a valid" in message
        assert message.endswith(f"got {value!r}")


@pytest.mark.parametrize("place", WORDS)
def test_words_are_as_long_as_they_may_be(tmp_path, place):
    least, most = WORDS[place]
    for count in (least, most):
        assert isinstance(read(tmp_path, place, "w" * count), Case)
    for count, bound in ((least - 1, f"at least {least}"), (most + 1, f"at most {most}")):
        message = fault(tmp_path, place, "w" * count)
        assert f"should have {bound} characters" in message
        assert "; got 'w" in message
        assert len(message) < 200


@pytest.mark.parametrize("place", CHOICES)
def test_a_choice_is_one_of_a_few_words(tmp_path, place):
    for word in CHOICES[place]:
        assert isinstance(read(tmp_path, place, word), Case)
    message = fault(tmp_path, place, "perhaps")
    assert all(repr(word) in message for word in CHOICES[place])
    assert message.endswith("got 'perhaps'")


def test_first_is_true_or_false(tmp_path):
    for value in (True, False):
        assert isinstance(read(tmp_path, "first", value), Case)
    assert fault(tmp_path, "first", 1) == "Input should be a valid boolean; got 1"


@pytest.mark.parametrize("place", LENSES)
def test_a_lens_is_a_prescription_within_30_d(tmp_path, place):
    for taken in ("+30.00", "-30.00", "-1.00/-0.50x1", "-1.00/-0.50x180"):
        assert isinstance(read(tmp_path, place, taken), Case), taken
    for refused, allowed in (
        ("+30.25", "within 30 D"),
        ("-30.25", "within 30 D"),
        ("-1.00/-0.50x181", "from 1 to 180"),
        ("-1.00" + " " * 56, "at most 60 characters"),
    ):
        message = fault(tmp_path, place, refused)
        assert allowed in message
        assert f"got {refused!r}"[:40] in message


@pytest.mark.parametrize("eye", EYES)
def test_an_eye_has_eight_opacities_at_most(tmp_path, eye):
    spots = [{"radius_mm": 0.5}] * 9
    assert isinstance(read(tmp_path, f"{eye}.opacity", spots[:8]), Case)
    message = fault(tmp_path, f"{eye}.opacity", spots)
    assert "at most 8 items" in message
    assert "; got [{'radius_mm': 0.5}" in message


@pytest.mark.parametrize("eye", EYES)
def test_a_term_of_the_aberrations_is_of_orders_three_to_six(tmp_path, eye):
    for term in ("3,-3", "3,3", "6,-6", "6,0", "6,6"):
        assert isinstance(read(tmp_path, f"{eye}.zernike_um", {term: 0.1}), Case), term
    for term in ("2,0", "7,1", "3,0", "4,-6", "3", "three,1", ""):
        message = fault(tmp_path, f"{eye}.zernike_um", {term: 0.1})
        assert f"{term!r} is no term of orders 3 to 6" in message


# ---- what cannot be together, each in its range by itself


@pytest.mark.parametrize(
    ("key", "value", "allowed"),
    [
        ("floor_d", 2.5, "0 <= floor <= amplitude <= 20 D"),
        ("latent_d", 2.5, "the latent part with it"),
        ("tonic_d", 2.5, "within the amplitude"),
    ],
)
def test_accommodation_stays_within_the_amplitude(tmp_path, key, value, allowed):
    table = changed("eyes.amplitude_d", 2.0)
    table["eyes"][key] = value
    (tmp_path / "one.toml").write_text(toml(table))
    [one] = read_case(tmp_path / "one.toml")
    assert one.field == "eyes"
    assert allowed in one.message
    assert f"{value!r}" in one.message.partition("got ")[2]


@pytest.mark.parametrize("eye", EYES)
def test_no_nerve_reads_better_than_the_optics_before_it(tmp_path, eye):
    # most of the light astray and a cloud over the pupil: 6/3 is out of reach
    table = changed(f"{eye}.opacity.0.transmittance", 0.0)
    table[eye] |= {"straylight_log_s": 2.4, "best_logmar": -0.3}
    table[eye]["opacity"][0]["radius_mm"] = 1.9
    (tmp_path / "one.toml").write_text(toml(table))
    [one] = read_case(tmp_path / "one.toml")
    assert one.field == f"{eye}.best_logmar"
    assert re.search(r"can be -?\d\.\d\d to \d\.\d\d logMAR .*got -0\.3$", one.message)
