"""Published K and S found again through rendered swatches.

C. J. Curtis, S. E. Anderson, J. E. Seims, K. W. Fleischer and D. H. Salesin, "Computer-Generated
Watercolor", SIGGRAPH 1997 (values read in a stored copy): K and S of pigments for red, green and
blue, for a film of unit thickness. The three are laid on 610, 550 and 450 nm, with straight lines in
ln K and ln S between; a unit of thickness is a micrometre. Such lines have kinks that no spectrum of a
paint has, so the smoothness that is believed of paints is set aside here.
"""

from __future__ import annotations

import numpy as np
import pytest

from layersim.fitting.measured import fit_swatches
from layersim.fitting.problem import Belief
from layersim.shelf import Shelf
from layersim.spectra import BANDS, FloatArray, wavelengths_nm
from tests.fitting.painter import judged_reflectance, model_reflectance, swatch, swatches_of
from tests.judge.radiative_transfer import Pigmentation

PUBLISHED = {
    "quinacridone rose": ((0.22, 1.47, 0.57), (0.05, 0.003, 0.03)),
    "indian red": ((0.46, 1.07, 1.50), (1.28, 0.38, 0.21)),
    "cadmium yellow": ((0.10, 0.36, 3.45), (0.97, 0.65, 0.007)),
    "hookers green": ((1.62, 0.61, 1.64), (0.01, 0.012, 0.003)),
    "cerulean blue": ((1.52, 0.32, 0.25), (0.06, 0.26, 0.40)),
    "burnt umber": ((0.74, 1.54, 2.10), (0.09, 0.09, 0.004)),
    "cadmium red": ((0.14, 1.08, 1.68), (0.77, 0.015, 0.018)),
    "hansa yellow": ((0.06, 0.21, 1.78), (0.50, 0.88, 0.009)),
    "phthalo green": ((1.55, 0.47, 0.63), (0.01, 0.05, 0.035)),
    "french ultramarine": ((0.86, 0.86, 0.06), (0.005, 0.005, 0.09)),
}
AT_NM = (610.0, 550.0, 450.0)
FILMS_UM = (0.5, 1.0, 2.0)
# Near the mean cosine of paints' pigments; similarity makes it matter little.
FORWARD = 0.43
NOISE = 5e-4
KINKED = Belief(bend_K=3.0, bend_S=3.0)


def spectra(name: str) -> tuple[FloatArray, FloatArray]:
    """K and S of a pigment at 31 wavelengths."""
    nm = wavelengths_nm()
    K, S = (np.exp(np.interp(nm, AT_NM[::-1], np.log(values)[::-1])) for values in PUBLISHED[name])
    return K, S


def at_published(values: FloatArray) -> FloatArray:
    return values[[int((nm - 400.0) / 10.0) for nm in AT_NM]]


def found(name: str, *, judged: bool) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return fitted K and S at the three wavelengths, and their standard deviations (ln)."""
    K, S = spectra(name)
    pigment = Pigmentation(name, K / 2.0, S / (0.75 * (1.0 - FORWARD)), FORWARD)
    rows = []
    for ground in ("black", "white"):
        for X in FILMS_UM:
            if judged:
                seen = judged_reflectance(pigment, ground=ground, thickness_um=X)
            else:
                seen = model_reflectance(K, S, ground=ground, thickness_um=X)
            rows.append(swatch(ground, None, seen, noise=NOISE, dry_film_um=X, name=f"{X:g} over {ground}"))
    fit = fit_swatches(swatches_of(rows, paint=name), Shelf([]), film_error=0.0, belief=KINKED)
    sd = np.sqrt(np.diag(fit.covariance))
    return (
        at_published(fit.paint.K_per_um),
        at_published(fit.paint.S_per_um),
        np.concatenate([at_published(sd[:BANDS]), at_published(sd[BANDS:])]),
    )


@pytest.mark.parametrize("name", PUBLISHED)
def test_published_constants_through_the_models_own_films(name: str) -> None:
    K, S, sd = found(name, judged=False)
    off = np.log(np.concatenate([K / PUBLISHED[name][0], S / PUBLISHED[name][1]]))
    # What a black hides of its scattering is not found; then the fit must say so.
    assert (np.abs(off) <= 0.04 + 1.5 * sd).all(), (off, sd)
    assert (np.abs(off)[sd < 0.04] < 0.04).all(), (off, sd)
    assert (sd[:3] < 0.1).all()


@pytest.mark.parametrize("name", ["indian red", "hansa yellow", "cerulean blue", "quinacridone rose"])
def test_published_constants_through_radiative_transfer(name: str) -> None:
    """Rendered by another theory: S = ¾ μs(1 − g), K = 2 μa, which cones only approach."""
    K, S, sd = found(name, judged=True)
    off_K, off_S = np.log(K / PUBLISHED[name][0]), np.log(S / PUBLISHED[name][1])
    assert np.abs(off_K).max() < 0.15, off_K
    known = sd[3:] < 0.1
    assert (np.abs(off_S[known]) < 0.3).all(), off_S
    assert (np.abs(off_S[~known]) < 0.3 + 3.0 * sd[3:][~known]).all()
