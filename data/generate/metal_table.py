"""Write data/metals/indices.csv: the refractive indices n + ik of metals that flakes in paints are made of.

The published values stand here, each metal's with its paper, as the refractiveindex.info database has them
(M. N. Polyanskiy, Sci. Data 11 (2024) 94; public domain, CC0 1.0; the file's name there stands beside each).
n and k are each laid on 400-700 nm by 10 nm by `layersim.spectra.resample`, a smooth curve through every
value; where a value is published for a band, it stands there unchanged. Run from the top of the tree:

    python -m data.generate.metal_table
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from layersim.spectra import resample, wavelengths_nm

TABLE = Path(__file__).parents[1] / "metals" / "indices.csv"

JOHNSON_1972 = "P. B. Johnson and R. W. Christy, Phys. Rev. B 6 (1972) 4370"
JOHNSON_1974 = "P. B. Johnson and R. W. Christy, Phys. Rev. B 9 (1974) 5056"
QUERRY = "M. R. Querry, Optical constants, Contractor Report CRDC-CR-85034 (1985)"


@dataclass(frozen=True)
class Published:
    """What a paper says of one metal."""

    what: str
    paper: str
    file: str
    nm: tuple[float, ...]
    n: tuple[float, ...]
    k: tuple[float, ...]


# fmt: off
_EVERY_10_NM = tuple(range(400, 701, 10))
_JOHNSON_1974_NM = (381, 397, 413, 431, 451, 471, 496, 521, 549, 582, 617, 659, 704, 756)

METALS = {
    "aluminium": Published(
        "evaporated aluminium", "A. D. Rakić, Appl. Opt. 34 (1995) 4755", "main/Al/nk/Rakic.yml",
        (364.66, 413.28, 442.80, 476.87, 516.60, 563.57, 619.93, 652.25, 688.81, 729.32),
        (0.39877, 0.52135, 0.60790, 0.72780, 0.87340, 1.0728, 1.3660, 1.5724, 1.8301, 2.1606),
        (4.3957, 5.0008, 5.3676, 5.7781, 6.2418, 6.7839, 7.4052, 7.7354, 8.0601, 8.3565),
    ),
    "brass": Published(
        "70 % copper, 30 % zinc", QUERRY, "other/alloys/Cu-Zn/nk/Querry-Cu70Zn30.yml", _EVERY_10_NM,
        (1.445, 1.405, 1.350, 1.278, 1.191, 1.094, 0.994, 0.900, 0.816, 0.745, 0.686, 0.639, 0.602, 0.573,
         0.549, 0.527, 0.505, 0.484, 0.468, 0.460, 0.450, 0.452, 0.449, 0.445, 0.444, 0.444, 0.445, 0.444,
         0.444, 0.445, 0.446),
        (1.805, 1.794, 1.786, 1.784, 1.797, 1.829, 1.883, 1.957, 2.046, 2.145, 2.250, 2.358, 2.464, 2.568,
         2.668, 2.765, 2.860, 2.958, 3.059, 3.159, 3.253, 3.345, 3.434, 3.522, 3.609, 3.695, 3.778, 3.860,
         3.943, 4.025, 4.106),
    ),
    "red brass": Published(
        "90 % copper, 10 % zinc", QUERRY, "other/alloys/Cu-Zn/nk/Querry-Cu90Zn10.yml", _EVERY_10_NM,
        (1.098, 1.072, 1.047, 1.024, 1.002, 0.980, 0.959, 0.937, 0.912, 0.883, 0.846, 0.798, 0.738, 0.667,
         0.592, 0.519, 0.457, 0.409, 0.377, 0.357, 0.346, 0.339, 0.333, 0.327, 0.323, 0.320, 0.317, 0.314,
         0.311, 0.308, 0.306),
        (1.693, 1.745, 1.796, 1.847, 1.897, 1.945, 1.990, 2.033, 2.073, 2.108, 2.140, 2.173, 2.211, 2.262,
         2.329, 2.415, 2.516, 2.626, 2.739, 2.848, 2.950, 3.046, 3.137, 3.226, 3.312, 3.396, 3.478, 3.558,
         3.638, 3.717, 3.795),
    ),
    "copper": Published(
        "evaporated copper", JOHNSON_1972, "main/Cu/nk/Johnson.yml",
        (381.5, 397.4, 413.3, 430.5, 450.9, 471.4, 495.9, 520.9, 548.6, 582.1, 616.8, 659.5, 704.5, 756.0),
        (1.33, 1.32, 1.28, 1.25, 1.24, 1.25, 1.22, 1.18, 1.02, 0.70, 0.30, 0.22, 0.21, 0.24),
        (2.045, 2.116, 2.207, 2.305, 2.397, 2.483, 2.564, 2.608, 2.577, 2.704, 3.205, 3.747, 4.205, 4.665),
    ),
    "iron": Published(
        "evaporated iron", JOHNSON_1974, "main/Fe/nk/Johnson.yml", _JOHNSON_1974_NM,
        (2.12, 2.24, 2.35, 2.48, 2.59, 2.67, 2.74, 2.86, 2.95, 2.94, 2.88, 2.92, 2.86, 2.87),
        (2.50, 2.58, 2.65, 2.71, 2.77, 2.82, 2.88, 2.91, 2.93, 2.99, 3.05, 3.10, 3.19, 3.28),
    ),
    "nickel": Published(
        "evaporated nickel", JOHNSON_1974, "main/Ni/nk/Johnson.yml", _JOHNSON_1974_NM,
        (1.72, 1.72, 1.70, 1.71, 1.73, 1.78, 1.82, 1.85, 1.92, 1.96, 1.99, 1.99, 2.06, 2.13),
        (2.48, 2.57, 2.69, 2.82, 2.95, 3.09, 3.25, 3.42, 3.61, 3.80, 4.02, 4.26, 4.50, 4.73),
    ),
}
# fmt: on


def table() -> str:
    """Return the file's text."""
    columns = {
        f"{name}/{part}": resample(values, from_nm=metal.nm)
        for name, metal in METALS.items()
        for part, values in (("n", metal.n), ("k", metal.k))
    }
    rows = np.column_stack([wavelengths_nm(), *columns.values()])
    lines = [
        "# Written by data/generate/metal_table.py, where the published values stand; do not edit.",
        "# Refractive index n + ik, smooth curves through the published values.",
        "# From the refractiveindex.info database (public domain, CC0 1.0), which took them from:",
        *(f"# {name}: {m.what}; {m.paper}; database/data/{m.file}" for name, m in METALS.items()),
        ",".join(["nm", *columns]),
        *(",".join([f"{row[0]:.0f}", *(f"{value:.4f}" for value in row[1:])]) for row in rows),
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Write the table."""
    TABLE.parent.mkdir(exist_ok=True)
    TABLE.write_text(table(), encoding="utf-8")


if __name__ == "__main__":
    main()
