"""What a worker process does with photographs of a card: looks at them, and fits the paint."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from layersim import colour
from layersim.errors import LayersimError
from layersim.fitting.known import film_factor
from layersim.fitting.ownfilm import as_sprayed, as_suggested, known_scatter, seen_hand
from layersim.fitting.photographed import fit_readings
from layersim.measure.cardreading import CardReading
from layersim.measure.onpicture import Looked, look
from layersim.measure.photograph import Photograph, read_photograph
from layersim.measure.photoswatch import OtherLight, PhotographedSet
from layersim.measure.swatchfile import read_any_swatches
from layersim.names import slug
from layersim.paint import Paint
from layersim.paintfile import write_paint
from layersim.shelf import Shelf
from layersim.sprayer import Sprayer
from layersim.views.fit import view
from layersim.views.fitnotices import film_words, starter, unthinned
from layersim.views.notices import sentences
from layersim.writers.html import parts_of, words

if TYPE_CHECKING:
    from PIL.Image import Image

SHOWN_PX: Final = 1400
"""Longer side of the picture that is shown, at most."""
# Of the light of a raw file's pixels, this share is shown below white: such files are often dark.
_BELOW_WHITE: Final = 0.995

Progress = Callable[..., None]


def work(
    *,
    progress: Progress,
    swatches: Path,
    folder: Path,
    fit: bool,
    trust: bool,
    film_error: float | None,
    sprayer: Sprayer | None,
    known: Paint | None,
) -> dict[str, Any]:
    """Look at a card's photographs, and `fit` the paint if that is asked; what is shown goes into `folder`.

    `trust`: take the camera's own colours, without a reference. `sprayer`: who sprayed the card. `known`: the
    paint, where it is the film of that sprayer's coats that is asked for. What a painter can put right comes
    back as "fault", beside all that was found until then.
    """
    found: dict[str, Any] = {"looked": [], "fault": ""}
    try:
        card = read_any_swatches(swatches)
        assert isinstance(card, PhotographedSet)
        card = dataclasses.replace(card, reference="none") if trust else card
        readings = _looked(card, folder, found, progress)
        if fit and len(readings) == len(card.photographs):
            if known is not None:
                found |= _film(card, known, film_error, progress)
            else:
                found |= _fitted(card, readings, folder, film_error, sprayer, progress)
    except LayersimError as fault:
        found["fault"] = f"{fault}"
    return found


def _looked(
    card: PhotographedSet, folder: Path, found: dict[str, Any], progress: Progress
) -> list[CardReading]:
    other = card.other_light
    readings = []
    pictures: tuple[PhotographedSet | OtherLight, ...] = (card,) if other is None else (card, other)
    for i, one in enumerate(pictures):
        progress(0.05 + 0.3 * i, 1.0, f"reading {one.photograph.name}")
        photograph = read_photograph(one.photograph, encoding=card.encoding)
        seen = look(
            photograph,
            card.layout,
            corners_px=one.corners_px,
            chart_corners_px=one.chart_corners_px,
            reference=card.reference if other is None else "chart",
        )
        small_picture(photograph).save(folder / f"seen-{i}.jpg", quality=88)
        found["looked"].append(_told(seen))
        if seen.reading is not None:
            readings.append(seen.reading)
        elif not found["fault"]:
            found["fault"] = seen.fault
    return readings


def _told(seen: Looked) -> dict[str, Any]:
    return {
        "name": seen.photograph.path.name,
        "width": seen.photograph.width,
        "height": seen.photograph.height,
        "fault": seen.fault,
        "notes": [] if seen.reading is None else list(seen.reading.notes),
        "found": [
            {
                "kind": one.kind,
                "name": one.name,
                "corners": one.corners.round(5).tolist(),
                "words": list(one.words),
                "used": one.used,
            }
            for one in seen.found
        ],
    }


def _fitted(
    card: PhotographedSet,
    readings: list[CardReading],
    folder: Path,
    film_error: float | None,
    sprayer: Sprayer | None,
    progress: Progress,
) -> dict[str, Any]:
    fit = fit_readings(
        card if sprayer is None else as_sprayed(card, sprayer),
        readings,
        Shelf.usual(),
        film_error=known_scatter(card, sprayer, film_error),
        progress=lambda said: progress(0.7, 1.0, said),
    )
    if sprayer is not None:
        fit = as_suggested(fit, card, sprayer)
    name = fit.paint.name
    page = view(fit, notices=[*unthinned(card), *starter(name)], typed=False)
    write_paint(fit.paint, folder / f"{slug(name)}.toml")
    return {
        "paint": name,
        "file": f"{slug(name)}.toml",
        "html": f"<h3>{words(page.title)}</h3>\n{parts_of(page)}",
        "grade": fit.verdict.grade,
        "hand": None if sprayer is None else seen_hand(fit, card, film_error),
    }


def _film(
    card: PhotographedSet, known: Paint, film_error: float | None, progress: Progress
) -> dict[str, Any]:
    """Return the film of a sprayer's coats, from a card of a known paint."""
    found = film_factor(
        card, known, Shelf.usual(), film_error=film_error, progress=lambda said: progress(0.7, 1.0, said)
    )
    told = [film_words(found), *sentences(unthinned(card))]
    return {"film": found, "html": "".join(f"<p>{words(one)}</p>" for one in told)}


def small_picture(photograph: Photograph) -> Image:
    """Return a photograph as a small picture, as it is read: upright, its colours sRGB, nothing else kept."""
    from PIL import Image

    step = -(-max(photograph.width, photograph.height) // SHOWN_PX)
    levels = photograph.levels[::step, ::step]
    white = colour.Viewing("D50").white
    lightest = 1.0
    if photograph.holds_light:
        some = photograph.linear(levels[::4, ::4])
        lightest = max(float(np.quantile(some[..., 1], _BELOW_WHITE)), 1e-3)

    def shown(rows: Any) -> Any:
        light = photograph.linear(rows) / lightest
        return (colour.on_screen(light @ photograph.to_xyz_d50.T * 100.0, white).rgb * 255.0 + 0.5).astype(
            "uint8"
        )

    # All rows at once would take a dozen times the picture's own memory.
    return Image.fromarray(
        np.concatenate([shown(some) for some in np.array_split(levels, -(-len(levels) // 50))])
    )
