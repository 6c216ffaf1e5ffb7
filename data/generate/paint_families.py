"""Write data/fitting/families.csv: kinds of paints, as ln K and ln S over wavelength, learnt from spectra.

Three calibrated numbers of a patch leave most of a spectrum open. What fills it in is what paints
are like, and that is learnt here from four thousand paints:

- a quarter are real: the published reflectances of two measured charts, 24 and 30 painted patches
  (colour-science, SDS_COLOURCHECKERS). An opaque film tells K/S at every wavelength (P. Kubelka, J. Opt. Soc.
  Am. 38 (1948) 448), freed of its surface (J. L. Saunderson, J. Opt. Soc. Am. 32 (1942) 727). Which
  scattering goes with it is drawn from the same laws as below;
- the others are drawn: absorption bands (Gaussian in wavenumber) and edges (logistic) over a grey
  floor, and scattering that falls with a power of the wavelength, for whites, blacks, yellows to reds,
  blues to violets, earths and clear binders, some let down with white. Ranges of the numbers are
  common practice, no source. No pigment that a judge keeps back had a part in them.

Paints that are alike are gathered (k-means on the leading principal components), and each kind is
kept as a mean and a covariance: its leading directions, one standard deviation each. Run from the
tree's top: ``python -m data.generate.paint_families``.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np

from layersim.files import write_whole
from layersim.optics.surface import smooth_surface
from layersim.spectra import FloatArray, wavelengths_nm

TABLE: Final = Path(__file__).parents[1] / "fitting" / "families.csv"
CHARTS: Final = ("BabelColor Average", "PMC")
PAINTS: Final = 4000
REAL_SHARE: Final = 0.25
KINDS: Final = 12
DIRECTIONS: Final = 10
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


def real_paint(ratio: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return ln K and ln S of a patch of a chart, its scattering drawn, shape (62,)."""
    # The scattering that a film of this ratio has, if it absorbs as paints do where it absorbs most.
    strongest = np.exp(rng.uniform(np.log(0.2), np.log(2.0)))
    level = np.clip(strongest / np.exp(ratio.max()), 0.004, 0.3) * np.exp(0.4 * rng.standard_normal())
    log_S = np.log(level) + rng.uniform(0.2, 1.4) * np.log(550.0 / NM)
    return np.concatenate([ratio + log_S, log_S])


def paints() -> FloatArray:
    """Return ln K and ln S of all, shape (paints, 62)."""
    rng = np.random.default_rng(SEED)
    ratios = chart_ratios()
    real = [real_paint(ratios[i % len(ratios)], rng) for i in range(int(PAINTS * REAL_SHARE))]
    return np.array(real + [drawn_paint(rng) for _ in range(PAINTS - len(real))])


def gathered(every: FloatArray) -> np.ndarray:
    """Return which kind each paint is of: k-means on whitened principal components."""
    rng = np.random.default_rng(SEED)
    variances, directions = np.linalg.eigh(np.cov(every.T))
    scale = np.sqrt(variances[-12:] + 0.05 * variances[-1])
    at = (every - every.mean(axis=0)) @ directions[:, -12:] / scale
    centres = at[rng.choice(len(at), KINDS, replace=False)]
    for _ in range(100):
        kind = ((at[:, np.newaxis] - centres) ** 2).sum(axis=-1).argmin(axis=1)
        centres = np.array([at[kind == k].mean(axis=0) for k in range(KINDS)])
    return kind


def main() -> None:
    """Write the table."""
    every = paints()
    kind = gathered(every)
    overall = np.cov(every.T)
    lines = [
        "# Kinds of paints: ln K and ln S (per µm of dry film) at 400-700 nm, learnt by",
        "# data/generate/paint_families.py from two measured charts and from paints drawn at random.",
        "# Rows of a kind: its share of all paints; its mean; directions, one standard deviation each.",
        "kind,row," + ",".join(f"{name}{nm:g}" for name in ("K", "S") for nm in NM),
    ]
    for k in range(KINDS):
        own = every[kind == k]
        covariance = (1.0 - BLUR) * np.cov(own.T) + BLUR * overall
        variances, directions = np.linalg.eigh(covariance)
        rows = directions[:, ::-1][:, :DIRECTIONS].T * np.sqrt(variances[::-1][:DIRECTIONS, np.newaxis])
        lines.append(f"{k},share," + f"{len(own) / len(every):.4f}" + "," * (2 * len(NM) - 1))
        for name, values in (
            ("mean", own.mean(axis=0)),
            *((f"direction {i}", r) for i, r in enumerate(rows)),
        ):
            lines.append(f"{k},{name}," + ",".join(f"{v:.3f}" for v in values))
    TABLE.parent.mkdir(exist_ok=True)
    write_whole(TABLE, "\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
