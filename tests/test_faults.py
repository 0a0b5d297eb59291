"""Each fault is found in logs that show it and in none that nearly do, and nothing else is."""

import pytest

from server.marking.faults import FINDERS
from tests.fault_logs import NEARLY, SHOWS, Log
from tests.script import Script, careful, case_of
from tests.student import case_text

KEYS = [kind.key for kind, _ in FINDERS]


def played(log: Log, folder) -> Script:
    given = dict(log.case)
    pd, more = given.pop("pd", (31.0, 32.5)), given.pop("more", "")
    text = case_text(**given).replace("31.0", f"{pd[0]}").replace("32.5", f"{pd[1]}")
    return careful(case_of(folder, text, more), **log.stages)


def listed(table: dict[str, tuple[Log, ...]]) -> list:
    return [
        pytest.param(key, log, id=f"{key}: {log.name}")
        for key, logs in table.items()
        for log in logs
    ]


def test_a_careful_refraction_shows_no_fault(tmp_path):
    assert played(Log("careful"), tmp_path).faults() == {}


@pytest.mark.parametrize(("key", "log"), listed(SHOWS))
def test_a_fault_is_found_alone(key, log, tmp_path):
    script = played(log, tmp_path)
    faults = script.faults()
    assert set(faults) == {key}
    evidence = faults[key].evidence
    if log.number:
        assert len(evidence) == log.number
    if log.size is not None:
        # stated as lenses; at the cornea up to 2 D change by 0.05 (12 mm) and 0.08 (19 mm)
        assert max(one.size for one in evidence) == pytest.approx(log.size, abs=0.08)
    numbers = [one.number for one in evidence]
    assert numbers == sorted(numbers)
    assert 1 <= numbers[0] <= numbers[-1] <= script.last


@pytest.mark.parametrize(("key", "log"), listed(NEARLY))
def test_none_is_found_where_it_nearly_is(key, log, tmp_path):
    assert set(played(log, tmp_path).faults()) == set()


def test_every_fault_has_logs_that_show_it_and_that_nearly_do():
    assert set(SHOWS) | {"pinhole-alone"} == set(NEARLY) | {"pinhole-alone"} == set(KEYS)
    assert min(len(logs) for logs in (*SHOWS.values(), *NEARLY.values())) >= 2
