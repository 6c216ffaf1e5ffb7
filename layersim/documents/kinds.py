"""What may stand for a key: how it is read, how that is said, and what a record made in Python must obey."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from layersim.documents.table import LONGEST_TEXT, Table, range_words
from layersim.names import LONGEST_NAME, name_fault

if TYPE_CHECKING:
    from layersim.documents.keys import Key


@dataclass(frozen=True)
class Kind:
    """One kind of value."""

    read: Callable[[Table, str, Any], Any]
    """Of a table, a key and its default (None where it must be there); raises Fault."""
    words: str
    """What may stand there, for the reference."""
    instead: Any = None
    """Something to go on with where the value had a fault."""
    rule: Callable[[Any], str] = lambda _: ""
    """What a value of a record breaks ("must be above 0"); empty where it is sound."""
    written: Callable[[Any], Any] = lambda value: value
    """A record's value as a file has it."""
    keys: Mapping[str, Key] | None = None
    """Of a table, or of tables."""
    rows: bool = False


def text(most: int = LONGEST_TEXT) -> Kind:
    """Return the kind of a text of one line."""
    return Kind(
        lambda table, key, usual: table.text(key, usual, most=most),
        f"text, {most} letters at most",
        "",
        lambda value: "" if len(value) <= most else f"must have {most} letters at most",
    )


def name(*, findable: bool = False) -> Kind:
    """Return the kind of a name, which is short; `findable` where something is looked for by it."""
    return Kind(
        lambda table, key, usual: table.name(key, usual, findable=findable),
        f"name, {LONGEST_NAME} letters at most",
        "",
        lambda value: name_fault(value) if findable else "",
    )


def word(options: tuple[str, ...], meant: Mapping[str, str] | None = None) -> Kind:
    """Return the kind of one of some words; `meant` says which one other words stand for."""
    return Kind(
        lambda table, key, usual: table.choice(key, options, usual or None, meant=meant),
        ", ".join(f'"{option}"' for option in options),
        options[0],
        lambda value: "" if value in options else f"must be one of {', '.join(options)}",
    )


def words(options: tuple[str, ...]) -> Kind:
    """Return the kind of one of some words, or a list of them."""
    listed = "some of " + ", ".join(f'"{option}"' for option in options)
    return Kind(
        lambda table, key, _: table.choices(key, options),
        listed,
        (),
        lambda value: "" if set(value) <= set(options) else f"must be of {', '.join(options)}",
    )


def flag() -> Kind:
    """Return the kind of true or false."""
    return Kind(lambda table, key, usual: table.flag(key, bool(usual)), "true or false", False)


def number(
    low: float = -math.inf,
    high: float = math.inf,
    *,
    above: float | None = None,
    unit: str = "",
    expected: str = "",
) -> Kind:
    """Return the kind of a finite number in a range; a share (at most 2) may be written "20 %"."""

    def rule(value: float) -> str:
        if low <= value <= high and (above is None or value > above):
            return ""
        most = f" and at most {high:g}" if math.isfinite(high) else ""
        return f"must be above {above:g}{most}" if above is not None else f"must lie within {low:g}..{high:g}"

    return Kind(
        lambda table, key, usual: table.number(
            key, usual, low=low, high=high, above=above, expected=expected
        ),
        range_words(low, high, above) + (f", {unit}" if unit else ""),
        high if above is not None else max(low, 0.0),
        rule,
    )


def whole(low: int, high: int) -> Kind:
    """Return the kind of a whole number in a range."""
    return Kind(
        lambda table, key, usual: table.whole(key, usual, low=low, high=high),
        f"a whole number from {low} to {high}",
        low,
    )


def special(read: Callable[[Table, str], Any], said: str, instead: Any = None) -> Kind:
    """Return a kind with a reader of its own, asked only where the key is there or must be."""
    return Kind(lambda table, key, _: read(table, key), said, instead)
