"""From a set of swatches to a paint: conventions, tints, grounds by name, specular, what is handed back."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from layersim.fitting.measured import fit_swatches, knows_only_nominal_film
from layersim.measure.swatch import Ground
from layersim.optics import cones
from layersim.paint import Doubt, Paint
from layersim.paintfile import read_paint, write_paint
from layersim.shelf import Shelf
from layersim.spectra import BANDS
from tests.fitting.painter import BARE, COAT_UM, SIX, model_reflectance, six, swatch, swatches_of, violet

EMPTY = Shelf([])


def known(name: str, K: float, S: float, *, doubt: float = 0.0) -> Paint:
    doubts = (Doubt("load", np.full(BANDS, doubt), np.full(BANDS, doubt)),) if doubt else ()
    return Paint(
        name=name,
        kind="paint",
        K_per_um=K,  # type: ignore[arg-type]
        S_per_um=S,  # type: ignore[arg-type]
        volume_solids=0.3,
        wet_film_um=10.0,
        sheen=0.0,
        provenance="made up for this test",
        invented=True,
        doubts=doubts,
    )


def shelf_of(folder: Path, *paints: Paint) -> Shelf:
    for paint in paints:
        write_paint(paint, folder / f"{paint.name.replace(' ', '-')}.toml")
    return Shelf([folder])


def test_six_swatches_give_the_paint_a_good_verdict_and_small_residuals() -> None:
    K, S = violet()
    fit = fit_swatches(six(K, S), EMPTY)
    assert fit.verdict.grade == "good"
    assert fit.outliers == ()
    assert fit.kept.all()
    assert fit.delta_e.max() < 0.1
    assert fit.inflation == 1.0
    np.testing.assert_allclose(fit.paint.K_per_um, K, rtol=0.03)
    np.testing.assert_allclose(fit.paint.S_per_um, S, rtol=0.15)
    np.testing.assert_allclose(fit.film_factor, 1.0, atol=0.01)
    assert fit.paint.invented
    assert fit.paint.film_basis == "coats"


@pytest.mark.parametrize(
    ("basis", "of", "nominal"),
    [
        ("coats", "", True),
        ("coats", "fine needle", True),
        ("coats", "heavy hand", False),
        ("measured", "", False),
    ],
)
def test_a_paint_of_counted_coats_knows_only_nominal_film(basis: str, of: str, nominal: bool) -> None:
    paint = dataclasses.replace(known("a red", 0.1, 0.1), film_basis=basis, film_of=of)
    assert knows_only_nominal_film(paint, sprayer="fine needle") == nominal


def test_coats_twice_as_thick_halve_the_constants_and_predict_the_same_coats() -> None:
    K, S = violet()
    nominal = fit_swatches(six(K, S), EMPTY)
    rows = [
        swatch(ground, coats, model_reflectance(K, S, ground=ground, thickness_um=2.0 * coats * COAT_UM))
        for ground, coats in SIX
    ]
    thick = fit_swatches(swatches_of(rows), EMPTY)
    np.testing.assert_allclose(thick.paint.K_per_um / nominal.paint.K_per_um, 2.0, rtol=0.05)
    np.testing.assert_allclose(thick.paint.S_per_um / nominal.paint.S_per_um, 2.0, rtol=0.07)
    np.testing.assert_allclose(thick.fitted, np.stack([row.reflectance for row in rows]), atol=2e-3)
    measured = [dataclasses.replace(row, dry_film_um=2.0 * row.coats * COAT_UM) for row in rows]  # type: ignore[operator]
    scaled = fit_swatches(swatches_of(measured), EMPTY)
    np.testing.assert_allclose(scaled.paint.K_per_um, K, rtol=0.04)
    assert "measured film" in scaled.paint.provenance


def test_thinning_scales_the_nominal_film() -> None:
    K, S = violet()
    rows = [
        swatch(g, n, model_reflectance(K, S, ground=g, thickness_um=n * COAT_UM / 2.0), thinning=1.0)
        for g, n in SIX
    ]
    fit = fit_swatches(swatches_of(rows), EMPTY)
    np.testing.assert_allclose(fit.paint.K_per_um, K, rtol=0.04)


@pytest.mark.parametrize(("sheen", "specular"), [(0.0, "included"), (1.0, "excluded"), (0.4, "excluded")])
def test_the_surface_is_taken_out_as_it_was_measured(sheen: float, specular: str) -> None:
    K, S = violet()
    share = 1.0 if specular == "included" else sheen
    rows = [
        swatch(g, n, model_reflectance(K, S, ground=g, thickness_um=n * COAT_UM, sheen=share)) for g, n in SIX
    ]
    fit = fit_swatches(swatches_of(rows, sheen=sheen, specular=specular), EMPTY)
    # What a black sends back from inside is not known, so a little of it is taken for the surface's.
    np.testing.assert_allclose(fit.paint.K_per_um, K, rtol=0.06)
    assert fit.paint.sheen == pytest.approx(sheen, abs=0.12)


def test_primers_by_name_serve_as_grounds(tmp_path: Path) -> None:
    K, S = violet()
    black, white = known("black primer", 1.0, 0.02), known("white primer", 0.001, 0.2)
    paint = cones.medium(K_per_um=K, S_per_um=S)
    rows = []
    for primer in (black, white):
        below = cones.endless(cones.medium(K_per_um=primer.K_per_um, S_per_um=primer.S_per_um))
        for n in (1.0, 2.0, 4.0):
            seen = cones.seen(cones.lay(paint, thickness_um=n * COAT_UM, over=below), sheen=0.0)
            rows.append(swatch(primer.name.split()[0], n, seen))
    grounds = tuple(Ground(name=p.name.split()[0], paint=p.name, sheen=0.0) for p in (black, white))
    fit = fit_swatches(swatches_of(rows, grounds=grounds), shelf_of(tmp_path, black, white))
    np.testing.assert_allclose(fit.paint.K_per_um, K, rtol=0.03)


@pytest.mark.parametrize("strength", [0.0, 0.1])
def test_tints_with_a_known_white_give_a_paint_that_cannot_be_sprayed_thin(
    tmp_path: Path, strength: float
) -> None:
    """Masstone and two opaque tints: S of an opaque paint comes from its tints, as sure as the white is."""
    K, S = np.full(BANDS, 0.6), np.linspace(0.25, 0.15, BANDS)
    white = known("known white", 0.002, 0.3, doubt=strength)
    rows = [swatch(None, None, model_reflectance(K, S, ground="black", thickness_um=np.inf), opaque=True)]
    for parts in (4.0, 19.0):
        share = 1.0 / (1.0 + parts)
        seen = model_reflectance(
            share * K + (1.0 - share) * 0.002,
            share * S + (1.0 - share) * 0.3,
            ground="black",
            thickness_um=np.inf,
        )
        mix = (("this paint", 1.0), ("known white", parts))
        rows.append(swatch(None, None, seen, opaque=True, parts=mix, name=f"1 : {parts:g}"))
    fit = fit_swatches(swatches_of(rows, grounds=()), shelf_of(tmp_path, white))
    np.testing.assert_allclose(fit.paint.K_per_um, K, rtol=0.1)
    np.testing.assert_allclose(fit.paint.S_per_um, S, rtol=0.12)
    sd = float(np.sqrt(fit.covariance[BANDS + 15, BANDS + 15]))
    assert sd > strength
    # How much of the masstone's dark is its surface is in doubt, too.
    assert sd < strength + 0.25


def test_doubts_are_the_leading_part_of_the_covariance_and_survive_the_file(tmp_path: Path) -> None:
    K, S = violet()
    fit = fit_swatches(six(K, S), EMPTY)
    held = sum(
        np.outer(shift, shift)
        for shift in (
            np.concatenate([d.log_K, d.log_S, [d.sheen + fit.paint.sheen * d.first_reflection]])
            for d in fit.paint.doubts
        )
    )
    left = fit.covariance - held
    assert np.linalg.eigvalsh(left).min() > -1e-9
    assert len({d.cause for d in fit.paint.doubts}) == len(fit.paint.doubts) >= 2
    path = tmp_path / "violet.toml"
    write_paint(fit.paint, path)
    back = read_paint(path)
    np.testing.assert_allclose(back.K_per_um, fit.paint.K_per_um, rtol=1e-3)
    assert [d.cause for d in back.doubts] == [d.cause for d in fit.paint.doubts]


def test_noisier_swatches_leave_more_in_doubt() -> None:
    K, S = violet()
    reach = [fit_swatches(six(K, S, noise=noise), EMPTY).verdict.reach for noise in (0.0005, 0.003, 0.01)]
    assert reach[0] < reach[1] < reach[2]


def test_a_ground_without_a_swatch_over_it_changes_nothing() -> None:
    K, S = violet()
    plain = six(K, S)
    extra = Ground(name="grey", reflectance=np.full(BANDS, 0.2), noise=np.full(BANDS, 0.01), sheen=0.0)
    more = dataclasses.replace(plain, grounds=(*plain.grounds, extra))
    np.testing.assert_array_equal(
        fit_swatches(plain, EMPTY).paint.K_per_um, fit_swatches(more, EMPTY).paint.K_per_um
    )
    assert set(BARE) == {"black", "white"}
