"""What is known, after some chips, of everything that is uncertain about predictions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from layersim.chance import Source
from layersim.names import slug
from layersim.scheme.factors import told_by_name
from layersim.scheme.records import Area
from layersim.spectra import FloatArray


class Column(NamedTuple):
    """A factor among those of several schemes."""

    scheme: int | None
    """Its number; None for what is the same in all of them."""
    area: str
    key: Source


def factor_key(scheme: int, area: Area, key: Source) -> Column:
    """Return a factor's key among the factors of several schemes, of which one has a number.

    The sprayer and the bottles are the same everywhere. Coats are told by their names: in a scheme edited
    since, another may stand in one's place.
    """
    if key.kind == "own film":
        return Column(None, "", Source("own film"))
    if key.kind == "paint":
        return Column(None, "", key)
    if isinstance(key.step, int):
        key = key._replace(step=told_by_name(area, key.step))
    if key.of_model or key.kind in ("satin", "mist"):
        # The film model errs alike in the same step, and one room and one airbrush serve all areas.
        return Column(None, "", key)
    return Column(scheme, slug(area.name), key)


@dataclass(frozen=True, eq=False)
class Posterior:
    """Most probable deviates, and their covariance."""

    columns: dict[Column, int]
    z: FloatArray
    covariance: FloatArray
    scatter: float
    """Standard deviation of the deviates of films, over what was thought of it."""
    coats: float
    """How many coats' worth is known of that."""

    def of(self, keys: Sequence[Column]) -> tuple[FloatArray, FloatArray]:
        """Return the deviates of some keys with their covariance; what no chip told is as it was before."""
        z, covariance = np.zeros(len(keys)), np.eye(len(keys))
        known = [i for i, key in enumerate(keys) if key in self.columns]
        columns = [self.columns[keys[i]] for i in known]
        z[known] = self.z[columns]
        covariance[np.ix_(known, known)] = self.covariance[np.ix_(columns, columns)]
        return z, covariance
