"""A scheme as it was really sprayed, step by step.

Coats and drops that an entry of the log gives replace the scheme's, up to that entry; what was not noted
stays as planned. Coats of several entries for one step add up. Where the scheme gives the dry film of a coat,
other drops change only the recipe; where it is worked out from a wet film, they change the film, too.

Each step is planned as the scheme said when the step was last logged (:mod:`layersim.learn.then`), and steps
that were not logged as it said when the chip was.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from layersim import colour, names
from layersim.chance import NINETY
from layersim.errors import UnknownNameError, nearest_hint, quoted
from layersim.learn.then import NoCopy, Then
from layersim.log import Chip, Entry, Log
from layersim.scheme.records import Area, Coat, GreysSprayed, Mix, Scheme
from layersim.spectra import FloatArray

# Every entry looks at all before it, by few names.
slug = functools.lru_cache(maxsize=1024)(names.slug)
CHIP_ERROR: Final = 0.7
"""One standard deviation of a measured chip in each of L*, a*, b*: instrument, and spot to spot (assumed)."""
THINNER: Final = "thinner"
PRIMER: Final = "primer"
PRESHADE: Final = "preshade"


@dataclass(frozen=True, eq=False)
class Measured:
    """One chip, and the area as it had been sprayed when it was measured."""

    entry: Entry
    chip: Chip
    scheme: Scheme
    """Of the time of its entry."""
    area: str
    """By the letters and digits of its name."""
    planned: Area
    """As the scheme said when each step was logged."""
    sprayed: Area
    """With coats and drops as logged so far."""
    stage: int
    """Of the prediction."""
    no_copies: tuple[NoCopy, ...] = ()
    """Where the scheme of that time is not known."""

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

    @property
    def error(self) -> float:
        """One standard deviation of each of its L*, a* and b*."""
        return CHIP_ERROR if self.chip.doubt is None else max(CHIP_ERROR, self.chip.doubt / NINETY)

    def at_place(self, along_axis: FloatArray, shade: FloatArray) -> FloatArray:
        """Return values (..., 31) at the chip's place, from values along the shade axis (..., tones, 31).

        `shade` is the bare preshade's L* at each tone.
        """
        last = len(shade) - 1
        words = {"shadow": 0.0, "mid": last / 2.0, "light": float(last)}
        tone = self.chip.tone
        # A flat stretch of the axis has one lightness for several tones: any of them is the place.
        place = words[tone] if isinstance(tone, str) else float(np.interp(tone, shade, np.arange(last + 1.0)))
        below = min(int(place), last - 1)
        share = place - below
        return np.asarray(along_axis[..., below, :] * (1.0 - share) + along_axis[..., below + 1, :] * share)


@dataclass(frozen=True)
class Unused:
    """An entry that counts for nothing, since its scheme has no such area or step, or cannot be predicted."""

    path: Path
    line: int
    entry: Entry
    why: str


@dataclass(frozen=True)
class CoatCount:
    """Coats of one step that a log has so far; area and step as the scheme spells them."""

    area: str
    step: str
    laid: int
    """In all entries together."""
    entries: int
    """How many give coats."""
    planned: int | None
    """As the scheme has it now; None for a preshade that is given by its greys."""


def coats_so_far(scheme: Scheme, log: Log, *, area: str, step: str) -> CoatCount:
    """Return how many coats of a step a log has, as predictions count them.

    Raises UnknownNameError if the scheme has no such area or step.
    """
    of = scheme.areas[known_area(scheme, area)]
    stage = known_step(of, step)
    given = [
        entry.coats
        for entry in log.entries
        if entry.coats is not None and (slug(entry.area), slug(entry.step)) == (slug(area), slug(step))
    ]
    laid_by = step_of(of, stage)
    planned: int | None
    if stage == 0:
        planned = scheme.batch.primer_coats
    elif isinstance(laid_by, Coat):
        planned = laid_by.coats
    else:
        planned = None if laid_by is None else laid_by.passes
    return CoatCount(of.name, step_names(of)[stage], sum(given), len(given), planned)


def measured_chips(then: Sequence[Then], log: Log) -> tuple[tuple[Measured, ...], tuple[Unused, ...]]:
    """Return every chip of a log with the area as it was sprayed then, and the unused entries.

    `then` is the scheme of each entry's time.
    """
    found: list[Measured] = []
    unused: list[Unused] = []
    known: dict[str, list[tuple[Entry, Then]]] = {}
    for number, (entry, one) in enumerate(zip(log.entries, then, strict=True)):
        try:
            area = one.scheme.areas[known_area(one.scheme, entry.area)]
            stage = known_step(area, entry.step)
        except UnknownNameError as fault:
            unused.append(unused_entry(log, number, str(fault)))
            continue
        before = known.setdefault(slug(area.name), [])
        before.append((entry, one))
        if not entry.chips:
            continue
        planned = _as_planned(area, before)
        sprayed = _as_sprayed(planned, [other for other, _ in before])
        no_copies = tuple(dict.fromkeys(each.no_copy for _, each in before if each.no_copy is not None))
        found += [
            Measured(entry, chip, one.scheme, slug(area.name), planned, sprayed, stage, no_copies)
            for chip in entry.chips
        ]
    return tuple(found), tuple(unused)


def unused_entry(log: Log, number: int, why: str) -> Unused:
    """Return the entry of a number, from 0, as one that counts for nothing."""
    line = log.lines[number] if log.lines else number + 1
    return Unused(log.path, line, log.entries[number], why)


def paint_names(scheme: Scheme) -> tuple[str, ...]:
    """Return the names of a scheme's paints, each once."""
    return tuple(dict.fromkeys(paint.name for paint in scheme.paints))


def known_area(scheme: Scheme, name: str) -> int:
    """Return the index of the area of a name; raises UnknownNameError if there is none."""
    names = [area.name for area in scheme.areas]
    for index, known in enumerate(names):
        if slug(known) == slug(name):
            return index
    raise UnknownNameError(f"no area {quoted(name)}. {nearest_hint(name, names, kind='areas')}")


def known_step(area: Area, name: str) -> int:
    """Return the stage that a step of an area ends with: the primer, the preshade or a coat by its name.

    Of two coats with one name it is the first. Raises UnknownNameError if there is none.
    """
    stage = _stage_or_none(area, name)
    if stage is None:
        hint = nearest_hint(name, step_names(area), kind="coats")
        raise UnknownNameError(f"no coat {quoted(name)} on {quoted(area.name)}. {hint}")
    return stage


def step_names(area: Area) -> list[str]:
    """Return the names of an area's steps, one a stage of its prediction."""
    before = [PRIMER] if area.preshade is None else [PRIMER, PRESHADE]
    return before + [coat.name for coat in area.coats]


def _as_planned(area: Area, before: Sequence[tuple[Entry, Then]]) -> Area:
    """Return an area, each of its steps as the scheme said when the step was last logged."""
    coats, preshade, ground = list(area.coats), area.preshade, area.ground
    first = _first_coat(area)
    for entry, one in before:
        stage, was = _stage_or_none(area, entry.step), one.scheme.areas[known_area(one.scheme, entry.area)]
        if stage is None:  # a step under another name since, or left out
            continue
        if stage >= first:
            coats[stage - first] = was.coats[known_step(was, entry.step) - _first_coat(was)]
        elif stage == 1:
            preshade = was.preshade
        else:
            ground = was.ground
    return dataclasses.replace(area, coats=tuple(coats), preshade=preshade, ground=ground)


def _as_sprayed(area: Area, entries: Sequence[Entry]) -> Area:
    """Return an area with the coats and drops that entries give."""
    coats = list(area.coats)
    preshade = area.preshade
    first = _first_coat(area)
    by_stage: dict[int, list[Entry]] = {}
    for entry in entries:
        stage_of = _stage_or_none(area, entry.step)
        if stage_of is not None:
            by_stage.setdefault(stage_of, []).append(entry)
    for stage, mine in by_stage.items():
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


def _first_coat(area: Area) -> int:
    return 1 if area.preshade is None else 2


def _stage_or_none(area: Area, name: str) -> int | None:
    """Return the stage of a step, None where there is none of that name."""
    return next((i for i, known in enumerate(step_names(area)) if slug(known) == slug(name)), None)


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


def strange_drops(scheme: Scheme, entry: Entry) -> tuple[str, ...]:
    """Return the paints of which an entry gives drops though its step's mix does not have them.

    Empty for a preshade that is given by its greys, whose paint nobody knows.
    """
    area = scheme.areas[known_area(scheme, entry.area)]
    stage = known_step(area, entry.step)
    laid_by = step_of(area, stage)
    if laid_by is not None:
        names = [paint.name for paint, _ in laid_by.mix.ingredients]
    elif stage == 0:
        names = [area.ground.name]
    else:
        return ()
    own = {THINNER, *map(slug, names)}
    return tuple(name for name in entry.drops if slug(name) not in own)


def step_of(area: Area, stage: int) -> Coat | GreysSprayed | None:
    """Return the step that makes a stage, where it is a film of which something can be learned."""
    first = _first_coat(area)
    if stage >= first:
        return area.coats[stage - first]
    return area.preshade if stage == 1 and isinstance(area.preshade, GreysSprayed) else None
