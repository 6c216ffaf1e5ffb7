"""What a photograph says of each patch: its mean, its noise, and what was left out and why.

Light falls unevenly on a card and a lens darkens its corners; both are smooth, and the card's own
bare surround shows them:

    ln v = q₀ + q₁x + q₂y + q₃x² + q₄xy + q₅y²        over the surround                    (U1)

q₀ to q₂ per channel, because two lamps may differ in colour; the curvature is common.

A patch is cut into blocks. Glare and shadows differ from the patch in whole blocks, and are thrown
out by comparison with the median block (median absolute deviation; P. J. Huber and E. M. Ronchetti,
Robust Statistics, 2nd ed., 2009, section 5.1). Noise is judged by how the remaining blocks' means
scatter, so that noise which a camera has smeared over neighbours is not counted as less:

    C = cov(block means) / blocks + σ_light² v vᵀ + σ_step² D M Mᵀ D                      (U2)

The last part is what rounding and JPEG do to an even patch as a whole, which no averaging removes: D is the
slope dv/dlevel of each channel, M makes RGB of luma and chroma.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.measure.card import Rect
from layersim.measure.localtone import lifted
from layersim.measure.photograph import Levels, Photograph
from layersim.measure.rectify import Placement, project
from layersim.spectra import FloatArray

EDGE_SHARE: Final = 0.18
"""Taken off each side of a patch: masked paint ends in a ridge and a feathered rim."""

BESIDE_SPOILT: Final = "shadow, glare or overspray on the card's surround beside it"
"""Flag of a patch whose surround does not fit the light over the card."""

_BLOCKS: Final = 6
_MOST_PIXELS_A_SIDE: Final = 110
_FEWEST_PIXELS: Final = 100
_MAD_TO_SIGMA: Final = 1.4826  # Gaussian noise; Huber and Ronchetti, section 5.1
_OUTLIER_SIGMAS: Final = 4.0
_SMALLEST_STEP: Final = 0.03  # blocks nearer to the median than 3 % are never thrown out
_DARK: Final = 0.06  # of full scale: below it, differences are weighed as if the patch were this bright
_FLOOR: Final = 1e-4  # of full scale: below it differences are the file's rounding
_CLIPPED_SHARE: Final = 0.02
_MOST_CLIPPED: Final = 0.15
_CRUSHED_SHARE: Final = 0.05
_MOST_CRUSHED: Final = 0.3
_UNEVEN: Final = 0.05
_TWO_TONED: Final = 0.20
_MOST_REJECTED: Final = 0.4
_CELL_MM: Final = 2.6
_DRAWS: Final = 400  # with 30 % of the cells bad, 5 % of draws of eight are clean
_SMALLEST_TINT: Final = 0.012  # change of the light's colour over the card below which it is not believed
# Of a level, of luma and of each chroma. A JPEG keeps a block's mean in steps of some 3/8 of one (tables of
# ITU-T T.81, annex K, as usually scaled for "quality 90"), and the chroma of an even patch, whose noise it
# drops, comes back in whole ones: 1/√12. Even patches of rendered cards were off by 0.2 in luma and 0.3 in
# chroma. Other files are taken as no better.
_STEP_SIGMA: Final = np.array([0.2, 0.3, 0.3])
# RGB of luma and chroma: ITU-T T.871, section 7.
_FROM_LUMA: Final = np.array([[1.0, 0.0, 1.402], [1.0, -0.344136, -0.714136], [1.0, 1.772, 0.0]])
_SMALLEST_LIGHT_SIGMA: Final = 0.002


@dataclass(frozen=True, eq=False)
class PatchReading:
    """One patch as the camera saw it."""

    rgb: FloatArray
    """Shape (3,): mean linear camera RGB, freed of uneven light."""
    covariance: FloatArray
    """Shape (3, 3): of that mean, equation (U2)."""
    flags: tuple[str, ...]
    """What is wrong with it, in words."""
    usable: bool
    """False where the mean must not be used."""
    cut_off: FloatArray
    """Shape (3,): share of the pixels, by channel, that stand at 0: what lies below, a file cannot say."""
    only_cut_off: bool = False
    """True where nothing else is wrong: the other channels may be used."""


@dataclass(frozen=True, eq=False)
class LightField:
    """How bright the light is over the card, 1 in its middle, equation (U1)."""

    coefficients: FloatArray
    """Shape (6, 3): q₁ to q₅ (q₀ set so that the middle is 1), per channel."""
    covariance: FloatArray
    """Shape (6, 6): of the coefficients of any channel."""
    middle_mm: FloatArray
    """Shape (2,): from here x and y are counted,"""
    half_mm: FloatArray
    """shape (2,): in units of this."""
    order: int
    """2, 1, or 0 where the surround allows no more."""
    falloff: float
    """Darkest over brightest place of the card, less 1."""
    odd_mm: FloatArray
    """Shape (n, 2): places of the surround that do not fit (shadows, glare, overspray)."""
    middle_rgb: FloatArray | None = None
    """Shape (3,): linear camera RGB of the surround in the middle of the card, where it is known."""
    lifted: float = 0.0
    """How much lighter the camera made the surround beside dark places than beside light ones, a share."""

    def at(self, points_mm: npt.ArrayLike) -> FloatArray:
        """Return the light's relative brightness at points of shape (..., 2), in each channel."""
        return np.asarray(np.exp(self._terms(points_mm) @ self.coefficients))

    def sigma(self, point_mm: npt.ArrayLike) -> float:
        """Return the relative standard deviation of the brightness at a point."""
        terms = self._terms(point_mm)
        return float(np.sqrt(terms @ self.covariance @ terms + _SMALLEST_LIGHT_SIGMA**2))

    def _terms(self, points_mm: npt.ArrayLike) -> FloatArray:
        at = (np.asarray(points_mm, dtype=np.float64) - self.middle_mm) / self.half_mm
        terms = _terms(at)
        terms[..., 0] = 0.0
        return terms


def even_light(whole: Rect) -> LightField:
    """Return a light that is the same everywhere on a card, `whole`."""
    half = np.array([whole.width_mm, whole.height_mm]) / 2.0
    return LightField(np.zeros((6, 3)), np.zeros((6, 6)), whole.centre_mm, half, 0, 0.0, np.zeros((0, 2)))


def read_light(
    photograph: Photograph, placement: Placement, whole: Rect, surround: Sequence[Rect]
) -> LightField:
    """Return the light over a card, `whole`, from its bare surround, equation (U1).

    Cells that shadows, glare or overspray have changed are found by a least median of squares fit and left
    out. Where there is too little surround, the light is taken as even, of order 0.
    """
    cells = [cell for rect in surround for cell in _cells(rect)]
    middles, values = [], []
    for cell in cells:
        linear, levels, _ = _pixels(photograph, placement, cell.inset(0.1))
        if len(linear) >= 12 and not _clipped(levels, photograph.top).mean() > _CLIPPED_SHARE:
            middles.append(cell.centre_mm)
            values.append(np.median(linear, axis=0))
    flat = even_light(whole)
    if len(values) < 4:
        return flat
    at = (np.array(middles) - flat.middle_mm) / flat.half_mm
    logs = np.log(np.maximum(np.array(values), _FLOOR))
    order = _order_for(at)
    if order == 0:
        return flat
    kept_columns = 6 if order == 2 else 3
    terms = _terms(at)[:, :kept_columns]
    good = _agreeing(terms, logs.mean(axis=1))
    if good.sum() < 2 * kept_columns:
        return flat
    fit = _fit_light(terms[good], logs[good])
    misfit = logs[good] - terms[good] @ fit
    variance = float((misfit.mean(axis=1) ** 2).sum() / (good.sum() - kept_columns))
    coefficients, covariance = np.zeros((6, 3)), np.zeros((6, 6))
    coefficients[:kept_columns] = fit
    coefficients[0] = 0.0
    covariance[:kept_columns, :kept_columns] = variance * np.linalg.inv(terms[good].T @ terms[good])
    grid = np.stack(np.meshgrid(np.linspace(-1, 1, 9), np.linspace(-1, 1, 9)), axis=-1)
    shade = _terms(grid)[..., 1:] @ coefficients[1:].mean(axis=1)
    return LightField(
        coefficients=coefficients,
        covariance=covariance,
        middle_mm=flat.middle_mm,
        half_mm=flat.half_mm,
        order=order,
        falloff=float(np.exp(shade.min() - shade.max()) - 1.0),
        odd_mm=np.array(middles)[~good].reshape(-1, 2),
        middle_rgb=np.exp(fit[0]),
        lifted=lifted(
            photograph,
            at_px=placement.pixels(np.array(middles)),
            terms=terms,
            logs=logs.mean(axis=1),
        ),
    )


def read_patch(
    photograph: Photograph,
    placement: Placement,
    rect: Rect,
    light: LightField,
    *,
    edge_share: float = EDGE_SHARE,
    to_card: FloatArray | None = None,
) -> PatchReading:
    """Return what the photograph says of one patch, `rect`; its flags say what is wrong with it.

    `placement` is the card's, or that of something else with a measure of its own: `to_card` then leads from
    that measure to mm on the card, by (T1). `edge_share` is taken off each side before anything is read.
    """
    core = rect.inset(edge_share)
    linear, levels, at = _pixels(photograph, placement, core)
    if len(linear) == 0 or _partly_outside(photograph, placement, core):
        return _nothing("outside the picture")
    if len(linear) < _FEWEST_PIXELS:
        return _nothing(f"too small: {len(linear)} pixels")
    points = np.array([core.x_mm, core.y_mm]) + at * [core.width_mm, core.height_mm]
    middle = core.centre_mm
    if to_card is not None:
        points, middle = project(to_card, points), project(to_card, middle)
    linear = linear / light.at(points)
    blocks = (np.clip(at, 0.0, 1.0 - 1e-9) * _BLOCKS).astype(int) @ np.array([1, _BLOCKS])
    medians, sizes = _block_medians(linear, blocks)
    brightness = medians.mean(axis=1)
    bright, dark, spread = _odd_blocks(brightness, sizes > 0)
    keep_block = ~(bright | dark) & (sizes > 0)
    keep = keep_block[blocks] & _near(linear, keep_block[blocks])
    clipped = _clipped(levels, photograph.top)
    flags = _spot_flags(bright, dark, sizes > 0)
    rejected = 1.0 - float(keep.mean())
    usable = True
    if rejected > _MOST_REJECTED:
        flags.append(f"{100 * rejected:.0f} % of it left out")
        usable = False
    if clipped.mean() > 0.5 or (keep.any() and clipped[keep].mean() > _CLIPPED_SHARE):
        share = float(clipped[keep].mean()) if keep.any() else 1.0
        flags.append(
            f"clipped: {100 * (max(share, 0.01)):.0f} % of its pixels are as bright as the file can say"
        )
        usable = usable and share < _MOST_CLIPPED and clipped.mean() <= 0.5
    crushed = (levels[keep] <= _blur_of_ends(photograph.top)).mean(axis=0) if keep.any() else np.zeros(3)
    if crushed.max() > _CRUSHED_SHARE:
        flags.append("too dark or too pure for the file's colours: a channel stands at 0")
    sound = usable
    usable = usable and bool(crushed.max() < _MOST_CRUSHED)
    if spread > _TWO_TONED:
        flags.append(f"two tones ({100 * spread:.0f} % apart): an edge or a shadow across it")
        usable = sound = False
    elif spread > _UNEVEN:
        flags.append(f"uneven by {100 * spread:.0f} %")
    if not keep.any():
        return _nothing(*flags)
    mean = _centre(linear[keep], levels[keep], photograph.top)
    covariance = (
        _covariance(linear[keep], blocks[keep])
        + light.sigma(middle) ** 2 * np.outer(mean, mean)
        + _rounding(_step(photograph, levels[keep]) / light.at(middle))
        # Pixels at 0 hide at least as much below it as shows above.
        + np.diag(4.0 * crushed * linear[keep].var(axis=0))
    )
    if to_card is None:
        flags += _shadow_flags(rect, light)
    return PatchReading(
        rgb=mean,
        covariance=covariance,
        flags=tuple(flags),
        usable=usable,
        cut_off=crushed,
        only_cut_off=sound and not usable,
    )


# -- pixels ----------------------------------------------------------------------------------------


def _pixels(
    photograph: Photograph, placement: Placement, rect: Rect
) -> tuple[FloatArray, Levels, FloatArray]:
    """Return the pixels wholly inside a rectangle: linear (n, 3), levels (n, 3), place in it (n, 2).

    Pixels are taken as they are, not interpolated: that would smooth noise and mix edges in.
    """
    quad = placement.pixels(rect.corners_mm)
    low = np.maximum(np.floor(quad.min(axis=0)).astype(int), 0)
    high = np.minimum(np.ceil(quad.max(axis=0)).astype(int) + 1, [photograph.width, photograph.height])
    if (high <= low).any():
        return np.zeros((0, 3)), np.zeros((0, 3), dtype=np.uint8), np.zeros((0, 2))
    step = max(1, int(np.max(high - low) // _MOST_PIXELS_A_SIDE))
    u, v = np.meshgrid(np.arange(low[0], high[0], step), np.arange(low[1], high[1], step))
    to_mm = np.linalg.inv(placement.to_px)
    homogeneous = np.stack([u, v, np.ones_like(u)], axis=-1) @ to_mm.T
    at = (homogeneous[..., :2] / homogeneous[..., 2:] - [rect.x_mm, rect.y_mm]) / [
        rect.width_mm,
        rect.height_mm,
    ]
    inside = ((at > 0.0) & (at < 1.0)).all(axis=-1)
    levels = photograph.levels[low[1] : high[1] : step, low[0] : high[0] : step][inside]
    return photograph.linear(levels), levels, at[inside]


def _partly_outside(photograph: Photograph, placement: Placement, rect: Rect) -> bool:
    quad = placement.pixels(rect.corners_mm)
    return bool((quad < -0.5).any() or (quad > [photograph.width - 0.5, photograph.height - 0.5]).any())


def _clipped(levels: Levels, top: int) -> npt.NDArray[np.bool_]:
    return np.asarray((levels >= top - _blur_of_ends(top)).any(axis=-1))


def _blur_of_ends(top: int) -> int:
    """Return how far from the ends of the scale a cut-off value may stand.

    JPEG moves it by one or two of 255; 16-bit files keep it, but for the blending of neighbours that
    makes colour pixels from a sensor's. It is small, because in a linear file dark paint is near 0.
    """
    return 2 if top <= 255 else 16


def _nothing(*flags: str) -> PatchReading:
    return PatchReading(np.full(3, np.nan), np.full((3, 3), np.nan), tuple(flags), False, np.zeros(3))


# -- robust statistics -----------------------------------------------------------------------------


def _block_medians(linear: FloatArray, blocks: npt.NDArray[np.int_]) -> tuple[FloatArray, FloatArray]:
    medians, sizes = np.zeros((_BLOCKS**2, 3)), np.zeros(_BLOCKS**2)
    order = np.argsort(blocks, kind="stable")
    numbers, starts = np.unique(blocks[order], return_index=True)
    for number, part in zip(numbers.tolist(), np.split(order, starts[1:]), strict=True):
        medians[number], sizes[number] = np.median(linear[part], axis=0), len(part)
    return medians, sizes


def _odd_blocks(
    brightness: FloatArray, present: npt.NDArray[np.bool_]
) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_], float]:
    """Return which blocks are too bright, which too dark, and the spread of the rest as a share."""
    middle = float(np.median(brightness[present]))
    away = np.abs(brightness - middle)
    sigma = _MAD_TO_SIGMA * float(np.median(away[present]))
    limit = max(_OUTLIER_SIGMAS * sigma, _SMALLEST_STEP * max(middle, _DARK))
    odd = (away > limit) & present
    kept = brightness[present & ~odd]
    low, high = np.percentile(kept, [10.0, 90.0])
    spread = float((high - low) / max(middle, _DARK))
    return odd & (brightness > middle), odd & (brightness < middle), spread


def _near(linear: FloatArray, among: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Return which pixels lie near the median of those in `among`: dust and sparkle do not."""
    if not among.any():
        return among
    brightness = linear.mean(axis=1)
    middle = np.median(brightness[among])
    away = np.abs(brightness - middle)
    sigma = max(_MAD_TO_SIGMA * float(np.median(away[among])), 0.01 * max(float(middle), _DARK))
    return np.asarray(away < 5.0 * sigma)


def _spot_flags(
    bright: npt.NDArray[np.bool_], dark: npt.NDArray[np.bool_], present: npt.NDArray[np.bool_]
) -> list[str]:
    flags = []
    for odd, word in ((bright, "glare"), (dark, "shadow")):
        grid = odd.reshape(_BLOCKS, _BLOCKS)
        sides = [grid[0], grid[-1], grid[:, 0], grid[:, -1]]
        rim = odd.sum() - grid[1:-1, 1:-1].sum()
        if any(side.mean() > 0.8 for side in sides) and rim >= 0.7 * odd.sum():
            flags.append("edge: another tone along its side was left out")
        elif odd.sum() >= 2:
            flags.append(f"{word} on {100 * (odd.sum() / present.sum()):.0f} % of it was left out")
    return flags


def _centre(linear: FloatArray, levels: Levels, top: int) -> FloatArray:
    """Return the mean, or the median in a channel whose noise the file has cut off at either end.

    What is cut off biases a mean, but not a median while less than half is.
    """
    near = _blur_of_ends(top)
    cut = ((levels <= near) | (levels >= top - near)).mean(axis=0) > 0.002
    return np.where(cut, np.median(linear, axis=0), linear.mean(axis=0))


def _step(photograph: Photograph, levels: Levels) -> FloatArray:
    """Return how much linear value one level is worth about the middle of some pixels, shape (3,)."""
    at = np.clip(np.median(levels, axis=0).astype(int), 1, photograph.top - 1)
    channels = np.arange(3)
    return np.asarray(0.5 * (photograph.curve[at + 1, channels] - photograph.curve[at - 1, channels]))


def _rounding(step: FloatArray) -> FloatArray:
    """Return the covariance of what a file's rounding does to the mean of an even patch, shape (3, 3)."""
    of_channels = step[:, np.newaxis] * _FROM_LUMA * _STEP_SIGMA
    return np.asarray(of_channels @ of_channels.T)


def _covariance(linear: FloatArray, blocks: npt.NDArray[np.int_]) -> FloatArray:
    """Return the covariance of the mean from the scatter of block means, the first part of (U2)."""
    numbers, where, sizes = np.unique(blocks, return_inverse=True, return_counts=True)
    sums = np.stack([np.bincount(where, weights=linear[:, c]) for c in range(3)], axis=1)
    full = sizes >= 0.5 * np.median(sizes)
    means = (sums / sizes[:, np.newaxis])[full]
    if len(means) < 5:
        return np.asarray(np.cov(linear.T) / max(len(numbers), 1))
    return np.asarray(np.cov(means.T) / len(means)) + _FLOOR**2 / 12.0 * np.eye(3)


# -- light -----------------------------------------------------------------------------------------


def _cells(rect: Rect) -> list[Rect]:
    across = max(1, round(rect.width_mm / _CELL_MM))
    down = max(1, round(rect.height_mm / _CELL_MM))
    w, h = rect.width_mm / across, rect.height_mm / down
    return [Rect(rect.x_mm + w * i, rect.y_mm + h * j, w, h) for j in range(down) for i in range(across)]


def _terms(at: FloatArray) -> FloatArray:
    x, y = at[..., 0], at[..., 1]
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)


def _fit_light(terms: FloatArray, logs: FloatArray) -> FloatArray:
    """Return q of equation (U1), shape (p, 3).

    Brightness may be curved; its colour changes along a straight line, and not at all unless that is
    plain to see: a chart often lies beside the card, where every needless term would be magnified.
    """
    brightness = logs.mean(axis=1)
    common, *_ = np.linalg.lstsq(terms, brightness, rcond=None)
    fit = np.repeat(common[:, np.newaxis], 3, axis=1)
    tint = logs - brightness[:, np.newaxis]
    slope, *_ = np.linalg.lstsq(terms[:, :3], tint, rcond=None)
    if np.ptp(terms[:, :3] @ slope, axis=0).max() > _SMALLEST_TINT:
        fit[:3] += slope
    else:
        fit[0] += tint.mean(axis=0)
    return fit


def _order_for(at: FloatArray) -> int:
    """Return the highest order that the places of the surround can carry."""
    terms = _terms(at)
    for order, columns, fewest in ((2, 6, 15), (1, 3, 6)):
        if len(at) >= fewest:
            singular = np.linalg.svd(terms[:, :columns], compute_uv=False)
            if singular[-1] > 0.03 * singular[0]:
                return order
    return 0


def _agreeing(terms: FloatArray, logs: FloatArray) -> npt.NDArray[np.bool_]:
    """Return which cells agree with the least median of squares fit.

    Of many fits to a few cells drawn at random, the one whose median misfit is least (P. J. Rousseeuw,
    J. Am. Stat. Assoc. 79 (1984) 871): a shadow over a corner bends a fit to all cells, even one of
    least absolute deviations, because a corner has much leverage. The draws are the same every time.
    """
    n, p = terms.shape
    drawn = np.random.default_rng(0).random((_DRAWS, n)).argpartition(p + 2, axis=1)[:, : p + 2]
    rows, values = terms[drawn], logs[drawn]
    normal = np.einsum("dij,dik->djk", rows, rows) + 1e-6 * np.eye(p)
    fits = np.linalg.solve(normal, np.einsum("dij,di->dj", rows, values)[..., np.newaxis])[..., 0]
    misfits = np.abs(logs - fits @ terms.T)
    best = misfits[int(np.argmin(np.median(misfits, axis=1)))]
    # Once more from the better half of the cells, because few cells carry much noise.
    half = best <= np.median(best)
    fit, *_ = np.linalg.lstsq(terms[half], logs[half], rcond=None)
    misfit = np.abs(logs - terms @ fit)
    sigma = max(_MAD_TO_SIGMA * float(np.median(misfit)), 0.003)
    return np.asarray(misfit < _OUTLIER_SIGMAS * sigma)


def _shadow_flags(rect: Rect, light: LightField) -> list[str]:
    """Name a shadow that touches the surround beside a patch: it may lie on the patch too."""
    if len(light.odd_mm) == 0:
        return []
    margin = 6.0
    low = np.array([rect.x_mm, rect.y_mm]) - margin
    high = low + np.array([rect.width_mm + 2 * margin, rect.height_mm + 2 * margin])
    near = ((light.odd_mm > low) & (light.odd_mm < high)).all(axis=1).sum()
    return [BESIDE_SPOILT] if near >= 3 else []
