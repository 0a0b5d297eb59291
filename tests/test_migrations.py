"""The migrations make the schema that the code expects, and start over without harm."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from alembic import command

from server.errors import StoreUnavailable
from server.settings import Settings
from server.store.engine import open_migration_engine
from server.store.log import NewEvent, Store
from server.store.migrate import configuration, upgrade

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


@pytest.fixture
def connection(settings):
    upgrade(settings)
    engine = open_migration_engine(settings)
    with engine.begin() as opened:
        yield opened
    engine.dispose()


def test_the_migrations_make_the_schema_of_the_code(connection):
    command.check(configuration(connection))


def test_every_constraint_has_a_name(connection):
    statements = connection.exec_driver_sql(
        "SELECT sql FROM sqlite_master WHERE type = 'table' AND name <> 'alembic_version'"
    ).scalars()
    lines = [line for statement in statements for line in statement.splitlines()]
    kinds = ("PRIMARY KEY", "FOREIGN KEY", "UNIQUE")
    constraints = [line for line in lines if any(kind in line for kind in kinds)]
    assert len(constraints) == 18
    assert [line for line in constraints if "CONSTRAINT" not in line] == []


def test_the_log_has_its_triggers(connection):
    names = connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'trigger'")
    assert sorted(names.scalars()) == [
        *("event_refuses_delete", "event_refuses_update"),
        *("mark_refuses_delete", "mark_refuses_update"),
    ]


def test_a_second_upgrade_keeps_what_is_there(settings):
    upgrade(settings)
    store = Store.open(settings)
    visitor = store.open_session("a" * 64, NOON)
    attempt = store.start_attempt(visitor, "first-myope", "practice", b"s" * 16, "k", NOON)
    store.append(
        attempt.id,
        client_key="k",
        tab_id="t",
        seen_number=0,
        at=NOON,
        compose=lambda _: NewEvent(kind="step", body={}, engine_version="1"),
    )
    before = store.events(attempt.id)
    upgrade(settings)
    assert store.events(attempt.id) == before
    store.close()


def test_a_database_of_the_first_version_gets_its_marks(settings):
    Path(settings.database_url.database).parent.mkdir(parents=True)
    engine = open_migration_engine(settings)
    with engine.begin() as first:
        command.upgrade(configuration(first), "0001")
        first.exec_driver_sql(
            "INSERT INTO session VALUES (1, 'a', '2026-03-01 12:00:00', '2026-03-01 12:00:00')"
        )
        tables = first.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'table'")
        assert "mark" not in set(tables.scalars())
    engine.dispose()
    upgrade(settings)
    store = Store.open(settings)
    assert store.find_session("a", NOON) == 1
    assert store.marks_of("none") == ()
    store.close()


def test_the_folder_of_the_database_is_made(tmp_path: Path):
    settings = Settings(data_folder=tmp_path / "new 50% ?" / "data")
    upgrade(settings)
    assert (tmp_path / "new 50% ?" / "data" / "least-confusion.db").is_file()


def test_a_database_of_a_newer_version_is_refused(settings, connection):
    connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    connection.commit()
    with pytest.raises(StoreUnavailable, match="written by another version"):
        upgrade(settings)


def test_rows_that_point_nowhere_are_found(settings, connection):
    connection.exec_driver_sql(
        "INSERT INTO attempt VALUES ('lost', 99, 'case', 'practice', x'00', 'k', '2026-03-01')"
    )
    connection.commit()
    with pytest.raises(StoreUnavailable, match="point nowhere, in attempt"):
        upgrade(settings)


def test_a_file_that_is_no_database_is_refused_and_kept(settings):
    path = Path(settings.database_url.database)
    path.parent.mkdir(parents=True)
    path.write_text("a shopping list, long enough to be no empty file" * 9)
    with pytest.raises(StoreUnavailable, match=f"{path} cannot be used: file is not a database"):
        upgrade(settings)
    assert path.read_text().startswith("a shopping list")


def test_a_database_that_cannot_be_written_is_found_at_once(settings):
    upgrade(settings)
    path = settings.database_url.database
    with pytest.raises(StoreUnavailable, match="readonly"):
        upgrade(replace(settings, database=f"sqlite:///file:{path}?mode=ro&uri=true"))


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path):
    (tmp_path / "file").touch()
    with pytest.raises(StoreUnavailable, match=f"{tmp_path}/file/.*cannot be made"):
        upgrade(Settings(data_folder=tmp_path / "file" / "data"))
