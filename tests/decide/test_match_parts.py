"""Targets, recipes and what is weighed."""

from __future__ import annotations

import dataclasses
import math
import warnings

import numpy as np
import pytest

from layersim import colour
from layersim.decide.answer import unlikeness
from layersim.decide.recipes import Limits, levels, pots, ratios
from layersim.decide.targets import surface_can_be, tone_targets
from layersim.errors import LayersimError
from layersim.optics import mixing
from layersim.scheme.records import Mix, Targets
from layersim.views.match import unmixed_words
from tests.examples import CHALK, MOSS, PLUM

VIEW = colour.Viewing()


@pytest.mark.parametrize(("paints", "drops"), [(2, 12), (3, 12), (3, 5)])
def test_ratios_are_every_proportion_once(paints, drops):
    found = [tuple(row) for row in ratios(paints=paints, drops=drops).tolist()]
    assert len(found) == len({tuple(n / row[0] for n in row) for row in found})
    assert all(math.gcd(*row) == 1 and sum(row) <= drops for row in found)
    every = {
        tuple(n // math.gcd(*row) for n in row)
        for row in np.ndindex(*(drops + 1,) * paints)
        if min(row) > 0 and sum(row) <= drops
    }
    assert set(found) == every


def test_least_drops_multiplies_a_ratio_or_leaves_it_out():
    found = {tuple(row) for row in ratios(paints=2, drops=6, least_drops=2).tolist()}
    assert found == {(2, 2), (2, 3), (3, 2), (2, 4), (4, 2)}


def test_levels_try_an_equal_film_once_in_the_fewest_coats():
    found = levels(Limits(coats=(1, 2, 3, 4), thinnings=(0.0, 1.0)))
    assert [(level.units, level.coats, level.thinning) for level in found] == [
        (0.5, 1, 1.0),
        (1.0, 1, 0.0),
        (1.5, 3, 1.0),
        (2.0, 2, 0.0),
        (3.0, 3, 0.0),
        (4.0, 4, 0.0),
    ]


def test_amounts_are_what_a_mix_leaves():
    shelf = pots((MOSS, PLUM, CHALK), Limits())
    sets, parts = np.array([[0, 1], [1, 2]]), np.array([[4, 1], [1, 3]])
    amounts, sheen = shelf.amounts(sets[:, np.newaxis], parts)
    for i, pair in enumerate(sets):
        for j, drops in enumerate(parts):
            mix = Mix(tuple((shelf.paints[p], float(d)) for p, d in zip(pair, drops, strict=True)))
            shares = mixing.dry_shares(parts=mix.parts, volume_solids=mix.solids)
            np.testing.assert_allclose(amounts[i, j], shares * mix.wet_film_um * mix.volume_solids)
            assert sheen[i, j] == pytest.approx(mix.sheen)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"paints_at_most": 0}, "paints at most: found 0; expected a whole number from 1 to 3"),
        ({"drops": 0}, "drops: found 0"),
        ({"drops": 3, "least_drops": 4}, "least drops: found 4; expected a whole number from 1 to the drops"),
        ({"coats": ()}, "coats: found []"),
        ({"coats": (0, 1)}, "coats: found [0, 1]"),
        ({"thinnings": (-1.0,)}, "thinning: found [-1.0]"),
        ({"wet_film_um": 0.0}, "wet film: found 0.0"),
    ],
)
def test_impossible_limits_are_told(given, says):
    with pytest.raises(LayersimError) as told:
        Limits(**given)
    assert says in str(told.value)


def test_an_empty_shelf_is_told():
    with pytest.raises(LayersimError, match="shelf to search is empty"):
        pots((), Limits())


def test_targets_lie_on_straight_lines_and_not_beyond():
    targets = Targets(shadow=np.array([20.0, 0.0, 0.0]), mid=np.array([40.0, 10.0, -4.0]))
    wanted = tone_targets(targets, tones=9, viewing=VIEW)
    assert wanted.counted.tolist() == [True] * 5 + [False] * 4
    np.testing.assert_allclose(wanted.lab[2], [30.0, 5.0, -2.0])
    assert wanted.given == {"shadow": 0, "mid": 4}


def test_no_target_is_told():
    with pytest.raises(LayersimError, match="no target"):
        tone_targets(Targets(), tones=9, viewing=VIEW)


@pytest.mark.parametrize(
    "lab", [[20.0, 0.0, 100.0], [50.0, 120.0, 120.0], [95.0, 60.0, 0.0], [100.0, 10.0, 0.0]]
)
def test_colours_that_no_surface_has_are_told(lab):
    assert not surface_can_be(np.array(lab), VIEW)
    with pytest.raises(LayersimError, match="expected a colour that a surface can"):
        tone_targets(Targets(light=np.array(lab)), tones=5, viewing=VIEW)


def test_every_reflectance_is_a_possible_surface():
    draw = np.random.default_rng(2)
    steps = (draw.random((300, 31)) < 0.5).astype(float)  # the strongest there are: all or nothing
    smooth = draw.random((300, 31))
    for lab in colour.lab(np.concatenate([steps, smooth]), VIEW):
        assert surface_can_be(lab, VIEW)


def test_metamerism_is_that_of_published_illuminants():
    """Against CIE illuminants and observer as colour-science publishes them, summed by nanometres."""
    # The library sets numpy's way of printing for the whole process.
    with warnings.catch_warnings(), np.printoptions():
        warnings.simplefilter("ignore")
        import colour as science

        fine = science.SpectralShape(400, 700, 1)
        observer = science.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(fine).values
        spectra = {
            light: science.SDS_ILLUMINANTS[light].copy().align(fine).values
            for light in ("D65", "A", "FL11", "LED-B3")
        }

    def one(nm):
        return 0.35 + 0.25 * np.sin(nm / 55.0)

    def two(nm):
        # Two bands up, one down: nearly the same under D65, another colour under other lights.
        bands = ((470, 18, 0.12), (520, 18, -0.10), (610, 20, 0.05))
        return one(nm) + sum(height * np.exp(-(((nm - at) / wide) ** 2)) for at, wide, height in bands)

    coarse, every = np.arange(400.0, 701.0, 10.0), np.arange(400.0, 701.0)

    def xyz(R, light):
        weights = observer * spectra[light][:, np.newaxis]
        return 100.0 * (R @ weights) / weights[:, 1].sum()

    for light in ("A", "FL11", "LED-B3"):
        white = xyz(np.ones(301), light)
        # CIE 15: what is off under the first light is divided out under the second.
        corrected = xyz(one(every), light) * xyz(two(every), "D65") / xyz(one(every), "D65")
        expected = colour.delta_e_2000(
            colour.lab_from_xyz(corrected, white), colour.lab_from_xyz(xyz(two(every), light), white)
        )
        got = unlikeness(one(coarse), two(coarse), viewing=VIEW, light=light)
        assert expected > 0.5
        # 10 nm weights of a line spectrum miss a little of what 1 nm sees.
        assert float(got) == pytest.approx(float(expected), abs=0.25 if light == "FL11" else 0.05)


def test_a_spectrum_is_like_itself_under_every_light():
    R = np.linspace(0.1, 0.8, 31)
    for light in colour.LIGHTS:
        assert unlikeness(R, R, viewing=VIEW, light=light) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("carriers", "says"),
    [
        (("water", "water", ""), ""),
        (
            ("water", "oil", "water"),
            "paints carried by water, by oil (paint 1). Coats of their own may follow",
        ),
        (("oil", "solvent"), "No two of these paints can be mixed in one film"),
        (("oil", "solvent"), "(paint 0 by oil, paint 1 by solvent): each is tried by itself"),
        (("water",) * 5 + ("oil",) * 4, "by oil (paint 5, paint 6, paint 7, ...)"),
    ],
)
def test_mixes_left_out_for_their_carriers_are_told(carriers, says):
    paints = [dataclasses.replace(MOSS, name=f"paint {i}", carrier=c) for i, c in enumerate(carriers)]
    said = unmixed_words(paints, paints_at_most=2)
    assert says in said
    assert bool(said) == bool(says)
    assert unmixed_words(paints, paints_at_most=1) == ""
