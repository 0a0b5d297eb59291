"""The journal mode follows the version of the SQLite library."""

import logging
import sqlite3

import pytest

from server.store.engine import journal_mode
from server.store.log import Store


@pytest.mark.parametrize(
    ("version", "mode"),
    [
        # Versions with the repair: sqlite.org/wal.html, "The WAL-Reset Bug"
        ((3, 40, 1), "TRUNCATE"),
        ((3, 44, 5), "TRUNCATE"),
        ((3, 44, 6), "WAL"),
        ((3, 45, 0), "TRUNCATE"),
        ((3, 50, 6), "TRUNCATE"),
        ((3, 50, 7), "WAL"),
        ((3, 51, 2), "TRUNCATE"),
        ((3, 51, 3), "WAL"),
        ((3, 52, 0), "WAL"),
        ((4, 0, 0), "WAL"),
    ],
)
def test_wal_is_used_only_where_it_is_repaired(version, mode):
    assert journal_mode(version) == mode


def test_the_pragmas_hold_on_every_connection(store):
    expected = {
        "journal_mode": journal_mode(sqlite3.sqlite_version_info).lower(),
        "foreign_keys": 1,
        "recursive_triggers": 1,
        "trusted_schema": 0,
        "synchronous": 2,
        "busy_timeout": 20000,
    }
    with store._reading(), store._reading() as connection:  # the second is a new connection
        found = {name: connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in expected}
    assert found == expected


def test_readers_do_not_wait_for_a_writer(store):
    with store._writing() as writer, store._reading() as reader:
        assert reader.exec_driver_sql("SELECT count(*) FROM event").scalar() == 0
        assert writer.in_transaction()


def test_the_chosen_mode_is_logged_once(settings, caplog):
    with caplog.at_level(logging.INFO, logger="server"):
        Store.open(settings).close()
    assert [record.getMessage().split(":")[0] for record in caplog.records] == [
        f"SQLite {sqlite3.sqlite_version}"
    ]
