"""What a terminal is told: numbers as predicted, colours where it has them, nothing that harms it."""

from __future__ import annotations

import dataclasses
import io
import re
from pathlib import Path

import numpy as np
import pytest

from layersim import colour
from layersim.render.terminal import (
    card_text,
    lights_text,
    prediction_text,
    sheen_words,
    shelf_text,
    shows_colour,
    swatch,
)
from layersim.scheme.prediction import Prediction
from layersim.scheme.records import Scheme
from layersim.scheme.simulate import simulate
from layersim.shelf import Place, Shelf
from layersim.swatchcard import swatch_card
from tests.examples import CHALK, GLOSS, MOSS, PLUM, RUST

DAY = colour.Viewing()
ESCAPES = re.compile(r"\x1b\[[\d;]*m")


@pytest.fixture
def prediction(rig: Scheme) -> Prediction:
    return simulate(rig, tones=4, sites=2, draws=8)


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


class TestShowsColour:
    @pytest.mark.parametrize(
        ("terminal", "environment", "shown"),
        [
            (True, {"TERM": "xterm"}, True),
            (True, {"TERM": "dumb"}, False),
            (True, {}, False),
            (False, {"TERM": "xterm"}, False),
            (False, {"FORCE_COLOR": "1"}, True),
            (True, {"TERM": "xterm", "NO_COLOR": "1"}, False),
            (False, {"FORCE_COLOR": "1", "NO_COLOR": "1"}, False),
            (True, {"TERM": "xterm", "NO_COLOR": ""}, True),
        ],
    )
    def test_by_terminal_and_wish(
        self, monkeypatch: pytest.MonkeyPatch, terminal: bool, environment: dict[str, str], shown: bool
    ) -> None:
        monkeypatch.delenv("TERM", raising=False)
        for name, value in environment.items():
            monkeypatch.setenv(name, value)
        assert shows_colour(_Terminal() if terminal else io.StringIO()) is shown


class TestSwatch:
    def test_without_colour_the_words_come_back(self) -> None:
        assert swatch(np.array([50.0, 0.0, 0.0]), DAY, " 50 ", in_colour=False) == " 50 "

    def test_with_colour_they_stand_on_it_and_it_ends_with_them(self) -> None:
        lab = colour.lab_of_hex("#3d4c74")
        assert swatch(lab, DAY, " 32 ", in_colour=True) == "\x1b[48;2;61;76;116m\x1b[97m 32 \x1b[0m"
        assert "\x1b[30m" in swatch(np.array([80.0, 0.0, 0.0]), DAY, "x", in_colour=True)

    def test_colour_changes_nothing_of_the_words(self, prediction: Prediction) -> None:
        plain, coloured = (prediction_text(prediction, in_colour=flag) for flag in (False, True))
        assert "\x1b" not in plain
        assert [line.rstrip() for line in ESCAPES.sub("", coloured).splitlines()] == [
            line.rstrip() for line in plain.splitlines()
        ]


class TestPrediction:
    def test_every_stage_has_its_row_of_lightnesses_and_range(self, prediction: Prediction) -> None:
        lines = prediction_text(prediction, in_colour=False).splitlines()
        for area in prediction.areas:
            start = lines.index(f"{area.name}    (deepest shadow on the left, full highlight on the right)")
            axis = lines[start + 1].split("L*")[1].split()
            assert axis == [f"{shade:.0f}" for shade in area.shade]
            for i, stage in enumerate(area.stages):
                row = lines[start + 2 + i]
                assert row.strip().startswith(stage.name)
                assert row.endswith(stage.recipe)
                numbers, rest = row.split(stage.name, 1)[1].split("±", 1)
                assert numbers.split() == [f"{lab[0]:.0f}" for lab in area.lab[i]]
                assert rest.split()[0] == f"{area.reach[i].mean():.1f}"

    def test_the_finish_has_its_colour_for_a_screen_its_lab_and_its_range(
        self, prediction: Prediction
    ) -> None:
        text = prediction_text(prediction, in_colour=False)
        area = prediction.areas[0]
        for word, tone in (("shadow", 0), ("mid", 1), ("light", 3)):
            [line] = [x for x in text.splitlines() if x.startswith(f"  Finished {word}")][:1]
            lab = area.lab[-1, tone]
            shown = colour.on_screen(area.xyz[-1, tone], prediction.viewing.white)
            assert colour.hex_of(shown.rgb) in line
            assert [float(v) for v in line.split("Lab")[1].split()[:3]] == pytest.approx(lab, abs=0.051)
            assert f"L* {area.lab_low[-1, tone, 0]:.0f} to {area.lab_high[-1, tone, 0]:.0f}" in line

    def test_filter_targets_and_doubts_are_said(self, prediction: Prediction) -> None:
        text = prediction_text(prediction, in_colour=False)
        area = prediction.areas[0]
        shift = area.filter_shift()
        assert shift is not None
        moved = ", ".join(f"{d:.1f}" for d in shift)
        assert f"The filter, before chips and varnish, moves the tones by ΔE00 {moved}." in text
        assert f"Target for the light tone: ΔE00 {area.target_misses()['light'][2]:.1f} away" in text
        cause = area.causes[0]
        assert f"Most in doubt: {cause.what} (ΔE00 {cause.delta_e:.1f}): {cause.advice}" in text

    def test_a_filter_that_comes_last_is_before_nothing(self, rig: Scheme) -> None:
        last = dataclasses.replace(rig.areas[0], coats=rig.areas[0].coats[:3])
        text = prediction_text(simulate(dataclasses.replace(rig, areas=(last,)), draws=0), in_colour=False)
        assert "  The filter moves the tones by ΔE00 " in text

    def test_chosen_stages_are_not_called_finished(self, prediction: Prediction) -> None:
        some = dataclasses.replace(prediction, areas=(prediction.areas[0].only([2]),))
        text = prediction_text(some, in_colour=False)
        assert "After base: shadow" in text
        for wrong in ("Finished", "Target", "filter", "Most in doubt"):
            assert wrong not in text

    def test_a_colour_outside_the_screen_is_flagged_in_its_cell_and_in_words(
        self, prediction: Prediction
    ) -> None:
        area = prediction.areas[0]
        lab = area.lab.copy()
        lab[2, 1] = lab[-1, 0] = [50.0, -120.0, 20.0]
        beyond = dataclasses.replace(area, lab=lab, xyz=colour.xyz_from_lab(lab, DAY.white))
        text = prediction_text(dataclasses.replace(prediction, areas=(beyond,)), in_colour=False)
        assert text.count(" 50* ") == 2
        assert "* Outside what screens show: the real colour has more chroma than the block." in text
        [line] = [line for line in text.splitlines() if line.startswith("  Finished shadow")]
        assert line.endswith("(outside what screens show; nearest given)")
        assert "*" not in prediction_text(prediction, in_colour=False).replace("L*", "")

    def test_no_zero_is_negative(self, rig: Scheme) -> None:
        grey = dataclasses.replace(rig.areas[1], coats=())
        text = prediction_text(simulate(dataclasses.replace(rig, areas=(grey,)), draws=0), in_colour=False)
        assert "-0.0" not in text

    def test_without_a_pre_shade_the_axis_is_a_share_of_light(self, rig: Scheme) -> None:
        bare = dataclasses.replace(rig.areas[1], preshade=None)
        text = prediction_text(
            simulate(dataclasses.replace(rig, areas=(bare,)), tones=3, draws=0), in_colour=False
        )
        [line] = [line for line in text.splitlines() if "facing the light, %" in line]
        assert line.split("%")[1].split() == ["0", "50", "100"]

    def test_lights_are_compared_tone_by_tone(self, rig: Scheme) -> None:
        one, two = (simulate(rig, tones=3, draws=0, viewing=colour.Viewing(x)) for x in ("D65", "FL11"))
        head, cloth, strap = lights_text([one, two]).splitlines()
        assert head.startswith("Finished tones, beside those under D65")
        shift = colour.delta_e_2000(one.areas[0].lab[-1], two.areas[0].lab[-1])
        assert cloth.split() == ["FL11", "cloth", *(f"{d:.1f}" for d in shift)]
        assert "strap" in strap


class TestShelf:
    def test_a_row_for_every_paint(self, shelf: Shelf) -> None:
        lines = shelf_text(shelf.places(), in_colour=False).splitlines()
        assert lines[0].split() == ["name", "kind", "solids", "one", "coat", "from"]
        assert [line[8:].split("  ")[0] for line in lines[1:]] == shelf.names()
        [ink] = [line for line in lines if "plum ink" in line]
        assert ink.split()[2:6] == ["ink", "10", "%", "1.2"]
        assert ink.endswith("plum-ink.toml, invented")

    def test_starters_and_measured_paints_are_told_apart(self) -> None:
        measured = dataclasses.replace(RUST, invented=False)
        rows = shelf_text(
            [Place(measured, Path("mine.toml"), starter=False), Place(RUST, Path("x.toml"), starter=True)],
            in_colour=False,
        ).splitlines()
        assert rows[1].endswith("mine.toml")
        assert rows[2].endswith("starter, invented")

    def test_an_empty_one(self) -> None:
        assert shelf_text([], in_colour=False) == "The shelf is empty."


class TestCard:
    def test_what_it_says_of_a_paint(self) -> None:
        card = swatch_card(MOSS)
        text = card_text(card, Path("moss.toml"), in_colour=False)
        assert text.startswith("moss green (paint; invented: plausible, measured by nobody)")
        assert "volume solids 25 %, one unthinned coat 3 µm dry (12 µm wet), sheen matt" in text
        assert "masstone (opaque)" in text
        for words in ("1 coat over white", "2 coats over white", "8 coats over black"):
            assert words in text
        assert [float(x) for x in re.findall(r"contrast ratio (\d\.\d\d)\n", text)] == pytest.approx(
            card.contrast, abs=0.0051
        )
        assert re.search(r"Hides \(contrast ratio 0\.98\) at \d+ µm dry: about \d+ such coats\.", text)
        assert "How sure: half a coat to four, unthinned (3 µm dry each)" in text
        assert "Most in doubt: pigment load, ΔE00 " in text
        assert text.endswith("From moss.toml")
        assert "-0.0" not in text

    def test_a_measured_paint_says_by_what_and_a_note_is_shown(self) -> None:
        paint = dataclasses.replace(RUST, invented=False, provenance="three swatches", note="shake well")
        text = card_text(swatch_card(paint), Path("x"), in_colour=False)
        assert "rust (paint; three swatches)" in text
        assert "\n  shake well\n" in text
        assert "How sure this is: not known." in text

    def test_hiding_in_words(self) -> None:
        strong = dataclasses.replace(CHALK, wet_film_um=400.0)
        assert "about 1 such coat." in card_text(swatch_card(strong), Path("x"), in_colour=False)
        assert "Never hides: a clear material." in card_text(swatch_card(GLOSS), Path("x"), in_colour=False)
        weak = dataclasses.replace(PLUM, K_per_um=np.full(31, 1e-4), S_per_um=np.full(31, 1e-4))
        assert "Hides at no film that anybody sprays" in card_text(
            swatch_card(weak), Path("x"), in_colour=False
        )

    def test_colours_no_screen_shows_are_flagged(self) -> None:
        K = np.where(np.abs(np.arange(400, 701, 10) - 520) < 25, 0.0005, 3.0)
        green = dataclasses.replace(MOSS, K_per_um=K, S_per_um=np.full(31, 0.5))
        text = card_text(swatch_card(green), Path("x"), in_colour=False)
        [line] = [line for line in text.splitlines() if "masstone" in line]
        assert line.endswith("(outside what screens show; nearest given)")


@pytest.mark.parametrize(
    ("sheen", "words"), [(0.05, "gloss"), (0.4, "satin"), (1.0, "matt"), (0.0, "0 (0 gloss, 1 matt)")]
)
def test_sheens_in_words(sheen: float, words: str) -> None:
    assert sheen_words(sheen) == words
