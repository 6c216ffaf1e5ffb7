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


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"coats": None}, "needs coats"),
        ({"coats": 0.0}, "must be above 0"),
        ({"dry_film_um": float("inf")}, "must be above 0"),
        ({"ground": None}, "needs a ground"),
        ({"thinning": -1.0}, "thinning"),
        ({"parts": ()}, "parts"),
        ({"parts": ((THIS_PAINT, 0.0),)}, "parts"),
        ({"parts": (("white", 1.0), ("white", 2.0))}, "a paint twice"),
        ({"reflectance": np.full(30, 0.3)}, "30 bands"),
        ({"reflectance": np.full((2, 31), 0.3)}, "one spectrum"),
        ({"reflectance": 1.2}, "within"),
        ({"reflectance": -0.2}, "within"),
        ({"reflectance": float("nan")}, "not a finite number"),
        ({"noise": 0.0}, "noise must be above 0"),
    ],
)
def test_impossible_swatches_are_refused(changed: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        Swatch(**{**SWATCH, **changed})


def test_an_opaque_swatch_needs_neither_thickness_nor_ground() -> None:
    swatch = Swatch(**{**SWATCH, "coats": None, "ground": None, "opaque": True})
    assert (swatch.coats, swatch.dry_film_um, swatch.ground) == (None, None, None)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({}, "either measured or the name"),
        ({"reflectance": np.full(31, 0.1)}, "go together"),
        ({"reflectance": np.full(31, 0.1), "noise": np.full(31, 0.1), "paint": "white primer"}, "either"),
        ({"paint": "white primer", "sheen": 2.0}, "sheen"),
    ],
)
def test_grounds_are_measured_or_named(given: dict[str, Any], said: str) -> None:
    assert Ground(name="white", paint="white primer").reflectance is None
    with pytest.raises(ValueError, match=said):
        Ground(name="white", **given)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"kind": "dye"}, "kind"),
        ({"specular": "yes"}, "specular"),
        ({"volume_solids": 0.0}, "volume_solids"),
        ({"volume_solids": 1.2}, "volume_solids"),
        ({"wet_film_um": 0.0}, "wet_film_um"),
        ({"sheen": -0.1}, "sheen"),
        ({"swatches": ()}, "no swatch"),
        ({"swatches": (Swatch(**{**SWATCH, "parts": (("titanium white", 1.0),)}),)}, "no swatch has"),
        ({"swatches": (Swatch(**SWATCH), Swatch(**SWATCH))}, "one name"),
        ({"swatches": (Swatch(**{**SWATCH, "ground": "grey"}),)}, 'no ground is named "grey"'),
    ],
)
def test_impossible_sets_are_refused(changed: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        SwatchSet(**{**SET, **changed})


def test_a_matt_surface_is_seen_even_where_the_mirror_reflection_is_left_out() -> None:
    excluded = SwatchSet(**SET)
    assert excluded.surface_share(excluded.sheen) == 0.4
    assert excluded.surface_share(1.0) == 1.0
    assert SwatchSet(**{**SET, "specular": "included"}).surface_share(0.05) == 1.0
