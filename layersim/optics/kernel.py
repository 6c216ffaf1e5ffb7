"""The inner loop of the film equations: blocks that fit the processor's cache, buffers used again.

Only arithmetic lives here; the physics and its sources are in :mod:`layersim.optics.film` and
:mod:`layersim.optics.stack`. Whole-array numpy spends most of its time fetching temporaries from
memory; working through blocks in buffers that stay in cache is several times quicker and needs
no compiler. What hangs on K and S alone is worked out once, and
one exponential a film is then most of the work.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt

from layersim.optics.threads import share_out
from layersim.spectra import FloatArray

# Small enough for the cache, large enough that numpy works for long between two of Python's steps, which
# only one thread can take at a time.
BLOCK: Final = 32768
# Below this optical depth 1 − exp(−2u) loses digits, and the slower careful form is used.
_CAREFUL_BELOW: Final = 2.0**-8
_WITHOUT_BOUND: Final = 1e150
LEAST_GAP: Final = 2.0**-53
"""Floor of 1 − R₁ R, which rounds to 0 only when it is below this.

Since T ≤ 1 − R, a film so white lets T² ≤ 2⁻¹⁰⁶ through and back: over this floor it adds less than
the last bit, where the true T² / (1 − R₁ R) ≤ T does too.
"""

_Index = tuple[Any, ...]
"""What numpy takes between brackets: numbers, slices, or an ellipsis for the whole."""


def lenient() -> np.errstate:
    """Let nan and inf pass on the way: factors without bound make them, the careful form mends them."""
    return np.errstate(invalid="ignore", over="ignore", under="ignore", divide="ignore")


class Constants(NamedTuple):
    """What the film equations need of K and S, whatever the thickness.

    With c = √(K (K + 2S)) and E = exp(−cX), equations (F2) and (F3) become

        T = τE / (1 − ρ²E²),    R = ρ − ρE T,    ρ = S / (K + S + c),    τ = 1 − ρ² = 2c / (K + S + c)

    Parameters
    ----------
    K, S : ndarray, 1/µm
    minus_c : ndarray, 1/µm
    rho : ndarray
        R∞, equation (F4).
    tau : ndarray
    """

    K: FloatArray
    S: FloatArray
    minus_c: FloatArray
    rho: FloatArray
    tau: FloatArray

    @classmethod
    def of(cls, K: FloatArray, S: FloatArray, space: FloatArray | None = None) -> Constants:
        """Return the constants of films whose K and S broadcast against each other.

        Parameters
        ----------
        K, S : ndarray, 1/µm
        space : ndarray, shape (3, ...), optional
            Where to write them; new memory by default.
        """
        K, S = np.broadcast_arrays(np.atleast_1d(K), S)
        c, rho, tau = np.empty((3, *K.shape)) if space is None else space
        with lenient():
            np.add(K, S, out=rho)
            np.add(rho, S, out=c)
            np.multiply(c, K, out=c)
            np.sqrt(c, out=c)
            np.add(rho, c, out=rho)
            np.divide(c, rho, out=tau)
            np.add(tau, tau, out=tau)
            np.divide(S, rho, out=rho)
            # At 1 the quick form would make 0/0 over a perfect white.
            np.minimum(rho, 1.0 - LEAST_GAP, out=rho)
            np.negative(c, out=c)
        return cls(K, S, c, rho, tau)

    def at(self, index: _Index) -> Constants:
        """Return the constants at some places."""
        return Constants(*(a[index] for a in self))

    def over(self, shape: tuple[int, ...]) -> Constants:
        """Return the constants broadcast to a shape, as views."""
        return Constants(*(np.broadcast_to(a, shape) for a in self))

    def copied(self) -> Constants:
        """Return the constants in memory of their own, one after the other."""
        return Constants(*(np.array(a, order="C") for a in self))

    def quick(self, X: FloatArray) -> bool:
        """Return whether no film of these thicknesses can need the careful form."""
        with lenient():
            thinnest, thickest = X.min() * self.minus_c.max(), X.max() * self.minus_c.min()
        return bool(thinnest <= -_CAREFUL_BELOW and thickest > -_WITHOUT_BOUND and X.max() < _WITHOUT_BOUND)


class Workspace:
    """Scratch buffers for blocks of up to `size` values; one for each thread."""

    def __init__(self, size: int = BLOCK) -> None:
        self._scratch = np.empty((3, size))
        self._constants = np.empty((3, size))

    def constants(self, K: FloatArray, S: FloatArray) -> Constants:
        """Return the constants of one block, in a buffer that the next call uses again."""
        return Constants.of(K, S, self._constants[:, : K.size].reshape(3, *K.shape))

    def film(
        self, constants: Constants, X: FloatArray, R: FloatArray, T: FloatArray, *, quick: bool = False
    ) -> None:
        """Write reflectance and transmittance of one block of films into `R` and `T`.

        Parameters
        ----------
        constants : Constants
        X : ndarray, µm
            Both broadcasting to the shape of `R` and `T`.
        R, T : ndarray
        quick : bool
            Whether :meth:`Constants.quick` has said so.
        """
        minus_u, E = self._scratch[:2, : R.size].reshape(2, *R.shape)
        with lenient():
            np.multiply(constants.minus_c, X, out=minus_u)
            np.exp(minus_u, out=E)
            np.multiply(constants.rho, E, out=R)
            np.multiply(constants.tau, E, out=T)
            np.multiply(R, R, out=E)
            np.subtract(1.0, E, out=E)
            np.divide(T, E, out=T)
            np.multiply(R, T, out=R)
            np.subtract(constants.rho, R, out=R)
            few = None if quick else _to_mend(minus_u, X)
            if few is not None:
                R[few], T[few] = _careful(*_places(few, constants.K, constants.S, X))

    def film_over(
        self, constants: Constants, X: FloatArray, ground: FloatArray, *, quick: bool = False
    ) -> None:
        """Lay a block of films over `ground` and write what is seen back into `ground`.

        Equation (L1) of :mod:`layersim.optics.stack`, with R₁ and T₁ as in :class:`Constants`, is

            R ← (ρ (1 − ρR) − E² (ρ − R)) / (1 − ρR − ρE² (ρ − R))

        Parameters
        ----------
        constants, X, quick
            As :meth:`film`.
        ground : ndarray
        """
        E2, gap, part = self._scratch[:, : ground.size].reshape(3, *ground.shape)
        rho = constants.rho
        with lenient():
            np.multiply(constants.minus_c, X, out=E2)
            few = None if quick else _to_mend(E2, X)
            if few is not None:
                K, S, thickness, below = _places(few, constants.K, constants.S, X, ground)
                R, T = _careful(K, S, thickness)
                mended = R + T * T * below / np.maximum(1.0 - R * below, LEAST_GAP)
            np.exp(E2, out=E2)
            np.multiply(E2, E2, out=E2)
            np.multiply(rho, ground, out=gap)
            np.subtract(1.0, gap, out=gap)
            np.subtract(rho, ground, out=part)
            np.multiply(part, E2, out=part)
            np.multiply(rho, gap, out=ground)
            np.subtract(ground, part, out=ground)
            np.multiply(rho, part, out=part)
            np.subtract(gap, part, out=gap)
            np.divide(ground, gap, out=ground)
        if few is not None:
            ground[few] = mended

    def lay(self, R: FloatArray, T: FloatArray, ground: FloatArray) -> None:
        """Lay films of known `R` and `T` over a block of `ground`, in place; any shape up to the size."""
        between = self._scratch[0, : ground.size].reshape(ground.shape)
        np.multiply(R, ground, out=between)
        np.subtract(1.0, between, out=between)
        np.multiply(ground, T, out=ground)
        np.multiply(ground, T, out=ground)
        np.maximum(between, LEAST_GAP, out=between)
        np.divide(ground, between, out=ground)
        np.add(ground, R, out=ground)


def _to_mend(minus_u: FloatArray, X: FloatArray) -> npt.NDArray[np.bool_] | None:
    """Return where the quick form loses digits or makes something that is no number; None if nowhere."""
    # A thickness without bound makes u an ordinary number only where K (K + 2S) has lost digits.
    if minus_u.max() <= -_CAREFUL_BELOW and minus_u.min() > -_WITHOUT_BOUND and X.max() < _WITHOUT_BOUND:
        return None
    return ~((minus_u <= -_CAREFUL_BELOW) & (minus_u > -_WITHOUT_BOUND) & (X < _WITHOUT_BOUND))  # nan, too


def _places(where: npt.NDArray[np.bool_], *arrays: FloatArray) -> list[FloatArray]:
    return [np.broadcast_to(a, where.shape)[where] for a in arrays]


def _careful(K: FloatArray, S: FloatArray, X: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Equations (F2) to (F4) where a factor may vanish or be without bound."""
    kx, sx = K * X, S * X
    opaque = ~(kx + sx < _WITHOUT_BOUND)  # counts 0 · inf, which is not a number, too
    kx, sx = np.where(opaque, 0.0, kx), np.where(opaque, 0.0, sx)
    u = np.sqrt(kx) * np.sqrt(kx + 2.0 * sx)
    tau = np.divide(np.tanh(u), u, out=np.ones_like(u), where=u > 0.0)
    E = np.exp(-u)
    den = 1.0 + (kx + sx) * tau
    R, T = sx * tau / den, 2.0 * E / (1.0 + E * E) / den
    greater = np.maximum(K, S)
    empty = greater == 0.0
    greater = np.where(empty, 1.0, greater)
    k, s = K / greater, S / greater  # R∞ hangs on their ratio alone, and their sum may overflow
    total = np.where(empty, 1.0, k + s + np.sqrt(k) * np.sqrt(k + 2.0 * s))
    return np.where(opaque, s / total, R), np.where(opaque, np.where(empty, 1.0, 0.0), T)


def films(K: FloatArray, S: FloatArray, X: FloatArray, *, threads: int = 1) -> tuple[FloatArray, FloatArray]:
    """Return R and T of films whose K, S and X broadcast against each other.

    Parameters
    ----------
    K, S, X : ndarray
        1/µm, 1/µm and µm; not checked here.
    threads : int

    Returns
    -------
    R, T : ndarray of the broadcast shape
    """
    asked = np.broadcast_shapes(K.shape, S.shape, X.shape)
    shape = asked or (1,)
    R, T = np.empty(shape), np.empty(shape)
    if R.size == 0:
        return R, T
    blocks = _blocks(shape)
    largest = R[blocks[0]].shape
    thickness = np.broadcast_to(X, shape)
    constants_at, quick = _constants_in_blocks(K, S, X, blocks, R)

    def work(span: tuple[int, int]) -> None:
        workspace = Workspace(math.prod(largest))
        for index in blocks[span[0] : span[1]]:
            here = constants_at(index, workspace)
            workspace.film(here, thickness[index], R[index], T[index], quick=quick)

    share_out(work, len(blocks), threads)
    return R.reshape(asked), T.reshape(asked)


def _constants_in_blocks(
    K: FloatArray, S: FloatArray, X: FloatArray, blocks: list[_Index], like: FloatArray
) -> tuple[Callable[[_Index, Workspace], Constants], bool]:
    """Return what gives the constants of a block, and whether no film needs the careful form."""
    shape, largest = like.shape, like[blocks[0]].shape
    own = np.broadcast_shapes(K.shape, S.shape)
    if 4 * math.prod(own) > like.size > BLOCK:
        K, S = np.broadcast_to(K, shape), np.broadcast_to(S, shape)
        return lambda index, workspace: workspace.constants(K[index], S[index]), False
    compact = Constants.of(K, S)
    quick = compact.quick(X)
    everywhere = compact.over(shape)
    if len(blocks) > 1 and math.prod(own[: max(0, len(own) - len(largest) + 1)]) == 1:
        # The same in every block, so written out once: numpy is quicker along whole blocks.
        first = everywhere.at(blocks[0]).copied()
        return lambda index, _: first.at((slice(len(like[index])),)), quick
    return lambda index, _: everywhere.at(index), quick


def _blocks(shape: tuple[int, ...]) -> list[_Index]:
    """Return where the blocks of an array are, each of up to about `BLOCK` values in one piece."""
    axis, inside = len(shape), 1
    while axis > 0 and inside * shape[axis - 1] <= BLOCK:
        axis -= 1
        inside *= shape[axis]
    if axis == 0:
        return [(...,)]
    step = max(1, BLOCK // inside)
    pieces = [slice(i, min(i + step, shape[axis - 1])) for i in range(0, shape[axis - 1], step)]
    return [(*outer, piece) for outer in np.ndindex(shape[: axis - 1]) for piece in pieces]
