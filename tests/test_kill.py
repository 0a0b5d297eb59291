"""What was answered is kept: the server is killed in mid-stream and started again."""

import http.client
import re
import sqlite3
import subprocess
import threading
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode

import pytest

from tests.student import case_text
from tests.test_server_command import start

ROUNDS = 3
ANSWERS_BEFORE_THE_KILL = 25
CLIENTS = 3
PATIENCE_S = 15
BEGUN = 2  # events before the first turn


@dataclass
class Browser:
    """A visitor of a server that may be killed at any moment."""

    port: int = 0
    cookie: str = ""
    address: str = ""
    answered: dict[str, int] = field(default_factory=dict)  # client key to the number shown
    unanswered: list[str] = field(default_factory=list)

    def asks(self, method: str, path: str, **fields: object) -> tuple[int, str, str]:
        """Return the status, the place to go to and the body."""
        with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)) as line:
            headers = {
                "Origin": f"http://127.0.0.1:{self.port}",
                "Content-Type": "application/x-www-form-urlencoded",
                "HX-Request": "true",
                "Cookie": self.cookie,
            }
            line.request(method, path, urlencode(fields) if fields else None, headers)
            answer = line.getresponse()
            body = answer.read().decode()  # IncompleteRead where the kill cut it
            if answer.headers["Set-Cookie"]:
                self.cookie = answer.headers["Set-Cookie"].partition(";")[0]
            return answer.status, answer.headers["HX-Redirect"] or "", body

    def begins(self) -> None:
        """Begin an attempt at the only patient."""
        case = re.search(r'name="case" value="([0-9a-f]{12})"', self.asks("GET", "/")[2])[1]
        self.address = self.asks("POST", "/attempts", case=case, client_key="begin-1")[1]
        lens = {"at": "R.3", "code": "cylinder-1.00", "client_key": "lens-1", "tab_id": "tab"}
        assert self.asks("POST", f"{self.address}/place", **lens)[0] == 200

    def turns(self, key: str) -> None:
        """Turn the lens by one degree, and note the answer if it comes whole."""
        fields = {"by": "1", "at": "R.3", "client_key": key, "tab_id": "tab"}
        try:
            status, _, body = self.asks("POST", f"{self.address}/turn", **fields)
        except (OSError, http.client.HTTPException):
            self.unanswered.append(key)
            return
        assert status == 200, body
        self.answered[key] = number_shown(body)


def number_shown(page: str) -> int:
    return int(re.search(r'id="seen" value="(\d+)"', page)[1])


def open_server(folder: Path) -> tuple[subprocess.Popen[str], int]:
    process = start(folder, "--port", "0", LEAST_CONFUSION_CASES=str(folder / "cases"))
    line = process.stdout.readline()
    found = re.search(r"http://127\.0\.0\.1:(\d+)", line)
    assert found, line + process.stderr.read()
    return process, int(found[1])


def kept(folder: Path) -> list[tuple[int, str]]:
    """Return the number and client key of each event, read from the file itself."""
    with closing(sqlite3.connect(folder / "data" / "least-confusion.db")) as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert database.execute("PRAGMA foreign_key_check").fetchall() == []
        return database.execute("SELECT number, client_key FROM event ORDER BY number").fetchall()


def stream_until_killed(browser: Browser, process: subprocess.Popen[str], turn: int) -> None:
    """Press from several threads at once, and kill the server while they do."""
    enough, already = threading.Event(), len(browser.answered)

    def press(hand: int) -> None:
        for count in range(10_000):
            if process.poll() is not None or browser.unanswered:
                return
            browser.turns(f"turn{turn}-hand{hand}-{count}")
            if len(browser.answered) - already >= ANSWERS_BEFORE_THE_KILL:
                enough.set()

    hands = [threading.Thread(target=press, args=(hand,)) for hand in range(CLIENTS)]
    for hand in hands:
        hand.start()
    assert enough.wait(PATIENCE_S), "the server answered too slowly"
    process.kill()  # SIGKILL: nothing can be tidied up
    process.wait(PATIENCE_S)
    for hand in hands:
        hand.join(PATIENCE_S)


@pytest.mark.slow
def test_no_answered_event_is_lost_when_the_server_is_killed(tmp_path):
    (tmp_path / "cases").mkdir()
    (tmp_path / "cases" / "one.toml").write_text(case_text())
    browser = Browser()
    process, browser.port = open_server(tmp_path)
    try:
        browser.begins()
        for turn in range(ROUNDS):
            browser.unanswered.clear()
            stream_until_killed(browser, process, turn)
            assert browser.unanswered, "the kill did not come in mid-stream"
            process.communicate()
            process, browser.port = open_server(tmp_path)
            log = kept(tmp_path)
            assert [number for number, _ in log] == list(range(1, len(log) + 1))
            numbers = {key: number for number, key in log}
            assert set(browser.answered) <= set(numbers)
            # Each answer showed a state in which its own event was.
            assert all(number >= numbers[key] for key, number in browser.answered.items())
            assert len(log) <= BEGUN + len(browser.answered) + len(browser.unanswered)
            status, _, page = browser.asks("GET", f"{browser.address}?at=R.3")
            assert (status, number_shown(page)) == (200, len(log))
            assert f"axis {(len(log) - BEGUN) % 180 or 180}" in page  # one degree for each event
            # What was not answered is sent again, and counts once.
            for key in list(browser.unanswered):
                browser.turns(key)
                browser.turns(key)
            log = kept(tmp_path)
            keys = [key for _, key in log]
            assert len(keys) == len(set(keys)) == BEGUN + len(browser.answered)
    finally:
        process.kill()
        process.communicate()
