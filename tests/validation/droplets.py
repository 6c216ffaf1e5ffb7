"""The spread of a sprayed film: droplets counted one by one against the model's few sites."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim.optics import cones, spray
from layersim.scheme import simulate
from layersim.spectra import FloatArray
from tests.judge import radiative_transfer as judge
from tests.validation.document import table
from tests.validation.errors import delta_e
from tests.validation.models import straight

SPREADS: Final = (0.1, 0.2, 0.3, 0.5)
DRAWN: Final = 40_000
MANY: Final = 4096
FEW: Final = simulate.SITES
SEEDS: Final = 20


@dataclass(frozen=True)
class Case:
    """One film over a ground: what, pigment, mean film, and the ground's internal reflectance."""

    words: str
    pigment: str
    film_um: float
    ground: float


CASES: Final = (
    Case("mist of white over black", "titanium white", 1.0, 0.0),
    Case("white over black", "titanium white", 6.0, 0.0),
    Case("red ink over white", "red ink", 2.0, 0.85),
    Case("blue glaze over grey", "phthalo blue", 1.0, 0.35),
    Case("red base over white", "pyrrole red", 5.0, 0.85),
)


def tables() -> dict[str, str]:
    """Return this section's tables."""
    return {"spray": _poisson(), "spray-coats": _coats(), "sites": _sites()}


def averaged(case: Case, films: FloatArray) -> FloatArray:
    """Return what the eye averages over films given as multiples of the mean, shape (31,)."""
    return np.asarray(seen_at(case, films).mean(axis=0))


def seen_at(case: Case, films: FloatArray) -> FloatArray:
    """Return the reflectance at each site, shape (sites, 31)."""
    K, S = straight({**judge.TUNING, **judge.HELD_OUT}[case.pigment])
    below = cones.even_ground(np.full(K.shape, case.ground))
    X = case.film_um * films[:, np.newaxis]
    return cones.seen(cones.lay(cones.medium(K_per_um=K, S_per_um=S), thickness_um=X, over=below), sheen=0.0)


def _spots(spread: float, random: np.random.Generator, sites: int = DRAWN) -> FloatArray:
    """Return films of droplets that land at random, as multiples of the mean: a Poisson count, (P1)."""
    mean_count = 1.0 / spread**2
    return np.asarray(random.poisson(mean_count, sites) / mean_count)


def _poisson() -> str:
    """Each cell: even film, the previews' few sites, 4096 sites, each against the droplets."""
    rows = []
    for case in CASES:
        cells = []
        for spread in SPREADS:
            true = averaged(case, _spots(spread, np.random.default_rng(7)))
            said = (
                np.ones(1),
                spray.site_films(spread=spread, sites=FEW),
                spray.site_films(spread=spread, sites=MANY),
            )
            cells.append(" / ".join(f"{float(delta_e(averaged(case, films), true)):.2f}" for films in said))
        rows.append([f"{case.words}, {case.film_um:g} µm", *cells])
    head = [f"ΔE00 from {DRAWN:,} counts: even / {FEW} / {MANY} sites", *(f"s = {s:g}" for s in SPREADS)]
    return table(head, rows)


def _coats() -> str:
    """One thick coat or many thin ones of the same paint in all, each coat of spread one half."""
    random = np.random.default_rng(11)
    case = CASES[2]
    even = averaged(case, np.ones(1))
    rows = []
    for coats in (1, 2, 4, 8, 16):
        counted = np.mean([_spots(0.5, random) for _ in range(coats)], axis=0)
        spread = spray.spread_of_coats(spread=0.5, coats=coats)
        said = seen_at(case, spray.site_films(spread=spread, sites=FEW))
        true = seen_at(case, counted)
        rows.append(
            [
                str(coats),
                f"{counted.std():.3f}",
                f"{spread:.3f}",
                f"{float(delta_e(true.mean(axis=0), even)):.2f}",
                f"{float(delta_e(said.mean(axis=0), even)):.2f}",
                f"{float(delta_e(true, true.mean(axis=0)).mean()):.2f}",
                f"{float(delta_e(said, said.mean(axis=0)).mean()):.2f}",
            ]
        )
    head = [
        f"coats of {case.words}, {case.film_um:g} µm in all",
        "spread, counted",
        "spread, (P2)",
        "ΔE00 from even, counted",
        "modelled",
        "mottle, counted",
        "modelled",
    ]
    return table(head, rows)


def _sites() -> str:
    """Four independent coats at the previews' few sites, shuffled by twenty seeds, against 4096 sites."""
    rows = []
    for spread in SPREADS:
        exact = _stack(spread, MANY, seed=1)
        by_seed = np.array([delta_e(_stack(spread, FEW, seed=seed), exact) for seed in range(SEEDS)])
        half = np.array([delta_e(_stack(spread, 64, seed=seed), exact) for seed in range(SEEDS)])
        rows.append(
            [
                f"{spread:g}",
                f"{float(delta_e(_stack(0.0, 1, seed=0), exact).mean()):.2f}",
                f"{by_seed.mean():.3f}",
                f"{by_seed.max():.3f}",
                f"{half.mean():.3f}",
                f"{half.max():.3f}",
            ]
        )
    head = [
        f"spread of each coat; ΔE00 from {MANY} sites",
        "even films",
        f"{FEW} sites, mean",
        "largest",
        "64 sites, mean",
        "largest",
    ]
    return table(head, rows)


def _stack(spread: float, sites: int, *, seed: int) -> FloatArray:
    """Return a four-coat stack over nine greys, averaged over sites, shape (9, 31)."""
    coats = (("pyrrole red", 2.5), ("buff white", 0.6), ("dioxazine purple", 0.5), ("red ink", 1.0))
    orders = spray.independent_orders(coats=len(coats), sites=sites, seed=seed)
    films = spray.site_films(spread=spread, sites=sites)[orders]
    pigments = judge.HELD_OUT
    greys = np.linspace(0.02, 0.8, 9)[:, np.newaxis, np.newaxis]
    below = cones.even_ground(np.broadcast_to(greys, (9, 1, 31)))
    for (name, thickness), site in zip(coats, films, strict=True):
        K, S = straight(pigments[name])
        X = thickness * site[:, np.newaxis]
        below = cones.lay(cones.medium(K_per_um=K, S_per_um=S), thickness_um=X, over=below)
    return np.asarray(cones.seen(below, sheen=0.0).mean(axis=1))
