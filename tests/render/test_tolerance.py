"""The picture and the table of how forgiving a scheme is."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

import layersim
from layersim.decide.tolerance import tolerance
from layersim.render.tolerance import SHOWN, tolerance_figure, tolerance_text

PLAIN = layersim.load_scheme(layersim.demo_scheme())


@pytest.fixture(scope="module")
def result():
    return tolerance(PLAIN, batches=300)


def words_in(figure):
    return [text for axes in figure.axes for text in axes.texts]


def test_bars_are_ranked_and_the_threshold_is_marked(result):
    said = [text.get_text() for text in words_in(tolerance_figure(result))]
    assert said.count("visible 1.8") == 3
    for area in result.areas:
        assert area.name in said
        places = [said.index(slip.what.split(" instead of ")[0]) for slip in area.slips[:3]]
        assert all(place >= 0 for place in places)


def test_no_words_run_off_the_page(result):
    figure = tolerance_figure(result)
    figure.canvas.draw()
    for text in words_in(figure):
        box = text.get_window_extent()
        assert box.x0 >= 0.0, text.get_text()
        assert box.x1 <= figure.bbox.width, text.get_text()


def test_bars_do_not_run_into_the_histogram(result):
    figure = tolerance_figure(result)
    figure.canvas.draw()
    edge = 6.95 * figure.dpi
    numbers = [text for text in words_in(figure) if ", at most " in text.get_text()]
    assert len(numbers) == sum(min(SHOWN, len(area.slips)) for area in result.areas)
    assert max(text.get_window_extent().x1 for text in numbers) < edge


def test_the_table_says_chance_habit_hand_and_how_good_the_fit_is(result):
    text = tolerance_text(result)
    assert text.count("What would help most:") == 3
    assert text.count("Chance that they differ visibly") == 3
    assert "Over all areas together" in text
    assert "common practice, no source" in text
    assert "300 batches, seed 0" in text
    assert "off by ΔE00 0.0" in text


def test_no_habit_is_offered_that_changes_no_figure(result):
    area = result.areas[0]
    useless = [replace(gain, chance=area.chance, typical=area.typical) for gain in area.gains]
    one = replace(result, areas=(replace(area, gains=(area.gains[0], *useless[1:])),))
    assert "Or: " not in tolerance_text(one)
    none = replace(result, areas=(replace(area, gains=tuple(useless)),))
    for text in (
        tolerance_text(none),
        "\n".join(text.get_text() for text in words_in(tolerance_figure(none))),
    ):
        assert "No single habit would help much." in text
        assert "Or: " not in text


def test_a_perfect_hand_can_be_drawn():
    steady = replace(PLAIN.hand, models=0.0, drift=0.0, slips=0.0, sheen=0.0)
    result = tolerance(replace(PLAIN, hand=steady), areas=["straps"], batches=20)
    assert tolerance_figure(result).get_size_inches()[1] > 3.0
    assert "less than 1 %" in tolerance_text(result)


def test_the_last_bar_is_labelled_as_all_beyond_and_the_thin_line_explained(result):
    said = [text.get_text() for text in words_in(tolerance_figure(result))]
    assert len([words for words in said if re.fullmatch(r"[\d.]+\+", words)]) == 3
    assert sum("thin line" in words for words in said) == 3


def test_no_batch_is_lost_beyond_the_scale(result):
    # All worst pairs but one in the first bar, and one far beyond: the last bar holds it.
    area = replace(result.areas[0], worst=np.array([0.01] * 999 + [1000.0]))
    figure = tolerance_figure(replace(result, areas=(area,)))
    [polygons] = figure.axes[0].collections
    edges = [path.get_extents() for path in polygons.get_paths()]
    bars = [box for box in edges if box.x0 >= 6.9 and box.width > 0.05 and box.height > 0.0005]
    assert max(box.x1 for box in bars if box.width < 0.2) == pytest.approx(10.7, abs=0.05)


def test_a_light_fits_beside_its_bar(result):
    said = [text.get_text() for text in words_in(tolerance_figure(result))]
    assert "seen under a neutral LED lamp (LED-B3)" in said
