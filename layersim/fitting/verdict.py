"""Good enough, or which one more swatch would help most; and what no fit should be made of.

With J the candidate's slopes by ln K and ln S and N those by its own film and all else uncertain about
it, both in units of its errors, the covariance after it has been measured is that of linear
estimation (R. E. Kalman, J. Basic Eng. 82 (1960) 35),

    Σ' = Σ − Σ Jᵀ (1 + J Σ Jᵀ + N Nᵀ)⁻¹ J Σ                                                (J1)

and the typical stacks' expected variance is compared with what it was. No reading enters, so this can be
asked beforehand (D. V. Lindley, Ann. Math. Stat. 27 (1956) 986; from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final

import numpy as np

from layersim import colour
from layersim.fitting.doubts import Typical
from layersim.fitting.films import Below, Maker, films_of
from layersim.fitting.problem import Belief, FitProblem, Observation
from layersim.fitting.result import Suggestion, Verdict
from layersim.fitting.solve import whitening
from layersim.fitting.two_constant import predict_with_slopes
from layersim.measure.card import coats_in_words
from layersim.measure.swatch import THIS_PAINT, Sprayed
from layersim.optics import cones
from layersim.paint import Paint
from layersim.spectra import BANDS, FloatArray

GOOD_REACH: Final = 1.5
"""A fit is good where 90 % of typical thin stacks lie within this ΔE00: hard to see side by side."""
USABLE_REACH: Final = 4.0
"""... and usable within this: plain at a glance, but the right colour."""
GOOD_UNDER_VARNISH: Final = 2.5
USABLE_UNDER_VARNISH: Final = 6.0
"""The same under whichever varnish shows most: gloss makes darks less sure (conventions)."""
LARGEST_REACH: Final = 20.0
"""Beyond this the swatches do not tell what the paint looks like, and no paint is made of them."""

GOOD_RESIDUAL: Final = 1.0
USABLE_RESIDUAL: Final = 3.0
"""Mean ΔE00 between swatches and fit, beyond noise, above which something is wrong that no range tells."""

GROUNDS_APART: Final = 0.15
"""Mean reflectance by which two grounds must differ to tell K from S (an assumption)."""
_LIGHT: Final = 0.3  # mean reflectance of a ground beside which a black one is missing, not a white one
ONE_GROUND: Final = 1.9
"""Over one ground K and S are this many times less sure than least squares says (set on watercolours over
white paper: their mixtures lie farther off than their amounts)."""

WORTH_WHILE: Final = 0.8
"""A swatch is suggested if it brings the typical reach to this share of what it is, or lower."""

_COATS: Final = (0.5, 1.0, 2.0, 4.0, 8.0)
_TINTS: Final = (1.0, 4.0, 9.0)


def judge(
    *,
    reach: float,
    reach_under: Mapping[str, float],
    residual: float,
    beyond_noise: float,
    outliers: int,
    swatches: int,
    one_ground: str = "",
    spoilt: str = "",
    odd_films: int = 0,
) -> Verdict:
    """Return whether a fit is good enough.

    `reach`: colour difference that holds 90 % of typical thin stacks, as the paint dries.
    `reach_under`: the same under each varnish. `residual`: mean ΔE00 of the swatches that were kept.
    `beyond_noise`: the same without what the noise of their readings explains. `one_ground`: the ground
    that all films lie over; empty where there are several. `spoilt`: what is wrong with the colours of the
    whole photograph. `odd_films`: how many films are far from
    what was said.

    >>> judge(
    ...     reach=0.6, reach_under={"gloss": 0.9}, residual=0.3, beyond_noise=0.2, outliers=0, swatches=6
    ... ).grade
    'good'
    """
    worst = max(reach, *reach_under.values())
    odd = beyond_noise > GOOD_RESIDUAL or outliers > 0 or odd_films > 0
    if one_ground or spoilt:
        grade = "doubtful"
    elif reach <= GOOD_REACH and worst <= GOOD_UNDER_VARNISH and not odd:
        grade = "good"
    elif reach <= USABLE_REACH and worst <= USABLE_UNDER_VARNISH and beyond_noise <= USABLE_RESIDUAL:
        grade = "usable"
    else:
        grade = "doubtful"
    parts = [
        f"thin coats of it are predicted within ΔE00 {reach:.1f}, nine times in ten"
        + _under(reach, reach_under),
        f"the swatches are met within {residual:.1f} on average",
    ]
    if outliers:
        parts.append(
            f"{outliers} of {swatches} swatches did not agree with the rest and "
            + ("was left out" if outliers == 1 else "were left out")
        )
    if spoilt:
        parts.append(f"the photograph is not to be relied on: {spoilt}")
    if one_ground:
        parts.append(
            f"all its swatches lie over one ground ({one_ground}), so nobody can tell how well it covers: "
            "over another ground, and in mixtures, it may look quite different"
        )
    return Verdict(grade=grade, words="; ".join(parts), reach=reach, reach_under=dict(reach_under))


def _under(reach: float, reach_under: Mapping[str, float]) -> str:
    """Return under which varnish it is less sure, in words; nothing where none differs much."""
    finish = max(reach_under, key=lambda name: reach_under[name])
    if reach_under[finish] <= 1.25 * reach + 0.1:
        return ""
    return f" (within {reach_under[finish]:.1f} under a {finish} varnish)"


def over_one_ground(swatches: Sequence[Sprayed], grounds: Mapping[str, Below]) -> str:
    """Return the one ground that all films lie over, which does not tell hiding from colouring; or nothing.

    `swatches`: a tint tells as much as another ground does. `grounds`: two that look nearly alike count
    as one.
    """
    under = {swatch.ground for swatch in swatches if swatch.ground and not swatch.opaque}
    if not under or any(len(swatch.parts) > 1 for swatch in swatches):
        return ""
    levels = [float(grounds[name].reflectance.mean()) for name in under]
    return " and ".join(sorted(under)) if max(levels) - min(levels) < GROUNDS_APART else ""


def missing_ground(swatches: Sequence[Sprayed], grounds: Mapping[str, Below]) -> str:
    """Return what swatches over one ground lack, as a sentence; or nothing. As :func:`over_one_ground`."""
    if not over_one_ground(swatches, grounds):
        return ""
    under = {swatch.ground for swatch in swatches if swatch.ground and not swatch.opaque}
    light = max(float(grounds[name].reflectance.mean()) for name in under) > _LIGHT
    return f"No swatch lies over {'black' if light else 'white'}: that is what is missing."


def suggest(
    *,
    belief: Belief,
    observation: Observation,
    noise: FloatArray,
    paint: FloatArray,
    covariance: FloatArray,
    typical: Typical,
    grounds: Mapping[str, Below],
    white: Paint | None,
    maker: Maker,
    sprayed: Sequence[Sprayed],
    calibration: Callable[[FloatArray], FloatArray] | None = None,
) -> Suggestion | None:
    """Return the one more swatch that narrows typical predictions most, equation (J1).

    Errors that all readings share stay open with K and S: a swatch more is read with the same ones.

    `noise`, shape (n,), is one swatch's. `paint`, shape (62,), is ln K and ln S of the fit, and `covariance`,
    shape (62 + r, 62 + r), what the swatches leave open of these and of r shared errors, without the model's
    own part. A tint can be made with `white`, and a further swatch is thinned as those `sprayed` are.
    `calibration` returns what one standard deviation of each shared error does to swatches of some
    reflectances, (m, 31) to (m, n, r). None where nothing narrows predictions to :data:`WORTH_WHILE` of what
    they are.
    """
    thinning = float(np.median([swatch.thinning for swatch in sprayed]))
    candidates = _candidates(grounds, white, thinning)
    if not candidates:
        return None
    films = films_of(candidates, grounds=grounds, paints={white.name: white} if white else {}, maker=maker)
    unknowns = np.pad(paint, (0, films.unknowns - 2 * BANDS))
    m = len(candidates)
    problem = FitProblem(
        films=films,
        observation=observation,
        observed=np.zeros((m, len(noise))),
        noise=np.broadcast_to(noise, (m, len(noise))),
        belief=belief,
    )
    floor = belief.model_covariance()
    reflectance, slopes, _ = predict_with_slopes(films, unknowns)
    whiten = whitening(problem, unknowns, reflectance)
    J = whiten @ (observation.slopes(reflectance) @ slopes)
    own, others = J[..., : 2 * BANDS], J[..., 2 * BANDS :]
    if calibration is not None:
        own = np.concatenate([own, whiten @ calibration(reflectance)], axis=-1)
    n = len(noise)
    spread = np.eye(n) + own @ covariance @ np.swapaxes(own, 1, 2) + others @ np.swapaxes(others, 1, 2)
    told = own @ covariance[:, : 2 * BANDS] @ typical.change[:, : 2 * BANDS].T
    gained = (told * np.linalg.solve(spread, told)).sum(axis=(1, 2))
    own_covariance = covariance[: 2 * BANDS, : 2 * BANDS] + floor
    before = typical.reach(own_covariance)
    reaches = typical.reach_of_variance(typical.variance(own_covariance) - gained)
    # Of swatches that help nearly as much, the one first in the list is the easiest to make.
    best = int(np.argmax(reaches <= 1.05 * reaches.min()))
    if reaches[best] > WORTH_WHILE * before:
        return None
    return Suggestion(swatch=candidates[best], reach=float(reaches[best]))


def _candidates(grounds: Mapping[str, Below], white: Paint | None, thinning: float) -> list[Sprayed]:
    found = []
    for parts in (None, *(_TINTS if white is not None else ())):
        for name in grounds:
            for coats in _COATS:
                mix: tuple[tuple[str, float], ...] = ((THIS_PAINT, 1.0),)
                what = coats_in_words(coats)
                if parts is not None and white is not None:
                    mix = ((THIS_PAINT, 1.0), (white.name, parts))
                    what += f" of 1 part mixed with {parts:g} part{'' if parts == 1 else 's'} of {white.name}"
                found.append(
                    Sprayed(
                        name=f"{what} over {name}", ground=name, parts=mix, thinning=thinning, coats=coats
                    )
                )
    return found


def white_for_tints(paints: Mapping[str, Paint]) -> Paint | None:
    """Return the lightest of some paints that scatters well, or None."""
    weights = colour.luminance_weights()

    def lightness(paint: Paint) -> float:
        opaque = cones.endless(cones.medium(K_per_um=paint.K_per_um, S_per_um=paint.S_per_um))
        return float(weights @ cones.seen(opaque, sheen=0.0))

    whites = [paint for paint in paints.values() if lightness(paint) > 0.7]
    return max(whites, key=lightness, default=None)
