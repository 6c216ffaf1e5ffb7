"""Metal paint traced ray by ray: flakes are real discs, thrown into a film at random.

Slow, and with nothing of the package in it. Light falls in at 45° through the surface of a binder of index
1.5 and is followed until little of it is left.

- A flake is a flat disc without thickness, a mirror on both sides: a metal of index n + ik in the binder,
  with Fresnel's reflection at the true angle, unpolarised. Its diameter is log-normal, and the slopes of
  its plane are Gaussian with a standard deviation of tan(tilt) along each axis.
- Centres of flakes are Poisson in space. Flakes are cut where they stick out of their film, so that every
  depth of it holds the same amount. Or they are `moved` into the film where they fit, as in one that has
  dried.
- A share of what a flake reflects leaves evenly (Lambert) on the side where it came from.
- The binder absorbs K/2 per µm of path and scatters nothing; a film without flakes is a glaze.
- The ground scatters evenly inside the binder, or is black.
- The surface is smooth, or each passing meets a facet of its own, with Gaussian slopes, as often as it
  shows itself to the ray.

The sheet repeats sideways. All films have one index, so only the surface refracts. Rays are split at the
surface: what passes is counted, what is turned back goes on. What a ray brings after its last even
reflection is counted by asking what that point sends straight to the eye; what it brings after a mirror
falls into bins of some degrees. Absorption and metals are *channels*, (c,): all of them ride on the same
rays.

Facets as they show themselves: E. Heitz and E. d'Eon, Comput. Graph. Forum 33 (2014) 103 (from memory);
here without the shadows that facets cast on each other. The rest is geometry, Fresnel and Lambert.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

BINDER = 1.5
LAMP_DEG = -45.0
SEEN_AT_DEG = (30.0, 0.0, -65.0)
"""Directions to the eye, from the normal and away from the lamp: 15°, 45° and 110° from the mirror's."""

SHEET_UM = 700.0
# A ray that goes farther than this sideways in one go finds no flakes there: it runs nearly level.
_BEYOND_UM = 80.0
_CORNERS = 12
# Larger than what single precision loses on a sheet of this size, and far smaller than a film.
_STEP_UM = 1e-3
_LITTLE, _KEPT = 0.1, 0.25
_CONE_DEG, _BOX_DEG = 3.0, (4.0, 6.0)


@dataclass(frozen=True, eq=False)
class Film:
    """A film of binder, with flakes or without."""

    thickness_um: float
    K_per_um: npt.ArrayLike = 0.0
    """(c,) or one number."""
    cover_per_um: float = 0.0
    """Area of flakes over area of film, per µm of the film."""
    tilt_deg: float = 0.0
    metal: npt.ArrayLike = 1.0 + 7.0j
    """n + ik, (c,) or one number; n = 0 is a mirror without loss."""
    rough: float = 0.0
    diameter_um: float = 12.0
    diameter_spread: float = 0.4
    """Standard deviation over the mean."""
    moved: bool = False


@dataclass(frozen=True, eq=False)
class Traced:
    """What rays found, with standard errors, from sheets thrown apart."""

    seen: FloatArray
    """R at `SEEN_AT_DEG`: radiance over that of an even white, (3, c)."""
    seen_error: FloatArray
    whole: FloatArray
    """Share of the light that leaves again, whatever its direction, (c,)."""
    whole_error: FloatArray


def trace(
    films: Sequence[Film],
    *,
    ground: npt.ArrayLike = 0.0,
    surface_slope: float = 0.0,
    rays: int = 100_000,
    sheets: int = 16,
    seed: int = 1,
    sheet_um: float = SHEET_UM,
    lamp_deg: float = LAMP_DEG,
    seen_at_deg: Sequence[float] = SEEN_AT_DEG,
) -> Traced:
    """Trace light through films, the lowest first, over a ground that reflects `ground` inside the binder.

    `rays` for each of `sheets`. The surface's own first reflection is left out.
    """
    chance = np.random.default_rng(seed)
    runs = [
        _Sheet(films, ground=ground, surface_slope=surface_slope, sheet_um=sheet_um, chance=chance).lit(
            rays, np.radians(lamp_deg), np.radians(np.asarray(seen_at_deg, dtype=np.float64))
        )
        for _ in range(sheets)
    ]
    seen, whole = (np.array(part) for part in zip(*runs, strict=True))
    root = np.sqrt(sheets - 1.0) if sheets > 1 else np.nan
    return Traced(seen.mean(axis=0), seen.std(axis=0) / root, whole.mean(axis=0), whole.std(axis=0) / root)


def fresnel(cosine: FloatArray, index: npt.ArrayLike) -> FloatArray:
    """Return what an interface reflects of unpolarised light; `index` is that behind it over that before it.

    M. Born and E. Wolf, Principles of Optics, sections 1.5 and 14.2 (conductors).
    """
    m = np.asarray(index, dtype=np.complex128)
    behind = np.sqrt(1.0 - (1.0 - cosine**2) / m**2 + 0j)
    across = (cosine - m * behind) / (cosine + m * behind)
    along = (m * cosine - behind) / (m * cosine + behind)
    return np.asarray(0.5 * (np.abs(across) ** 2 + np.abs(along) ** 2))


class _Sheet:
    """One throw of flakes."""

    def __init__(
        self,
        films: Sequence[Film],
        *,
        ground: npt.ArrayLike,
        surface_slope: float,
        sheet_um: float,
        chance: np.random.Generator,
    ) -> None:
        self.chance, self.sheet_um, self.surface_slope = chance, sheet_um, surface_slope
        channels = np.broadcast(
            *(np.zeros(np.shape(v)) for f in films for v in (f.K_per_um, f.metal, ground))
        )
        count = channels.shape or (1,)
        self.ground = np.broadcast_to(np.asarray(ground, dtype=np.float64), count)
        self.absorbs = 0.5 * np.array([np.broadcast_to(np.asarray(f.K_per_um), count) for f in films])
        self.index = np.array(
            [np.broadcast_to(np.asarray(f.metal, np.complex128) / BINDER, count) for f in films]
        )
        self.rough = np.array([film.rough for film in films])
        self.levels = np.concatenate([[0.0], np.cumsum([film.thickness_um for film in films])])
        thrown = [self._thrown(film, base) for film, base in zip(films, self.levels, strict=False)]
        self.film_of = np.concatenate([np.full(len(part[0]), at) for at, part in enumerate(thrown)])
        self.centre, self.normal, self.corner = (np.concatenate(parts) for parts in zip(*thrown, strict=True))
        self.scene = self._built() if len(self.centre) else None

    def _thrown(self, film: Film, base_um: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return centres, upward normals and corners (n, corners, 3) of a film's flakes."""
        chance, X, slope = self.chance, film.thickness_um, np.tan(np.radians(film.tilt_deg))
        variance = np.log1p(film.diameter_spread**2)
        area = 0.25 * np.pi * film.diameter_um**2 * (1.0 + film.diameter_spread**2)
        # Centres may lie outside the film where a part of the flake is inside.
        reach = 0.0 if film.moved else 4.0 * film.diameter_um * min(slope, 1.0)
        mean = film.cover_per_um * (X + 2.0 * reach) * self.sheet_um**2 / area
        count = chance.poisson(mean) if mean > 0.0 else 0
        radius = (
            0.5 * film.diameter_um * np.exp(np.sqrt(variance) * chance.normal(size=count) - 0.5 * variance)
        )
        slopes = slope * chance.normal(size=(count, 2))
        normal = np.column_stack([-slopes, np.ones(count)])
        normal /= np.linalg.norm(normal, axis=1, keepdims=True)
        half_height = radius * np.sqrt(1.0 - normal[:, 2] ** 2)
        if film.moved:
            room = np.maximum(X - 2.0 * half_height, 0.0)
            z = base_um + 0.5 * X + room * (chance.random(count) - 0.5)
        else:
            z = base_um - reach + (X + 2.0 * reach) * chance.random(count)
        centre = np.column_stack([self.sheet_um * chance.random((count, 2)), z])
        inside = (z + half_height > base_um) & (z - half_height < base_um + X)
        centre, normal, radius = centre[inside], normal[inside], radius[inside]
        first = np.cross(normal, [0.0, 1.0, 0.0])
        first /= np.linalg.norm(first, axis=1, keepdims=True)
        second = np.cross(normal, first)
        turn = 2.0 * np.pi * np.arange(_CORNERS) / _CORNERS
        # The polygon has the disc's area.
        out = radius * np.sqrt(turn[1] / np.sin(turn[1]))
        corner = centre[:, None] + out[:, None, None] * (
            np.cos(turn)[:, None] * first[:, None] + np.sin(turn)[:, None] * second[:, None]
        )
        return self._repeated(centre, normal, corner)

    def _repeated(
        self, centre: FloatArray, normal: FloatArray, corner: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        for axis in (0, 1):
            for shift in (self.sheet_um, -self.sheet_um):
                near = centre[:, axis] * np.sign(shift) < (
                    _BEYOND_UM if shift > 0.0 else _BEYOND_UM - self.sheet_um
                )
                near &= (centre[:, axis] >= 0.0) & (centre[:, axis] < self.sheet_um)
                by = np.zeros(3)
                by[axis] = shift
                centre = np.concatenate([centre, centre[near] + by])
                corner = np.concatenate([corner, corner[near] + by])
                normal = np.concatenate([normal, normal[near]])
        return centre, normal, corner

    def _built(self) -> object:
        from embreex import rtcore_scene
        from embreex.mesh_construction import TriangleMesh

        scene = rtcore_scene.EmbreeScene()
        fan = np.array([[0, at, at + 1] for at in range(1, _CORNERS - 1)])
        TriangleMesh(scene, self.corner[:, fan].reshape(-1, 3, 3).astype(np.float32))
        return scene

    def _first(self, place: FloatArray, way: FloatArray) -> tuple[IntArray, FloatArray]:
        """Return the flake that each ray meets first, or -1, and how far that or the end of the films is."""
        top = self.levels[-1]
        up = way[:, 2] > 0.0
        steep = np.where(np.abs(way[:, 2]) < 1e-9, np.where(up, 1e-9, -1e-9), way[:, 2])
        end = np.maximum((np.where(up, top, 0.0) - place[:, 2]) / steep, 0.0)
        flake, far = np.full(len(place), -1), end.copy()
        if self.scene is None:
            return flake, far
        left, gone = np.arange(len(place)), np.zeros(len(place))
        for _ in range(200):
            start = place[left] + gone[left, None] * way[left]
            triangle = self.scene.run(start.astype(np.float32), way[left].astype(np.float32))  # type: ignore[attr-defined]
            left, hit = left[triangle >= 0], triangle[triangle >= 0] // (_CORNERS - 2)
            across = np.einsum("ij,ij->i", way[left], self.normal[hit])
            at = np.einsum("ij,ij->i", self.centre[hit] - place[left], self.normal[hit]) / across
            before = at < end[left]
            left, hit, at = left[before], hit[before], at[before]
            # A flake ends where its film does.
            z, film = place[left, 2] + at * way[left, 2], self.film_of[hit]
            real = (z >= self.levels[film]) & (z <= self.levels[film + 1])
            flake[left[real]], far[left[real]] = hit[real], at[real]
            gone[left] = np.maximum(at, gone[left]) + _STEP_UM
            left = left[~real]
            if not left.size:
                return flake, far
        raise RuntimeError("a ray does not get past a flake")

    def _passed(self, z: FloatArray, way: FloatArray, far: FloatArray) -> FloatArray:
        """Return the share of light that the binder lets through along a way, (n, c)."""
        if not self.absorbs.any():
            return np.ones((1, 1))
        ends = np.stack([z, z + far * way[:, 2]])
        reached = np.clip(ends[:, :, None], self.levels[:-1], self.levels[1:])
        span = np.abs(reached[1] - reached[0])
        path = span * (far / np.maximum(span.sum(axis=1), 1e-12))[:, None]
        return np.asarray(np.exp(-path @ self.absorbs))

    def lit(self, rays: int, lamp: float, seen_at: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what is seen in each direction, (d, c), and what leaves in all, (c,)."""
        chance = self.chance
        seen, whole = np.zeros((len(seen_at), self.ground.size)), np.zeros(self.ground.size)
        place = np.column_stack([self.sheet_um * chance.random((rays, 2)), np.full(rays, self.levels[-1])])
        # No side of a sheet is marked: each ray has a lamp and eyes of its own, so more flakes are seen.
        angle = 2.0 * np.pi * chance.random(rays)
        turn = np.column_stack([np.cos(angle), np.sin(angle)])
        way = np.column_stack([np.sin(-lamp) * turn, np.full(rays, -np.cos(lamp))])
        facet = self._facets(-way)
        cosine = -np.einsum("ij,ij->i", way, facet)
        way, weight = _refracted(way, facet, 1.0 / BINDER), (1.0 - fresnel(cosine, BINDER))[:, None]
        down = way[:, 2] < 0.0
        place, way, turn = place[down], way[down], turn[down]
        weight = np.repeat(weight[down], self.ground.size, axis=1)
        by_mirror = np.ones(len(place), dtype=bool)
        while place.size:
            flake, far = self._first(place, way)
            weight = weight * self._passed(place[:, 2], way, far)
            place = place + far[:, None] * way
            met, up = flake >= 0, way[:, 2] > 0.0

            # the surface
            at = np.flatnonzero(~met & up)
            if at.size:
                place[at, 2] = self.levels[-1]
                facet = self._facets(way[at], inside=True)
                cosine = np.einsum("ij,ij->i", way[at], facet)
                out = _refracted(way[at], -facet, BINDER)
                turned = fresnel(cosine, 1.0 / BINDER)[:, None]
                leaves = weight[at] * (1.0 - turned)
                whole += leaves.sum(axis=0)
                counted = by_mirror[at] if self.surface_slope == 0.0 else np.ones(at.size, dtype=bool)
                seen += _binned(_turned(out, turn[at])[counted], leaves[counted], seen_at)
                weight[at] *= turned
                way[at] -= 2.0 * cosine[:, None] * facet
                # A facet that sends it up again: the next one sends it down.
                way[at, 2] = -np.abs(way[at, 2])

            # the ground and the flakes
            even = ~met & ~up
            weight[even] *= self.ground
            place[even, 2] = 0.0
            side = np.zeros_like(way)
            side[:, 2] = 1.0
            at, film = np.flatnonzero(met), self.film_of[flake[met]]
            across = np.einsum("ij,ij->i", way[at], self.normal[flake[at]])
            side[at] = -np.sign(across)[:, None] * self.normal[flake[at]]
            weight[at] *= fresnel(np.abs(across)[:, None], self.index[film])
            dull = chance.random(at.size) < self.rough[film]
            even[at[dull]] = True
            bright = at[~dull]
            way[bright] += 2.0 * np.abs(across[~dull])[:, None] * side[bright]
            by_mirror[bright], by_mirror[even] = True, False
            place[at] += _STEP_UM * side[at]

            alive = weight.max(axis=1) > 0.0
            little = alive & (weight.max(axis=1) < _LITTLE)
            kept = chance.random(len(alive)) < _KEPT
            weight[little] /= _KEPT
            alive &= ~little | kept
            place, way, turn, weight, side, even, by_mirror = (
                values[alive] for values in (place, way, turn, weight, side, even, by_mirror)
            )
            place[:, :2] %= self.sheet_um

            at = np.flatnonzero(even)
            if at.size:
                if self.surface_slope == 0.0:
                    for eye in range(len(seen_at)):
                        seen[eye] += self._straight(place[at], side[at], weight[at], seen_at[eye], turn[at])
                way[at] = _even(side[at], chance)
        return seen / rays, whole / rays

    def _straight(
        self, place: FloatArray, side: FloatArray, weight: FloatArray, eye: float, turn: FloatArray
    ) -> FloatArray:
        """Return what points that send out light evenly show to an eye, summed, (c,)."""
        sine = np.sin(eye) / BINDER
        way = np.column_stack([sine * turn, np.full(len(turn), np.sqrt(1.0 - sine**2))])
        toward = np.einsum("ij,ij->i", way, side)
        place, way, weight, toward = (values[toward > 0.0] for values in (place, way, weight, toward))
        flake, far = self._first(place, way)
        free = flake < 0
        weight = weight[free] * self._passed(place[free, 2], way[free], far[free])
        # Flux per solid angle is toward/π inside, and radiance falls by n² on the way out.
        inside = np.sqrt(1.0 - sine**2)
        out = (1.0 - fresnel(np.array(inside), 1.0 / BINDER)) / (BINDER**2 * inside)
        return np.asarray(out * (toward[free] @ weight))

    def _facets(self, toward: FloatArray, *, inside: bool = False) -> FloatArray:
        """Return a facet's normal (upward) for each ray, as often as it shows itself to that ray.

        `toward` points from the surface to where the ray comes from, or with `inside` where it goes to.
        """
        s = self.surface_slope
        facet = np.zeros_like(toward)
        facet[:, 2] = 1.0
        if s == 0.0:
            return facet
        flat = np.hypot(toward[:, 0], toward[:, 1])
        steep = np.abs(toward[:, 2]) / np.maximum(flat, 1e-12)
        along, left = np.zeros(len(toward)), np.arange(len(toward))
        while left.size:
            # density ∝ Gauss(t) max(0, steep + t), by rejection from Gauss(t) (steep + |t|)
            c = steep[left]
            plain = self.chance.random(left.size) * (c + s * np.sqrt(2.0 / np.pi)) < c
            size = np.where(plain, self.chance.normal(size=left.size), self.chance.rayleigh(size=left.size))
            t = s * size * np.where(self.chance.random(left.size) < 0.5, 1.0, -1.0)
            fits = self.chance.random(left.size) * (c + np.abs(t)) < c + t
            along[left[fits]] = t[fits]
            left = left[~fits]
        unit = toward[:, :2] / np.maximum(flat, 1e-12)[:, None]
        aside = s * self.chance.normal(size=len(toward))
        facet[:, 0] = along * unit[:, 0] - aside * unit[:, 1]
        facet[:, 1] = along * unit[:, 1] + aside * unit[:, 0]
        return np.asarray(facet / np.linalg.norm(facet, axis=1, keepdims=True))


def _refracted(way: FloatArray, facet: FloatArray, ratio: float) -> FloatArray:
    """Return ways behind an interface, its normal against them; `ratio` is the index before over behind."""
    cosine = -np.einsum("ij,ij->i", way, facet)
    behind = np.sqrt(np.maximum(1.0 - ratio**2 * (1.0 - cosine**2), 0.0))
    return np.asarray(ratio * way + (ratio * cosine - behind)[:, None] * facet)


def _turned(way: FloatArray, turn: FloatArray) -> FloatArray:
    """Return ways as they are seen from a lamp on the usual side."""
    (x, y, z), (cos, sin) = way.T, turn.T
    return np.column_stack([cos * x + sin * y, cos * y - sin * x, z])


def _even(side: FloatArray, chance: np.random.Generator) -> FloatArray:
    """Return ways of even light (Lambert) around normals."""
    ball = chance.normal(size=side.shape)
    way = side + ball / np.linalg.norm(ball, axis=1, keepdims=True)
    return np.asarray(way / np.linalg.norm(way, axis=1, keepdims=True))


def bin_of(eye: float) -> tuple[FloatArray, FloatArray]:
    """Return directions that fill the bin about an eye, (m, 3), and what each counts; these sum to 1."""
    reach = np.linspace(-0.12, 0.12, 25)
    across, aside = (one.ravel() for one in np.meshgrid(reach, reach))
    way = (
        np.array([np.sin(eye), 0.0, np.cos(eye)])
        + across[:, None] * np.array([np.cos(eye), 0.0, -np.sin(eye)])
        + aside[:, None] * np.array([0.0, 1.0, 0.0])
    )
    size = np.linalg.norm(way, axis=1)
    way /= size[:, None]
    inside = _inside(way, eye)
    counts = (way[:, 2] / size**3)[inside]
    return way[inside], counts / counts.sum()


def _inside(way: FloatArray, eye: float) -> BoolArray:
    """Return which ways fall into the bin about an eye.

    Bins are cones; behind the lamp, where little changes from degree to degree, a larger box.
    """
    if eye >= 0.0:
        return np.asarray(way @ [np.sin(eye), 0.0, np.cos(eye)] > np.cos(np.radians(_CONE_DEG)))
    high, wide = np.radians(_BOX_DEG)
    polar, turn = np.arccos(np.clip(way[:, 2], -1.0, 1.0)), np.arctan2(way[:, 1], -way[:, 0])
    return np.asarray((np.abs(polar + eye) < high) & (np.abs(turn) < wide))


def _binned(way: FloatArray, light: FloatArray, seen_at: FloatArray) -> FloatArray:
    """Return π L of light (n, c) that leaves, summed in a bin about each eye, (d, c)."""
    found = []
    for eye in seen_at:
        if eye >= 0.0:
            size = np.pi * np.cos(eye) * np.sin(np.radians(_CONE_DEG)) ** 2
        else:
            high, wide = np.radians(_BOX_DEG)
            size = wide * (np.sin(high - eye) ** 2 - np.sin(-eye - high) ** 2)
        found.append(np.pi * light[_inside(way, eye)].sum(axis=0) / size)
    return np.array(found)
