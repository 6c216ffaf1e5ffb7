"""The place in an area where a coat is sought: what lies below it, and what follows above.

Films are even here (the site-to-site spread of sprayed films is left to the prediction of the
answers; a preshade of spots is an even one of the same lightness), and local effects, coats with a
patch, are left out: a colour is matched beside them.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from layersim import colour
from layersim.optics import bulk, cones, mixing, surface
from layersim.optics.cones import Admittance, Medium
from layersim.scheme import modelerror
from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Mix, Scheme, Where
from layersim.scheme.simulate import AreaModel
from layersim.spectra import BANDS, FloatArray

_EVEN_STEPS: Final = 65
"""Places along the axis at which the even film is looked up."""


@dataclass(frozen=True, eq=False)
class Opening:
    """Everything about a place that stays the same whatever is laid there."""

    below: Admittance
    """Shape (tones, 31)."""
    sheen_below: FloatArray
    """Shape (tones,)."""
    later: tuple[tuple[Medium, FloatArray], ...]
    """Shape (tones, 1)). Paints and films that follow, bottom up."""
    sheen_kept: FloatArray
    sheen_added: FloatArray
    """Shape (tones,). What becomes of the new coat's sheen: kept · sheen + added."""
    share: FloatArray
    """Shape (tones,). Share of the new coat's full film."""
    viewing: colour.Viewing
    shade: FloatArray
    """Shape (tones,). Lightness of the bare preshade."""

    @cached_property
    def above(self) -> bulk.Rows:
        """All that lies above the new coat, arrays of shape (5, tones, 31)."""
        rows = bulk.bare_surface()
        shape = (5, len(self.share), BANDS)
        rows = bulk.Rows(
            *(np.broadcast_to(r[:, :, np.newaxis], shape) for r in (rows.numerator, rows.denominator))
        )
        for paint, film in reversed(self.later):
            rows = bulk.under(rows, paint, thickness_um=film)
        return rows

    def sheen(self, *, coat_sheen: FloatArray, film_um: FloatArray) -> FloatArray:
        """Return the sheen of the finished tones.

        `coat_sheen` and `film_um`, the full film of the new coat, have the shape (n,). Returns shape (n,
        tones).
        """
        left = np.exp(-film_um[:, np.newaxis] * self.share / surface.SHEEN_DEPTH_UM)
        new = coat_sheen[:, np.newaxis]
        return np.asarray(self.sheen_kept * (new + (self.sheen_below - new) * left) + self.sheen_added)

    def without(self) -> FloatArray:
        """Return L*a*b* of the finished tones with nothing laid here, shape (tones, 3)."""
        sheen = self.sheen(coat_sheen=np.zeros(1), film_um=np.zeros(1))[0]
        seen = bulk.seen_through(self.above, bulk.coordinates(self.below), sheen=sheen[:, np.newaxis])
        return colour.lab(seen, self.viewing)


def opening_in(
    scheme: Scheme,
    area: Area,
    *,
    at: int,
    where: Where,
    later: Sequence[Coat],
    tones: int,
) -> Opening:
    """Return the opening before coat `at` of an area.

    The coats before `at` lie below, and `later` follow above. `where` is that of the new coat.
    """
    below, sheen, shade = _before_coats(scheme, area, tones)
    for coat in area.coats[:at]:
        if coat.patch is None:
            film = coat.total_film_um * coat.where.film_share(shade)
            below = cones.lay(medium_of(coat.mix), thickness_um=film[:, np.newaxis], over=below)
            sheen = surface.blended_sheen(sheen, coat_sheen=coat.dry_sheen, thickness_um=film)
    kept, added = np.ones(tones), np.zeros(tones)
    above: list[tuple[Medium, FloatArray]] = []
    for coat in later:
        if coat.patch is None:
            film = coat.total_film_um * coat.where.film_share(shade)
            above.append((medium_of(coat.mix), film[:, np.newaxis]))
            left = np.exp(-film / surface.SHEEN_DEPTH_UM)
            kept, added = kept * left, coat.dry_sheen + (added - coat.dry_sheen) * left
    shape = (tones, BANDS)
    parts = (np.broadcast_to(part, shape) for part in (below.cone, below.cross, below.trapped))
    return Opening(
        below=Admittance(*parts),
        sheen_below=np.asarray(sheen),
        later=tuple(above),
        sheen_kept=kept,
        sheen_added=added,
        share=where.film_share(shade),
        viewing=scheme.viewing,
        shade=shade,
    )


def medium_of(mix: Mix) -> Medium:
    """Return a mix's two lines."""
    shares = mixing.dry_shares(parts=mix.parts, volume_solids=mix.solids)
    K, S = (
        mixing.mixed_constants(constants=np.array(constants), shares=shares)
        for constants in zip(*((paint.K_per_um, paint.S_per_um) for paint, _ in mix.ingredients), strict=True)
    )
    return cones.medium(K_per_um=K, S_per_um=S)


def _before_coats(scheme: Scheme, area: Area, tones: int) -> tuple[Admittance, FloatArray, FloatArray]:
    """Return the bare preshade: what lies below, its sheen and its lightness at each tone."""
    model = AreaModel(scheme, area, tones=tones)
    shade = model.shade
    primer = cones.endless(cones.medium(K_per_um=area.ground.K_per_um, S_per_um=area.ground.S_per_um))
    preshade = area.preshade
    if isinstance(preshade, GreysGiven):
        neutral = np.stack([shade, np.zeros(tones), np.zeros(tones)], axis=-1)
        Y = colour.xyz_from_lab(neutral, np.ones(3))[:, 1]
        Y = np.clip(Y, surface.smooth_surface().k1 * preshade.sheen, 1.0)
        ends = np.array([[preshade.darkest, 0.0, 0.0], [preshade.lightest, 0.0, 0.0]])
        dark, light = colour.xyz_from_lab(ends, np.ones(3))[:, 1]
        greys = Y[:, np.newaxis] * modelerror.tinted(
            Y, np.asarray(preshade.tint), dark=float(dark), light=float(light), viewing=colour.Viewing()
        )
        below = cones.ground_from_seen(greys, sheen=preshade.sheen)
        return below, np.full(tones, preshade.sheen), shade
    if isinstance(preshade, GreysSprayed):
        film = preshade.total_film_um * model.exposure
        if preshade.spot_um:
            # Spots look darker than an even film that used as much: the even film that looks as dark.
            fine = dataclasses.replace(area, preshade=dataclasses.replace(preshade, spot_um=0.0))
            even = AreaModel(scheme, fine, tones=_EVEN_STEPS)
            film = preshade.total_film_um * np.interp(shade, even.shade, even.exposure)
        below = cones.lay(medium_of(preshade.mix), thickness_um=film[:, np.newaxis], over=primer)
        sheen = surface.blended_sheen(
            area.ground.share_seen, coat_sheen=preshade.mix.sheen, thickness_um=film
        )
        return below, sheen, shade
    return primer, np.full(tones, area.ground.share_seen), shade
