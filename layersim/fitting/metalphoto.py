"""Metal paints from photographs of the printed card at several tilts, the lamp at the lens or as it is said.

Card and chart lie on one board, and the board is tilted: the chart then tells what a white would send from
there, and the card's marks from where it is seen. With the lamp at the lens a board tilted by 8 degrees is
seen 16 degrees from the mirror direction, by 22 degrees 45. Three numbers a place tell less than spectra: a
tint from the metal's own colour hardly, and glitter, a lens that bends and a lamp that is elsewhere count as
more of (O1)'s e.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

import numpy as np

from layersim.errors import FitError, PhotographError
from layersim.estimate import Estimate
from layersim.fitting.bareground import ground_of_colour
from layersim.fitting.films import Below, found_on, primed_ground
from layersim.fitting.flakefit import FlakeReadings
from layersim.fitting.metal import LEAST_SPAN_DEG, MetalFit, SeenFrom, conclude, films_laid, off_by
from layersim.measure.cardreading import CardReading, PhotographedPatch, card_in
from layersim.measure.photograph import read_photograph
from layersim.measure.photoswatch import PhotographedSet
from layersim.measure.pose import Pose, poses
from layersim.optics.flakes import direction
from layersim.shelf import Shelf
from layersim.spectra import FloatArray

PHOTO_OFF: Final = 0.06
"""What a photograph adds to e of (O1): its light and its lightest tones (an assumption)."""
_LEAST_NOISE: Final = 0.003
_TILTS: Final = "Photograph the board three times, tilted by about 8, 22 and 45 degrees to the camera"


def fit_tilted(
    swatches: PhotographedSet, shelf: Shelf | None = None, *, film_error: float | Estimate | None = None
) -> MetalFit:
    """Return the metal paint that photographs of a card at several tilts make most likely.

    `shelf` and `film_error` are as in :func:`layersim.fitting.measured.fit_swatches`. Raises FitError where
    they do not tell, and PhotographError where one cannot be read.
    """
    where = swatches.source or swatches.photograph
    if not swatches.tilted:
        raise FitError(
            where,
            'kind: found "metal" and one photograph; a metal looks different from every side. '
            f"{_TILTS}, card and chart on it, the lamp beside the lens, "
            'and name the others: tilted = ["..."]',
        )
    if swatches.other_light is not None:
        raise FitError(where, "a metal is fitted under one lamp; leave [photograph.other_lamp] out")
    pictures = []
    for path in (swatches.photograph, *swatches.tilted):
        photograph = read_photograph(path, encoding=swatches.encoding)
        corners = swatches.corners_px if path == swatches.photograph else None
        reading = card_in(photograph, swatches.layout, corners_px=corners, reference=swatches.reference)
        pictures.append((reading, photograph.width, photograph.height))
    if len({(width, height) for _, width, height in pictures}) > 1:
        raise PhotographError(
            swatches.photograph, "the pictures differ in size; take all the same way up, uncut"
        )
    _, width, height = pictures[0]
    readings = [reading for reading, *_ in pictures]
    seen, note = poses(
        [one.placement for one in readings],
        swatches.layout,
        width=width,
        height=height,
        lamp_mm=swatches.lamp_mm,
    )
    return fit_seen(
        swatches, readings, seen, shelf or Shelf.usual(), film_error=film_error, notes=(note,) if note else ()
    )


def fit_seen(
    swatches: PhotographedSet,
    readings: Sequence[CardReading],
    seen: Sequence[Pose],
    shelf: Shelf,
    *,
    film_error: float | Estimate | None = None,
    notes: tuple[str, ...] = (),
) -> MetalFit:
    """Return :func:`fit_tilted` of photographs that were read, and from where they were taken."""
    where = swatches.source or swatches.photograph
    notices = [*notes, *(f"{one.path.name}: {note}" for one in readings for note in one.notes)]
    names, sprayed, patches, views, weights, whites = [], [], [], [], [], []
    for reading, pose in zip(readings, seen, strict=True):
        places = {patch.name: patch for patch in reading.patches}
        rects = {patch.name: patch.rect for patch in swatches.layout.patches}
        viewing = reading.calibration.viewing
        for one in swatches.swatches:
            place = places[one.patch]
            named = f"{one.name}, tilted {pose.tilt_deg:.0f}°"
            if len(one.parts) > 1 or not place.usable:
                why = ", ".join(place.flags) or "a mix"
                notices.append(f'"{named}" was left out ({why})')
                continue
            names.append(named)
            sprayed.append(one)
            patches.append(place)
            views.append(pose.towards(rects[one.patch].centre_mm))
            weights.append(viewing.weights / 100.0)
            whites.append(viewing.white)
    if not names:
        raise FitError(where, f"no place of the card can be used: {'; '.join(notices)}")
    lamps, eyes = (np.array(each) for each in zip(*views, strict=True))
    angles = _from_mirror(lamps, eyes)
    if float(np.ptp(angles)) < LEAST_SPAN_DEG:
        raise FitError(
            where,
            f"the pictures show the card from about one side ({angles.min():.0f}° to {angles.max():.0f}° "
            f"from the mirror direction), and how flat flakes lie cannot be told. {_TILTS}",
        )
    grounds = _grounds(swatches, readings, seen, shelf, where)
    laid, film = films_laid(swatches, sprayed, grounds, film_error)
    values = np.array([one.xyz for one in patches]) / 100.0
    noise = np.array([one.xyz_noise + one.xyz_calibration for one in patches]) / 1e4
    return conclude(
        swatches,
        laid,
        SeenFrom(
            names=tuple(names),
            angles_deg=angles,
            readings=FlakeReadings(
                film=film,
                at=direction(lamps, eyes),
                values=values,
                covariance=noise + _LEAST_NOISE**2 * np.eye(3),
                weights=np.array(weights),
                off=np.hypot(off_by(angles), PHOTO_OFF),
            ),
            to_xyz=100.0 * np.eye(3),
            white=np.array(whites),
            notices=tuple(notices),
            words=f"places of {len(readings)} photographs, from {angles.min():.0f}° to {angles.max():.0f}° "
            "from the mirror direction",
        ),
        counted=any(one.dry_film_um is None and not one.opaque for one in sprayed),
        where=where,
    )


def _from_mirror(lamps: FloatArray, eyes: FloatArray) -> FloatArray:
    """Return degrees between where a mirror would send the light and the eye."""
    mirrored = lamps * [-1.0, -1.0, 1.0]
    return np.asarray(np.degrees(np.arccos(np.clip((mirrored * eyes).sum(axis=-1), -1.0, 1.0))))


def _grounds(
    swatches: PhotographedSet,
    readings: Sequence[CardReading],
    seen: Sequence[Pose],
    shelf: Shelf,
    where: Path,
) -> Mapping[str, Below]:
    """Return the grounds: primers of the shelf, or as their bare places look in the picture tilted most."""
    reading = readings[int(np.argmax([pose.tilt_deg for pose in seen]))]
    places: Mapping[str, PhotographedPatch] = {patch.name: patch for patch in reading.patches}
    weights = reading.calibration.viewing.weights / 100.0
    found = {}
    for ground in swatches.grounds:
        bare = [places[name] for name in ground.patches if places[name].usable]
        if ground.paint is not None and not bare:
            found[ground.name] = primed_ground(
                found_on(shelf, ground.paint, where, f'ground "{ground.name}"')
            )
        elif not bare:
            raise FitError(
                where, f'ground "{ground.name}": no bare place of it can be used in {reading.path.name}'
            )
        else:
            value = np.mean([one.xyz for one in bare], axis=0) / 100.0
            error = np.mean([one.xyz_noise + one.xyz_calibration for one in bare], axis=0) / 1e4
            found[ground.name] = ground_of_colour(
                value, error + _LEAST_NOISE**2 * np.eye(3), weights, sheen=ground.sheen
            )
    return found
