"""A painter whose paints are known: swatches as the model itself, or radiative transfer, renders them."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from layersim.fitting.doubts import films_over
from layersim.fitting.two_constant import predict
from layersim.measure.swatch import Ground, Swatch, SwatchSet
from layersim.optics import cones
from layersim.spectra import BANDS, FloatArray, wavelengths_nm
from tests.judge import radiative_transfer as judge

COAT_UM = 3.0
NOISE = 1e-3
BARE = {"black": np.full(BANDS, 0.004), "white": np.linspace(0.74, 0.82, BANDS)}
SIX = tuple((ground, coats) for ground in ("black", "white") for coats in (1.0, 2.0, 4.0))


def violet() -> tuple[FloatArray, FloatArray]:
    """K and S of a paint with an absorption band, translucent enough to show its ground."""
    nm = wavelengths_nm()
    K = 0.015 + 0.30 * np.exp(-0.5 * ((nm - 565.0) / 45.0) ** 2)
    return K, 0.05 * (550.0 / nm)


def model_reflectance(
    K: FloatArray, S: FloatArray, *, ground: str, thickness_um: float, sheen: float = 0.0
) -> FloatArray:
    """Render one film by the product's own model."""
    if np.isinf(thickness_um):
        return cones.seen(cones.endless(cones.medium(K_per_um=K, S_per_um=S)), sheen=sheen)
    films = films_over(thickness_um=np.array([thickness_um]), reflectance=BARE[ground][np.newaxis])
    unknowns = np.concatenate([np.log(K), np.log(S), [0.0]])
    return predict(films, unknowns)[0] + sheen * cones.directions().k1


def swatch(
    ground: str | None, coats: float | None, reflectance: FloatArray, *, noise: float = NOISE, **keys: object
) -> Swatch:
    """Return a swatch named after its ground and coats, unless told otherwise."""
    name = str(keys.pop("name", f"{coats:g} over {ground}" if coats else f"over {ground}"))
    return Swatch(name=name, ground=ground, coats=coats, reflectance=reflectance, noise=noise, **keys)  # type: ignore[arg-type]


def swatches_of(
    rows: Iterable[Swatch], *, sheen: float = 0.0, specular: str = "excluded", **keys: object
) -> SwatchSet:
    """Return swatches as a set of an unthinned paint with a nominal coat of 3 µm."""
    share = 1.0 if specular == "included" else sheen
    grounds = tuple(
        Ground(name=name, reflectance=bare + share * cones.directions().k1, noise=NOISE, sheen=sheen)
        for name, bare in BARE.items()
    )
    given: dict[str, object] = {"paint": "test violet", "grounds": grounds, **keys}
    return SwatchSet(
        kind="paint",
        volume_solids=0.3,
        wet_film_um=COAT_UM / 0.3,
        sheen=sheen,
        specular=specular,  # type: ignore[arg-type]
        swatches=tuple(rows),
        invented=True,
        **given,  # type: ignore[arg-type]
    )


def six(
    K: FloatArray, S: FloatArray, *, noise: float = NOISE, rng: np.random.Generator | None = None
) -> SwatchSet:
    """Return one, two and four coats over black and white, by the product's own model."""
    rows = []
    for ground, coats in SIX:
        seen = model_reflectance(K, S, ground=ground, thickness_um=coats * COAT_UM)
        if rng is not None:
            seen = np.maximum(seen + noise * rng.standard_normal(BANDS), -0.01)
        rows.append(swatch(ground, coats, seen, noise=noise))
    return swatches_of(rows)


def judged_reflectance(pigment: judge.Pigmentation, *, ground: str, thickness_um: float) -> FloatArray:
    """Render one film by radiative transfer over an even ground that looks like `ground`."""
    c1, c2 = cones.directions().shares
    r1, k1 = cones.directions().r1, cones.directions().k1
    through = BARE[ground] / ((1.0 - k1) * (1.0 - r1))
    inside = through / (c1 + through * (r1 * c1 + c2))
    return judge.render([judge.Film(pigment, thickness_um)], ground=judge.lambertian(inside))
