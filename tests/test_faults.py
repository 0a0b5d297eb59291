"""Each fault is found in logs that show it and in none that nearly do, and nothing else is."""

import json
from dataclasses import asdict

import pytest

from server.attempts import acts
from server.marking.faults import FINDERS, Fault
from tests.fault_logs import NEARLY, SHOWS
from tests.fault_logs.card import NONE_NEEDED
from tests.fault_logs.log import ASTIGMAT, Log, Logs
from tests.script import Script, careful, case_of
from tests.student import case_text

KEYS = [kind.key for kind, _ in FINDERS]
PLAYED: dict[int, tuple[Log, Script]] = {}


def played(log: Log, folder) -> Script:
    """Return a log as a script, played once."""
    if id(log) not in PLAYED:
        PLAYED[id(log)] = log, play(log, folder)
    return PLAYED[id(log)][1]


def play(log: Log, folder) -> Script:
    given = dict(log.case)
    pd, more = given.pop("pd", (31.0, 32.5)), given.pop("more", "")
    text = case_text(**given).replace("31.0", f"{pd[0]}").replace("32.5", f"{pd[1]}")
    return careful(case_of(folder, text, more), **log.stages)


def listed(table: Logs) -> list:
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


# ---- the pinhole alone: logs without a lens


def looked_through_the_pinhole(folder, through: float, **answer: str) -> Script:
    more = NONE_NEEDED.format(**answer) if answer else ""
    s = Script(case_of(folder, more=more, **ASTIGMAT)).covers("L").reads(0.6)
    return s.disc("R.4", "pinhole1.2").reads(through).takes("R.4")


@pytest.mark.parametrize("recorded", [{"refer": "routine"}, {"right_sphere": "0.00"}])
def test_a_pinhole_that_alone_decided_is_found(recorded, tmp_path):
    s = looked_through_the_pinhole(tmp_path, 0.6).writes(**recorded).does(acts.finish())
    [fault] = s.faults().values()
    assert fault.key == "pinhole-alone"
    assert max(one.size for one in fault.evidence) == pytest.approx(1.5, abs=0.08)


@pytest.mark.parametrize("nearly", ["it helps", "a lens is tried", "no lens is right"])
def test_a_pinhole_that_did_not_decide_is_no_fault(nearly, tmp_path):
    answer = {"refer": "none"} if nearly == "no lens is right" else {}
    s = looked_through_the_pinhole(tmp_path, 0.1 if nearly == "it helps" else 0.6, **answer)
    if nearly == "a lens is tried":
        s.puts("R.1", -0.50).reads(0.6)
    s.writes(refer="none").does(acts.finish())
    assert "pinhole-alone" not in s.faults()


# ---- what a fault says


@pytest.mark.parametrize(("key", "log"), listed(SHOWS))
def test_a_fault_says_why_and_what_to_do_in_one_sentence_each(key, log, tmp_path):
    [fault] = played(log, tmp_path).faults().values()
    for words in (f"{fault.title}.", fault.why, fault.instead):
        assert words[0].isupper() or words[0] in "0123456789“"
        assert words.endswith(".")
        assert ". " not in words
        assert "{" not in words
        assert 20 <= len(words) <= 110
    assert all(one.words for one in fault.evidence)


def test_evidence_has_the_numbers_of_its_moment(tmp_path):
    log = SHOWS["minus-without-letters"][1]
    first, second = played(log, tmp_path).faults()["minus-without-letters"].evidence
    # −0.25 and −0.50 D beyond what the eye needs, a little less at the cornea
    assert first.error == pytest.approx((0.25, 0.0, 0.0), abs=0.02)
    assert second.error == pytest.approx((0.50, 0.0, 0.0), abs=0.03)
    assert (first.accommodation_d, second.accommodation_d) == (first.error[0], second.error[0])
    assert first.words.endswith("Left then: 0.24 D too much minus.")


def test_a_fault_is_stored_whole(tmp_path):
    [fault] = played(SHOWS["turned-away"][0], tmp_path).faults().values()
    assert Fault.from_body(json.loads(json.dumps(asdict(fault)))) == fault


def test_what_is_undone_is_not_held_against_anyone(tmp_path):
    """A wrong turn taken back before the next question is none."""
    s = Script(case_of(tmp_path, **ASTIGMAT)).covers("L").reads(0.6)
    s.puts("R.1", -1.25).puts("R.3", -0.50, 180).reads(0.1).crosses("R", 0.25, "axis", "first")
    s.turns("R.3", 165)
    kept = s.events[:]
    s.crosses("R", 0.25, "axis", "same")
    assert "turned-away" in s.faults()
    s.events = kept
    s.undoes()
    s.crosses("R", 0.25, "axis", "same")
    assert "turned-away" not in s.faults()
