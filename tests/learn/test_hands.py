"""How often ranges hold for hands that are drawn, before anything is learned of them and after.

The world is the program's own: a film factor of the hand, films that scatter round it, chips with noise.
Paints, parts and the model itself are taken as exact, so that the ranges are of films alone.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from layersim import colour
from layersim.estimate import Estimate
from layersim.learn.films import Learned, learn_films
from layersim.learn.really import CHIP_ERROR
from layersim.log import Chip, Entry, Log
from layersim.scheme.ownfilms import UNMEASURED, with_factor, with_own_scatter
from layersim.scheme.records import GreysSprayed, Mix, Scheme
from layersim.scheme.simulate import AreaModel, simulate
from layersim.spectra import FloatArray
from layersim.sprayer import Sprayer
from tests.learn.sprayers import JOBS, scheme_text

HANDS = 20
TONES = 5
CHIPS = ((3, "filter", "mid", 2), (1, "preshade", "light", 4), (2, "base", "mid", 2))


def exact(scheme: Scheme) -> Scheme:
    """Return a scheme of which nothing is in doubt but its films."""

    def mix(one: Mix) -> Mix:
        sure = tuple((dataclasses.replace(paint, doubts=()), part) for paint, part in one.ingredients)
        return dataclasses.replace(one, ingredients=sure)

    area = scheme.areas[0]
    assert isinstance(area.preshade, GreysSprayed)
    area = dataclasses.replace(
        area,
        ground=dataclasses.replace(area.ground, doubts=()),
        preshade=dataclasses.replace(area.preshade, mix=mix(area.preshade.mix)),
        coats=tuple(dataclasses.replace(coat, mix=mix(coat.mix)) for coat in area.coats),
    )
    hand = dataclasses.replace(scheme.hand, parts=0.0, model=0.0, satin=0.0)
    return dataclasses.replace(scheme, areas=(area,), hand=hand)


def sprayed(
    scheme: Scheme,
    factor: float,
    scatter: float,
    luck: np.random.Generator,
    bottles: dict[tuple[object, ...], float] | None = None,
) -> FloatArray:
    """Return L*a*b* of every stage and tone; `bottles` are drawn once and stay."""
    scheme = with_factor(scheme, Estimate(factor, 0.0))
    scheme = dataclasses.replace(scheme, hand=dataclasses.replace(scheme.hand, film=scatter))
    model = AreaModel(scheme, scheme.areas[0], tones=TONES)
    if bottles is None:
        assert {factor.key[0] for factor in model.factors} == {"film"}
    z = luck.normal(size=(1, len(model.factors)))
    for column, one in enumerate(model.factors):
        if bottles is not None and one.key[0] == "paint":
            z[0, column] = bottles.setdefault(one.key, float(z[0, column]))
    return colour.lab(model.reflectance(z)[0], scheme.viewing)


def logged(scheme: Scheme, real: FloatArray, luck: np.random.Generator) -> tuple[Scheme, Log]:
    entries = []
    for stage, step, tone, place in CHIPS:
        L, a, b = (float(v) for v in real[stage, place] + luck.normal(scale=CHIP_ERROR, size=3))
        L = min(max(L, 0.0), 100.0)
        entries.append(Entry(datetime(2026, 5, 1), "panel", step, chips=(Chip(tone, lab=(L, a, b)),)))
    return scheme, Log(Path("x"), tuple(entries), ())


def profiled(scheme: Scheme, learned: Learned) -> Scheme:
    assert learned.film_factor is not None
    scheme = with_factor(scheme, learned.film_factor)
    sprayer = Sprayer("x", film_factor=learned.film_factor, film_scatter=learned.film_scatter)
    return with_own_scatter(
        dataclasses.replace(scheme, batch=dataclasses.replace(scheme.batch, sprayer=sprayer))
    )


@pytest.fixture
def jobs(read: Callable[[str], Scheme]) -> list[Scheme]:
    texts = [scheme_text(number).replace("[hand]\nfilm = 0.1\n", "") for number in range(len(JOBS))]
    return [exact(read(text)) for text in texts]


def test_ranges_hold_before_and_after_learning_and_narrow(jobs: list[Scheme]) -> None:
    """Hands that lay 0.5 to 2 times the paints' own film and scatter by 5, 10 or 15 % from coat to coat."""
    luck = np.random.default_rng(11)
    held: dict[int, list[bool]] = {0: [], 9: []}
    width: dict[int, list[float]] = {0: [], 9: []}
    for _ in range(HANDS):
        factor = float(np.exp(UNMEASURED.error * luck.normal()))
        scatter = float(luck.choice([0.05, 0.10, 0.15]))
        log = [logged(job, sprayed(job, factor, scatter, luck), luck) for job in jobs[:3]]
        real = sprayed(jobs[3], factor, scatter, luck)[-1]
        for chips, scheme in ((0, jobs[3]), (9, profiled(jobs[3], learn_films(log)))):
            area = simulate(scheme, tones=TONES).areas[0]
            held[chips] += list(colour.delta_e_2000(area.lab[-1], real) <= area.reach[-1])
            width[chips] += list(area.reach[-1])
    # The tones of one hand move together: twenty hands count for about thirty, and 90 % lies in 79 to 100 %.
    for share in held.values():
        assert np.mean(share) > 0.79
    assert np.median(width[9]) < 0.8 * np.median(width[0])


def test_ranges_hold_where_bottles_are_drawn_too(read: Callable[[str], Scheme]) -> None:
    """Each hand has bottles of its own for all its jobs, and measures its mixes as the scheme supposes."""
    texts = [scheme_text(number).replace("[hand]\nfilm = 0.1\n", "") for number in range(len(JOBS))]
    schemes = [read(text) for text in texts]
    # The model itself is the world's, too.
    jobs = [
        dataclasses.replace(one, hand=dataclasses.replace(one.hand, model=0.0, satin=0.0)) for one in schemes
    ]
    luck = np.random.default_rng(77)
    held: dict[int, list[bool]] = {0: [], 3: [], 9: []}
    for _ in range(2 * HANDS):
        factor = float(np.exp(UNMEASURED.error * luck.normal()))
        scatter, bottles = float(luck.choice([0.05, 0.10, 0.15, 0.25])), {}
        log = [logged(job, sprayed(job, factor, scatter, luck, bottles), luck) for job in jobs[:3]]
        real = sprayed(jobs[3], factor, scatter, luck, bottles)[-1]
        for chips in held:
            scheme = profiled(jobs[3], learn_films(log[: chips // 3])) if chips else jobs[3]
            area = simulate(scheme, tones=TONES).areas[0]
            held[chips] += list(colour.delta_e_2000(area.lab[-1], real) <= area.reach[-1])
    for share in held.values():
        assert np.mean(share) > 0.85


def test_the_scatter_of_a_hand_is_found(jobs: list[Scheme]) -> None:
    """Six jobs of three films each tell even hands from uneven ones, within the error that is told."""
    luck = np.random.default_rng(2)
    found = []
    for scatter in (0.04, 0.25):
        log = [logged(job, sprayed(job, 1.2, scatter, luck), luck) for job in (*jobs, *jobs[:2])]
        learned = learn_films(log).film_scatter
        assert learned is not None
        assert abs(np.log(learned.value / scatter)) < 3.0 * learned.error
        found.append(learned.value)
    assert found[0] < 0.11
    assert found[1] > 0.15


def test_a_chip_of_what_is_known_is_not_asked_for_twice(jobs: list[Scheme]) -> None:
    """What a chip is said to gain is what measuring it gains: the next one gains less."""
    luck = np.random.default_rng(4)
    one, many = ([logged(job, sprayed(job, 1.0, 0.1, luck), luck) for job in jobs[:n]] for n in (1, 4))
    gains = []
    for log in (one, many):
        wanted = learn_films(log).wanted
        assert wanted is not None
        assert wanted.after < wanted.before
        gains.append(wanted.before**2 - wanted.after**2)
    assert gains[1] < 0.5 * gains[0]
