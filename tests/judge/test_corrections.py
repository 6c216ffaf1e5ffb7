"""Corrections judged by radiative transfer: what they promise comes, and a coat that is laid is worth it."""

from __future__ import annotations

import dataclasses

import numpy as np

from layersim import colour
from layersim.decide.correction import Corrections, correct
from layersim.decide.search import closeness
from layersim.scheme.records import Targets
from layersim.spectra import FloatArray
from tests.validation.roundtrip import hidden_recipes, rendered, scheme_with, shelf

CASES = 14
AT = [0, 4, 8]
CHIP_ERROR = 0.5
"""Of a measured chip in each of L*, a* and b*."""


def painted(number: int, luck: np.random.Generator) -> tuple[Corrections, FloatArray, FloatArray | None]:
    """Return a correction, how far the finish is off without it, and with it; shape (3,) each.

    The day's films are off by 20 % together and 10 % each, and every second time the base has a coat too few
    or too many, or none of it is wrong.
    """
    base, glaze = hidden_recipes(CASES, seed=11)[number]
    coats = (base,) if glaze is None else (base, glaze)
    plan = scheme_with(*coats)
    wanted = rendered(plan.areas[0])[AT]
    day, slip = np.exp(0.2 * luck.normal()), int(luck.integers(-1, 2)) if number % 2 else 0
    real = [
        dataclasses.replace(
            coat,
            coats=coat.coats + (slip if coat is base else 0),
            dry_film_um=coat.dry_film_um * float(day * np.exp(0.1 * luck.normal())),
        )
        for coat in coats
    ]
    area = dataclasses.replace(plan.areas[0], coats=tuple(coat for coat in real if coat.coats))
    came = rendered(area)[AT]
    chips = came + luck.normal(scale=CHIP_ERROR, size=(3, 3))
    found = correct(
        plan,
        area="cloth",
        found=dict(zip(("shadow", "mid", "light"), chips, strict=True)),
        paints=list(shelf().values()),
        targets=Targets(shadow=wanted[0], mid=wanted[1], light=wanted[2]),
    )
    after = None
    if found.smallest is not None:
        coated = dataclasses.replace(area, coats=(*area.coats, found.smallest.coat))
        after = colour.delta_e_2000(rendered(coated)[AT], wanted)
    return found, colour.delta_e_2000(came, wanted), after


def test_corrections_keep_their_promise_and_leave_alone_what_they_do_not_help() -> None:
    luck = np.random.default_rng(5)
    promised, came, alone = [], [], []
    for number in range(CASES):
        found, off, after = painted(number, luck)
        assert found.over_stack
        if found.smallest is None or after is None:
            continue
        at = [int(np.flatnonzero(np.flatnonzero(found.targets.counted) == tone)[0]) for tone in AT]
        promised.append(closeness(found.smallest.delta_e[at]))
        came.append(closeness(after))
        alone.append(closeness(off))
        # No tone is visibly farther away than it was, and the whole is nearer.
        assert (after < off + 0.8).all()
        assert came[-1] < alone[-1]
    assert 4 <= len(came) < CASES
    assert np.mean(came) < np.mean(promised) + 0.3
    assert np.mean(came) < 0.6 * np.mean(alone)
