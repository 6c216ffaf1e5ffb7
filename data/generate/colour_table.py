"""Write data/colour/weights.csv: how much each band adds to X, Y and Z, under each light.

ASTM E308 weighting factors on the 400-700 nm, 10 nm grid, made by colour-science from the CIE's
colour-matching functions and illuminants by the method of ASTM E2022, the weights beyond either
end added to the last band (ASTM E308). Run from the top of the tree:

    python data/generate/colour_table.py
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

LIGHTS = ("D65", "D50", "A", "LED-B1", "LED-B3", "LED-B5", "FL2", "FL11")
OBSERVERS = {
    "2": "CIE 1931 2 Degree Standard Observer",
    "10": "CIE 1964 10 Degree Standard Observer",
}
TABLE = Path(__file__).parents[1] / "colour" / "weights.csv"


def weights(light: str, observer: str) -> np.ndarray:
    """Return the (31, 3) weights of one light and observer, white at Y = 100."""
    # colour-science changes how numpy prints, for the whole process: keep that to itself.
    with np.printoptions():
        import colour

    cmfs = colour.MSDS_CMFS[OBSERVERS[observer]].copy().align(colour.SpectralShape(360, 780, 1))
    illuminant = colour.SDS_ILLUMINANTS[light].copy().align(cmfs.shape)
    full = colour.SpectralShape(360, 780, 10)
    table = colour.colorimetry.tristimulus_weighting_factors_ASTME2022(cmfs, illuminant, full)
    return np.asarray(
        colour.colorimetry.adjust_tristimulus_weighting_factors_ASTME308(
            table, full, colour.SpectralShape(400, 700, 10)
        )
    )


def main() -> None:
    """Write the table."""
    columns = {f"{light}/{observer}": weights(light, observer) for light in LIGHTS for observer in OBSERVERS}
    header = ",".join(["nm", *(f"{name}/{axis}" for name in columns for axis in "XYZ")])
    rows = np.column_stack([np.arange(400, 701, 10), *columns.values()])
    lines = [
        "# Generated from colour-science by data/generate/colour_table.py; do not edit.",
        "# ASTM E308 weights, light/observer in degrees/axis; each column sums to the white point.",
        header,
        *(",".join([f"{row[0]:.0f}", *(f"{value:.6f}" for value in row[1:])]) for row in rows),
    ]
    TABLE.parent.mkdir(exist_ok=True)
    TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
