"""Write data/examples: an invented metal paint's swatches, as an instrument of several angles might read it.

The films are laid by this package's own optics, of a paint that is nobody's. Each film is off by a tenth or
so, each reading as a whole by 3 %, and every wavelength by 0.2 % of full scale. Run from the top of the tree:

    python -m data.generate.example_metal
"""

from __future__ import annotations

import itertools
from typing import Final

import numpy as np

from data.generate.example_swatches import FOLDER, cgats_text
from layersim.files import write_whole
from layersim.fitting.metal import OFF
from layersim.measure.card import coats_in_words
from layersim.metals import refractive_index
from layersim.optics import cones, flakes, levels
from layersim.optics.surface import SHEENS
from layersim.paint import Flakes
from layersim.spectra import BANDS, FloatArray, wavelengths_nm

SPECTRA: Final = "amber-metal.txt"
SWATCHES: Final = "amber-metal.toml"
NOISE: Final = 0.002
FILM_OFF: Final = 0.1
SEED: Final = 20261130

FLAKES: Final = Flakes("aluminium", cover_per_um=0.5, tilt_deg=8.0, rough=0.15)
WET_UM, SOLIDS, SHEEN = 14.0, 0.26, "satin"
K_PER_UM: Final = 0.02 + 0.25 / (1.0 + np.exp((wavelengths_nm() - 560.0) / 15.0))
S_PER_UM: Final = 0.002
GROUNDS: Final = {"black": 0.02, "white": 0.80}
FILMS: Final = (("black", 1.0), ("black", 2.0), ("white", 0.5))
ANGLES_DEG: Final = (15.0, 45.0, 110.0)


def truth(ground: str, film_um: float, at: flakes.Direction) -> FloatArray:
    """Return the reflectance of a film, (31,), from some side."""
    sheet = flakes.sheet_of(
        refractive_index(FLAKES.metal),
        cover_per_um=FLAKES.cover_per_um,
        tilt_deg=FLAKES.tilt_deg,
        rough=FLAKES.rough,
    )
    coat = flakes.coating(K_per_um=K_PER_UM[np.newaxis], S_per_um=np.full((1, BANDS), S_PER_UM), sheet=sheet)
    below = levels.level_of(cones.ground_from_seen(np.full((1, BANDS), GROUNDS[ground]), sheen=0.0))
    level, mirror = flakes.lay(coat, film_um=np.array([[film_um]]), over=below, mirror=None)
    return flakes.seen(level, mirror, sheen=np.array(SHEENS[SHEEN]), at=at)[0]


def readings() -> dict[str, FloatArray]:
    """Return all readings, (31,) each: the grounds first."""
    rng = np.random.default_rng(SEED)
    k1 = cones.directions().k1
    found = {f"{name} primer": np.full(BANDS, R + k1) for name, R in GROUNDS.items()}
    for ground, coats in FILMS:
        film_um = coats * WET_UM * SOLIDS * np.exp(FILM_OFF * rng.normal())
        for angle in ANGLES_DEG:
            true = truth(ground, film_um, flakes.turned(angle))
            found[_name(ground, coats, angle)] = true * np.exp(OFF * rng.normal())
    return {name: values + rng.normal(0.0, NOISE, BANDS) for name, values in found.items()}


def _name(ground: str, coats: float, angle_deg: float) -> str:
    return f"{coats_in_words(coats)} over {ground}, {angle_deg:.0f} degrees"


def swatches_text() -> str:
    """Return the swatches file."""
    lines = [
        "# Swatches of a metal paint, read at three angles. Invented: nobody measured them.",
        'format = "layersim swatches 1"',
        "",
        'name = "amber metal"',
        'kind = "metal"',
        f"volume_solids = {SOLIDS}",
        f"wet_film_um = {WET_UM}",
        f'sheen = "{SHEEN}"',
        'specular = "excluded"    # an instrument that reads at angles looks past the mirror image',
        "invented = true",
        'provenance = "laid by data/generate/example_metal.py"',
        '# metal = "aluminium"    # what the flakes are, if you know; the likeliest otherwise',
        "",
        "[readings]",
        f'file = "{SPECTRA}"',
        'unit = "fraction"        # near the mirror direction a metal outshines a perfect white',
        "",
    ]
    for ground in GROUNDS:
        lines += ["[[ground]]", f'name = "{ground}"', f'reading = "{ground} primer"', ""]
    lines += [
        "# Every film is read at 15, 45 and 110 degrees from the mirror direction, lit from 45, and each",
        "# reading is a swatch. Readings of one ground and as many coats count as of one film.",
        "",
    ]
    for (ground, coats), angle in itertools.product(FILMS, ANGLES_DEG):
        name = _name(ground, coats, angle)
        lines += [
            "[[swatch]]",
            f'name = "{name}"',
            f'ground = "{ground}"',
            f'reading = "{name}"',
            f"angle_deg = {angle:g}",
            f"coats = {coats:g}",
            "thinning = 0.0",
            "",
        ]
    return "\n".join(lines).rstrip() + "\n"


def main() -> None:
    """Write both files."""
    write_whole(FOLDER / SPECTRA, cgats_text(list(readings().items())))
    write_whole(FOLDER / SWATCHES, swatches_text())


if __name__ == "__main__":
    main()
