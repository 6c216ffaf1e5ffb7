"""Films of two cones between fixed neighbours, for very many paints.

What lies below a level is the plane v = Y u in a space of four, so it has homogeneous coordinates
(Pluecker's, of the plane: 1 and all the minors of Y)

    z = (1, Y₁₁, Y₁₂, Y₂₂, det Y)                                                          (B1)

in which everything that happens above is *linear*. A change of lines Y → Gᵀ Y G takes det Y to
(det G)² det Y; a film in its own lines, with t and s of (D7), is

    1'  = 1 + t₁y₁ + t₂y₂ + t₁t₂δ      y₁' = t₁ + y₁ + t₁t₂y₂ + t₂δ      δ = y₁y₂ − y₁₂²
    δ'  = t₁t₂ + t₂y₁ + t₁y₂ + δ       y₂' = t₂ + t₁t₂y₁ + y₂ + t₁δ      y₁₂' = s₁s₂y₁₂    (B2)

and what is seen through the surface is the ratio of two rows,

    R − σk₁ = (1 − k₁)(1 − r₁) (z₄ − z₅) / ((1 − r₁) z₄ + (1 + r₁) z₅)                    (B3)

(D8 and D9 multiplied by Y₂₂). So all coats above a level, and the surface, are two rows of five
numbers a wavelength, however many coats there are: :class:`Rows`. Further, (B2) has the eigenvectors
(1 ± y₁)(1 ± y₂) with δ for y₁y₂, and y₁₂, so that with u = exp(−2x₁X), v = exp(−2x₂X)

    (seen numerator or denominator) = C₀ + C₁u + C₂v + C₃uv + C₄√(uv)                       (B4)

for one film between fixed neighbours: its thickness stands in u and v alone, and each further
coat of the same paint multiplies them by constants. :class:`Between` uses that. B1 to B4 are
derived here from D7 to D9.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from layersim.optics import cones
from layersim.optics.cones import Admittance, Medium
from layersim.spectra import FloatArray

Array = npt.NDArray[Any]

# (B4) adds terms of both signs that grow as a film's share of absorption shrinks; it is kept from
# shrinking below this. A white of SX = 24 then loses less than 4e-4 in single, 1e-7 in double precision.
_LEAST_SHARE: Final = {np.dtype(np.float32): 1e-6, np.dtype(np.float64): 1e-10}
_LEAST_ABSORPTION: Final = 1e-12


def _polynomials() -> dict[str, tuple[float, ...]]:
    """Return M and P M of (D3) and (D4) as polynomials of s = b/(a + b), in units of the extinction."""
    z = cones.directions()
    even, odd = 1.0 - z.chi2, z.chi1
    d1, d2 = z.paths
    root = float(np.sqrt(d1 * d2))
    unit = np.polynomial.Polynomial
    m = {
        "m11": unit([d1, d1 * (even * z.even[0] ** 2 - 1.0)]),
        "m12": unit([0.0, root * even * z.even[0] * z.even[1]]),
        "m22": unit([d2, d2 * (even * z.even[1] ** 2 - 1.0)]),
    }
    p11, p22 = (unit([d, -d * odd * w**2]) for d, w in zip(z.paths, z.odd, strict=True))
    p12 = unit([0.0, -root * odd * z.odd[0] * z.odd[1]])
    g11, g22 = p11 * m["m11"] + p12 * m["m12"], p12 * m["m12"] + p22 * m["m22"]
    g = {"g12": p11 * m["m12"] + p12 * m["m22"], "g21": p12 * m["m11"] + p22 * m["m12"]}
    halves = {"tilt": 0.5 * (g22 - g11), "mean": 0.5 * (g22 + g11)}
    every = {name: tuple(float(v) for v in poly.coef) for name, poly in (m | g | halves).items()}
    return every | {"lost": (even, 1.0 - odd), "paths": (d1 * d2,)}


_POLYNOMIALS: Final = _polynomials()


@dataclass(frozen=True)
class Rows:
    """All that lies above a level, the surface included, as the two rows of (B3)."""

    numerator: FloatArray
    """R − σk₁ = (numerator · z)/(denominator · z), (5, ...)."""
    denominator: FloatArray
    """R − σk₁ = (numerator · z)/(denominator · z), (5, ...)."""


def bare_surface() -> Rows:
    """Return the surface alone, equation (B3), shape (5, 1)."""
    z = cones.directions()
    gain = (1.0 - z.k1) * (1.0 - z.r1)
    return Rows(
        numerator=np.array([0.0, 0.0, 0.0, gain, -gain])[:, np.newaxis],
        denominator=np.array([0.0, 0.0, 0.0, 1.0 - z.r1, 1.0 + z.r1])[:, np.newaxis],
    )


def under(above: Rows, paint: Medium, *, thickness_um: npt.ArrayLike) -> Rows:
    """Return the rows below one more film, which lies under everything in `above`, (B2).

    Thickness in µm, broadcasting against the paint's wavelengths.

    >>> glaze = cones.medium(K_per_um=0.2, S_per_um=0.02)
    >>> ground = cones.even_ground(0.8)
    >>> rows = under(bare_surface(), glaze, thickness_um=2.0)
    >>> direct = cones.seen(cones.lay(glaze, thickness_um=2.0, over=ground), sheen=0.0)
    >>> got = seen_through(rows, coordinates(ground)[:, np.newaxis], sheen=0.0)
    >>> bool(np.isclose(got[0], direct, rtol=1e-13))
    True
    """
    X = np.asarray(thickness_um, dtype=np.float64)
    depth1, depth2 = paint.decay_per_um[0] * X, paint.decay_per_um[1] * X
    t1, t2 = np.tanh(depth1), np.tanh(depth2)
    s = 1.0 / (np.cosh(np.minimum(depth1, 350.0)) * np.cosh(np.minimum(depth2, 350.0)))

    def carried(row: FloatArray) -> FloatArray:
        one, y1, y12, y2, det = _row_turned(row, paint.outward)
        film = (
            one + t1 * y1 + t2 * y2 + t1 * t2 * det,
            t1 * one + y1 + t1 * t2 * y2 + t2 * det,
            s * y12,
            t2 * one + t1 * t2 * y1 + y2 + t1 * det,
            t1 * t2 * one + t2 * y1 + t1 * y2 + det,
        )
        return _row_turned(np.stack(np.broadcast_arrays(*film)), paint.inward)

    return Rows(carried(above.numerator), carried(above.denominator))


def coordinates(ground: Admittance) -> FloatArray:
    """Return z of (B1), shape (5, ...)."""
    one = np.ones_like(ground.cone)
    det = ground.cone * ground.trapped - ground.cross**2
    return np.stack([one, ground.cone, ground.cross, ground.trapped, det])


def seen_through(above: Rows, z: FloatArray, *, sheen: npt.ArrayLike) -> FloatArray:
    """Return what is seen of a ground through all that lies above it, (B3).

    `z` has the shape (5, ...), and the sheen is that of the finished surface.
    """
    seen = (above.numerator * z).sum(axis=0) / (above.denominator * z).sum(axis=0)
    return np.asarray(np.asarray(sheen) * cones.directions().k1 + seen)


def _row_turned(row: FloatArray, g: FloatArray) -> FloatArray:
    """Return a row before the change of lines Y → gᵀ Y g."""
    one, y1, y12, y2, det = row
    a, b, c, d = g[0, 0], g[0, 1], g[1, 0], g[1, 1]
    return np.stack(
        np.broadcast_arrays(
            one,
            a * a * y1 + a * b * y12 + b * b * y2,
            2.0 * a * c * y1 + (a * d + b * c) * y12 + 2.0 * b * d * y2,
            c * c * y1 + c * d * y12 + d * d * y2,
            (a * d - b * c) ** 2 * det,
        )
    )


class Between:
    """One film of any paint between fixed neighbours, for very many paints: equation (B4).

    Arrays have the wavelengths first and the paints last; `below`, as :func:`coordinates` gives it, has the
    shape (5, tones, 31), and `above` (5, 1 or tones, 31). ``float32`` screens, with errors near 1e-5 of
    reflectance; ``float64`` is exact. One object serves one thread.
    """

    def __init__(self, *, below: FloatArray, above: Rows, kind: npt.DTypeLike = np.float64) -> None:
        self.kind = np.dtype(kind)
        self.tones = below.shape[1]
        self._below = below.astype(self.kind)
        shape = (5, self.tones, below.shape[2])
        self._numerator, self._denominator = (
            np.broadcast_to(row, shape).astype(self.kind) for row in (above.numerator, above.denominator)
        )
        empty = np.empty((0,), dtype=self.kind)
        self._work = self._squares = self._across = self._inward = self._outward = empty
        self._decay = self._coefficients = self._scratch = empty

    def paints(self, K: Array, S: Array) -> None:
        """Take paints, K and S of shape (31, n), for one unit of film (1/µm, or one coat's worth)."""
        f: Any = self.kind.type
        poly = _POLYNOMIALS
        self._reserve(K.shape)
        mul, add = np.multiply, np.add
        a, s, e, g12, g21, tilt, fast, m11, m12, m22, det_M, det_P, h, cross, D2, n1, n2, _ = self._work
        mul(K, f(0.5), out=a)
        np.maximum(a, f(_LEAST_ABSORPTION), out=a)
        mul(S, f(cones.directions().scattering_per_S), out=s)
        add(a, s, out=e)
        # Lines depend on the ratio of the two alone; as shares of the extinction nothing overflows.
        a /= e
        s /= e
        np.maximum(a, f(_LEAST_SHARE[self.kind]), out=a)
        # M and P M of (D3) and (D4) with the extinction as unit: polynomials of the scattered share s.
        for name, out in (("g12", g12), ("g21", g21), ("tilt", tilt), ("mean", fast)):
            c0, c1, c2 = poly[name]
            mul(s, f(c2), out=out)
            out += f(c1)
            out *= s
            if c0:
                out += f(c0)
        for name, out in (("m11", m11), ("m12", m12), ("m22", m22)):
            mul(s, f(poly[name][1]), out=out)
            if poly[name][0]:
                out += f(poly[name][0])
        # Determinants without subtraction, since q and m are unit vectors.
        for share, out in zip(poly["lost"], (det_M, det_P), strict=True):
            mul(s, f(share), out=out)
            out += a
            out *= f(poly["paths"][0])
        det_M *= a
        mul(g12, g21, out=cross)
        mul(tilt, tilt, out=h)
        h += cross
        np.sqrt(h, out=h)
        fast += h
        h += tilt
        x1, x2 = self._decay
        np.sqrt(fast, out=x1)
        mul(det_P, det_M, out=x2)
        x2 /= fast
        np.sqrt(x2, out=x2)
        # Eigenvectors (g12, h) and (h, −g21) of P M; n scales them so that aᵀ M a is the decay.
        hh, hg12, hg21, g12g12, g21g21 = self._squares
        mul(h, h, out=hh)
        mul(h, g12, out=hg12)
        mul(h, g21, out=hg21)
        mul(g12, g12, out=g12g12)
        mul(g21, g21, out=g21g21)
        m11 *= g12g12
        m12 *= hg12
        m12 *= f(2.0)
        m22 *= hh
        m11 += m12
        m11 += m22
        add(hh, cross, out=D2)
        D2 *= D2
        np.divide(x1, m11, out=n1)
        mul(x2, m11, out=n2)
        det_M *= D2
        n2 /= det_M
        across = self._across
        np.subtract(hh, cross, out=across)
        both, i12, i1, i2, ib = self._inward[6], self._outward[9], m11, m12, self._outward[10]
        mul(n1, n2, out=both)
        both *= D2
        np.divide(f(1.0), D2, out=i12)
        np.divide(i12, n1, out=i1)
        np.divide(i12, n2, out=i2)
        np.divide(i1, n2, out=ib)
        for k, (square, scale) in enumerate(
            ((g12g12, n1), (hg12, n1), (hh, n1), (hh, n2), (hg21, n2), (g21g21, n2))
        ):
            mul(square, scale, out=self._inward[k])
        for k, (square, scale) in enumerate(
            (
                (g21g21, i1), (hg21, i1), (hh, i1), (hh, i2), (hg12, i2), (g12g12, i2),
                (hg21, i12), (across, i12), (hg12, i12),
            )
        ):  # fmt: skip
            mul(square, scale, out=self._outward[k])
        x1 *= e
        x2 *= e

    def coefficients(self, tone: int) -> tuple[Array, Array]:
        """Return C₀ to C₄ of numerator and denominator at one tone, each of shape (5, 31, n).

        They are good until the next call.
        """
        f: Any = self.kind.type
        one_z, Y11, Y12, Y22, det = self._below[:, tone, :, np.newaxis]
        y1, y2, y12, d, temp, low = self._work[:6]
        _, hg12, hg21, _, _ = self._squares
        inward = self._inward
        _sum_of(y1, temp, (inward[0], Y11), (inward[1], f(2.0) * Y12), (inward[2], Y22))
        _sum_of(y2, temp, (inward[3], Y11), (inward[4], f(-2.0) * Y12), (inward[5], Y22))
        _sum_of(y12, temp, (hg12, Y11), (self._across, Y12), (hg21, -Y22))
        np.multiply(inward[6], det, out=d)
        sides = self._work[8:12]
        _four_corners(sides, one_z, y1, y2, d, low, temp)
        q1, q2, q12, qd = self._work[12:16]
        outward = self._outward
        for C, row in zip(self._coefficients, (self._numerator, self._denominator), strict=True):
            one, r1, r12, r2, rd = row[:, tone, :, np.newaxis]
            if one.any() or r1.any() or r12.any():
                _sum_of(q1, temp, (outward[0], r1), (outward[1], r12), (outward[2], r2))
                _sum_of(q2, temp, (outward[3], r1), (outward[4], -r12), (outward[5], r2))
                # The factor 4 of C₄ stands here.
                _sum_of(
                    q12,
                    temp,
                    (outward[6], f(8.0) * r1),
                    (outward[7], f(4.0) * r12),
                    (outward[8], f(-8.0) * r2),
                )
            else:  # the bare surface
                np.multiply(outward[2], r2, out=q1)
                np.multiply(outward[5], r2, out=q2)
                np.multiply(outward[8], f(-8.0) * r2, out=q12)
            np.multiply(outward[10], rd, out=qd)
            _four_corners(C, one, q1, q2, qd, low, temp)
            for k in range(4):
                C[k] *= sides[k]
            np.multiply(q12, y12, out=C[4])
        return self._coefficients[0], self._coefficients[1]

    def _reserve(self, shape: tuple[int, ...]) -> None:
        """Make buffers for so many paints; they are used again while the number stays."""
        if self._work.shape[1:] == shape:
            return
        self._work = np.empty((18, *shape), dtype=self.kind)
        self._squares = np.empty((5, *shape), dtype=self.kind)
        self._across = np.empty(shape, dtype=self.kind)
        self._inward = np.empty((7, *shape), dtype=self.kind)
        self._outward = np.empty((11, *shape), dtype=self.kind)
        self._decay = np.empty((2, *shape), dtype=self.kind)
        self._coefficients = np.empty((2, 5, *shape), dtype=self.kind)
        self._scratch = np.empty((9, *shape), dtype=self.kind)

    def seen(self, coefficients: tuple[Array, Array], units: Sequence[float]) -> Iterator[Array]:
        """Yield R − σk₁ for films of so many units, shape (31, n); a view that the next one overwrites.

        Coefficients are those of :meth:`coefficients`; units rise.
        """
        top, bottom = coefficients
        x1, x2 = self._decay
        f: Any = self.kind.type
        u, v, w, num, den, e1, e2, e12, temp = self._scratch
        for power in (u, v, w):
            power.fill(1.0)
        last, held = 0.0, -1.0
        for unit in units:
            step = unit - last
            if abs(step - held) > 1e-12 * step:
                np.multiply(x1, f(-2.0 * step), out=e1)
                np.exp(e1, out=e1)
                np.multiply(x2, f(-2.0 * step), out=e2)
                np.exp(e2, out=e2)
                np.multiply(e1, e2, out=e12)
                np.sqrt(e12, out=e12)
                held = step
            last = unit
            u *= e1
            v *= e2
            w *= e12
            for C, total in ((top, num), (bottom, den)):
                np.multiply(C[3], u, out=total)
                total += C[2]
                total *= v
                np.multiply(C[1], u, out=temp)
                total += temp
                total += C[0]
                np.multiply(C[4], w, out=temp)
                total += temp
            num /= den
            yield num


def _sum_of(out: Array, temp: Array, *terms: tuple[Array, Array]) -> None:
    """Write a sum of products."""
    (first, scale), *others = terms
    np.multiply(first, scale, out=out)
    for factor, by in others:
        np.multiply(factor, by, out=temp)
        out += temp


def _four_corners(out: Array, one: Array, y1: Array, y2: Array, det: Array, low: Array, temp: Array) -> None:
    """Write 1 ± y₁ ± y₂ with δ for y₁y₂: (1+y₁)(1+y₂), (1−y₁)(1+y₂), (1+y₁)(1−y₂), (1−y₁)(1−y₂)."""
    np.add(one, y2, out=low)
    np.add(y1, det, out=temp)
    np.add(low, temp, out=out[0])
    np.subtract(low, temp, out=out[1])
    np.subtract(one, y2, out=low)
    np.subtract(y1, det, out=temp)
    np.add(low, temp, out=out[2])
    np.subtract(low, temp, out=out[3])
