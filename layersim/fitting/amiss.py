"""What no fit should be made of: swatches that contradict each other, or tell too little of the paint."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from layersim import colour
from layersim.errors import FitError
from layersim.fitting.doubts import colour_change
from layersim.fitting.films import Below, Maker
from layersim.measure.swatch import THIS_PAINT, OfPaint, Sprayed
from layersim.optics import cones
from layersim.paint import METAL
from layersim.spectra import BANDS, FloatArray

FARTHEST_TWINS: Final = 6.0
"""ΔE00 between two swatches of one film over one ground; half as much film again makes less."""
LEAST_APART: Final = 0.7
"""If all swatches lie within this ΔE00, their films show neither ground nor thickness."""
NOISE_ALONE: Final = 1.0 + 3.0 * math.sqrt(2.0 / BANDS)
"""Nor do they if squared differences over squared noise average less: χ² of 31 bands, three sigma."""


@dataclass(frozen=True)
class Contradiction:
    """Two swatches that cannot both be right."""

    names: tuple[str, str]
    words: str
    """Why, and what to do."""


def refuse_metal(swatches: OfPaint, where: Path) -> None:
    """Raise FitError for swatches of a metal paint, which no K and S describe."""
    if swatches.kind == METAL:
        raise FitError(
            where,
            'kind: found "metal", which looks different from every side: no photograph or reading from one '
            "side tells of its flakes. A swatches file tells more sides, by readings at several angles "
            "(angle_deg) or photographs of the card at several tilts (tilted); or take a metal of the shelf",
        )


def objections(
    swatches: Sequence[Sprayed],
    *,
    reflectance: FloatArray,
    noise: FloatArray,
    grounds: Mapping[str, Below],
    maker: Maker,
) -> str:
    """Return why spectra of swatches, shape (m, 31), cannot give a paint, and what to do; or nothing."""
    found, pairs = _crossed_spectra(swatches, reflectance, noise, grounds)
    if 2 * len(found) > pairs:
        return found[0].words
    apart = colour.lab(reflectance, colour.Viewing())
    off = float(colour.delta_e_2000(apart[:, np.newaxis], apart).max())
    squares = (reflectance[:, np.newaxis] - reflectance) ** 2 / (noise[:, np.newaxis] ** 2 + noise**2)
    by_noise = float(squares.mean(axis=-1).max()) < NOISE_ALONE
    why = ", no more than the noise of the readings" if off >= LEAST_APART else ""
    return _too_dark(swatches, reflectance, noise, maker) or too_little(
        swatches, apart=off, alike=by_noise or off < LEAST_APART, why=why
    )


def contradictions(
    swatches: Sequence[Sprayed],
    *,
    reflectance: FloatArray,
    noise: FloatArray,
    grounds: Mapping[str, Below],
) -> list[Contradiction]:
    """Return pairs of swatches, with spectra of shape (m, 31), that cannot both be right, whatever the paint.

    A fit to enough others may tell which of the two is wrong.
    """
    crossed_, _ = _crossed_spectra(swatches, reflectance, noise, grounds)
    return crossed_ + _unlike_twins(swatches, reflectance, noise)


def crossed(
    swatches: Sequence[Sprayed],
    grounds: Mapping[str, Below],
    *,
    level: FloatArray,
    slack: FloatArray,
    swapped: str,
) -> tuple[list[Contradiction], int]:
    """Return films that are darker over a ground that is lighter everywhere, and how many were compared.

    `level`, shape (m,), is how light swatches look; by more than `slack`, shape (m, m), the one over the
    lighter ground must be darker. `swapped` is what may have been.
    """
    found, pairs = [], 0
    for i, one in enumerate(swatches):
        for j, two in enumerate(swatches):
            if one.ground is None or two.ground is None or film_of(one) != film_of(two):
                continue
            if not (grounds[one.ground].reflectance > grounds[two.ground].reflectance).all():
                continue
            pairs += 1
            if level[j] - level[i] > slack[i, j]:
                words = (
                    f'swatches "{one.name}" and "{two.name}" contradict each other: the same film is darker '
                    f"over {one.ground}, the lighter ground. Were the {swapped} swapped, or is one film "
                    "thicker? Put right which is which, or spray both again."
                )
                found.append(Contradiction((one.name, two.name), words))
    return found, pairs


def too_little(swatches: Sequence[Sprayed], *, apart: float, alike: bool, why: str = "") -> str:
    """Return why swatches that are at most ΔE00 `apart` tell too little, or nothing.

    `alike` says whether that is nothing to go by, and `why` how that comes.
    """
    if len({(swatch.ground, film_of(swatch)) for swatch in swatches}) < 2:
        return (
            f'one swatch only ("{swatches[0].name}"): absorption and scattering are two unknowns. Spray the '
            "same film over another ground, black and white serve best, or another number of coats."
        )
    tinted = any(len(swatch.parts) > 1 for swatch in swatches)
    if tinted or not (alike or all(swatch.opaque for swatch in swatches)):
        return ""
    over = sorted({swatch.ground for swatch in swatches if swatch.ground})
    where = f" over {' and '.join(over)}" if over else ""
    said = f"the swatches look alike{where} (at most ΔE00 {apart:.1f} apart{why})"
    if len(over) == 1:
        return (
            f"{said}: their films are opaque or clear, and one ground cannot tell which. Spray the same "
            "films over another ground, black and white serve best."
        )
    return (
        f"{said}: every film is opaque, and an opaque film tells only the ratio of absorption to "
        f'scattering. Spray much thinner films (half a coat), or a tint: mix = {{ "{THIS_PAINT}" = 1, '
        '"titanium white" = 9 }.'
    )


def colour_noise(reflectance: FloatArray, noise: FloatArray) -> FloatArray:
    """Return how far, in about ΔE00, a swatch's colour is off by its reading's noise alone.

    `reflectance`, `noise`: shape (m, 31). Returns shape (m,); one standard deviation, over all
    directions of colour together.
    """
    each = colour_change(np.maximum(reflectance, 0.0), noise[:, :, np.newaxis] * np.eye(BANDS))
    return np.asarray(np.sqrt((each**2).reshape(len(reflectance), -1).sum(axis=1)))


def film_of(swatch: Sprayed) -> tuple[object, ...]:
    """Return what makes two swatches the same film."""
    total = sum(part for _, part in swatch.parts)
    parts = tuple(sorted((name, round(part / total, 6)) for name, part in swatch.parts))
    return parts, swatch.thinning, swatch.coats, swatch.dry_film_um, swatch.opaque


def _crossed_spectra(
    swatches: Sequence[Sprayed], reflectance: FloatArray, noise: FloatArray, grounds: Mapping[str, Below]
) -> tuple[list[Contradiction], int]:
    weights = colour.luminance_weights()
    variance = noise**2 @ weights**2
    slack = 0.01 + 3.0 * np.sqrt(variance[:, np.newaxis] + variance)
    return crossed(swatches, grounds, level=reflectance @ weights, slack=slack, swapped="two readings")


def _unlike_twins(
    swatches: Sequence[Sprayed], reflectance: FloatArray, noise: FloatArray
) -> list[Contradiction]:
    lab = colour.lab(reflectance, colour.Viewing())
    spread = colour_noise(reflectance, noise)
    found = []
    for i, one in enumerate(swatches):
        for j in range(i):
            two = swatches[j]
            if one.ground != two.ground or film_of(one) != film_of(two):
                continue
            off = float(colour.delta_e_2000(lab[i], lab[j]))
            if off > FARTHEST_TWINS + 3.0 * float(np.hypot(spread[i], spread[j])):
                words = (
                    f'swatches "{two.name}" and "{one.name}" contradict each other: the same film over the '
                    f"same ground, and ΔE00 {off:.1f} apart. Put right what the file says of them, or "
                    "measure both again."
                )
                found.append(Contradiction((two.name, one.name), words))
    return found


def _too_dark(swatches: Sequence[Sprayed], reflectance: FloatArray, noise: FloatArray, maker: Maker) -> str:
    # The share that the darkest reading leaves possible already stands in the sheen.
    surface = maker.sheen * cones.directions().k1
    short = surface - reflectance.mean(axis=1)
    slack = 0.002 + 3.0 * noise.mean(axis=1) / math.sqrt(BANDS)
    if not (short > slack).any():
        return ""
    i = int(np.argmax(short - slack))
    return (
        f'swatch "{swatches[i].name}": found a mean reflectance of {reflectance[i].mean():.3f}; expected at '
        f"least {surface:.3f}, which the paint's surface returns by itself. If the specular reflection was "
        'excluded, or the paint is glossier than the file says, put that right (specular = "excluded", '
        'sheen = "gloss").'
    )
