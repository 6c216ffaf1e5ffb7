"""Mixing by the drop, thinning, and the film that is left when it dries.

Drops measure liquid, but what colours the dry film is its solids. With pᵢ parts by volume of a
liquid whose volume solids are vᵢ (thinner: v = 0),

    cᵢ = pᵢ vᵢ / Σ pⱼ vⱼ                share of the dry film                             (M1)
    K = Σ cᵢ Kᵢ,   S = Σ cᵢ Sᵢ          D. R. Duncan, Proc. Phys. Soc. 52 (1940) 390      (M2)
    v = Σ pᵢ vᵢ / Σ pᵢ                  volume solids of the mix                          (M3)
    X = n v w                           dry film of n coats with wet film w               (M4)

(M3) and (M4) are the arithmetic behind every paint data sheet's spreading rate: ISO 3233 calls
the same quantity the non-volatile matter by volume. Volumes are taken to add on mixing.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from layersim.spectra import FloatArray


def dry_shares(*, parts: npt.ArrayLike, volume_solids: npt.ArrayLike) -> FloatArray:
    """Return each ingredient's share of the dry film, equation (M1).

    Parts by volume of each liquid and their volume solids, 0..1, stand on the last axis; thinner may be left
    out. The shares sum to 1, or are all 0 where nothing would be left.

    Raises ValueError if a part is negative or all are zero, or volume solids are outside 0..1.

    >>> dry_shares(parts=[5, 1], volume_solids=[0.30, 0.15]).round(3)
    array([0.909, 0.091])
    """
    p, v = _checked(parts, volume_solids)
    solids = p * v
    total = solids.sum(axis=-1, keepdims=True)
    return np.asarray(np.divide(solids, total, out=np.zeros_like(solids), where=total > 0.0))


def mixed_volume_solids(*, parts: npt.ArrayLike, volume_solids: npt.ArrayLike) -> FloatArray:
    """Return the volume solids of a mix, equation (M3).

    The liquids stand on the last axis.

    Raises ValueError as :func:`dry_shares`.

    >>> float(mixed_volume_solids(parts=[1, 3], volume_solids=[0.32, 0.0]))
    0.08
    """
    p, v = _checked(parts, volume_solids)
    return np.asarray((p * v).sum(axis=-1) / p.sum(axis=-1))


def mixed_constants(*, constants: npt.ArrayLike, shares: npt.ArrayLike) -> FloatArray:
    """Return K (or S) of a dry mix, equation (M2).

    `constants` has the shape (m, 31) and `shares`, from :func:`dry_shares`, (..., m).
    """
    return np.asarray(np.asarray(shares, dtype=np.float64) @ np.asarray(constants, dtype=np.float64))


def dry_film_um(
    *, wet_film_um: npt.ArrayLike, volume_solids: npt.ArrayLike, coats: npt.ArrayLike
) -> FloatArray:
    """Return the dry film of some coats, equation (M4).

    The wet film is that of one coat; volume solids, 0..1, are those of the mix as sprayed, thinner included.

    Raises ValueError if a film or a number of coats is negative or not finite, or volume solids are outside
    0..1.

    >>> float(dry_film_um(wet_film_um=20.0, volume_solids=0.15, coats=3).round(9))
    9.0
    """
    wet, v, n = (np.asarray(a, dtype=np.float64) for a in (wet_film_um, volume_solids, coats))
    for values, name in ((wet, "wet_film_um"), (n, "coats")):
        if not (values >= 0.0).all() or not np.isfinite(values).all():
            raise ValueError(f"{name} must be zero or more, and finite")
    _within_0_to_1(v)
    return np.asarray(wet * v * n)


def _checked(parts: npt.ArrayLike, volume_solids: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    p, v = np.broadcast_arrays(
        np.asarray(parts, dtype=np.float64), np.asarray(volume_solids, dtype=np.float64)
    )
    if not (p >= 0.0).all() or not np.isfinite(p).all():
        raise ValueError("parts must be zero or more, and finite")
    greatest = p.max(axis=-1, keepdims=True, initial=0.0)
    if not (greatest > 0.0).all():
        raise ValueError("the parts of a mix are all zero")
    # Only ratios count. A power of two is exact, and keeps sums and products from over- and underflow.
    p = np.ldexp(p, -np.frexp(greatest)[1])
    _within_0_to_1(v)
    return p, v


def _within_0_to_1(volume_solids: FloatArray) -> None:
    if not ((volume_solids >= 0.0) & (volume_solids <= 1.0)).all():
        raise ValueError("volume solids must lie within 0..1")
