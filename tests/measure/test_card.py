"""The card: its layout file there and back, and a drawing that a reader not ours understands."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from layersim.errors import CardFileError, OutputError
from layersim.measure.card import CardLayout, Rect, standard_card
from layersim.measure.cardfile import card_text, read_card, write_card_file
from layersim.measure.cardprint import PAGES_MM, write_card
from tests.measure.camera import card_image

MM_PER_POINT = 25.4 / 72.0


def test_file_gives_the_layout_back(tmp_path: Path) -> None:
    spectrum = tuple(np.round(np.linspace(0.2, 0.3, 31), 4).tolist())
    layout = standard_card(coats=(1, 2, 4, 8), neutral_reflectance=(0.9, 0.2, 0.04))
    layout = replace(
        layout,
        name='a "quoted" card',
        neutrals=(replace(layout.neutrals[0], reflectance=spectrum), *layout.neutrals[1:]),
        chart=Rect(70.0, 70.0, 60.0, 20.0),
    )
    write_card_file(tmp_path / "card.toml", layout)
    assert read_card(tmp_path / "card.toml") == layout


def test_nothing_overlaps() -> None:
    layout = standard_card(coats=(1, 2, 3, 4, 6, 8))
    rects = [mark.rect for mark in layout.marks] + [p.rect for p in layout.patches]
    rects += [n.rect for n in layout.neutrals] + list(layout.surround)
    for i, a in enumerate(rects):
        for b in rects[i + 1 :]:
            apart = (
                a.x_mm + a.width_mm <= b.x_mm
                or b.x_mm + b.width_mm <= a.x_mm
                or a.y_mm + a.height_mm <= b.y_mm
                or b.y_mm + b.height_mm <= a.y_mm
            )
            assert apart, (a, b)


def test_surround_is_bare_and_marks_have_their_white_rim() -> None:
    layout = standard_card()
    scale = 10.0
    drawn = card_image(layout, px_per_mm=scale)

    def part(rect: Rect) -> np.ndarray:
        y, x = (
            slice(round(rect.y_mm * scale), round((rect.y_mm + rect.height_mm) * scale)),
            slice(round(rect.x_mm * scale), round((rect.x_mm + rect.width_mm) * scale)),
        )
        return drawn[y, x]

    for rect in layout.surround:
        assert part(rect).min() == 1.0
    for mark in layout.marks:
        rim = mark.side_mm / 8
        outer = part(mark.rect.inset(-1 / 8)).copy()
        width = round(rim * scale) - 2
        outer[width:-width, width:-width] = 1.0
        assert outer.min() == 1.0


def test_cards_for_other_coats_bear_other_marks() -> None:
    def marks(*coats: float) -> tuple[int, ...]:
        return tuple(mark.number for mark in standard_card(coats=coats).marks)

    assert marks(0.5, 1, 2, 4) == (0, 1, 2, 3) == tuple(mark.number for mark in standard_card().marks)
    others = [marks(1, 2, 4, 8), marks(1, 2, 4), marks(4, 2, 1, 0.5), marks(0.25, 0.5, 1, 2), marks(0.5)]
    assert all(min(found) >= 4 and found == tuple(range(found[0], found[0] + 4)) for found in others)
    assert len(set(others)) >= 4, "a checksum: a few share"
    assert marks(1, 2, 4, 8) == (8, 9, 10, 11)  # printed cards must stay readable


@pytest.mark.parametrize("page", PAGES_MM)
def test_pdf_has_the_size_of_the_page(tmp_path: Path, page: str) -> None:
    write_card(tmp_path / "card.pdf", standard_card(), page=page)
    raw = (tmp_path / "card.pdf").read_bytes()
    assert raw.startswith(b"%PDF")
    box = re.search(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", raw)
    assert box is not None
    found = np.array([float(box[1]), float(box[2])]) * MM_PER_POINT
    np.testing.assert_allclose(found, PAGES_MM[page], atol=0.1)
    assert raw == _again(tmp_path, page), "the same card gives the same file"


def _again(folder: Path, page: str) -> bytes:
    write_card(folder / "again.pdf", standard_card(), page=page)
    return (folder / "again.pdf").read_bytes()


def test_drawing_refuses_what_it_cannot_draw(tmp_path: Path) -> None:
    layout = standard_card()
    with pytest.raises(OutputError, match="A6, A4, letter"):
        write_card(tmp_path / "x.pdf", layout, page="A5")
    with pytest.raises(OutputError, match="does not fit"):
        write_card(tmp_path / "x.pdf", replace(layout, width_mm=300.0), page="A4")
    with pytest.raises(OutputError, match="no folder"):
        write_card(tmp_path / "none" / "x.pdf", layout)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("coats", "neutrals"),
    [((), None), ((1, 1), None), ((0,), None), ((1,), (0.9, 0.2)), ((1,), (0.9, 0.2, 0))],
)
def test_standard_card_refuses(coats: tuple[float, ...], neutrals: tuple[float, ...] | None) -> None:
    with pytest.raises(ValueError, match=r"expected|twice"):
        standard_card(coats=coats, neutral_reflectance=neutrals)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("size_mm = [148, 105]", "size_mm = [148]", "1 numbers; expected 2 numbers: [width, height]"),
        ("rect_mm = [22, 25.5, 14, 16]", "rect_mm = [140, 25.5, 14, 16]", "a place on the card of 148"),
        ("rect_mm = [22, 25.5, 14, 16]", "rect_mm = [22, 25.5, 0, 16]", "both above 0"),
        ("rect_mm = [22, 25.5, 14, 16]", "rect_mm = [22, 25.5, 16]", "3 numbers"),
        ('name = "black 2"', 'name = "black 1"', '"black 1" a second time'),
        ("number = 1", "number = 0", '"0" a second time'),
        ("reflectance = 0.18", "reflectance = [0.1, 0.2]", "2 numbers; expected one, or 31"),
        ("reflectance = 0.18", "reflectance = 0", "above 0"),
    ],
)
def test_bad_files_say_what_to_mend(tmp_path: Path, old: str, new: str, says: str) -> None:
    text = card_text(standard_card())
    assert old in text
    path = tmp_path / "card.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(CardFileError, match=re.escape(says)) as caught:
        read_card(path)
    assert str(path) in str(caught.value)


def test_own_card_needs_no_marks(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(
        'format = "layersim card 1"\nname = "own"\nsize_mm = [60, 40]\n'
        '[[patch]]\nname = "w1"\nground = "white"\ncoats = 1\nrect_mm = [5, 5, 20, 20]\n',
        encoding="utf-8",
    )
    layout = read_card(path)
    assert isinstance(layout, CardLayout)
    assert layout.marks == ()
    path.write_text(path.read_text(encoding="utf-8").split("[[patch]]")[0], encoding="utf-8")
    with pytest.raises(CardFileError, match="at least one patch"):
        read_card(path)
