"""Tables between markers in a text that people write."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table in Markdown; the first column is text, the others are numbers."""
    lines = ["| " + " | ".join(head) + " |", "|---|" + "---:|" * (len(head) - 1)]
    lines += ["| " + " | ".join(row) + " |" for row in rows]
    return "\n".join(lines)


def written_into(text: str, tables: Mapping[str, str]) -> str:
    """Return the text with each table between its markers; new ones are added at the end.

    `tables`: by name; the markers are ``<!-- table: NAME -->`` and ``<!-- end -->``.
    """
    for name, content in tables.items():
        block = f"<!-- table: {name} -->\n{content}\n<!-- end -->"
        between = re.compile(rf"<!-- table: {re.escape(name)} -->.*?<!-- end -->", re.DOTALL)
        # Not between.sub: a backslash in a table would mean something else in a replacement text.
        pieces = between.split(text)
        found = len(pieces) - 1
        text = block.join(pieces)
        if found > 1:
            raise ValueError(f"the markers of table {name} stand there {found} times")
        if not found:
            text = f"{text.rstrip()}\n\n{block}\n"
    return text


def rewrite(path: Path, tables: Mapping[str, str]) -> None:
    """Write tables into a file, whole or not at all; a missing file is made."""
    before = path.read_text(encoding="utf-8") if path.exists() else "# Validation\n"
    beside = path.with_suffix(".part")
    beside.write_text(written_into(before, tables), encoding="utf-8")
    beside.replace(path)
