r"""What chips say about one's own films: the sprayer's film per coat, and each coat's by itself.

Everything uncertain about a prediction is a standard normal deviate z (:mod:`layersim.scheme.simulate`):
the sprayer's own film factor f = f₀ exp(s₀ z_f), which all its films share, the film of each coat, parts and
bottles. Chips y, measured with an error σ in each of L*, a* and b*, give by Bayes' rule the most probable z,

    min over z of  |z|² + |y − Lab(z)|² / σ²                                                (B1)

found by Gauss and Newton's steps, and about it the covariance

    C = (1 + JᵀJ / σ²)⁻¹                                                                     (B2)

with J the slopes of Lab(z) (A. Tarantola, Inverse Problem Theory, 2005, section 3.2; from memory). The new
factor is f₀ exp(s₀ z_f), its new error s₀ √C_ff. What has no chip to tell it keeps its prior, so that a
doubt shared by film and bottle is not all put on the film.

Several logged schemes are taken together, the factor and the bottles being the same in all. Nothing is
learned twice, since each time everything is learned from the start.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

import numpy as np

from layersim import colour
from layersim.errors import LayersimError
from layersim.estimate import Estimate
from layersim.learn.really import AXIS, SITES, Measured, measured_chips, step_of
from layersim.log import Log
from layersim.scheme.ownfilms import takes_own_film, with_own_films
from layersim.scheme.records import Coat, GreysSprayed, Scheme
from layersim.scheme.simulate import AreaModel
from layersim.spectra import FloatArray
from layersim.sprayer import Sprayer

Step = TypeVar("Step", Coat, GreysSprayed)

PRIOR: Final = Estimate(1.0, 0.30, "nobody measured it: half to twice in the extreme (an assumption)")
CHIP_ERROR: Final = 0.7
"""One standard deviation of a measured chip in each of L*, a*, b*: instrument, and spot to spot (assumed)."""
_STEPS: Final = 8
_SLOPE: Final = 0.05
_ENOUGH: Final = 3e-3
_FURTHEST: Final = 2.0
"""A single step of Gauss and Newton goes no further in any deviate."""


@dataclass(frozen=True)
class CoatFilm:
    """What one coat's film came out as.

    Parameters
    ----------
    scheme, area, step : str
    planned_um : float
        Dry film of one coat as the scheme has it.
    film_um : Estimate
        As the chips say.
    """

    scheme: str
    area: str
    step: str
    planned_um: float
    film_um: Estimate


@dataclass(frozen=True)
class Learned:
    """What chips say about films.

    Parameters
    ----------
    film_factor : Estimate or None
        Of the sprayer; None where no film of these schemes is left to it.
    coats : tuple of CoatFilm
        Those about which the chips say something.
    chips : int
    before, after : float
        Mean ΔE00 of the chips from the prediction, without and with what was learned.
    """

    film_factor: Estimate | None
    coats: tuple[CoatFilm, ...]
    chips: int
    before: float
    after: float


def learn_films(
    logged: Sequence[tuple[Scheme, Log]], *, prior: Estimate = PRIOR, chip_error: float = CHIP_ERROR
) -> Learned:
    """Return what the chips of logged schemes say about films.

    Parameters
    ----------
    logged : sequence of (Scheme, Log)
        Schemes whose films no sprayer's profile has been put to (:func:`without_sprayer`).
    prior : Estimate
        Of the film factor, before any chip.
    chip_error : float, > 0

    Returns
    -------
    Learned

    Raises
    ------
    LayersimError
        If there is no chip.
    UnknownNameError
        If an entry names what its scheme does not have.
    SchemeError
        If a pre-shade does not get lighter.
    """
    jobs = [
        job
        for number, (scheme, log) in enumerate(logged)
        for job in _jobs(number, with_factor(scheme, prior), log)
    ]
    if not jobs:
        raise LayersimError("the log has no measured chip yet; expected at least one, added with --chip")
    columns: dict[tuple[object, ...], int] = {}
    for job in jobs:
        for key in job.keys:
            columns.setdefault(key, len(columns))
    chips = sum(len(job.chips) for job in jobs)
    z, covariance = _most_probable(jobs, columns, chip_error)
    own = columns.get(("own film",))
    factor = None
    if own is not None:
        count = "one chip" if chips == 1 else f"{chips} chips"
        schemes = "one logged scheme" if len(logged) == 1 else f"{len(logged)} logged schemes"
        error = prior.error * float(np.sqrt(covariance[own, own]))
        factor = Estimate(prior.value * float(np.exp(prior.error * z[own])), error, f"{count} of {schemes}")
    return Learned(
        film_factor=factor,
        coats=tuple(_coat_films(logged, jobs, columns, z, covariance, prior)),
        chips=chips,
        before=_mean_delta_e(jobs, columns, np.zeros(len(columns))),
        after=_mean_delta_e(jobs, columns, z),
    )


def without_sprayer(scheme: Scheme) -> Scheme:
    """Return a scheme with the films that its paints suggest, whatever its sprayer's profile says.

    Parameters
    ----------
    scheme : Scheme

    Returns
    -------
    Scheme
    """
    sprayer = scheme.batch.sprayer
    if sprayer is None or sprayer.film_factor is None:
        return scheme
    factor = sprayer.film_factor.value

    def bare(step: Step) -> Step:
        if not takes_own_film(step):
            return step
        return dataclasses.replace(step, dry_film_um=step.dry_film_um / factor)

    areas = tuple(
        dataclasses.replace(
            area,
            coats=tuple(bare(coat) for coat in area.coats),
            preshade=bare(area.preshade) if isinstance(area.preshade, GreysSprayed) else area.preshade,
        )
        for area in scheme.areas
    )
    batch = dataclasses.replace(scheme.batch, sprayer=None)
    return dataclasses.replace(scheme, areas=areas, batch=batch)


def with_factor(scheme: Scheme, factor: Estimate) -> Scheme:
    """Return a scheme with a film factor put to the films that its paints suggest.

    Parameters
    ----------
    scheme : Scheme
        Without a sprayer (:func:`without_sprayer`).
    factor : Estimate

    Returns
    -------
    Scheme
    """
    sprayer = Sprayer(name="the sprayer", film_factor=factor)
    return with_own_films(
        dataclasses.replace(scheme, batch=dataclasses.replace(scheme.batch, sprayer=sprayer))
    )


class _Job:
    """Chips of one area as it was sprayed, and their prediction for any deviates."""

    def __init__(self, number: int, scheme: Scheme, chips: Sequence[Measured]) -> None:
        self.number, self.area, self.chips = number, chips[0].area, chips
        self.model = AreaModel(scheme, chips[0].sprayed, tones=AXIS, sites=SITES)
        self.lab = np.array([one.lab for one in chips])
        self.keys = [self._key(factor.key) for factor in self.model.factors]

    def _key(self, key: tuple[object, ...]) -> tuple[object, ...]:
        """Return a factor's key among all: the sprayer and the bottles are the same everywhere."""
        return key if key[0] in ("own film", "paint") else (self.number, self.area, *key)

    def predict(self, z: FloatArray) -> FloatArray:
        """Return L*a*b* of each chip for rows of its own deviates, (row, chip, 3)."""
        seen = self.model.reflectance(z)
        each = [
            colour.lab(one.at_place(seen[:, one.stage], self.model.shade), one.viewing) for one in self.chips
        ]
        return np.stack(each, axis=1)


def _jobs(number: int, scheme: Scheme, log: Log) -> list[_Job]:
    """Return a scheme's chips, those together that one prediction tells."""
    alike: dict[object, list[Measured]] = {}
    for one in measured_chips(scheme, log):
        films = [one.sprayed.preshade, *one.sprayed.coats]
        laid = tuple(_laid(step) for step in films if isinstance(step, (Coat, GreysSprayed)))
        alike.setdefault((one.area, laid), []).append(one)
    return [_Job(number, scheme, chips) for chips in alike.values()]


def _laid(step: Coat | GreysSprayed) -> object:
    parts = tuple((paint.name, part) for paint, part in step.mix.ingredients)
    return parts, step.mix.thinning, step.total_film_um


def _most_probable(
    jobs: Sequence[_Job], columns: dict[tuple[object, ...], int], chip_error: float
) -> tuple[FloatArray, FloatArray]:
    """Return the z of (B1) and the covariance of (B2)."""
    n = len(columns)
    z, precision = np.zeros(n), np.eye(n)
    for _ in range(_STEPS):
        precision, pull = np.eye(n), -z
        for job in jobs:
            own = [columns[key] for key in job.keys]
            rows = np.concatenate([z[own][np.newaxis], z[own] + _SLOPE * np.eye(len(own))])
            lab = job.predict(rows).reshape(len(rows), -1)
            slopes = (lab[1:] - lab[0]) / _SLOPE / chip_error
            precision[np.ix_(own, own)] += slopes @ slopes.T
            pull[own] += slopes @ (job.lab.ravel() - lab[0]) / chip_error
        step = np.clip(np.linalg.solve(precision, pull), -_FURTHEST, _FURTHEST)
        z = z + step
        if np.abs(step).max() < _ENOUGH:
            break
    return z, np.asarray(np.linalg.inv(precision), dtype=np.float64)


def _mean_delta_e(jobs: Sequence[_Job], columns: dict[tuple[object, ...], int], z: FloatArray) -> float:
    off = [
        colour.delta_e_2000(job.predict(z[[columns[key] for key in job.keys]][np.newaxis])[0], job.lab)
        for job in jobs
    ]
    return float(np.concatenate(off).mean())


def _coat_films(
    logged: Sequence[tuple[Scheme, Log]],
    jobs: Sequence[_Job],
    columns: dict[tuple[object, ...], int],
    z: FloatArray,
    covariance: FloatArray,
    prior: Estimate,
) -> list[CoatFilm]:
    """Return the film of each coat that the chips narrow."""
    found = []
    own = columns.get(("own film",))
    for number, index in dict.fromkeys((job.number, job.area) for job in jobs):
        scheme = logged[number][0]
        area = scheme.areas[index]
        steps: list[tuple[object, Coat | GreysSprayed | None]] = [("preshade", step_of(area, 1))]
        steps += list(enumerate(area.coats))
        for key, step in steps:
            column = columns.get((number, index, "film", key))
            if column is None or step is None:
                continue
            parts = np.zeros(len(columns))
            parts[column] = scheme.hand.film
            scale = 1.0
            if own is not None and takes_own_film(step):
                parts[own], scale = prior.error, prior.value
            before = float(np.sqrt(parts @ parts))
            after = float(np.sqrt(parts @ covariance @ parts))
            # What the chips have not narrowed by a tenth is no news.
            if after > 0.9 * before:
                continue
            film = step.dry_film_um * scale * float(np.exp(parts @ z))
            name = step.name if isinstance(step, Coat) else "pre-shade"
            found.append(
                CoatFilm(
                    scheme=scheme.name,
                    area=area.name,
                    step=name,
                    planned_um=step.dry_film_um,
                    film_um=Estimate(film, after, "from the chips"),
                )
            )
    return found
