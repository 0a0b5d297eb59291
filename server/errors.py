"""What can go wrong between a request and its answer.

::

    ServiceError
    ├── BadSetting          an environment variable holds what it must not
    ├── NotFound            no such case, attempt or picture for this visitor
    ├── Refused             an input outside what is allowed; names the field
    ├── StaleTab            another tab has acted since this one last looked
    ├── AttemptClosed       the attempt has ended and takes no more actions
    ├── StationClosed       a station of a circuit has closed; names the circuit
    └── StoreUnavailable    the database cannot be opened, read or written
"""

# ruff: noqa: N818 -- each name says what happened, and the tree says that it is an error


class ServiceError(Exception):
    """Base of every error the service raises on purpose."""


class BadSetting(ServiceError):
    """A setting holds a value it must not."""


class NotFound(ServiceError):
    """The thing asked for does not exist, or belongs to another visitor."""


class Refused(ServiceError):
    """An input outside what is allowed.

    The message says which field, what came and what is allowed; `field` is the field's name.
    """

    def __init__(self, message: str, field: str) -> None:
        super().__init__(message)
        self.field = field


class StaleTab(ServiceError):
    """Another tab has acted on the attempt since this tab last looked.

    `fresh` is the attempt as it stands, where the service knows it, so that the answer can
    show it.
    """

    def __init__(self, fresh: object = None) -> None:
        super().__init__("another tab has acted")
        self.fresh = fresh


class AttemptClosed(ServiceError):
    """The attempt has ended and takes no more actions."""


class StationClosed(ServiceError):
    """A station of a circuit has closed, by its bell or because it was left."""

    def __init__(self, circuit_id: str) -> None:
        super().__init__("the station has closed")
        self.circuit_id = circuit_id


class StoreUnavailable(ServiceError):
    """The database cannot be opened, read or written; the message names it."""
