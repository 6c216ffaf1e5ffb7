"""Write data/colour/chart24.csv: reflectances of the common 24-patch chart, from colour-science.

Run from the tree's root: ``python data/generate/chart_table.py``. The values are averages over many
measured charts, as that library publishes them, kept here because importing it takes seconds.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from layersim.measure.chart24 import chart_places
from layersim.spectra import wavelengths_nm


def main() -> None:
    """Write the table."""
    # colour-science changes how numpy prints, for the whole process: keep that to itself.
    with np.printoptions():
        import colour

    shape = colour.SpectralShape(400, 700, 10)
    charts = colour.SDS_COLOURCHECKERS
    spectra = next(charts[key] for key in charts if "Average" in key)
    lines = [
        "# Reflectance of the 24-patch chart's patches, row by row, the greys last, 400-700 nm.",
        f"# From colour-science {colour.__version__} (BSD-3-Clause): averages of 30 measured charts.",
        "patch," + ",".join(f"{nm:g}" for nm in wavelengths_nm()),
    ]
    for place, spectrum in zip(chart_places(), spectra.values(), strict=True):
        values = np.asarray(spectrum.copy().align(shape).values)
        lines.append(place + "," + ",".join(f"{v:.5g}" for v in values))
    Path("data/colour/chart24.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
