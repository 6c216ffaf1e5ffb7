"""K and S that were made for diffuse light, as textbooks and published tables have them, made over for cones.

Kubelka and Munk's fluxes give every ray the same path and let the same share of all light out, so K and S
found with them carry those errors: they give back the swatches they came from through those fluxes, and
through no other model. So what is kept is not the numbers but the look of the films. Reference films of the
paint over black and over white, and an opaque one, as those fluxes show them under Saunderson's surface (F2
to F4, S3), are met with two cones as nearly as can be,

    K', S' = argmin Σᵢ [∛(Rᵢ' + ε) − ∛(Rᵢ + ε)]²                                           (D11)

over half a coat, one, two, four and an opaque film, over grounds seen as 3 % and 80 %. ∛R is even to the
eye. The minimum is found by Gauss and Newton's steps in ln K and ln S, all wavelengths at once, from K and S
themselves; a step that makes a wavelength worse is halved. Derived here, no source.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.optics import cones
from layersim.optics.surface import internal_from_seen, seen
from layersim.spectra import FloatArray

COATS: Final = (0.5, 1.0, 2.0, 4.0)
GROUNDS: Final = (0.03, 0.8)
OFFSET: Final = 0.004
"""ε of (D11): darker than this nothing is told apart."""

_STEPS: Final = 30
_LONGEST: Final = 1.0
_SHIFT: Final = 1e-4
# What no reference film shows (S of a black, K of a white) stays where it is: a change of one in ln K or ln S
# counts as much as this one of ∛R.
_HOLD: Final = 1e-3
_LEAST: Final = 1e-12


def made_for_cones(
    *, K_per_um: npt.ArrayLike, S_per_um: npt.ArrayLike, coat_um: float
) -> tuple[FloatArray, FloatArray]:
    """Return K and S with which two cones show what these K and S show in diffuse light, equation (D11).

    K and S in 1/µm, shape (n,); what is 0 stays 0. The films that are met are half a coat to four coats thick
    when dry, one coat being `coat_um`.

    >>> K, S = made_for_cones(K_per_um=[0.2, 0.02], S_per_um=[0.02, 0.2], coat_um=3.0)
    >>> bool((K > [0.2, 0.02]).all())  # light from above has a shorter way
    True
    """
    K, S = (np.asarray(values, dtype=np.float64) for values in (K_per_um, S_per_um))
    X = coat_um * np.array(COATS)[:, np.newaxis]
    wanted = _cube_root(_diffuse(K, S, X))
    start = np.log(np.maximum([K, S], _LEAST))
    at = start.copy()

    def misses(logs: FloatArray) -> FloatArray:
        constants = np.exp(logs)
        shown = _cube_root(_cones(constants[0], constants[1], X))
        return np.concatenate([shown - wanted, _HOLD * (logs - start)])

    off = misses(at)
    for _ in range(_STEPS):
        J = np.stack(
            [(misses(at + _SHIFT * np.eye(2)[i][:, np.newaxis]) - off) / _SHIFT for i in range(2)], axis=-1
        )
        H = np.einsum("mni,mnj->nij", J, J)
        step = -np.linalg.solve(H, np.einsum("mni,mn->ni", J, off)[..., np.newaxis])[..., 0].T
        step = np.clip(step, -_LONGEST, _LONGEST)
        for _ in range(6):
            found = misses(at + step)
            worse = (found**2).sum(axis=0) > (off**2).sum(axis=0)
            if not worse.any():
                break
            step = np.where(worse, 0.5 * step, step)
        step = np.where(worse, 0.0, step)
        at = at + step
        off = misses(at)
        if np.abs(step).max() < 1e-6:
            break
    return np.where(K > 0.0, np.exp(at[0]), 0.0), np.where(S > 0.0, np.exp(at[1]), 0.0)


def _diffuse(K: FloatArray, S: FloatArray, X: FloatArray) -> FloatArray:
    """Return the reference films as two diffuse fluxes show them, shape (films, n)."""
    K = np.maximum(K, _LEAST)
    c = np.sqrt(K * (K + 2.0 * S))
    E = np.exp(-c * X)
    tanh, sech = (1.0 - E * E) / (1.0 + E * E), 2.0 * E / (1.0 + E * E)
    below = (K + S) * tanh + c
    R, T = S * tanh / below, c * sech / below
    grounds = [internal_from_seen(ground, sheen=0.0) for ground in GROUNDS]
    rows = [R + T**2 * ground / (1.0 - R * ground) for ground in grounds]
    return seen(np.concatenate([*rows, (S / (K + S + c))[np.newaxis]]), sheen=0.0)


def _cones(K: FloatArray, S: FloatArray, X: FloatArray) -> FloatArray:
    """Return the reference films as two cones show them, shape (films, n)."""
    paint = cones.medium(K_per_um=K, S_per_um=S)
    rows = [
        cones.seen(cones.lay(paint, thickness_um=X, over=cones.ground_from_seen(R, sheen=0.0)), sheen=0.0)
        for R in GROUNDS
    ]
    return np.concatenate([*rows, cones.seen(cones.endless(paint), sheen=0.0)[np.newaxis]])


def _cube_root(R: FloatArray) -> FloatArray:
    return np.asarray(np.cbrt(R + OFFSET))
