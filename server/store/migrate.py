"""Bring the database to the present schema."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.util import CommandError
from sqlalchemy import Connection

from server.errors import StoreUnavailable
from server.settings import Settings
from server.store.engine import clear_faults, open_migration_engine, place_of

MIGRATIONS = Path(__file__).parent / "migrations"

# Marks the file as ours ("LCON"). It is written at every start, which also shows at once
# whether the file can be written.
APPLICATION_ID = 0x4C434F4E


def upgrade(settings: Settings) -> None:
    """Bring the database to the newest schema, all or nothing; make it if it is missing.

    Raises
    ------
    StoreUnavailable
        If it cannot be opened or written, comes from a newer version, or would be left with
        rows that point nowhere.
    """
    place = place_of(settings)
    engine = open_migration_engine(settings)
    try:
        with clear_faults(place), engine.begin() as connection:
            command.upgrade(configuration(connection), "head")
            connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
            _check_foreign_keys(connection, place)
    except CommandError as fault:
        raise StoreUnavailable(
            f"the database {place} was written by another version: {fault}"
        ) from fault
    finally:
        engine.dispose()


def configuration(connection: Connection) -> Config:
    """Return what the migration tool needs to work on this connection."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def _check_foreign_keys(connection: Connection, place: str) -> None:
    lost = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    if lost:
        tables = ", ".join(sorted({row[0] for row in lost}))
        raise StoreUnavailable(f"the database {place} has rows that point nowhere, in {tables}")
