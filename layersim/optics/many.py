"""Very many stacks of two-cone films at once, in blocks that stay in the processor's cache.

Where the coats' paints are the same in all stacks and only their thickness differs, (B2) of
:mod:`layersim.optics.bulk` is used as it stands. With the eigenvectors of (B4), in a film's own lines,

    e = (1 + y₁ + y₂ + δ,  1 − y₁ + y₂ − δ,  1 + y₁ − y₂ − δ,  1 − y₁ − y₂ + δ,  y₁₂)

a film is, but for a factor that all share, e ← (1, u, v, uv, √(uv)) e with u = exp(−2x₁X) and
v = exp(−2x₂X), and the way from one paint's lines to the next one's is a fixed matrix of 5 × 5 a
wavelength                                                                                   (D10)

so a film costs two exponentials, a few products and one product with that matrix, and may be as thin or
as thick as one likes. Terms of both signs meet in it: where a paint hardly absorbs it loses digits,
about 1e-16/√share of reflectance, with the absorbed share a/(a + b) of (D3) to (D6). Below a share of
1e-6, and where every stack has a paint of its own, (D7) is used. D10 is derived here from B2.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt

from layersim.optics import bulk, cones
from layersim.optics.cones import Admittance, Medium
from layersim.optics.threads import share_out
from layersim.spectra import BANDS, FloatArray

_LEAST_SHARE_BY_MATRIX: Final = {np.dtype(np.float32): 1e-4, np.dtype(np.float64): 1e-6}
# A film may multiply all of e by as little as 1/4 or, at the least share, as much as some hundreds.
_COATS_IN_RANGE: Final = 8
# Below this optical depth 1 − exp(−2xX) would lose the digits that count, and tanh is taken as such.
_THIN: Final = 1e-4

Array = npt.NDArray[Any]

# From the coordinates of (B1), in their order 1, y₁, y₁₂, y₂, δ, to e of (D10), and back.
_EIGEN: Final = np.array(
    [
        [1.0, 1.0, 0.0, 1.0, 1.0],
        [1.0, -1.0, 0.0, 1.0, -1.0],
        [1.0, 1.0, 0.0, -1.0, -1.0],
        [1.0, -1.0, 0.0, -1.0, 1.0],
        [0.0, 0.0, 1.0, 0.0, 0.0],
    ]
)
_FROM_EIGEN: Final = np.array([0.25, 0.25, 1.0, 0.25, 0.25])[:, np.newaxis] * _EIGEN.T


@dataclass(frozen=True, eq=False)
class ManyCoats:
    """One coat of very many stacks.

    Parameters
    ----------
    K_per_um, S_per_um : ndarray, shape (31,), or (rows, 31)
        One paint for all stacks is several times quicker than one a row.
    thickness_um : ndarray, shape (1 or rows, 1 or tones)
    """

    K_per_um: FloatArray
    S_per_um: FloatArray
    thickness_um: FloatArray

    def by_matrix(self, kind: npt.DTypeLike) -> bool:
        """Return whether it is one paint in all stacks, which absorbs enough for (D10) to keep its digits."""
        a, b = 0.5 * self.K_per_um, cones.directions().scattering_per_S * self.S_per_um
        return a.ndim == b.ndim == 1 and bool((a >= _LEAST_SHARE_BY_MATRIX[np.dtype(kind)] * (a + b)).all())


class _Tile(NamedTuple):
    """A block of stacks: some of the rows and some of the tones."""

    rows: slice
    tones: slice

    @property
    def shape(self) -> tuple[int, int]:
        return self.rows.stop - self.rows.start, self.tones.stop - self.tones.start

    def of(self, values: FloatArray) -> FloatArray:
        """Return its part of values whose first axes are 1 or all rows and 1 or all tones."""
        rows = slice(None) if values.shape[0] == 1 else self.rows
        return values[rows, slice(None) if values.shape[1] == 1 else self.tones]

    def flat(self, values: FloatArray) -> FloatArray:
        """Return the same with one entry for each stack, rows and tones in one axis."""
        rest = values.shape[2:]
        return np.broadcast_to(self.of(values), (*self.shape, *rest)).reshape(-1, *rest)

    def of_paint(self, constants: FloatArray) -> FloatArray:
        """Return its part of a paint's constants, shape (31, 1 or rows)."""
        if constants.ndim == 1:
            return constants[:, np.newaxis]
        return (constants if constants.shape[0] == 1 else constants[self.rows]).T


_Seen = Callable[[_Tile], Array]
"""Gives R − σk₁ of a tile, shape (31, rows, tones), in memory that the next call uses again."""


def seen_of_many(
    coats: Sequence[ManyCoats],
    *,
    over: Admittance,
    sheen: npt.ArrayLike,
    weights: FloatArray | None = None,
    threads: int = 1,
    kind: npt.DTypeLike = np.float64,
) -> FloatArray:
    """Return what is seen of very many stacks: :func:`cones.lay` and :func:`cones.seen`, in blocks.

    Parameters
    ----------
    coats : sequence of ManyCoats
        Bottom up.
    over : Admittance, arrays of shape (1 or rows, 1 or tones, 31)
    sheen : array_like, shape (1 or rows, 1 or tones)
    weights : ndarray, shape (31, m), optional
        With them the sums R @ weights come back instead of R, such as XYZ.
    threads : int
    kind : numpy dtype
        ``float32`` for pictures, three times quicker where (D10) is used: ΔE00 is off by less than 0.002.

    Returns
    -------
    ndarray, shape (rows, tones, 31 or m)

    Raises
    ------
    ValueError
        If a constant is negative or not finite, or a thickness negative or not a number.

    Examples
    --------
    >>> ink = ManyCoats(np.full((3, 31), 0.2), np.full(31, 0.01), np.array([[1.0], [2.0], [3.0]]))
    >>> white = cones.even_ground(np.full((1, 2, 31), 0.8))
    >>> seen_of_many([ink], over=white, sheen=np.ones((1, 1))).shape
    (3, 2, 31)
    """
    for coat in coats:
        if coat.thickness_um.size and not coat.thickness_um.min() >= 0.0:
            raise ValueError("thickness_um must be zero or more")
    first_reflection = cones.directions().k1 * np.asarray(sheen, dtype=np.float64)
    shapes = [coat.thickness_um.shape for coat in coats] + [over.cone.shape[:2], first_reflection.shape]
    shapes += [(c.shape[0], 1) for coat in coats for c in (coat.K_per_um, coat.S_per_um) if c.ndim == 2]
    rows, tones = np.broadcast_shapes(*shapes)
    out = np.empty((rows, tones, BANDS if weights is None else weights.shape[1]))
    by_matrix = bool(coats) and all(coat.by_matrix(kind) for coat in coats)
    way: _ByMatrix | _FilmByFilm = _ByMatrix(coats, over, kind) if by_matrix else _FilmByFilm(coats, over)
    tiles = _tiles(rows, tones, way.stacks)

    def work(span: tuple[int, int]) -> None:
        seen_of = way.worker()
        for tile in tiles[span[0] : span[1]]:
            seen = seen_of(tile)
            seen += tile.of(first_reflection)
            if weights is not None:
                seen = np.tensordot(weights.astype(seen.dtype), seen, axes=(0, 0))
            out[tile.rows, tile.tones] = seen.transpose(1, 2, 0)

    share_out(work, len(tiles), threads)
    return out


def _tiles(rows: int, tones: int, stacks: int) -> list[_Tile]:
    """Return blocks of up to so many stacks, with all tones of their rows if these do not exceed it."""
    wide = max(1, min(tones, stacks))
    high = stacks // wide
    return [
        _Tile(slice(row, min(row + high, rows)), slice(tone, min(tone + wide, tones)))
        for row in range(0, rows, high)
        for tone in range(0, tones, wide)
    ]


class _ByMatrix:
    """(D10), for coats that are one paint in all stacks.

    Parameters
    ----------
    coats : sequence of ManyCoats
        Bottom up, at least one.
    over : Admittance
    kind : numpy dtype
    """

    def __init__(self, coats: Sequence[ManyCoats], over: Admittance, kind: npt.DTypeLike) -> None:
        self._kind = np.dtype(kind)
        # Few enough for the cache, enough that numpy works for long between two of Python's steps.
        self.stacks = 2048 // self._kind.itemsize
        paints = [cones.medium(K_per_um=coat.K_per_um, S_per_um=coat.S_per_um) for coat in coats]
        self._minus_decay = [self._cast(-paint.decay_per_um[:, :, np.newaxis]) for paint in paints]
        self._films = [coat.thickness_um for coat in coats]
        self._enter = _EIGEN @ _on_coordinates(paints[0].inward)
        self._turns = [
            self._cast(_EIGEN @ _on_coordinates(_after(below.outward, paint.inward)) @ _FROM_EIGEN)
            for below, paint in itertools.pairwise(paints)
        ]
        surface = bulk.bare_surface()
        rows = np.stack([surface.numerator[:, 0], surface.denominator[:, 0]])
        self._leave = self._cast(rows @ _on_coordinates(paints[-1].outward) @ _FROM_EIGEN)
        self._over = (over.cone, over.cross, over.trapped)
        self._even: FloatArray | None = None
        if all(part.shape[:2] == (1, 1) for part in self._over):
            self._even = self._entered(_Tile(slice(0, 1), slice(0, 1)))

    def _cast(self, values: FloatArray) -> Array:
        return values.astype(self._kind, copy=False)

    def worker(self) -> _Seen:
        """Return what works in buffers of its own."""
        # The components of e come first, so that each is one piece of memory.
        sizes = (5, 5, 2, 2, 2, 1)
        buffers = [np.empty(parts * BANDS * self.stacks, dtype=self._kind) for parts in sizes]

        def seen(tile: _Tile) -> Array:
            size = BANDS * math.prod(tile.shape)
            e, turned, w, u, pair, both = (
                buffer[: parts * size].reshape(parts, BANDS, -1)
                for parts, buffer in zip(sizes, buffers, strict=True)
            )
            e[...] = self._entered(tile)
            for index, film in enumerate(self._films):
                if index:
                    _product(self._turns[index - 1], e, turned)
                    e, turned = turned, e
                    if index % _COATS_IN_RANGE == 0:
                        e /= e[0].copy()
                np.multiply(self._minus_decay[index], self._cast(tile.flat(film)), out=w)
                np.exp(w, out=w)
                np.multiply(w, w, out=u)
                np.multiply(w[0], w[1], out=both[0])
                e[1:3] *= u
                e[4] *= both[0]
                both *= both
                e[3] *= both[0]
            _product(self._leave, e, pair)
            R = pair[0]
            R /= pair[1]
            return np.asarray(R.reshape(BANDS, *tile.shape))

        return seen

    def _entered(self, tile: _Tile) -> FloatArray:
        """Return e of what lies below, shape (5, 31, 1 or stacks)."""
        if self._even is not None:
            return self._even
        parts = Admittance(*(tile.flat(part).T for part in self._over))
        below = bulk.coordinates(parts)
        e = np.empty_like(below)
        _product(self._enter, below, e)
        return e


def _product(matrices: Array, vectors: Array, out: Array) -> None:
    """Write the products of matrices (31, m, 5) and vectors (5, 31, stacks), shape (m, 31, stacks)."""
    np.matmul(matrices, vectors.swapaxes(0, 1), out=out.swapaxes(0, 1))


def _on_coordinates(g: FloatArray) -> FloatArray:
    """Return what the change of lines Y → gᵀ Y g does to (B1)'s coordinates, shape (31, 5, 5)."""
    a, b, c, d = g[0, 0], g[0, 1], g[1, 0], g[1, 1]
    made = np.zeros((*a.shape, 5, 5))
    made[..., 0, 0] = 1.0
    rows = ((a * a, 2.0 * a * c, c * c), (a * b, a * d + b * c, c * d), (b * b, 2.0 * b * d, d * d))
    for i, row in enumerate(rows, start=1):
        for j, value in enumerate(row, start=1):
            made[..., i, j] = value
    made[..., 4, 4] = (a * d - b * c) ** 2
    return made


def _after(leave: FloatArray, enter: FloatArray) -> FloatArray:
    """Return leaving one paint's lines and entering the next one's as a single change."""
    return np.asarray(np.einsum("ik...,kj...->ij...", leave, enter))


class _FilmByFilm:
    """(D7), for any coats.

    Parameters
    ----------
    coats : sequence of ManyCoats
        Bottom up.
    over : Admittance
    """

    # More than by matrix: each block works out the lines of its paints first.
    stacks: Final = 512

    def __init__(self, coats: Sequence[ManyCoats], over: Admittance) -> None:
        self._coats = coats
        self._over = (over.cone, over.cross, over.trapped)

    def worker(self) -> _Seen:
        """Return what works in buffers of its own."""
        # The tones of one row stand apart, so that a row's paint is taken for many rows at a time.
        y_buffer, scratch_buffer = np.empty((3, BANDS * self.stacks)), np.empty((6, BANDS * self.stacks))

        def seen(tile: _Tile) -> Array:
            shape = (BANDS, *reversed(tile.shape))
            y, scratch = (
                buffer[:, : math.prod(shape)].reshape(-1, *shape) for buffer in (y_buffer, scratch_buffer)
            )
            for mine, part in zip(y, self._over, strict=True):
                mine[...] = tile.of(part).transpose(2, 1, 0)
            leave: FloatArray | None = None
            for coat in self._coats:
                paint = cones.medium(
                    K_per_um=tile.of_paint(coat.K_per_um), S_per_um=tile.of_paint(coat.S_per_um)
                )
                _turn(y, paint.inward if leave is None else _after(leave, paint.inward), scratch)
                _lay(y, paint, tile.of(coat.thickness_um).T, scratch)
                leave = paint.outward
            if leave is not None:
                _turn(y, leave, scratch)
            return _through_surface(y).swapaxes(1, 2)

        return seen


def _turn(y: FloatArray, g: FloatArray, scratch: FloatArray) -> None:
    """Y ← gᵀ Y g in place; g of shape (2, 2, 31, 1 or rows)."""
    a, b, c, d = (v[:, np.newaxis] for v in (g[0, 0], g[0, 1], g[1, 0], g[1, 1]))
    y1, y12, y2 = y
    p1, p2, q1, q2, temp, _ = scratch
    for out, (left, first), (right, second) in (
        (p1, (a, y1), (c, y12)),
        (p2, (a, y12), (c, y2)),
        (q1, (b, y1), (d, y12)),
        (q2, (b, y12), (d, y2)),
        (y1, (a, p1), (c, p2)),
        (y12, (b, p1), (d, p2)),
        (y2, (b, q1), (d, q2)),
    ):
        np.multiply(left, first, out=out)
        np.multiply(right, second, out=temp)
        out += temp


def _lay(y: FloatArray, paint: Medium, thickness: FloatArray, scratch: FloatArray) -> None:
    """Lay a film, (D7), in place; thickness of shape (1 or tones, 1 or rows)."""
    y1, y12, y2 = y
    det, share = scratch[:2]
    # Of an even coat tanh and sech are worked out once for all tones.
    t1, s1, t2, s2 = scratch[2:, :, : len(thickness)]
    for decay, t, s in zip(paint.decay_per_um, (t1, t2), (s1, s2), strict=True):
        _tanh_sech(decay[:, np.newaxis], thickness, t, s, share[:, : len(thickness)])
    np.multiply(y1, y2, out=det)
    np.multiply(y12, y12, out=share)
    det -= share
    np.multiply(det, t1, out=share)
    y2 += share
    det *= t2
    np.multiply(t1, y1, out=share)
    y1 += det
    np.multiply(t2, y2, out=det)
    share += det
    share += 1.0
    np.divide(1.0, share, out=share)
    y12 *= share
    y12 *= s1
    y12 *= s2
    for mine, t, s in ((y1, t1, s1), (y2, t2, s2)):
        mine *= share
        s *= s
        mine *= s
        mine += t


def _tanh_sech(
    decay: FloatArray, thickness: FloatArray, tanh: FloatArray, sech: FloatArray, scratch: FloatArray
) -> None:
    """Write tanh and sech of the optical depth."""
    np.multiply(decay, thickness, out=scratch)
    if scratch.size and scratch.min() < _THIN:
        np.tanh(scratch, out=tanh)
        np.minimum(scratch, 350.0, out=scratch)
        np.cosh(scratch, out=sech)
        np.divide(1.0, sech, out=sech)
        return
    np.negative(scratch, out=scratch)
    np.exp(scratch, out=sech)
    np.multiply(sech, sech, out=scratch)
    np.subtract(1.0, scratch, out=tanh)
    scratch += 1.0
    tanh /= scratch
    sech += sech
    sech /= scratch


def _through_surface(y: FloatArray) -> FloatArray:
    """Return R − σk₁, (B3), in the place of the cross term."""
    y1, y12, y2 = y
    z = cones.directions()
    y1 *= y2
    y12 *= y12
    y1 -= y12  # det Y
    np.subtract(y2, y1, out=y12)
    y12 *= (1.0 - z.k1) * (1.0 - z.r1)
    y1 *= 1.0 + z.r1
    y2 *= 1.0 - z.r1
    y1 += y2
    y12 /= y1
    return np.asarray(y12)
