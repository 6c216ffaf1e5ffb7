"""Where each coat lands on a form: along the shade axis, in recesses, on edges, or from where it is sprayed.

Along the axis a coat lands on a form as it does in a strip, where w(p) of its film lies. On a form further:

* A coat that is said to land on edges or in recesses lands there alone: of its film the share that the
  place is an edge or a recess (:mod:`layersim.figure.relief`). One that is sprayed from a side lands as the
  preshade does from there (F3).
* A wash that is laid with a brush runs into recesses and off edges:

      X(p) = X w(p) g(p) ⟨w⟩ / ⟨w g⟩,   g = 4^(recess − edge)                                     (F10)

  ⟨⟩ being means over the area's surface: as much paint lies on it as if it did not run. How much gathers is
  an assumption (common practice, no source). What is sprayed in thin coats dries where it lands.
* A local effect that covers a share c of the area covers the share c that is most of an edge, or of a
  recess. With q(p) the share of the surface that is more of it than p, it covers of p

      (c (1 + r) − q) / 2rc, from 0 to 1,   r = ½, or less where c is more than ⅔                (F11)

  so that it has a soft rim, and the mean over the surface is c. Where w < 1, surface counts by w.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.figure.form import DIRECTIONS
from layersim.figure.sprayed import SprayedForm
from layersim.scheme.records import Area, Coat
from layersim.spectra import FloatArray

_GATHERS: Final = 4.0
_RIM: Final = 0.5
# What differs by less is alike, and is covered alike: where a form is bent alike all over, how it is cut into
# triangles must not show. A twentieth of a right-angled edge; a ball as large as the form is bent as much.
_ALIKE: Final = 0.05


def usual_place(coat: Coat) -> str | None:
    """Return where a coat lands on a form besides along the axis; None for where it gets to.

    One of ON_FORM, or "gathers" for a wash that runs.
    """
    if coat.on_form is not None:
        return coat.on_form
    if coat.patch is not None:
        return "recesses" if coat.is_wash else "edges"
    return "gathers" if coat.is_wash and coat.by == "brush" else None


def share_at(place: str, sprayed: SprayedForm) -> FloatArray:
    """Return which share of its film a coat has at each of a form's points, shape (n,)."""
    if place in DIRECTIONS:
        return sprayed.share_from(place)
    if place == "gathers":
        return np.asarray(_GATHERS ** (sprayed.recess - sprayed.edge))
    return sprayed.recess if place == "recesses" else sprayed.edge


def landing(
    area: Area, sprayed: SprayedForm, here: npt.NDArray[np.int64], shade: FloatArray
) -> dict[int, tuple[str, float]]:
    """Return where coats land that do not land by the axis alone, and how many times their share there.

    By the coats' numbers; without local effects. `here` says which of a form's points are the area, `shade`
    what L* on the shade axis they have.
    """
    found = {}
    for index, coat in enumerate(area.coats):
        place = usual_place(coat) if coat.patch is None else None
        if place is None:
            continue
        times = 1.0
        if place == "gathers":
            usual = coat.where.film_share(shade) * sprayed.surface[here]
            gathered = float(usual @ share_at(place, sprayed)[here])
            times = float(usual.sum()) / gathered if gathered > 0.0 else 1.0
        found[index] = place, times
    return found


def covers(
    area: Area, sprayed: SprayedForm, here: npt.NDArray[np.int64], shade: FloatArray
) -> list[FloatArray]:
    """Return how far each local effect of an area covers some of a form's points, shape (n,) each.

    In the order in which they are first laid; `here` and `shade` as of :func:`landing`.
    """
    found: dict[str, FloatArray] = {}
    for coat in area.coats:
        if coat.patch is None or coat.patch in found:
            continue
        place = usual_place(coat)
        share = coat.where.film_share(shade)
        if place in DIRECTIONS:
            found[coat.patch] = coat.coverage * share * share_at(place, sprayed)[here]
        else:
            most = share_at(place or "edges", sprayed)[here]
            found[coat.patch] = share * covered(most, sprayed.surface[here] * share, coverage=coat.coverage)
    return list(found.values())


def covered(most: FloatArray, surface: FloatArray, *, coverage: float) -> FloatArray:
    """Return which share of places is covered, (F11), the most of something first; the mean is `coverage`.

    >>> covered(np.array([3.0, 1.0, 2.0, 0.0]), np.ones(4), coverage=0.5).round(3)
    array([1.  , 0.25, 0.75, 0.  ])
    """
    whole = surface.sum()
    if coverage <= 0.0 or whole <= 0.0:
        return np.zeros(len(most))
    levels, level = np.unique(-np.rint(most / _ALIKE), return_inverse=True)
    to = np.cumsum(np.bincount(level, surface, minlength=len(levels))) / whole
    rim = coverage * min(_RIM, 1.0 / coverage - 1.0)
    start, end = coverage - rim, coverage + rim
    # The integral of (F11) up to a share of the surface: places that are alike share what lies on them.
    within = np.clip(to, start, end)
    upto = np.minimum(to, start) + (within - start) * (2.0 * end - start - within) / (4.0 * max(rim, 1e-12))
    parts, share = np.diff(np.concatenate([[0.0], to])), np.diff(np.concatenate([[0.0], upto]))
    return np.asarray(np.divide(share, parts, out=np.zeros_like(share), where=parts > 0.0)[level])
