"""Films laid over each other and over a ground.

A film with reflectance R₁ and transmittance T₁ over a ground that reflects R shows

    R' = R₁ + T₁² R / (1 − R₁ R)                                                          (L1)

and two films, 1 above 2, act together as

    T₁₂ = T₁ T₂ / (1 − R₁ R₂)
    R₁₂ = R₁ + T₁² R₂ / (1 − R₁ R₂)     seen from above
    R₂₁ = R₂ + T₂² R₁ / (1 − R₁ R₂)     seen from below                                   (L2)

where the inner R₁ is that seen from below and R₂ that from above (P. Kubelka, J. Opt. Soc. Am.
44 (1954) 330). All in the binder: paint binders share a refractive index near 1.5, so nothing is
reflected where two films meet, and only the topmost surface counts.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from layersim.optics import kernel
from layersim.optics.film import Film, film
from layersim.optics.threads import share_out
from layersim.spectra import BANDS, FloatArray, as_bands


@dataclass(frozen=True)
class FilmCoat:
    """One coat's constants and how thick it lies at each tone.

    Parameters
    ----------
    K_per_um, S_per_um : ndarray, shape (31,), 1/µm
    thickness_um : ndarray, shape () or (tones,), µm
    """

    K_per_um: FloatArray
    S_per_um: FloatArray
    thickness_um: FloatArray


def over_ground(top: Film, ground: npt.ArrayLike) -> FloatArray:
    """Return the reflectance of a film over a ground, equation (L1).

    Parameters
    ----------
    top : Film
    ground : array_like, 0..1, broadcasting against the film's arrays

    Returns
    -------
    ndarray

    Examples
    --------
    >>> lossless = film(K_per_um=0.0, S_per_um=1.0, thickness_um=3.0)
    >>> over_ground(lossless, [0.0, 1.0])
    array([0.75, 1.  ])
    """
    R = np.asarray(ground, dtype=np.float64)
    return np.asarray(top.R + top.T**2 * R / np.maximum(1.0 - top.R_below * R, kernel.LEAST_GAP))


def pile(*films: Film) -> Film:
    """Return several films, the first lowest, acting as one, equations (L2).

    Parameters
    ----------
    *films : Film
        Bottom up; arrays must broadcast against each other.

    Returns
    -------
    Film
        With `R_below` seen from below.

    Raises
    ------
    ValueError
        If no film is given.

    Examples
    --------
    >>> half = film(K_per_um=0.1, S_per_um=0.4, thickness_um=2.0)
    >>> whole = film(K_per_um=0.1, S_per_um=0.4, thickness_um=4.0)
    >>> bool(np.isclose(pile(half, half).R, whole.R))
    True
    """
    if not films:
        raise ValueError("a pile needs at least one film")
    whole = films[0]
    for top in films[1:]:
        between = np.maximum(1.0 - top.R_below * whole.R, kernel.LEAST_GAP)
        whole = Film(
            R=np.asarray(top.R + top.T**2 * whole.R / between),
            T=np.asarray(top.T * whole.T / between),
            R_below=np.asarray(whole.R_below + whole.T**2 * top.R_below / between),
        )
    return whole


def stacked_reflectance(
    coats: Sequence[FilmCoat],
    *,
    ground: npt.ArrayLike,
    tones: int,
    then: Callable[[FloatArray], FloatArray] | None = None,
    threads: int = 1,
) -> FloatArray:
    """Return the reflectance of many tones under the same coats, block by block in cache.

    The whole stack is worked out for a few hundred tones at a time, and `then` (the surface, a
    colour conversion) is applied before the next: a million tones never stand in memory as
    spectra unless they are asked for.

    Parameters
    ----------
    coats : sequence of FilmCoat, bottom up
    ground : array_like, shape (31,) or (tones, 31), 0..1
    tones : int, ≥ 1
    then : callable of (n, 31) giving (n, m), optional
        Applied to each block; by default the reflectance itself is returned.
    threads : int

    Returns
    -------
    ndarray, shape (tones, 31) or (tones, m)

    Raises
    ------
    ValueError
        If a shape does not fit, there is no tone, a ground is outside 0..1, or a coat's numbers are
        negative, not numbers, or (K and S) infinite.

    Examples
    --------
    >>> coat = FilmCoat(np.full(31, 0.1), np.full(31, 0.4), np.array([1.0, 2.0]))
    >>> stacked_reflectance([coat, coat], ground=0.5, tones=2).shape
    (2, 31)
    """
    if tones < 1:
        raise ValueError("at least one tone is needed")
    below = as_bands(ground, name="ground")
    if below.min() < 0.0 or below.max() > 1.0 + 1e-12:  # a stack below may have rounded a bit beyond 1
        raise ValueError("ground must lie within 0..1")
    if below.ndim > 1 and below.shape != (tones, BANDS):
        raise ValueError(f"ground has shape {below.shape}; expected (31,) or ({tones}, 31)")
    for coat in coats:
        _check(coat, tones)
    width = max(1, min(tones, kernel.BLOCK // BANDS))
    layers = [_Layer.of(coat, width) for coat in coats]

    def block(first: int, R: FloatArray, workspace: kernel.Workspace) -> FloatArray:
        R[:] = below if below.ndim == 1 else below[first : first + len(R)]
        for layer in layers:
            layer.lay(R, first, workspace)
        return R if then is None else then(R)

    shape = block(0, np.empty((1, BANDS)), kernel.Workspace()).shape
    result = np.empty((tones, *shape[1:]))

    def work(span: tuple[int, int]) -> None:
        workspace, R = kernel.Workspace(), np.empty((width, BANDS))
        for first in range(span[0], span[1], width):
            last = min(first + width, span[1])
            result[first:last] = block(first, R[: last - first], workspace)

    share_out(work, tones, threads)
    return result


@dataclass(frozen=True)
class _Layer:
    """One coat, with everything worked out that does not change from block to block.

    Parameters
    ----------
    once : Film or None
        The film itself where it is equally thick at every tone.
    constants : Constants, shape (width, 31)
        The same in each row: numpy is quicker along whole blocks.
    thickness_um : ndarray, shape (tones, 1)
    quick : bool
        See :meth:`layersim.optics.kernel.Constants.quick`.
    """

    once: Film | None
    constants: kernel.Constants
    thickness_um: FloatArray
    quick: bool

    @classmethod
    def of(cls, coat: FilmCoat, width: int) -> _Layer:
        X = coat.thickness_um
        once = None
        if X.ndim == 0:
            once = film(K_per_um=coat.K_per_um, S_per_um=coat.S_per_um, thickness_um=X)
        bare = kernel.Constants.of(coat.K_per_um, coat.S_per_um)
        return cls(once, bare.over((width, BANDS)).copied(), X.reshape(-1, 1), bare.quick(X))

    def lay(self, ground: FloatArray, first: int, workspace: kernel.Workspace) -> None:
        """Lay the coat over the tones from `first` on, in place."""
        if self.once is not None:
            workspace.lay(self.once.R, self.once.T, ground)
            return
        n = len(ground)
        here = self.constants.at((slice(n),))
        workspace.film_over(here, self.thickness_um[first : first + n], ground, quick=self.quick)


def _check(coat: FilmCoat, tones: int) -> None:
    if coat.thickness_um.shape not in ((), (tones,)):
        raise ValueError(f"thickness_um has shape {coat.thickness_um.shape}; expected () or ({tones},)")
    if not coat.thickness_um.min() >= 0.0:
        raise ValueError("thickness_um must be zero or more")
    for name, values in (("K_per_um", coat.K_per_um), ("S_per_um", coat.S_per_um)):
        if values.shape != (BANDS,):
            raise ValueError(f"{name} has shape {values.shape}; expected ({BANDS},)")
        if not (values.min() >= 0.0 and values.max() < np.inf):
            raise ValueError(f"{name} must be zero or more, and finite")
