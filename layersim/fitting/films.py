"""From swatches as the painter wrote them down to films and grounds as the fit knows them.

**The scale of thickness.** Where only coats are counted, the film of n coats is taken to be (M4 of
:mod:`layersim.optics.mixing`) X = n v w, with w the set's ``wet_film_um`` and v the volume solids of
the thinned mix: K and S are then per micrometre of that nominal film. A painter whose coats are
twice as thick finds half of K and S, and predicts the same colours for the same coats. What is
common to all films therefore need not be known; what differs from swatch to swatch does, and each
film has an error of its own. Only where a tint brings in a paint known by itself does the
common scale show, as one more nuisance.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np

from layersim.errors import FitError, LayersimError, quoted
from layersim.estimate import Estimate
from layersim.fitting.problem import Films, Nuisance
from layersim.fitting.surfaces import AS_SAID, SurfaceSeen
from layersim.fitting.two_constant import rows_of
from layersim.measure.swatch import THIS_PAINT, Laid, Sprayed
from layersim.optics import cones, mixing
from layersim.paint import Paint
from layersim.shelf import Shelf
from layersim.spectra import BANDS, FloatArray

FILM_ERRORS: Final[dict[Laid, Estimate]] = {
    "sprayed": Estimate(0.15, error=1.0),
    "brushed": Estimate(0.30, error=1.0),
}
"""How far a swatch's film may be from what its coats say, one standard deviation, until the swatches tell.

Common practice, no source; two brushings of the same coats on stone differed by ΔE00 3.4 (measured, an open
data set). Of a coat or more; of c < 1 coats it is taken to be 1/√c of that (an assumption)."""
MEASURED_FILM_ERROR: Final = 0.02
"""The same where the film was measured (an assumption)."""
PARTS_ERROR: Final = 0.05
"""The same of the parts of a tint: a scheme's own default for parts by the drop."""
SURFACE: Final = "share of the surface's reflection in the readings"
"""Name of the nuisance that :mod:`layersim.fitting.surfaces` finds."""
_SHEEN_STEP: Final = 1e-4
COAT_ERROR: Final = 0.15
"""How far one coat of this sprayer may be from the nominal: a scheme's own default for films."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Below:
    """What lies under swatches; admittances are arrays of cone, cross and trapped, shape (3, 31)."""

    admittance: FloatArray
    noise: FloatArray
    """What one standard deviation of its own measurement does to it, band by band."""
    paint: Paint | None = None
    """The primer, where it is known by name."""
    reflectance: FloatArray
    """As seen without gloss."""
    by_sheen: FloatArray
    """Its change for a change of the share of its surface's first reflection in the reading."""
    modes: FloatArray = field(default_factory=lambda: np.zeros((0, 3, BANDS)))
    """Its change for one standard deviation of each way in which it may be another, shape (k, 3, 31)."""


@dataclass(frozen=True, kw_only=True)
class Maker:
    """How a painter's coats become films."""

    wet_film_um: float
    volume_solids: float
    """Of the paint to be fitted, one coat as supplied."""
    sheen: float
    """Share of its surface's reflection that was seen."""
    surface: SurfaceSeen = AS_SAID
    """How far that share may be off."""
    film_error: float | Estimate = FILM_ERRORS["sprayed"]
    """How far films are off, relative: as it was told, or as it is thought until the swatches say."""
    parts_error: float = PARTS_ERROR
    """As :data:`PARTS_ERROR`."""


def hand_of(laid: Laid, told: float | Estimate | None) -> float | Estimate:
    """Return how far films are off: as it was told, or as is usual for how they were laid."""
    hand = FILM_ERRORS[laid] if told is None else told
    return hand.value if isinstance(hand, Estimate) and hand.error == 0.0 else hand


def swatches_worth(hand: Estimate) -> float:
    """Return how many swatches would tell as well how uneven a hand is: n tell it within 1/√2n."""
    return 0.5 / hand.error**2 if hand.error > 0.0 else np.inf


def measured_ground(reflectance: FloatArray, noise: FloatArray, *, sheen: float) -> Below:
    """Return a ground measured bare.

    `reflectance`, `noise`: shape (31,). `sheen`: share of its surface's first reflection in the
    reading.
    """
    k1 = cones.directions().k1
    # No darker than its surface alone and no lighter than a perfect white, whatever the noise.
    lightest = 1.0 - (1.0 - sheen) * k1
    inside = np.clip(reflectance, sheen * k1, lightest)
    step = np.where(inside + noise < lightest, noise, -noise)

    def at(R: FloatArray, sheen: float) -> FloatArray:
        return rows_of(cones.ground_from_seen(R, sheen=sheen))

    admittance = at(inside, sheen)
    return Below(
        admittance=admittance,
        noise=at(np.maximum(inside + step, sheen * k1), sheen) - admittance,
        reflectance=inside - sheen * k1,
        by_sheen=(at(inside, sheen + _SHEEN_STEP) - admittance) / _SHEEN_STEP,
    )


def primed_ground(paint: Paint) -> Below:
    """Return an opaque primer known by its K and S."""
    primer = cones.endless(cones.medium(K_per_um=paint.K_per_um, S_per_um=paint.S_per_um))
    return Below(
        admittance=rows_of(primer),
        noise=np.zeros((3, BANDS)),
        paint=paint,
        reflectance=cones.seen(primer, sheen=0.0),
        by_sheen=np.zeros((3, BANDS)),
    )


def found_on(shelf: Shelf, name: str, where: Path, what: str) -> Paint:
    """Return a paint of the shelf. Raises FitError, which names the file and `what` wants the paint."""
    try:
        found = shelf.find(name)
    except LayersimError as fault:
        raise FitError(where, f"{what}: {fault}") from None
    if found.flakes is not None:
        raise FitError(where, f"{what}: {quoted(found.name)} is a metal; expected a paint without flakes")
    return found


def nominal_film_um(swatch: Sprayed, paints: Mapping[str, Paint], maker: Maker) -> float:
    """Return the dry film that a swatch's coats leave, or its measured one; ``inf`` where opaque.

    `paints`: the known paints of its mix. Returns µm.
    """
    if swatch.opaque:
        return float("inf")
    if swatch.dry_film_um is not None:
        return swatch.dry_film_um
    solids = mixing.mixed_volume_solids(
        parts=[part for _, part in swatch.parts], volume_solids=_solids(swatch, paints, maker)
    )
    coats = swatch.coats if swatch.coats is not None else 0.0
    film = mixing.dry_film_um(
        wet_film_um=maker.wet_film_um, volume_solids=solids / (1.0 + swatch.thinning), coats=coats
    )
    return float(film)


def films_of(
    swatches: Sequence[Sprayed],
    *,
    grounds: Mapping[str, Below],
    paints: Mapping[str, Paint],
    maker: Maker,
    bare: Sequence[tuple[str, str]] = (),
) -> Films:
    """Return swatches as films over grounds; `paints` are the known ones of tints.

    Places where a ground lies bare come last, each given by its name and ground: films of no thickness.
    """
    own, b = len(swatches), len(bare)
    shares = [_shares(swatch, paints, maker) for swatch in swatches]
    # An opaque swatch without a ground may stand on anything.
    anything = next(iter(grounds.values()), None) or measured_ground(
        np.full(BANDS, 0.5), np.full(BANDS, 0.01), sheen=0.0
    )
    under = [*(swatch.ground for swatch in swatches), *(ground for _, ground in bare)]
    below = [anything if name is None else grounds[name] for name in under]
    known = np.zeros((2, own + b, BANDS))
    for i, share in enumerate(shares):
        for name, part in share.items():
            if name != THIS_PAINT:
                known[:, i] += part * np.stack([paints[name].K_per_um, paints[name].S_per_um])
    film_error = np.array([_film_error(s, maker) for s in swatches] + [0.0] * b)
    hand = maker.film_error if isinstance(maker.film_error, Estimate) else None
    guessed = [hand is not None and not s.opaque and s.dry_film_um is None for s in swatches]
    return Films(
        names=(*(s.name for s in swatches), *(name for name, _ in bare)),
        thickness_um=np.array([nominal_film_um(s, paints, maker) for s in swatches] + [0.0] * b),
        share=np.array([share.get(THIS_PAINT, 0.0) for share in shares] + [1.0] * b),
        known=known,
        ground=np.stack([one.admittance for one in below], axis=1),
        sheen=maker.sheen,
        film_error=film_error,
        guessed_error=np.where(guessed + [False] * b, film_error, 0.0),
        guess_weight=swatches_worth(hand) if hand else 0.0,
        guessed_hand=hand.value if hand else 0.0,
        ground_noise=np.stack([one.noise for one in below[:own]] + [np.zeros((3, BANDS))] * b, axis=1),
        nuisances=tuple(_nuisances(swatches, shares, known, under, below, paints, maker)),
    )


def _nuisances(
    swatches: Sequence[Sprayed],
    shares: Sequence[dict[str, float]],
    known: FloatArray,
    under: Sequence[str | None],
    below: Sequence[Below],
    paints: Mapping[str, Paint],
    maker: Maker,
) -> Iterator[Nuisance]:
    """Yield everything uncertain that is neither the paint nor one swatch's film."""
    own, m = len(swatches), len(below)

    def new(name: str, *, considered: bool = False) -> Nuisance:
        return Nuisance(name, np.zeros((2, m, BANDS)), np.zeros((3, m, BANDS)), np.zeros(m), considered)

    primers = [b.paint for name, b in zip(under, below, strict=True) if name and b.paint]
    tints = [paints[name] for share in shares for name in share if name != THIS_PAINT]
    for paint in {paint.name: paint for paint in (*primers, *tints)}.values():
        part = np.zeros((m, 1))
        for i, share in enumerate(shares):
            part[i] = sum(p for name, p in share.items() if name != THIS_PAINT and paints[name] is paint)
        constants = np.stack([paint.K_per_um, paint.S_per_um])[:, np.newaxis]
        brings = np.divide(part * constants, known, out=np.zeros_like(known), where=known > 0.0)
        for doubt in paint.doubts:
            one = new(f"{paint.name}: {doubt.words}")
            one.known[:] = np.stack([doubt.log_K, doubt.log_S])[:, np.newaxis] * brings
            moved = _moved_primer(paint, doubt.log_K, doubt.log_S)
            one.ground[:, [b.paint is paint for b in below]] = moved[:, np.newaxis]
            yield one
    tinted = [len(share) > 1 for share in shares]
    for i in np.flatnonzero(tinted if maker.parts_error > 0.0 else []).tolist():
        one = new(f"parts of {swatches[i].name}")
        one.known[:, i] = maker.parts_error
        yield one
    # A known paint may tell the sprayer's own film per coat.
    if any(tinted) and any(s.dry_film_um is None and not s.opaque for s in swatches):
        one = new("film of one coat")
        one.known[:, np.flatnonzero(tinted)] = COAT_ERROR
        yield one
    if maker.surface.doubt > 0.0:
        one = new(SURFACE, considered=True)
        one.seen[:own] = maker.surface.doubt
        one.ground[:, :own] = maker.surface.doubt * np.stack([b.by_sheen for b in below[:own]], axis=1)
        yield one
    for name, ground in {name: b for name, b in zip(under, below, strict=True) if name}.items():
        for i, shift in enumerate(ground.modes):
            one = new(f"{name}: spectrum {i + 1}")
            one.ground[:, [other == name for other in under]] = shift[:, np.newaxis]
            yield one


def _moved_primer(paint: Paint, log_K: FloatArray, log_S: FloatArray) -> FloatArray:
    """Return the shift of an opaque primer's admittance, shape (3, 31), for one standard deviation."""
    ends = [
        cones.endless(
            cones.medium(
                K_per_um=paint.K_per_um * np.exp(h * log_K), S_per_um=paint.S_per_um * np.exp(h * log_S)
            )
        )
        for h in (-0.5, 0.5)
    ]
    return rows_of(ends[1]) - rows_of(ends[0])


def _film_error(swatch: Sprayed, maker: Maker) -> float:
    if swatch.opaque:
        return 0.0
    hand = maker.film_error.value if isinstance(maker.film_error, Estimate) else maker.film_error
    if swatch.dry_film_um is not None:
        return min(hand, MEASURED_FILM_ERROR)
    return hand / math.sqrt(min(1.0, swatch.coats or 1.0))


def _solids(swatch: Sprayed, paints: Mapping[str, Paint], maker: Maker) -> list[float]:
    return [
        maker.volume_solids if name == THIS_PAINT else paints[name].volume_solids for name, _ in swatch.parts
    ]


def _shares(swatch: Sprayed, paints: Mapping[str, Paint], maker: Maker) -> dict[str, float]:
    dry = mixing.dry_shares(
        parts=[part for _, part in swatch.parts], volume_solids=_solids(swatch, paints, maker)
    )
    return {name: float(share) for (name, _), share in zip(swatch.parts, dry, strict=True)}
