r"""How much liquid a film takes.

With A the surface, X the dry film, v the volume solids of the liquid as applied, and η the transfer
efficiency, the share of the applied solids that stays on the work,

    V = A X / (v η)                                                                         (Q1)

(the arithmetic of every paint data sheet; volume solids as in ISO 3233). Touching up u and the
reserve r are shares, the loss L is what stays in cup and hose each time a mix is cleaned away:

    V_mix = (V (1 + u) + L)(1 + r)                                                          (Q2)

η is the regulators' definition: mass of coating solids that adheres to the object ÷ mass of coating
solids used (South Coast Air Quality Management District, Spray equipment transfer efficiency). One
coating has one density of solids, so the ratio of volumes is the same.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from layersim.spectra import FloatArray

ML_PER_CM2_UM = 1e-4
"""Millilitres of film on a square centimetre for each micrometre: 1 µm is 10⁻⁴ cm."""


def liquid_ml(
    *,
    surface_cm2: npt.ArrayLike,
    dry_film_um: npt.ArrayLike,
    volume_solids: npt.ArrayLike,
    transfer_efficiency: npt.ArrayLike = 1.0,
) -> FloatArray:
    """Return the liquid that leaves a dry film on a surface, equation (Q1).

    `volume_solids` are those of the liquid as applied, thinner included. Returns ml. Raises ValueError if a
    number is out of its range.

    Ten figures of 20 cm², 10 µm of a mix of 12 % solids, of which 35 % stays on the figures:

    >>> float(liquid_ml(surface_cm2=200.0, dry_film_um=10.0, volume_solids=0.12,
    ...                 transfer_efficiency=0.35).round(2))
    4.76
    """
    A, X, v, eta = (
        np.asarray(values, dtype=np.float64)
        for values in (surface_cm2, dry_film_um, volume_solids, transfer_efficiency)
    )
    if not ((A >= 0.0).all() and (X >= 0.0).all() and np.isfinite(A).all() and np.isfinite(X).all()):
        raise ValueError("surfaces and films must be zero or more, and finite")
    if not (((v > 0.0) & (v <= 1.0)).all() and ((eta > 0.0) & (eta <= 1.0)).all()):
        raise ValueError("volume solids and transfer efficiency must be above 0 and at most 1")
    return np.asarray(A * X * ML_PER_CM2_UM / (v * eta))


def mix_ml(*, work_ml: npt.ArrayLike, touch_up: float, loss_ml: npt.ArrayLike, reserve: float) -> FloatArray:
    """Return how much to mix, equation (Q2).

    `work_ml` is what the bench takes; `touch_up` and `reserve` are shares. Returns ml.

    >>> float(mix_ml(work_ml=4.76, touch_up=0.0, loss_ml=1.0, reserve=0.15).round(1))
    6.6
    """
    work, loss = np.asarray(work_ml, dtype=np.float64), np.asarray(loss_ml, dtype=np.float64)
    return np.asarray((work * (1.0 + touch_up) + loss) * (1.0 + reserve))


def ml_words(ml: float) -> str:
    """Return a volume in words, to a hundredth of a millilitre or three digits.

    >>> ml_words(0.853), ml_words(12.34), ml_words(250.4), ml_words(0.002)
    ('0.85 ml', '12.3 ml', '250 ml', 'under 0.01 ml')
    """
    if 0.0 < ml < 0.005:
        return "under 0.01 ml"
    digits = 2 if ml < 9.995 else 1 if ml < 99.95 else 0
    return f"{ml:.{digits}f} ml"
