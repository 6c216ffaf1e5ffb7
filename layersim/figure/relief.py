"""Edges and recesses of a form, at a stated scale: where chips sit and a wash runs to.

**How much a surface is bent.** The mean curvature H of a mesh stands on its edges: on a part B of the surface

    ∫_B H dA = ½ Σ β |e ∩ B|                                                                   (F4)

with β the angle between the two triangles at an edge e, above zero where it is convex (D. Cohen-Steiner and
J.-M. Morvan, "Restricted Delaunay triangulations and normal cycle", Symposium on Computational Geometry 2003,
312). It is spread over a length ℓ, and told against a right angle:

    h − ℓ² ∇²h = H,   bend = (8 / π) ℓ h                                                        (F5)

with the Laplacian's cotangent weights (U. Pinkall and K. Polthier, Experimental Mathematics 2 (1993), 15). So
it depends on the form and on ℓ, not on how the form is cut into triangles. On a straight edge of angle β the
bend is (2β / π) exp(−x / ℓ) at a distance x: 1 on the ridge of a right angle, −1 in a right-angled inner
corner, 8ℓ / (πr) on a sphere of radius r and half of it on a cylinder. (Both follow from F5.)

**What stands close by.** Bodies that only touch or pierce each other share no edge. What they hide tells
where they meet: of the directions from a place, weighted by their cosine, the share that is met within a
distance d. Beside a tall wall at a distance x that is

    hidden = (arccos s − s √(1 − s²)) / π,   s = x / d                                         (F6)

(the part of a disc beyond a chord: by Nusselt's analogue a cosine-weighted direction is a place of the disc),
½ in the corner itself. A recess is the larger of −bend and twice what is hidden, at most 1.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from layersim.figure.finer import Faces
from layersim.spectra import FloatArray

SCALE: Final = 0.01
"""The length ℓ, of the form's longest side: a third of a millimetre of a figure of 32 mm."""
CLOSE: Final = 2.0 * SCALE
"""The distance d."""
FAR: Final = 10.0
"""No form of which the longest side is 1 hides anything so far away."""
# So slim a triangle holds its ends together as well as a slimmer one would; numbers stay small.
_MOST_WEIGHT: Final = 20.0
_EXACT: Final = 1e-5
_MOST_ROUNDS: Final = 1000


def bend(points: FloatArray, faces: Faces, *, over: float = SCALE) -> FloatArray:
    """Return how much a surface is bent at its points, (F5), shape (n,): 1 on the ridge of a right angle.

    `over` is the length ℓ, in the points' unit. An edge of one triangle, of
    three, or of two that face unlike ways is taken as flat.
    """
    from scipy import sparse
    from scipy.sparse.linalg import cg

    count = len(points)
    corners = points[faces]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    twice = np.linalg.norm(across, axis=1)
    normals = across / twice[:, np.newaxis]
    # Of each triangle three edges, from i to j, with the third corner beside them.
    i, j, beside = (faces[:, order].T.ravel() for order in ([0, 1, 2], [1, 2, 0], [2, 0, 1]))
    triangle = np.tile(np.arange(len(faces)), 3)
    u, v = points[i] - points[beside], points[j] - points[beside]
    cotangent = np.einsum("ij,ij->i", u, v) / twice[triangle]
    keys = np.minimum(i, j) * count + np.maximum(i, j)
    order = np.argsort(keys, kind="stable")
    edges, first, uses = np.unique(keys[order], return_index=True, return_counts=True)
    weight = np.clip(0.5 * np.add.reduceat(cotangent[order], first), 0.0, _MOST_WEIGHT)

    first = first[uses == 2]
    one, other = order[first], order[first + 1]
    alike = i[one] == j[other]
    one, other = one[alike], other[alike]
    along = points[j[one]] - points[i[one]]
    n, m = normals[triangle[one]], normals[triangle[other]]
    length = np.linalg.norm(along, axis=1)
    sine = np.einsum("ij,ij->i", np.cross(n, m), along) / length
    # Each end has half of what (F4) says of an edge.
    quarter = 0.25 * length * np.arctan2(sine, np.einsum("ij,ij->i", n, m))
    curved = np.bincount(i[one], quarter, minlength=count) + np.bincount(j[one], quarter, minlength=count)

    surface = np.bincount(faces.ravel(), np.repeat(twice / 6.0, 3), minlength=count)
    ends = np.divmod(edges, count)
    links = sparse.coo_array((weight, ends), shape=(count, count))
    links = links + links.T
    diagonal = surface + over**2 * links.sum(axis=1)
    diagonal[diagonal <= 0.0] = 1.0  # points of no triangle
    system = sparse.diags_array(diagonal) - over**2 * links.tocsr()
    h, _ = cg(system, curved, rtol=_EXACT, maxiter=_MOST_ROUNDS, M=sparse.diags_array(1.0 / diagonal))
    return np.asarray(8.0 / np.pi * over * h)
