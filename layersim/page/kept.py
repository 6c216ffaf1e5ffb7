"""The last few of something, by names that nobody guesses."""

from __future__ import annotations

import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Generic, TypeVar

from layersim.errors import UnknownNameError

Value = TypeVar("Value")


def new_name() -> str:
    """Return a name that nobody guesses."""
    return secrets.token_urlsafe(9)


class Memory(Generic[Value]):
    """The last few answers by all that they depend on; of more, the one asked for longest ago goes."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._lock = threading.Lock()
        self._kept: OrderedDict[str, Value] = OrderedDict()

    def get(self, key: str) -> Value | None:
        """Return what was worked out before, if it is kept."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def put(self, key: str, value: Value) -> None:
        """Keep what was worked out."""
        with self._lock:
            self._kept[key] = value
            self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)


class Kept(Generic[Value]):
    """The last few of something; of more, the oldest goes. May be asked from any thread.

    `gone` is what is said of one that is not kept any more, and `let_go` is called with each that goes.
    """

    def __init__(self, most: int, *, gone: str, let_go: Callable[[Value], None] = lambda _: None) -> None:
        self._most, self._gone, self._let_go = most, gone, let_go
        self._lock = threading.Lock()
        self._kept: OrderedDict[str, Value] = OrderedDict()

    def keep(self, value: Value, *, name: str = "") -> str:
        """Keep one, and return the name by which it is found: a new one if none is given."""
        name = name or new_name()
        with self._lock:
            self._kept[name] = value
            too_many = len(self._kept) - self._most
            old = [self._kept.popitem(last=False)[1] for _ in range(too_many)]
        for one in old:
            self._let_go(one)
        return name

    def find(self, name: str) -> Value:
        """Return one; raises UnknownNameError if it is not kept."""
        with self._lock:
            if name not in self._kept:
                raise UnknownNameError(self._gone)
            return self._kept[name]
