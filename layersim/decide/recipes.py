"""Recipes that drops can measure: ratios of one to three paints, thinnings and numbers of coats."""

from __future__ import annotations

import dataclasses
import functools
import itertools
import re
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from layersim.errors import LayersimError, quoted
from layersim.paint import Paint, mixable
from layersim.spectra import FloatArray

MOST_PAINTS: Final = 3
MOST_DROPS: Final = 24
MOST_COATS: Final = 12


@dataclass(frozen=True)
class Limits:
    """What a painter is willing to mix and spray.

    Raises LayersimError if a limit leaves nothing to try.
    """

    paints_at_most: int = 3
    """1..3."""
    drops: int = 12
    """1..24. Drops of paint in a mix, thinner not counted."""
    least_drops: int = 1
    """≥ 1. Fewest drops of one paint that can be measured."""
    coats: tuple[int, ...] = (1, 2, 3, 4, 5, 6)
    """Numbers of coats to try."""
    thinnings: tuple[float, ...] = (1.0,)
    """Drops of thinner to one drop of the mix, to try."""
    wet_film_um: float | None = None
    """Μm. Wet film of one coat instead of the paints' own."""

    def __post_init__(self) -> None:
        def need(good: bool, name: str, found: object, expected: str) -> None:
            if not good:
                raise LayersimError(f"{name}: found {found}; expected {expected}")

        most = f"a whole number from 1 to {MOST_PAINTS}"
        need(1 <= self.paints_at_most <= MOST_PAINTS, "paints at most", self.paints_at_most, most)
        need(1 <= self.drops <= MOST_DROPS, "drops", self.drops, f"a whole number from 1 to {MOST_DROPS}")
        need(
            1 <= self.least_drops <= self.drops,
            "least drops",
            self.least_drops,
            f"a whole number from 1 to the drops of a mix, {self.drops}",
        )
        fit = bool(self.coats) and all(1 <= n <= MOST_COATS for n in self.coats)
        need(fit, "coats", list(self.coats), f"whole numbers from 1 to {MOST_COATS}")
        fit = bool(self.thinnings) and all(0.0 <= t <= 100.0 for t in self.thinnings)
        need(fit, "thinning", list(self.thinnings), "numbers from 0 to 100")
        wet = self.wet_film_um
        need(wet is None or 0.0 < wet <= 1000.0, "wet film", wet, "a number above 0, at most 1000 µm")


def changed_limits(limits: Limits, *, coats: str | None = None, mark: str = "", **given: Any) -> Limits:
    """Return limits with some of them changed; None leaves one as it is.

    `coats` as typed, "2" or "1-6". Where only the drops of a mix are given, the fewest of one paint are no
    more than these. `mark` stands before "coats" in a message, as dashes do before options. Raises
    LayersimError.

    >>> changed_limits(Limits(), coats="2-3", drops=4).coats
    (2, 3)
    """
    if coats is not None:
        ends = re.fullmatch(r"(\d{1,3})(?:\s*[-–]\s*(\d{1,3}))?", coats.strip())
        first, last = (int(ends[1]), int(ends[2] or ends[1])) if ends else (1, 0)
        if first > last:
            raise LayersimError(f"{mark}coats: found {quoted(coats)}; expected a number such as 2, or 1-6")
        given["coats"] = tuple(range(first, last + 1))
    if given.get("thinnings") is not None:
        given["thinnings"] = tuple(given["thinnings"])
    if given.get("drops") is not None and given.get("least_drops") is None:
        given["least_drops"] = min(limits.least_drops, given["drops"])
    return dataclasses.replace(limits, **{name: value for name, value in given.items() if value is not None})


@dataclass(frozen=True)
class Recipe:
    """One mix and how it is sprayed."""

    paints: tuple[int, ...]
    """Places on the shelf that was searched, rising."""
    drops: tuple[int, ...]
    thinning: float
    coats: int


@functools.lru_cache
def ratios(*, paints: int, drops: int, least_drops: int = 1) -> npt.NDArray[np.int64]:
    """Return every ratio of whole drops once, in lowest terms.

    A ratio that needs multiplying to bring its least part up to what can be measured is given so
    multiplied, and left out if that takes too many drops.

    `drops` is the most together, `least_drops` the fewest of one paint. Returns shape (ratios, paints).

    >>> ratios(paints=2, drops=4).tolist()
    [[1, 1], [1, 2], [1, 3], [2, 1], [3, 1]]
    >>> ratios(paints=1, drops=12, least_drops=2).tolist()
    [[1]]
    """
    if paints == 1:  # by itself a paint is not measured
        return np.array([[1]])
    found: dict[tuple[int, ...], tuple[int, ...]] = {}
    for parts in itertools.product(range(least_drops, drops + 1), repeat=paints):
        if sum(parts) <= drops:
            common = int(np.gcd.reduce(parts))
            lowest = tuple(part // common for part in parts)
            found.setdefault(lowest, parts)
    return np.array([found[key] for key in sorted(found)], dtype=np.int64).reshape(-1, paints)


@dataclass(frozen=True, eq=False)
class Level:
    """How much of a mix is laid: equal amounts are tried once, in the fewest coats."""

    units: float
    """Coats of the unthinned mix that leave the same film."""
    coats: int
    thinning: float


def levels(limits: Limits) -> tuple[Level, ...]:
    """Return the amounts to try, thinnest film first.

    >>> [(level.coats, level.thinning) for level in levels(Limits(coats=(1, 2), thinnings=(0.0, 1.0)))]
    [(1, 1.0), (1, 0.0), (2, 0.0)]
    """
    every = [Level(n / (1.0 + t), n, t) for n in limits.coats for t in limits.thinnings]
    every.sort(key=lambda level: (round(level.units, 9), level.coats))
    kept: list[Level] = []
    for level in every:
        if not kept or level.units - kept[-1].units > 1e-9:
            kept.append(level)
    return tuple(kept)


@dataclass(frozen=True, eq=False)
class Pots:
    """The numbers of the paints to search, as arrays."""

    paints: tuple[Paint, ...]
    K_per_um: FloatArray
    S_per_um: FloatArray
    """Shape (paints, 31), 1/µm."""
    solids: FloatArray
    wet_um: FloatArray
    sheen: FloatArray
    """Shape (paints,)."""
    may_mix: npt.NDArray[np.bool_]
    """Shape (paints, paints). Whether two of them may stand in one mix; a mix is allowed if every two of
    its paints may."""

    def amounts(
        self, sets: npt.NDArray[np.int64], parts: npt.NDArray[np.int64]
    ) -> tuple[FloatArray, FloatArray]:
        """Return what one coat of each mix, unthinned, leaves of each paint, and the mix's sheen.

        Equations (M1), (M3) and (M4) of :mod:`layersim.optics.mixing`: of paint i of a mix with
        shares qᵢ of the liquid, wet film w and solids vᵢ, w qᵢ vᵢ stays, and what stays sums to the
        film. So K and S of the film times its thickness are sums over the amounts.

        `sets` and `parts` have shapes (..., m) that go together. Returns amounts, (..., m), µm, and sheen,
        (...).
        """
        share = parts / parts.sum(axis=-1, keepdims=True)
        wet = (share * self.wet_um[sets]).sum(axis=-1, keepdims=True)
        amounts = wet * share * self.solids[sets]
        return amounts, (amounts * self.sheen[sets]).sum(axis=-1) / amounts.sum(axis=-1)


def pots(paints: tuple[Paint, ...], limits: Limits, *, film_factor: float = 1.0) -> Pots:
    """Return the numbers of some paints.

    `film_factor` is what a sprayer lays, as a multiple of the paints' own films. Raises LayersimError if
    there are none.
    """
    if not paints:
        raise LayersimError("the shelf to search is empty: found no paint; expected at least one")
    wet = [limits.wet_film_um or paint.wet_film_um * film_factor for paint in paints]
    return Pots(
        paints=paints,
        K_per_um=np.array([paint.K_per_um for paint in paints]),
        S_per_um=np.array([paint.S_per_um for paint in paints]),
        solids=np.array([paint.volume_solids for paint in paints]),
        wet_um=np.array(wet),
        sheen=np.array([paint.share_seen for paint in paints]),
        may_mix=np.array([[mixable((one, two)) for two in paints] for one in paints]),
    )
