"""Pictures whole or not at all, and only under names that say what they are."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import pytest
from PIL import Image

from layersim import colour
from layersim.errors import OutputError
from layersim.writers import saving
from layersim.writers.saving import save_figures, save_sheet
from layersim.writers.sheet import DPI, Sheet
from layersim.writers.whole import check_name

PICTURES = ("png", "pdf", "svg")


@pytest.fixture
def sheet() -> Sheet:
    made = Sheet(2.0, 1.0, colour.Viewing())
    made.block(0.5, 0.25, 1.0, 0.5, "#336699")
    made.text(1.0, 0.5, "words", align="center")
    return made


@pytest.mark.parametrize("ending", [*PICTURES, "PNG"])
@pytest.mark.parametrize("as_figures", [True, False])
def test_a_page_is_written_in_every_format(
    sheet: Sheet, tmp_path: Path, ending: str, as_figures: bool
) -> None:
    path = tmp_path / f"x.{ending}"
    if as_figures:
        save_figures([sheet.finish()], path)
    else:
        save_sheet(sheet, path)
    start = {"png": b"\x89PNG", "pdf": b"%PDF", "svg": b"<?xml"}[ending.lower()]
    assert path.read_bytes().startswith(start)
    assert list(tmp_path.iterdir()) == [path]
    if ending.lower() == "png":
        with Image.open(path) as picture:
            assert picture.size == (2 * DPI, DPI)
            assert picture.convert("RGB").getpixel((DPI, DPI // 2 - 30)) == (0x33, 0x66, 0x99)


@pytest.mark.parametrize("name", ["x.jpg", "x", "x.txt", "x.gif"])
def test_other_endings_are_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(OutputError, match="a picture is written as png, pdf, svg or html, by the name's end"):
        check_name(tmp_path / name)


def test_a_near_ending_is_offered(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r'Did you mean "png"\?'):
        check_name(tmp_path / "x.pgn")


@pytest.mark.parametrize("ending", PICTURES)
def test_nothing_is_written_where_nothing_can_be(sheet: Sheet, tmp_path: Path, ending: str) -> None:
    with pytest.raises(OutputError, match="there is no folder"):
        save_sheet(sheet, tmp_path / "no" / f"x.{ending}")
    (tmp_path / f"x.{ending}").mkdir()
    with pytest.raises(OutputError, match="this is a folder"):
        save_sheet(sheet, tmp_path / f"x.{ending}")
    with pytest.raises(OutputError, match="this is a folder"):
        check_name(tmp_path / f"x.{ending}")


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_a_page_longer_than_any_is_refused(
    sheet: Sheet, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ending: str
) -> None:
    assert saving._LONGEST * DPI < 2**16  # what the plotting library can draw
    monkeypatch.setattr(saving, "_LONGEST", 0.5)
    with pytest.raises(OutputError, match=r"too long for one page; choose some of it with --area .* \.pdf"):
        save_sheet(sheet, tmp_path / f"x.{ending}")
    assert list(tmp_path.iterdir()) == []


def test_letters_that_no_xml_may_hold_break_no_svg(sheet: Sheet, tmp_path: Path) -> None:
    sheet.text(1.0, 0.5, "cloth\ufffe and\uffff -- lining", align="center")
    save_figures([sheet.finish()], tmp_path / "odd.svg")
    assert ElementTree.parse(tmp_path / "odd.svg").getroot().tag.endswith("svg")
