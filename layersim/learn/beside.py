"""Predictions of what was really sprayed, beside the chips that were measured.

A chip y that lies far from its prediction is looked at with one sign of a* or b* turned over. With m the mean
and V the covariance of the prediction, the chip's own error in V, let

    d²(y) = (y − m)ᵀ V⁻¹ (y − m)                                                            (H5)

which for a true chip is below χ² of three degrees in the share of cases that it says. A chip that only one
in a thousand is so far from, and nine in ten are as near to once a sign is turned, was written down
wrongly.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from layersim import colour
from layersim.chance import normal_hypercube, reach_of
from layersim.errors import LayersimError
from layersim.learn.really import Measured, Unused, measured_chips, unused_entry
from layersim.learn.then import NoCopy, schemes_then
from layersim.log import TONES, Entry, Log
from layersim.scheme.records import Coat, GreysSprayed, Scheme
from layersim.scheme.simulate import AreaModel
from layersim.shelf import Shelf
from layersim.spectra import FloatArray

SITES: Final = 8
FAR: Final = 10.0
"""ΔE00 beyond which a chip that is outside its prediction's range, too, is more likely a slip (assumed)."""
_AXIS: Final = 33
"""Tones along the axis between which a place told by its lightness is interpolated."""
_DRAWS: Final = 100
_LEAST: Final = 4.0
"""ΔE00 below which no sign is looked at."""
_NEARER: Final = 0.6
"""Nor where a sign turned over leaves more of ΔE00."""
_TURNS: Final = {"a*": np.array([1.0, -1.0, 1.0]), "b*": np.array([1.0, 1.0, -1.0])}
_ONE_IN_A_THOUSAND, _NINE_IN_TEN = 16.27, 6.25
"""Of χ² with three degrees of freedom (tables)."""
_NO_HAND: Final = 50.0
"""d² of seven standard deviations: what no hand and no bottle explains (an assumption)."""


@dataclass(frozen=True, eq=False)
class Compared:
    """A chip beside its prediction."""

    measured: Measured
    predicted: FloatArray
    """L*a*b* under the chip's light."""
    delta_e: float
    """ΔE00."""
    reach: float | None = None
    """ΔE00 within which 90 % of outcomes lie around the prediction; worked out for far chips alone."""
    turned: str = ""
    """"a*" or "b*", where the chip looks as if the sign of that were reversed."""
    unexplained: bool = False
    """Whether it is so far from its prediction that no film and no bottle explains it."""

    @property
    def is_far(self) -> bool:
        """Whether it is beyond :data:`FAR`, and farther than 90 % of outcomes."""
        return self.reach is not None and self.delta_e > max(FAR, self.reach)


@dataclass(frozen=True, eq=False)
class LogComparison:
    """All chips of a log beside their predictions."""

    name: str
    """Of the scheme."""
    log: Log
    rows: tuple[Compared, ...]
    unused: tuple[Unused, ...]

    @property
    def no_copies(self) -> tuple[NoCopy, ...]:
        """Where the scheme of a chip's time is not known."""
        return tuple(dict.fromkeys(one for row in self.rows for one in row.measured.no_copies))


class SprayedArea:
    """One area as it was sprayed, its chips, and their prediction for any deviates.

    Chips are alike in area and films. Raises SchemeError if the preshade does not get lighter.
    """

    def __init__(self, chips: Sequence[Measured]) -> None:
        self.chips, self.area = chips, chips[0].sprayed
        # Shadow, mid and light are tones of their own.
        tones = len(TONES) if all(isinstance(one.chip.tone, str) for one in chips) else _AXIS
        self.model = AreaModel(chips[0].scheme, self.area, tones=tones, sites=SITES)
        self.lab = np.array([one.lab for one in chips])

    def predict(self, z: FloatArray) -> FloatArray:
        """Return L*a*b* of each chip for rows of deviates, (row, chip, 3)."""
        seen = self.model.reflectance(z)
        each = [
            colour.lab(one.at_place(seen[:, one.stage], self.model.shade), one.viewing) for one in self.chips
        ]
        return np.stack(each, axis=1)

    def compared(self) -> list[Compared]:
        """Return each chip beside its prediction; how far outcomes reach where it is far from it."""
        n = len(self.model.factors)
        predicted = self.predict(np.zeros((1, n)))[0]
        off = colour.delta_e_2000(predicted, self.lab)
        rows = [
            Compared(one, lab, float(far)) for one, lab, far in zip(self.chips, predicted, off, strict=True)
        ]
        turned = [colour.delta_e_2000(predicted, self.lab * sign) for sign in _TURNS.values()]
        nearest = np.min(turned, axis=0)
        # To draw outcomes takes longer than all else: only where something may be said.
        strange = (off > FAR) | ((off > _LEAST) & (nearest < _NEARER * off))
        if strange.any():
            drawn = self.predict(normal_hypercube(n, _DRAWS, seed=1))
            reach = reach_of(colour.delta_e_2000(drawn, predicted))
            for i in np.flatnonzero(strange).tolist():
                told = self.chips[i].chip.lab is not None
                sign, unexplained = _slips(self.lab[i], drawn[:, i], self.chips[i].error)
                rows[i] = dataclasses.replace(
                    rows[i], reach=float(reach[i]), turned=sign if told else "", unexplained=unexplained
                )
        return rows


def _slips(lab: FloatArray, drawn: FloatArray, error: float) -> tuple[str, bool]:
    """Return which sign of a chip looks reversed beside drawn outcomes, and whether it is too far."""
    inverse = np.linalg.inv(np.cov(drawn.T) + error**2 * np.eye(3))

    def distance(chip: FloatArray) -> float:
        apart = chip - drawn.mean(axis=0)
        return float(apart @ inverse @ apart)

    far = distance(lab)
    turned = {name: distance(lab * sign) for name, sign in _TURNS.items()}
    nearest = min(turned, key=lambda name: turned[name])
    is_turned = far > _ONE_IN_A_THOUSAND and turned[nearest] < _NINE_IN_TEN
    return nearest if is_turned else "", far > _NO_HAND


def sprayed_areas(chips: Sequence[Measured], log: Log) -> tuple[list[SprayedArea], list[Unused]]:
    """Return the chips of a log, together where one prediction tells them, and entries without one."""
    alike: dict[object, list[Measured]] = {}
    for chip in chips:
        steps = [chip.sprayed.preshade, *chip.sprayed.coats]
        laid = tuple(_laid(step) for step in steps if isinstance(step, (Coat, GreysSprayed)))
        alike.setdefault((chip.area, id(chip.scheme), laid), []).append(chip)
    sprayed: list[SprayedArea] = []
    unused: list[Unused] = []
    for group in alike.values():
        try:
            sprayed.append(SprayedArea(group))
        except LayersimError as fault:
            entries = {id(one.entry) for one in group}
            numbers = [i for i, entry in enumerate(log.entries) if id(entry) in entries]
            unused += [unused_entry(log, number, str(fault)) for number in numbers]
    return sprayed, unused


def _laid(step: Coat | GreysSprayed) -> object:
    parts = tuple((paint.name, part) for paint, part in step.mix.ingredients)
    return parts, step.mix.thinning, step.total_film_um


def compared(
    scheme: Scheme,
    log: Log,
    *,
    entry: Entry | None = None,
    shelf: Shelf | None = None,
    folders: Sequence[Path] = (),
) -> LogComparison:
    """Return every chip of a log, or of one entry, beside what was predicted for what was sprayed.

    `scheme` is as it is now; entries that keep it as it was are predicted by that. `shelf` and `folders` are
    for :func:`~layersim.learn.then.schemes_then`.
    """
    chips, unknown = measured_chips(schemes_then(scheme, log, shelf=shelf, folders=folders), log)
    sprayed, unpredicted = sprayed_areas([c for c in chips if entry is None or c.entry is entry], log)
    rows = {id(row.measured): row for one in sprayed for row in one.compared()}
    return LogComparison(
        scheme.name,
        log,
        tuple(rows[id(chip)] for chip in chips if id(chip) in rows),
        tuple(sorted((*unknown, *unpredicted), key=lambda one: one.line)),
    )
