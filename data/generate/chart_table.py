"""Write data/colour/chart24.csv: reflectances of the common 24-patch chart, from colour-science.

Run from the tree's root: ``python data/generate/chart_table.py``. The values are averages over many
measured charts, as that library publishes them, kept here because importing it takes seconds.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from layersim.spectra import wavelengths_nm

SOURCE = "BabelColor Average"  # the library's key for averaged measurements of 30 charts


def main() -> None:
    """Write the table."""
    # colour-science changes how numpy prints, for the whole process: keep that to itself.
    with np.printoptions():
        import colour

    shape = colour.SpectralShape(400, 700, 10)
    spectra = colour.SDS_COLOURCHECKERS[SOURCE]
    lines = [
        "# Reflectance of the 24-patch chart's patches, row by row from dark skin to black, 400-700 nm.",
        f"# From colour-science {colour.__version__} (BSD-3-Clause): averages of 30 measured charts.",
        "patch," + ",".join(f"{nm:g}" for nm in wavelengths_nm()),
    ]
    for name, spectrum in spectra.items():
        values = np.asarray(spectrum.copy().align(shape).values)
        lines.append(name.split(" (")[0] + "," + ",".join(f"{v:.5g}" for v in values))
    Path("data/colour/chart24.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
