"""A batch of models by one painter, many times over: how far apart the worst two come out.

The full model takes milliseconds for each model of a batch; a hundred thousand of them are wanted.
So each tone's L*a*b* is fitted once as a polynomial of everything that varies (natural logarithms of
films and parts, paints' doubts, greys): in each variable by itself to the fourth power where
it varies from model to model and to the second where it does not, and in products of two (the
second-order cut expansion of H. Rabitz and Ö. Aliş, J. Math. Chem. 25 (1999) 197; from memory).
A step that gets one coat too many or too few is exact by itself, and added. What the fit is off by is
measured on models it was not fitted to, each time, and reported.

Errors of one session (films, parts, bottles) act on all models alike and hardly set them apart; errors
from model to model, the drift from the first to the last, slips and second mixes do. All are normal and
independent of each other, drawn in a Latin hypercube.

The worst pair of a batch is looked for with the quadratic form that ΔE00 is for small differences
around each tone; the :data:`CANDIDATES` that seem worst are then worked out with ΔE00 itself.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from layersim import colour
from layersim.chance import Source, normal_hypercube
from layersim.optics import surface
from layersim.scheme.records import Area, GreysGiven, GreysSprayed, Hand, Scheme
from layersim.scheme.simulate import AreaModel
from layersim.spectra import FloatArray

CANDIDATES: Final = 6
CHECKED: Final = 24
"""Models on which the fit is checked against the full model."""
GREYS_PER_FILM: Final = 15.0
"""L* by which given greys move where their white is e times thicker: as sprayed ones do on average."""
_UNIT: Final = Hand(film=1.0, parts=1.0, greys=1.0, model=0.0)
"""One unit of each error. The film model's own is the same on every model of a batch and sets none apart."""
# Pairs worked through at once: their arrays nearly stay in a processor's cache.
_BLOCK: Final = 10_000
# Places of the cuts in standard deviations; the mean of a normal's square lies between them.
_CUTS: Final = (-2.4, -1.2, 1.2, 2.4)
_CROSS: Final = 1.2
# ΔE00 for a standard deviation below which a session's error is left out of the products.
_WEAK: Final = 0.15


@dataclass(frozen=True)
class Habits:
    """How a painter works through a batch: what sets its models apart, each one standard deviation."""

    models: FloatArray
    """Relative error of each step's film from model to model; for given greys in L*, (steps,)."""
    drift: FloatArray
    """Relative difference of each step's film between the last model and the first, (steps,)."""
    slips: float
    """Chance that a step gets one coat too few or too many on a model."""
    mixes: int
    """Mixes made for one batch."""
    sheen: float
    """Error of the finish's sheen."""


class Bench:
    """One area under test: the full model with every error in natural units, and its fit.

    `model` has a hand of one unit, so that a deviate of a film is the logarithm of its error. `steps` are
    those whose film varies from model to model, in order of work, with their `step_names`; greys that are
    given count as one. `lab` is the finish without error, (tones, 3).
    """

    def __init__(self, scheme: Scheme, area: Area, *, tones: int) -> None:
        self.scheme, self.area, self.tones = scheme, area, tones
        self.view = scheme.viewing
        self.model = AreaModel(replace(scheme, hand=_UNIT), area, tones=tones)
        self.keys = [factor.key for factor in self.model.factors]
        varied = [key for key in self.keys if key.kind in ("film", "greys")]
        # Greys that are given are sprayed first, whatever the order of the factors.
        varied.sort(key=lambda key: key.kind == "film")
        self.films = [self.keys.index(key) for key in varied]
        self.steps: list[object] = [key.step if key.kind == "film" else "greys" for key in varied]
        self.step_names = [area.coats[s].name if isinstance(s, int) else "preshade" for s in self.steps]
        self.greys = isinstance(area.preshade, GreysGiven)
        self.reflectance = self.model.finish(np.zeros((1, len(self.keys))))[0]
        self.lab = colour.lab(self.reflectance, self.view)

    def finish(self, z: FloatArray) -> FloatArray:
        """Return L*a*b* of the finish by the full model, shape (rows, tones, 3)."""
        return colour.lab(self.model.finish(z), self.view)

    def with_sheen(self, change: FloatArray) -> FloatArray:
        """Return L*a*b* of the finish with its sheen changed, shape (rows, tones, 3)."""
        extra = np.asarray(change)[:, np.newaxis, np.newaxis] * surface.smooth_surface().k1
        return colour.lab(self.reflectance + extra, self.view)

    def with_coats(self, index: int, change: int) -> FloatArray:
        """Return L*a*b* of the finish with one coat more or fewer of one step, shape (tones, 3)."""
        coat = self.area.coats[index]
        count = coat.coats + change
        other = replace(coat, coats=count) if count else replace(coat, dry_film_um=0.0)
        coats = tuple(other if i == index else c for i, c in enumerate(self.area.coats))
        model = AreaModel(
            self.model.scheme, replace(self.area, coats=coats), tones=self.tones, places=self.model.places
        )
        return colour.lab(model.finish(np.zeros((1, len(model.factors))))[0], self.view)

    def slip(self, step: object, change: int) -> FloatArray:
        """Return L*a*b* of the finish with one coat or pass more or fewer, shape (tones, 3)."""
        if isinstance(step, int):
            return self.with_coats(step, change)
        if step == "greys":
            return self.lab
        # The painter sprays what follows where it belongs on the model, whatever the preshade became.
        preshade = self.area.preshade
        passes = preshade.passes if isinstance(preshade, GreysSprayed) else 1
        z = np.zeros((1, len(self.keys)))
        with np.errstate(divide="ignore"):
            z[0, self.keys.index(Source("film", "preshade"))] = np.log((passes + change) / passes)
        return np.asarray(self.finish(z)[0])

    def session(self, hand: Hand) -> FloatArray:
        """Return the standard deviation of every factor from session to session."""
        # One hand's film is the same on all models: it moves them together and hardly sets them apart.
        size = {"film": hand.film, "parts": hand.parts, "greys": hand.greys, "paint": 1.0, "own film": 0.0}
        return np.array([size[key.kind] for key in self.keys])

    def habits(self, hand: Hand) -> Habits:
        """Return what a scheme's hand says of a batch."""
        unit = np.array([GREYS_PER_FILM if step == "greys" else 1.0 for step in self.steps])
        return Habits(
            models=unit * hand.models,
            drift=unit * hand.drift,
            slips=hand.slips,
            mixes=hand.mixes,
            sheen=hand.sheen,
        )


@dataclass(frozen=True, eq=False)
class BatchFit:
    """The finish's L*a*b* as a polynomial of everything that varies; outputs are tones times three."""

    base: FloatArray
    """(outputs,)."""
    films: FloatArray
    """Powers one to four of each step's error, then products of two, (4 · steps + pairs, outputs)."""
    others: FloatArray
    """First and second powers of what a whole batch or mix shares, (2 · factors, outputs)."""
    crossing: tuple[int, ...]
    """Those of them that are strong enough to change what a step's error does."""
    crossed: FloatArray
    """Products of such a factor with a step's error, (crossing, steps, outputs)."""
    sheen: FloatArray
    """(2, outputs)."""
    slips: FloatArray
    """One coat fewer, one coat more, (2, steps, outputs)."""
    error: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    """Mean and largest ΔE00 between fit and full model, then mean and largest error of the ΔE00 between two
    models, all on models it was not fitted to."""

    def of(self, films: FloatArray, others: FloatArray) -> FloatArray:
        """Return L*a*b* without slips and sheen, shape (..., outputs).

        `films` has the shape (batches, models, steps), `others` (batches, factors) or (batches, models,
        factors).
        """
        steps = films.shape[-1]
        one, two = np.triu_indices(steps, 1)
        powers = films**2
        terms = np.concatenate(
            [films, powers, powers * films, powers**2, films[..., one] * films[..., two]], axis=-1
        )
        shared = np.concatenate([others, others**2], axis=-1) @ self.others
        slopes = np.tensordot(others[..., list(self.crossing)], self.crossed, axes=1)
        if others.ndim == 2:
            shared, slopes = shared[:, np.newaxis], slopes[:, np.newaxis]
        bent = np.matmul(films[..., np.newaxis, :], slopes)[..., 0, :]
        return np.asarray(self.base + terms @ self.films + shared + bent)


def fitted(bench: Bench, hand: Hand, *, seed: int = 0) -> BatchFit:
    """Return the fit of one area around its scheme.

    `hand` gives the spread over which it must hold; `seed` is that of the models on which it is checked.
    """
    count, habits, session = len(bench.keys), bench.habits(hand), bench.session(hand)
    films = bench.films
    rest = [i for i in range(count) if i not in films]
    spread = session.copy()
    spread[films] = np.maximum(np.sqrt(session[films] ** 2 + habits.models**2 + 0.25 * habits.drift**2), 1e-3)
    spread[rest] = np.maximum(spread[rest], 1e-3)
    rows: list[FloatArray] = []

    def put(*moves: tuple[int, float]) -> int:
        row = np.zeros(count)
        for column, deviations in moves:
            row[column] = deviations * spread[column]
        rows.append(row)
        return len(rows) - 1

    alone = {i: [put((i, cut)) for cut in (_CUTS if i in films else (-_CROSS, _CROSS))] for i in range(count)}
    first = bench.finish(np.array(rows)).reshape(len(rows), -1) - bench.lab.reshape(-1)

    def effect(i: int) -> float:
        shifted = bench.lab + first[alone[i][-1]].reshape(bench.lab.shape)
        return float(colour.delta_e_2000(shifted, bench.lab).mean()) / _CROSS

    strong = [i for i in rest if session[i] > 0.0 and effect(i) > _WEAK]
    pairs = list(itertools.combinations(films, 2))
    known = len(rows)
    both = [put((i, _CROSS), (j, _CROSS)) for i, j in pairs]
    mixed = {(i, j): put((i, _CROSS), (j, _CROSS)) for i in strong for j in films}
    if len(rows) > known:
        more = bench.finish(np.array(rows[known:])).reshape(len(rows) - known, -1) - bench.lab.reshape(-1)
        effects = np.concatenate([first, more])
    else:
        effects = first
    outputs = bench.lab.size
    plus = {i: effects[alone[i][2 if i in films else 1]] for i in range(count)}

    def product(row: int, i: int, j: int) -> FloatArray:
        return np.asarray((effects[row] - plus[i] - plus[j]) / (_CROSS**2 * spread[i] * spread[j]))

    cuts = np.array(_CUTS)
    powers = [
        np.linalg.solve(np.stack([(cuts * spread[i]) ** p for p in range(1, 5)], axis=1), effects[alone[i]])
        for i in films
    ]
    others = np.zeros((2, count, outputs))
    for i in rest:
        low, high = effects[alone[i]]
        others[0, i] = (high - low) / (2.0 * _CROSS * spread[i])
        others[1, i] = (high + low) / (2.0 * (_CROSS * spread[i]) ** 2)
    crossed = np.zeros((len(strong), len(films), outputs))
    for (i, j), row in mixed.items():
        crossed[strong.index(i), films.index(j)] = product(row, i, j)
    step = max(habits.sheen, 1e-3)
    low, high = (bench.with_sheen(np.array([-step, step])) - bench.lab).reshape(2, -1)
    slips = [[bench.slip(s, change) - bench.lab for s in bench.steps] for change in (-1, 1)]
    fit = BatchFit(
        base=bench.lab.reshape(-1),
        films=np.concatenate(
            [np.array(powers).reshape(len(films), 4, outputs).transpose(1, 0, 2).reshape(-1, outputs)]
            + [product(row, i, j)[np.newaxis] for row, (i, j) in zip(both, pairs, strict=True)]
        ),
        others=others.reshape(2 * count, outputs),
        crossing=tuple(strong),
        crossed=crossed,
        sheen=np.array([(high - low) / (2.0 * step), (high + low) / (2.0 * step**2)]),
        slips=np.array(slips).reshape(2, len(films), outputs),
    )
    return replace(fit, error=_error(bench, fit, session, habits, seed))


def _error(
    bench: Bench, fit: BatchFit, session: FloatArray, habits: Habits, seed: int
) -> tuple[float, float, float, float]:
    """Return how far the fit is off on pairs of models of one batch."""
    count, steps = len(session), len(bench.films)
    drawn = normal_hypercube(count + 2 * steps, CHECKED // 2, seed=seed + 7)
    shared = drawn[:, :count] * session
    apart = drawn[:, count:].reshape(len(drawn), 2, steps) * np.hypot(habits.models, 0.5 * habits.drift)
    z = np.repeat(shared[:, np.newaxis], 2, axis=1)
    z[:, :, bench.films] += apart
    exact = bench.finish(z.reshape(-1, count)).reshape(len(z), 2, bench.tones, 3)
    others = shared.copy()
    others[:, bench.films] = 0.0
    ours = fit.of(z[:, :, bench.films], others).reshape(exact.shape)
    off = colour.delta_e_2000(ours, exact)
    between = [colour.delta_e_2000(lab[:, 0], lab[:, 1]) for lab in (ours, exact)]
    gap = np.abs(between[0] - between[1])
    return float(off.mean()), float(off.max()), float(gap.mean()), float(gap.max())


@dataclass(frozen=True, eq=False)
class Draws:
    """Everything that chance decides in many batches, as deviates that any habits can scale."""

    session: FloatArray
    """(batches, factors)."""
    models: FloatArray
    """(batches, models, steps)."""
    drift: FloatArray
    """(batches, steps)."""
    slips: FloatArray
    """Even within 0..1, (batches, models, steps): below half the chance one coat fewer, above one minus half
    the chance one more."""
    sheen: FloatArray
    """(batches, models)."""
    mixes: FloatArray
    """Errors of the second and further mixes, (batches, mixes, factors)."""

    def only(self, batches: int) -> Draws:
        """Return the first batches."""
        parts = (self.session, self.models, self.drift, self.slips, self.sheen, self.mixes)
        return Draws(*(part[:batches] for part in parts))


def drawn(bench: Bench, *, batches: int, models: int, mixes: int, seed: int) -> Draws:
    """Return what chance decides in many batches."""
    count, steps = len(bench.keys), len(bench.films)
    normal = normal_hypercube(count + steps + models * (steps + 1), batches, seed=seed)
    parts = [count, count + steps, count + steps + models * steps]
    session, drift, each, sheen = np.split(normal, parts, axis=1)
    dice = np.random.default_rng(seed + 2)
    return Draws(
        session=session,
        models=each.reshape(batches, models, steps),
        drift=drift,
        slips=dice.random((batches, models, steps)),
        sheen=sheen,
        mixes=dice.standard_normal((batches, mixes - 1, count))
        if mixes > 1
        else np.empty((batches, 0, count)),
    )


def models_of(
    bench: Bench, fit: BatchFit, draws: Draws, session: FloatArray, habits: Habits, rows: slice
) -> FloatArray:
    """Return L*a*b* of every model of some batches (`rows`), shape (batches, models, tones, 3)."""
    shared = draws.session[rows] * session
    models = draws.models.shape[1]
    order = np.linspace(-0.5, 0.5, models)[:, np.newaxis] if models > 1 else np.zeros((1, 1))
    films = shared[:, np.newaxis, bench.films] + draws.models[rows] * habits.models
    films = films + (draws.drift[rows] * habits.drift)[:, np.newaxis] * order
    others = shared.copy()
    others[:, bench.films] = 0.0
    if habits.mixes > 1:
        parts = np.array([key.kind == "parts" for key in bench.keys])
        again = draws.mixes[rows, : habits.mixes - 1] * session
        every = np.concatenate([others[:, np.newaxis], np.where(parts, again, others[:, np.newaxis])], axis=1)
        others = every[:, np.arange(models) * habits.mixes // models]
    lab = fit.of(films, others)
    sheen = (draws.sheen[rows] * habits.sheen)[..., np.newaxis]
    lab = lab + sheen * fit.sheen[0] + sheen**2 * fit.sheen[1]
    if habits.slips > 0.0:
        chance = 0.5 * habits.slips
        fewer, more = draws.slips[rows] < chance, draws.slips[rows] >= 1.0 - chance
        lab = lab + fewer.astype(np.float64) @ fit.slips[0] + more.astype(np.float64) @ fit.slips[1]
    return np.asarray(lab.reshape(*lab.shape[:2], bench.tones, 3))


def worst_pairs(bench: Bench, fit: BatchFit, draws: Draws, session: FloatArray, habits: Habits) -> FloatArray:
    """Return ΔE00 of the worst pair of every batch, at its worst tone, shape (batches,)."""
    batches, models = draws.models.shape[:2]
    one, two = np.triu_indices(models, 1)
    found = np.empty(batches)
    scale = _local_scale(bench.lab)
    step = max(1, _BLOCK // len(one))
    for start in range(0, batches, step):
        rows = slice(start, min(start + step, batches))
        lab = models_of(bench, fit, draws, session, habits, rows)
        lab[..., 0] = np.maximum(lab[..., 0], 0.0)
        even = np.einsum("bmti,tij->bmtj", lab, scale)
        near = ((even[:, one] - even[:, two]) ** 2).sum(axis=-1).reshape(len(lab), -1)
        keep = min(CANDIDATES, near.shape[1])
        best = np.argpartition(near, -keep, axis=1)[:, -keep:]
        pair, tone = np.divmod(best, bench.tones)
        batch = np.arange(len(lab))[:, np.newaxis]
        exact = colour.delta_e_2000(lab[batch, one[pair], tone], lab[batch, two[pair], tone])
        found[rows] = exact.max(axis=1)
    return found


def _local_scale(lab: FloatArray) -> FloatArray:
    """Return, for each tone, the map to coordinates in which small ΔE00 are plain distances."""
    step = 0.5 * np.eye(3)
    corners = lab[:, np.newaxis] + step, lab[:, np.newaxis] - step
    own = colour.delta_e_2000(*corners) ** 2
    metric = np.zeros((len(lab), 3, 3))
    for i, j in itertools.product(range(3), range(3)):
        if i == j:
            metric[:, i, i] = own[:, i]
            continue
        both = colour.delta_e_2000(lab + step[i] + step[j], lab - step[i] - step[j]) ** 2
        metric[:, i, j] = 0.5 * (both - own[:, i] - own[:, j])
    values, vectors = np.linalg.eigh(metric)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0))[:, np.newaxis])
