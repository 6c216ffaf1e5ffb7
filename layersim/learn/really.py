"""A scheme as it was really sprayed, and its prediction beside the chips that were measured.

Coats and drops that an entry of the log gives replace the scheme's, up to that entry; what was not noted
stays as planned. Coats of several entries for one step add up. Where the scheme gives the dry film of a coat,
other drops change only the recipe; where it is worked out from a wet film, they change the film, too.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim import colour
from layersim.errors import UnknownNameError, nearest_hint, quoted
from layersim.log import Chip, Entry, Log
from layersim.paintfile import slug
from layersim.scheme.records import Area, Coat, GreysSprayed, Mix, Scheme
from layersim.scheme.simulate import AreaModel
from layersim.spectra import FloatArray

AXIS: Final = 33
"""Tones along the axis between which a chip's place is interpolated."""
SITES: Final = 8
THINNER: Final = "thinner"
PRIMER: Final = "primer"
PRESHADE: Final = "pre-shade"


@dataclass(frozen=True, eq=False)
class Measured:
    """One chip, and the area as it had been sprayed when it was measured.

    Parameters
    ----------
    entry : Entry
    chip : Chip
    area : int
        Index of its area.
    sprayed : Area
        With coats and drops as logged so far.
    stage : int
        Of the prediction.
    """

    entry: Entry
    chip: Chip
    area: int
    sprayed: Area
    stage: int

    @property
    def viewing(self) -> colour.Viewing:
        """Light and observer of its L*a*b*."""
        return colour.Viewing(self.chip.light, self.chip.observer)

    @property
    def lab(self) -> FloatArray:
        """L*a*b* as measured."""
        if self.chip.lab is not None:
            return np.array(self.chip.lab)
        return colour.lab(np.array(self.chip.reflectance), self.viewing)

    def at_place(self, along_axis: FloatArray, shade: FloatArray) -> FloatArray:
        """Return values at the chip's place, from values along the shade axis (axis -2).

        Parameters
        ----------
        along_axis : ndarray, shape (..., tones, 31)
        shade : ndarray, shape (tones,)

        Returns
        -------
        ndarray, shape (..., 31)
        """
        last = len(shade) - 1
        words = {"shadow": 0.0, "mid": last / 2.0, "light": float(last)}
        tone = self.chip.tone
        # A flat stretch of the axis has one lightness for several tones: any of them is the place.
        place = words[tone] if isinstance(tone, str) else float(np.interp(tone, shade, np.arange(last + 1.0)))
        below = min(int(place), last - 1)
        share = place - below
        return np.asarray(along_axis[..., below, :] * (1.0 - share) + along_axis[..., below + 1, :] * share)


@dataclass(frozen=True, eq=False)
class Compared:
    """A chip beside its prediction.

    Parameters
    ----------
    measured : Measured
    predicted : ndarray, shape (3,)
        L*a*b* under the chip's light.
    delta_e : float
        ΔE00.
    """

    measured: Measured
    predicted: FloatArray
    delta_e: float


def measured_chips(scheme: Scheme, log: Log) -> tuple[Measured, ...]:
    """Return every chip of a log with the area as it was sprayed then.

    Parameters
    ----------
    scheme : Scheme
    log : Log

    Returns
    -------
    tuple of Measured

    Raises
    ------
    UnknownNameError
        If an entry names an area or step that the scheme does not have.
    """
    found = []
    for number, entry in enumerate(log.entries):
        index = known_area(scheme, entry.area)
        area = scheme.areas[index]
        stage = known_step(area, entry.step)
        if entry.chips:
            before = [e for e in log.entries[: number + 1] if slug(e.area) == slug(entry.area)]
            sprayed = _as_sprayed(area, before)
            found += [Measured(entry, chip, index, sprayed, stage) for chip in entry.chips]
    return tuple(found)


def compared(scheme: Scheme, log: Log) -> tuple[Compared, ...]:
    """Return every chip of a log beside what was predicted for what was sprayed.

    Parameters
    ----------
    scheme : Scheme
    log : Log

    Returns
    -------
    tuple of Compared

    Raises
    ------
    UnknownNameError
        If an entry names an area or step that the scheme does not have.
    SchemeError
        If a pre-shade does not get lighter.
    """
    rows = []
    for one in measured_chips(scheme, log):
        model = AreaModel(scheme, one.sprayed, tones=AXIS, sites=SITES)
        seen = model.reflectance(np.zeros((1, len(model.factors))))[0, one.stage]
        lab = colour.lab(one.at_place(seen, model.shade), one.viewing)
        rows.append(Compared(one, lab, float(colour.delta_e_2000(lab, one.lab))))
    return tuple(rows)


def known_area(scheme: Scheme, name: str) -> int:
    """Return the index of the area of a name.

    Parameters
    ----------
    scheme : Scheme
    name : str

    Returns
    -------
    int

    Raises
    ------
    UnknownNameError
        If there is none.
    """
    names = [area.name for area in scheme.areas]
    for index, known in enumerate(names):
        if slug(known) == slug(name):
            return index
    raise UnknownNameError(f"no area {quoted(name)}. {nearest_hint(name, names, kind='areas')}")


def known_step(area: Area, name: str) -> int:
    """Return the stage that a step of an area ends with.

    Parameters
    ----------
    area : Area
    name : str
        "primer", "pre-shade" or a coat's name; of two with one name, the first.

    Returns
    -------
    int

    Raises
    ------
    UnknownNameError
        If there is none.
    """
    names = step_names(area)
    for stage, known in enumerate(names):
        if slug(known) == slug(name):
            return stage
    raise UnknownNameError(
        f"no step {quoted(name)} on {quoted(area.name)}. {nearest_hint(name, names, kind='steps')}"
    )


def step_names(area: Area) -> list[str]:
    """Return the names of an area's steps, one a stage of its prediction."""
    before = [PRIMER] if area.preshade is None else [PRIMER, PRESHADE]
    return before + [coat.name for coat in area.coats]


def _as_sprayed(area: Area, entries: Sequence[Entry]) -> Area:
    """Return an area with the coats and drops that entries give."""
    coats = list(area.coats)
    preshade = area.preshade
    first = 1 if preshade is None else 2
    for stage in dict.fromkeys(known_step(area, entry.step) for entry in entries):
        mine = [entry for entry in entries if known_step(area, entry.step) == stage]
        count = sum(entry.coats for entry in mine if entry.coats is not None) or None
        drops = next((entry.drops for entry in reversed(mine) if entry.drops), None)
        if stage >= first:
            coat = coats[stage - first]
            mix, film = _mixed(coat.mix, coat.dry_film_um, coat.film_from, drops)
            coats[stage - first] = dataclasses.replace(
                coat, mix=mix, dry_film_um=film, coats=count or coat.coats
            )
        elif stage == 1 and isinstance(preshade, GreysSprayed):
            mix, film = _mixed(preshade.mix, preshade.dry_film_um, preshade.film_from, drops)
            preshade = dataclasses.replace(
                preshade, mix=mix, dry_film_um=film, passes=count or preshade.passes
            )
    return dataclasses.replace(area, coats=tuple(coats), preshade=preshade)


def _mixed(mix: Mix, film_um: float, film_from: str, drops: Mapping[str, float] | None) -> tuple[Mix, float]:
    """Return a mix by drops, and its film; as it was where its paints were not counted."""
    by_name = {slug(name): count for name, count in (drops or {}).items()}
    counts = [by_name.get(slug(paint.name), 0.0) for paint, _ in mix.ingredients]
    if not sum(counts) > 0.0:
        return mix, film_um
    used = tuple((paint, n) for (paint, _), n in zip(mix.ingredients, counts, strict=True) if n > 0.0)
    thinning = by_name.get(THINNER, mix.thinning * sum(counts)) / sum(counts)
    new = Mix(used, thinning)
    return new, film_um if film_from == "dry" else film_um * new.volume_solids / mix.volume_solids


def step_of(area: Area, stage: int) -> Coat | GreysSprayed | None:
    """Return the step that makes a stage, where it is a film of which something can be learned."""
    first = 1 if area.preshade is None else 2
    if stage >= first:
        return area.coats[stage - first]
    return area.preshade if stage == 1 and isinstance(area.preshade, GreysSprayed) else None
