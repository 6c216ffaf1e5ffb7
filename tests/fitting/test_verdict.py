"""The verdict and the one more swatch: what is expected of it is what comes of it."""

from __future__ import annotations

import dataclasses
import itertools

import numpy as np
import pytest

from layersim.fitting.measured import fit_swatches
from layersim.fitting.result import GRADES
from layersim.fitting.verdict import judge
from layersim.measure.swatch import Swatch, SwatchSet
from layersim.shelf import Shelf
from tests.fitting.painter import COAT_UM, NOISE, SIX, model_reflectance, six, swatch, swatches_of, violet

EMPTY = Shelf([])


def some(rows: tuple[tuple[str, float], ...]) -> SwatchSet:
    K, S = violet()
    return swatches_of(
        swatch(g, n, model_reflectance(K, S, ground=g, thickness_um=n * COAT_UM)) for g, n in rows
    )


@pytest.mark.parametrize("rows", [SIX[:3], SIX[3:], (SIX[2], SIX[5])])
def test_the_suggested_swatch_brings_what_was_expected_of_it(rows: tuple[tuple[str, float], ...]) -> None:
    K, S = violet()
    before = fit_swatches(some(rows), EMPTY)
    assert before.suggestion is not None
    made = before.suggestion.swatch
    assert made.coats is not None
    assert made.ground is not None
    seen = model_reflectance(K, S, ground=made.ground, thickness_um=made.coats * COAT_UM)
    keys = {field.name: getattr(made, field.name) for field in dataclasses.fields(made)}
    more = Swatch(**keys, reflectance=seen, noise=NOISE)  # type: ignore[arg-type]
    own = some(rows)
    after = fit_swatches(dataclasses.replace(own, swatches=(*own.swatches, more)), EMPTY)
    assert after.verdict.reach < before.verdict.reach
    # No more is promised than comes; a swatch also tells how even the hand is, which is not counted.
    assert 0.5 * before.suggestion.reach < after.verdict.reach < 1.25 * before.suggestion.reach


def test_a_set_over_black_alone_asks_for_white() -> None:
    suggestion = fit_swatches(some(SIX[:3]), EMPTY).suggestion
    assert suggestion is not None
    assert suggestion.swatch.ground == "white"
    assert suggestion.words.endswith("over white")


def test_tints_are_suggested_only_with_a_white_that_is_there() -> None:
    fit = fit_swatches(six(*violet()), EMPTY)
    assert fit.suggestion is None or len(fit.suggestion.swatch.parts) == 1


def test_more_swatches_reach_no_farther() -> None:
    reaches = [fit_swatches(some(SIX[: 3 + n]), EMPTY).verdict.reach for n in (0, 1, 2, 3)]
    assert all(b < a * 1.01 for a, b in itertools.pairwise(reaches))
    assert reaches[-1] < 0.5 * reaches[0]


@pytest.mark.parametrize(
    ("reach", "residual", "outliers", "grade"),
    [
        (0.5, 0.2, 0, "good"),
        (0.5, 0.2, 1, "usable"),
        (3.0, 0.2, 0, "usable"),
        (0.5, 4.0, 0, "doubtful"),
        (9.0, 0.1, 0, "doubtful"),
    ],
)
def test_grades(reach: float, residual: float, outliers: int, grade: str) -> None:
    verdict = judge(
        reach=reach,
        reach_under={"gloss": reach},
        residual=9.0,
        beyond_noise=residual,
        outliers=outliers,
        swatches=6,
    )
    assert verdict.grade == grade
    assert verdict.grade in GRADES


def test_a_paint_that_is_not_well_known_says_so_in_its_note() -> None:
    fit = fit_swatches(some(SIX[:3]), EMPTY)
    assert fit.verdict.grade != "good"
    assert fit.paint.note.startswith(fit.verdict.grade.capitalize())
    assert np.isfinite(fit.covariance).all()
