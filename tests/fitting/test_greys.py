"""The greys of a preshade from two spots: which is darker, how sure, and whether they are greys at all."""

from __future__ import annotations

import numpy as np
import pytest

from layersim.errors import LayersimError
from layersim.fitting.chip import SeenSpot
from layersim.fitting.greys import seen_greys


def spot(L: float, a: float = 0.0, b: float = 0.0, error: float = 1.0) -> SeenSpot:
    return SeenSpot(np.array([L, a, b]), np.eye(3) * error**2, ())


def test_the_less_sure_of_two_spots_speaks_for_both() -> None:
    greys = seen_greys(shadow=spot(31.0, error=0.5), light=spot(84.0, error=2.0))
    assert (greys.darkest, greys.lightest, greys.notes) == (31.0, 84.0, ())
    assert greys.error == pytest.approx(2.0)
    assert greys.doubt == pytest.approx(2.0 * 1.645, abs=0.01)


def test_what_has_a_hue_is_told() -> None:
    greys = seen_greys(shadow=spot(31.0, a=12.0), light=spot(84.0, b=3.0))
    [note] = greys.notes
    assert note.startswith("shadow: no grey, its chroma is C* 12")


@pytest.mark.parametrize("light", [31.5, 20.0])
def test_points_the_other_way_round_are_refused(light: float) -> None:
    with pytest.raises(LayersimError, match="the other way round"):
        seen_greys(shadow=spot(31.0), light=spot(light))
