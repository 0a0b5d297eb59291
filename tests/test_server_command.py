"""The command: starts, says where it is, and ends with a clear word and code."""

import logging
import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from server.__main__ import WithoutQuery, main, parse

REPOSITORY = Path(__file__).parent.parent


def start(tmp_path: Path, *words: str, **environment: str) -> subprocess.Popen[str]:
    surroundings = {k: v for k, v in os.environ.items() if not k.startswith("LEAST_CONFUSION_")}
    surroundings |= {"LEAST_CONFUSION_DATA": str(tmp_path / "data")} | environment
    return subprocess.Popen(
        [sys.executable, "-m", "server", *words],
        cwd=REPOSITORY,
        env=surroundings,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )


@contextmanager
def running(tmp_path: Path, *words: str) -> Iterator[tuple[subprocess.Popen[str], str]]:
    with start(tmp_path, *words) as process:
        try:
            line = process.stdout.readline()
            found = re.fullmatch(
                r"Least Confusion is open at (http://127\.0\.0\.1:\d+)  \(Ctrl-C closes it\)\n",
                line,
            )
            assert found, line + process.stderr.read()
            yield process, found[1]
        finally:
            process.kill()


def get(address: str) -> tuple[int, str]:
    with urllib.request.urlopen(address, timeout=10) as answer:
        return answer.status, answer.read().decode()


def test_it_starts_answers_and_ends_quietly_on_ctrl_c(tmp_path):
    with running(tmp_path, "--port", "0", "--access-log") as (process, address):
        assert get(f"{address}/health?eye=secret") == (200, "ok")
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=10)
    assert (process.returncode, out) == (0, "")
    assert "Traceback" not in err
    assert '"GET /health HTTP/1.1" 200' in err
    assert "secret" not in err
    assert (tmp_path / "data" / "least-confusion.db").is_file()


def test_it_is_quiet_unless_asked(tmp_path):
    with running(tmp_path, "serve", "--port", "0") as (process, address):
        get(f"{address}/health")
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=10)
    assert re.fullmatch(r"INFO server\.store\.engine: SQLite [\d.]+: journal mode \w+\n", err)


def test_a_port_that_is_taken_is_one_line_and_code_2(tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        process = start(tmp_path, "--port", str(port))
        out, err = process.communicate(timeout=10)
    assert (process.returncode, out) == (2, "")
    assert err == f"Least Confusion: cannot listen on 127.0.0.1:{port}: address already in use\n"


def test_a_database_out_of_reach_is_named_with_code_3(tmp_path):
    folder = tmp_path / "data" / "least-confusion.db"
    folder.mkdir(parents=True)
    process = start(tmp_path, "--port", "0")
    out, err = process.communicate(timeout=10)
    assert (process.returncode, out) == (3, "")
    assert (
        err
        == f"Least Confusion: the database {folder} cannot be used: unable to open database file\n"
    )


@pytest.mark.parametrize(
    ("name", "value", "words", "message"),
    [
        ("PORT", "eighty", [], "LEAST_CONFUSION_PORT must be a whole number, got 'eighty'"),
        ("DATABASE", "nonsense", [], "LEAST_CONFUSION_DATABASE must be an address"),
        ("DATA", "{tmp}", ["--port", "99999"], "port must be from 0 to 65535, got 99999"),
        ("DATA", "{tmp}", ["--host", "203.0.113.9"], "cannot listen on 203.0.113.9:8000: "),
    ],
)
def test_a_wrong_setting_is_one_line_and_code_2(
    monkeypatch, capsys, tmp_path, name, value, words, message
):
    monkeypatch.setenv("LEAST_CONFUSION_DATA", str(tmp_path))
    monkeypatch.setenv(f"LEAST_CONFUSION_{name}", value.format(tmp=tmp_path))
    assert main(words) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith(f"Least Confusion: {message}")
    assert printed.err.count("\n") == 1


def test_serve_is_meant_without_a_command():
    assert parse([]) == parse(["serve"])
    assert parse(["--port", "1"]) == parse(["serve", "--port", "1"])


@pytest.mark.parametrize("words", [["-h"], ["serve", "-h"]])
def test_help_is_given(words, capsys):
    with pytest.raises(SystemExit) as ended:
        parse(words)
    assert ended.value.code == 0
    assert "python -m server" in capsys.readouterr().out


def test_queries_stay_out_of_the_access_log():
    record = logging.LogRecord(
        "uvicorn.access",
        logging.INFO,
        "",
        0,
        '%s - "%s %s HTTP/%s" %d',
        ("127.0.0.1:1", "GET", "/a?eye=1", "1.1", 200),
        None,
    )
    assert WithoutQuery().filter(record)
    assert record.getMessage() == '127.0.0.1:1 - "GET /a HTTP/1.1" 200'
