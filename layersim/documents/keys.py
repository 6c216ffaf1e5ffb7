"""A record's keys, declared once beside its fields: kind, range, unit, default, and what they mean.

A field whose file has a key of the same name says so in its type::

    film: Annotated[float, Key(number(0, 1), "relative error of a coat's film")] = 0.15

:func:`keys_of` finds them, :func:`read_keys` reads a table by them, :func:`check_record` holds a record
that was made in Python to the same ranges, and docs/keys.md is generated from them.
"""

from __future__ import annotations

import dataclasses
import functools
import typing
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from layersim.documents.kinds import Kind
from layersim.documents.table import MOST_ROWS, Table

REQUIRED: Final[Any] = object()
"""Default of a key that must be there."""


@dataclass(frozen=True)
class Key:
    """One key of a table."""

    kind: Kind
    words: str = ""
    """What it means."""
    default: Any = REQUIRED
    """For a record's field, the field's own."""
    field: str = ""
    """The record's field, where that has another name."""
    name: str = ""
    """The key, where a record's field has another name."""
    remark: str = ""
    """Said beside it in files that are written."""
    was: str = ""
    """What it was once called; files that say so are still read, with a notice."""

    def read(self, table: Table, name: str) -> Any:
        """Return the value of this key, its default where it is missing; raises Fault."""
        if name not in table and self.default is not REQUIRED:
            return self.default
        return self.kind.read(table, name, None if self.default is REQUIRED else self.default)


def section(keys: Mapping[str, Key], record: Callable[..., Any] | None = None) -> Kind:
    """Return the kind of a table, read into a record; with no record it is handed on as a table."""

    def read(table: Table, key: str, _: Any) -> Any:
        inner = table.table(key)
        return inner if inner is None or record is None else record(**read_keys(inner, keys))

    return Kind(read, "a table", keys=keys)


def rows(keys: Mapping[str, Key], *, most: int = MOST_ROWS, least: int = 0) -> Kind:
    """Return the kind of headings in double brackets, handed on as tables."""

    def read(table: Table, key: str, _: Any) -> list[Table]:
        found = table.tables(key, most=most)
        if len(found) < least:
            raise table.fault(key, "nothing", f"at least one {key}, under a heading [[{key}]]")
        return found

    return Kind(read, f"headings, {most} at most", (), keys=keys, rows=True)


def keys_of(record: Callable[..., Any], **more: Key) -> dict[str, Key]:
    """Return the keys that a record's fields declare, in order, and some more."""
    return {**_declared(record), **more}


@functools.cache
def _declared(record: Callable[..., Any]) -> dict[str, Key]:
    hints = typing.get_type_hints(record, include_extras=True)
    found = {}
    for entry in dataclasses.fields(record):  # type: ignore[arg-type]
        key = next((m for m in getattr(hints[entry.name], "__metadata__", ()) if isinstance(m, Key)), None)
        if key is not None:
            default = REQUIRED if entry.default is dataclasses.MISSING else entry.default
            if entry.default_factory is not dataclasses.MISSING:
                default = entry.default_factory()
            found[key.name or entry.name] = dataclasses.replace(key, default=default, field=entry.name)
    return found


def read_keys(table: Table, keys: Mapping[str, Key], *, only: bool = True) -> dict[str, Any]:
    """Return a table's values by the record's fields, every fault noted in its document.

    With `only`, a key that is not among these is a fault.
    """
    values = {}
    for name, key in keys.items():
        if key.was:
            table.also_read(key.was, name)
        instead = key.kind.instead if key.default is REQUIRED else key.default
        values[key.field or name] = table.document.attempt(functools.partial(key.read, table, name), instead)
    if only:
        table.no_other_keys()
    return values


def check_record(record: Any) -> None:
    """Raise ValueError where a field of a record is not in its declared range."""
    for name, key in keys_of(type(record)).items():
        value = getattr(record, key.field)
        usual = type(value) is type(key.default) and value == key.default
        if not usual and (broken := key.kind.rule(value)):
            raise ValueError(f"{name} {broken}")


def headings(keys: Mapping[str, Key]) -> dict[str, tuple[str, ...]]:
    """Return under which headings each key of a document stands, where it is none of the top."""
    found: dict[str, tuple[str, ...]] = {}
    for heading, _, inner in sections(keys):
        for key in inner:
            if heading and key not in keys:
                found[key] = (*found.get(key, ()), heading)
    return found


def sections(keys: Mapping[str, Key], path: str = "") -> Iterator[tuple[str, Key | None, Mapping[str, Key]]]:
    """Yield every table of a document, the top first: its heading, its key, what stands under it."""
    if not path:
        yield "", None, keys
    for name, key in keys.items():
        if inner := key.kind.keys:
            below = f"{path}{name}"
            yield (f"[[{below}]]" if key.kind.rows else f"[{below}]"), key, inner
            yield from sections(inner, f"{below}.")
