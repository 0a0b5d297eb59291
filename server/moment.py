"""The server's time: the one place where it is read, so that it can be set in tests."""

from datetime import UTC, datetime


def now() -> datetime:
    """Return this moment, in UTC."""
    return datetime.now(UTC)
