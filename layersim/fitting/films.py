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
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim.estimate import Estimate
from layersim.fitting.problem import Films
from layersim.fitting.surfaces import AS_SAID, Surface
from layersim.measure.swatch import THIS_PAINT, Laid, Sprayed
from layersim.optics import cones, mixing
from layersim.optics.cones import Admittance
from layersim.paint import Paint
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
    """What lies under swatches."""

    admittance: Admittance
    """Shape (31,)."""
    noise: Admittance
    """Shape (31,). What one standard deviation of its own measurement does to it, band by band."""
    paint: Paint | None
    """The primer, where it is known by name."""
    reflectance: FloatArray
    """Shape (31,). As seen without gloss."""
    by_sheen: FloatArray
    """Shape (3, 31). Change of the admittance's cone, cross and trapped for a change of the share of its
    surface's first reflection in the reading."""


@dataclass(frozen=True, kw_only=True)
class Maker:
    """How a painter's coats become films."""

    wet_film_um: float
    volume_solids: float
    """Of the paint to be fitted, one coat as supplied."""
    sheen: float
    """Share of its surface's reflection that was seen."""
    surface: Surface = AS_SAID
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
    inside = np.clip(reflectance, sheen * k1, 1.0 - (1.0 - sheen) * k1)
    one = cones.ground_from_seen(inside, sheen=sheen)
    step = np.where(inside + noise < 1.0 - (1.0 - sheen) * k1, noise, -noise)
    two = cones.ground_from_seen(np.maximum(inside + step, sheen * k1), sheen=sheen)
    other = cones.ground_from_seen(inside, sheen=sheen + _SHEEN_STEP)
    by_sheen = np.stack([other.cone - one.cone, other.cross - one.cross, other.trapped - one.trapped])
    return Below(
        admittance=one,
        noise=Admittance(two.cone - one.cone, two.cross - one.cross, two.trapped - one.trapped),
        paint=None,
        reflectance=inside - sheen * k1,
        by_sheen=by_sheen / _SHEEN_STEP,
    )


def primed_ground(paint: Paint) -> Below:
    """Return an opaque primer known by its K and S."""
    none = np.zeros(BANDS)
    primer = cones.endless(cones.medium(K_per_um=paint.K_per_um, S_per_um=paint.S_per_um))
    return Below(
        admittance=primer,
        noise=Admittance(none, none, none),
        paint=paint,
        reflectance=cones.seen(primer, sheen=0.0),
        by_sheen=np.zeros((3, BANDS)),
    )


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
) -> Films:
    """Return swatches as films over grounds.

    `paints`: the known paints of tints.
    """
    m = len(swatches)
    shares = [_shares(swatch, paints, maker) for swatch in swatches]
    known = np.zeros((2, m, BANDS))
    for i, share in enumerate(shares):
        for name, part in share.items():
            if name != THIS_PAINT:
                known[:, i] += part * np.stack([paints[name].K_per_um, paints[name].S_per_um])
    # An opaque swatch without a ground may stand on anything.
    anything = next(iter(grounds.values()), None) or measured_ground(
        np.full(BANDS, 0.5), np.full(BANDS, 0.01), sheen=0.0
    )
    below = [anything if s.ground is None else grounds[s.ground] for s in swatches]
    nuisances = _Nuisances(m)
    nuisances.add_doubts(swatches, shares, known, below, paints)
    nuisances.add_parts(swatches, shares, maker.parts_error)
    nuisances.add_coat(swatches, shares)
    nuisances.add_surface(below, maker.surface.doubt)
    film_error = np.array([_film_error(s, maker) for s in swatches])
    return Films(
        names=tuple(s.name for s in swatches),
        thickness_um=np.array([nominal_film_um(s, paints, maker) for s in swatches]),
        share=np.array([share.get(THIS_PAINT, 0.0) for share in shares]),
        known_K=known[0],
        known_S=known[1],
        ground=Admittance(
            cone=np.stack([b.admittance.cone for b in below]),
            cross=np.stack([b.admittance.cross for b in below]),
            trapped=np.stack([b.admittance.trapped for b in below]),
        ),
        sheen=maker.sheen,
        film_error=film_error,
        guessed_error=np.where(_guessed(swatches, maker), film_error, 0.0),
        guess_weight=swatches_worth(maker.film_error) if isinstance(maker.film_error, Estimate) else 0.0,
        guessed_hand=maker.film_error.value if isinstance(maker.film_error, Estimate) else 0.0,
        ground_noise=Admittance(
            cone=np.stack([b.noise.cone for b in below]),
            cross=np.stack([b.noise.cross for b in below]),
            trapped=np.stack([b.noise.trapped for b in below]),
        ),
        **nuisances.arrays(),  # type: ignore[arg-type]
    )


class _Nuisances:
    """Everything uncertain that is neither the paint nor one swatch's film, gathered one by one."""

    def __init__(self, swatches: int) -> None:
        self.m = swatches
        self.names: list[str] = []
        self.log_K: list[FloatArray] = []
        self.log_S: list[FloatArray] = []
        self.ground: list[FloatArray] = []
        self.seen: list[FloatArray] = []
        self.considered: list[bool] = []

    def _new(self, name: str) -> tuple[FloatArray, FloatArray, FloatArray]:
        self.names.append(name)
        none = np.zeros((self.m, BANDS))
        self.log_K.append(none.copy())
        self.log_S.append(none.copy())
        self.ground.append(np.zeros((3, self.m, BANDS)))
        self.seen.append(np.zeros(self.m))
        self.considered.append(False)
        return self.log_K[-1], self.log_S[-1], self.ground[-1]

    def add_doubts(
        self,
        swatches: Sequence[Sprayed],
        shares: Sequence[dict[str, float]],
        known: FloatArray,
        below: Sequence[Below],
        paints: Mapping[str, Paint],
    ) -> None:
        """Add every doubt of every paint that is taken as known."""
        primers = {
            b.paint.name: b.paint for s, b in zip(swatches, below, strict=True) if s.ground and b.paint
        }
        tints = {name: paints[name] for share in shares for name in share if name != THIS_PAINT}
        for paint in {p.name: p for p in (*primers.values(), *tints.values())}.values():
            for doubt in paint.doubts:
                log_K, log_S, ground = self._new(f"{paint.name}: {doubt.cause}")
                moved = _moved_primer(paint, doubt.log_K, doubt.log_S)
                for i, share in enumerate(shares):
                    part = sum(p for name, p in share.items() if name != THIS_PAINT and paints[name] is paint)
                    log_K[i] = doubt.log_K * _of(part * paint.K_per_um, known[0, i])
                    log_S[i] = doubt.log_S * _of(part * paint.S_per_um, known[1, i])
                    if below[i].paint is paint:
                        ground[:, i] = moved

    def add_parts(
        self, swatches: Sequence[Sprayed], shares: Sequence[dict[str, float]], error: float
    ) -> None:
        """Add how exactly each tint was mixed."""
        for i, (swatch, share) in enumerate(zip(swatches, shares, strict=True)):
            if len(share) > 1 and error > 0.0:
                log_K, log_S, _ = self._new(f"parts of {swatch.name}")
                log_K[i] = log_S[i] = error

    def add_coat(self, swatches: Sequence[Sprayed], shares: Sequence[dict[str, float]]) -> None:
        """Add the sprayer's own film per coat, where a known paint could tell it."""
        counted = [s.dry_film_um is None and not s.opaque for s in swatches]
        tinted = [len(share) > 1 for share in shares]
        if any(tinted) and any(counted):
            log_K, log_S, _ = self._new("film of one coat")
            log_K[tinted] = log_S[tinted] = COAT_ERROR

    def add_surface(self, below: Sequence[Below], doubt: float) -> None:
        """Add how much of the first reflection of all surfaces was seen."""
        if doubt > 0.0:
            self._new(SURFACE)
            self.considered[-1] = True
            self.seen[-1][:] = doubt
            for i, b in enumerate(below):
                self.ground[-1][:, i] = doubt * b.by_sheen

    def arrays(self) -> dict[str, object]:
        """Return the arguments of :class:`Films` that they make."""
        empty = np.zeros((0, self.m, BANDS))
        return {
            "nuisances": tuple(self.names),
            "known_log_K": np.stack(self.log_K) if self.names else empty,
            "known_log_S": np.stack(self.log_S) if self.names else empty,
            "ground_shift": np.stack(self.ground) if self.names else np.zeros((0, 3, self.m, BANDS)),
            "seen_shift": np.stack(self.seen) if self.names else np.zeros((0, self.m)),
            "considered": np.array(self.considered, dtype=np.bool_),
        }


def _moved_primer(paint: Paint, log_K: FloatArray, log_S: FloatArray) -> FloatArray:
    """Return the shift of an opaque primer's admittance, shape (3, 31), for one standard deviation."""
    ends = []
    for sign in (-0.5, 0.5):
        medium = cones.medium(
            K_per_um=paint.K_per_um * np.exp(sign * log_K), S_per_um=paint.S_per_um * np.exp(sign * log_S)
        )
        ground = cones.endless(medium)
        ends.append(np.stack([ground.cone, ground.cross, ground.trapped]))
    return np.asarray(ends[1] - ends[0])


def _of(part: FloatArray, whole: FloatArray) -> FloatArray:
    return np.divide(part, whole, out=np.zeros_like(whole), where=whole > 0.0)


def _film_error(swatch: Sprayed, maker: Maker) -> float:
    if swatch.opaque:
        return 0.0
    hand = maker.film_error.value if isinstance(maker.film_error, Estimate) else maker.film_error
    if swatch.dry_film_um is not None:
        return min(hand, MEASURED_FILM_ERROR)
    return hand / math.sqrt(min(1.0, swatch.coats or 1.0))


def _guessed(swatches: Sequence[Sprayed], maker: Maker) -> list[bool]:
    """Return which films are counted in coats of a hand that nobody told of."""
    if not isinstance(maker.film_error, Estimate):
        return [False] * len(swatches)
    return [not s.opaque and s.dry_film_um is None for s in swatches]


def _solids(swatch: Sprayed, paints: Mapping[str, Paint], maker: Maker) -> list[float]:
    return [
        maker.volume_solids if name == THIS_PAINT else paints[name].volume_solids for name, _ in swatch.parts
    ]


def _shares(swatch: Sprayed, paints: Mapping[str, Paint], maker: Maker) -> dict[str, float]:
    dry = mixing.dry_shares(
        parts=[part for _, part in swatch.parts], volume_solids=_solids(swatch, paints, maker)
    )
    return {name: float(share) for (name, _), share in zip(swatch.parts, dry, strict=True)}
