"""Photographs of a card to a paint: read, fitted with every kind of paints, and judged or refused."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.errors import FitError, PhotographError
from layersim.estimate import Estimate
from layersim.fitting import verdict as verdicts
from layersim.fitting.amiss import refuse_metal
from layersim.fitting.colours import LEAST_NOISE, Colours, Seen
from layersim.fitting.doubts import surface_doubt
from layersim.fitting.family import Kinds, answer_of_kinds, kin_of_coats, settle_kin
from layersim.fitting.finish import Met, Open, finish
from layersim.fitting.photocard import (
    Card,
    card_of,
    complaint,
    crossed_films,
    in_values,
    left_out_words,
    looked_at_again,
)
from layersim.fitting.problem import Films, FitProblem
from layersim.fitting.result import Fit, Outlier, Verdict, far_off
from layersim.fitting.robust import inflation
from layersim.fitting.solve import Solution
from layersim.measure.cardreading import CardReading, photograph_card
from layersim.measure.channels import added_by
from layersim.measure.photoswatch import PhotographedSet
from layersim.shelf import Shelf
from layersim.spectra import BANDS, FloatArray

Progress = Callable[[str], None]
"""Is told, in a few words, what is being done."""


def silent(words: str) -> None:
    """Tell nobody."""


# How often the fit is made again where a channel is cut off at 0: (X4) moves a part of the way at a time
# (an assumption).
_ROUNDS_CUT_OFF: Final = 6
# No further round is made once values move by less than this part of their noise (an assumption).
_STILL: Final = 0.1

MODEL_K: Final = 0.03
MODEL_S: Final = 0.04
"""How far the K and S that suit one stack are from those that suit another, for a card's few colours.

Assumptions: up to twice what :class:`layersim.fitting.problem.Belief` has for measured spectra."""


def fit_photograph(
    swatches: PhotographedSet,
    shelf: Shelf | None = None,
    *,
    film_error: float | Estimate | None = None,
    progress: Progress | None = None,
) -> Fit:
    """Return the paint that a photographed card makes most likely, with how sure that is.

    Three numbers a patch and photograph are met by K and S of a kind that paints have
    (:mod:`layersim.fitting.family`), over all patches at once; the range that the paint gets shows what so
    few numbers cannot know.

    Primers and the known paints of tints are on `shelf`, the usual one by default. `film_error` is how far
    one swatch's film is from what its coats say, one standard deviation, relative: as it is, or as it is
    thought before the swatches are looked at; by default what is usual for how they were laid. Colours of
    the answer are those under the light of the photograph's calibration. Raises PhotographError if the
    photograph cannot be read or trusted, FitError if the card cannot give a paint.
    """
    tell = progress or silent
    tell("reading " + " and ".join(path.name for path in swatches.photographs))
    readings = read_photographed(swatches)
    return fit_readings(swatches, readings, shelf, film_error=film_error, progress=progress)


def fit_readings(
    swatches: PhotographedSet,
    readings: Sequence[CardReading],
    shelf: Shelf | None = None,
    *,
    film_error: float | Estimate | None = None,
    progress: Progress | None = None,
) -> Fit:
    """Return :func:`fit_photograph` of photographs that :func:`read_photographed` has read."""
    tell = progress or silent
    paints_on = shelf or Shelf.usual()
    where = swatches.source or swatches.photograph
    refuse_metal(swatches, where)
    card = card_of(swatches, readings, paints_on, film_error=film_error, where=where)
    said = complaint(card)
    if said:
        raise FitError(where, said)
    tell(f"fitting K and S to {len(card.seen.xyz)} patches")
    kinds: Kinds = [(kind, None) for kind in kin_of_coats(swatches.wet_film_um * swatches.volume_solids)]
    problem, solution, kept, likely = settle_kin(card.problem, among=kinds)
    for last in _rounds(card.seen):
        # What the channels' errors do, and what lies below 0, depends on what they look at.
        before, card = card.seen, looked_at_again(card, problem, solution, kept)
        if last or not _moved(before, card.seen):
            problem, solution, kept, likely = settle_kin(card.problem, among=likely)
            break
        problem, solution, likely = answer_of_kinds(card.problem, kept=kept, among=likely, roughly=True)
    tell("judging the fit")
    return _finish(swatches, card, problem, solution, kept, where=where)


# --- reading -------------------------------------------------------------------------------------


def read_photographed(swatches: PhotographedSet) -> tuple[CardReading, ...]:
    """Return what the photographs say of their card, read as the swatches file asks.

    The first is the one that is shown. Raises PhotographError if a photograph cannot be read or trusted.
    """
    other = swatches.other_light
    if other is not None and swatches.reference not in ("best", "chart"):
        raise PhotographError(
            swatches.photograph,
            f'reference: found "{swatches.reference}" beside a second photograph; expected "chart" or '
            '"best", since only a chart in both pictures puts two lamps side by side',
        )
    pictures = (swatches,) if other is None else (swatches, other)
    return tuple(
        photograph_card(
            picture.photograph,
            swatches.layout,
            corners_px=picture.corners_px,
            chart_corners_px=picture.chart_corners_px,
            reference=swatches.reference if other is None else "chart",
            encoding=swatches.encoding,
        )
        for picture in pictures
    )


# --- solving -------------------------------------------------------------------------------------


def _rounds(seen: Seen) -> list[bool]:
    """Return of every further round whether it is the last."""
    rounds = _ROUNDS_CUT_OFF if seen.cut.any() else 1 if seen.channels else 0
    return [i + 1 == rounds for i in range(rounds)]


def _moved(before: Seen, after: Seen) -> bool:
    """Return whether what is taken of a channel that is cut off has moved by much of its noise."""
    noise = np.sqrt(np.diagonal(after.noise, axis1=1, axis2=2))
    return bool((np.abs(after.values - before.values) / noise)[after.cut].max(initial=0.0) > _STILL)


# --- judging -------------------------------------------------------------------------------------


def _finish(
    swatches: PhotographedSet,
    card: Card,
    problem: FitProblem,
    solution: Solution,
    kept: npt.NDArray[np.bool_],
    *,
    where: Path,
) -> Fit:
    films, seen = problem.films, card.seen
    fitted = solution.reflectance + card.surface
    views = [_shown(seen, fitted, photograph) for photograph in range(seen.values.shape[1] // 3)]
    measured_lab, fitted_lab, _ = views[0]
    delta_e = colour.delta_e_2000(measured_lab, fitted_lab)
    _refuse_contradictions(where, card, delta_e, kept)
    one_ground = verdicts.over_one_ground(card.swatches, card.grounds)
    off_curve = inflation(problem, solution, kept)
    wider = off_curve * (verdicts.ONE_GROUND**2 if one_ground else 1.0)
    posterior = _with_shared(problem, solution) * wider
    by_paint = posterior[: 2 * BANDS, : 2 * BANDS].copy()
    by_paint[:BANDS, :BANDS] += MODEL_K**2
    by_paint[BANDS:, BANDS:] += MODEL_S**2
    off, beyond = _misses(views, seen.told[:, ::3], kept)
    one_more = Colours(seen.weights, np.median(seen.whitening(), axis=0))
    own = int(kept[: len(card.swatches)].sum())
    return finish(
        swatches,
        card.swatches,
        problem,
        solution,
        kept,
        met=Met(
            measured=None,
            fitted=fitted,
            measured_lab=measured_lab,
            fitted_lab=fitted_lab,
            delta_e=delta_e,
            residual=off,
            beyond_noise=beyond,
        ),
        left=Open(
            by_paint=by_paint,
            surface=surface_doubt(
                solution.by_considered[: 2 * BANDS].sum(axis=1),
                sheen=card.maker.surface.doubt,
                first_reflection=0.0,
            ),
            sheen=swatches.sheen,
            inflation=wider,
            one_ground=one_ground,
            # Of two pictures a sound one is enough.
            spoilt="" if any(not one.spoilt for one in card.readings) else card.readings[0].spoilt,
        ),
        outliers=tuple(
            Outlier(
                name=films.names[i],
                delta_e=float(delta_e[i]),
                looks_like=_looks_like(seen, fitted, int(i), films.names, own=float(delta_e[i])),
            )
            for i in np.flatnonzero(~kept)
        ),
        suggest=lambda typical: verdicts.suggest(
            belief=problem.belief,
            observation=one_more,
            noise=np.ones(seen.weights.shape[1]),
            paint=solution.unknowns[: 2 * BANDS],
            covariance=posterior,
            typical=typical,
            grounds=card.grounds,
            white=None,
            maker=card.maker,
            sprayed=card.swatches,
            calibration=_as_at_the_nearest(card, problem, fitted, one_more.whiten),
        ),
        remedy=lambda verdict, _: _remedy(card, verdict),
        notices=lambda _: (
            *card.notices,
            *_odd_films(films, solution, kept),
            *_off_curve(off_curve),
            *_same_lamp(card),
        ),
        made_from="the photograph leaves",
        provenance=_provenance(card, own),
        where=where,
    )


def _misses(
    views: Sequence[tuple[FloatArray, FloatArray, FloatArray]],
    told: npt.NDArray[np.bool_],
    kept: npt.NDArray[np.bool_],
) -> tuple[float, float]:
    """Return the mean ΔE00 of what all photographs saw from the fit, and as much as noise cannot explain."""
    off, beyond = [], []
    for (seen_lab, fitted_lab, by_noise), known in zip(views, told.T, strict=True):
        delta_e = colour.delta_e_2000(seen_lab, fitted_lab)[kept & known]
        off.append(delta_e)
        # Two standard deviations of noise are not held against the fit (an assumption).
        beyond.append(np.sqrt(np.maximum(delta_e**2 - (2.0 * by_noise[kept & known]) ** 2, 0.0)))
    return float(np.concatenate(off).mean()), float(np.concatenate(beyond).mean())


def _shown(seen: Seen, fitted: FloatArray, photograph: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return colours seen and fitted at D65, 2°, and how far noise alone sets them apart (about ΔE00).

    What was seen has no spectrum: it is the fitted colour and, beside it, by how much each channel of that
    photograph was off. A channel that is cut off is off by what the fit goes beyond its limit.
    """
    view = colour.Viewing()
    W = view.weights
    own = slice(3 * photograph, 3 * photograph + 3)
    weights, limit = seen.weights[:, own], seen.limit[:, own]
    to_xyz = np.linalg.lstsq(weights, W, rcond=None)[0]
    xyz = fitted @ W
    channels = fitted @ weights
    cut = np.isfinite(limit)
    off = np.where(cut, np.minimum(np.where(cut, limit, 0.0) - channels, 0.0), seen.values[:, own] - channels)
    fitted_lab = colour.lab_from_xyz(xyz, view.white)
    measured_lab = colour.lab_from_xyz(np.maximum(xyz + off @ to_xyz, 1e-3), view.white)
    noise = np.where(cut[:, :, np.newaxis] | cut[:, np.newaxis], 0.0, seen.noise[:, own, own])
    noise = noise + np.where(cut, LEAST_NOISE**2, 0.0)[:, np.newaxis] * np.eye(3)
    step = 1e-4
    root = np.swapaxes(np.linalg.cholesky(noise), 1, 2) @ to_xyz
    moved = colour.lab_from_xyz(xyz[:, np.newaxis] + step * root, view.white)
    by_noise = colour.delta_e_2000(moved, fitted_lab[:, np.newaxis]) / step
    return measured_lab, fitted_lab, np.sqrt((by_noise**2).sum(axis=1))


def _refuse_contradictions(where: Path, card: Card, delta_e: FloatArray, kept: npt.NDArray[np.bool_]) -> None:
    """Refuse a card on which too little agrees, or a film is darker over the lighter ground."""
    names = [s.name for s in card.swatches]
    own = len(names)
    crossed, _ = crossed_films(card, kept)
    if crossed:
        raise FitError(where, crossed[0].words)
    left = int(kept[:own].sum())
    if left < 2 or 3 * (own - left) > own:
        off = [i for i in np.argsort(-delta_e[:own])[:3] if delta_e[i] >= 1.0]
        worst = [f'"{names[i]}" (ΔE00 {delta_e[i]:.1f})' for i in off]
        farthest = f" Farthest off: {', '.join(worst)}." if worst else ""
        both = " that both pictures show the same card," if len(card.readings) > 1 else ""
        raise FitError(
            where,
            f"the swatches contradict each other: no paint meets them all.{farthest} Check{both} which patch "
            "is which, and grounds, coats and sheen, then photograph the card again in even light.",
        )


def _provenance(card: Card, kept: int) -> str:
    calibration = card.readings[0].calibration
    by = {
        "chart": f"a 24-patch chart, ΔE00 {calibration.mean_de00:.1f} on patches left out",
        "neutrals": "neutrals only",
        "none": "nothing: the camera's colours were trusted",
    }[calibration.reference]
    lamps = " under two lamps" if len(card.seen.channels) > 1 else ""
    return f"fitted to {kept} swatches photographed{lamps}, calibrated by {by}"


# On cards whose chart told of the camera truly this came to 0.1 to 0.5, so any more is told (an assumption).
_TOLD_OFF_CURVE: Final = 1.2


def _off_curve(inflation: float) -> list[str]:
    """Return that no thicknesses of one paint look like these, where they do not."""
    if inflation < _TOLD_OFF_CURVE:
        return []
    return [
        "the coats do not lie on one paint's curve as nearly as the camera's errors allow, and the range "
        f"is {inflation**0.5:.1f} times as wide for it: did one light fall on card and chart alike, and is "
        "every count of coats right?"
    ]


# Six pairs of rendered cards gave 0.23 to 0.31 for two kinds of lamps and at most 0.08 for one; half-way.
_ONE_LAMP: Final = 0.15


def _same_lamp(card: Card) -> list[str]:
    channels = card.seen.channels
    if len(channels) != 2 or added_by(channels[1], channels[0]) >= _ONE_LAMP:
        return []
    return [
        f"{card.readings[1].path.name} seems to be lit by the same kind of lamp as "
        f"{card.readings[0].path.name}, and tells little more. Different kinds are daylight, a filament "
        "bulb, a white LED, a fluorescent tube"
    ]


def _remedy(card: Card, verdict: Verdict) -> str:
    """Return what would help more than another swatch, and which ground is missing; or nothing."""
    missing = verdicts.missing_ground(card.swatches, card.grounds)
    return " ".join(said for said in (missing, _another_picture(card, verdict)) if said)


def _another_picture(card: Card, verdict: Verdict) -> str:
    if verdict.reach <= verdicts.GOOD_REACH:
        return ""
    if card.left_out:
        lost = len(card.left_out)
        places = "one of its places" if lost == 1 else f"{lost} of its places"
        return f"First photograph the card again: {places} could not be used ({left_out_words(card)})."
    if not card.seen.channels:
        return (
            "What is in doubt are the camera's colours: photograph the card again with a 24-patch colour "
            "chart beside it."
        )
    if len(card.seen.channels) == 1:
        return (
            "To be surer without spraying more, photograph the same card and chart once more under another "
            "kind of lamp, and name that picture in the swatches file: [photograph.other_lamp], "
            'file = "...".'
        )
    return ""


def _with_shared(problem: FitProblem, solution: Solution) -> FloatArray:
    """Return the covariance of ln K, ln S and the shared errors, shape (62 + r, 62 + r)."""
    everything = np.linalg.inv(solution.information)
    own = np.concatenate([np.arange(2 * BANDS), np.arange(problem.films.unknowns, problem.unknowns)])
    return np.asarray((0.5 * (everything + everything.T))[np.ix_(own, own)])


def _as_at_the_nearest(
    card: Card, problem: FitProblem, fitted: FloatArray, whiten: FloatArray
) -> Callable[[FloatArray], FloatArray]:
    """Return what shared errors do to a further patch: what they do to the one whose colour is nearest."""
    view = colour.Viewing()
    lab = colour.lab(fitted, view)
    shared = in_values(card.seen, problem)

    def at(reflectance: FloatArray) -> FloatArray:
        off = colour.delta_e_2000(colour.lab(reflectance, view)[:, np.newaxis], lab)
        return np.asarray(whiten @ shared[off.argmin(axis=1)])

    return at


def _looks_like(seen: Seen, fitted: FloatArray, i: int, names: Sequence[str], *, own: float) -> str:
    """Return the place that patch `i` looks like instead of its own, ΔE00 `own` away, or nothing."""
    everywhere = dataclasses.replace(
        seen,
        values=np.broadcast_to(seen.values[i], seen.values.shape),
        limit=np.broadcast_to(seen.limit[i], seen.limit.shape),
    )
    seen_lab, fitted_lab, _ = _shown(everywhere, fitted, 0)
    off = colour.delta_e_2000(seen_lab, fitted_lab)
    nearest = int(np.argmin(off))
    # Nearer than a third of the way, and hard to tell from it (assumptions).
    return f'"{names[nearest]}"' if off[nearest] < min(2.0, own / 3.0) else ""


def _odd_films(films: Films, solution: Solution, kept: npt.NDArray[np.bool_]) -> list[str]:
    factor = films.film_factor(solution.unknowns)
    return [
        f'check "{films.names[i]}": its film looks {factor[i]:.2f} times as thick as you wrote'
        for i in np.flatnonzero(kept & far_off(factor)).tolist()
    ]
