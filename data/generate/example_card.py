"""Write data/examples/teal-card.*: a photograph of an invented paint's test card, as a camera might take it.

Nobody sprayed or photographed it. The films are rendered by the radiative transfer of ``tests/judge`` and the
card through measured camera sensitivities under a bulb (``tests/measure/camera.py``): noise of 1 %, light
that falls off by 15 %, slight perspective, a 24-patch chart beside it, JPEG. Run from the top of the tree:

    python -m data.generate.example_card
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np

from layersim.files import write_whole
from layersim.measure.card import standard_card
from layersim.measure.cardfile import write_card_file
from layersim.optics.surface import smooth_surface
from layersim.spectra import FloatArray
from tests.judge.radiative_transfer import (
    TUNING,
    Film,
    Pigmentation,
    emergent_reflectance,
    mix,
    opaque,
    render,
)
from tests.measure.camera import Shot, as_jpeg_bytes, photograph

FOLDER: Final = Path(__file__).parents[1] / "examples"
PICTURE: Final = "teal-card.jpg"
OTHER_PICTURE: Final = "teal-card-other-lamp.jpg"
CARD: Final = "teal-card-layout.toml"
SWATCHES: Final = "teal-card.toml"
MOST_BYTES: Final = 300_000

# What the swatches file says of one coat: 15 µm wet, 28 % solids, thinned one to one.
COAT_UM: Final = 15.0 * 0.28 / 2.0

TEAL: Final = mix(
    "storm teal",
    [(TUNING["phthalo green"], 0.12), (TUNING["ultramarine"], 0.30), (TUNING["titanium white"], 0.10)],
)
BLACK_PRIMER: Final = mix("black primer", [(TUNING["carbon black"], 0.30), (TUNING["titanium white"], 0.03)])
WHITE_PRIMER: Final = mix(
    "white primer", [(TUNING["titanium white"], 0.70), (TUNING["carbon black"], 0.0002)]
)
SHOT: Final = Shot(
    camera="A", light="A", developed="maker", width_px=1050, height_px=1400, oversample=1, seed=7
)
OTHER_SHOT: Final = SHOT.but(light="LED-B3", seed=8, turn_deg=-1.5)

TEXT: Final = f"""\
# Swatches of one paint on a photographed test card. Invented: rendered by data/generate/example_card.py,
# sprayed and photographed by nobody.
format = "layersim swatches 1"

name = "storm teal"
volume_solids = 0.28      # share of the liquid's volume that stays when dry
wet_film_um = 15.0        # wet film of one coat, micrometres
carrier = "water"
sheen = "matt"
invented = true
provenance = "rendered by data/generate/example_card.py through a camera's sensitivities, under two lamps"

[photograph]
file = "{PICTURE}"
card = "{CARD}"
thinning = 1.0            # parts of thinner to one part of paint, on all places of the card

[photograph.other_lamp]
file = "{OTHER_PICTURE}"  # the same card once more, under another kind of lamp
"""


def seen(films: list[Film], ground: Pigmentation) -> FloatArray:
    """Return what is seen of films over an opaque ground by a camera square on, lit from 45°.

    The renderer's surface is smooth. A matt one scatters its first reflection all round, so it is seen.
    """
    below = opaque(ground)
    if not films:
        return smooth_surface().k1 + emergent_reflectance(below, geometry="45_0")
    return smooth_surface().k1 + render(films, ground=below, geometry="45_0")


def spectra() -> tuple[dict[str, FloatArray], dict[str, FloatArray]]:
    """Return the reflectances of the painted places, and of the grounds."""
    primers = {"black": BLACK_PRIMER, "white": WHITE_PRIMER}
    painted = {
        patch.name: seen([Film(TEAL, COAT_UM * patch.coats)], primers[patch.ground])
        for patch in standard_card().patches
        if patch.coats > 0.0
    }
    return painted, {word: seen([], primer) for word, primer in primers.items()}


def picture(shot: Shot = SHOT) -> bytes:
    """Return a photograph."""
    painted, grounds = spectra()
    return as_jpeg_bytes(photograph(standard_card(), painted, grounds, shot), quality=90)


def main() -> None:
    """Write the photographs, the card's layout and the swatches file."""
    FOLDER.mkdir(exist_ok=True)
    for name, shot in ((PICTURE, SHOT), (OTHER_PICTURE, OTHER_SHOT)):
        data = picture(shot)
        if len(data) > MOST_BYTES:
            raise ValueError(f"{name} would have {len(data)} bytes; {MOST_BYTES} are enough for an example")
        write_whole(FOLDER / name, data)
    write_card_file(FOLDER / CARD, standard_card())
    write_whole(FOLDER / SWATCHES, TEXT)
    truth = np.log(np.stack(TEAL.kubelka_munk_per_um()))
    print(f"ln K and ln S at 550 nm {truth[:, 15].round(2)}")


if __name__ == "__main__":
    main()
