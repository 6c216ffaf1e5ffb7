"""Films of metal flakes: small mirrors that lie nearly flat in a binder, which may be tinted.

**A flake** of a metal of index N = n + ik in a binder of index n_b reflects of unpolarised light, with μ the
cosine of incidence and m = N/n_b (A. Fresnel; M. Born and E. Wolf, Principles of Optics, section 14.2),

    F = ½ |(μ − q)/(μ + q)|² + ½ |(m²μ − q)/(m²μ + q)|²,   q = √(m² − 1 + μ²)                     (L1)

taken at the mean direction of the escape cone; between 0° and 40° it hardly changes.

**A film** of X µm with C of flakes (their area per area of the film and µm of it) is a sheet. Flakes that
are strewn at random leave gaps (Poisson). Light comes down to a flake at a depth z, and where it goes up
again, 2z tan θ aside, other flakes of width D may cover the way, in all of it (4/πD) C z² tan θ of them. What
slips under a flake so is lost between the two. The binder above the flakes, d, is as
thick as passes what the ways down to the first flake and back pass on average, q the loss along them; the
rest of it, X − d, lies below:

    g = exp(−CX),   r = F h(CX),   h(u) = ∫ exp(−v − k v²/C) dv from 0 to u
    q = 2 d₁ (a + b),   exp(−qd) = C/(C + q) · (1 − exp(−(C + q)X))/(1 − g)                       (L2)

Both are means over depths z = v/C of the first flake, of density C exp(−Cz), derived here. k = (4/π) tan θ/D,
with θ the cone's mean direction and D :data:`FLAKE_UM`; C is that of all films of a sheet together. Without
absorption d = 1/C − X g/(1 − g).

Without flakes (C → 0) this is the binder's own film; hiding, and dense beside their width (C → ∞), flat and
smooth, it is the metal's F.

**What a sheet sends back** keeps its direction but for the flakes' tilt, or is strewn evenly by their edges
and their roughness (a share κ). The tilts are Gaussian slopes of variance s² either way: L.-P. Sung and
others (J. Coat. Technol. 74 (2002) 55, from memory) measured such tilts, and reckoned reflectance from them
as from mirrors under a refracting surface. Of light in the cone the share p is turned out of it. In the two
cones of :mod:`layersim.optics.cones`, with e = √c of even light and v across it,

    r_e = r,   r_v = r (1 − κ)(1 − p/c₂)                                                          (L3)

in the lines e and v, which it does not mix. Over what reflects R_b (a matrix) it reflects, with r the two
on a diagonal,

    R = r + g ((1 − c) g R_b (1 − r R_b)⁻¹ + c R_b)                                               (L4)

Light that comes up from the ground far from where it went down meets gaps and flakes as if for the first
time (the first term, with all that it does between flakes and ground). Near there it finds its gap again (the
second); c is :data:`BACK`. Films with flakes that lie on each other are one sheet: with covers CX of u₁ below
and u₂ above it has g = g₁g₂ and r = r₂ + r₁ (h(u₁ + u₂) − h(u₂))/h(u₁), so that two coats of one paint are
one.

**By angle.** What comes off a flake without being scattered on its way in or out has a direction. Its share
of the cone's light, under films of absorption a and scattering b, each passed twice, is

    E = r (1 − κ)(1 − p) exp(−2 d₁ Σ (a + b) X),   under a further sheet E ← g ((1 − c) g + c) E  (L5)

and the rest is even. In a sheet of several films E of their own flakes goes with r, and only what shines
through their gaps with g. With h halfway between the directions, in the binder, of the light (cosine μᵢ) and
of the eye (μₒ), and t² the square of its slope, facets whose slopes have the variance s² send (K. E. Torrance
and E. M. Sparrow, J. Opt. Soc. Am. 57 (1967) 1105; with P. Beckmann's slopes, as R. L. Cook and K. E.
Torrance have them, ACM Trans. Graph. 1 (1982) 7)

    ℓ = Tᵢ Tₒ π (1 + t²)² exp(−t²/2s²) / (2π s² · 4 μᵢ μₒ n_b²)                                   (L6)
    R(direction) = R_even − E ((1 − k₁)(1 − r₁) + (r₁ − k₁) R_even) + (1 − k₁)² E ℓ/ℓ̄             (L7)

where R_even is (D9) of the stack, T are the surface's transmittances (Fresnel), and ℓ̄ is the mean of ℓ over
the hemisphere for light from 45°: turning the model moves light and makes none. In (D9) the surface turns r₁
of the cone back. What comes off flakes meets it steeply, and k₁ of it is turned back: the middle term takes E
out of R_even, and with it what E was believed to bring after it had been turned back.

**A rough surface** on top turns what passes. With slopes of variance m² = (M σ)² either way, a slope ε turns
a ray inside by (1 − 1/n_b) ε, and the half vector by half of that, in and out through slopes of their own.
Who looks from the side looks through slopes that lean towards him, by m² tan θ on average (slopes weighted by
how much is seen of them). So both ways lie flatter inside, by μ'/μ − 1/n_b of their part τ along the surface
outside:

    s² ← s² + ½ (1 − 1/n_b)² m²,   t = Σ [1/n_b + m² (μ'/μ − 1/n_b)] τ / Σ μ'                     (L8)

while ℓ̄ stays that of the flakes: what the surface turns out of the cone is lost to the lobe. M, the slope
of a fully matt surface, is a convention. (L8) is derived here; rays (tests/oracle/flakes.py) judge it.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.optics import cones, levels
from layersim.optics.cones import Air, Directions
from layersim.optics.levels import Layable
from layersim.optics.surface import BINDER_INDEX
from layersim.spectra import FloatArray

FLAKE_UM: Final = 12.0
"""D of (L2), how wide flakes are: common sizes are 5 to 30 µm (common practice, no source)."""
BACK: Final = 0.7
"""c of (L4): of light that even ground sends back, as rays traced through films of 5 µm want it."""
MATT_SLOPE: Final = 0.5
"""Standard deviation of the slopes of a fully matt surface (an assumption, no source)."""
NEAR, TURNED, FAR = 15.0, 45.0, 110.0
ANGLES_DEG: Final = (NEAR, TURNED, FAR)
"""From the mirror direction, for light from 45° (the three of ASTM E2194, from memory)."""
LIT_FROM_DEG: Final = 45.0
_SLOPES: Final = np.geomspace(1e-3, 2.0, 64)
_GRID: Final = 81
_WIDTH: Final = 4.0
_THIN: Final = 1e-4
_LEAST_FACING: Final = 0.5
"""Cosine from which on slopes hide each other, and no more of them lean towards the eye."""
_GAUSS: Final = 0.5 * np.array(np.polynomial.legendre.leggauss(24)) + np.array([[0.5], [0.0]])
"""Places from 0 to 1, and their weights."""
_TINY: Final = 1e-300
_LEAST_LOSS: Final = 1e-15


def fresnel(index: npt.ArrayLike, *, cosine: npt.ArrayLike, binder: float = BINDER_INDEX) -> FloatArray:
    """Return what a metal reflects of unpolarised light in a binder, (L1).

    `index` is complex, n + ik, and `cosine` that of the angle of incidence in the binder.

    >>> round(float(fresnel(0.0 + 6.0j, cosine=0.9)), 12)
    1.0
    """
    m2, mu = (np.asarray(index, dtype=np.complex128) / binder) ** 2, np.asarray(cosine, dtype=np.float64)
    q = np.sqrt(m2 - 1.0 + mu**2)
    across, along = (mu - q) / (mu + q), (m2 * mu - q) / (m2 * mu + q)
    return np.asarray(0.5 * (np.abs(across) ** 2 + np.abs(along) ** 2))


def in_cone(index: npt.ArrayLike) -> FloatArray:
    """Return what flakes of a metal reflect of the light of the escape cone, (L1)."""
    return fresnel(index, cosine=1.0 / cones.directions().paths[0])


@dataclass(frozen=True, eq=False)
class FlakeSheet:
    """The flakes in a coat of paint, one set a row."""

    cover_per_um: FloatArray
    """C of (L2), shape (row,)."""
    reflectance: FloatArray
    """F, shape (row, 31)."""
    variance: FloatArray
    """s² of their slopes, (row,)."""
    rough: FloatArray
    """κ, the share that is strewn evenly, (row,)."""

    def rows(self, rows: slice) -> FlakeSheet:
        """Return some of the rows."""
        return FlakeSheet(
            self.cover_per_um[rows], self.reflectance[rows], self.variance[rows], self.rough[rows]
        )


def sheet_of(index: npt.ArrayLike, *, cover_per_um: float, tilt_deg: float, rough: float) -> FlakeSheet:
    """Return flakes of a metal of some index, (31,), as a paint's record says them: one row."""
    return FlakeSheet(
        np.array([cover_per_um]), in_cone(index)[np.newaxis], slope_variance([tilt_deg]), np.array([rough])
    )


def slope_variance(tilt_deg: npt.ArrayLike) -> FloatArray:
    """Return s² of flakes whose tilts have some standard deviation."""
    return np.asarray(np.tan(np.radians(tilt_deg)) ** 2)


@dataclass(frozen=True, eq=False)
class Group:
    """Films with flakes that lie on each other with nothing between them: one sheet."""

    below: FloatArray
    """The level under all of their flakes, with all of their binder."""
    reflectance: FloatArray
    """r of (L2)."""
    across: FloatArray
    """R_v of (L3)."""
    cover: FloatArray
    """u, all their CX."""
    film_um: FloatArray
    """All their X."""
    share: FloatArray
    """E of (L5) of their flakes alone, without what shines through their gaps."""
    depth: FloatArray
    """Σ (a + b) X above their flakes."""


@dataclass(frozen=True, eq=False)
class Mirror:
    """What has a direction of the light that a stack sends back; axes (row, wavelength, ...)."""

    share: FloatArray
    """E of (L5)."""
    variance: FloatArray
    """s² of the flakes that it comes off."""
    depth: FloatArray
    """Σ (a + b) X above them."""
    group: Group | None = None
    """None once something else lies on the flakes."""

    def each(self, change: Callable[..., FloatArray], *others: Mirror) -> Mirror:
        """Return what a change makes of each of its arrays, together with those of others."""
        several = (self, *others)
        share, variance, depth = (
            change(*(getattr(one, name) for one in several)) for name in ("share", "variance", "depth")
        )
        groups = [one.group for one in several if one.group is not None]
        if len(groups) < len(several):
            return Mirror(share, variance, depth)
        names = [field.name for field in fields(Group)]
        group = Group(*(change(*(getattr(one, name) for one in groups)) for name in names))
        return Mirror(share, variance, depth, group)

    def grouped(self, level: FloatArray) -> Mirror:
        """Return it with a group on a level, of no flakes where there was none: that changes nothing."""
        if self.group is not None:
            return self
        none = np.zeros(level[:, :, 0].shape)
        return replace(self, group=Group(level, none, none, none, none, none, none))

    def under(self, depth: FloatArray) -> Mirror:
        """Return it under a film of some (a + b) X."""
        return Mirror(self.share * _there_and_back(depth), self.variance, self.depth + depth)


@dataclass(frozen=True, eq=False)
class Direction:
    """From where light comes and where the eye is; arrays have any shape."""

    slope2: FloatArray
    """t² of (L6) under a smooth surface."""
    lean: FloatArray
    """What m² and m⁴ of (L8) add to it, each by itself, (2, ...)."""
    weight: FloatArray
    """ℓ of (L6) times s² exp(t²/2s²): what no tilt changes."""
    path: FloatArray
    """1/μᵢ + 1/μₒ."""


def direction(
    light: npt.ArrayLike, eye: npt.ArrayLike, *, normal: npt.ArrayLike = (0.0, 0.0, 1.0)
) -> Direction:
    """Return how a face is seen: unit vectors of it and towards the light and the eye, shape (..., 3).

    What is behind the face is seen at a grazing angle.
    """
    up = np.asarray(normal, dtype=np.float64)
    towards = [np.asarray(one, dtype=np.float64) for one in (light, eye)]
    facing = [(one * up).sum(axis=-1) for one in towards]
    mu_out = [np.clip(one, 1e-3, 1.0) for one in facing]
    mu = [np.sqrt(1.0 - (1.0 - out**2) / BINDER_INDEX**2) for out in mu_out]
    across = [one - meets[..., np.newaxis] * up for one, meets in zip(towards, facing, strict=True)]
    half = (across[0] + across[1]) / BINDER_INDEX
    flatter = [
        inside / np.maximum(out, _LEAST_FACING) - 1.0 / BINDER_INDEX
        for out, inside in zip(mu_out, mu, strict=True)
    ]
    more = flatter[0][..., np.newaxis] * across[0] + flatter[1][..., np.newaxis] * across[1]
    scale = 1.0 / (mu[0] + mu[1]) ** 2
    slope2 = scale * (half**2).sum(axis=-1)
    lean = np.stack([2.0 * scale * (half * more).sum(axis=-1), scale * (more**2).sum(axis=-1)])
    passed = [_passed(out, inside) for out, inside in zip(mu_out, mu, strict=True)]
    return Direction(
        slope2,
        lean,
        passed[0] * passed[1] / (8.0 * mu[0] * mu[1] * BINDER_INDEX**2) * (1.0 + slope2) ** 2,
        1.0 / mu[0] + 1.0 / mu[1],
    )


@functools.lru_cache
def turned(aspecular_deg: float) -> Direction:
    """Return the view at some degrees from the mirror direction, lit from 45°, in the plane of incidence.

    Degrees are counted from the mirror direction towards the light.
    """
    lit, eye = np.radians([LIT_FROM_DEG, LIT_FROM_DEG - aspecular_deg])
    return direction([-np.sin(lit), 0.0, np.cos(lit)], [np.sin(eye), 0.0, np.cos(eye)])


@dataclass(frozen=True, eq=False)
class Coating:
    """What a step is laid with, for each row."""

    paint: Layable
    """Its binder, tinted or a paint by itself."""
    extinction_per_um: FloatArray
    """a + b of (L5), shape (row, 31)."""
    sheet: FlakeSheet | None = None
    """Its flakes, where it has any."""

    def rows(self, rows: slice) -> Coating:
        """Return some of the rows."""
        sheet = None if self.sheet is None else self.sheet.rows(rows)
        return Coating(self.paint.rows(rows), self.extinction_per_um[rows], sheet)


def coating(*, K_per_um: FloatArray, S_per_um: FloatArray, sheet: FlakeSheet | None = None) -> Coating:
    """Return what is laid with a paint of constants of shape (row, 31), and flakes in it."""
    extinction = 0.5 * K_per_um + cones.directions().scattering_per_S * S_per_um
    paint = levels.layable(cones.medium(K_per_um=K_per_um, S_per_um=S_per_um))
    return Coating(paint, extinction, sheet)


def lay(
    coat: Coating, *, film_um: FloatArray, over: FloatArray, mirror: Mirror | None
) -> tuple[FloatArray, Mirror | None]:
    """Return a film over a level and over what has a direction there, None where nothing has.

    As :func:`layersim.optics.levels.lay`; a film with flakes is finite.
    """
    lift = (..., *[np.newaxis] * (film_um.ndim - 2))
    extinction = coat.extinction_per_um[lift]
    if coat.sheet is None:
        level = levels.lay(coat.paint, thickness_um=film_um, over=over)
        return level, None if mirror is None else mirror.under(extinction * film_um)
    sheet = coat.sheet
    cover, variance, rough, kept = (
        one[:, np.newaxis][lift]
        for one in (sheet.cover_per_um, sheet.variance, sheet.rough, in_the_cone(sheet.variance))
    )
    above = depth_of_flakes(cover_per_um=cover, film_um=film_um, extinction_per_um=extinction)
    covers = cover * film_um
    film = film_um
    sent_back = returned(covers, film_um=film)
    r = sheet.reflectance[lift] * sent_back
    across = r * (1.0 - rough) * (1.0 - (1.0 - kept) / cones.directions().shares[1])
    new = Mirror(r * (1.0 - rough) * kept, variance, np.zeros_like(r))
    own = new
    if mirror is not None:
        under = extinction * (film_um - above)
        old, group = mirror.under(under), mirror.group
        if group is not None:
            whole, film = covers + group.cover, film_um + group.film_um
            was = returned(group.cover, film_um=group.film_um)
            left = np.maximum(returned(whole, film_um=film) - sent_back, 0.0) / np.maximum(was, _TINY)
            lying = Mirror(group.share * left * _there_and_back(under), old.variance, group.depth + under)
            through = old.share - group.share * _there_and_back(under)
            passing = _passing(whole) / np.maximum(_passing(group.cover), _TINY)
            left_share = lying.share + np.maximum(through, 0.0) * passing
            own = joined(new, lying)
            back = left * _there_and_back(lying.depth)
            r, across, over = r + back * group.reflectance, across + back * group.across, group.below
            covers = whole
        else:
            left_share = _passing(covers) * old.share
        new = joined(new, Mirror(left_share, old.variance, old.depth))
    lower = levels.lay(coat.paint, thickness_um=film_um - above, over=over)
    level = levels.lay(coat.paint, thickness_um=above, over=_under_sheet(lower, r, across, np.exp(-covers)))
    shining = new.under(extinction * above)
    below = levels.lay(coat.paint, thickness_um=above, over=lower)
    own = own.under(extinction * above)
    ones = np.ones(level[:, :, 0].shape)
    group = Group(below, *(one * ones for one in (r, across, covers, film, own.share, own.depth)))
    return level, Mirror(shining.share * ones, shining.variance * ones, shining.depth * ones, group)


def _under_sheet(level: FloatArray, r: FloatArray, across: FloatArray, gaps: FloatArray) -> FloatArray:
    """Return a level under a sheet, (L4)."""
    one, y1, y12, y2, det = np.moveaxis(levels.product(_TURN, level), 2, 0)
    # (1 − Y)(1 + Y)⁻¹ makes R of Y, and Y of R
    size = one + y1 + y2 + det
    b1, b2 = (one - y1 + y2 - det) / size, (one + y1 - y2 - det) / size
    b12, both = -2.0 * y12 / size, (one - y1 - y2 + det) / size
    again = (1.0 - BACK) * gaps / np.maximum(1.0 - r * b1 - across * b2 + r * across * both, _LEAST_LOSS)
    R1 = r + gaps * (again * (b1 - across * both) + BACK * b1)
    R2 = across + gaps * (again * (b2 - r * both) + BACK * b2)
    R12 = gaps * (again + BACK) * b12
    det = R1 * R2 - R12 * R12
    new = [1.0 + R1 + R2 + det, 1.0 - R1 + R2 - det, -2.0 * R12, 1.0 + R1 - R2 - det, 1.0 - R1 - R2 + det]
    found = levels.product(_TURN, np.stack(np.broadcast_arrays(*new), axis=2))
    return np.asarray(found / found[:, :, :1])


def returned(cover: npt.ArrayLike, *, film_um: npt.ArrayLike) -> FloatArray:
    """Return h of (L2): how much of what a whole mirror sends back flakes do that cover CX in a film of X.

    >>> returned([0.0, 0.6, 3.0, 30.0], film_um=[5.0, 1.0, 5.0, 50.0]).round(3)
    array([0.   , 0.447, 0.854, 0.866])
    """
    u = np.asarray(cover, dtype=np.float64)
    aside = np.sqrt(cones.directions().paths[0] ** 2 - 1.0)
    k = 4.0 / np.pi * aside / FLAKE_UM * np.asarray(film_um, dtype=np.float64) / np.maximum(u, _TINY)
    hidden = -np.expm1(-u)
    nodes, weights = _GAUSS
    # In t = 1 − exp(−v) the density of the first flake is even.
    v = -np.log1p(-hidden[..., np.newaxis] * nodes)
    return np.asarray(hidden * (np.exp(-k[..., np.newaxis] * v * v) @ weights))


def _passing(cover: FloatArray) -> FloatArray:
    """Return what of something with a direction passes the gaps of flakes of some cover CX, (L5)."""
    gaps = np.exp(-cover)
    return np.asarray(gaps * ((1.0 - BACK) * gaps + BACK))


def _there_and_back(depth: FloatArray) -> FloatArray:
    return np.asarray(np.exp(-2.0 * cones.directions().paths[0] * depth))


def depth_of_flakes(
    *, cover_per_um: FloatArray, film_um: FloatArray, extinction_per_um: FloatArray
) -> FloatArray:
    """Return how thick the binder above the flakes counts, d of (L2), µm."""
    u = np.asarray(cover_per_um * film_um, dtype=np.float64)
    v = 2.0 * cones.directions().paths[0] * extinction_per_um * film_um
    far = np.maximum(v, _THIN)
    return np.asarray(film_um * np.where(v < _THIN, _slope(u + 0.5 * v), (_bend(u + far) - _bend(u)) / far))


def _bend(u: FloatArray) -> FloatArray:
    """Return −ln((1 − e⁻ᵘ)/u), 0 at 0."""
    some = np.maximum(u, _TINY)
    return np.asarray(-np.log(-np.expm1(-some) / some))


def _slope(u: FloatArray) -> FloatArray:
    """Return its slope, 1/u − 1/(eᵘ − 1)."""
    # It loses its digits where it goes to ½ − u/12.
    thick = np.maximum(u, _THIN)
    return np.where(u < _THIN, 0.5 - u / 12.0, 1.0 / thick - 1.0 / np.expm1(np.minimum(thick, 500.0)))


def joined(new: Mirror, old: Mirror) -> Mirror:
    """Return what two sheets send back together: their variances and depths by what each sends."""
    share = new.share + old.share
    part = new.share / np.maximum(share, _TINY)
    return Mirror(
        share,
        part * new.variance + (1.0 - part) * old.variance,
        part * new.depth + (1.0 - part) * old.depth,
    )


def seen(
    level: FloatArray,
    mirror: Mirror | None,
    *,
    sheen: FloatArray,
    air: Air | None = None,
    at: Direction | None = None,
) -> FloatArray:
    """Return what is seen of a level and of what has a direction there, None where nothing has.

    As :func:`layersim.optics.levels.seen`; `at` is by default 45° from the mirror direction.
    """
    whole = levels.seen(level, sheen=sheen, air=air)
    if mirror is None:
        return whole
    z = air or cones.directions()
    return whole + seen_more(mirror, even=whole - sheen * z.k1, air=z, sheen=sheen, at=at or turned(TURNED))


def seen_more(
    mirror: Mirror, *, even: FloatArray, air: Air | Directions, sheen: FloatArray, at: Direction
) -> FloatArray:
    """Return by how much more than evenly a stack is seen from a direction, (L7) and (L8).

    `even` is what :func:`layersim.optics.levels.seen` says of it without a first reflection, `air` its
    surface and `sheen` the finish of that, 0..1.
    """
    ahead = np.exp(-mirror.depth * (at.path - 2.0 * cones.directions().paths[0]))
    shape = lobe(at, mirror.variance, surface_variance(sheen))
    taken = (1.0 - air.k1) * (1.0 - air.r1) + (air.r1 - air.k1) * even
    return np.asarray(directed(mirror, air=air) * ahead * shape - mirror.share * taken)


def directed(mirror: Mirror, *, air: Air | Directions) -> FloatArray:
    """Return what a stack shows that has a direction, averaged over directions, (L7)."""
    return np.asarray((1.0 - air.k1) ** 2 * mirror.share)


def lobe(at: Direction, variance: FloatArray, surface: npt.ArrayLike = 0.0) -> FloatArray:
    """Return ℓ/ℓ̄ of (L7) for flakes and a surface of some variances of slopes, (L8)."""
    m2 = np.asarray(surface, dtype=np.float64)
    slope2 = at.slope2 + m2 * (at.lean[0] + m2 * at.lean[1])
    return np.asarray(
        at.weight * np.exp(-0.5 * slope2 / lobe_variance(variance, m2)) * lobe_height(variance, m2)
    )


def usual_lobe(slopes: FloatArray) -> FloatArray:
    """Return :func:`lobe` at 45° from the mirror direction: the variances of flakes and surface, (..., 2)."""
    return lobe(turned(TURNED), slopes[..., 0], slopes[..., 1])


def lobe_variance(variance: FloatArray, surface: FloatArray) -> FloatArray:
    """Return s² of (L8)."""
    return np.asarray(np.maximum(variance, _SLOPES[0] ** 2) + 0.5 * (1.0 - 1.0 / BINDER_INDEX) ** 2 * surface)


def lobe_height(variance: FloatArray, surface: FloatArray) -> FloatArray:
    """Return what of :func:`lobe` goes with the variances alone."""
    return np.asarray(1.0 / (lobe_variance(variance, surface) * _mean_lobe(variance)))


def surface_variance(sheen: npt.ArrayLike) -> FloatArray:
    """Return m² of (L8), the variance of the slopes of a surface of some sheen."""
    return np.asarray((MATT_SLOPE * np.asarray(sheen)) ** 2)


def in_the_cone(variance: FloatArray) -> FloatArray:
    """Return 1 − p of (L3): how much of the cone's light flakes of some variance of slopes keep in it."""
    return np.asarray(np.interp(np.sqrt(variance), _SLOPES, _quadrature()[0]))


def flop_index(*, L_near: npt.ArrayLike, L_turned: npt.ArrayLike, L_far: npt.ArrayLike) -> FloatArray:
    """Return the flop index of L* at 15, 45 and 110 degrees from the mirror direction; 0 for no flop.

    2.69 (L15 − L110)^1.11 / L45^0.86 (A. B. J. Rodrigues, from memory).
    """
    more = np.maximum(np.asarray(L_near, dtype=np.float64) - np.asarray(L_far, dtype=np.float64), 0.0)
    return np.asarray(2.69 * more**1.11 / np.maximum(np.asarray(L_turned, dtype=np.float64), 1.0) ** 0.86)


def _passed(outside: FloatArray, inside: FloatArray) -> FloatArray:
    """Return what a smooth surface lets through, Fresnel, by the cosines outside and inside."""
    n = BINDER_INDEX
    across = (outside - n * inside) / (outside + n * inside)
    along = (n * outside - inside) / (n * outside + inside)
    return np.asarray(1.0 - 0.5 * (across**2 + along**2))


def _mean_lobe(variance: FloatArray) -> FloatArray:
    return np.asarray(np.interp(np.sqrt(variance), _SLOPES, _quadrature()[1]))


@functools.lru_cache
def _quadrature() -> tuple[FloatArray, FloatArray]:
    """Return 1 − p for light along the cone's mean, and ℓ̄ for light from 45°, by slope.

    Both are sums over facets, each by how much of the light it meets; what is turned out of the cone counts
    for nothing.
    """
    axis = np.linspace(-_WIDTH, _WIDTH, _GRID)
    x, y = (one.ravel() * _SLOPES[:, np.newaxis] for one in np.meshgrid(axis, axis))
    weights = np.exp(-0.5 * np.add.outer(axis**2, axis**2)).ravel()
    weights /= weights.sum()
    normal = np.stack([-x, -y, np.ones_like(x)], axis=-1)
    normal /= np.linalg.norm(normal, axis=-1, keepdims=True)
    found = []
    inside = 1.0 / cones.directions().paths[0], np.sqrt(1.0 - 0.5 / BINDER_INDEX**2)
    for mu, counts_surface in zip(inside, (False, True), strict=True):
        light = np.array([np.sqrt(1.0 - mu**2), 0.0, mu])
        meets = normal @ light
        out = 2.0 * meets * normal[..., 2] - mu
        outside2 = 1.0 - BINDER_INDEX**2 * (1.0 - np.minimum(out, 1.0) ** 2)
        leaves = (meets > 0.0) & (out > 0.0) & (outside2 > 0.0)
        each = np.where(leaves, weights * meets / (mu * normal[..., 2]), 0.0)
        if counts_surface:
            each *= _passed(np.sqrt(np.maximum(outside2, 0.0)), np.where(leaves, out, 1.0))
            each *= _passed(np.asarray(np.sqrt(0.5)), np.asarray(mu))
        found.append(each.sum(axis=-1))
    return found[0], found[1]


_TURN: Final = levels.on_coordinates(
    np.array(
        [
            [np.sqrt(cones.directions().shares[0]), np.sqrt(cones.directions().shares[1])],
            [np.sqrt(cones.directions().shares[1]), -np.sqrt(cones.directions().shares[0])],
        ]
    )
)[np.newaxis, np.newaxis]
"""From the lines of the cone and of what is trapped to e and v of (L3), and back."""
