"""What holds for every answer: each writer shows it whole, and no two tell different things."""

from __future__ import annotations

import dataclasses
import json
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageFont

from layersim import colour
from layersim.views import name_of
from layersim.views.parts import Beside, Part, Strips, TablePart, Tone, View, Words
from layersim.writers import data, picture, terminal
from layersim.writers.html import html
from layersim.writers.raster import Placed as Placed
from layersim.writers.raster import _font_folder
from layersim.writers.whole import save

ESCAPES = re.compile(r"\x1b\[[\d;]*m")
STRANGE = "漆 🎨 $x_1$ \\alpha <script>&"


def flat(parts: Sequence[Part]) -> Iterator[Part]:
    for part in parts:
        yield part
        if isinstance(part, Beside):
            yield from flat([*part.left, *part.right])


def tones_of(view: View) -> list[Tone]:
    found: list[Tone] = []
    for part in flat(view.parts):
        rows = [row.cells for row in part.rows] if isinstance(part, Strips) else []
        rows += list(part.rows) if isinstance(part, TablePart) else []
        found += [cell for row in rows for cell in row if isinstance(cell, Tone)]
    return found


class TestTerminal:
    def test_colour_changes_nothing_of_the_words(self, page: View) -> None:
        plain, coloured = (terminal.text(page, in_colour=flag) for flag in (False, True))
        assert "\x1b" not in plain
        assert [re.sub(r"\s+", " ", line).strip() for line in ESCAPES.sub("", coloured).splitlines()] == [
            re.sub(r"\s+", " ", line).strip() for line in plain.splitlines()
        ]
        assert bool(tones_of(page)) == ("\x1b[48;2;" in coloured)

    def test_sentences_keep_to_the_width(self, page: View) -> None:
        only = dataclasses.replace(page, parts=[p for p in flat(page.parts) if isinstance(p, Words)])
        assert max(map(len, terminal.text(only, width=72).splitlines())) <= max(72, len(page.title))

    def test_no_zero_is_negative(self, page: View) -> None:
        assert not re.search(r"-0\.0\b(?!\d)", terminal.text(page))


class TestPicture:
    def test_every_tone_is_there_in_its_colour(self, page: View, tmp_path: Path) -> None:
        save(page, tmp_path / "x.png")
        with Image.open(tmp_path / "x.png") as opened:
            counts = {rgb[:3]: count for count, rgb in opened.getcolors(1 << 24) or []}
        for tone in tones_of(page):
            shown = colour.lab_on_screen(tone.lab, page.viewing)
            rgb = tuple(np.rint(shown.rgb * 255).astype(int).tolist())
            assert counts.get(rgb, 0) > 500

    def test_no_words_run_off_the_page(self, page: View) -> None:
        sheet = picture._Page(page).sheet
        for one in sheet.words:
            wide = inches(one)
            left = {"left": one.x, "center": one.x - wide / 2, "right": one.x - wide}[one.align]
            assert left > 0.0, one.words
            assert left + wide < sheet.width, one.words
            assert 0.0 < one.y < sheet.height


def inches(one: Placed) -> float:
    name = "DejaVuSans-Bold.ttf" if one.weight == "bold" else "DejaVuSans.ttf"
    size = round(one.size * 10)
    font = ImageFont.truetype(_font_folder() / name, size, layout_engine=ImageFont.Layout.BASIC)
    return font.getlength(one.words) / 10.0 / 72.0


class TestHtml:
    def test_it_is_well_formed_runs_nothing_and_has_every_word(self, page: View) -> None:
        text = html(dataclasses.replace(page, title=STRANGE))
        root = ElementTree.fromstring(text.removeprefix("<!DOCTYPE html>\n"))
        assert not {element.tag for element in root.iter()} & {"script", "link", "iframe", "object"}
        said = " ".join(" ".join(root.itertext()).split())
        assert STRANGE in said
        for part in flat(page.parts):
            for line in part.lines if isinstance(part, Words) else ():
                assert " ".join(line.split()) in said
        assert text.count('class="tone ') == len(tones_of(page))


class TestData:
    def test_it_is_strict_and_comes_back_equal(self, answer: object) -> None:
        content = data.document(answer, name=name_of(answer))

        def refuse(word: str) -> None:
            raise AssertionError(f"{word} is no JSON")

        text = data.json_text(content)
        assert json.loads(text, parse_constant=refuse) == content
        assert content["format"] == f"layersim {name_of(answer)} {data.VERSION}"
        assert content["range_holds"] == 0.9
        assert content["wavelength_nm"] == list(range(400, 701, 10))
        assert "-0.0," not in text

    def test_every_number_is_the_answers_own(self, answer: object) -> None:
        """Arrays and numbers of the record stand in the data to six digits, wherever they are nested."""
        for said, known in pairs(data.plain(answer), answer):
            np.testing.assert_allclose(
                np.asarray(said, dtype=float), known, rtol=1e-5, atol=1e-300, equal_nan=True
            )


def pairs(said: Any, record: object) -> Iterator[tuple[Any, Any]]:
    if not dataclasses.is_dataclass(record) or not isinstance(said, dict):
        return
    for field in dataclasses.fields(record):
        if not field.metadata.get("json", True):
            assert field.name not in said
            continue
        known = getattr(record, field.name)
        numbers = isinstance(known, float) or (isinstance(known, np.ndarray) and known.dtype.kind == "f")
        if numbers and np.isfinite(known).all():
            yield said[field.name], known
        elif isinstance(known, tuple):
            for one, other in zip(said[field.name], known, strict=True):
                yield from pairs(one, other)
        else:
            yield from pairs(said[field.name], known)
