"""Films of metal flakes against the same films traced ray by ray (`tests.oracle.flakes`)."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from layersim import colour
from layersim.optics import cones, flakes, levels
from layersim.scheme import modelerror
from layersim.spectra import BANDS, FloatArray
from tests.oracle.flake_cases import Case, cases, kept
from tests.oracle.flakes import SEEN_AT_DEG, Traced, bin_of
from tests.validation.document import table

_WITHIN_90 = 1.645
_STEP = 0.02


class Fast(NamedTuple):
    """What the package says of a case."""

    seen: FloatArray
    """R at 15, 45 and 110 degrees from the mirror direction, (3, c)."""
    whole: FloatArray
    """(c,)."""


def fast(case: Case, *, metal: float = 1.0, tilt: float = 1.0, rough: float = 0.0) -> Fast:
    """Return what the package says of a case, averaged over the judge's bins.

    `metal` and `tilt` multiply what flakes reflect and their slopes, `rough` adds to the share strewn evenly.
    """
    absorbs = [np.atleast_1d(film.K_per_um) for film in case.films]
    count = max(np.broadcast(K, film.metal).size for K, film in zip(absorbs, case.films, strict=True))
    level = levels.level_of(cones.even_ground(np.full((1, count), case.ground)))
    mirror = None
    for film, K in zip(case.films, absorbs, strict=True):
        sheet = None
        if film.cover_per_um:
            reflects = flakes.in_cone(np.broadcast_to(np.asarray(film.metal), (1, count)))
            sheet = flakes.FlakeSheet(
                np.array([film.cover_per_um]),
                np.minimum(reflects * metal, 1.0),
                np.array([(tilt * np.tan(np.radians(film.tilt_deg))) ** 2]),
                np.array([np.clip(film.rough + rough, 0.0, 1.0)]),
            )
        K_per_um = np.broadcast_to(K, (1, count))
        coat = flakes.coating(K_per_um=K_per_um, S_per_um=np.zeros((1, count)), sheet=sheet)
        level, mirror = flakes.lay(coat, film_um=np.array([[film.thickness_um]]), over=level, mirror=mirror)
    whole = levels.seen(level, sheen=0.0)
    if mirror is None:
        return Fast(np.tile(whole[0], (3, 1)), whole[0])
    sheen, air = np.array([[case.surface_slope / flakes.MATT_SLOPE]]), cones.directions()
    more = [
        sum(
            share * flakes.seen_more(mirror, even=whole, air=air, sheen=sheen, at=at)[0]
            for share, at in views
        )
        for views in _views()
    ]
    return Fast(whole[0] + np.array(more), whole[0])


@functools.cache
def _views() -> list[list[tuple[float, flakes.Direction]]]:
    """Return the views that fill each of the judge's bins, and what they count."""
    light = [-np.sqrt(0.5), 0.0, np.sqrt(0.5)]
    return [
        [(share, flakes.direction(light, way)) for way, share in zip(*bin_of(np.radians(eye)), strict=True)]
        for eye in SEEN_AT_DEG
    ]


@dataclass(frozen=True, eq=False)
class Compared:
    """One film; rows are R at 15, 45 and 110 degrees from the mirror direction, and of all directions."""

    name: str
    traced: FloatArray
    """(4, c)."""
    error: FloatArray
    """Standard error of that."""
    ours: FloatArray
    reach: FloatArray
    """L* that holds nine in ten by (M6), and by the error of what was traced, (4, c)."""

    @property
    def lighter(self) -> FloatArray:
        """By how much ours are lighter, L*, (4, c)."""
        return _lightness(self.ours) - _lightness(self.traced)

    @property
    def delta_e(self) -> FloatArray:
        """ΔE00, (4, c); of a spectrum (4, 1)."""
        if self.ours.shape[1] == BANDS:
            viewing = colour.Viewing()
            ours, traced = (
                colour.lab_from_xyz(colour.xyz(one, viewing), viewing.white)
                for one in (self.ours, self.traced)
            )
            return np.asarray(colour.delta_e_2000(ours, traced))[:, np.newaxis]
        ours, traced = (
            np.stack([_lightness(one), np.zeros_like(one), np.zeros_like(one)], axis=-1)
            for one in (self.ours, self.traced)
        )
        return np.asarray(colour.delta_e_2000(ours, traced))


@functools.cache
def compared() -> list[Compared]:
    """Return all films that were traced."""
    stored = kept()
    return [_compared(name, case, stored[name]) for name, case in cases().items() if name in stored]


def _compared(name: str, case: Case, traced: Traced) -> Compared:
    found, ours = np.vstack([traced.seen, traced.whole]), _rows(fast(case))
    error = np.vstack([traced.seen_error, traced.whole_error])
    grown, level = np.log1p(_STEP), _lightness(ours)
    spread = (
        (modelerror.FLAKE_METAL, (_lightness(_rows(fast(case, metal=1.0 + _STEP))) - level) / grown),
        (modelerror.FLAKE_TILT, (_lightness(_rows(fast(case, tilt=1.0 + _STEP))) - level) / grown),
        (modelerror.FLAKE_ROUGH, (_lightness(_rows(fast(case, rough=_STEP))) - level) / _STEP),
        (1.0, _lightness(found + error) - _lightness(found)),
    )
    reach = _WITHIN_90 * np.sqrt(sum((size * slope) ** 2 for size, slope in spread))
    return Compared(name, found, error, ours, np.asarray(reach))


def _rows(found: Fast) -> FloatArray:
    return np.vstack([found.seen, found.whole])


def _lightness(R: FloatArray) -> FloatArray:
    """Return L* of greys, above 100 too (CIE 15)."""
    return np.asarray(colour.lab_from_xyz(100.0 * R[..., np.newaxis] * np.ones(3), np.full(3, 100.0))[..., 0])


_SORTS = {
    "surface slope 0.5, white": "no flakes, under a rough surface",
    "surface": "under a rough surface",
    "glaze over cover": "a glaze over metal",
    "cover 1 over": "metal over metal",
    "cover 0.3 over": "metal over metal",
    "cover 0.3, tilt 15° over": "metal over metal",
    "film 2": "films of 2 µm",
    "white ground": "white ground seen through gaps",
    "moved": "flakes moved into the film",
    "amber": "coloured",
    "copper": "coloured",
}


def _sort(name: str) -> str:
    """Return to which row of the short table a film belongs."""
    plain = "dull flakes over black" if "rough 0.15" in name else "clean flakes over black"
    return next((sort for begins, sort in _SORTS.items() if name.startswith(begins)), plain)


def tables() -> dict[str, str]:
    """Return the tables of the page."""
    all_of_them = compared()
    angles = ("15°", "45°", "110°", "all")
    each = table(
        ["film", *(f"R {angle}: traced, ours" for angle in angles), *(f"ΔE00 {angle}" for angle in angles)],
        [
            [
                one.name,
                *(f"{a:.3f}, {b:.3f}" for a, b in zip(one.traced[:, 0], one.ours[:, 0], strict=True)),
                *(f"{row.mean():.1f} / {row.max():.1f}" for row in one.delta_e),
            ]
            for one in all_of_them
        ],
    )
    rows = []
    for kind in dict.fromkeys(_sort(one.name) for one in all_of_them):
        some = [one for one in all_of_them if _sort(one.name) == kind]
        rows.append([kind, str(len(some)), *_in_short(some)])
    heads = [f"ΔL* {angle}" for angle in angles] + [f"90 % holds, {angle}" for angle in angles]
    return {"metal-films": table(["films", "cases", *heads], rows), "metal-films-each": each}


def _in_short(some: Sequence[Compared]) -> list[str]:
    off = np.concatenate([one.lighter for one in some], axis=1)
    reach = np.concatenate([one.reach for one in some], axis=1)
    return [
        *(f"{row.mean():+.1f} ± {row.std():.1f}" for row in off),
        *(f"{100.0 * held:.0f} %" for held in (np.abs(off) <= reach).mean(axis=1)),
    ]


if __name__ == "__main__":
    print("\n\n".join(tables().values()))
