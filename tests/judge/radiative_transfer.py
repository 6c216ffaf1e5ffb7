"""Radiative transfer through stacked pigmented films, as a stand-in for measurement.

The product predicts with two fluxes. This module solves the full angular problem for the
same films, so its reflectances can play the part of measured ones. Tests and validation
use it; the product never does.

Method
------
The radiance inside the films is followed at ``q`` discrete polar cosines, averaged over
azimuth. One film is solved exactly in its thickness by the modes of the discrete-ordinate
equations (Chandrasekhar 1960, *Radiative Transfer*; the symmetric reduction to an
eigenproblem of half the size is that of Nakajima & Tanaka 1986, JQSRT 35:13; both from
memory). Films are stacked by the adding equations (Prahl 1995, "The adding-doubling
method", in Welch & van Gemert; the same as `iadpython` states in its `combine` module).
The scattering function is Henyey-Greenstein's, or any whose Legendre moments are given
(`tests.judge.phase`), with the forward peak treated by delta-M (Wiscombe 1977, J. Atmos. Sci.
34:1408).

Quadrature and Fresnel reflection come from `iadpython`, and the tests hold every step equal
to that package's own doubling. All films and the ground share one binder, so only the air
surface reflects.

Operators
---------
A reflection or transmission operator is an array ``(..., q, q)`` in a symmetric form: with
``c = 2 nu w`` the flux carried by each quadrature cosine (they sum to 1), the element ``ij``
is ``sqrt(c_i c_j)`` times the radiance sent along ``i`` by unit flux along ``j``. In this
form the "star products" of adding-doubling are plain matrix products, a homogeneous film is
symmetric, and reciprocity makes the upward transmission the transpose of the downward one.
Wavelength is the axis before the last two, and tones the one before that.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Literal, NamedTuple

import iadpython
import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
Geometry = Literal[
    "collimated_included",
    "collimated_excluded",
    "45_0",
    "diffuse_included",
    "diffuse_excluded",
]

WAVELENGTHS_NM: FloatArray = np.arange(400.0, 701.0, 10.0)
BINDER_INDEX = 1.5
# 24 cosines leave reflectances within 2e-4 of the limit of many (16 leave 5e-4); above about
# 48 the quadrature of iadpython 0.5.3 loses its accuracy.
QUADRATURE_POINTS = 24

# A lossless film has a mode that does not decay. The floor, far below rounding, keeps its
# tanh(x b / 2) / x at the exact limit b / 2 without a division by zero.
_SLOWEST_DECAY = 1e-12


# ---------------------------------------------------------------------------------------
# What a film is made of
# ---------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Pigmentation:
    """A dry film at unit concentration, on the 31 wavelengths of `WAVELENGTHS_NM`.

    Attributes
    ----------
    name
        What to call it.
    mu_a_per_um
        Absorption coefficient, (31,) [1/um].
    mu_s_per_um
        Scattering coefficient, (31,) [1/um].
    g
        Mean cosine of the scattering angle, (31,) or one number [-].
    moments
        Legendre moments of the scattering function, (31, orders), the first two 1 and g [-];
        Henyey and Greenstein's when omitted.

    Raises
    ------
    ValueError
        A coefficient is negative, not finite or not on the grid, ``|g| >= 1``, or the moments are
        not those of this g.
    """

    name: str
    mu_a_per_um: FloatArray
    mu_s_per_um: FloatArray
    g: FloatArray | float
    moments: FloatArray | None = None

    def __post_init__(self) -> None:
        for field in ("mu_a_per_um", "mu_s_per_um", "g"):
            given = np.asarray(getattr(self, field), dtype=np.float64)
            if given.shape != WAVELENGTHS_NM.shape and not (field == "g" and given.ndim == 0):
                raise ValueError(
                    f"{self.name}: {field} has shape {given.shape}, expected {WAVELENGTHS_NM.shape}"
                )
            if not np.all(np.isfinite(given)):
                raise ValueError(f"{self.name}: {field} is not finite everywhere")
            if field == "g" and np.any(np.abs(given) >= 1.0):
                raise ValueError(f"{self.name}: g must lie strictly between -1 and 1")
            if field != "g" and np.any(given < 0.0):
                raise ValueError(f"{self.name}: {field} is negative somewhere")
            values = np.array(np.broadcast_to(given, WAVELENGTHS_NM.shape))
            values.flags.writeable = False
            object.__setattr__(self, field, values)
        if self.moments is not None:
            first = self.moments[:, :2]
            if not np.allclose(first[:, 0], 1.0) or not np.allclose(first[:, 1], self.g):
                raise ValueError(f"{self.name}: the moments begin with 1 and g")

    def legendre(self, orders: int) -> FloatArray:
        """Moments of the scattering function, (31, orders); those not given are taken as 0."""
        if self.moments is None:
            moments: FloatArray = np.asarray(self.g)[:, None] ** np.arange(orders)
            return moments
        given = self.moments[:, :orders]
        return np.pad(given, ((0, 0), (0, orders - given.shape[1])))

    def kubelka_munk_per_um(self) -> tuple[FloatArray, FloatArray]:
        """Two-flux coefficients ``K = 2 mu_a`` and ``S = 3/4 mu_s (1 - g)``, each (31,) [1/um].

        Gate 1974, Appl. Opt. 13:236 (volume from memory); preferred to forms with absorption in S by
        Thennadil 2008, JOSA A 25:1480.
        """
        return (
            2.0 * self.mu_a_per_um,
            0.75 * self.mu_s_per_um * (1.0 - np.asarray(self.g)),
        )


class Film(NamedTuple):
    """A pigmentation and its dry thickness [um]; a sequence of thicknesses makes tones."""

    pigmentation: Pigmentation
    thickness_um: float | Sequence[float] | FloatArray


def mix(name: str, parts: Sequence[tuple[Pigmentation, float]]) -> Pigmentation:
    """Mix pigmentations by their shares of the dry volume.

    Absorption and scattering coefficients add in proportion. Where the shares sum to less
    than one, the rest is clear binder. ``g`` is averaged with the scattering as weight, which
    keeps the first moment of the mixed scattering function exact; the mixture is itself taken
    as Henyey-Greenstein, unless the moments of some part are given: then all are averaged.

    Parameters
    ----------
    name
        What to call the mixture.
    parts
        Pigmentations, each with its dry volume share [-].

    Returns
    -------
    The mixture.

    Raises
    ------
    ValueError
        A share is negative, or the shares sum to more than one.
    """
    shares = np.array([share for _, share in parts], dtype=np.float64)
    if shares.size == 0 or np.any(shares < 0.0) or shares.sum() > 1.0 + 1e-9:
        raise ValueError(f"{name}: shares must be >= 0 and sum to at most 1, found {shares}")
    mu_a = shares @ np.array([part.mu_a_per_um for part, _ in parts])
    each_mu_s = shares[:, None] * np.array([part.mu_s_per_um for part, _ in parts])
    mu_s = each_mu_s.sum(axis=0)
    forward = (each_mu_s * np.array([part.g for part, _ in parts])).sum(axis=0)
    g = np.divide(forward, mu_s, out=np.zeros_like(mu_s), where=mu_s > 0.0)
    if all(part.moments is None for part, _ in parts):
        return Pigmentation(name, mu_a, mu_s, g)
    orders = max(part.moments.shape[1] for part, _ in parts if part.moments is not None)
    total = np.einsum("pw,pwk->wk", each_mu_s, np.array([part.legendre(orders) for part, _ in parts]))
    clear = np.eye(1, orders)  # where nothing scatters, the function does not matter
    return Pigmentation(
        name, mu_a, mu_s, g, np.where(mu_s[:, None] > 0.0, total / np.maximum(mu_s, 1e-300)[:, None], clear)
    )


# ---------------------------------------------------------------------------------------
# Directions
# ---------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Quadrature:
    """Polar cosines inside the films.

    Attributes
    ----------
    refractive_index
        Of the films, above air [-].
    cosines
        nu, (q,), rising to exactly 1.
    flux_weights
        ``2 nu w``, (q,), summing to 1.
    surface_reflectance
        Fresnel reflection at the air surface from inside, (q,).
    first_escaping
        Index of the first cosine that is not totally reflected.
    """

    refractive_index: float
    cosines: FloatArray
    flux_weights: FloatArray
    surface_reflectance: FloatArray
    first_escaping: int


@lru_cache
def quadrature(
    *,
    refractive_index: float = BINDER_INDEX,
    points: int = QUADRATURE_POINTS,
    incident_cosine: float = 1.0,
) -> Quadrature:
    """Choose the cosines as `iadpython` does, split at the critical angle.

    Parameters
    ----------
    refractive_index
        Of the films [-].
    points
        Number of cosines; even, and a multiple of 3 for oblique incidence with
        ``refractive_index > 1``.
    incident_cosine
        In air; below 1, its refracted cosine becomes one of the points [-].

    Returns
    -------
    The quadrature.
    """
    sample = iadpython.Sample(n=refractive_index, quad_pts=points)
    sample.nu_0 = incident_cosine
    sample.update_quadrature()
    cosines = np.asarray(sample.nu, dtype=np.float64)
    return Quadrature(
        refractive_index=refractive_index,
        cosines=cosines,
        flux_weights=np.asarray(sample.twonuw, dtype=np.float64),
        surface_reflectance=np.asarray(
            iadpython.fresnel_reflection(refractive_index, cosines, 1.0), dtype=np.float64
        ),
        first_escaping=int(np.argmax(cosines > sample.nu_c())),
    )


# ---------------------------------------------------------------------------------------
# One film
# ---------------------------------------------------------------------------------------


class _Modes(NamedTuple):
    """The decaying modes of a medium, before its thickness is known.

    With the upward and downward radiances in symmetric form, their sum ``u`` and difference
    ``v`` obey ``u' = -P v``, ``v' = -M u``, where ``P`` and ``M`` are symmetric. With the
    Cholesky factor ``P = L L^T`` and ``L^T M L = Q diag(x^2) Q^T``, the decay rates are ``x``
    and ``across = L Q``, ``along = L^-T Q`` carry ``u`` and ``v``.
    """

    decay: FloatArray
    along: FloatArray
    across: FloatArray


def _reduced(albedo: FloatArray, moments: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Delta-M: albedo, depth factor and Legendre moments (..., q) without the forward peak.

    Wiscombe 1977, with the peak f the last of the given moments (..., q + 1):
    ``a* = a (1-f)/(1-a f)``, ``b* = (1-a f) b``, ``chi*_k = (chi_k - f)/(1 - f)``.
    """
    peak = moments[..., -1]
    left = (moments[..., :-1] - peak[..., None]) / (1.0 - peak[..., None])
    depth_factor = 1.0 - albedo * peak
    return albedo * (1.0 - peak) / depth_factor, depth_factor, left


def _modes(albedo: FloatArray, moments: FloatArray, directions: Quadrature) -> _Modes:
    """Solve the eigenproblem of a medium: albedo (...), moments (..., q)."""
    nu = directions.cosines
    points = nu.size
    order = np.arange(points)
    legendre = np.polynomial.legendre.legvander(nu, points - 1)
    # sqrt(w / nu): the weight of scattering in symmetric form
    basis = legendre * (np.sqrt(directions.flux_weights / 2.0) / nu)[:, None]
    weight = albedo[..., None] * (2 * order + 1) * moments

    def scattered(parity: int) -> FloatArray:
        keep = order % 2 == parity
        half: FloatArray = (basis[:, keep] * weight[..., None, keep]) @ basis[:, keep].T
        return half

    extinction = np.diag(1.0 / nu)
    factor = np.linalg.cholesky(extinction - scattered(1))
    upper = np.swapaxes(factor, -1, -2)
    decay_squared, rotation = np.linalg.eigh(upper @ (extinction - scattered(0)) @ factor)
    across = factor @ rotation
    return _Modes(
        decay=np.maximum(np.sqrt(np.maximum(decay_squared, 0.0)), _SLOWEST_DECAY),
        along=np.linalg.inv(np.swapaxes(across, -1, -2)),
        across=across,
    )


def _slab(modes: _Modes, depth: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Reflection and transmission of a slab of the given (reduced) optical depth.

    Light from both sides at once excites the even modes, ``T + R = 2 (I + W)^-1 - I`` with
    ``W = along diag(x tanh(x b / 2)) along^T``; opposed light the odd ones,
    ``T - R = 2 (I + U)^-1 - I`` with ``U = across diag(tanh(x b / 2) / x) across^T``.
    """
    ramp = np.tanh(modes.decay * depth[..., None] / 2.0)

    def inverse_of_sum(vectors: FloatArray, values: FloatArray) -> FloatArray:
        form = (vectors * values[..., None, :]) @ np.swapaxes(vectors, -1, -2)
        return np.asarray(np.linalg.inv(np.eye(vectors.shape[-1]) + form), dtype=np.float64)

    even = inverse_of_sum(modes.along, modes.decay * ramp)
    odd = inverse_of_sum(modes.across, ramp / modes.decay)
    return even - odd, even + odd - np.eye(ramp.shape[-1])


def layer_operators(
    *,
    albedo: ArrayLike,
    optical_depth: ArrayLike,
    anisotropy: ArrayLike,
    directions: Quadrature,
) -> tuple[FloatArray, FloatArray]:
    """Reflection and transmission operators of homogeneous layers, without surfaces.

    Parameters
    ----------
    albedo
        ``mu_s / (mu_a + mu_s)``, any shape [-].
    optical_depth
        ``(mu_a + mu_s) X``, broadcast with it; may be infinite [-].
    anisotropy
        g, broadcast with it [-].
    directions
        The cosines.

    Returns
    -------
    Reflection and transmission, each (..., q, q), the same from either side.
    """
    a, b, g = np.broadcast_arrays(
        *(np.asarray(value, dtype=np.float64) for value in (albedo, optical_depth, anisotropy))
    )
    peaked: FloatArray = g[..., None] ** np.arange(directions.cosines.size + 1, dtype=np.float64)
    reduced_albedo, depth_factor, moments = _reduced(a, peaked)
    return _slab(_modes(reduced_albedo, moments, directions), depth_factor * b)


@lru_cache(maxsize=256)
def _pigment_modes(pigmentation: Pigmentation, directions: Quadrature) -> tuple[FloatArray, _Modes]:
    """Reduced extinction [1/um], (31,), and modes of a pigmentation, solved once."""
    extinction = pigmentation.mu_a_per_um + pigmentation.mu_s_per_um
    albedo = np.divide(
        pigmentation.mu_s_per_um,
        extinction,
        out=np.zeros_like(extinction),
        where=extinction > 0.0,
    )
    reduced_albedo, depth_factor, moments = _reduced(
        albedo, pigmentation.legendre(directions.cosines.size + 1)
    )
    return depth_factor * extinction, _modes(reduced_albedo, moments, directions)


def film_operators(
    pigmentation: Pigmentation,
    thickness_um: float | Sequence[float] | FloatArray,
    directions: Quadrature | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Reflection and transmission operators of a film, without surfaces.

    The modes of each pigmentation are solved once and kept, so further thicknesses cost two
    small matrix inversions a wavelength.

    Parameters
    ----------
    pigmentation
        What the film is made of.
    thickness_um
        Dry thickness, one or (tones,) [um]; infinite for an opaque film.
    directions
        The cosines; `quadrature()` when omitted.

    Returns
    -------
    Reflection and transmission, each (31, q, q) or (tones, 31, q, q).

    Raises
    ------
    ValueError
        A thickness is negative or not a number, or infinite where the film is clear.
    """
    thickness = np.asarray(thickness_um, dtype=np.float64)
    if not np.all(thickness >= 0.0):
        raise ValueError(f"{pigmentation.name}: thickness must be >= 0 um, found {thickness_um}")
    extinction, modes = _pigment_modes(pigmentation, directions or quadrature())
    if np.any(np.isinf(thickness)) and np.any(extinction == 0.0):
        raise ValueError(f"{pigmentation.name}: an endless film must absorb or scatter everywhere")
    return _slab(modes, thickness[..., None] * extinction)


# ---------------------------------------------------------------------------------------
# Grounds and stacks
# ---------------------------------------------------------------------------------------


def ideal_black(directions: Quadrature | None = None) -> FloatArray:
    """Ground that sends nothing back: zeros, (31, q, q)."""
    points = (directions or quadrature()).cosines.size
    return np.zeros((WAVELENGTHS_NM.size, points, points))


def opaque(pigmentation: Pigmentation, directions: Quadrature | None = None) -> FloatArray:
    """Ground made of an endlessly thick film: reflection operator, (31, q, q)."""
    reflection, _ = film_operators(pigmentation, np.inf, directions)
    return reflection


def lambertian(reflectance: ArrayLike, directions: Quadrature | None = None) -> FloatArray:
    """Ground that scatters evenly, in optical contact with the films.

    Parameters
    ----------
    reflectance
        Internal reflectance, (31,) or one number, 0..1 [-].
    directions
        The cosines; `quadrature()` when omitted.

    Returns
    -------
    Reflection operator, (31, q, q).
    """
    rho = np.broadcast_to(np.asarray(reflectance, dtype=np.float64), WAVELENGTHS_NM.shape)
    root = np.sqrt((directions or quadrature()).flux_weights)
    operator: FloatArray = rho[:, None, None] * np.outer(root, root)
    return operator


def add(ground: FloatArray, film: tuple[FloatArray, FloatArray]) -> FloatArray:
    """Lay a homogeneous film over a ground.

    ``R <- R1 + T1 (I - Rg R1)^-1 Rg T1`` (Prahl 1995; `iadpython.combine`).

    Parameters
    ----------
    ground
        Reflection operator of what lies below, (..., 31, q, q).
    film
        Reflection and transmission operators of the film, broadcast with it.

    Returns
    -------
    Reflection operator seen from above, (..., 31, q, q).
    """
    reflection, transmission = film
    returned = np.linalg.solve(np.eye(ground.shape[-1]) - ground @ reflection, ground @ transmission)
    return reflection + transmission @ returned


def stack_operator(
    films: Sequence[Film],
    *,
    ground: FloatArray | None = None,
    directions: Quadrature | None = None,
) -> FloatArray:
    """Reflection operator of films over a ground, below the air surface.

    Parameters
    ----------
    films
        Bottom first.
    ground
        Reflection operator; `ideal_black()` when omitted.
    directions
        The cosines; `quadrature()` when omitted.

    Returns
    -------
    (31, q, q), or (tones, 31, q, q) where a thickness or the ground has tones.
    """
    operator = ideal_black(directions) if ground is None else ground
    for film in films:
        operator = add(operator, film_operators(film.pigmentation, film.thickness_um, directions))
    return operator


# ---------------------------------------------------------------------------------------
# What leaves through the surface
# ---------------------------------------------------------------------------------------


def _normal_fresnel(refractive_index: float) -> float:
    """Fresnel reflection at normal incidence [-]."""
    return ((refractive_index - 1.0) / (refractive_index + 1.0)) ** 2


def _interpolation(nodes: FloatArray, at: float) -> FloatArray:
    """Lagrange weights that read a smooth function at one point from its nodes."""
    gaps = nodes[:, None] - nodes[None, :]
    np.fill_diagonal(gaps, 1.0)
    ratios = (at - nodes[None, :]) / gaps
    np.fill_diagonal(ratios, 1.0)
    weights: FloatArray = np.prod(ratios, axis=1)
    return weights


def emergent_reflectance(
    operator: FloatArray,
    *,
    geometry: Geometry,
    directions: Quadrature | None = None,
) -> FloatArray:
    """Reflectance in air of a stack whose reflection operator is known.

    Light that returns to the surface from inside is reflected back by Fresnel at each angle,
    totally beyond the critical one, and tried again: ``(I - R r)^-1 R``.

    Parameters
    ----------
    operator
        Reflection operator below the surface, (..., 31, q, q).
    geometry
        How it is lit and seen.

        - ``"collimated_included"``: lit along the normal, all reflected light, with the
          first-surface reflection. By reciprocity a sphere instrument (diffuse light,
          near-normal view) with the specular included.
        - ``"collimated_excluded"``: the same without the first-surface reflection: the
          sphere instrument with the specular excluded.
        - ``"45_0"``: lit at 45 degrees, seen along the normal, as a reflectance factor
          against a perfect diffuser. No first-surface reflection enters.
        - ``"diffuse_included"``, ``"diffuse_excluded"``: even diffuse light, all
          reflected light, with or without the first-surface reflection.
    directions
        The cosines; `quadrature()` when omitted.

    Returns
    -------
    Reflectance, (..., 31) [-].

    Raises
    ------
    ValueError
        The geometry is unknown.
    """
    used = directions or quadrature()
    n = used.refractive_index
    inside = used.surface_reflectance
    returned = np.linalg.solve(np.eye(inside.size) - operator * inside, operator)
    cone = slice(used.first_escaping, None)
    through = 1.0 - inside[cone]
    root = np.sqrt(used.flux_weights[cone])
    escaping = through[:, None] * returned[..., cone, cone] * through
    if geometry in ("collimated_excluded", "collimated_included"):
        leaving: FloatArray = (root @ escaping)[..., -1] / root[-1]
        surface = _normal_fresnel(n)
    elif geometry in ("diffuse_excluded", "diffuse_included"):
        # light that fills the air's hemisphere fills the cone inside n^2 times as densely
        leaving = n**2 * ((root @ escaping) @ root)
        surface = n**2 * float(used.flux_weights[cone] @ inside[cone])
    elif geometry == "45_0":
        cosine = float(np.sqrt(1.0 - 0.5 / n**2))
        transmitted = 1.0 - float(iadpython.fresnel_reflection(n, cosine, 1.0))
        seen = returned[..., -1, cone] / (root[-1] * root)
        leaving = through[-1] * transmitted / n**2 * (seen @ _interpolation(used.cosines[cone], cosine))
        surface = 0.0
    else:
        raise ValueError(f"unknown geometry {geometry!r}")
    return leaving + surface if geometry.endswith("_included") else leaving


def render(
    films: Sequence[Film],
    *,
    ground: FloatArray | None = None,
    geometry: Geometry = "collimated_excluded",
    directions: Quadrature | None = None,
) -> FloatArray:
    """Reflectance of films over a ground, in air.

    Parameters
    ----------
    films
        Bottom first.
    ground
        Reflection operator of the ground, as from `ideal_black`, `opaque`,
        `lambertian` or `stack_operator`; an ideal black when omitted.
    geometry
        How it is lit and seen, see `emergent_reflectance`.
    directions
        The cosines; `quadrature()` (24 cosines, index 1.5) when omitted.

    Returns
    -------
    Reflectance, (31,), or (tones, 31) where a film or the ground has tones [-].

    Raises
    ------
    ValueError
        A thickness is negative, or the geometry is unknown.
    """
    return emergent_reflectance(
        stack_operator(films, ground=ground, directions=directions),
        geometry=geometry,
        directions=directions,
    )


# ---------------------------------------------------------------------------------------
# Invented pigments
# ---------------------------------------------------------------------------------------


class Band(NamedTuple):
    """A Gaussian absorption band in wavenumber, its full width at half height in nm."""

    centre_nm: float
    width_nm: float
    height_per_um: float

    def absorption_per_um(self) -> FloatArray:
        wavenumber = 1e7 / WAVELENGTHS_NM
        centre = 1e7 / self.centre_nm
        width = self.width_nm * 1e7 / self.centre_nm**2
        shape: FloatArray = np.exp(-4.0 * np.log(2.0) * ((wavenumber - centre) / width) ** 2)
        return self.height_per_um * shape


class Edge(NamedTuple):
    """An absorption edge: a sigmoid that falls towards long waves."""

    edge_nm: float
    steepness_nm: float
    height_per_um: float

    def absorption_per_um(self) -> FloatArray:
        return self.height_per_um / (1.0 + np.exp((WAVELENGTHS_NM - self.edge_nm) / self.steepness_nm))


def invented(
    name: str,
    *absorptions: Band | Edge,
    everywhere_per_um: float,
    mu_s_550_per_um: float,
    scattering_exponent: float,
    g: float,
) -> Pigmentation:
    """Build a pigmentation: ``mu_s = mu_s(550) (550 / wavelength)**exponent``."""
    mu_a = sum(
        (part.absorption_per_um() for part in absorptions),
        start=np.full(WAVELENGTHS_NM.shape, everywhere_per_um),
    )
    mu_s = mu_s_550_per_um * (550.0 / WAVELENGTHS_NM) ** scattering_exponent
    return Pigmentation(name, mu_a, mu_s, g)


def named(*pigmentations: Pigmentation) -> Mapping[str, Pigmentation]:
    return MappingProxyType({one.name: one for one in pigmentations})


# No measured pigment is copied. The bands lie where such pigments are commonly known to
# absorb, and the strengths are chosen so that opaque films hide in tens of micrometres and
# transparent ones never do (common practice, no source). Minerals with a high refractive
# index scatter strongly; organic pigments are fine and transparent; inks barely scatter.
TUNING: Mapping[str, Pigmentation] = named(
    invented(
        "titanium white",
        Edge(404.0, 5.0, 0.06),
        everywhere_per_um=0.00015,
        mu_s_550_per_um=0.75,
        scattering_exponent=0.7,
        g=0.58,
    ),
    invented(
        "carbon black",
        Edge(480.0, 120.0, 0.25),
        everywhere_per_um=0.85,
        mu_s_550_per_um=0.06,
        scattering_exponent=1.5,
        g=0.3,
    ),
    invented(
        "iron oxide red",
        Edge(578.0, 11.0, 0.42),
        Band(535.0, 60.0, 0.16),
        Band(660.0, 90.0, 0.012),
        everywhere_per_um=0.008,
        mu_s_550_per_um=0.55,
        scattering_exponent=0.5,
        g=0.55,
    ),
    invented(
        "ultramarine",
        Band(595.0, 125.0, 0.26),
        Band(680.0, 90.0, 0.05),
        everywhere_per_um=0.011,
        mu_s_550_per_um=0.11,
        scattering_exponent=0.6,
        g=0.80,
    ),
    invented(
        "phthalo green",
        Band(640.0, 75.0, 0.55),
        Band(705.0, 70.0, 0.50),
        Band(390.0, 95.0, 0.38),
        everywhere_per_um=0.02,
        mu_s_550_per_um=0.035,
        scattering_exponent=2.2,
        g=0.35,
    ),
    invented(
        "azo yellow",
        Edge(484.0, 9.0, 0.40),
        Band(440.0, 60.0, 0.12),
        everywhere_per_um=0.004,
        mu_s_550_per_um=0.16,
        scattering_exponent=1.4,
        g=0.45,
    ),
    invented(
        "quinacridone magenta",
        Band(525.0, 50.0, 0.32),
        Band(562.0, 32.0, 0.30),
        Band(395.0, 110.0, 0.09),
        everywhere_per_um=0.016,
        mu_s_550_per_um=0.05,
        scattering_exponent=2.0,
        g=0.40,
    ),
    invented(
        "raw umber",
        Edge(520.0, 45.0, 0.26),
        Band(640.0, 220.0, 0.06),
        everywhere_per_um=0.035,
        mu_s_550_per_um=0.20,
        scattering_exponent=0.8,
        g=0.60,
    ),
    invented(
        "blue ink",
        Band(615.0, 90.0, 0.24),
        Band(670.0, 45.0, 0.16),
        everywhere_per_um=0.009,
        mu_s_550_per_um=0.002,
        scattering_exponent=3.0,
        g=0.20,
    ),
    invented(
        "matt varnish",
        everywhere_per_um=0.0001,
        mu_s_550_per_um=0.035,
        scattering_exponent=0.3,
        g=0.88,
    ),
)
"""Pigmentations the model may be adjusted on, by name."""

HELD_OUT: Mapping[str, Pigmentation] = named(
    invented(
        "buff white",
        Edge(412.0, 9.0, 0.05),
        Edge(455.0, 30.0, 0.012),
        everywhere_per_um=0.0008,
        mu_s_550_per_um=0.58,
        scattering_exponent=0.5,
        g=0.62,
    ),
    invented(
        "bone black",
        Edge(600.0, 150.0, 0.16),
        everywhere_per_um=0.30,
        mu_s_550_per_um=0.05,
        scattering_exponent=1.0,
        g=0.5,
    ),
    invented(
        "yellow ochre",
        Edge(522.0, 16.0, 0.26),
        Band(640.0, 110.0, 0.025),
        everywhere_per_um=0.009,
        mu_s_550_per_um=0.34,
        scattering_exponent=0.6,
        g=0.58,
    ),
    invented(
        "chromium oxide green",
        Band(460.0, 75.0, 0.17),
        Band(600.0, 95.0, 0.16),
        Edge(405.0, 12.0, 0.15),
        everywhere_per_um=0.012,
        mu_s_550_per_um=0.42,
        scattering_exponent=0.4,
        g=0.60,
    ),
    invented(
        "phthalo blue",
        Band(612.0, 70.0, 0.60),
        Band(695.0, 65.0, 0.48),
        Band(365.0, 70.0, 0.30),
        everywhere_per_um=0.02,
        mu_s_550_per_um=0.03,
        scattering_exponent=2.5,
        g=0.30,
    ),
    invented(
        "pyrrole red",
        Edge(585.0, 8.0, 0.34),
        Band(545.0, 50.0, 0.14),
        everywhere_per_um=0.006,
        mu_s_550_per_um=0.20,
        scattering_exponent=1.0,
        g=0.50,
    ),
    invented(
        "dioxazine purple",
        Band(400.0, 110.0, 0.10),
        Band(530.0, 45.0, 0.40),
        Band(570.0, 35.0, 0.42),
        Band(618.0, 38.0, 0.46),
        everywhere_per_um=0.035,
        mu_s_550_per_um=0.03,
        scattering_exponent=2.3,
        g=0.30,
    ),
    invented(
        "burnt sienna",
        Edge(560.0, 24.0, 0.22),
        Band(660.0, 140.0, 0.02),
        everywhere_per_um=0.014,
        mu_s_550_per_um=0.12,
        scattering_exponent=0.9,
        g=0.62,
    ),
    invented(
        "red ink",
        Band(505.0, 75.0, 0.26),
        Band(545.0, 35.0, 0.18),
        everywhere_per_um=0.009,
        mu_s_550_per_um=0.002,
        scattering_exponent=3.0,
        g=0.20,
    ),
    invented(
        "sepia wash",
        Edge(500.0, 60.0, 0.055),
        everywhere_per_um=0.010,
        mu_s_550_per_um=0.012,
        scattering_exponent=1.2,
        g=0.45,
    ),
    invented(
        "satin varnish",
        everywhere_per_um=0.0001,
        mu_s_550_per_um=0.012,
        scattering_exponent=0.3,
        g=0.90,
    ),
)
"""Pigmentations kept back to judge with, by name."""

PRESHADE_UM: tuple[float, ...] = (0.35, 0.8, 1.4, 2.3, 3.6, 5.5, 9.0, 17.0, 50.0)
"""Thicknesses of titanium white over black that step evenly from near-black to light [um]."""


def preshade(
    white: Pigmentation = TUNING["titanium white"],
    thickness_um: Sequence[float] = PRESHADE_UM,
) -> Film:
    """Make a white film of varying thickness; over black each thickness is one tone.

    Parameters
    ----------
    white
        The white.
    thickness_um
        Dry thickness of each tone [um].

    Returns
    -------
    A film with a tone for each thickness.
    """
    return Film(white, tuple(thickness_um))
