"""Small synthetic paints and schemes, so that tests need no file of data/.

The spectra are steps of a few bands, so that slow oracles have few different films to work out.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt

from layersim.names import slug
from layersim.paint import Doubt, Flakes, Paint
from layersim.paintfile import write_paint

SOME_BANDS = (0, 8, 16, 24)
"""One band of each step."""


def steps(*levels: float) -> npt.NDArray[np.float64]:
    """Four levels over 400-470, 480-550, 560-630 and 640-700 nm."""
    return np.repeat(levels, (8, 8, 8, 7))


def _paint(name: str, kind: str, K: object, S: object, **others: object) -> Paint:
    fields: dict[str, object] = {
        "volume_solids": 0.25,
        "wet_film_um": 12.0,
        "sheen": 1.0,
        "provenance": "made up for tests",
        "invented": True,
    }
    return Paint(name=name, kind=kind, K_per_um=K, S_per_um=S, **(fields | others))  # type: ignore[arg-type]


LOAD = Doubt("pigment load", np.full(31, np.log(1.1)), np.full(31, np.log(1.1)))
SHADE = Doubt("its own shade", np.log(steps(1.1, 1.05, 0.95, 0.9)), np.zeros(31))

SOOT = _paint("soot primer", "primer", steps(0.9, 0.95, 1.0, 1.0), 0.03)
CHALK = _paint(
    "chalk white", "paint", steps(0.004, 0.002, 0.001, 0.001), steps(0.9, 0.7, 0.6, 0.5), sheen=0.4
)
MOSS = _paint(
    "moss green", "paint", steps(0.5, 0.12, 0.3, 0.7), steps(0.2, 0.25, 0.2, 0.15), doubts=(LOAD, SHADE)
)
PLUM = _paint(
    "plum ink", "ink", steps(0.2, 0.9, 0.4, 0.05), 0.004, volume_solids=0.1, sheen=0.4, doubts=(LOAD,)
)
RUST = _paint("rust", "paint", steps(0.9, 0.7, 0.25, 0.1), steps(0.15, 0.2, 0.3, 0.35))
GILT = _paint(
    "gilt", "metal", 0.02, 0.0, sheen=0.2, flakes=Flakes("brass", 0.6, 6.0, 0.1),
    doubts=(Doubt("how flat the flakes lie", np.zeros(31), np.zeros(31), log_tilt=0.1),),
)  # fmt: skip
TIN = _paint("tin", "metal", 0.0, 0.0, sheen=0.2, flakes=Flakes("aluminium", 0.6, 9.0, 0.2))
GLOSS = _paint("gloss lacquer", "varnish", 0.0, 0.0, volume_solids=0.3, sheen=0.05)
PAINTS = (SOOT, CHALK, MOSS, PLUM, RUST, GLOSS)

SCHEME = """\
# A remark first.
format = "layersim scheme 1"
name = "Test rig"
note = "for tests"
lamp = "D65"

[hand]
film = 0.2
parts = 0.1

[[area]]
name = "cloth"
primer = "soot primer"

[area.preshade]
white = "chalk white"
thinning = 3
passes = 4
dry_film_um = 0.6

[[area.coat]]
name = "base"
mix = { "moss green" = 4, "plum ink" = 1 }
thinning = 1.0
coats = 2
dry_film_um = 0.8

[[area.coat]]
name = "light"
paint = "chalk white"
dry_film_um = 0.5
where = { from = 60, edge = 20 }

[[area.coat]]
name = "filter"
paint = "plum ink"
filter = true

[[area.coat]]
name = "chips"
paint = "rust"
patch = "chips"
coverage = 0.1

[[area.coat]]
name = "varnish"
paint = "gloss lacquer"

[area.targets]
shadow = "#202020"
light = [60, 5, -10]

[[area]]
name = "strap"
primer = "soot primer"

[area.preshade]
greys = [30, 80]

[[area.coat]]
paint = "rust"
"""


def fill(folder: Path) -> Path:
    """Write all paints into a folder."""
    folder.mkdir(exist_ok=True)
    for paint in PAINTS:
        write_paint(paint, folder / f"{slug(paint.name)}.toml")
    return folder
