"""The picture and the table of a comparison."""

from __future__ import annotations

import re

import pytest

import layersim
from layersim.decide.choices import choices
from layersim.decide.compare import compare
from layersim.render.comparison import _columns, _row_heights, comparison_figure, comparison_text, letter

DEMO = layersim.demo_scheme()


@pytest.fixture(scope="module")
def comparison():
    texts = "bone: highlight = 4 bone : 1 sky blue", "bare: without filter", "lamp: light = LED-B3"
    chosen = choices(DEMO, *texts, areas=["wax cloth"])
    return compare(chosen, tones=5, areas=["wax cloth"], draws=8)


def words_in(figure):
    return [text for axes in figure.axes for text in axes.texts]


def test_every_stage_of_every_choice_is_in_the_picture(comparison):
    figure = comparison_figure(comparison)
    said = [text.get_text() for text in words_in(figure)]
    for stage in comparison.areas[0].choices[0].area.stages:
        assert stage.name in said
    assert {"A", "B", "C", "D"} <= {words[0] for words in said if words}
    assert "left out" in said
    assert "same recipe" in said
    assert any("under LED-B3" in words for words in said)
    assert "pre-shade L* (D65)" in said, "one choice is seen under another light"
    # Blocks: four choices of five tones, each stage once and the ends once more.
    [polygons] = figure.axes[0].collections
    blocks = 4 * 5 * 8 - 5 + 4 * 5
    assert len(polygons.get_paths()) >= blocks


def test_no_words_run_off_the_page(comparison):
    figure = comparison_figure(comparison)
    figure.canvas.draw()
    wide = figure.bbox.width
    for text in words_in(figure):
        box = text.get_window_extent()
        assert box.x0 >= 0.0, text.get_text()
        assert box.x1 <= wide, text.get_text()


def test_not_even_with_many_choices_do_the_targets_run_off_it():
    many = choices(DEMO, *(f"filter.coats = {count}" for count in range(2, 9)), areas=["wax cloth"])
    figure = comparison_figure(compare(many, tones=2, areas=["wax cloth"], draws=2))
    figure.canvas.draw()
    assert max(text.get_window_extent().x1 for text in words_in(figure)) <= figure.bbox.width


def test_before_and_after_the_filter_stand_beside_each_other_where_all_have_one():
    chosen = choices(DEMO, "two: filter.coats = 2", areas=["wax cloth"])
    both = comparison_figure(compare(chosen, tones=3, areas=["wax cloth"], draws=4))
    said = {text.get_text() for text in words_in(both)}
    assert {"Just before the filter", "Finished, pin wash and satin varnish included"} <= said


def test_the_table_says_what_lies_over_the_filter_when_finished(comparison):
    finished = "  Finished: pin wash and satin varnish included."
    assert finished in comparison_text(comparison, in_colour=False).splitlines()
    chosen = choices(DEMO, "two: filter.coats = 2", areas=["wax cloth"])
    both = comparison_text(compare(chosen, tones=3, areas=["wax cloth"], draws=4), in_colour=False)
    assert f"  Before filter: just before it.{finished[1:]}" in both.splitlines()


def test_long_recipes_are_wrapped_and_whole(comparison):
    figure = comparison_figure(comparison)
    said = [text.get_text() for text in words_in(figure)]
    assert not [words for words in said if words.endswith("…")]
    whole = " ".join(said)
    for stage in comparison.areas[0].choices[0].area.stages:
        assert stage.recipe in whole
    tall = _row_heights(comparison.areas[0])
    names = [row.name for row in comparison.areas[0].rows]
    assert tall[names.index("highlight")] > tall[names.index("primer")]


def test_wrapped_recipes_stay_in_their_column(comparison):
    figure = comparison_figure(comparison)
    figure.canvas.draw()
    wide, _ = _columns(comparison.areas[0])
    recipes = [text for text in words_in(figure) if " µm dry" in text.get_text()]
    assert recipes
    assert max(text.get_window_extent().width for text in recipes) <= wide * figure.dpi


def test_the_table_has_lightness_once_differences_and_ranges(comparison):
    text = comparison_text(comparison, in_colour=False)
    assert "\x1b" not in text
    area = comparison.areas[0]
    for index, choice in enumerate(area.choices):
        [row] = [
            r for r in text.splitlines() if re.match(rf"\s+(finished L\*)?\s+{letter(index)}\s+\d+\s", r)
        ]
        numbers = [float(v) for v in re.findall(r"\d+", row)]
        assert numbers == pytest.approx(choice.area.lab[-1, :, 0].tolist(), abs=0.51)
    assert text.count("finished L*") == 1
    assert "a*" not in text
    assert len(re.findall(r"ΔE00 A to [BCD]", text)) == 3
    assert text.count("happens anyway") == 3
    assert re.search(r'Nearest to the targets \(mean ΔE00\): ".+" \d+\.\d', text)
    assert max(len(row) for row in text.splitlines()) <= 110
    assert "\x1b[48;2;" in comparison_text(comparison, in_colour=True)


def test_a_picture_of_no_difference_says_so():
    plain = layersim.load_scheme(DEMO)
    same = compare([layersim.Choice("a", plain), layersim.Choice("b", plain)], tones=2, draws=2)
    assert "The same in every choice: wax cloth, straps and lamp glass." in comparison_text(
        same, in_colour=False
    )
    assert any("The same in every choice" in t.get_text() for t in words_in(comparison_figure(same)))
