"""A form on which the preshade is sprayed: all that takes rays and no scheme, once for all its colours."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final, TypeAlias

import numpy as np

from layersim.figure import relief
from layersim.figure.form import (
    DIRECTIONS,
    FROM_ABOVE,
    NOZZLES,
    Form,
    Stroke,
    cone,
    deposit,
    share_of_full,
    sprayed,
)
from layersim.spectra import FloatArray

Progress: TypeAlias = Callable[[int, int], None]
_DOME: Final = 64
_OFF: Final = 1e-3
"""Of the form's longest side: how far from the surface one looks around."""


@dataclass(frozen=True, eq=False)
class SprayedForm:
    """A form with its preshade, of which each point has a value, shape (n,)."""

    form: Form
    share: FloatArray
    """Of the preshade's full film."""
    sky: FloatArray
    """How much of a large soft light it sees, 0 to 1."""
    edge: FloatArray
    """How much of an edge it is, 0 to 1 for one of a right angle or sharper."""
    recess: FloatArray
    """How much of a recess it is, 0 to 1 for a right-angled inner corner or a deeper one."""
    surface: FloatArray
    """How much of the surface it stands for; none where it is shut in and sees no light."""
    _from: dict[str, FloatArray] = field(default_factory=dict, repr=False)

    def share_from(self, direction: str) -> FloatArray:
        """Return each point's share of a film that is sprayed from a direction of DIRECTIONS, shape (n,).

        It is none where none of the form is seen from there.
        """
        if direction not in self._from:
            landed = deposit(self.form, [Stroke(DIRECTIONS[direction])])
            self._from[direction] = share_of_full(self.form, landed)
        return self._from[direction]


def spray_form(
    form: Form, strokes: Sequence[Stroke] = FROM_ABOVE, *, progress: Progress | None = None
) -> SprayedForm:
    """Return a form with its preshade sprayed on; `progress` is told how many of how many steps are done."""
    done, every = 0, NOZZLES * len(strokes) + _DOME + 1

    def step() -> None:
        nonlocal done
        done += 1
        if progress is not None:
            progress(done, every)

    share = sprayed(form, strokes, step=step)
    sky, close = around(form, step=step)
    places = np.zeros((int(form.place_of_point.max()) + 1, 3))
    places[form.place_of_point] = form.points
    bend = relief.bend(places, form.place_of_point[form.faces])[form.place_of_point]
    step()
    recess = np.maximum(-bend, 2.0 * close)
    return SprayedForm(
        form=form,
        share=share,
        sky=sky,
        edge=np.clip(bend, 0.0, 1.0),
        recess=np.clip(recess, 0.0, 1.0),
        surface=np.where(sky > 0.0, form.point_areas, 0.0),
    )


def around(form: Form, *, step: Callable[[], None] = lambda: None) -> tuple[FloatArray, FloatArray]:
    """Return how much of a dome of light each point sees, and how much is hidden close by (F6), 0 to 1, (n,).

    The dome is all around the form; a flat place that nothing hides sees all of it wherever it faces, so
    that no colour is darker for its direction alone.
    """
    seen, close = np.zeros((2, len(form.points)))
    for direction in cone((0.0, 0.0, 1.0), cone_deg=180.0, count=_DOME):
        facing = form.normals @ direction
        there = np.flatnonzero(facing > 0.0)
        clear = form.clear(form.points[there] + _OFF * form.normals[there], direction)
        seen[there] += facing[there] * (clear > relief.FAR)
        close[there] += facing[there] * (clear < relief.CLOSE)
        step()
    # The mean of a cosine over the sphere is a quarter.
    return np.minimum(seen / (_DOME / 4.0), 1.0), np.minimum(close / (_DOME / 4.0), 1.0)
