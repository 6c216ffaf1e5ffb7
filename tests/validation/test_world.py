"""Worlds with a broken assumption: each tends to the plain one, and departs from it the way it should."""

from __future__ import annotations

import dataclasses

import numpy as np

from tests.judge import radiative_transfer as judge
from tests.validation.broken import CASES, plain
from tests.validation.world import PRESHADE_UM, Layer, over_preshade

PLAIN = plain(held_out=False)
GLAZE = (Layer("phthalo green", 1.5), Layer("azo yellow", 0.8))


def test_the_plain_world_is_the_judge_itself() -> None:
    pigments = judge.TUNING
    white = judge.Film(pigments["titanium white"], PRESHADE_UM)
    films = [white, *(judge.Film(pigments[film.name], film.thickness_um) for film in GLAZE)]
    truth = judge.render(films, ground=judge.opaque(pigments["carbon black"]))
    np.testing.assert_allclose(over_preshade(PLAIN, GLAZE), truth, rtol=1e-12)


def test_joints_and_droplets_that_are_tiny_change_nothing() -> None:
    even = over_preshade(PLAIN, GLAZE)
    joined = over_preshade(dataclasses.replace(PLAIN, joint_um=1e-6), GLAZE)
    np.testing.assert_allclose(joined, even, atol=1e-6)
    # A white of which every place has its mean number of spots, give or take few.
    thin = [0, 1, 2]
    spotted = over_preshade(dataclasses.replace(PLAIN, spot_um=0.06), GLAZE)
    np.testing.assert_allclose(spotted[thin], even[thin], atol=0.012)


def test_a_joint_keeps_all_of_the_paint() -> None:
    # Two films of one paint, blended, are one film of it.
    white = (Layer("titanium white", 2.0),)
    blended = over_preshade(dataclasses.replace(PLAIN, joint_um=1.0), white)
    np.testing.assert_allclose(blended, over_preshade(PLAIN, white), atol=1e-9)


def test_droplets_leave_some_black_bare() -> None:
    spotted = over_preshade(dataclasses.replace(PLAIN, spot_um=5.0), ())
    even = over_preshade(PLAIN, ())
    # But for the thinnest, which the surface holds back: twice its film looks more than twice as light.
    middle = slice(4, 6)
    assert (spotted[middle] < 0.97 * even[middle]).all()
    np.testing.assert_allclose(spotted[0], even[0], rtol=1e-9)


def test_a_crowded_white_scatters_less_by_itself_than_in_mixtures() -> None:
    world = dataclasses.replace(PLAIN, crowding=0.2)
    full = PLAIN.pigments[PLAIN.white].mu_s_per_um
    np.testing.assert_allclose(world.pigment(PLAIN.white).mu_s_per_um, 0.8 * full)
    mixture = world.pigment("blue ink", 0.5)
    ink = PLAIN.pigments["blue ink"].mu_s_per_um
    np.testing.assert_allclose(mixture.mu_s_per_um, 0.5 * ink + 0.5 * 0.9 * full)


def test_a_surface_adds_its_first_reflection() -> None:
    world = dataclasses.replace(PLAIN, index=1.6)
    black, _ = world.grounds()
    first = (0.6 / 2.6) ** 2
    np.testing.assert_allclose(world.seen(black, surface=1.0) - world.seen(black), first, rtol=1e-9)


def test_every_row_has_pigments_to_tune_on_and_others_to_judge_by() -> None:
    for words, case in CASES.items():
        if "acrylics" in words:
            continue
        tuning, judging = case(False).world, case(True).world
        assert not set(tuning.pigments) & set(judging.pigments), words
