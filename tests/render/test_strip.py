"""The strip: every tone in its own colour, every word in its place, and whole files or none."""

from __future__ import annotations

import dataclasses
import io
import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms, ImageFont

from layersim import colour
from layersim.decide.words import SCALE
from layersim.render import strip
from layersim.writers.raster import Words
from layersim.writers.saving import save_figures
from layersim.writers.sheet import DPI
from layersim.render.strip import save_strips, shift_words, strip_figure
from layersim.render.terminal import prediction_text
from layersim.scheme.prediction import AreaPrediction, Prediction
from layersim.scheme.records import GreysGiven, Scheme
from layersim.scheme.simulate import simulate


@pytest.fixture
def prediction(rig: Scheme) -> Prediction:
    return simulate(rig, tones=5, sites=2, draws=8)


def words_of(*predictions: Prediction) -> list[str]:
    return [one.words for one in strip._strip(predictions).words]


def with_area(prediction: Prediction, **others: object) -> Prediction:
    area = dataclasses.replace(prediction.areas[0], **others)  # type: ignore[arg-type]
    return dataclasses.replace(prediction, areas=(area,))


class TestPicture:
    def test_every_tone_stands_there_in_the_colour_it_is_predicted_in(
        self, prediction: Prediction, tmp_path: Path
    ) -> None:
        save_strips([prediction], tmp_path / "x.png")
        with Image.open(tmp_path / "x.png") as picture:
            counts = {rgb: count for count, rgb in picture.getcolors(1 << 24) or []}
        for area in prediction.areas:
            for stage in range(len(area.stages)):
                shown = colour.on_screen(area.xyz[stage], prediction.viewing.white)
                for rgb in np.rint(shown.rgb * 255).astype(int).tolist():
                    assert counts.get(tuple(rgb), 0) > 1000, (area.name, stage, rgb)

    def test_it_is_as_wide_as_a_page_and_says_which_colours_are_meant(
        self, prediction: Prediction, tmp_path: Path
    ) -> None:
        save_strips([prediction], tmp_path / "x.png")
        with Image.open(tmp_path / "x.png") as picture:
            assert picture.width == 11 * DPI
            assert picture.mode == "RGB"
            assert picture.info["dpi"] == pytest.approx((DPI, DPI), abs=0.1)
            profile = ImageCms.ImageCmsProfile(io.BytesIO(picture.info["icc_profile"]))
            assert "sRGB" in ImageCms.getProfileDescription(profile)

    def test_the_two_ways_of_drawing_agree(self, prediction: Prediction, tmp_path: Path) -> None:
        save_strips([prediction], tmp_path / "x.png")
        save_figures([strip_figure([prediction])], tmp_path / "figure.png")
        with Image.open(tmp_path / "x.png") as one, Image.open(tmp_path / "figure.png") as two:
            assert abs(one.height - two.height) <= 1
            size = (one.width // 10, one.height // 10)
            small = [
                np.asarray(p.convert("RGB").resize(size, Image.Resampling.BOX), float) for p in (one, two)
            ]
        assert np.abs(small[0] - small[1]).mean() < 3.0

    def test_pdf_has_a_page_for_each_area(self, prediction: Prediction, tmp_path: Path) -> None:
        save_strips([prediction], tmp_path / "x.pdf")
        content = (tmp_path / "x.pdf").read_bytes()
        assert content.startswith(b"%PDF")
        assert len(re.findall(rb"/Type\s*/Page\b", content)) == len(prediction.areas) == 2

    def test_svg_is_xml(self, prediction: Prediction, tmp_path: Path) -> None:
        save_strips([prediction], tmp_path / "x.svg")
        root = ElementTree.fromstring((tmp_path / "x.svg").read_text(encoding="utf-8"))
        assert root.tag.endswith("svg")

    @pytest.mark.parametrize("ending", ["png", "PNG", "pdf", "svg"])
    def test_names_in_any_letters(self, rig: Scheme, tmp_path: Path, ending: str) -> None:
        # Warnings are errors here: letters that the font lacks must not be news.
        area = dataclasses.replace(rig.areas[1], name="漆 🎨 $x_1$ \\alpha <&> %")
        made = dataclasses.replace(rig, name="Ünïcödé $", areas=(area,))
        save_strips([simulate(made, tones=2, sites=1, draws=0)], tmp_path / f"x.{ending}")
        assert (tmp_path / f"x.{ending}").stat().st_size > 5000

    @pytest.mark.parametrize("tones", [2, 60])
    def test_few_tones_and_many(self, rig: Scheme, tmp_path: Path, tones: int) -> None:
        save_strips([simulate(rig, tones=tones, sites=1, draws=4)], tmp_path / "x.png")
        with Image.open(tmp_path / "x.png") as picture:
            assert picture.width == 11 * DPI

    def test_an_area_without_coats(self, rig: Scheme, tmp_path: Path) -> None:
        bare = dataclasses.replace(rig.areas[0], coats=(), preshade=None)
        save_strips([simulate(dataclasses.replace(rig, areas=(bare,)), draws=4)], tmp_path / "x.png")

    def test_stages_chosen_from_some_areas(self, prediction: Prediction, tmp_path: Path) -> None:
        some = dataclasses.replace(prediction, areas=(prediction.areas[0].only([2, 4]),))
        save_strips([some, some], tmp_path / "x.png")
        words = words_of(some, some)
        assert not [said for said in words if said.startswith("The filter, before and after")]
        assert "Finished tones against the targets" not in words
        assert "“filter” under each light, for an eye used to it" in words


class TestWords:
    def test_what_must_stand_on_it(self, prediction: Prediction) -> None:
        words = words_of(prediction)
        for wanted in (
            "Test rig",
            "Predicted tones under D65 (average daylight), 2° observer. Not measured.",
            "cloth",
            "strap",
            "base",
            "varnish",
            "◀ deepest shadow",
            "full highlight ▶",
            "The filter, before and after; chips and varnish still to come",
            "before",
            "after",
            "Finished tones against the targets",
            "finish",
            "target",
        ):
            assert wanted in words
        every = " ".join(words)
        assert "4 moss green : 1 plum ink" in every
        assert "A dog-ear marks a colour outside what screens can show" in every
        assert "what leaves it most in doubt: film of" in every

    def test_the_terminal_names_as_many_causes(self, prediction: Prediction) -> None:
        text = prediction_text(prediction, in_colour=False)
        lines = " ".join(words_of(prediction))
        for area in prediction.areas:
            assert area.main_causes
            for cause in area.main_causes:
                assert f"{cause.what} (ΔE00 {cause.delta_e:.1f}): {cause.advice}" in text
                assert f"{cause.what} (ΔE00 {cause.delta_e:.1f}: {cause.advice})" in lines

    def test_the_scale_is_the_pre_shade_row_to_the_digit(self, rig: Scheme) -> None:
        # 73.5 given comes back from its reflectance a rounding lower.
        greys = dataclasses.replace(rig.areas[1], preshade=GreysGiven(30.0, 88.0, 1.0))
        seen = simulate(dataclasses.replace(rig, areas=(greys,)), sites=1, draws=0)
        words = words_of(seen)
        start = words.index("pre-shade L*") + 1
        scale = words[start : start + 9]
        assert "74" in scale
        again = words.index("pre-shade")
        row = [said for said in words[again:] if said.isdigit()][:9]
        assert row == scale

    def test_under_another_light_the_scale_says_that_it_is_daylights(self, rig: Scheme) -> None:
        words = words_of(simulate(rig, tones=3, sites=1, draws=0, viewing=colour.Viewing("A")))
        assert words.count("pre-shade L* (D65)") == 2
        assert "pre-shade L*" not in words

    def test_every_tone_bears_its_lightness_and_range(self, prediction: Prediction) -> None:
        words = words_of(prediction)
        area = prediction.areas[0]
        for stage in range(len(area.stages)):
            for tone in range(5):
                assert f"{area.lab[stage, tone, 0]:.0f}" in words
                low, high = area.lab_low[stage, tone, 0], area.lab_high[stage, tone, 0]
                if high - low >= 0.5:
                    assert f"{low:.0f}–{high:.0f}" in words

    def test_the_finish_bears_its_names_for_a_screen(self, prediction: Prediction) -> None:
        words = words_of(prediction)
        for area in prediction.areas:
            for xyz in area.xyz[-1]:
                assert colour.hex_of(colour.on_screen(xyz, prediction.viewing.white).rgb) in words

    def test_targets_and_the_filter_bear_their_differences(self, prediction: Prediction) -> None:
        words = words_of(prediction)
        area = prediction.areas[0]
        for _, _, miss in area.target_misses().values():
            assert f"ΔE00 {miss:.1f}" in words
        shift = area.filter_shift()
        assert shift is not None
        for one in shift:
            assert f"{one:.1f}" in words

    def test_without_draws_no_range_is_said(self, rig: Scheme) -> None:
        words = words_of(simulate(rig, tones=3, sites=1, draws=0))
        assert not [w for w in words if "–" in w and w.replace("–", "").isdigit()]
        assert not [w for w in words if w.startswith("mottle")]

    def test_several_lights_are_compared_at_the_finish(self, rig: Scheme) -> None:
        one, two = (simulate(rig, tones=3, sites=1, draws=0, viewing=colour.Viewing(x)) for x in ("D65", "A"))
        words = words_of(one, two)
        assert words.count("The finish under each light, for an eye used to it") == 2
        assert "A: incandescent bulb, 2856 K" in words
        shift = colour.delta_e_2000(one.areas[0].lab[-1], two.areas[0].lab[-1])
        assert f"{shift[0]:.1f}" in words

    def test_what_a_difference_means_is_said_as_elsewhere(self, prediction: Prediction) -> None:
        assert SCALE in " ".join(words_of(prediction))

    def test_notices_stand_at_the_foot(self, prediction: Prediction) -> None:
        assert "Note: mind the gap." in words_of(dataclasses.replace(prediction, notices=("mind the gap",)))

    def test_words_keep_to_their_place_however_long_the_names(self, rig: Scheme) -> None:
        long = "a name that goes on and on until nobody would read it, and then goes on a little more, and"
        coats = tuple(dataclasses.replace(coat, name=long) for coat in rig.areas[0].coats)
        area = dataclasses.replace(rig.areas[0], name=long, coats=coats)
        sheet = strip._strip([simulate(dataclasses.replace(rig, name=long, areas=(area,)), tones=9, draws=4)])
        first_block = min(x for shape in sheet.shapes if shape.corners[1][0] - shape.corners[0][0] < 2.0
                          for x, y in shape.corners if y < 4.0)  # fmt: skip
        for one in sheet.words:
            wide = _inches(one)
            left = {"left": one.x, "center": one.x - wide / 2, "right": one.x - wide}[one.align]
            assert left > 0.0
            assert left + wide < sheet.width, one.words
            if one.align == "left" and one.x < 1.0 and 1.2 < one.y < 1.2 + 0.6 * 7 and one.size < 12:
                assert left + wide < first_block, one.words


def _inches(one: Words) -> float:
    from layersim.writers.raster import _font_folder

    name = "DejaVuSans-Bold.ttf" if one.weight == "bold" else "DejaVuSans.ttf"
    font = ImageFont.truetype(
        _font_folder() / name, round(one.size * 10), layout_engine=ImageFont.Layout.BASIC
    )
    return font.getlength(one.words) / 10.0 / 72.0


class TestGamut:
    def test_a_colour_that_no_screen_shows_is_marked(self, prediction: Prediction) -> None:
        def ears(made: Prediction) -> int:
            return sum(len(shape.corners) == 3 for shape in strip._strip([made]).shapes)

        area = prediction.areas[0]
        assert ears(with_area(prediction)) == 0
        lab = area.lab.copy()
        lab[2, 3] = [50.0, -120.0, 20.0]
        marked = with_area(prediction, lab=lab, xyz=colour.xyz_from_lab(lab, prediction.viewing.white))
        assert ears(marked) == 2


class TestShiftWords:
    @pytest.mark.parametrize(
        ("before", "after", "said"),
        [
            ([50.0, 0.0, 0.0], [45.0, 0.0, 0.0], "On the whole: 5.0 L* darker, chroma unchanged."),
            ([50.0, 0.0, 0.0], [50.0, 0.0, 9.0], "On the whole: no change of lightness, chroma up 9.0."),
            ([50.0, 20.0, 0.0], [52.0, 10.0, 0.0], "On the whole: 2.0 L* lighter, chroma down 10.0."),
            ([50.0, 20.0, 0.0], [50.0, 0.0, 20.0], "hue turned 90° towards yellow."),
            ([50.0, 0.0, -20.0], [50.0, 20.0, 0.0], "hue turned 90° towards red."),
            ([50.0, 20.0, -1.0], [50.0, 20.0, -6.0], "hue turned 14° towards blue."),
            ([50.0, -20.0, 20.0], [50.0, -20.0, 10.0], "hue turned 18° towards green."),
        ],
    )
    def test_what_a_step_does(self, before: list[float], after: list[float], said: str) -> None:
        words = shift_words(np.array([before]), np.array([after]))
        assert words.endswith(said)

    def test_hue_across_360_degrees_turns_the_short_way(self) -> None:
        words = shift_words(np.array([[50.0, 20.0, -2.0]]), np.array([[50.0, 20.0, 2.0]]))
        assert "hue turned 11°" in words

    def test_the_hue_of_greys_is_not_spoken_of(self) -> None:
        words = shift_words(np.array([[50.0, 1.0, 0.0]]), np.array([[50.0, -1.0, 0.0]]))
        assert "hue" not in words


def test_the_area_of_these_tests_has_a_filter_and_targets(prediction: Prediction) -> None:
    area: AreaPrediction = prediction.areas[0]
    assert area.filter_span is not None
    assert len(area.target_misses()) == 2
