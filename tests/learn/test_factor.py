"""Films with one's own sprayer's factor and scatter."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np
import pytest

from layersim.chance import Source
from layersim.estimate import Estimate
from layersim.scheme.ownfilms import own_film, with_factor, with_own_scatter
from layersim.scheme.records import Scheme
from layersim.scheme.simulate import AreaModel
from layersim.sprayer import Sprayer
from tests.learn.sprayers import scheme_text


def test_a_factor_put_on_is_taken_off_again(read: Callable[[str], Scheme]) -> None:
    job = read(scheme_text(0))
    factored = with_factor(job, Estimate(1.3, 0.1))
    assert factored.areas[0].coats[0].dry_film_um == pytest.approx(1.3 * job.areas[0].coats[0].dry_film_um)
    bare = with_factor(factored, Estimate(1.0, 0.0))
    for one, other in zip(bare.areas[0].coats, job.areas[0].coats, strict=True):
        assert one.dry_film_um == pytest.approx(other.dry_film_um)


def test_what_nobody_measured_is_one_factor_for_all_coats(read: Callable[[str], Scheme]) -> None:
    """All films of the sprayer's own move together, by the same share as with a profile that is as unsure."""
    job = read(scheme_text(0))
    unsure = with_factor(job, own_film(None))
    seen = []
    for scheme in (job, unsure):
        model = AreaModel(scheme, scheme.areas[0], tones=3)
        [own] = [factor.key for factor in model.factors if factor.key.kind == "own film"]
        z = np.zeros((1, len(model.factors)))
        z[0, model.column[own]] = 1.0
        seen.append(model.reflectance(z)[0])
    assert seen[0] == pytest.approx(seen[1])
    thick = with_factor(job, Estimate(np.exp(own_film(None).error), 0.0))
    model = AreaModel(thick, thick.areas[0], tones=3, places=np.linspace(0.0, 1.0, 3))
    place = AreaModel(job, job.areas[0], tones=3, places=np.linspace(0.0, 1.0, 3))
    z = np.zeros((1, len(place.factors)))
    z[0, place.column[Source("own film")]] = 1.0
    # How spots scatter goes by the film that was planned, so that the two differ a little.
    sure = model.reflectance(np.zeros((1, len(model.factors))))
    np.testing.assert_allclose(place.reflectance(z), sure, atol=0.003)


def test_a_profile_says_how_uneven_the_hand_is(read: Callable[[str], Scheme]) -> None:
    job = read(scheme_text(0))
    sprayer = Sprayer("x", film_scatter=Estimate(0.05, 0.2))
    asked = dataclasses.replace(job, batch=dataclasses.replace(job.batch, sprayer=sprayer))
    # The root mean square of 0.05 exp(0.2 z), z a normal deviate, by Simpson's rule.
    z = np.linspace(-8.0, 8.0, 2001)
    weights = np.exp(-0.5 * z**2)
    mean = ((0.05 * np.exp(0.2 * z)) ** 2 * weights).sum() / weights.sum()
    assert with_own_scatter(asked).hand.film == pytest.approx(np.sqrt(mean))
    assert with_own_scatter(job) is job


def test_what_the_scheme_says_of_the_hand_goes_before_the_profile(
    read: Callable[[str], Scheme], tmp_path: object
) -> None:
    from pathlib import Path

    from layersim.sprayer import write_sprayer

    write_sprayer(Sprayer("x", film_scatter=Estimate(0.05, 0.0)), Path(str(tmp_path)) / "x.toml")
    named = scheme_text(0) + '\n[batch]\nsprayer = "x"\n'
    assert read(named).hand.film == 0.1
    assert read(named.replace("[hand]\nfilm = 0.1\n", "")).hand.film == pytest.approx(0.05)
