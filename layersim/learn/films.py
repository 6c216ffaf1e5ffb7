r"""What chips say about one's own films: the sprayer's film per coat, and each coat's by itself.

Everything uncertain about a prediction is a standard normal deviate z (:mod:`layersim.scheme.simulate`):
the sprayer's own film factor f = f₀ exp(s₀ z_f), which all its films share, the film of each coat, parts and
bottles. Chips y, measured with an error σ in each of L*, a* and b*, give by Bayes' rule the most probable z,

    min over z of  |z|² + |y − Lab(z)|² / σ²                                                (H1)

found by Gauss and Newton's steps, and about it the covariance

    C = (1 + JᵀJ / σ²)⁻¹                                                                     (H2)

with J the slopes of Lab(z) (A. Tarantola, Inverse Problem Theory, 2005, section 3.2; from memory). The new
factor is f₀ exp(s₀ z_f), its new error s₀ √C_ff. What has no chip to tell it keeps its prior, so that a
doubt shared by film and bottle is not all put on the film.

Several logged schemes are taken together, the factor and the bottles being the same in all. Nothing is
learned twice, since each time everything is learned from the start.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from layersim import colour
from layersim.errors import LayersimError, quoted
from layersim.estimate import Estimate
from layersim.learn.factor import with_factor, without_sprayer
from layersim.learn.really import AXIS, PRESHADE, SITES, Measured, measured_chips, step_names, step_of
from layersim.learn.then import Then, schemes_then
from layersim.log import Entry, Log
from layersim.names import slug
from layersim.scheme.ownfilms import takes_own_film
from layersim.scheme.records import Coat, GreysSprayed, Scheme
from layersim.scheme.simulate import AreaModel
from layersim.shelf import Shelf
from layersim.spectra import FloatArray

PRIOR: Final = Estimate(1.0, 0.30, "nobody measured it: half to twice in the extreme (an assumption)")
CHIP_ERROR: Final = 0.7
"""One standard deviation of a measured chip in each of L*, a*, b*: instrument, and spot to spot (assumed)."""
ENOUGH_CHIPS: Final = 3
"""With fewer, one bad reading is as good as all that was learned (an assumption)."""
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
    own : bool
        Whether the scheme leaves the film to the paint, so that the sprayer's factor scales it.
    """

    scheme: str
    area: str
    step: str
    planned_um: float
    film_um: Estimate
    own: bool


@dataclass(frozen=True)
class Learned:
    """What chips say about films.

    Parameters
    ----------
    film_factor : Estimate or None
        Of the sprayer; None where no film of these schemes is left to it.
    coats : tuple of CoatFilm
        Those under a chip, about which the chips say something.
    chips : int
    before, after : float
        Mean ΔE00 of the chips from the prediction, without and with what was learned.
    notices : tuple of str
        Where the scheme as it was is not known, or more than one sprayer is in it.
    left_out : int
        Chips of other sprayers, which are not among `chips`.
    others : tuple of str
        The sprayers of those.
    """

    film_factor: Estimate | None
    coats: tuple[CoatFilm, ...]
    chips: int
    before: float
    after: float
    notices: tuple[str, ...] = ()
    left_out: int = 0
    others: tuple[str, ...] = ()

    @property
    def too_few(self) -> bool:
        """Whether there are too few chips to rely on."""
        return self.chips < ENOUGH_CHIPS


def learn_films(
    logged: Sequence[tuple[Scheme, Log]],
    *,
    sprayer_names: Sequence[str] = (),
    prior: Estimate = PRIOR,
    chip_error: float = CHIP_ERROR,
    shelf: Shelf | None = None,
    folders: Sequence[Path] = (),
) -> Learned:
    """Return what the chips of logged schemes say about films.

    Parameters
    ----------
    logged : sequence of (Scheme, Log)
        What was planned is taken from the scheme of each entry's time, where its entry keeps it.
    sprayer_names : sequence of str
        What entries call the sprayer: chips logged under any other sprayer's name are left out, those that
        name none are taken. Where it is empty, all are taken.
    prior : Estimate
        Of the film factor, before any chip.
    chip_error : float, > 0
    shelf : Shelf, optional
    folders : sequence of Path
        For :func:`~layersim.learn.then.schemes_then`.

    Returns
    -------
    Learned

    Raises
    ------
    LayersimError
        If there is no chip, or none of that sprayer.
    UnknownNameError
        If an entry names what its scheme does not have.
    SchemeError
        If a pre-shade does not get lighter.
    """
    measured = [
        _factored_chips(schemes_then(scheme, log, shelf=shelf, folders=folders), log, prior)
        for scheme, log in logged
    ]
    wanted = {slug(name) for name in sprayer_names}
    taken = [[one for one in chips if _is_of(one.entry, wanted)] for chips in measured]
    left = [one.entry.sprayer for chips in measured for one in chips if not _is_of(one.entry, wanted)]
    others = tuple({slug(name): name for name in left}.values())
    if not any(measured):
        raise LayersimError("the log has no measured chip yet; expected at least one, added with --chip")
    if not any(taken):
        raise LayersimError(
            f"no chip of the sprayer {quoted(sprayer_names[0])}: found {_count(len(left))}, of "
            f"{', '.join(quoted(name) for name in others)}; expected at least one of this sprayer, or "
            "that names none"
        )
    jobs = [job for number, chips in enumerate(taken) for job in _jobs(number, chips)]
    columns: dict[tuple[object, ...], int] = {}
    for job in jobs:
        for key in job.keys:
            columns.setdefault(key, len(columns))
    chips = sum(len(job.chips) for job in jobs)
    z, covariance = _most_probable(jobs, columns, chip_error)
    own = columns.get(("own film",))
    factor = None
    if own is not None:
        used = sum(1 for group in taken if group)
        schemes = "one logged scheme" if used == 1 else f"{used} logged schemes"
        error = prior.error * float(np.sqrt(covariance[own, own]))
        factor = Estimate(
            prior.value * float(np.exp(prior.error * z[own])), error, f"{_count(chips)} of {schemes}"
        )
    return Learned(
        film_factor=factor,
        coats=tuple(_coat_films(jobs, columns, z, covariance, prior)),
        chips=chips,
        before=_mean_delta_e(jobs, columns, np.zeros(len(columns))),
        after=_mean_delta_e(jobs, columns, z),
        notices=(
            *dict.fromkeys(text for job in jobs for one in job.chips for text in one.notices),
            *_mixed_sprayers(logged, taken, wanted),
        ),
        left_out=len(left),
        others=others,
    )


def _count(chips: int) -> str:
    return "one chip" if chips == 1 else f"{chips} chips"


def _is_of(entry: Entry, wanted: Collection[str]) -> bool:
    """Return whether an entry is of a sprayer: it names it or none, or all are wanted."""
    return not wanted or not entry.sprayer or slug(entry.sprayer) in wanted


def _mixed_sprayers(
    logged: Sequence[tuple[Scheme, Log]], taken: Sequence[Sequence[Measured]], wanted: Collection[str]
) -> list[str]:
    """Return a sentence where films of several sprayers are taken as one sprayer's."""
    if not wanted:
        named = {slug(one.entry.sprayer): one.entry.sprayer for chips in taken for one in chips}
        named.pop("", None)
        if len(named) < 2:
            return []
        names = ", ".join(named.values())
        return [f"chips of {names} are taken as one sprayer's; with --sprayer NAME only that one's are"]
    below = {
        slug(entry.sprayer): entry.sprayer
        for (_, log), chips in zip(logged, taken, strict=True)
        for one in chips
        for entry in log.entries[: log.entries.index(one.entry)]
        if slug(entry.area) == one.area and not _is_of(entry, wanted)
    }
    if not below:
        return []
    return [
        f"some of these chips lie on areas where {', '.join(below.values())} sprayed, too; the films of "
        "those steps are taken as this sprayer's"
    ]


class _Job:
    """Chips of one area as it was sprayed, and their prediction for any deviates."""

    def __init__(self, number: int, chips: Sequence[Measured]) -> None:
        self.number, self.area, self.chips = number, chips[0].area, chips
        # The film model's own errors are no unknowns here: films and bottles are what chips tell of.
        scheme = chips[0].scheme
        hand = dataclasses.replace(scheme.hand, model=0.0)
        self.model = AreaModel(
            dataclasses.replace(scheme, hand=hand), chips[0].sprayed, tones=AXIS, sites=SITES
        )
        self.lab = np.array([one.lab for one in chips])
        self.keys = [self._key(factor.key) for factor in self.model.factors]

    def _key(self, key: tuple[object, ...]) -> tuple[object, ...]:
        """Return a factor's key among all: the sprayer and the bottles are the same everywhere."""
        if key[0] in ("own film", "paint"):
            return key
        # Its coats are told by their names: in a scheme edited since, another may stand in one's place.
        coats = [slug(coat.name) for coat in self.chips[0].sprayed.coats]
        if len(key) > 1 and isinstance(place := key[1], int):
            step: object = (coats[place], coats[:place].count(coats[place]))
            key = (key[0], step, *key[2:])
        return self.number, self.area, *key

    def film_key(self, stage: int) -> tuple[object, ...]:
        """Return the key of the film that makes a stage."""
        sprayed = self.chips[0].sprayed
        coat = stage - (len(step_names(sprayed)) - len(sprayed.coats))
        return self._key(("film", coat if coat >= 0 else "preshade"))

    def predict(self, z: FloatArray) -> FloatArray:
        """Return L*a*b* of each chip for rows of its own deviates, (row, chip, 3)."""
        seen = self.model.reflectance(z)
        each = [
            colour.lab(one.at_place(seen[:, one.stage], self.model.shade), one.viewing) for one in self.chips
        ]
        return np.stack(each, axis=1)


def _factored_chips(then: Sequence[Then], log: Log, prior: Estimate) -> tuple[Measured, ...]:
    """Return a scheme's chips, its own films those of a sprayer of whom nothing is known yet."""
    put: dict[int, Scheme] = {}
    for one in then:
        put.setdefault(id(one.scheme), with_factor(without_sprayer(one.scheme), prior))
    return measured_chips([Then(put[id(one.scheme)], one.notice) for one in then], log)


def _jobs(number: int, chips: Sequence[Measured]) -> list[_Job]:
    """Return a scheme's chips, those together that one prediction tells."""
    alike: dict[object, list[Measured]] = {}
    for chip in chips:
        films = [chip.sprayed.preshade, *chip.sprayed.coats]
        laid = tuple(_laid(step) for step in films if isinstance(step, (Coat, GreysSprayed)))
        alike.setdefault((chip.area, id(chip.scheme), laid), []).append(chip)
    return [_Job(number, group) for group in alike.values()]


def _laid(step: Coat | GreysSprayed) -> object:
    parts = tuple((paint.name, part) for paint, part in step.mix.ingredients)
    return parts, step.mix.thinning, step.total_film_um


def _most_probable(
    jobs: Sequence[_Job], columns: dict[tuple[object, ...], int], chip_error: float
) -> tuple[FloatArray, FloatArray]:
    """Return the z of (H1) and the covariance of (H2)."""
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
    jobs: Sequence[_Job],
    columns: dict[tuple[object, ...], int],
    z: FloatArray,
    covariance: FloatArray,
    prior: Estimate,
) -> list[CoatFilm]:
    """Return the film of each coat under a chip that the chips narrow."""
    found: dict[tuple[object, ...], CoatFilm] = {}
    own = columns.get(("own film",))
    for job in jobs:
        # What no chip lies on may not have been sprayed yet.
        top = max(job.chips, key=lambda chip: chip.stage)
        for stage in range(1, top.stage + 1):
            step, planned = step_of(top.sprayed, stage), step_of(top.planned, stage)
            column = columns.get(job.film_key(stage)) if step is not None else None
            if column is None or step is None or planned is None:
                continue
            parts = np.zeros(len(columns))
            parts[column] = top.scheme.hand.film
            own_film = takes_own_film(step)
            shared = own is not None and own_film
            if shared:
                parts[own] = prior.error
            before = float(np.sqrt(parts @ parts))
            after = float(np.sqrt(parts @ covariance @ parts))
            # What the chips have not narrowed by a tenth is no news.
            if after > 0.9 * before:
                continue
            film = step.dry_film_um * float(np.exp(parts @ z))
            found[job.film_key(stage)] = CoatFilm(
                scheme=top.scheme.name,
                area=top.planned.name,
                step=step.name if isinstance(step, Coat) else PRESHADE,
                planned_um=planned.dry_film_um / (prior.value if shared else 1.0),
                film_um=Estimate(film, after, "from the chips"),
                own=own_film,
            )
    return list(found.values())
