"""Settings: read once from the environment, frozen from then on."""

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Self
from urllib.parse import urlsplit

from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from server.errors import BadSetting

REPOSITORY = Path(__file__).resolve().parent.parent
DATABASE_FILE = "least-confusion.db"

TRUE_WORDS = frozenset({"1", "true", "yes", "on"})
FALSE_WORDS = frozenset({"0", "false", "no", "off", ""})


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One environment variable, as the documentation shows it."""

    name: str
    default: str
    meaning: str


SETTINGS = (
    Setting(
        name="LEAST_CONFUSION_DATA",
        default="data",
        meaning="folder of the database; made when it is missing",
    ),
    Setting(
        name="LEAST_CONFUSION_DATABASE",
        default=f"sqlite+pysqlite:///<data>/{DATABASE_FILE}",
        meaning="address of the database, in SQLAlchemy's form; a SQLite file",
    ),
    Setting(
        name="LEAST_CONFUSION_HOST",
        default="127.0.0.1",
        meaning="address to listen on; 0.0.0.0 opens the server to the network",
    ),
    Setting(
        name="LEAST_CONFUSION_PORT",
        default="8000",
        meaning="port to listen on; 0 takes any free one",
    ),
    Setting(
        name="LEAST_CONFUSION_CASES",
        default="cases",
        meaning="folder of the case files; the default is the one beside the program",
    ),
    Setting(
        name="LEAST_CONFUSION_ORIGINS",
        default="",
        meaning="origins, separated by commas, whose pages may post; "
        "empty: the host that the request names",
    ),
    Setting(
        name="LEAST_CONFUSION_HTTPS",
        default="no",
        meaning="yes when students come by https: secure cookie, and browsers keep to https",
    ),
    Setting(
        name="LEAST_CONFUSION_RENDER_SLOTS",
        default="number of cores",
        meaning="pictures computed at the same time",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Everything the server may be told from outside.

    `database` is empty for the file in `data_folder`; it may hold a password, so it is not
    printed.
    """

    data_folder: Path = Path("data")
    database: str = field(default="", repr=False)
    host: str = "127.0.0.1"
    port: int = 8000
    cases_folder: Path = REPOSITORY / "cases"
    public_origins: tuple[str, ...] = ()
    https: bool = False
    render_slots: int = field(default_factory=lambda: os.cpu_count() or 1)

    def __post_init__(self) -> None:
        if not 0 <= self.port <= 65535:
            raise BadSetting(f"port must be from 0 to 65535, got {self.port}")
        if self.render_slots < 1:
            raise BadSetting(f"render slots must be at least 1, got {self.render_slots}")
        for origin in self.public_origins:
            _check_origin(origin)

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] = os.environ) -> Self:
        """Return the settings of this environment; a variable not set keeps its default."""

        def read(name: str, default: str = "") -> str:
            return environment.get(f"LEAST_CONFUSION_{name}", "").strip() or default

        return cls(
            data_folder=Path(read("DATA", "data")).expanduser().absolute(),
            database=read("DATABASE"),
            host=read("HOST", "127.0.0.1"),
            port=_whole_number("PORT", read("PORT", "8000")),
            cases_folder=Path(read("CASES", str(REPOSITORY / "cases"))).expanduser().absolute(),
            public_origins=_origins(read("ORIGINS")),
            https=_yes_or_no("HTTPS", read("HTTPS")),
            render_slots=_whole_number(
                "RENDER_SLOTS", read("RENDER_SLOTS", str(os.cpu_count() or 1))
            ),
        )

    @property
    def database_url(self) -> URL:
        """The address of the database."""
        if not self.database:
            return URL.create("sqlite+pysqlite", database=str(self.data_folder / DATABASE_FILE))
        try:
            return make_url(self.database)
        except ArgumentError:
            raise BadSetting(
                "LEAST_CONFUSION_DATABASE must be an address such as "
                "sqlite+pysqlite:////folder/file.db"
            ) from None


def _whole_number(name: str, text: str) -> int:
    if not (text.isascii() and text.isdigit()):
        raise BadSetting(f"LEAST_CONFUSION_{name} must be a whole number, got {text!r}")
    return int(text)


def _yes_or_no(name: str, text: str) -> bool:
    if text.lower() not in TRUE_WORDS | FALSE_WORDS:
        raise BadSetting(f"LEAST_CONFUSION_{name} must be yes or no, got {text!r}")
    return text.lower() in TRUE_WORDS


def _origins(text: str) -> tuple[str, ...]:
    words = (word.strip().lower().rstrip("/") for word in text.split(","))
    return tuple(word for word in words if word)


def _check_origin(origin: str) -> None:
    """Refuse what a browser would never send as an Origin."""
    parts = urlsplit(origin)
    if parts.scheme not in {"http", "https"} or origin != f"{parts.scheme}://{parts.netloc}":
        raise BadSetting(f"an origin must look like https://host or http://host:80, got {origin!r}")
