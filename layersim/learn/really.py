"""A scheme as it was really sprayed, and its prediction beside the chips that were measured.

Coats and drops that an entry of the log gives replace the scheme's, up to that entry; what was not noted
stays as planned. Coats of several entries for one step add up. Where the scheme gives the dry film of a coat,
other drops change only the recipe; where it is worked out from a wet film, they change the film, too.

Each step is planned as the scheme said when the step was last logged (:mod:`layersim.learn.then`), and steps
that were not logged as it said when the chip was.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from layersim import colour
from layersim.errors import UnknownNameError, nearest_hint, quoted
from layersim.learn.then import Then, schemes_then
from layersim.log import Chip, Entry, Log
from layersim.names import slug
from layersim.scheme.prediction import COVERED
from layersim.scheme.records import Area, Coat, GreysSprayed, Mix, Scheme
from layersim.scheme.simulate import AreaModel, normal_hypercube
from layersim.shelf import Shelf
from layersim.spectra import FloatArray

AXIS: Final = 33
"""Tones along the axis between which a chip's place is interpolated."""
SITES: Final = 8
FAR: Final = 10.0
"""ΔE00 beyond which a chip that is outside its prediction's range, too, is more likely a slip (assumed)."""
_DRAWS: Final = 100
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
    scheme : Scheme
        Of the time of its entry.
    area : str
        By the letters and digits of its name.
    planned, sprayed : Area
        As the scheme said when each step was logged; with coats and drops as logged so far.
    stage : int
        Of the prediction.
    notices : tuple of str
        Where the scheme of that time is not known.
    """

    entry: Entry
    chip: Chip
    scheme: Scheme
    area: str
    planned: Area
    sprayed: Area
    stage: int
    notices: tuple[str, ...] = ()

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
    reach : float or None
        ΔE00 within which 90 % of outcomes lie around the prediction; worked out beyond :data:`FAR` alone.
    """

    measured: Measured
    predicted: FloatArray
    delta_e: float
    reach: float | None = None

    @property
    def is_far(self) -> bool:
        """Whether it is beyond :data:`FAR`, and farther than 90 % of outcomes."""
        return self.reach is not None and self.delta_e > self.reach


@dataclass(frozen=True)
class CoatCount:
    """Coats of one step that a log has so far.

    Parameters
    ----------
    area, step : str
        As the scheme spells them.
    laid : int
        In all entries together.
    entries : int
        How many give coats.
    planned : int or None
        As the scheme has it now; None for a pre-shade that is given by its greys.
    """

    area: str
    step: str
    laid: int
    entries: int
    planned: int | None


def coats_so_far(scheme: Scheme, log: Log, *, area: str, step: str) -> CoatCount:
    """Return how many coats of a step a log has, as predictions count them.

    Parameters
    ----------
    scheme : Scheme
    log : Log
    area, step : str

    Returns
    -------
    CoatCount

    Raises
    ------
    UnknownNameError
        If the scheme has no such area or step.
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


def measured_chips(then: Sequence[Then], log: Log) -> tuple[Measured, ...]:
    """Return every chip of a log with the area as it was sprayed then.

    Parameters
    ----------
    then : sequence of Then
        The scheme of each entry's time.
    log : Log

    Returns
    -------
    tuple of Measured

    Raises
    ------
    UnknownNameError
        If an entry names an area or step that its scheme does not have.
    """
    found = []
    for number, entry in enumerate(log.entries):
        scheme = then[number].scheme
        area = scheme.areas[known_area(scheme, entry.area)]
        stage = known_step(area, entry.step)
        if not entry.chips:
            continue
        before = [
            (other, one)
            for other, one in zip(log.entries[: number + 1], then, strict=False)
            if slug(other.area) == slug(entry.area)
        ]
        planned = _as_planned(area, before)
        sprayed = _as_sprayed(planned, [other for other, _ in before])
        notices = tuple(dict.fromkeys(one.notice for _, one in before if one.notice))
        found += [
            Measured(entry, chip, scheme, slug(area.name), planned, sprayed, stage, notices)
            for chip in entry.chips
        ]
    return tuple(found)


def compared(
    scheme: Scheme,
    log: Log,
    *,
    entry: Entry | None = None,
    shelf: Shelf | None = None,
    folders: Sequence[Path] = (),
) -> tuple[Compared, ...]:
    """Return every chip of a log beside what was predicted for what was sprayed.

    Parameters
    ----------
    scheme : Scheme
        As it is now; entries that keep it as it was are predicted by that.
    log : Log
    entry : Entry, optional
        One of the log's, whose chips alone are wanted.
    shelf : Shelf, optional
    folders : sequence of Path
        For :func:`~layersim.learn.then.schemes_then`.

    Returns
    -------
    tuple of Compared

    Raises
    ------
    UnknownNameError
        If an entry names an area or step that its scheme does not have.
    SchemeError
        If a pre-shade does not get lighter.
    """
    rows = []
    for one in measured_chips(schemes_then(scheme, log, shelf=shelf, folders=folders), log):
        if entry is not None and one.entry is not entry:
            continue
        model = AreaModel(one.scheme, one.sprayed, tones=AXIS, sites=SITES)
        lab = _seen(model, one, np.zeros((1, len(model.factors))))[0]
        off = float(colour.delta_e_2000(lab, one.lab))
        reach = None
        if off > FAR:
            drawn = _seen(model, one, normal_hypercube(len(model.factors), _DRAWS, seed=1))
            reach = float(np.quantile(colour.delta_e_2000(drawn, lab), COVERED))
        rows.append(Compared(one, lab, off, reach))
    return tuple(rows)


def _seen(model: AreaModel, one: Measured, z: FloatArray) -> FloatArray:
    """Return L*a*b* at a chip's place, shape (draws, 3)."""
    return colour.lab(one.at_place(model.reflectance(z)[:, one.stage], model.shade), one.viewing)


def paint_names(scheme: Scheme) -> tuple[str, ...]:
    """Return the names of a scheme's paints, each once.

    Parameters
    ----------
    scheme : Scheme

    Returns
    -------
    tuple of str
    """
    return tuple(dict.fromkeys(paint.name for paint in scheme.paints))


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
    stage = _stage_or_none(area, name)
    if stage is None:
        hint = nearest_hint(name, step_names(area), kind="steps")
        raise UnknownNameError(f"no step {quoted(name)} on {quoted(area.name)}. {hint}")
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

    Parameters
    ----------
    scheme : Scheme
    entry : Entry

    Returns
    -------
    tuple of str
        Empty for a pre-shade that is given by its greys, whose paint nobody knows.
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
