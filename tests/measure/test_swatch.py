"""The records: what they refuse, and what they say of the surface."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from layersim.measure.swatch import THIS_PAINT, Ground, Swatch, SwatchSet

BLACK = Ground(name="black", reflectance=np.full(31, 0.04), noise=np.full(31, 0.002))
SWATCH: dict[str, Any] = {"name": "one", "ground": "black", "coats": 1, "reflectance": 0.3, "noise": 0.002}
SET: dict[str, Any] = {
    "paint": "brick red",
    "kind": "paint",
    "volume_solids": 0.28,
    "wet_film_um": 15.0,
    "sheen": 0.4,
    "specular": "excluded",
    "grounds": (BLACK,),
    "swatches": (Swatch(**SWATCH),),
}


def test_spectra_are_kept_frozen() -> None:
    values = np.full(31, 0.3)
    swatch = Swatch(**{**SWATCH, "reflectance": values})
    values[:] = 0.9
    assert swatch.reflectance[0] == 0.3
    with pytest.raises(ValueError, match="read-only"):
        swatch.reflectance[0] = 0.5


def test_the_share_of_this_paint_is_by_volume_of_liquid() -> None:
    assert Swatch(**SWATCH).share == 1.0
    tint = Swatch(**{**SWATCH, "parts": ((THIS_PAINT, 1.0), ("titanium white", 3.0))})
    assert tint.share == 0.25


def test_a_matt_surface_is_seen_even_where_the_mirror_reflection_is_left_out() -> None:
    excluded = SwatchSet(**SET)
    assert excluded.surface_share(excluded.sheen) == 0.4
    assert excluded.surface_share(1.0) == 1.0
    assert SwatchSet(**{**SET, "specular": "included"}).surface_share(0.05) == 1.0
