"""From a scheme to its tones: every film laid over the one below, at every tone, with its range.

Row 0 of the deviates is the prediction; then come rows in which everything uncertain varies at once, which
give the range; then rows in which one thing alone is off by a standard deviation, which tell what matters
most. The model's own error (:mod:`layersim.scheme.modelerror`) has no such rows: what it does is what the
draws do beyond all else. Rows are worked through a few at a time, so that a whole stack stays in the
processor's cache.
"""

from __future__ import annotations

import itertools
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim import colour
from layersim.chance import check_counts, normal_hypercube, range_of, reach_of
from layersim.errors import SchemeError
from layersim.optics import cones, flakes, spray
from layersim.optics.levels import level_of
from layersim.scheme import modelerror
from layersim.scheme.drawn import DAYLIGHT, Drawn
from layersim.scheme.factors import factors_of
from layersim.scheme.oddities import oddities, stages_of
from layersim.scheme.patches import Layer
from layersim.scheme.prediction import AreaPrediction, AtAngle, Cause, Prediction, Shine
from layersim.scheme.records import Area, GreysGiven, GreysSprayed, Scheme
from layersim.spectra import BANDS, FloatArray

SITES: Final = 8
"""Enough to be within ΔE00 0.03 of 512 sites on the demo scheme."""
DRAWS: Final = 64
_AXIS_POINTS: Final = 129
_LEAST_SHADE: Final = 1.0
"""Lightness L* that a preshade must gain at the least: less is no gradient."""
# Values of one array in a block: a dozen such arrays stay in a second-level cache.
_CACHED_VALUES: Final = 16384


def simulate(
    scheme: Scheme,
    *,
    tones: int = 9,
    viewing: colour.Viewing | None = None,
    sites: int = SITES,
    draws: int = DRAWS,
    seed: int = 0,
    reasons: bool = True,
) -> Prediction:
    """Return what a scheme predicts.

    Tones lie along the shade axis, evenly spaced in the preshade's lightness. `viewing` takes the place of
    the scheme's own light and observer. Films vary between `sites`; hand and bottles are drawn `draws` times
    for the range, 0 for none. Without `reasons` neither causes of the range nor what is hardly meant are
    looked for, which takes less time; colours and ranges are the same.

    Raises SchemeError if a preshade does not get lighter from shadow to highlight, ValueError if tones
    or draws are out of their range, see :func:`layersim.chance.check_counts`.
    """
    check_counts(tones=tones, draws=draws)
    seen_under = viewing or scheme.viewing
    notices = list(scheme.notices)
    areas = tuple(
        AreaModel(scheme, area, tones=tones, sites=sites, seed=seed).predict(
            seen_under, draws, notices, reasons=reasons
        )
        for area in scheme.areas
    )
    return Prediction(scheme=scheme, viewing=seen_under, areas=areas, notices=tuple(dict.fromkeys(notices)))


@dataclass(frozen=True, eq=False)
class _Stages:
    """What an area's stages look like."""

    seen: FloatArray
    """Reflectance, (view, row, stage, tone, 31)."""
    sheen: FloatArray
    """Of the first row, (stage, tone)."""
    mottle: FloatArray
    """Of the last row, (stage, tone)."""
    shine: Shine | None
    """Of the first row."""


def _averaged(layer: Layer, air: cones.Air | None) -> tuple[FloatArray, FloatArray]:
    """Return what has a direction averaged over patches, (tone, 31), and its slopes, (tone, 2)."""
    share, slopes = layer.shine(air)
    share = share * layer.weights[..., np.newaxis]
    total = share.sum(axis=-1)
    mean = (total[..., np.newaxis] * slopes).sum(axis=1) / np.maximum(total.sum(axis=1), 1e-300)[
        :, np.newaxis
    ]
    return share.sum(axis=1), mean


def _at_angle(
    degrees: float, seen: FloatArray, viewing: colour.Viewing, draws: int
) -> tuple[AtAngle, FloatArray]:
    """Return what the first row looks like with its range from `draws` more, and L*a*b* of all rows."""
    lab = colour.lab_from_xyz(colour.xyz(seen, viewing), viewing.white)
    low, high = range_of(lab[1 : 1 + draws], lab[0]) if draws else (None, None)
    return AtAngle(degrees, seen[0], colour.xyz(seen[0], viewing), lab[0], low, high), lab


class AreaModel:
    """One area, ready to be worked out for any rows of normal deviates.

    `factors` says what the columns of the deviates stand for. `places` are where the tones lie, from the
    deepest shadow (0) to the full highlight (1) in shares of the sprayed preshade. Give them to see two
    schemes at the same places of the model; by default the tones are spaced evenly in `shade`, the L* of the
    bare preshade. `exposure` is each tone's share of the full preshade film.

    With `landing` the tones are any `places` of a form, along given greys, too: of a coat by its number, how
    many times the film that is usual at that place of the axis lands on each of them.
    """

    def __init__(
        self,
        scheme: Scheme,
        area: Area,
        *,
        tones: int,
        sites: int = SITES,
        seed: int = 0,
        places: FloatArray | None = None,
        landing: Mapping[int, FloatArray] | None = None,
    ) -> None:
        self.scheme, self.area, self.tones, self.seed = scheme, area, tones, seed
        self._landing = landing
        self.factors = factors_of(scheme, area)
        self.column = {factor.key: i for i, factor in enumerate(self.factors)}
        preshade = area.preshade
        self._coat_spreads = [spray.spread_of_coats(spread=c.spread, coats=c.coats) for c in area.coats]
        self._preshade_spread, reach = 0.0, 0.0
        if isinstance(preshade, GreysSprayed):
            reach = preshade.reach
            self._preshade_spread = spray.spread_of_coats(spread=preshade.spread, coats=preshade.passes)
        self._spotty = (isinstance(preshade, GreysSprayed) and preshade.spot_um > 0.0) or (
            isinstance(preshade, GreysGiven) and preshade.spotted > 0.0
        )
        uneven = self._preshade_spread > 0.0 or any(spread > 0.0 for spread in self._coat_spreads)
        self._sites = sites if uneven or self._spotty else 1
        # The preshade's own comes first, as it is sprayed.
        orders = spray.independent_orders(coats=1 + len(area.coats), sites=self._sites, seed=seed)
        self._preshade_order, self._coat_orders = orders[0], orders[1:]
        self.exposure, self.shade = self._axis(places)
        even = self._even(places)
        self.places = (self.exposure - reach) / (1.0 - reach) if preshade is not None else even

    def reflectance(self, z: FloatArray) -> FloatArray:
        """Return what is seen, shape (row, stage, tone, 31), for rows of deviates, one column a factor."""
        drawn = self._drawn(z)
        return np.asarray(self._stages(drawn, self.scheme.viewing, drawn.spots()).seen[0])

    def finish(self, z: FloatArray) -> FloatArray:
        """Return what is seen of the finish, shape (row, tone, 31): the last stage of :meth:`reflectance`."""
        drawn = self._drawn(z)
        found = self._stages(drawn, self.scheme.viewing, drawn.spots(), finish_only=True)
        return np.asarray(found.seen[0][:, 0])

    def looks(self, z: FloatArray) -> FloatArray:
        """Return the finish at each of :data:`~layersim.optics.flakes.ANGLES_DEG`, (look, row, tone, 31).

        Without metal all looks are alike.
        """
        drawn = self._drawn(z)
        degrees = flakes.ANGLES_DEG
        found = self._stages(drawn, self.scheme.viewing, drawn.spots(), finish_only=True, degrees=degrees)
        return np.stack([seen[:, 0] for seen in found.seen])

    def on_patches(self, viewing: colour.Viewing, *, stage: int) -> FloatArray:
        """Return XYZ of each tone at a stage as predicted, on each patch by itself, shape (patch, tone, 3).

        The second half of the patches has the last local effect so far on it, of either half the second that
        before it, and so on. Of an area with metal there are five more values (:class:`Shine`): the first
        are XYZ of what is even, then come XYZ of what has a direction, and its two variances of slopes.
        """
        drawn = self._drawn(np.zeros((1, len(self.factors))))
        row = slice(0, 1)
        layer = next(itertools.islice(self._laying(drawn, drawn.spots())(row), stage, None))
        air = drawn.air()
        surface = None if air is None else cones.air_of(air, row)
        seen = layer.seen(surface).mean(axis=2)[0]
        wide = np.broadcast_to(seen, (BANDS, self.tones, layer.weights.shape[1])).transpose(2, 1, 0)
        if not self.area.is_metal:
            return colour.xyz(wide, viewing)
        share, slopes = (one.swapaxes(0, 1) for one in layer.shine(surface))
        even = wide - share * flakes.usual_lobe(slopes)[..., np.newaxis]
        parts = (np.maximum(colour.xyz(one, viewing), 0.0) for one in (even, share))
        return np.concatenate([*parts, slopes], axis=-1)

    def predict(
        self, viewing: colour.Viewing, draws: int, notices: list[str], *, reasons: bool = True
    ) -> AreaPrediction:
        """Return the area's prediction; add to `notices` what the user should know."""
        if reasons:
            notices.extend(oddities(self.scheme, self.area, shade=self.shade))
        z = self._deviates(draws)
        z = z if reasons else z[: 1 + draws]
        # No eye sees single spots: how blotchy a place looks is what is left without them, in a last row.
        drawn = self._drawn(np.concatenate([z, z[:1]]) if self._spotty else z)
        spots = drawn.spots()
        if self._spotty:
            spots[-1] = 0.0
        degrees = flakes.ANGLES_DEG if self.area.is_metal else (flakes.TURNED,)
        found = self._stages(drawn, viewing, spots, degrees=degrees)
        angles = [
            _at_angle(angle, seen[: len(z)], viewing, draws)
            for angle, seen in zip(degrees, found.seen, strict=True)
        ]
        usual, lab = angles[degrees.index(flakes.TURNED)]
        reach = reach_of(colour.delta_e_2000(lab[1 : 1 + draws], lab[0])) if draws else None
        return AreaPrediction(
            name=self.area.name,
            stages=stages_of(self.area),
            shade=self.shade,
            has_preshade=self.area.preshade is not None,
            reflectance=usual.reflectance,
            xyz=usual.xyz,
            lab=usual.lab,
            lab_low=usual.lab_low,
            lab_high=usual.lab_high,
            reach=reach,
            mottle=found.mottle,
            sheen=found.sheen,
            angles=tuple(one for one, _ in angles) if self.area.is_metal else (),
            shine=found.shine,
            causes=tuple(self._causes(z, lab[:, -1], draws)) if draws and reasons else (),
            targets=self.area.targets.under(viewing),
        )

    def _drawn(self, z: FloatArray) -> Drawn:
        return Drawn(self.scheme, self.area, self.column, z)

    def _deviates(self, draws: int) -> FloatArray:
        """Return rows of normal deviates: none, then a hypercube of draws, then each factor alone."""
        none = np.zeros((1, len(self.factors)))
        if not draws:
            return none
        alone = np.eye(len(self.factors)) * [factor.towards for factor in self.factors]
        rows = np.array([not factor.key.of_model for factor in self.factors], dtype=bool)
        together = normal_hypercube(len(self.factors), draws, seed=self.seed)
        return np.concatenate([none, together, alone[rows]])

    def _causes(self, z: FloatArray, lab: FloatArray, draws: int) -> list[Cause]:
        """Return why the finish may turn out otherwise, largest first.

        Rows of `z` are those of :meth:`_deviates`, and `lab` has shape (row, tone, 3).
        """
        alone = [factor for factor in self.factors if not factor.key.of_model]
        sizes = colour.delta_e_2000(lab[1 + draws :], lab[0]).mean(axis=-1)
        found = [Cause(one.what, one.advice, float(size)) for one, size in zip(alone, sizes, strict=True)]
        if len(alone) < len(self.factors):
            # What the draws do beyond everything that stands alone, each in proportion to its deviate.
            steps = z[1 : 1 + draws] @ z[1 + draws :].T
            steps = np.maximum(steps, [-one.room for one in alone])
            left = lab[1 : 1 + draws] - np.tensordot(steps, lab[1 + draws :] - lab[0], axes=1)
            size = np.sqrt((colour.delta_e_2000(left, lab[0]) ** 2).mean(axis=0)).mean()
            found.append(Cause(modelerror.CAUSE, modelerror.ADVICE, float(size)))
        return sorted(found, key=lambda cause: -cause.delta_e)

    def _even(self, places: FloatArray | None) -> FloatArray:
        """Return where the tones lie along what has no spray, 0 to 1."""
        return np.linspace(0.0, 1.0, self.tones) if places is None or self._landing is None else places

    def _axis(self, places: FloatArray | None) -> tuple[FloatArray, FloatArray]:
        """Return each tone's share of the full preshade film, and the lightness of its preshade."""
        preshade = self.area.preshade
        even = self._even(places)
        if preshade is None:
            return np.ones(self.tones), even * 100.0
        if isinstance(preshade, GreysGiven):
            return even, preshade.darkest + (preshade.lightest - preshade.darkest) * even
        # Lightness rises fastest over the first of the white, so the steps are smallest there.
        exposure = preshade.reach + (1.0 - preshade.reach) * np.linspace(0.0, 1.0, _AXIS_POINTS) ** 2
        none = self._drawn(np.zeros((1, len(self.factors))))
        below, mirror = none.primer()
        white = none.coating(preshade.mix, "preshade")
        film = self._preshade_film(none, preshade, exposure, none.spots())
        below, mirror = flakes.lay(white, film_um=film, over=below, mirror=mirror)
        sheen = none.preshade_sheen(preshade, exposure)
        layer = Layer.whole(below, sheen, tones=len(exposure), mirror=mirror)
        lightness = colour.lab(layer.average(layer.seen(None))[0], DAYLIGHT)[:, 0]
        if lightness[-1] - lightness[0] < _LEAST_SHADE:
            laid = f"{preshade.mix.words()} over {self.area.ground.name}"
            ends = f"L* {lightness[0]:.0f} in the shadow and {lightness[-1]:.0f} in the light"
            raise SchemeError(
                self.scheme.path or self.scheme.name,
                f'area "{self.area.name}", preshade: {laid} gives {ends}; '
                "expected a preshade that runs from dark to light. Is it the right paint, and neither so "
                "thin that it does nothing nor so thick that its drift covers the shadow?",
            )
        # The first trace of a glossy white may darken a matt primer: such films share a tone.
        lightness = np.maximum.accumulate(lightness)
        if places is not None:
            here = preshade.reach + (1.0 - preshade.reach) * places
            return here, np.interp(here, exposure, lightness)
        shade = lightness[0] + (lightness[-1] - lightness[0]) * even
        return np.interp(shade, lightness, exposure), shade

    def _preshade_film(
        self, drawn: Drawn, preshade: GreysSprayed, exposure: FloatArray, spots: FloatArray
    ) -> FloatArray:
        return drawn.preshade_film(
            preshade, exposure, spread=self._preshade_spread, spots=spots, order=self._preshade_order
        )

    def _stages(
        self,
        drawn: Drawn,
        viewing: colour.Viewing,
        spots: FloatArray,
        *,
        finish_only: bool = False,
        degrees: tuple[float, ...] = (flakes.TURNED,),
    ) -> _Stages:
        """Return what is seen at some degrees from the mirror direction; `spots` has one value a row."""
        count, air = len(drawn.z), drawn.air()
        layers_of = self._laying(drawn, spots)
        even = count - 1 if self._spotty else 0
        step = max(1, _CACHED_VALUES // (self.tones * self._sites * BANDS))
        views, at_usual = [flakes.turned(angle) for angle in degrees], degrees.index(flakes.TURNED)
        blocks, sheens, mottles, shines = [], [], [], []
        for first in range(0, count, step):
            rows = slice(first, min(first + step, count))
            surfaces = None if air is None else cones.air_of(air, rows)
            stages = []
            layers = layers_of(rows)
            for layer in deque(layers, maxlen=1) if finish_only else layers:
                seen = [layer.seen(surfaces, view) for view in views]
                stages.append([layer.average(one) for one in seen])
                if first == 0:
                    sheens.append((layer.sheen[0] * layer.weights).sum(axis=1))
                    if self.area.is_metal:
                        shines.append(_averaged(layer, surfaces))
                if first <= even < first + step:
                    mottles.append(layer.mottle(seen[at_usual][even - first], viewing))
            blocks.append(np.array(stages).transpose(1, 2, 0, 3, 4))
        seen_all = np.concatenate(blocks, axis=1)
        shine = None
        if self.area.is_metal:
            share, slopes = (np.stack(one) for one in zip(*shines, strict=True))
            usual = share * flakes.usual_lobe(slopes)[..., np.newaxis]
            shine = Shine(np.maximum(seen_all[at_usual, 0] - usual, 0.0), share, slopes)
        return _Stages(seen_all, np.array(sheens), np.array(mottles), shine)

    def _laying(self, drawn: Drawn, spots: FloatArray) -> Callable[[slice], Iterator[Layer]]:
        """Return what lays some of the rows and yields them after each stage."""
        area, preshade, tones = self.area, self.area.preshade, self.tones
        (primer, mirror), primer_sheen = drawn.primer(), drawn.primer_sheen()[:, np.newaxis]
        if isinstance(preshade, GreysSprayed):
            white = drawn.coating(preshade.mix, "preshade")
            white_film = self._preshade_film(drawn, preshade, self.exposure, spots)
            white_sheen = drawn.preshade_sheen(preshade, self.exposure)
        elif preshade is not None:
            greys_sheen = drawn.seen_share(np.full(len(drawn.z), preshade.sheen))
        landing = self._landing or {}
        shares = [
            coat.where.film_share(self.shade) * landing.get(index, 1.0)
            for index, coat in enumerate(area.coats)
        ]
        coats = [
            (
                drawn.coating(coat.mix, index),
                drawn.coat_film(index, share, spread=spread, order=order),
                drawn.coat_sheen(index, coat),
            )
            for index, (coat, share, spread, order) in enumerate(
                zip(area.coats, shares, self._coat_spreads, self._coat_orders, strict=True)
            )
        ]

        def layers(rows: slice) -> Iterator[Layer]:
            shining = mirror and mirror.each(lambda one: one[rows])
            layer = Layer.whole(primer[rows], primer_sheen[rows], tones=tones, mirror=shining)
            yield layer
            if isinstance(preshade, GreysSprayed):
                below, shining = flakes.lay(
                    white.rows(rows), film_um=white_film[rows], over=layer.below, mirror=shining
                )
                layer = Layer.whole(below, white_sheen[rows], tones=tones, mirror=shining)
                yield layer
            elif preshade is not None:
                sheen, order = greys_sheen[rows], self._preshade_order
                greys = drawn.rows(rows).given_greys(
                    preshade, self.shade, sheen, spots=spots[rows], order=order
                )
                layer = Layer.whole(level_of(greys), sheen[:, np.newaxis], tones=tones)
                yield layer
            for coat, share, (paint, film, gloss) in zip(area.coats, shares, coats, strict=True):
                here = paint.rows(rows), film[rows], gloss[rows]
                if coat.patch is None:
                    layer = layer.coated(*here)
                else:
                    layer = layer.touched(coat.patch, coat.coverage * share, *here)
                yield layer

        return layers
