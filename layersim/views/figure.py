"""A scheme on the painter's own model: before and after, stage by stage, and what can't be told."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import groupby

from layersim.figure.figure import Figure, StagePicture
from layersim.figure.greys import greys_seen
from layersim.figure.onform import FormFigure
from layersim.figure.repaint import SeenArea, in_srgb
from layersim.spectra import FloatArray
from layersim.views.parts import Beside, Heading, Image, Part, View, Words
from layersim.views.words import lamp_words

_FAR = 6.0
"""L* that the greys in the picture may differ from the scheme's before it is said how to mend it."""
_DOUBTFUL = 8.0
"""± L* from which on it is said what would make it less."""
_MUCH = 0.15
"""Share of an area in shadow, or in gloss, from which on it is worth a sentence."""


def view(figure: Figure | FormFigure) -> View:
    """Return the page of a photograph, or of a form in space."""
    return _of_photograph(figure) if isinstance(figure, Figure) else _of_form(figure)


def _of_photograph(figure: Figure) -> View:
    parts = _pages(
        figure.stages,
        figure.filter_stage,
        "As photographed",
        lambda one: in_srgb(figure.model.photograph, one.picture) / 255.0,
    )
    said = [seen_words(area, figure) for area in figure.areas]
    if figure.model.greys and max(greys_seen(area, figure.model).doubt for area in figure.areas) > _DOUBTFUL:
        said.append("A 24-patch chart beside the model, in place of a grey card, makes the greys surer.")
    parts.append(Words(said))
    return View(
        title=f"{figure.scheme.name}, on {figure.model.photograph.path.name}",
        aside=f"Predicted, {lamp_words(figure.viewing.light)}. One picture can't tell a "
        "grey that lies in the light from a white that lies in shadow: both are painted as the grey.",
        parts=parts,
        notices=figure.notices,
    )


def _of_form(figure: FormFigure) -> View:
    has_metal = any(area.is_metal for area in figure.scheme.areas if area.name in figure.surface)
    metal = " Metal glints where it mirrors the lamp." if has_metal else ""
    return View(
        title=f"{figure.scheme.name}, on {figure.name}",
        aside=f"Predicted, {lamp_words(figure.viewing.light)}. Seen from the front, from its left, "
        "from behind and from its right, under a soft lamp. "
        f"White from {_from(figure.white_from)} lands where it can get to, and coats by their place on the "
        f"shade axis; chips sit on edges, and washes in recesses.{metal}",
        parts=[
            *_pages(
                figure.stages, figure.filter_stage, "Preshaded", lambda one: one.picture / 255.0, below=True
            ),
            Heading("Finished, all round"),
            Image(figure.around / 255.0),
            Words(
                [
                    _surface_words(area.name, figure)
                    for area in figure.scheme.areas
                    if area.name in figure.surface
                ]
            ),
        ],
        notices=figure.notices,
    )


def _from(names: Sequence[str]) -> str:
    """Return from where white is sprayed; what is named again counts again."""
    times = {name: names.count(name) for name in names}
    least = min(times.values())
    called = {"front": "the front", "left": "its left", "right": "its right"}
    told = [
        called.get(name, name) + (f" ({count / least:g} times as much)" if count > least else "")
        for name, count in times.items()
    ]
    return " and ".join([", ".join(told[:-1]), told[-1]] if len(told) > 1 else told)


def _surface_words(name: str, figure: FormFigure) -> str:
    share = figure.surface[name]
    parts = [part for part, area in figure.areas.items() if area == name and part]
    named = parts != [name] and len(figure.areas) > 1
    where = f" (the part{'s' if len(parts) > 1 else ''} {' and '.join(parts)})" if named else ""
    per_cent = f"{name}{where}: {100.0 * share:.0f} % of the surface"
    return f"{per_cent}. For quantities, write share = {share:.2g} under its [[area]], or say --write."


def _pages(
    stages: Sequence[StagePicture],
    filter_stage: int | None,
    first: str,
    shown: Callable[[StagePicture], FloatArray],
    *,
    below: bool = False,
) -> list[Part]:
    def pair(*told: tuple[str, StagePicture]) -> list[Part]:
        sides: list[list[Part]] = [[Words([words]), Image(shown(stage))] for words, stage in told]
        if below:
            return [part for side in sides for part in side]
        return [Beside(sides[0], sides[1] if len(sides) > 1 else [])]

    before, *between, finish = stages
    parts = pair((first, before), ("Finished", finish))
    if filter_stage is not None:
        parts += [
            Heading("The filter"),
            *pair(("Before the filter", stages[filter_stage]), ("Finished", finish)),
        ]
    parts.append(Heading("Stage by stage"))
    told = [(_done(stage), stage) for stage in (*between, finish)]
    for i in range(0, len(told), 2):
        parts += pair(*told[i : i + 2])
    return parts


def _done(stage: StagePicture) -> str:
    names = [name for _, name in stage.done]
    same = [name for name, _ in groupby(names)]
    return same[0] if len(same) == 1 else ", ".join(f"{area}: {name}" for area, name in stage.done)


def seen_words(
    area: SeenArea,
    figure: Figure,
    *,
    stretch: str = "say --stretch",
    greys: str = "say --write, and the scheme has them",
) -> str:
    """Return what the picture shows of an area's preshade, in a few sentences.

    `stretch` says how its range is stretched, `greys` how the two greys are put into the scheme.
    """
    (low, high), (dark, light) = area.axis, area.seen
    read = greys_seen(area, figure.model)
    said = [
        f"{area.name}: {100.0 * area.share:.0f} % of the picture. There it goes from L* {dark:.0f} to "
        f"{light:.0f}, each ± {read.doubt:.0f}; the scheme's preshade goes from {low:.0f} to {high:.0f}."
    ]
    notes = [note.removeprefix(f"{area.name}: ") for note in read.notes]
    said += [f"{note[:1].upper()}{note[1:]}." for note in notes]
    if area.is_metal:
        said.append(
            "Its metal is shown turned by 45°: a photograph of white does not tell where it will glint."
        )
    if figure.stretched:
        return f"{' '.join(said)} Its darkest and lightest are taken for the ends of the preshade, as asked."
    if area.in_shade > _MUCH:
        said.append(
            f"{100.0 * area.in_shade:.0f} % of it is darker than the preshade and is taken for shadow."
        )
    if area.in_gloss > _MUCH:
        said.append(
            f"{100.0 * area.in_gloss:.0f} % of it is lighter than the preshade and is taken for gloss."
        )
    if max(abs(dark - low), abs(light - high)) > _FAR and not read.notes:
        said.append(f"If these are your greys, {greys}; if only the light in the picture differs, {stretch}.")
    return " ".join(said)
