"""One stage of an area: what lies below, over all its tones, patches and sites, and what the eye sees of it.

Patches are the parts of the area under local effects, sites the places between which a sprayed film varies.
Arrays have the axes (row, wavelength, site, tone, patch), of length 1 where nothing varies; a level has its
coordinates as third axis.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from layersim import colour
from layersim.optics import cones, flakes, surface
from layersim.optics.cones import Air
from layersim.optics.flakes import Coating, Mirror
from layersim.spectra import FloatArray


@dataclass(frozen=True, eq=False)
class Layer:
    """What some rows of an area look like after one stage."""

    below: FloatArray
    sheen: FloatArray
    """Share of the first reflection that is seen, (row, tone, patch)."""
    weights: FloatArray
    """Share of each tone that a patch covers, (tone, patch)."""
    under: dict[str, list[int]] = field(default_factory=dict)
    """Which patches lie under each local effect."""
    mirror: Mirror | None = None
    """What has a direction, once there are flakes of metal; with all of its axes."""

    @classmethod
    def whole(
        cls, below: FloatArray, sheen: FloatArray, *, tones: int, mirror: Mirror | None = None
    ) -> Layer:
        """Return a stage without patches; `sheen` has shape (row, tone or 1)."""
        everywhere = np.broadcast_to(sheen[:, :, np.newaxis], (len(sheen), tones, 1))
        return cls(below, everywhere, np.ones((tones, 1)), mirror=mirror)

    def coated(self, coat: Coating, film_um: FloatArray, gloss: FloatArray) -> Layer:
        """Return the stage after a coat; `gloss` is what the dry coat shows where it is thick."""
        below, mirror = flakes.lay(coat, film_um=film_um, over=self.below, mirror=self.mirror)
        # The sheen is that of the mean film: a film a micrometre thin levels over its sites.
        mean = film_um.mean(axis=2)[:, 0]
        sheen = surface.blended_sheen(self.sheen, coat_sheen=gloss, thickness_um=mean)
        return Layer(below, sheen, self.weights, self.under, mirror)

    def touched(
        self, patch: str, covered: FloatArray, coat: Coating, film_um: FloatArray, gloss: FloatArray
    ) -> Layer:
        """Return the stage after a local effect, which covers a share of each tone, (tone,)."""
        split = self if patch in self.under else self._split(patch, covered)
        here = split.under[patch]
        part = Layer(
            _part(split.below, here),
            split.sheen[:, :, here],
            split.weights[:, here],
            mirror=split.mirror and split.mirror.each(lambda one: _part(one, here)),
        )
        laid = part.coated(coat, film_um, gloss)
        sheen = split.sheen.copy()
        sheen[:, :, here] = laid.sheen
        mirror = laid.mirror
        if mirror is not None:
            shape = (*mirror.share.shape[:-1], split.weights.shape[1])
            whole = (split.mirror or Mirror(*np.zeros((3, *shape)))).grouped(split.below)
            # What is laid next may lie on flakes on one patch, and on paint beside it.
            mirror = mirror.grouped(laid.below)
            mirror = whole.each(lambda old, new: _replaced(old, here, new), mirror)
        return Layer(_replaced(split.below, here, laid.below), sheen, split.weights, split.under, mirror)

    def seen(self, air: Air | None, at: flakes.Direction | None = None) -> FloatArray:
        """Return what is seen on each patch and site; `at` matters where there are flakes."""
        sheen = self.sheen[:, np.newaxis, np.newaxis]
        return flakes.seen(self.below, self.mirror, sheen=sheen, air=air, at=at)

    def shine(self, air: Air | None) -> tuple[FloatArray, FloatArray]:
        """Return what has a direction, and the variances of the slopes of its flakes and of its surface.

        Of the first row, averaged over sites: shape (tone, patch, 31), and (tone, patch, 2).
        """
        shape = (*self.weights.shape, self.below.shape[1])
        if self.mirror is None:
            return np.zeros(shape), np.zeros((*shape[:2], 2))
        mirror = self.mirror
        mean = (mirror.share * mirror.variance)[0].sum(axis=(0, 1)) / np.maximum(
            mirror.share[0].sum(axis=(0, 1)), 1e-300
        )
        directed = flakes.directed(mirror, air=air or cones.directions())
        share = directed[0].mean(axis=1).transpose(1, 2, 0)
        surface = flakes.surface_variance(self.sheen[0])
        slopes = np.stack(np.broadcast_arrays(mean, surface), axis=-1)
        return np.broadcast_to(share, shape), np.broadcast_to(slopes, (*shape[:2], 2))

    def average(self, seen: FloatArray) -> FloatArray:
        """Return what the eye averages over sites and patches, (row, tone, 31)."""
        patches = seen.mean(axis=2)
        return np.asarray(np.einsum("rwtp,tp->rtw", patches, self.weights))

    def mottle(self, seen: FloatArray, viewing: colour.Viewing) -> FloatArray:
        """Return the mean ΔE00 of one row's sites around their own patch's average, (tone,)."""
        seen = seen.transpose(2, 3, 1, 0)
        own = colour.lab(seen.mean(axis=-2, keepdims=True), viewing)
        off = colour.delta_e_2000(colour.lab(seen, viewing), own)
        return np.asarray((off.mean(axis=-1) * self.weights).sum(axis=1))

    def _split(self, patch: str, covered: FloatArray) -> Layer:
        """Return every patch so far in two: a part beside the new one, then a part under it."""
        share, count = covered[:, np.newaxis], self.weights.shape[1]
        twice = [*range(count), *range(count)]
        under = {name: lying + [i + count for i in lying] for name, lying in self.under.items()}
        return Layer(
            _part(self.below, twice),
            np.concatenate([self.sheen, self.sheen], axis=2),
            np.concatenate([self.weights * (1.0 - share), self.weights * share], axis=1),
            under | {patch: list(range(count, 2 * count))},
            self.mirror and self.mirror.each(lambda one: _part(one, twice)),
        )


def _part(values: FloatArray, patches: list[int]) -> FloatArray:
    if values.shape[-1] == 1:  # all patches alike
        patches = [0] * len(patches)
    return np.take(values, patches, axis=-1)


def _replaced(values: FloatArray, patches: list[int], laid: FloatArray) -> FloatArray:
    """Return values with those of some patches replaced."""
    # A new coat may be the first to bring in sites or tones, on axes that were one long so far.
    shape = np.broadcast_shapes(values[..., :1].shape, laid[..., :1].shape)
    whole = np.broadcast_to(values, (*shape[:-1], values.shape[-1])).copy()
    whole[..., patches] = laid
    return whole
