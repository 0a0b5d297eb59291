"""The page "How true is this eye?": computed once in the background, kept, and shown whole."""

import json
import re
import threading
import time
from pathlib import Path

import pytest

from optics.validation.table import all_rows
from server.evidence import Evidence, EvidenceKeeper
from server.keeper import Progress
from server.web.notation import Notation
from server.web.plotting import BOTTOM, TOP, plot_view, true_minus, y_of
from server.web.present_evidence import how_true_page
from tests.evidence_sample import keep_sample, sample_evidence
from tests.student import HTMX

PATIENCE_S = 10.0


def until(keeper: EvidenceKeeper) -> Evidence:
    """Return the evidence once it is there."""
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        found = keeper.ask(begin=False)
        if isinstance(found, Evidence):
            return found
        time.sleep(0.01)
    raise AssertionError("no evidence came")


class Work:
    """Stands for the long computation: waits to be let go, and counts its runs."""

    def __init__(self) -> None:
        self.runs, self.go_on = 0, threading.Event()

    def __call__(self, pause, told) -> Evidence:
        self.runs += 1
        told(12)
        while not self.go_on.wait(0.01):
            pause()
        return sample_evidence()


def test_nothing_is_computed_before_somebody_asks(tmp_path):
    work = Work()
    keeper = EvidenceKeeper(tmp_path, work)
    assert keeper.ask(begin=False) == Progress(done=0, total=len(all_rows()))
    assert work.runs == 0


def test_the_work_is_done_once_told_of_and_kept(tmp_path):
    work = Work()
    keeper = EvidenceKeeper(tmp_path, work)
    assert isinstance(keeper.ask(begin=True), Progress)
    end = time.monotonic() + PATIENCE_S
    while keeper.ask(begin=True) != Progress(done=12, total=len(all_rows())):
        assert time.monotonic() < end
    work.go_on.set()
    assert until(keeper) == sample_evidence()
    assert work.runs == 1
    other = Work()
    assert EvidenceKeeper(tmp_path, other).ask(begin=True) == sample_evidence()
    assert other.runs == 0


def test_the_file_holds_published_and_engine_values_alone(tmp_path):
    keep_sample(tmp_path)
    [file] = tmp_path.iterdir()
    assert re.fullmatch(r"how-true-\w+\.json", file.name)
    kept = json.loads(file.read_text())
    assert set(kept) == {"engine", "rows", "plots"}
    assert len(kept["rows"]) == len(all_rows())


def damaged(text: str) -> str:
    return text[: len(text) // 2]


def of_another_table(text: str) -> str:
    kept = json.loads(text)
    kept["rows"][3]["published"] = "9.99 ± 0.01"
    return json.dumps(kept)


def of_another_engine(text: str) -> str:
    return json.dumps(json.loads(text) | {"engine": "0"})


def of_another_shape(text: str) -> str:
    return json.dumps(json.loads(text) | {"plots": [{"key": 1}]})


@pytest.mark.parametrize(
    "change", [damaged, of_another_table, of_another_engine, of_another_shape, lambda _: "null"]
)
def test_a_file_that_is_not_this_table_is_computed_anew(tmp_path, change):
    keep_sample(tmp_path)
    [file] = tmp_path.iterdir()
    whole = file.read_text()
    file.write_text(change(whole))
    work = Work()
    work.go_on.set()
    keeper = EvidenceKeeper(tmp_path, work)
    keeper.ask(begin=True)
    assert until(keeper) == sample_evidence()
    assert work.runs == 1
    assert file.read_text() == whole


def test_a_folder_that_cannot_be_written_loses_nothing_but_the_file(tmp_path, caplog):
    (tmp_path / "file").write_text("in the way")
    work = Work()
    work.go_on.set()
    keeper = EvidenceKeeper(tmp_path / "file", work)
    keeper.ask(begin=True)
    assert until(keeper) == sample_evidence()


def test_closing_ends_the_work(tmp_path):
    keeper = EvidenceKeeper(tmp_path, Work())
    keeper.ask(begin=True)
    keeper.close()
    assert not [one for one in threading.enumerate() if one.name == "evidence"]
    assert list(tmp_path.iterdir()) == []


def test_work_that_breaks_off_is_said_logged_and_can_be_begun_again(tmp_path, caplog):
    def breaks(pause, told) -> Evidence:
        raise ZeroDivisionError

    keeper = EvidenceKeeper(tmp_path, breaks)
    keeper.ask(begin=True)
    end = time.monotonic() + PATIENCE_S
    while keeper.ask(begin=False) == Progress(done=0, total=len(all_rows())):
        assert time.monotonic() < end
    assert keeper.ask(begin=False) == Progress(done=0, total=len(all_rows()), failed=True)
    assert "could not be computed" in caplog.text
    keeper._gather = lambda *_: sample_evidence()
    assert keeper.ask(begin=True) == Progress(done=0, total=len(all_rows()))
    assert until(keeper) == sample_evidence()


# ---- the page


@pytest.fixture
def finished(client, settings) -> Path:
    keep_sample(settings.data_folder)
    return settings.data_folder


def test_the_page_waits_shows_how_far_it_is_and_then_all(client, monkeypatch):
    work = Work()
    monkeypatch.setattr(client.app.state.evidence, "_gather", work)
    assert "rows checked" in client.get("/how-true").text
    part = client.get("/how-true/progress", headers=HTMX)
    assert part.text.startswith('<div id="truth-progress"')
    assert 'hx-get="/how-true/progress"' in part.text
    assert client.get("/health").text == "ok"  # while the work goes on
    plain = client.get("/how-true/progress", follow_redirects=False)
    assert (plain.status_code, plain.headers["Location"]) == (303, "/how-true")
    work.go_on.set()
    until(client.app.state.evidence)
    done = client.get("/how-true/progress", headers=HTMX)
    assert done.headers["HX-Redirect"] == "/how-true"
    assert "The whole table" in client.get("/how-true").text
    assert work.runs == 1


def test_the_page_says_misses_first_and_every_row(client, finished):
    page = client.get("/how-true").text
    assert page.index("What is still wrong") < page.index("<svg") < page.index("The whole table")
    assert page.count('<th scope="row">') >= len(all_rows())
    assert page.count("<svg viewBox") == 4
    assert page.count("<summary>The same as a table</summary>") == 4
    assert "asked of memory" in page
    assert "fails: 0.25 outside" in page
    failing = page.partition("What is still wrong")[2]
    assert failing.index('class="state failed"') < failing.index("known miss")


def test_the_start_page_and_the_help_lead_there(client):
    for path in ("/", "/help"):
        assert '<a href="/how-true">How true is this eye?</a>' in client.get(path).text


def test_it_stands_in_the_persons_notation(client, finished):
    client.post("/notation", data={"acuity": "20", "cylinder": "minus"})
    page = client.get("/how-true").text
    assert ">20/40</text>" in page  # 0.3 logMAR
    assert ">6/12</text>" not in page


def test_counts_are_those_of_the_rows():
    page = how_true_page(sample_evidence(), Notation())
    assert page.count == len(all_rows()) == page.holding + page.known + page.failed
    assert sum(len(one.rows) for one in page.wrong) == page.known + page.failed
    assert sum(group.count for group in page.groups) == page.count
    in_groups = sum(len(rows) for group in page.groups for _, rows in group.subjects)
    assert in_groups == page.count


def test_better_sight_stands_higher_and_nothing_leaves_the_drawing():
    assert TOP == y_of(-0.3) < y_of(0.0) < y_of(1.0) < y_of(9.0) == BOTTOM
    plot = plot_view(sample_evidence().plots[0], Notation())
    # 0.5 D of 3.5 from 58 to 420; -0.1 + 0.15 = 0.05 logMAR of -0.3 to 1.5 from 14 to 284
    assert plot.curves[0].line.split()[0] == f"{58 + 362 / 7:.1f},{14 + 0.35 / 1.8 * 270:.1f}"
    assert [tick.words for tick in plot.right_ticks][:3] == ["6/3", "6/6", "6/12"]
    assert [row.published for row in plot.rows if row.at == "2.00 D"] == ["6/12 (0.30) or better"]


def test_minus_signs_are_true_ones():
    assert true_minus("-1.00x180 with -2.00, 4 mm") == "−1.00x180 with −2.00, 4 mm"
    assert true_minus("least-squares 329-351 C(4,-2)") == "least-squares 329-351 C(4,−2)"
