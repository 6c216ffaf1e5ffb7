"""A scheme on the painter's own model: before and after, stage by stage, and what the picture can't tell."""

from __future__ import annotations

from itertools import groupby
from typing import Any

import numpy as np

from layersim import colour
from layersim.figure.figure import Figure, StagePicture
from layersim.figure.repaint import SeenArea
from layersim.spectra import FloatArray
from layersim.views.parts import Beside, Heading, Image, Part, View, Words
from layersim.views.words import lamp_words

_FAR = 6.0
"""L* that the greys in the picture may differ from the scheme's before it is said how to mend it."""
_MUCH = 0.15
"""Share of an area in shadow, or in gloss, from which on it is worth a sentence."""


def view(figure: Figure) -> View:
    """Return the page."""
    before, *_, finish = figure.stages
    parts: list[Part] = [_pair(figure, before, finish, ("As photographed", "Finished"))]
    if figure.filter_stage is not None:
        first = figure.stages[figure.filter_stage]
        parts += [Heading("The filter"), _pair(figure, first, finish, ("Before the filter", "Finished"))]
    between = figure.stages[1:]
    parts.append(Heading("Stage by stage"))
    parts += [
        _pair(figure, *pair, (_done(pair[0]), _done(pair[-1])) if len(pair) > 1 else (_done(pair[0]), ""))
        for pair in (between[i : i + 2] for i in range(0, len(between), 2))
    ]
    parts.append(Words([sentence for area in figure.areas for sentence in _sentences(area, figure)]))
    return View(
        title=f"{figure.scheme.name}, on {figure.model.photograph.path.name}",
        aside=f"Predicted, {lamp_words(figure.viewing.light)}. One picture can't tell a "
        "grey that lies in the light from a white that lies in shadow: both are painted as the grey.",
        parts=parts,
        notices=figure.notices,
    )


def _pair(figure: Figure, *given: Any) -> Part:
    *stages, words = given
    sides: list[list[Part]] = [
        [Words([said]), Image(_on_screen(figure, stage))] for stage, said in zip(stages, words, strict=False)
    ]
    return Beside(sides[0], sides[1] if len(sides) > 1 else [])


def _on_screen(figure: Figure, stage: StagePicture) -> FloatArray:
    """Return a picture in the encoding of screens."""
    photograph = figure.model.photograph
    scale = photograph.top // 255
    linear = photograph.curve[stage.picture.astype(np.intp) * scale, np.arange(3)]
    xyz = linear @ (100.0 * photograph.to_xyz_d50.T)
    return colour.on_screen(xyz, colour.Viewing("D50").white).rgb


def _done(stage: StagePicture) -> str:
    names = [name for _, name in stage.done]
    same = [name for name, _ in groupby(names)]
    return same[0] if len(same) == 1 else ", ".join(f"{area}: {name}" for area, name in stage.done)


def _sentences(area: SeenArea, figure: Figure) -> list[str]:
    (low, high), (dark, light) = area.axis, area.seen
    said = [
        f"{area.name}: {100.0 * area.share:.0f} % of the picture. There it goes from L* {dark:.0f} to "
        f"{light:.0f}, the scheme's preshade from {low:.0f} to {high:.0f}."
    ]
    if figure.stretched:
        return [*said, "Its darkest and lightest are taken for the ends of the preshade, as asked."]
    if area.in_shade > _MUCH:
        said.append(
            f"{100.0 * area.in_shade:.0f} % of it is darker than the preshade and is taken for shadow."
        )
    if area.in_gloss > _MUCH:
        said.append(
            f"{100.0 * area.in_gloss:.0f} % of it is lighter than the preshade and is taken for gloss."
        )
    if max(abs(dark - low), abs(light - high)) > _FAR:
        said.append(
            f"If these are your greys, write greys = [{dark:.0f}, {light:.0f}] under its [area.preshade]; if "
            "only the light in the picture differs, say --stretch."
        )
    return said
