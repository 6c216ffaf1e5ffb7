"""One area of a form painted: the colour of each of its points at each stage.

What a point becomes depends on its place on the shade axis, on how much of each coat lands there, and on what
local effects cover it. The last only mix, so each is worked out by itself and mixed at the point. The others
change smoothly: they are worked out at the corners of cells that hold points, and run straight between, cell
by cell over the simplex that a point lies in (H. W. Kuhn, IBM Journal of Research and Development 4 (1960),
518). So few stacks are laid, and all of them at once.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.figure.landing import covers, landing, share_at
from layersim.figure.repaint import TONES
from layersim.figure.sprayed import SprayedForm
from layersim.scheme.oddities import stages_of
from layersim.scheme.prediction import filter_span
from layersim.scheme.records import Area, GreysSprayed, Scheme
from layersim.scheme.simulate import AreaModel
from layersim.spectra import FloatArray

_ROOT_STEP: Final = 0.15
"""Shares of a film are told apart by their roots: a glaze changes most where it is thin."""
_TOGETHER: Final = 1024
"""Stacks that are laid at once, for the sake of memory."""


class PaintedArea:
    """The points of a form that are one area; `here` says which."""

    def __init__(self, scheme: Scheme, area: Area, sprayed: SprayedForm, here: npt.NDArray[np.int64]) -> None:
        self.scheme, self.area, self.here = scheme, area, here
        self.name, self.stages = area.name, stages_of(area)
        self.filter_span = filter_span(self.stages)
        self.model = AreaModel(scheme, area, tones=TONES)
        sprayed_white = isinstance(area.preshade, GreysSprayed)
        exposure = self.model.exposure if sprayed_white else np.linspace(0.0, 1.0, TONES)
        low = float(exposure[0])
        # What drifts into the deepest shadow is there already; spray adds the rest.
        self._tone = np.interp(low + (1.0 - low) * sprayed.share[here], exposure, np.arange(TONES))
        shade = np.interp(self._tone, np.arange(TONES), self.model.shade)
        self.landing = landing(area, sprayed, here, shade)
        """Where coats land that land not only along the axis, by their number, and how many times that."""
        self._shares = {place: share_at(place, sprayed)[here] for place, _ in self.landing.values()}
        self.covers = covers(area, sprayed, here, shade)

    def colours(self, viewing: colour.Viewing, stage: int) -> FloatArray:
        """Return XYZ of each point at a stage of the model's, shape (n, 3).

        Of an area with metal that is what looks alike from all sides; five more values are as of
        :meth:`AreaModel.on_patches`.
        """
        if not len(self.here):
            return np.zeros((0, 3))
        coats = stage - (self.area.preshade is not None)
        laid = {i: there for i, there in self.landing.items() if i < coats}
        places = list(dict.fromkeys(place for place, _ in laid.values()))
        axes = [self._tone, *(np.sqrt(self._shares[place]) / _ROOT_STEP for place in places)]

        def roots(cells: npt.NDArray[np.int64]) -> FloatArray:
            tone, *steps = cells.T
            share = dict(zip(places, ((_ROOT_STEP * one) ** 2 for one in steps), strict=True))
            model = AreaModel(
                self.scheme,
                self.area,
                tones=len(cells),
                places=self.model.places[tone],
                landing={i: times * share[place] for i, (place, times) in laid.items()},
            )
            # Cube roots run straighter than light does.
            return np.cbrt(model.on_patches(viewing, stage=stage)).swapaxes(0, 1)

        patches = between(np.stack(axes, axis=1), roots) ** 3
        weights = np.ones((len(self.here), 1))
        for cover in self.covers[: patches.shape[1].bit_length() - 1]:
            cover = cover[:, np.newaxis]
            weights = np.concatenate([weights * (1.0 - cover), weights * cover], axis=1)
        mixed = np.asarray(np.einsum("np,npc->nc", weights, patches))
        if self.area.is_metal:
            # A variance counts by what it belongs to: Y of what has a direction.
            shining = weights * patches[..., 4]
            slopes = np.einsum("np,npc->nc", shining, patches[..., 6:])
            mixed[:, 6:] = slopes / np.maximum(shining.sum(axis=1, keepdims=True), 1e-9)
        return mixed


def between(at: FloatArray, worked_out: Callable[[npt.NDArray[np.int64]], FloatArray]) -> FloatArray:
    """Return values at places of a grid, shape (n, d) in steps of it, from those at its corners.

    `worked_out` takes corners (m, d), each once, and returns their values, shape (m, ...).

    >>> between(np.array([[0.5, 0.25]]), lambda corners: corners @ np.array([1.0, 10.0]))
    array([3.])
    """
    base = np.floor(at).astype(np.int64)
    part = at - base
    order = np.argsort(-part, axis=1)
    falling = np.take_along_axis(part, order, axis=1)
    ends = np.zeros((len(at), 1))
    weights = -np.diff(np.concatenate([ends + 1.0, falling, ends], axis=1), axis=1)
    steps = np.cumsum(np.eye(at.shape[1], dtype=np.int64)[order], axis=1)
    corners = base[:, np.newaxis] + np.concatenate([np.zeros_like(base)[:, np.newaxis], steps], axis=1)
    # A corner that does not count may lie beyond the grid.
    corners = np.where(weights[..., np.newaxis] > 0.0, corners, corners[:, :1])
    shape = tuple(corners.reshape(-1, at.shape[1]).max(axis=0, initial=0) + 1)
    keys = np.ravel_multi_index(tuple(np.moveaxis(corners, -1, 0)), shape)
    each, which = np.unique(keys, return_inverse=True)
    cells = np.stack(np.unravel_index(each, shape), axis=1)
    values = np.concatenate(
        [worked_out(cells[i : i + _TOGETHER]) for i in range(0, max(len(cells), 1), _TOGETHER)]
    )
    return np.asarray(np.einsum("nk,nk...->n...", weights, values[which.reshape(keys.shape)]))
