"""The file of a card's layout, read and written; its keys are declared in :mod:`layersim.measure.card`."""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from layersim.documents.document import Document
from layersim.documents.keys import read_keys
from layersim.documents.table import Table
from layersim.documents.writing import key_rows, toml
from layersim.errors import CardFileError
from layersim.files import write_whole
from layersim.measure.card import CARD_KEYS, CardLayout, CardPatch, Mark, Neutral, Rect
from layersim.measure.swatchkeys import each

Placed = TypeVar("Placed", Mark, CardPatch, Neutral, Rect)
FORMAT = 1
_SLACK_MM = 1e-6


def read_card(path: Path) -> CardLayout:
    """Return the layout that a card file gives.

    Raises CardFileError if the file can't be read, is not a card, or places something off the card.
    """
    document = Document(path, what="card", error=CardFileError, keys=CARD_KEYS)
    top = document.top
    with document.gather():
        document.check_format(FORMAT)
    values = read_keys(top, CARD_KEYS)
    whole = Rect(0.0, 0.0, *values["size_mm"])

    def placed(key: str, record: Callable[..., Placed], *, named: str = "name") -> tuple[Placed, ...]:
        make = functools.partial(_placed, record=record, whole=whole)
        found = values[key]
        if found is None or isinstance(found, Table):
            found = [] if found is None else [found]
        return each(found, CARD_KEYS[key].kind.keys or {}, make, named=named)

    layout = CardLayout(
        name=values["name"],
        width_mm=whole.width_mm,
        height_mm=whole.height_mm,
        marks=placed("mark", Mark, named="number"),
        patches=placed("patch", CardPatch),
        neutrals=placed("neutral", Neutral),
        surround=placed("surround", _itself),
        chart=next(iter(placed("chart", _itself)), None),
    )
    with document.gather():
        if len(layout.marks) == 1:
            raise top.fault("mark", "one mark", "four marks (two at the least), or none")
    document.finish()
    return layout


def _itself(rect: Rect) -> Rect:
    return rect


def _placed(row: Table, values: dict[str, Any], *, record: Callable[..., Placed], whole: Rect) -> Placed:
    """Return what lies on a card; raises Fault where it lies beside it."""
    found = record(**values)
    rect = found if isinstance(found, Rect) else found.rect
    right, bottom = rect.x_mm + rect.width_mm, rect.y_mm + rect.height_mm
    beyond = max(-rect.x_mm, -rect.y_mm, right - whole.width_mm, bottom - whole.height_mm)
    if beyond > _SLACK_MM:
        raise row.fault(
            "centre_mm" if isinstance(found, Mark) else "rect_mm",
            f"x {rect.x_mm:g} to {right:g}, y {rect.y_mm:g} to {bottom:g} mm",
            f"a place on the card of {whole.width_mm:g} × {whole.height_mm:g} mm",
        )
    return found


def card_text(layout: CardLayout) -> str:
    """Return a layout as the text of a card file; :func:`read_card` gives the layout back."""
    lines = [
        f'format = "layersim card {FORMAT}"',
        f"name = {toml(layout.name)}",
        f"size_mm = {toml([layout.width_mm, layout.height_mm])}",
        "",
        "# Millimetres from the upper left corner of the card, x to the right, y down.",
        "# rect_mm = [x, y, width, height]",
    ]
    parts: tuple[tuple[str, str, tuple[Any, ...]], ...] = (
        (
            "[[mark]]",
            "Marks of the family 36h11. A card without any needs its corners with each photograph.",
            layout.marks,
        ),
        ("[[patch]]", "coats = 0 is the bare ground.", layout.patches),
        (
            "[[neutral]]",
            "Reflectance: one number, or 31 from 400 to 700 nm by 10 nm. Put measured ones here.",
            layout.neutrals,
        ),
        (
            "[[surround]]",
            "Bare parts of the card, all alike: uneven light is known from them.",
            layout.surround,
        ),
        ("[chart]", "The outer edge of the chart's 24 patches.", (layout.chart,) if layout.chart else ()),
    )
    for heading, remark, records in parts:
        if records:
            lines += ["", f"# {remark}"]
        for record in records:
            lines += [heading, *_rows(record)]
    return "\n".join(lines) + "\n"


def _rows(record: Any) -> list[str]:
    if not isinstance(record, Rect):
        return key_rows(record)
    written = CARD_KEYS["surround"].kind.keys or {}
    return [f"{key} = {toml(one.kind.written(record))}" for key, one in written.items()]


def write_card_file(path: Path, layout: CardLayout) -> None:
    """Write a layout as a card file; raises OutputError if that can't be done."""
    write_whole(path, card_text(layout))
