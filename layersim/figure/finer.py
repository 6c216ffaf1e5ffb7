"""A mesh made finer: long edges are halved until none is longer than asked, and no surface moves."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.spectra import FloatArray

Faces = npt.NDArray[np.int64]

# Which corners (0, 1, 2) and middles (3 of 0-1, 4 of 1-2, 5 of 2-0) make a triangle's parts, by which of its
# edges are halved: 1 for 0-1, 2 for 1-2, 4 for 2-0.
_PARTS: Final = {
    1: ((0, 3, 2), (3, 1, 2)),
    2: ((0, 1, 4), (0, 4, 2)),
    4: ((0, 1, 5), (1, 2, 5)),
    3: ((3, 1, 4), (0, 3, 4), (0, 4, 2)),
    6: ((4, 2, 5), (0, 1, 4), (0, 4, 5)),
    5: ((0, 3, 5), (3, 1, 2), (3, 2, 5)),
    7: ((0, 3, 5), (3, 1, 4), (5, 4, 2), (3, 4, 5)),
}


def finer(points: FloatArray, faces: Faces, *, longest: float, most: int) -> tuple[FloatArray, Faces, Faces]:
    """Return points, triangles, and which triangle of the given ones each is a part of.

    Both triangles at an edge halve it alike, so that what was closed stays closed. Ends early rather than
    with more than `most` triangles.

    >>> points, faces, of = finer(np.eye(3), np.array([[0, 1, 2]]), longest=1.0, most=100)
    >>> len(points), len(faces), of.tolist()
    (6, 4, [0, 0, 0, 0])
    """
    of = np.arange(len(faces))
    while True:
        edges = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]], axis=2)
        length = np.linalg.norm(points[edges[..., 0]] - points[edges[..., 1]], axis=2)
        halved = length > longest
        code = halved @ np.array([1, 2, 4])
        grown = len(faces) + int(halved.sum())
        if not code.any() or grown > most:
            return points, faces, of
        keys, at = np.unique(edges[halved][:, 0] * len(points) + edges[halved][:, 1], return_inverse=True)
        middle = np.zeros_like(faces)
        middle[halved] = len(points) + at.ravel()
        first, second = np.divmod(keys, len(points))
        points = np.concatenate([points, 0.5 * (points[first] + points[second])])
        six = np.concatenate([faces, middle], axis=1)
        new, new_of = [faces[code == 0]], [of[code == 0]]
        for kind, parts in _PARTS.items():
            here = code == kind
            new += [six[here][:, part] for part in parts]
            new_of += [of[here]] * len(parts)
        faces, of = np.concatenate(new), np.concatenate(new_of)
