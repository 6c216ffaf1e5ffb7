"""What rows of deviates make of an area: its paints, films, sheens and greys, each as far off as they say.

One row is one outcome; a deviate of 0 is no error. Arrays run over (row, wavelength, site, tone,
patch), with axes of length 1 where nothing varies.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.chance import Source, Step
from layersim.metals import refractive_index
from layersim.optics import cones, flakes, mixing, spray, surface
from layersim.optics.cones import Admittance, Air
from layersim.optics.flakes import Coating, FlakeSheet, Mirror
from layersim.optics.levels import level_of
from layersim.paint import Paint
from layersim.scheme import modelerror
from layersim.scheme.factors import own_film_key
from layersim.scheme.ownfilms import own_film, takes_own_film
from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Hand, Mix, Scheme
from layersim.spectra import BANDS, FloatArray

Order = npt.NDArray[np.intp]
"""Which slice of a film lies on which site."""
DAYLIGHT: Final = colour.Viewing()
"""What a preshade's lightness is told in."""
_LEAST_FILM_UM: Final = 1e-6
_OPAQUE_UM: Final = 1e6
"""Film of a metal that is taken for an opaque primer."""
# From (row,) and (row, 31) to all axes.
_OF_ROWS: Final = (slice(None), None, None, None, None)
_OF_BANDS: Final = (slice(None), slice(None), None, None, None)


@dataclass(frozen=True, eq=False)
class Drawn:
    """One area under rows of deviates."""

    scheme: Scheme
    area: Area
    columns: Mapping[Source, int]
    """Which column of the deviates stands for which factor."""
    z: FloatArray
    """Shape (row, factor)."""

    def rows(self, rows: slice) -> Drawn:
        """Return some of the rows."""
        return dataclasses.replace(self, z=self.z[rows])

    @property
    def hand(self) -> Hand:
        """The hand that sprays."""
        return self.scheme.hand

    def deviate(self, key: Source) -> FloatArray:
        """Return the deviates of one factor, (row,); 0 where the area has no such factor."""
        column = self.columns.get(key)
        return np.zeros(len(self.z)) if column is None else self.z[:, column]

    def own(self, key: Source) -> FloatArray:
        """Return a deviate of the film model's own errors, as far as they count."""
        return self.hand.model * self.deviate(key)

    # Paints.

    def primer(self) -> tuple[FloatArray, Mirror | None]:
        """Return the bare ground, opaque, on all axes, and what has a direction of it."""
        mix = Mix(((self.area.ground, 1.0),))
        K, S = self._constants(mix, "ground")
        binder = level_of(cones.endless(cones.medium(K_per_um=K[_OF_BANDS], S_per_um=S[_OF_BANDS])))
        if not mix.is_metal:
            return binder, None
        film = np.full((len(self.z), 1, 1, 1, 1), _OPAQUE_UM)
        return flakes.lay(self.coating(mix, "ground"), film_um=film, over=binder, mirror=None)

    def coating(self, mix: Mix, step: Step) -> Coating:
        """Return what a step is laid with."""
        K, S = self._constants(mix, step)
        return flakes.coating(K_per_um=K, S_per_um=S, sheet=self._sheet(mix, step) if mix.is_metal else None)

    def _constants(self, mix: Mix, step: Step) -> tuple[FloatArray, FloatArray]:
        """Return K and S of a mix as it is in a step, shape (row, 31)."""
        shares = self._dry_shares(mix, step)
        each = [self._paint_constants(paint, step) for paint, _ in mix.ingredients]
        K, S = (
            np.einsum("ri,riw->rw", shares, np.stack(constants, axis=1))
            for constants in zip(*each, strict=True)
        )
        return K, S

    def _sheet(self, mix: Mix, step: Step) -> FlakeSheet:
        """Return the flakes of a mix; of several metals the mean by how much of the film each covers."""
        shares = self._dry_shares(mix, step)
        rows = len(self.z)
        cover, tilt2, rough = np.zeros(rows), np.zeros(rows), np.zeros(rows)
        reflected = np.zeros((rows, BANDS))
        for i, (paint, _) in enumerate(mix.ingredients):
            own = paint.flakes
            if own is None:
                continue
            log_cover, log_tilt, more = np.zeros((3, rows))
            for j, doubt in enumerate(paint.doubts):
                deviate = self.deviate(Source("paint", name=paint.name, number=j))
                log_cover += deviate * doubt.log_cover
                log_tilt += deviate * doubt.log_tilt
                more += deviate * doubt.rough
            part = shares[:, i] * own.cover_per_um * np.exp(log_cover)
            cover += part
            tilt2 += part * flakes.slope_variance(own.tilt_deg) * np.exp(2.0 * log_tilt)
            rough += part * (own.rough + more)
            reflected += part[:, np.newaxis] * flakes.in_cone(refractive_index(own.metal))
        tilt2, rough, reflected = tilt2 / cover, rough / cover, reflected / cover[:, np.newaxis]
        off = {key.name: self.own(key) for key in modelerror.flake_keys(step)}
        return FlakeSheet(
            cover,
            np.minimum(reflected * np.exp(modelerror.FLAKE_METAL * off["metal"])[:, np.newaxis], 1.0),
            tilt2 * np.exp(2.0 * modelerror.FLAKE_TILT * off["tilt"]),
            np.clip(rough + modelerror.FLAKE_ROUGH * off["rough"], 0.0, 1.0),
        )

    def _dry_shares(self, mix: Mix, step: Step) -> FloatArray:
        """Return each ingredient's share of the dry mix, (row, ingredient)."""
        off = [
            np.exp(self.hand.parts * self.deviate(Source("parts", step, number=i)))
            for i in range(len(mix.ingredients))
        ]
        return mixing.dry_shares(parts=mix.parts * np.stack(off, axis=-1), volume_solids=mix.solids)

    def _paint_constants(self, paint: Paint, step: Step) -> tuple[FloatArray, FloatArray]:
        """Return K and S of one paint in one step with its doubts and the model's, shape (row, 31)."""
        log_K, log_S = np.zeros((2, len(self.z), BANDS))
        for i, doubt in enumerate(paint.doubts):
            deviate = self.deviate(Source("paint", name=paint.name, number=i))[:, np.newaxis]
            log_K += deviate * doubt.log_K
            log_S += deviate * doubt.log_S
        if self.hand.model:
            for key, shift in modelerror.film_shifts(self.area, step, paint):
                deviate = self.own(key)[:, np.newaxis]
                log_K += deviate * shift[0]
                log_S += deviate * shift[1]
        return paint.K_per_um * np.exp(log_K), paint.S_per_um * np.exp(log_S)

    # Films, µm.

    def preshade_film(
        self, preshade: GreysSprayed, exposure: FloatArray, *, spread: float, spots: FloatArray, order: Order
    ) -> FloatArray:
        """Return the white's film, (row, 1, site, tone, 1), its sites in this order.

        `exposure` is each tone's share of the full film, `spread` what varies from place to place, and
        `spots` one value a row, as :meth:`spots` gives it.
        """
        X = preshade.total_film_um * self._film_error("preshade")[:, np.newaxis, np.newaxis]
        X = X * exposure[:, np.newaxis]
        kinds, kind = np.unique(spots, return_inverse=True)
        # What varies from place to place and what single spots do are independent: their squares add.
        film_um = max(preshade.total_film_um, _LEAST_FILM_UM)
        spreads = np.hypot(spread, spray.spread_of_spots(spot_um=kinds[:, np.newaxis], film_um=film_um))
        thin = spray.spread_where_thin(spread=spreads, share=exposure)
        X = X * self._joint("preshade", X)
        sites = spray.site_films(spread=thin, sites=len(order))[kind][..., order]
        return _on_axes(X * sites)

    def coat_film(self, index: int, share: FloatArray, *, spread: float, order: Order) -> FloatArray:
        """Return a coat's film, (row, 1, site, tone or 1, 1); `share` has one value a tone."""
        coat = self.area.coats[index]
        X = coat.total_film_um * self._film_error(index)[:, np.newaxis, np.newaxis]
        spreads: FloatArray = np.asarray(spread)
        if coat.patch is None and (share != 1.0).any():
            X = X * share[:, np.newaxis]
            spreads = spray.spread_where_thin(spread=spread, share=share)
        X = X * self._joint(index, X)
        sites = spray.site_films(spread=spreads, sites=len(order))[..., order]
        return _on_axes(X * sites)

    def _film_error(self, step: Step) -> FloatArray:
        """Return by how much a step's film is off: its own session's error, and the sprayer's, (row,)."""
        log = self.hand.film * self.deviate(Source("film", step))
        laid = self.area.coats[step] if isinstance(step, int) else self.area.preshade
        if takes_own_film(laid):
            sprayer = self.scheme.batch.sprayer
            log = log + own_film(sprayer).error * self.deviate(own_film_key(sprayer))
        return np.asarray(np.exp(log))

    def _joint(self, step: Step, film_um: FloatArray) -> FloatArray | float:
        """Return what a film (row, tone, 1) is multiplied by for the model's error where films meet."""
        if not self.hand.model:
            return 1.0
        deviate = self.own(Source("model", step, "joint"))
        return modelerror.film_factor(film_um, deviate[:, np.newaxis, np.newaxis])

    def spots(self) -> FloatArray:
        """Return how coarse the preshade is, (row,): the film of a spot, µm, or how far greys are spots."""
        preshade = self.area.preshade
        if isinstance(preshade, GreysSprayed):
            # In quarters of a standard deviation: many draws then have the same spots to be counted.
            coarser = np.round(4.0 * self.own(Source("mist"))) / 4.0
            return np.asarray(preshade.spot_um * np.exp(modelerror.SPOTS * coarser))
        if isinstance(preshade, GreysGiven):
            return modelerror.spotted(preshade.spotted, self.own(modelerror.SPOTTED_KEY))
        return np.zeros(len(self.z))

    # Surfaces: the share of the usual first reflection that is seen.

    def air(self) -> Air | None:
        """Return the surface with its doubt, one a row; None where there is none."""
        if modelerror.INDEX_KEY not in self.columns:
            return None
        return cones.air(index=modelerror.index(self.own(modelerror.INDEX_KEY))[_OF_ROWS])

    def primer_sheen(self) -> FloatArray:
        """Return the share that the bare ground shows, (row,)."""
        return self._share_off(Mix(((self.area.ground, 1.0),)))

    def preshade_sheen(self, preshade: GreysSprayed, exposure: FloatArray) -> FloatArray:
        """Return the share that the bare preshade shows, (row, tone)."""
        return surface.blended_sheen(
            self.primer_sheen()[:, np.newaxis],
            coat_sheen=self._share_off(preshade.mix)[:, np.newaxis],
            thickness_um=preshade.total_film_um * self._film_error("preshade")[:, np.newaxis] * exposure,
        )

    def coat_sheen(self, index: int, coat: Coat) -> FloatArray:
        """Return the share that a thick dry coat shows, (row, 1, 1)."""
        shares = self._dry_shares(coat.mix, index)
        return self._share_off(coat.mix, shares=shares, told=coat.sheen)[:, np.newaxis, np.newaxis]

    def seen_share(self, sheen: float | FloatArray) -> FloatArray:
        """Return the share of a surface's reflection that is seen, its doubt counted in, (row,).

        How much is seen depends on the room and on the hand that holds the model, alike for all surfaces.
        """
        return np.clip(sheen + self.hand.satin * self.deviate(Source("satin")), 0.0, 1.0)

    def _share_off(
        self, mix: Mix, *, shares: FloatArray | None = None, told: float | None = None
    ) -> FloatArray:
        """Return the share off a dry mix, (row,)."""
        if shares is None:
            dry = mixing.dry_shares(parts=mix.parts, volume_solids=mix.solids)
            shares = np.broadcast_to(dry, (len(self.z), len(dry)))
        surfaces = np.stack([self._paint_surface(paint) for paint, _ in mix.ingredients], axis=-1)
        own, first = np.einsum("ri,ari->ar", shares, surfaces)
        return np.asarray(self.seen_share(own if told is None else told) * first)

    def _paint_surface(self, paint: Paint) -> FloatArray:
        """Return a paint's own sheen, and its first reflection over the usual one, shape (2, row)."""
        sheen, first = np.full(len(self.z), paint.sheen), np.ones(len(self.z))
        for i, doubt in enumerate(paint.doubts):
            deviate = self.deviate(Source("paint", name=paint.name, number=i))
            sheen, first = sheen + deviate * doubt.sheen, first + deviate * doubt.first_reflection
        usual = surface.smooth_surface().k1
        return np.stack([np.clip(sheen, 0.0, 1.0), np.maximum(first, 0.0) * paint.first_reflection / usual])

    # Greys that are given.

    def given_greys(
        self, preshade: GreysGiven, shade: FloatArray, sheen: FloatArray, *, spots: FloatArray, order: Order
    ) -> Admittance:
        """Return what lies below given greys of some L*, (row, 31, site, tone, 1), its sites in this order.

        `sheen` and `spots` have one value a row.
        """
        Y = _luminance(shade + self.hand.greys * self.deviate(Source("greys"))[:, np.newaxis])
        air = self.air()
        k1 = np.full(len(self.z), surface.smooth_surface().k1) if air is None else np.ravel(air.k1)
        # No darker than the surface by itself, no lighter than all that comes back.
        # A perfect white sends back all that enters, and of what does not enter the sheen's share is seen.
        least, most = (end[_OF_ROWS] for end in (k1 * sheen, 1.0 - k1 * (1.0 - sheen)))
        dark, light = (float(end) for end in _luminance(np.array([preshade.darkest, preshade.lightest])))
        greys = Y[:, :, np.newaxis]
        if preshade.spotted > 0.0:
            apart = modelerror.spots(Y, dark=dark, light=light, sites=len(order))[..., order]
            greys = greys + spots[:, np.newaxis, np.newaxis] * (apart - greys)
        greys = np.repeat(_on_axes(greys), BANDS, axis=1)
        if preshade.tint:
            tint = modelerror.tint(preshade.tint, self.own(modelerror.TINT_KEY))
            tinted = modelerror.tinted(Y, tint[:, np.newaxis], dark=dark, light=light, viewing=DAYLIGHT)
            greys *= tinted.swapaxes(1, 2)[:, :, np.newaxis, :, np.newaxis]
        return cones.ground_from_seen(np.clip(greys, least, most), sheen=sheen[_OF_ROWS], air=air)


def _on_axes(values: FloatArray) -> FloatArray:
    """Return values (row, tone, site) as (row, 1, site, tone, 1)."""
    return np.ascontiguousarray(values.swapaxes(1, 2)[:, np.newaxis, :, :, np.newaxis])


def _luminance(lightness: FloatArray) -> FloatArray:
    """Return Y over that of white for neutral greys of some L*."""
    neutral = np.stack([lightness, np.zeros_like(lightness), np.zeros_like(lightness)], axis=-1)
    return colour.xyz_from_lab(neutral, np.ones(3))[..., 1]
