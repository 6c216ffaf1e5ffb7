"""Where a picture's colours come from: the picture with marks, and its colours beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from layersim import colour
from layersim.decide.artwork import Artwork, Patch
from layersim.views.parts import Beside, Cell, Image, Part, Table, Tone, View, Words
from layersim.views.preview import lab_words, screen_words


def view(artwork: Artwork, colours: Sequence[Patch], chosen: Mapping[str, Patch]) -> View:
    """Return the page of a picture's main colours, which may be none, and of the targets taken from it."""
    named = {patch.name for patch in colours}
    rows = [_row(patch.name, patch, f"{100 * patch.share:.0f} % of the picture") for patch in colours]
    for name, patch in chosen.items():
        rows.append(_row(name, patch, f"target (colour {patch.name})" if patch.name in named else "target"))
    marks = [(*patch.at, patch.name) for patch in colours]
    marks += [(*patch.at, name) for name, patch in chosen.items() if patch.name not in named]
    rgb = np.where(artwork.solid[..., np.newaxis], colour.encode_srgb(artwork.linear), 1.0)
    beside: list[Part] = [Table(["", "", "", "", ""], rows), Words([_WARNING], kind="faint")]
    return View(title=f"Colours of {artwork.path.name}", parts=[Beside([Image(rgb, marks)], beside)])


_WARNING = "Printed art and screens are not measured colours: a direction, not a standard."


def _row(mark: str, patch: Patch, words: str) -> list[Cell]:
    screen = screen_words(patch.lab, colour.Viewing())
    return [mark, Tone(patch.lab, f" {patch.lab[0]:.0f} "), screen, lab_words(patch.lab), words]
