"""Keeping what was worked out last."""

from collections import OrderedDict
from collections.abc import Callable
from threading import Lock
from typing import Any, Generic, TypeVar

Value = TypeVar("Value")


class Cache(Generic[Value]):
    """Keeps what was worked out last; a key says everything that the value depends on.

    Whoever asks for a key that somebody is working out waits for that answer, and works out nothing himself.
    """

    def __init__(self, size: int) -> None:
        self._size, self._kept, self._lock = size, OrderedDict[Any, Value](), Lock()
        self._making: dict[Any, Lock] = {}

    def get(self, key: object, make: Callable[[], Value]) -> Value:
        """Return the value of a key, made now where it is not kept."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
            making = self._making.setdefault(key, Lock())
        with making:
            with self._lock:
                if key in self._kept:
                    return self._kept[key]
            try:
                value = make()
                with self._lock:
                    self._kept[key] = value
                    while len(self._kept) > self._size:
                        self._kept.popitem(last=False)
            finally:
                with self._lock:
                    self._making.pop(key, None)
        return value
