"""The least film that is enough: one bisection for every model of a film."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from layersim.spectra import FloatArray


def least_film_um(
    enough: Callable[[FloatArray], npt.NDArray[np.bool_]], *, shape: tuple[int, ...]
) -> FloatArray:
    """Return the least thickness for which `enough` holds, to the last bit.

    `enough` takes thicknesses in µm, of this shape, and says of each whether it is enough; it must stay true
    once it is true. Returns ``inf`` where one metre is not enough.

    >>> float(least_film_um(lambda um: um >= 2.5, shape=()).round(9))
    2.5
    """
    low, high = np.full(shape, -6.0), np.full(shape, 6.0)
    never = ~np.asarray(enough(10.0**high))
    for _ in range(60):  # 12 decades halved 60 times
        middle = 0.5 * (low + high)
        reached = np.asarray(enough(10.0**middle))
        low, high = np.where(reached, low, middle), np.where(reached, middle, high)
    return np.asarray(np.where(never, np.inf, 10.0**high))
