"""What chips say about films: the sprayer's film per coat, how it scatters, and each coat by itself.

Everything uncertain about a prediction is a normal deviate z (:mod:`layersim.scheme.simulate`): the
sprayer's own film factor f = f₀ exp(s₀ z_f), which all its films share, the film of each coat, h exp(…)
apart from the factor, parts, bottles and the model's own errors. Chips y, measured with an error σ in each
of L*, a* and b*, give by Bayes' rule the most probable z,

    min over z of  |z|² + |y − Lab(z)|² / σ²                                                (H1)

found by Gauss and Newton's steps, and about it the covariance

    C = (1 + JᵀJ / σ²)⁻¹                                                                     (H2)

with J the slopes of Lab(z) (A. Tarantola, Inverse Problem Theory, 2005, section 3.2; from memory). The new
factor is f₀ exp(s₀ z_f), its new error s₀ √C_ff. What has no chip to tell it keeps its prior, so that a
doubt shared by film and bottle is not all put on the film.

The deviates x of all coats' films have one standard deviation k, the hand's scatter h over what was thought
of it, h₀. With a belief of ν₀ coats in k = 1, and γ the share of a coat's film that chips tell,

    k² = (ν₀ + Σ x²) / (ν₀ + Σ γ),   γ = 1 − C_xx / k²                                        (H3)

by turns with (H2), in which the prior of x is k (D. J. C. MacKay, Neural Comput. 4 (1992) 415; from
memory). The relative error of k is 1/√(2 (ν₀ + Σ γ²)): a coat whose film is half told says a quarter as
much of the scatter.

Several logged schemes are taken together, the factor, its scatter and the bottles being the same in all.
Nothing is learned twice, since each time everything is learned from the start.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from layersim import colour
from layersim.chance import Source
from layersim.errors import LayersimError, quoted
from layersim.estimate import Estimate
from layersim.learn.beside import Compared, SprayedArea, sprayed_areas
from layersim.learn.nextchip import Wanted, wanted_chip
from layersim.learn.posterior import Column, Posterior, factor_key
from layersim.learn.really import CHIP_ERROR, PRESHADE, Measured, Unused, measured_chips, step_names, step_of
from layersim.learn.then import NoCopy, Then, schemes_then
from layersim.log import Entry, Log
from layersim.names import slug
from layersim.scheme.ownfilms import UNMEASURED, takes_own_film, with_factor
from layersim.scheme.records import Coat, Scheme
from layersim.shelf import Shelf
from layersim.spectra import FloatArray

SCATTER: Final = 0.15
"""h₀: relative scatter of a film from coat to coat, before any chip (common practice, no source)."""
BELIEF: Final = 2.0
"""ν₀ of (H3): coats' worth of belief in that (an assumption)."""
MOST_SCATTER: Final = 0.5
"""The scatter is no larger: where films differ more, something else is wrong (an assumption)."""
ENOUGH_CHIPS: Final = 3
"""With fewer, one bad reading is as good as all that was learned (an assumption)."""
_ENOUGH_COATS: Final = 2.0
"""Σ γ² from which the chips say something about the scatter."""
_STEPS: Final = 12
_TURNS: Final = 20
_FILMS_FIRST: Final = 3
"""Steps before the scatter is looked at: films that are not found yet look like scatter."""
_SLOPE: Final = 0.05
_ENOUGH: Final = 0.02
_FURTHEST: Final = 2.0
"""A single step of Gauss and Newton goes no further in any deviate."""
_NEWS: Final = 0.9
"""What the chips have not narrowed by a tenth is no news."""
_OWN: Final = Column(None, "", Source("own film"))


@dataclass(frozen=True)
class CoatFilm:
    """What one coat's film came out as."""

    scheme: str
    area: str
    step: str
    planned_um: float
    """Dry film of one coat as the scheme has it."""
    film_um: Estimate
    """As the chips say."""
    own: bool
    """Whether the scheme leaves the film to the paint, so that the sprayer's factor scales it."""


@dataclass(frozen=True, eq=False)
class Learned:
    """What chips say about films."""

    film_factor: Estimate | None
    """Of the sprayer; None where no film of these schemes is left to it."""
    film_scatter: Estimate | None
    """How far a coat's film is from the next coat's; None where the chips do not tell."""
    coats: tuple[CoatFilm, ...]
    """Those under a chip, about which the chips say something."""
    chips: int
    before: float
    """Mean ΔE00 of the chips from the prediction, without what was learned; `after` with it."""
    after: float
    left_out: int = 0
    """Chips of other sprayers, which are not among `chips`."""
    others: tuple[str, ...] = ()
    """The sprayers of those."""
    mixed: tuple[str, ...] = ()
    """Several sprayers whose chips are taken as one's, since none was asked for."""
    below: tuple[str, ...] = ()
    """Other sprayers that laid a step under these chips, whose films are taken as this one's."""
    slips: tuple[Compared, ...] = ()
    """Chips with a sign reversed, or that no film explains, which are not among `chips`."""
    unused: tuple[Unused, ...] = ()
    no_copies: tuple[NoCopy, ...] = ()
    wanted: Wanted | None = None
    """The one chip that would narrow the next preview of the first scheme most."""

    @property
    def too_few(self) -> bool:
        """Whether there are too few chips to rely on."""
        return self.chips < ENOUGH_CHIPS


def learn_films(
    logged: Sequence[tuple[Scheme, Log]],
    *,
    sprayer_names: Sequence[str] = (),
    prior: Estimate = UNMEASURED,
    shelf: Shelf | None = None,
    folders: Sequence[Path] = (),
) -> Learned:
    """Return what the chips of logged schemes say about films.

    What was planned is taken from the scheme of each entry's time, where its entry keeps it; `shelf` and
    `folders` are for :func:`~layersim.learn.then.schemes_then`. `sprayer_names` is what entries call the
    sprayer: chips logged under any other sprayer's name are left out, those that name none are taken; where
    it is empty, all are taken. `prior` is of the film factor, before any chip.

    Raises LayersimError if there is no chip, or none of that sprayer.
    """
    wanted = {slug(name) for name in sprayer_names}
    chips, taken = [], []
    unused: list[Unused] = []
    for scheme, log in logged:
        then = _unlearned(schemes_then(scheme, log, shelf=shelf, folders=folders), prior)
        found, unknown = measured_chips(then, log)
        chips.append(found)
        taken.append([one for one in found if _is_of(one.entry, wanted)])
        unused += unknown
    left = [one.entry.sprayer for found in chips for one in found if not _is_of(one.entry, wanted)]
    others = tuple({slug(name): name for name in left}.values())
    if not any(chips):
        raise LayersimError("the log has no measured chip yet; expected at least one")
    if not any(taken):
        raise LayersimError(
            f"no chip of the sprayer {quoted(sprayer_names[0])}: found {_count(len(left), 'chip')}, of "
            f"{', '.join(quoted(name) for name in others)}; expected at least one of this sprayer, or "
            "that names none"
        )
    jobs, slips = [], []
    for number, (mine, (_, log)) in enumerate(zip(taken, logged, strict=True)):
        sprayed, unpredicted = sprayed_areas(mine, log)
        odd = [row for one in sprayed for row in one.compared() if row.turned or row.unexplained]
        slips += odd
        unused += unpredicted
        wrong = {id(row.measured) for row in odd}
        if wrong:
            sprayed, _ = sprayed_areas([one for one in mine if id(one) not in wrong], log)
        jobs += [_Job(number, one) for one in sprayed]
    if not jobs:
        raise LayersimError(
            "none of these chips can be learned from; shown, the log says what is wrong with each"
        )
    known = _most_probable(jobs)
    used = len({job.scheme for job in jobs})
    count = sum(len(job.sprayed.chips) for job in jobs)
    basis = f"{_count(count, 'chip')} of {_count(used, 'logged scheme')}"
    first, _ = logged[0]
    scatter = _scatter(known, basis)
    # Where chips do not tell the scatter, the next films are drawn as if nothing were known of it.
    hand = known if scatter is not None else dataclasses.replace(known, scatter=1.0)
    return Learned(
        film_factor=_factor(known, prior, basis),
        film_scatter=scatter,
        coats=tuple(_coat_films(jobs, known, prior)),
        chips=count,
        before=_mean_delta_e(jobs, np.zeros(len(known.z)), known),
        after=_mean_delta_e(jobs, known.z, known),
        left_out=len(left),
        others=others,
        mixed=() if wanted else _names(one.entry for mine in taken for one in mine),
        below=_below(logged, taken, wanted),
        slips=tuple(slips),
        unused=tuple(unused),
        no_copies=tuple(dict.fromkeys(c for job in jobs for one in job.sprayed.chips for c in one.no_copies)),
        wanted=wanted_chip(_unlearned([Then(first)], prior)[0].scheme, hand, chip_error=CHIP_ERROR),
    )


def _count(number: int, thing: str) -> str:
    return f"one {thing}" if number == 1 else f"{number} {thing}s"


def _is_of(entry: Entry, wanted: Collection[str]) -> bool:
    """Return whether an entry is of a sprayer: it names it or none, or all are wanted."""
    return not wanted or not entry.sprayer or slug(entry.sprayer) in wanted


def _names(entries: Iterator[Entry]) -> tuple[str, ...]:
    """Return the sprayers that entries name, where there is more than one."""
    named = {slug(entry.sprayer): entry.sprayer for entry in entries if entry.sprayer}
    return tuple(named.values()) if len(named) > 1 else ()


def _below(
    logged: Sequence[tuple[Scheme, Log]], taken: Sequence[Sequence[Measured]], wanted: Collection[str]
) -> tuple[str, ...]:
    """Return the other sprayers that laid a step under a chip."""
    below = {
        slug(entry.sprayer): entry.sprayer
        for (_, log), chips in zip(logged, taken, strict=True)
        for one in chips
        for entry in log.entries[: log.entries.index(one.entry)]
        if slug(entry.area) == one.area and not _is_of(entry, wanted)
    }
    return tuple(below.values())


def _unlearned(then: Sequence[Then], prior: Estimate) -> list[Then]:
    """Return schemes with a sprayer and a hand of which nothing is known yet."""
    put: dict[int, Scheme] = {}
    for one in then:
        if id(one.scheme) not in put:
            scheme = with_factor(one.scheme, prior)
            put[id(one.scheme)] = dataclasses.replace(
                scheme, hand=dataclasses.replace(scheme.hand, film=SCATTER)
            )
    return [Then(put[id(one.scheme)], one.no_copy) for one in then]


class _Job:
    """Chips of one area of one logged scheme, with the keys of their factors among all."""

    def __init__(self, scheme: int, sprayed: SprayedArea) -> None:
        self.scheme, self.sprayed = scheme, sprayed
        self.keys = [self._key(factor.key) for factor in sprayed.model.factors]
        coats = sprayed.area.coats
        by_hand = [Source("film", i) for i, coat in enumerate(coats) if coat.by == "airbrush"]
        self.films = {self._key(key) for key in (Source("film", "preshade"), *by_hand)}

    def _key(self, key: Source) -> Column:
        return factor_key(self.scheme, self.sprayed.area, key)

    def film_key(self, stage: int) -> Column:
        """Return the key of the film that makes a stage."""
        area = self.sprayed.area
        coat = stage - (len(step_names(area)) - len(area.coats))
        return self._key(Source("film", coat if coat >= 0 else "preshade"))


def _most_probable(jobs: Sequence[_Job]) -> Posterior:
    """Return the z of (H1) and the covariance of (H2), with the scatter of (H3)."""
    columns = {key: i for i, key in enumerate(dict.fromkeys(key for job in jobs for key in job.keys))}
    n = len(columns)
    film = np.zeros(n, dtype=np.bool_)
    film[[columns[key] for job in jobs for key in job.films if key in columns]] = True
    k, coats = 1.0, 0.0
    z: FloatArray = np.zeros(n)
    covariance: FloatArray = np.eye(n)
    for turn in range(_STEPS):
        told, pull = np.zeros((n, n)), np.zeros(n)
        for job in jobs:
            own = [columns[key] for key in job.keys]
            rows = np.concatenate([z[own][np.newaxis], z[own] + _SLOPE * np.eye(len(own))])
            lab = job.sprayed.predict(rows).reshape(len(rows), -1)
            error = np.repeat([one.error for one in job.sprayed.chips], 3)
            slopes = (lab[1:] - lab[0]) / _SLOPE / error
            told[np.ix_(own, own)] += slopes @ slopes.T
            pull[own] += slopes @ ((job.sprayed.lab.ravel() - lab[0]) / error)
        pull += told @ z
        for _ in range(_TURNS):
            covariance = np.asarray(np.linalg.inv(np.diag(np.where(film, k**-2, 1.0)) + told))
            now, before = covariance @ pull, k
            share = 1.0 - np.diag(covariance)[film] / k**2
            if turn < _FILMS_FIRST:
                break
            k = math.sqrt((BELIEF + float(now[film] @ now[film])) / (BELIEF + float(share.sum())))
            k = min(k, MOST_SCATTER / SCATTER)
            coats = float(share @ share)
            if abs(k / before - 1.0) < _ENOUGH:
                break
        step = np.clip(now - z, -_FURTHEST, _FURTHEST)
        z = z + step
        if turn >= _FILMS_FIRST and np.abs(step).max() < _ENOUGH:
            break
    return Posterior(columns, z, covariance, k, coats)


def _factor(found: Posterior, prior: Estimate, basis: str) -> Estimate | None:
    column = found.columns.get(_OWN)
    if column is None:
        return None
    error = prior.error * math.sqrt(found.covariance[column, column])
    return Estimate(prior.value * math.exp(prior.error * found.z[column]), error, basis)


def _scatter(found: Posterior, basis: str) -> Estimate | None:
    if found.coats < _ENOUGH_COATS:
        return None
    return Estimate(SCATTER * found.scatter, math.sqrt(0.5 / (BELIEF + found.coats)), basis)


def _mean_delta_e(jobs: Sequence[_Job], z: FloatArray, found: Posterior) -> float:
    off = [
        colour.delta_e_2000(
            job.sprayed.predict(z[[found.columns[key] for key in job.keys]][np.newaxis])[0], job.sprayed.lab
        )
        for job in jobs
    ]
    return float(np.concatenate(off).mean())


def _coat_films(jobs: Sequence[_Job], found: Posterior, prior: Estimate) -> Iterator[CoatFilm]:
    """Yield the film of each coat under a chip that the chips narrow."""
    told = set()
    for job in jobs:
        # What no chip lies on may not have been sprayed yet.
        top = max(job.sprayed.chips, key=lambda chip: chip.stage)
        for stage in range(1, top.stage + 1):
            key, step, planned = job.film_key(stage), step_of(top.sprayed, stage), step_of(top.planned, stage)
            if key not in found.columns or key in told or step is None or planned is None:
                continue
            own_film = takes_own_film(step)
            parts, prior_variance = np.zeros(len(found.z)), SCATTER**2
            parts[found.columns[key]] = SCATTER
            if own_film:
                parts[found.columns[_OWN]] = prior.error
                prior_variance += prior.error**2
            after = float(np.sqrt(parts @ found.covariance @ parts))
            if after > _NEWS * math.sqrt(prior_variance):
                continue
            told.add(key)
            yield CoatFilm(
                scheme=top.scheme.name,
                area=top.planned.name,
                step=step.name if isinstance(step, Coat) else PRESHADE,
                planned_um=planned.dry_film_um / (prior.value if own_film else 1.0),
                film_um=Estimate(step.dry_film_um * float(np.exp(parts @ found.z)), after, "from the chips"),
                own=own_film,
            )
