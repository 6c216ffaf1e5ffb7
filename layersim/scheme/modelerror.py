"""How far the film model itself may be off: every number that was tuned for the ranges, and its basis.

Two cones, K and S are a model. What it leaves out (other scattering functions, pigment that scatters
less where it is crowded, coats that wet each other, whatever a paint's record does not know) acts on
each film as if its K and S were others. So each paint of each step has shifts of its own,

    ln K ← ln K + k (z₁ + T t z₂),   ln S ← ln S + s (z₃ + T t z₄),   t = (λ − 550 nm) / 150 nm      (M1)

with normal deviates z that are the same at every tone and in every later stage: the error of one film
moves all tones together, two choices that share the film share its error, and their difference stays
as sharp as it is.

The index n of the binder moves both reflections of the surface (k₁ and r₁ of
:mod:`layersim.optics.cones`), alike in all stages:

    ln (n − 1) = ln ½ + d z                                                                          (M2)

Given greys do not say whether they are even or spots of white beside bare primer. At each tone a share
of the sites is as light as the lightest grey given and the rest as dark as the darkest, so that they
look like the grey when they are averaged; of the distance to these ends the sites go the part

    u = u₀ + d z,   within 0..1                                                                      (M3)

Nor do they say what colour they are. A thin white over black scatters blue light more than red, grey
paints do not. At the part p of the way from the darkest to the lightest L* the reflectance goes with

    λ^(−4 p (1 − p) b),   b = b₀ + d z                                                               (M4)

Where two films meet they may wet each other or not. A film X of which j is lost to the one below (or
gained from it) acts as

    X ← X exp(j z / (X + j))                                                                         (M5)

which matters where films are thin: at the edge of a coat and in the middle tones of a preshade.

Flakes are no even mirrors: what they reflect, how far they are tilted and how much they strew evenly have
errors of their own in each step,

    F ← F exp(m z₁),   s ← s exp(t z₂),   κ ← κ + q z₃                                               (M6)
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim import colour
from layersim.chance import Source, Step
from layersim.optics.surface import BINDER_INDEX
from layersim.paint import Paint
from layersim.scheme.records import Area, GreysGiven, GreysSprayed, Mix
from layersim.spectra import BANDS, FloatArray


@dataclass(frozen=True)
class Shift:
    """One standard deviation of ln K and of ln S in (M1)."""

    log_K: float
    log_S: float


# Every size below was set on radiative transfer through stacks of one to four films of 0.5 to 8 µm over a
# preshade (the tuning pigments of tests/judge, common and unusual ones, K and S fitted to swatches without
# noise): scattering functions of Henyey and Greenstein and of a peak with a back lobe, a white that
# scatters a fifth less where it is crowded, 1 µm of every joint blended. Two thirds of these hold 80 to 95 %
# of the finished tones of each kind. Fits count in more since (a misfit of their swatches widens them, and so
# do films and surfaces), so these were brought down to about two thirds: with none of them all rows of broken
# assumptions but the greys' held 82 to 99 % on the tuning pigments (tests/validation/broken.py).
GROUND: Final = Shift(0.04, 0.04)
"""An opaque primer: what K/S of a fit to thin films says of an endless one."""
MIST: Final = Shift(0.02, 0.02)
"""White of the preshade, mostly known from films as thick as those it is used in."""
COAT: Final = Shift(0.015, 0.02)
"""One paint, on top of what its fit counts in: 1 % of K and 1.6 % of S or more, alike in all steps."""
MIXED: Final = Shift(0.025, 0.05)
"""Each paint of a mixture: a white that scatters a fifth less in its own film is up to 20 % too weak here."""
SLOPE: Final = 0.6
"""Slope T of a shift over the wavelengths, as a part of its level: errors of the fits seen, by eye."""
JOINT_UM: Final = 0.06
"""Film that is lost where two films meet, (M5); decides about films under a micrometre."""
INDEX: Final = 0.06
"""Of ln (n − 1): 90 % of binders from 1.45 to 1.55 (handbook values of acrylics to alkyds, from memory)."""
SPOTS: Final = 0.7
"""Of the logarithm of a spot's film: twice or half in one case of three (an assumption, no source)."""
SPOTTED: Final = 0.2
"""u₀ of (M3): spots of 0.2 to 0.5 µm of white over black in the middle greys, counted, have 0.13 to 0.21."""
SPOTTED_ERROR: Final = 0.12
"""d of (M3): spots of 2 µm have 0.39."""
TINT: Final = 0.3
"""b₀ of (M4), half of white over black: 0.65 at L* 46, 0.28 at L* 62 (radiative transfer, tuning white)."""
TINT_ERROR: Final = 0.2
"""d of (M4): from neutral to white over black within 90 %."""

FLAKE_METAL: Final = 0.06
"""m of (M6): oxide, and how flakes lie over each other."""
FLAKE_TILT: Final = 0.15
FLAKE_ROUGH: Final = 0.04

CAUSE: Final = "how far the film model itself is off"
ADVICE: Final = "spray a chip of the whole scheme and compare it with this preview"
INDEX_KEY: Final = Source("index")
SPOTTED_KEY: Final = Source("spotted")
TINT_KEY: Final = Source("tint")
_LOG_WAVELENGTH: Final = np.log(np.linspace(400.0, 700.0, BANDS) / 550.0)
_ACROSS: Final = np.linspace(-1.0, 1.0, BANDS)
_SHAPES: Final = (np.ones(BANDS), SLOPE * _ACROSS)


def keys(area: Area) -> tuple[Source, ...]:
    """Return the keys of all the model's errors in an area, those of the first steps first."""
    steps: list[tuple[Step, Mix]] = [("ground", Mix(((area.ground, 1.0),)))]
    if isinstance(area.preshade, GreysSprayed):
        steps.append(("preshade", area.preshade.mix))
    steps += list(enumerate(coat.mix for coat in area.coats))
    found: list[Source] = [INDEX_KEY]
    if isinstance(area.preshade, GreysGiven):
        found += [
            key
            for key, size in ((SPOTTED_KEY, area.preshade.spotted), (TINT_KEY, area.preshade.tint))
            if size
        ]
        steps = [step for step in steps if step[0] != "ground"]
    found += [Source("model", step, "joint") for step, _ in steps if step != "ground"]
    for step, mix in steps:
        if mix.is_metal:
            found += flake_keys(step)
        for paint, _ in mix.ingredients:
            found += [key for key, _ in film_shifts(area, step, paint)]
    return tuple(dict.fromkeys(found))


def flake_keys(step: Step) -> list[Source]:
    """Return the keys of the errors of (M6) in a step with flakes."""
    return [Source("flakes", step, name) for name in ("metal", "tilt", "rough")]


def film_shifts(area: Area, step: Step, paint: Paint) -> Iterator[tuple[Source, FloatArray]]:
    """Yield the errors of one paint in one step: key, and shifts of ln K and ln S, shape (2, 31), (M1)."""
    size = _size(area, step)
    for i, shape in enumerate(_SHAPES):
        yield (
            Source("model", step, f"K of {paint.name}", i),
            np.stack([size.log_K * shape, np.zeros(BANDS)]),
        )
        yield (
            Source("model", step, f"S of {paint.name}", i),
            np.stack([np.zeros(BANDS), size.log_S * shape]),
        )


def film_factor(film_um: FloatArray, deviate: FloatArray) -> FloatArray:
    """Return what a film is multiplied by for what it loses or gains where it lies, (M5)."""
    return np.asarray(np.exp(JOINT_UM * deviate / (film_um + JOINT_UM)))


def index(deviate: FloatArray) -> FloatArray:
    """Return the binder's index, (M2)."""
    return np.asarray(1.0 + (BINDER_INDEX - 1.0) * np.exp(INDEX * deviate))


def spotted(usual: float, deviate: FloatArray) -> FloatArray:
    """Return how far given greys are spots, (M3)."""
    return np.clip(usual + SPOTTED_ERROR * deviate, 0.0, 1.0)


def tint(usual: float, deviate: FloatArray) -> FloatArray:
    """Return how blue given greys are, (M4)."""
    return np.asarray(usual + TINT_ERROR * deviate)


def tinted(
    grey: FloatArray, tint: FloatArray, *, dark: float, light: float, viewing: colour.Viewing
) -> FloatArray:
    """Return the spectra of greys as multiples of their own Y, (M4).

    `grey` has y of the greys, 0..1, and `tint` b of (M4); they broadcast against each other. `dark` and
    `light` are y of the darkest and the lightest, and `viewing` is where they have that Y. Returns shape
    (..., 31).
    """
    at = np.clip((np.cbrt(grey) - np.cbrt(dark)) / (np.cbrt(light) - np.cbrt(dark)), 0.0, 1.0)
    power = -np.asarray(tint * 4.0 * at * (1.0 - at))[..., np.newaxis]
    spectra = np.exp(power * _LOG_WAVELENGTH)
    weights = viewing.weights[:, 1]
    return np.asarray(spectra * weights.sum() / (spectra @ weights)[..., np.newaxis])


def spots(grey: FloatArray, *, dark: float, light: float, sites: int) -> FloatArray:
    """Return the reflectances of sites that are bare or covered, and look like a grey together.

    `grey` is a reflectance; beyond the ends the sites are all alike. `dark` and `light` are those of what is
    bare and what is covered. Returns shape (..., sites), rising; one site may lie between the ends, so that
    the mean is the grey to rounding.
    """
    share = (np.clip(grey, dark, light) - dark) / (light - dark)
    covered = np.clip(np.arange(sites) + 1.0 - (1.0 - share[..., np.newaxis]) * sites, 0.0, 1.0)
    off = grey - np.clip(grey, dark, light)
    return np.asarray(dark + (light - dark) * covered + off[..., np.newaxis])


def _size(area: Area, step: Step) -> Shift:
    if step == "ground":
        return GROUND
    if step == "preshade":
        return MIST
    return MIXED if len(area.coats[step].mix.ingredients) > 1 else COAT
