"""Keeping what was worked out last."""

from collections import OrderedDict
from collections.abc import Callable
from threading import Lock
from typing import Any, Generic, TypeVar

Value = TypeVar("Value")


class Cache(Generic[Value]):
    """Keeps what was worked out last; a key says everything that the value depends on."""

    def __init__(self, size: int) -> None:
        self._size, self._kept, self._lock = size, OrderedDict[Any, Value](), Lock()

    def get(self, key: object, make: Callable[[], Value]) -> Value:
        """Return the value of a key, made now where it is not kept."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        value = make()
        with self._lock:
            self._kept[key] = value
            while len(self._kept) > self._size:
                self._kept.popitem(last=False)
        return value
