"""How the database is opened: pragmas, journal mode and the kind of transaction."""

import logging
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Literal

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError, IntegrityError, ProgrammingError, TimeoutError
from sqlalchemy.pool import ConnectionPoolEntry

from server.errors import StoreUnavailable
from server.settings import Settings

logger = logging.getLogger(__name__)

JournalMode = Literal["WAL", "TRUNCATE"]

# Two connections that write and checkpoint at the same moment can damage a database in WAL
# mode; sqlite.org/wal.html, "The WAL-Reset Bug". First version with the repair, by branch:
REPAIRED_PATCH = {(3, 44): 6, (3, 50): 7, (3, 51): 3}

# The web framework's thread pool has 40 threads: each can have its connection, so that none
# waits for one held by a thread that waits for it.
POOL_SIZE = 8
POOL_OVERFLOW = 40


def journal_mode(version_info: tuple[int, int, int]) -> JournalMode:
    """Return the journal mode that is safe with this version of the SQLite library."""
    major, minor, patch = version_info
    if (major, minor) > max(REPAIRED_PATCH):
        return "WAL"
    repaired_patch = REPAIRED_PATCH.get((major, minor))
    return "WAL" if repaired_patch is not None and patch >= repaired_patch else "TRUNCATE"


def open_engine(settings: Settings) -> Engine:
    """Return the engine that the store works with.

    Raises
    ------
    StoreUnavailable
        If the address is not that of a SQLite file, or the file's folder cannot be made.
    """
    mode = journal_mode(sqlite3.sqlite_version_info)
    logger.info("SQLite %s: journal mode %s", sqlite3.sqlite_version, mode)
    return _engine(settings, foreign_keys=True)


def open_migration_engine(settings: Settings) -> Engine:
    """Return an engine that leaves foreign keys unwatched.

    A migration may rebuild a table by dropping it; watched keys would take its children along.
    """
    return _engine(settings, foreign_keys=False)


def place_of(settings: Settings) -> str:
    """Return the database's place for messages, without any password."""
    url = settings.database_url
    return url.database or url.render_as_string(hide_password=True)


@contextmanager
def clear_faults(place: str) -> Iterator[None]:
    """Turn the database's own errors into one that names the place and the reason."""
    try:
        yield
    except (IntegrityError, ProgrammingError):
        raise  # a mistake of ours, not a fault of the database
    except DBAPIError as fault:
        raise StoreUnavailable(f"the database {place} cannot be used: {fault.orig}") from fault
    except TimeoutError as fault:
        raise StoreUnavailable(f"the database {place} is too busy") from fault


def _engine(settings: Settings, *, foreign_keys: bool) -> Engine:
    url = settings.database_url
    _prepare_file(url, place_of(settings))
    engine = create_engine(
        url,
        pool_size=POOL_SIZE,
        max_overflow=POOL_OVERFLOW,
        connect_args={"isolation_level": None},  # `_begin` alone begins
    )
    _set_pragmas_on_connect(engine, foreign_keys=foreign_keys)
    event.listen(engine, "begin", _begin)
    return engine


def _set_pragmas_on_connect(engine: Engine, *, foreign_keys: bool) -> None:
    pragmas = (
        "busy_timeout = 20000",
        f"foreign_keys = {'ON' if foreign_keys else 'OFF'}",
        "recursive_triggers = ON",  # else a REPLACE deletes without asking the trigger
        "trusted_schema = OFF",
        f"journal_mode = {journal_mode(sqlite3.sqlite_version_info)}",
        "synchronous = FULL",
    )

    @event.listens_for(engine, "connect")
    def set_pragmas(connection: sqlite3.Connection, _: ConnectionPoolEntry) -> None:
        for pragma in pragmas:
            connection.execute(f"PRAGMA {pragma}").close()


def _begin(connection: Connection) -> None:
    # A reader that becomes a writer does not wait for the lock: writers take it at once.
    read_only = connection.get_execution_options().get("read_only", False)
    connection.exec_driver_sql("BEGIN" if read_only else "BEGIN IMMEDIATE")


def _prepare_file(url: URL, place: str) -> None:
    if url.drivername not in {"sqlite", "sqlite+pysqlite"}:
        raise StoreUnavailable(f"the database must be a SQLite file, got {url.drivername}")
    if not url.database or url.database == ":memory:":
        raise StoreUnavailable("the database must be a file, not memory")
    if url.database.startswith("file:"):
        return  # a file named in SQLite's own form must already be there
    try:
        Path(url.database).parent.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise StoreUnavailable(
            f"the database {place} cannot be made: {fault.strerror or fault}"
        ) from fault
