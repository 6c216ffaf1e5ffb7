"""The reference of all keys, as Markdown, out of their declarations."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from layersim.documents.keys import REQUIRED, Key, sections
from layersim.documents.writing import toml


def reference(what: str, keys: Mapping[str, Key]) -> str:
    """Return the keys of one kind of document: a table for each heading in it."""
    lines = [f'## {what.capitalize()}: `format = "layersim {what} 1"`', ""]
    same: dict[tuple[str, ...], str] = {}
    for heading, key, inner in sections(keys):
        if heading and key is not None:
            most = f" ({key.kind.words})" if key.kind.rows else ""
            lines += [f"### `{heading}`", "", f"{_sentence(key.words)}{most}", ""]
        entries = tuple(_entry(name, one) for name, one in inner.items() if not one.kind.keys)
        if entries in same:
            lines += [f"The keys of `{same[entries]}`.", ""]
            continue
        same[entries] = heading
        lines += ["| key | what may stand there | left out | meaning |", "|---|---|---|---|", *entries, ""]
    return "\n".join(lines)


def _entry(name: str, key: Key) -> str:
    cells = (f"`{name}`", key.kind.words, _left_out(key), key.words)
    return f"| {' | '.join(cell.replace('|', '/') for cell in cells)} |"


def _left_out(key: Key) -> str:
    default = key.default if key.default is REQUIRED else key.kind.written(key.default)
    if default is REQUIRED:
        return "must be there"
    if default is None or default in ("", (), []) or not isinstance(default, bool | int | float | str):
        return _estimate_words(default)
    return f"`{toml(default)}`"


def _estimate_words(default: Any) -> str:
    value = getattr(default, "value", None)
    return f"`{value:.3g}`" if isinstance(value, float) else ""


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}."
