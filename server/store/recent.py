"""A small memory of what was used last, shared by threads; what is forgotten is read again."""

from collections import OrderedDict
from threading import Lock
from typing import Generic, TypeVar

Value = TypeVar("Value")


class Recent(Generic[Value]):
    """The values of the names that were used last."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._lock = Lock()
        self._values: OrderedDict[str, Value] = OrderedDict()

    def get(self, name: str) -> Value | None:
        """Return the value kept under a name, or None."""
        with self._lock:
            if name in self._values:
                self._values.move_to_end(name)
            return self._values.get(name)

    def drop(self, name: str) -> None:
        """Forget a name."""
        with self._lock:
            self._values.pop(name, None)

    def keep(self, name: str, value: Value) -> None:
        """Keep a value; the one longest unused is forgotten."""
        with self._lock:
            self._values[name] = value
            self._values.move_to_end(name)
            while len(self._values) > self._most:
                self._values.popitem(last=False)
