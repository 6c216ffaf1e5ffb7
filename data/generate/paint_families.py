"""Write data/fitting/families.csv: kinds of paints, as ln K and ln S over wavelength, learnt from spectra.

Three calibrated numbers of a patch leave most of a spectrum open. What fills it in is what paints
are like, and that is learnt here from two sorts of four thousand paints each, of which three thousand
are drawn at random:

- of particles: a solid with absorption bands (Gaussian in wavenumber) and edges
  (logistic), its index by Kramers and Kronig, its particles' K and S by Mie
  (:mod:`data.generate.particles`); whites, blacks, yellows to reds, blues to violets, earths and clear
  binders, many with white, extender or a second pigment in them. Where such a solid absorbs, it scatters
  too, most on the long side of the band;
- by powers: the same bands and edges, but scattering that falls with a power of the wavelength, as
  where something colourless scatters or little is known.

A thousand of each sort are real: the published reflectances of two measured charts, 24 and 30 painted patches
(colour-science, SDS_COLOURCHECKERS). An opaque film tells K/S at every wavelength (P. Kubelka, J. Opt. Soc.
Am. 38 (1948) 448), freed of its surface (J. L. Saunderson, J. Opt. Soc. Am. 32 (1942) 727). Which
scattering goes with it is taken from the particles whose K/S is most alike, or drawn by a power.

Ranges of the numbers are common practice, no source. No pigment that a judge keeps back had a part in them.

Paints of one sort that are alike are gathered (k-means on the leading principal components), and each kind is
kept as a mean and a covariance: its leading directions, one standard deviation each. Run from the
tree's top: ``python -m data.generate.paint_families``.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from data.generate.particles import ENERGIES_EV, EV_NM, films, index_from_absorption
from layersim.files import write_whole
from layersim.optics.surface import smooth_surface
from layersim.spectra import FloatArray, wavelengths_nm

TABLE: Final = Path(__file__).parents[1] / "fitting" / "families.csv"
CHARTS: Final = ("BabelColor Average", "PMC")
DRAWN: Final = 3000
REAL: Final = 1000
KINDS: Final = (12, 6)
"""Of either sort: fewer, and paints whose scattering falls by a power come out worse; more bring nothing."""
DIRECTIONS: Final = (10, 14)
ALIKE: Final = 20
"""A patch scatters as one of so many particle paints, those whose K/S is most like its own."""
SEED: Final = 20261125
# A kind's own covariance is blurred by this share of that of all paints, since it is known from few.
BLUR: Final = 0.05

NM: Final = wavelengths_nm()
KIND_OF_PAINT: Final = {
    "white": 0.07,
    "black": 0.10,
    "edge": 0.26,
    "band": 0.28,
    "earth": 0.24,
    "clear": 0.05,
}


# The solid's own scale of wavelengths; (Y4) looks far beyond the visible.
SOLID_NM: Final = EV_NM / ENERGIES_EV


def edge(nm: float, width_nm: float, height: float) -> FloatArray:
    """Return absorption of everything shorter than `nm`."""
    return np.asarray(height / (1.0 + np.exp((NM - nm) / width_nm)))


def band(nm: float, width_nm: float, height: float) -> FloatArray:
    """Return an absorption band, Gaussian in wavenumber, of standard deviation `width_nm`."""
    away = (1e7 / NM - 1e7 / nm) / (1e7 * width_nm / nm**2)
    return np.asarray(height * np.exp(-0.5 * away**2))


def drawn_paint(rng: np.random.Generator) -> FloatArray:
    """Return ln K and ln S of a paint drawn at random, shape (62,)."""
    U = rng.uniform

    def between(low: float, high: float) -> float:
        return float(np.exp(U(np.log(low), np.log(high))))

    kind = rng.choice(list(KIND_OF_PAINT), p=list(KIND_OF_PAINT.values()))
    if kind == "white":
        K = edge(U(395, 420), U(4, 10), U(0.06, 0.2)) + edge(U(430, 500), U(15, 60), between(0.001, 0.06))
        K, level = K + between(4e-4, 8e-3), U(0.15, 0.35)
    elif kind == "black":
        K, level = edge(U(450, 650), U(60, 160), U(0.1, 0.8)) + between(0.2, 4.0), U(0.005, 0.05)
    elif kind == "edge":
        at = U(470, 600)
        K = edge(at, U(6, 20), U(0.3, 2.0))
        if U() < 0.6:
            K = K + band(at - U(20, 60), U(12, 30), U(0.1, 0.6))
        if U() < 0.5:
            K = K + band(U(620, 690), U(25, 60), between(0.004, 0.1))
        K, level = K + between(0.01, 0.06), between(0.012, 0.25)
    elif kind == "band":
        at = U(500, 690)
        K = sum((band(at + U(-60, 60), U(12, 50), U(0.2, 2.0)) for _ in range(rng.integers(1, 4))), 0.0 * NM)
        if U() < 0.6:
            K = K + band(U(360, 420), U(30, 60), U(0.1, 1.2))
        K, level = K + between(0.015, 0.16), between(0.001, 0.12)
    elif kind == "earth":
        K = edge(U(480, 590), U(12, 60), U(0.2, 1.2))
        if U() < 0.5:
            K = K + edge(U(420, 480), U(20, 50), U(0.1, 0.8))
        if U() < 0.5:
            K = K + band(U(600, 690), U(40, 100), U(0.02, 0.2))
        K, level = K + between(0.015, 0.3), between(0.005, 0.2)
    else:
        K = edge(U(390, 410), U(6, 20), between(2e-5, 2e-3))
        K, level = K + between(1e-4, 2e-3), between(0.001, 0.02)
    S = level * (550.0 / NM) ** U(0.2, 2.8 if level < 0.04 else 1.2)
    if kind != "clear" and U() < 0.3:
        K, S = let_down(K, S, U(0.02, 0.6))
    load = between(0.25, 2.0)
    return np.concatenate([np.log(load * K), np.log(load * S)])


@dataclass(frozen=True, eq=False)
class Solid:
    """A pigment drawn at random: k over :data:`ENERGIES_EV`, n₀ of (Y4), and its particles' sizes."""

    k: FloatArray
    n0: float
    diameter_um: float
    spread: float


def drawn_solid(kind: str, rng: np.random.Generator) -> Solid:
    """Return a pigment of a kind, drawn at random."""
    U = rng.uniform

    def between(low: float, high: float) -> float:
        return float(np.exp(U(np.log(low), np.log(high))))

    def hump(nm: float, width_nm: float, height: float) -> FloatArray:
        away = (1.0 / SOLID_NM - 1.0 / nm) * nm**2 / width_nm
        return np.asarray(height * np.exp(-0.5 * away**2))

    def step(nm: float, width_nm: float, height: float) -> FloatArray:
        # Absorption goes on into the ultraviolet, and falls there.
        fall = 1.0 / (1.0 + (ENERGIES_EV / 5.0) ** 4)
        return np.asarray(height * fall / (1.0 + np.exp(np.clip((SOLID_NM - nm) / width_nm, -60.0, 60.0))))

    if kind == "white":
        k = step(U(385, 410), U(4, 10), U(0.3, 1.0)) + between(2e-5, 6e-4)
        return Solid(k, U(1.75, 2.3), between(0.15, 0.5), U(0.25, 0.5))
    if kind == "black":
        k = hump(U(200, 500), 200.0, U(0.0, 0.3)) + between(0.25, 1.0) * (SOLID_NM / 550.0) ** U(-0.4, 0.3)
        return Solid(np.minimum(k, 2.0), U(1.5, 1.8), between(0.04, 0.5), U(0.4, 0.8))
    if kind == "edge":
        at, height = U(470, 610), between(0.15, 1.2)
        k = step(at, U(5, 18), height)
        if U() < 0.6:
            k = k + hump(at - U(15, 60), U(12, 35), height * U(0.2, 1.0))
        if U() < 0.4:
            k = k + hump(U(620, 690), U(25, 60), between(0.001, 0.03))
        return Solid(k + between(1e-5, 5e-3), U(1.5, 2.1), between(0.06, 0.5), U(0.3, 0.7))
    if kind == "band":
        at, height = U(500, 690), between(0.05, 1.3)
        k = 0.0 * SOLID_NM
        for _ in range(rng.integers(1, 4)):
            k = k + hump(at + U(-60, 60), U(12, 50), height * U(0.3, 1.0))
        if U() < 0.7:
            k = k + hump(U(320, 420), U(30, 60), height * U(0.1, 0.8))
        coarse = U() < 0.2
        size = between(0.4, 2.5) if coarse else between(0.03, 0.3)
        return Solid(k * (0.2 if coarse else 1.0) + between(5e-5, 2e-2), U(1.45, 1.75), size, U(0.3, 0.7))
    if kind == "earth":
        k = step(U(480, 590), U(12, 60), between(0.05, 0.8))
        if U() < 0.5:
            k = k + step(U(420, 480), U(20, 50), between(0.05, 0.6))
        if U() < 0.6:
            k = k + hump(U(600, 900), U(40, 120), between(0.005, 0.15))
        return Solid(k + between(2e-3, 0.15), U(1.5, 2.4), between(0.1, 1.2), U(0.4, 0.9))
    return Solid(0.0 * SOLID_NM + between(1e-5, 3e-4), U(1.4, 1.65), between(0.2, 3.0), U(0.4, 0.8))


def particle_paints(number: int, rng: np.random.Generator) -> FloatArray:
    """Return ln K and ln S of paints made of particles, shape (number, 62)."""
    U = rng.uniform
    kinds = rng.choice(list(KIND_OF_PAINT), number, p=list(KIND_OF_PAINT.values()))
    # Four solids for every paint: the pigment, another one, a white and an extender.
    others = rng.choice(["edge", "band", "earth", "black"], number)
    K, S = np.moveaxis(
        np.array(
            [
                _films_of([drawn_solid(str(kind), rng) for kind in each])
                for each in (kinds, others, ["white"] * number, ["clear"] * number)
            ]
        ),
        1,
        0,
    )
    # Crowded particles scatter less than those that stand alone, and one mill differs from another.
    S = S * np.exp(-0.5 + 0.4 * rng.standard_normal((4, number, 1)))

    def logs(low: float, high: float, often: float) -> FloatArray:
        drawn = np.exp(U(np.log(low), np.log(high), number))
        return np.asarray(np.where(U(size=number) < often, drawn, 0.0))

    clear = kinds == "clear"
    share = np.stack(
        [
            logs(0.02, 0.3, 1.0),
            np.where(clear, 0.0, logs(0.002, 0.1, 0.25)),
            np.where(clear, 0.0, logs(0.001, 0.15, 0.35)),
            logs(0.02, 0.4, 0.4),
        ]
    )[..., np.newaxis]
    # What lies in every paint besides: a binder that absorbs and scatters a little.
    floor = np.exp(U(np.log(5e-6), np.log(1e-3), (2, number, 1)))
    return np.concatenate(
        [np.log((share * K).sum(axis=0) + floor[0]), np.log((share * S).sum(axis=0) + floor[1])], axis=1
    )


def _films_of(solids: list[Solid]) -> tuple[FloatArray, FloatArray]:
    k = np.array([solid.k for solid in solids])
    n = np.array([solid.n0 for solid in solids])[:, np.newaxis] + index_from_absorption(k)
    seen = np.array([np.interp(EV_NM / NM, ENERGIES_EV, row) for row in k])
    return films(
        n=n,
        k=seen,
        diameter_um=np.array([solid.diameter_um for solid in solids]),
        spread=np.array([solid.spread for solid in solids]),
    )


def let_down(K: FloatArray, S: FloatArray, white: float) -> tuple[FloatArray, FloatArray]:
    """Return a paint mixed with a white of the usual strength."""
    return (1.0 - white) * K + white * 8e-4, (1.0 - white) * S + white * 0.22 * (550.0 / NM) ** 0.7


def chart_ratios() -> FloatArray:
    """Return ln(K/S) of the charts' patches, shape (54, 31)."""
    # colour-science sets numpy's way of printing for the whole process: keep that to itself.
    with np.printoptions():
        import colour as science

    surface = smooth_surface()
    found = []
    for chart in CHARTS:
        for spectrum in science.SDS_COLOURCHECKERS[chart].values():
            nm, seen = np.asarray(spectrum.wavelengths), np.asarray(spectrum.values)
            # Half the mirror reflection of these satin patches is seen (an assumption).
            through = np.clip(np.interp(NM, nm, seen) - 0.25 * surface.k1, 0.003, 0.95)
            inside = through / ((1.0 - surface.k1) * (1.0 - surface.k2) + surface.k2 * through)
            found.append(np.log((1.0 - inside) ** 2 / (2.0 * inside)))
    return np.array(found)


def real_paint(ratio: FloatArray, rng: np.random.Generator, alike: FloatArray | None = None) -> FloatArray:
    """Return ln K and ln S of a patch of a chart, shape (62,).

    Its scattering falls by a power of the wavelength, or is that of one of `alike`: ln S of others, whose
    level does not count.
    """
    # The scattering that a film of this ratio has, if it absorbs as paints do where it absorbs most.
    strongest = np.exp(rng.uniform(np.log(0.2), np.log(2.0)))
    level = np.clip(strongest / np.exp(ratio.max()), 0.004, 0.3) * np.exp(0.4 * rng.standard_normal())
    if alike is None:
        log_S = np.log(level) + rng.uniform(0.2, 1.4) * np.log(550.0 / NM)
    else:
        one = alike[rng.integers(len(alike))]
        log_S = np.log(level) + one - one.mean()
    return np.concatenate([ratio + log_S, log_S])


def by_powers() -> FloatArray:
    """Return ln K and ln S of the paints that scatter by a power of the wavelength, shape (paints, 62)."""
    rng = np.random.default_rng(SEED)
    ratios = chart_ratios()
    real = [real_paint(ratios[i % len(ratios)], rng) for i in range(REAL)]
    return np.array(real + [drawn_paint(rng) for _ in range(DRAWN)])


def of_particles() -> FloatArray:
    """Return ln K and ln S of the paints made of particles, shape (paints, 62)."""
    rng = np.random.default_rng(SEED)
    drawn = particle_paints(DRAWN, rng)
    ratios = chart_ratios()
    alike = []
    for ratio in ratios:
        away = drawn[:, : NM.size] - drawn[:, NM.size :] - ratio
        alike.append(drawn[np.argsort((away**2).sum(axis=1))[:ALIKE], NM.size :])
    real = [real_paint(ratios[i % len(ratios)], rng, alike[i % len(ratios)]) for i in range(REAL)]
    return np.concatenate([np.array(real), drawn])


def gathered(every: FloatArray, *, kinds: int) -> np.ndarray:
    """Return which kind each paint is of: k-means on whitened principal components."""
    rng = np.random.default_rng(SEED)
    variances, directions = np.linalg.eigh(np.cov(every.T))
    scale = np.sqrt(variances[-12:] + 0.05 * variances[-1])
    at = (every - every.mean(axis=0)) @ directions[:, -12:] / scale
    centres = at[rng.choice(len(at), kinds, replace=False)]
    for _ in range(100):
        kind = ((at[:, np.newaxis] - centres) ** 2).sum(axis=-1).argmin(axis=1)
        centres = np.array([at[kind == k].mean(axis=0) for k in range(kinds)])
    return kind


def main() -> None:
    """Write the table."""
    lines = [
        "# Kinds of paints: ln K and ln S (per µm of dry film) at 400-700 nm, learnt by",
        "# data/generate/paint_families.py from two measured charts and from paints drawn at random.",
        "# Rows of a kind: its share of all paints; its mean; directions, one standard deviation each.",
        "kind,row," + ",".join(f"{name}{nm:g}" for name in ("K", "S") for nm in NM),
    ]
    both = (by_powers(), of_particles())
    for sort, (every, kinds, most) in enumerate(zip(both, KINDS, DIRECTIONS, strict=True)):
        kind = gathered(every, kinds=kinds)
        overall = np.cov(every.T)
        for k in range(kinds):
            own = every[kind == k]
            covariance = (1.0 - BLUR) * np.cov(own.T) + BLUR * overall
            variances, directions = np.linalg.eigh(covariance)
            rows = directions[:, ::-1][:, :most].T * np.sqrt(variances[::-1][:most, np.newaxis])
            number, share = sum(KINDS[:sort]) + k, len(own) / (len(both) * len(every))
            lines.append(f"{number},share," + f"{share:.4f}" + "," * (2 * len(NM) - 1))
            for name, values in (
                ("mean", own.mean(axis=0)),
                *((f"direction {i}", r) for i, r in enumerate(rows)),
            ):
                lines.append(f"{number},{name}," + ",".join(f"{v:.3f}" for v in values))
    TABLE.parent.mkdir(exist_ok=True)
    write_whole(TABLE, "\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
