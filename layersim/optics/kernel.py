"""The inner loop of the film equations: blocks that fit the processor's cache, buffers used again.

Only arithmetic lives here; the physics and its sources are in :mod:`layersim.optics.film` and
:mod:`layersim.optics.stack`. Whole-array numpy spends most of its time fetching temporaries from
memory; working through blocks of about 8,000 values in buffers that stay in cache is
several times quicker and needs no compiler.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Final

import numpy as np

from layersim.spectra import FloatArray

BLOCK: Final = 8192
# Below this optical depth 1 − exp(−2u) loses digits, and the slower careful form is used.
_CAREFUL_BELOW: Final = 2.0**-10
_WITHOUT_BOUND: Final = 1e150
LEAST_GAP: Final = 2.0**-53
"""Floor of 1 − R₁ R, which rounds to 0 only when it is below this.

Since T ≤ 1 − R, a film so white lets T² ≤ 2⁻¹⁰⁶ through and back: over this floor it adds less than
the last bit, where the true T² / (1 − R₁ R) ≤ T does too.
"""


def lenient() -> np.errstate:
    """Let nan and inf pass on the way: factors without bound make them, the careful form mends them."""
    return np.errstate(invalid="ignore", over="ignore", under="ignore", divide="ignore")


class Workspace:
    """Scratch buffers for blocks of up to `size` values; one for each thread."""

    def __init__(self, size: int = BLOCK) -> None:
        self._scratch = np.empty((6, size))
        self.R = np.empty(size)
        self.T = np.empty(size)

    def film(self, K: FloatArray, S: FloatArray, X: FloatArray, R: FloatArray, T: FloatArray) -> None:
        """Write reflectance and transmittance of one block of films into `R` and `T` (1-d arrays).

        With c = √(K (K + 2S)), u = cX and E = exp(−u), equations (F2) and (F3) become
        R = S (1 − E²) / D and T = 2cE / D with D = (K + S)(1 − E²) + c (1 + E²).
        """
        n = R.shape[0]
        c, u, E, low, high, den = self._scratch[:, :n]
        np.add(K, S, out=den)
        np.add(den, S, out=c)
        np.multiply(c, K, out=c)
        np.sqrt(c, out=c)
        np.multiply(c, X, out=u)
        np.negative(u, out=E)
        np.exp(E, out=E)
        np.multiply(E, E, out=high)
        np.subtract(1.0, high, out=low)
        np.add(1.0, high, out=high)
        np.multiply(den, low, out=den)
        np.multiply(high, c, out=high)
        np.add(den, high, out=den)
        np.multiply(S, low, out=R)
        np.divide(R, den, out=R)
        np.multiply(E, c, out=T)
        np.add(T, T, out=T)
        np.divide(T, den, out=T)
        # A thickness without bound makes u an ordinary number only where K (K + 2S) has lost digits.
        if not (u.min() >= _CAREFUL_BELOW and u.max() < _WITHOUT_BOUND and X.max() < _WITHOUT_BOUND):
            few = ~((u >= _CAREFUL_BELOW) & (u < _WITHOUT_BOUND) & (X < _WITHOUT_BOUND))  # nan, too
            R[few], T[few] = _careful(K[few], S[few], X[few])

    def film_over(self, K: FloatArray, S: FloatArray, X: FloatArray, ground: FloatArray) -> None:
        """Lay a block of films over `ground` and write what is seen back into `ground` (1-d arrays).

        R ← R₁ + T₁² R / (1 − R₁ R), equation (L1) of :mod:`layersim.optics.stack`.
        """
        n = ground.shape[0]
        R, T = self.R[:n], self.T[:n]
        with lenient():
            self.film(K, S, X, R, T)
        self.lay(R, T, ground)

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
    shape = np.broadcast_shapes(K.shape, S.shape, X.shape)
    R, T = np.empty(shape), np.empty(shape)
    if R.size == 0:
        return R, T
    if R.size <= BLOCK:
        flat = [np.broadcast_to(a, shape).reshape(-1) for a in (K, S, X)]
        with lenient():
            Workspace(R.size).film(flat[0], flat[1], flat[2], R.reshape(-1), T.reshape(-1))
        return R, T
    whole = [np.broadcast_to(a, shape) for a in (K, S, X)]
    rows = shape[0]

    def work(span: tuple[int, int]) -> None:
        part = [a[span[0] : span[1]] for a in (*whole, R, T)]
        workspace = Workspace()
        with (
            lenient(),
            np.nditer(
                part,
                ["external_loop", "buffered"],
                [["readonly"], ["readonly"], ["readonly"], ["writeonly"], ["writeonly"]],
                order="C",
                buffersize=BLOCK,
            ) as blocks,
        ):
            for k, s, x, r, t in blocks:
                workspace.film(k, s, x, r, t)

    share_out(work, rows, threads)
    return R, T


def share_out(work: Callable[[tuple[int, int]], None], rows: int, threads: int) -> None:
    """Call `work` on equal spans of `rows`, one a thread; numpy lets go of the interpreter inside.

    Parameters
    ----------
    work : callable of (first, after_last)
    rows : int
    threads : int
    """
    threads = max(1, min(threads, rows))
    edges = [rows * i // threads for i in range(threads + 1)]
    spans = list(itertools.pairwise(edges))
    if threads == 1:
        work(spans[0])
        return
    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(work, spans))
