"""How well a paint fitted to a photographed card predicts: pigments kept back, cards as cameras see them.

The protocol. Every pigment of ``HELD_OUT`` is sprayed at half a coat, one, two and four over the black and
the white of a printed test card, rendered by radiative transfer; the card is photographed through a camera's
sensitivities in a light that is no daylight, with 1 % noise, 15 % falloff, slight perspective and as a JPEG
of quality 90, a 24-patch chart beside it (tests/measure/camera.py); in some conditions once more under
another lamp. A coat is 2.5 to 4 µm, drawn for each paint. The paint is fitted from those files alone, by what
``layersim fit`` does. Then the stacks of :mod:`tests.validation.measured_fit` are predicted, and compared at
D65, 2°.
"""

from __future__ import annotations

import functools
import os
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from layersim.errors import LayersimError
from layersim.fitting.photographed import fit_photograph
from layersim.fitting.result import Fit
from layersim.measure.card import CardLayout, standard_card
from layersim.measure.photoswatch import OtherLight, PhotographedSet, from_layout
from layersim.optics import cones
from layersim.shelf import Shelf
from layersim.spectra import FloatArray
from tests.judge import radiative_transfer as judge
from tests.measure.camera import Shot, photograph, save_jpeg
from tests.validation.document import table
from tests.validation.errors import four
from tests.validation.measured_fit import GEOMETRY, WHITE, compared, grounds, stacks
from tests.validation.ranges import drawn
from tests.validation.world import PRESHADE_UM

SEEDS: Final = 1
STACKS: Final = 60
LAYOUT: Final = standard_card()
# Less than a camera's twelve megapixels, to save time: a patch still has some 3000 pixels.
BASE: Final = Shot(width_px=900, height_px=1200, oversample=1)

WANTED: Final = 3.5
"""The largest error that one photograph with a chart was to reach."""
OTHER_CHART: Final = "ISO 17321-1"
"""A measured 24-patch chart that is ΔE00 0.8 on average, 1.9 at most, off the published one."""


PHONE: Final = BASE.but(camera="B", light="D65", developed="maker", look="phone 5")
"""A maker's look that nothing was tuned on, through a camera that nothing was tuned on."""


@dataclass(frozen=True)
class Condition:
    """How the cards were photographed."""

    words: str
    shot: Shot
    other: Shot | None = None
    """The same card under another lamp."""


CONDITIONS: Final = (
    Condition("camera A, bulb, camera's own colours", BASE.but(camera="A", light="A", developed="camera")),
    Condition("camera A, bulb, sRGB", BASE.but(camera="A", light="A", developed="maker")),
    Condition("camera A, tube, camera's own colours", BASE.but(camera="A", light="FL2", developed="camera")),
    Condition("camera A, LED, sRGB", BASE.but(camera="A", light="LED-B3", developed="maker")),
    Condition(
        "camera C, LED, camera's own colours", BASE.but(camera="C", light="LED-B1", developed="camera")
    ),
    Condition("camera D, bulb, camera's own colours", BASE.but(camera="D", light="A", developed="camera")),
    Condition("camera D, LED, sRGB", BASE.but(camera="D", light="LED-B3", developed="maker")),
    Condition(
        "two lamps: camera A, bulb and LED, sRGB",
        BASE.but(camera="A", light="A", developed="maker"),
        BASE.but(camera="A", light="LED-B3", developed="maker"),
    ),
    Condition(
        "two lamps: camera A, bulb and tube, camera's own colours",
        BASE.but(camera="A", light="A", developed="camera"),
        BASE.but(camera="A", light="FL2", developed="camera"),
    ),
    Condition(
        "two lamps: camera D, bulb and LED, camera's own colours",
        BASE.but(camera="D", light="A", developed="camera"),
        BASE.but(camera="D", light="LED-B3", developed="camera"),
    ),
    Condition(
        "two lamps, another specimen of the chart: camera A, bulb and LED, sRGB",
        BASE.but(camera="A", light="A", developed="maker", chart=OTHER_CHART),
        BASE.but(camera="A", light="LED-B3", developed="maker", chart=OTHER_CHART),
    ),
    Condition(
        "another specimen of the chart: camera A, LED, sRGB",
        BASE.but(camera="A", light="LED-B3", developed="maker", chart=OTHER_CHART),
    ),
    Condition("a phone's look: camera B, daylight", PHONE),
    Condition("another phone's look: camera B", PHONE.but(look="phone 6", light="LED-B1", exposure=0.65)),
    Condition(
        "two lamps, a phone's look: camera B, bulb and LED",
        PHONE.but(light="A"),
        PHONE.but(light="LED-B3"),
    ),
    Condition("neutrals only: camera A, bulb, sRGB", BASE.but(camera="A", light="A", chart=None)),
    Condition("neutrals only: camera A, LED, sRGB", BASE.but(camera="A", light="LED-B3", chart=None)),
)


@dataclass(frozen=True)
class Outcome:
    """What came of one condition: arrays of shape (stacks, tones[, 3])."""

    errors: FloatArray
    within: FloatArray
    within_lab: FloatArray
    fits: Mapping[str, Fit]
    refused: Mapping[str, str]


def swatch_spectra(name: str, coat_um: float, layout: CardLayout = LAYOUT) -> dict[str, FloatArray]:
    """Return the reflectance of every painted place of a card."""
    below = dict(zip(("black", "white"), grounds(), strict=True))
    return {
        patch.name: judge.render(
            [judge.Film(judge.HELD_OUT[name], patch.coats * coat_um)],
            ground=below[patch.ground],
            geometry=GEOMETRY,
        )
        for patch in layout.patches
        if patch.coats > 0.0
    }


def bare_spectra() -> dict[str, FloatArray]:
    """Return the reflectance of the two bare grounds."""
    return {
        word: judge.emergent_reflectance(ground, geometry=GEOMETRY)
        for word, ground in zip(("black", "white"), grounds(), strict=True)
    }


def photographed(
    name: str, coat_um: float, shot: Shot, path: Path, *, other: Shot | None = None
) -> PhotographedSet:
    """Photograph a paint's card, and return the swatches on it."""
    again = path.with_name("other-lamp.jpg")
    for taken, file in ((shot, path), (other, again)):
        if taken is not None:
            frame = photograph(LAYOUT, swatch_spectra(name, coat_um), bare_spectra(), taken)
            save_jpeg(file, frame, quality=taken.quality)
    bare, swatches = from_layout(LAYOUT, sheen=0.0)
    return PhotographedSet(
        paint=name,
        kind="paint",
        volume_solids=0.3,
        wet_film_um=coat_um / 0.3,
        sheen=0.0,
        photograph=path,
        other_light=None if other is None else OtherLight(photograph=again),
        layout=LAYOUT,
        grounds=bare,
        swatches=swatches,
        invented=True,
    )


def fitted(condition: Condition, seed: int, folder: Path) -> tuple[dict[str, Fit], dict[str, str]]:
    """Return a fit of every pigment, or why there is none."""
    rng = np.random.default_rng(seed)
    fits, refused = {}, {}
    for i, name in enumerate(judge.HELD_OUT):
        shot = condition.shot.but(seed=100 * seed + i)
        other = condition.other and condition.other.but(seed=5000 + 100 * seed + i)
        card = photographed(name, float(rng.uniform(2.5, 4.0)), shot, folder / "card.jpg", other=other)
        try:
            fits[name] = fit_photograph(card, Shelf([]))
        except LayersimError as fault:
            refused[name] = str(fault).split(": ", 1)[1]
    return fits, refused


def judged(condition: Condition, *, seeds: int = SEEDS, count: int = STACKS) -> Outcome:
    """Return how one condition's predictions compare with radiative transfer."""
    errors, within, within_lab = [], [], []
    fits: dict[str, Fit] = {}
    refused: dict[str, str] = {}
    bare = judge.emergent_reflectance(grounds()[0], geometry=GEOMETRY)
    for seed in range(seeds):
        with tempfile.TemporaryDirectory() as folder:
            fits, refused = fitted(condition, seed, Path(folder))
        media = {}
        for i, (name, fit) in enumerate(fits.items()):
            K, S = drawn(fit.paint, seed=100 * seed + i)
            media[name] = cones.medium(K_per_um=K[:, np.newaxis], S_per_um=S[:, np.newaxis])
        pre = cones.lay(
            media[WHITE],
            thickness_um=np.array(PRESHADE_UM)[:, np.newaxis],
            over=cones.ground_from_seen(bare, sheen=0.0),
        )
        for stack in stacks(seed, count):
            if any(name not in media for name, *_ in stack.films):
                continue
            off, held, held_by_axis = compared(stack, media, pre)
            errors.append(off)
            within.append(held)
            within_lab.append(held_by_axis)
    return Outcome(np.array(errors), np.array(within), np.array(within_lab), fits, refused)


@functools.cache
def outcomes() -> tuple[Outcome, ...]:
    """Return what came of every condition."""
    return tuple(judged(condition) for condition in CONDITIONS)


def twelve_megapixels() -> tuple[float, float, float]:
    """Return processor and wall time, s, and peak memory, MB, of a photograph's way to a paint file.

    A process of its own, started and imports included, with one thread.
    """
    shot = BASE.but(width_px=3000, height_px=4000)
    code = (
        "import sys, time; begun = time.perf_counter(); from layersim.cli import main; "
        "code = main(sys.argv[1:]); status = open('/proc/self/status').read(); "
        "peak = float(status.split('VmHWM:')[1].split()[0]) / 1024; "
        "print(code, time.process_time(), time.perf_counter() - begun, peak)"
    )
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        photographed("yellow ochre", 3.0, shot, folder / "card.jpg")
        (folder / "card.toml").write_text(_SWATCHES, encoding="utf-8")
        command = [
            sys.executable,
            "-c",
            code,
            "fit",
            str(folder / "card.toml"),
            "--out",
            str(folder / "o.toml"),
            "--no-picture",
        ]
        done = subprocess.run(
            command,
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
        )
    returned, cpu, wall, peak = done.stdout.splitlines()[-1].split()
    if returned != "0":
        raise RuntimeError(done.stderr)
    return float(cpu), float(wall), float(peak)


_SWATCHES: Final = """\
format = "layersim swatches 1"
name = "ochre"
volume_solids = 0.3
wet_film_um = 10.0
sheen = "gloss"
[photograph]
file = "card.jpg"
[[ground]]
name = "black"
sheen = "gloss"
[[ground]]
name = "white"
sheen = "gloss"
"""


def tables() -> dict[str, str]:
    """Return the tables of this section."""
    return {
        "photographed-fit": _stacks(),
        "photographed-fit-paints": _paints(),
        "photographed-fit-time": _times(),
    }


def _stacks() -> str:
    rows = []
    for condition, outcome in zip(CONDITIONS, outcomes(), strict=True):
        held = [
            f"{100 * share:.0f} %" for share in (outcome.within.mean(), *outcome.within_lab.mean(axis=(0, 1)))
        ]
        refused = ", ".join(outcome.refused) or "none"
        over = f"{100 * (outcome.errors > WANTED).mean():.1f} %"
        rows.append([condition.words, *four(outcome.errors.ravel()), over, *held, refused])
    head = [
        "ΔE00 of stacks",
        "mean",
        "median",
        "95 %",
        "largest",
        f"over {WANTED}",
        "90 % range holds: ΔE00",
        "L\\*",
        "a\\*",
        "b\\*",
        "refused",
    ]
    return table(head, rows)


def _paints() -> str:
    rows = []
    stacks_of = stacks(0, STACKS)
    for name in judge.HELD_OUT:
        cells = [name]
        for outcome in outcomes()[:2]:
            usable = [s for s in stacks_of if all(film.name in outcome.fits for film in s.films)]
            top = [e for e, s in zip(outcome.errors, usable, strict=True) if s.films[-1].name == name]
            fit = outcome.fits.get(name)
            cells += [
                f"{np.mean(top):.2f}" if top else "-",
                f"{fit.verdict.reach:.2f}" if fit else "refused",
                fit.verdict.grade if fit else "-",
            ]
        rows.append(cells)
    head = ["uppermost film", *(f"{what}, {how}" for how in ("own colours", "sRGB") for what in _HEADS)]
    return table(head, rows)


_HEADS: Final = ("ΔE00 of stacks", "reach", "verdict")


def _times() -> str:
    cpu, wall, peak = twelve_megapixels()
    row = ["12 megapixels to a paint file", f"{cpu:.1f}", f"{wall:.1f}", f"{peak:.0f}"]
    return table(["a whole run", "processor time, s", "wall time, s", "peak memory, MB"], [row])
