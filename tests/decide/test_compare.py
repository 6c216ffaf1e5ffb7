"""Comparisons: differences, their ranges, and whether they matter."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import layersim
from layersim import colour
from layersim.chance import Source
from layersim.decide.choices import Choice, asked_in_words, choices_of
from layersim.decide.compare import (
    NO_DIFFERENCE,
    aligned_rows,
    compare,
    shared_key,
)
from layersim.decide.eye import SEEN
from layersim.errors import LayersimError, UnknownNameError
from layersim.scheme.simulate import AreaModel
from layersim.shelf import Shelf, starter_folder
from layersim.views import words
from layersim.views.compare import difference_words, target_words, verdict_words

DEMO = layersim.demo_scheme()
PLAIN = layersim.load_scheme(DEMO, Shelf([starter_folder()]))
CLOTH = ["wax cloth"]


def compared(*texts, tones=3, areas=CLOTH, draws=24, **more):
    choices = choices_of(DEMO, [asked_in_words(text) for text in texts], areas=areas)
    return compare(choices, tones=tones, areas=areas, draws=draws, **more)


def only(*texts, **more):
    comparison = compared(*texts, **more)
    [area] = comparison.areas
    return area, area.differences[0]


def test_a_scheme_compared_with_itself_has_no_difference_at_all():
    comparison = compare([Choice("a", PLAIN), Choice("b", layersim.load_scheme(DEMO))], tones=3, draws=8)
    assert comparison.areas == ()
    assert comparison.same == ("wax cloth", "straps", "lamp glass", "lamp frame")


def test_what_differs_only_in_an_unseen_layer_does_not_matter():
    # The filter's thickness under an opaque coat: stages differ, the finish does not.
    cover = "satin varnish = carbon black; satin varnish.dry film = 500"
    choices = choices_of(
        DEMO, [asked_in_words(f"a: {cover}"), asked_in_words(f"b: {cover}; filter.coats = 3")], areas=CLOTH
    )
    [area] = compare(choices[1:], tones=3, areas=CLOTH, draws=8).areas
    [difference] = area.differences
    assert difference.delta_e.max() < NO_DIFFERENCE
    assert difference.high.max() < NO_DIFFERENCE
    assert not difference.matters.any()
    assert verdict_words(area, difference).startswith(
        "The choice does not matter: the finished tones are the same"
    )


def test_swapping_the_choices_flips_every_sign_and_nothing_else():
    choices = choices_of(DEMO, [asked_in_words("two: filter.coats = 2")], areas=CLOTH)
    one, two = (compare(pair, tones=3, areas=CLOTH, draws=16).areas[0] for pair in (choices, choices[::-1]))
    forth, back = one.differences[0], two.differences[0]
    np.testing.assert_allclose(forth.delta_e, back.delta_e, atol=1e-12)
    np.testing.assert_allclose(forth.low, back.low, atol=1e-12)
    np.testing.assert_allclose(forth.own, back.own, atol=1e-12)
    np.testing.assert_allclose(forth.change, -back.change, atol=1e-9)
    np.testing.assert_allclose(forth.change_low, -back.change_high, atol=1e-9)
    light = " ".join(difference_words(one, forth)), " ".join(difference_words(two, back))
    assert "darker" in light[0]
    assert "lighter" in light[1]


def test_the_same_hand_and_bottles_for_both_narrow_the_range():
    _, difference = only("two: filter.coats = 2", draws=64)
    paired, apart = difference.high - difference.low, difference.apart_high - difference.apart_low
    assert (paired < 0.6 * apart).all()
    assert (difference.low <= difference.delta_e).all()
    assert (difference.delta_e <= difference.high).all()


def test_predictions_are_those_of_a_preview_of_the_changed_scheme(tmp_path):
    area, _ = only("other: highlight = 4 bone : 1 sky blue; filter.coats = 2")
    text = DEMO.read_text().replace(
        'mix = { "pale blue grey" = 4, "sky blue" = 1 }', "mix = { bone = 4, 'sky blue' = 1 }"
    )
    file = tmp_path / "changed.toml"
    file.write_text(
        text.replace("coats = 1                                   # one or two", "coats = 2   # one or two")
    )
    previewed = layersim.simulate(layersim.load_scheme(file), tones=3, draws=0).areas[0]
    np.testing.assert_allclose(area.choices[1].area.lab, previewed.lab, atol=1e-9)


def test_another_pre_shade_is_compared_at_the_same_places_of_the_model():
    area, difference = only("fewer: preshade.passes = 15", tones=5)
    thin, full = (choice.area.shade for choice in reversed(area.choices))
    assert (thin < full).all()
    model = AreaModel(PLAIN, PLAIN.areas[0], tones=5)
    fewer = choices_of(DEMO, [asked_in_words("fewer: wax cloth/preshade.passes = 15")])[1].scheme
    # At half the film of 30 passes stands what 15 passes leave at the same exposure.
    other = AreaModel(fewer, fewer.areas[0], tones=5, places=model.places)
    np.testing.assert_allclose(other.exposure, model.exposure)
    np.testing.assert_allclose(other.shade, thin)
    assert difference.delta_e.max() > 1.0


def test_another_light_is_judged_by_an_eye_used_to_it():
    area, difference = only("lamp: lamp = A")
    under = colour.Viewing("A")
    alike = colour.lab_alike(
        colour.xyz(area.choices[0].area.reflectance, under), under=under, to=colour.Viewing()
    )
    np.testing.assert_allclose(area.choices[1].area.lab, alike, atol=1e-9)
    # An eye gets used to a bulb: what is left is much less than L*a*b* of either light by itself would say.
    own = colour.lab(area.choices[0].area.reflectance[-1], under)
    apart = colour.delta_e_2000(area.choices[0].area.lab[-1], own)
    assert 0.05 < difference.delta_e.mean() < 0.5 * apart.mean()


def test_gloss_is_darker_than_matt_in_the_shadow():
    area, difference = only("matt: satin varnish = matt varnish")
    assert difference.change[0, 0] > 1.0
    assert "lighter" in difference_words(area, difference)[1]


def test_other_lights_tell_of_metamerism():
    _, difference = only("bone: highlight = 4 bone : 1 sky blue", lights=["A", "D65"])
    np.testing.assert_allclose(difference.under["D65"], difference.delta_e, atol=1e-12)
    assert abs(difference.under["A"] - difference.delta_e).max() > 0.05
    with pytest.raises(UnknownNameError, match="LED-B9"):
        compared("bone: highlight = bone", lights=["LED-B9"])


def test_the_verdict_is_of_the_distribution_of_the_difference():
    for text, start in (
        ("a trace: highlight.dry film = 1.21", "The choice does not matter: nobody will see it"),
        ("a little: highlight.dry film = 1.3", "It can't be told whether the choice matters"),
        ("much: base = 3 bone : 1 sky blue", "The choice matters"),
    ):
        area, difference = only(text)
        one, two = area.choices
        drawn = colour.delta_e_2000(one.finish, two.finish) >= SEEN
        assert difference.matters.tolist() == (drawn.mean(axis=0) >= 0.95).tolist()
        assert (
            difference.untold.tolist() == ((drawn.mean(axis=0) > 0.05) & (drawn.mean(axis=0) < 0.95)).tolist()
        )
        assert verdict_words(area, difference).startswith(start)


def test_the_verdict_is_no_toss_of_a_coin():
    """Other draws of the same hand never turn "matters" into "does not"."""
    choices = choices_of(DEMO, [asked_in_words("a little: filter.dry film = 0.82")], areas=CLOTH)
    told = set()
    for seed in range(4):
        [area] = compare(choices, tones=3, areas=CLOTH, seed=seed).areas
        difference = area.differences[0]
        told |= {"matters"} if difference.matters.any() else set()
        told |= {"does not"} if not (difference.matters | difference.untold).any() else set()
    assert len(told) <= 1


def test_a_steadier_hand_makes_a_choice_matter():
    texts = (
        "a little: filter.dry film = 0.95",
        "steady: hand.film = 0.01; hand.parts = 0; filter.dry film = 0.95",
    )
    choices = choices_of(DEMO, [asked_in_words(t) for t in texts], areas=CLOTH)
    steady = replace(PLAIN, hand=choices[2].scheme.hand)
    [area] = compare([Choice("a", steady), choices[2]], tones=3, areas=CLOTH, draws=16).areas
    [rough] = compare(choices[:2], tones=3, areas=CLOTH, draws=16).areas
    assert (area.choices[0].repeat < 0.2 * rough.choices[0].repeat).all()


def test_the_verdict_names_the_tones_that_matter():
    area, difference = only("bone: highlight = bone; highlight.coats = 5", tones=9)
    first = int(difference.matters.argmax())
    assert difference.matters[first:].all()
    assert 0 < first < 9
    where = f"from where the preshade is L* {area.choices[0].area.shade[first]:.0f} up"
    assert (where if first < 8 else where[5:-3]) in verdict_words(area, difference)


def test_the_sentence_on_the_highlight_says_what_its_chroma_does_before_and_after_the_filter():
    area, difference = only("bone: highlight = 4 bone : 1 sky blue", tones=9)
    one, two = (choice.area for choice in area.choices)
    before, _ = one.filter_span
    bare, finished = (colour.lch([one.lab[i, -1], two.lab[i, -1]])[:, 1] for i in (before, -1))
    assert bare[1] / bare[0] < finished[1] / finished[0] < 0.95
    light = next(line for line in difference_words(area, difference) if line.startswith("Light"))
    assert words.chroma_words(finished[0], finished[1]) in light
    said = words.given_back_words(bare[1] / bare[0] - 1, finished[1] / finished[0] - 1, step="the filter")
    assert said
    assert light.endswith(f"; {said}.")


def test_the_filter_itself_as_a_choice():
    area, difference = only("bare: without filter")
    assert difference.before_delta_e is None
    assert [row.stages for row in area.rows if row.name == "filter"] == [(5, None)]
    assert "before the filter" not in " ".join(difference_words(area, difference))


def test_targets_tell_which_is_nearest():
    area, _ = only("far: base = warm yellow")
    far = [np.mean([miss for _, _, miss in c.area.target_misses().values()]) for c in area.choices]
    assert target_words(area) == [
        f'Nearest to the targets (mean ΔE00): "as written" {far[0]:.1f}; others: "far" {far[1]:.1f}.'
    ]
    close, _ = only("near: filter.dry film = 0.73")
    [said] = target_words(close)
    assert said.startswith('About equally far from the targets, all of them (mean ΔE00: "as written" ')


def test_stages_are_aligned_by_name_whatever_was_left_out_or_added():
    rows = aligned_rows(
        [["primer", "base", "shade", "filter"], ["primer", "base", "filter", "chips"], ["primer", "shade"]]
    )
    assert {row.name: row.stages for row in rows} == {
        "primer": (0, 0, 0),
        "base": (1, 1, None),
        "shade": (2, None, 1),
        "filter": (3, 2, None),
        "chips": (None, 3, None),
    }


def test_schemes_are_compared_by_their_areas_names():
    other = replace(PLAIN, areas=(PLAIN.areas[1], replace(PLAIN.areas[0], name="cloak")))
    comparison = compare([Choice("a", PLAIN), Choice("b", other)], tones=2, draws=4)
    assert comparison.same == ("straps",)
    assert any("wax cloth is left out: b has none of that name" in notice for notice in comparison.notices)
    alien = replace(PLAIN, areas=(replace(PLAIN.areas[0], name="x"), replace(PLAIN.areas[1], name="y")))
    with pytest.raises(LayersimError, match="found no area that all of the schemes have"):
        compare([Choice("a", PLAIN), Choice("b", alien)], tones=2, draws=4)
    # One area each: whatever they are called.
    lone = [replace(PLAIN, areas=(replace(PLAIN.areas[i], name=n),)) for i, n in ((0, "x"), (1, "y"))]
    assert compare([Choice("a", lone[0]), Choice("b", lone[1])], tones=2, draws=4).areas


def test_steps_of_the_same_name_share_the_hands_error_in_both_schemes():
    without = choices_of(DEMO, [asked_in_words("x: without shade")], areas=CLOTH)[1].scheme
    keys = []
    for scheme in (PLAIN, without):
        model = AreaModel(scheme, scheme.areas[0], tones=2)
        keys.append({shared_key(model.area, factor.key) for factor in model.factors})
    gone = keys[0] - keys[1]
    assert keys[1] <= keys[0]
    assert Source("film", ("shade", 0)) in gone
    assert all("shade" in str(key) or "black ink" in str(key) for key in gone)


def test_impossible_numbers_are_refused():
    with pytest.raises(ValueError, match="tones: found 1"):
        compared("two: filter.coats = 2", tones=1)
    with pytest.raises(ValueError, match="draws: found 1"):
        compared("two: filter.coats = 2", draws=1)
    with pytest.raises(UnknownNameError, match=r'no "cloth" among the areas\. Did you mean "wax cloth"'):
        compare(choices_of(DEMO, [asked_in_words("lamp = A")]), areas=["cloth"])


def test_given_greys_and_a_sprayed_pre_shade_are_lined_up_from_shadow_to_light():
    area, difference = only("greys: preshade.greys = 28 to 85", tones=5)
    given, sprayed = (choice.area.shade for choice in reversed(area.choices))
    np.testing.assert_allclose(given, sprayed, atol=0.7)
    assert difference.delta_e.max() < 3.0
