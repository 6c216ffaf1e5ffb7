"""A photographed card to a paint: the whole of the fit in the order in which it happens."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.errors import FitError, LayersimError, PhotographError
from layersim.fitting import verdict as verdicts
from layersim.fitting.colours import (
    Colours,
    Seen,
    below_zero,
    channels_of,
    ground_of_colour,
    seen_patches,
    together,
    with_bare_grounds,
    without,
)
from layersim.fitting.doubts import doubts_from, typical_stacks
from layersim.fitting.family import Kin, blended, evidence, kin, weights
from layersim.fitting.films import FILM_ERROR, Below, Maker, films_of, primed_ground
from layersim.fitting.measured import NOMINAL_FILM, known_paints
from layersim.fitting.problem import Films, Problem
from layersim.fitting.result import Fit, Outlier, Verdict
from layersim.fitting.robust import LARGEST_MISFIT, degrees_of_freedom, inflation, settle
from layersim.fitting.solve import Solution, model_error, solve
from layersim.fitting.two_constant import predict, predict_with_slopes
from layersim.measure.cardreading import CardReading, PhotographedPatch, photograph_card
from layersim.measure.channels import Channels
from layersim.measure.photoswatch import CardSwatch, PhotographedSet
from layersim.measure.swatch import THIS_PAINT
from layersim.optics import cones
from layersim.paint import Paint
from layersim.shelf import Shelf
from layersim.spectra import BANDS, FloatArray

Progress = Callable[[str], None]
"""Is told, in a few words, what is being done."""


def silent(words: str) -> None:
    """Tell nobody."""


_ROUNDS_CUT_OFF: Final = 6

MODEL_K: Final = 0.03
MODEL_S: Final = 0.04
"""How far the K and S that suit one stack are from those that suit another, for a card's few colours."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Card:
    """A photographed card, ready to be fitted.

    Parameters
    ----------
    swatches : tuple of CardSwatch
        Those whose patch can be used.
    seen : Seen
        Swatches first, then bare patches.
    problem : Problem
        Its belief is the first kind of paints.
    grounds : mapping of str to Below
    modes : mapping of str to ndarray, shape (k, 31)
        What else photographed grounds may be.
    bare : list of (str, str)
        Name and ground of each bare patch.
    surface : ndarray, shape (m, 1)
        Reflectance that bare grounds' own sheen adds.
    readings : tuple of CardReading
        One a photograph.
    maker : Maker
    notices : tuple of str
        What was left out, and what the photographs' readings have to say.
    """

    swatches: tuple[CardSwatch, ...]
    seen: Seen
    problem: Problem
    grounds: Mapping[str, Below]
    modes: Mapping[str, FloatArray]
    bare: list[tuple[str, str]]
    surface: FloatArray
    readings: tuple[CardReading, ...]
    maker: Maker
    notices: tuple[str, ...]


def fit_photograph(
    swatches: PhotographedSet,
    shelf: Shelf | None = None,
    *,
    film_error: float = FILM_ERROR,
    progress: Progress | None = None,
) -> Fit:
    """Return the paint that a photographed card makes most likely, with how sure that is.

    Three numbers a patch are met by K and S of a kind that paints have (:mod:`layersim.fitting.family`),
    over all patches at once; the range that the paint gets shows what three numbers cannot know.

    Parameters
    ----------
    swatches : PhotographedSet
    shelf : Shelf, optional
        Where primers and the known paints of tints are; the usual one by default.
    film_error : float
        How far one swatch's film is from what its coats say, one standard deviation, relative.
    progress : callable, optional
        Is told, in a few words, what is being done.

    Returns
    -------
    Fit
        Colours are those under the light of the photograph's calibration.

    Raises
    ------
    PhotographError
        If the photograph cannot be read or trusted.
    FitError
        If the card cannot give a paint: says why and what to do next.
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
    film_error: float = FILM_ERROR,
    progress: Progress | None = None,
) -> Fit:
    """Return :func:`fit_photograph` of photographs that have been read.

    Parameters
    ----------
    swatches : PhotographedSet
    readings : sequence of CardReading
        As :func:`read_photographed` returns them.
    shelf : Shelf, optional
    film_error : float
    progress : callable, optional

    Returns
    -------
    Fit

    Raises
    ------
    FitError
        If the card cannot give a paint: says why and what to do next.
    """
    tell = progress or silent
    paints_on = shelf or Shelf.usual()
    where = swatches.source or swatches.photograph
    card = card_of(swatches, readings, paints_on, film_error=film_error, where=where)
    complaint = _too_little(card)
    if complaint:
        raise FitError(where, complaint)
    tell(f"fitting K and S to {len(card.seen.xyz)} patches")
    problem, solution, kept = settle_kin(card.problem)
    rounds = _ROUNDS_CUT_OFF if card.seen.cut.any() else 1 if card.seen.channels else 0
    for _ in range(rounds):
        # What the channels' errors do, and what lies below 0, depends on what they look at.
        card = _looked_at_again(card, problem, solution, kept)
        problem, solution, kept = settle_kin(card.problem, begin=solution.unknowns[: 2 * BANDS])
    tell("judging the fit")
    return _finish(swatches, card, problem, solution, kept, where=where)


# --- from a photograph to a problem --------------------------------------------------------------


def read_photographed(swatches: PhotographedSet) -> tuple[CardReading, ...]:
    """Return what the photographs say of their card, read as the swatches file asks.

    Parameters
    ----------
    swatches : PhotographedSet

    Returns
    -------
    tuple of CardReading
        One a photograph, that which is shown first.

    Raises
    ------
    PhotographError
        If a photograph cannot be read or trusted.
    """
    first = photograph_card(
        swatches.photograph,
        swatches.layout,
        corners_px=swatches.corners_px,
        chart_corners_px=swatches.chart_corners_px,
        reference=swatches.reference,
        encoding=swatches.encoding,
    )
    other = swatches.other_light
    if other is None:
        return (first,)
    if first.calibration.reference != "chart":
        raise PhotographError(
            swatches.photograph,
            "no 24-patch chart is found in the picture; a second photograph under another lamp can only be "
            "put beside the first where a chart lies in both. Take both with the chart beside the card, or "
            "leave other_light out",
        )
    second = photograph_card(
        other.photograph,
        swatches.layout,
        corners_px=other.corners_px,
        chart_corners_px=other.chart_corners_px,
        reference="chart",
        encoding=swatches.encoding,
    )
    return first, second


@dataclass(frozen=True, eq=False)
class Views:
    """All photographs of one card.

    Parameters
    ----------
    readings : sequence of CardReading
    channels : sequence of Channels or None
        As :func:`layersim.fitting.colours.channels_of` returns them.
    """

    readings: Sequence[CardReading]
    channels: Sequence[Channels | None]

    def seen(self, names: Sequence[str]) -> Seen:
        """Return some places of the card with all that the photographs say of them.

        Parameters
        ----------
        names : sequence of str
            Places that the first photograph shows well enough.

        Returns
        -------
        Seen
        """
        found: Seen | None = None
        for reading, channels in zip(self.readings, self.channels, strict=True):
            patches = {patch.name: patch for patch in reading.patches}
            lost = np.array([not patches[name].tells for name in names])
            if lost.all():
                continue
            # Numbers of a place that is not shown well need not even be numbers.
            instead = patches[names[int(np.flatnonzero(~lost)[0])]]
            rows = [instead if gone else patches[name] for name, gone in zip(names, lost, strict=True)]
            seen = without(seen_patches(rows, reading, channels), lost)
            found = seen if found is None else together(found, seen)
        if found is None:
            raise AssertionError("the first photograph shows these places")
        return found


def card_of(
    swatches: PhotographedSet,
    readings: Sequence[CardReading],
    shelf: Shelf,
    *,
    film_error: float = FILM_ERROR,
    where: Path,
) -> Card:
    """Return a card that has been read as a problem to fit.

    Parameters
    ----------
    swatches : PhotographedSet
    readings : sequence of CardReading
    shelf : Shelf
    film_error : float
    where : Path
        For messages.

    Returns
    -------
    Card

    Raises
    ------
    FitError
        If nothing of it can be used.
    """
    patches = {patch.name: patch for patch in readings[0].patches}
    notices = _notes(readings)
    good = tuple(s for s in swatches.swatches if _usable(patches[s.patch], s.name, notices))
    if not good:
        raise FitError(where, f"no swatch can be used: {_why(patches, swatches)}. {_AGAIN}")
    views = Views(readings, [channels_of(reading) for reading in readings])
    grounds, modes, bare = _grounds(swatches, views, shelf, notices, where)
    lost = {s.ground for s in good if s.ground is not None} - set(grounds)
    if lost:
        raise FitError(where, f'ground "{min(lost)}": none of its bare places can be used. {_AGAIN}')
    maker = Maker(
        wet_film_um=swatches.wet_film_um,
        volume_solids=swatches.volume_solids,
        sheen=swatches.sheen,
        film_error=film_error,
    )
    known = known_paints(swatches, shelf, where)
    places = [s.patch for s in good] + [name for name, _ in bare]
    seen = views.seen(places)
    notices += _hidden(views, places)
    # A bare ground keeps its own sheen, not that of the paint.
    sheens = {ground.name: ground.sheen for ground in swatches.grounds}
    own = [0.0] * len(good) + [sheens[ground] - swatches.sheen for _, ground in bare]
    surface = cones.directions().k1 * np.array(own)[:, np.newaxis]
    films = with_bare_grounds(
        films_of(good, grounds=grounds, paints=known, maker=maker),
        over=[s.ground for s in good],
        bare=bare,
        grounds=grounds,
        modes=modes,
        sheens=sheens,
    )
    problem = _problem(films, seen, surface, seen.smoothest())
    return Card(
        swatches=good,
        seen=seen,
        problem=problem,
        grounds=grounds,
        modes=modes,
        bare=bare,
        surface=surface,
        readings=tuple(readings),
        maker=maker,
        notices=tuple(notices),
    )


def _problem(films: Films, seen: Seen, surface: FloatArray, reflectance: FloatArray) -> Problem:
    """Return a card's problem, its shared errors as they are for some reflectances."""
    whiten = seen.whitening()
    return Problem(
        told=seen.told,
        films=films,
        observation=Colours(seen.weights, whiten, surface),
        observed=(whiten @ seen.values[..., np.newaxis])[..., 0],
        noise=np.ones(seen.values.shape),
        belief=kin()[0],
        shared=(whiten @ seen.shared(reflectance)[..., np.newaxis])[..., 0],
    )


def _looked_at_again(card: Card, problem: Problem, solution: Solution, kept: npt.NDArray[np.bool_]) -> Card:
    """Return a card with shared errors, and channels cut off at 0, as a fit makes them."""
    seen, films = card.seen, problem.films
    reflectance = solution.reflectance + card.surface
    if seen.cut.any():
        seen = below_zero(seen, kept=kept, **_of_channels(card, problem, solution))
    return dataclasses.replace(card, seen=seen, problem=_problem(films, seen, card.surface, reflectance))


def _of_channels(card: Card, problem: Problem, solution: Solution) -> dict[str, FloatArray]:
    """Return what a fit expects of every channel, for :func:`below_zero`."""
    seen, films = card.seen, problem.films
    slopes = predict_with_slopes(films, solution.unknowns[: films.unknowns])[1]
    shared = np.zeros((0, *seen.values.shape)) if problem.shared is None else problem.shared
    # Shared errors are kept in units of the noise.
    by_shared = np.moveaxis((np.linalg.cholesky(seen.noise) @ shared[..., np.newaxis])[..., 0], 0, -1)
    J = np.concatenate([seen.weights.T @ slopes, by_shared], axis=-1)
    covariance = np.linalg.inv(solution.information)
    expected = (solution.reflectance + card.surface) @ seen.weights
    W, inside = seen.weights, model_error(problem.belief, solution.reflectance)
    return {
        "expected": expected + by_shared @ solution.unknowns[films.unknowns :],
        "variance": np.maximum(np.einsum("icp,pq,icq->ic", J, covariance, J), 1e-12),
        "own": np.einsum("bc,ibd,dc->ic", W, inside, W),
    }


def _notes(readings: Sequence[CardReading]) -> list[str]:
    """Return the notes of all photographs; of several, those that not all have name their picture."""
    common = set.intersection(*(set(reading.notes) for reading in readings))
    return [
        *(note for note in readings[0].notes if note in common),
        *(
            f"{reading.path.name}: {note}"
            for reading in readings
            for note in reading.notes
            if note not in common
        ),
    ]


def _hidden(views: Views, places: Sequence[str]) -> list[str]:
    """Return which places only the first photograph shows well."""
    found = []
    for reading in views.readings[1:]:
        patches = {patch.name: patch for patch in reading.patches}
        lost = [f"{name} ({', '.join(patches[name].flags)})" for name in places if not patches[name].tells]
        if len(lost) == len(places):
            raise PhotographError(reading.path, f"no place of the card can be used: {lost[0]}. {_AGAIN}")
        if lost:
            found.append(f"{reading.path.name} tells nothing of {'; '.join(lost)}")
    return found


_AGAIN: Final = "Photograph the card again: even light, no glare or shadow, nothing clipped"


def _usable(patch: PhotographedPatch, name: str, notices: list[str]) -> bool:
    said = ", ".join(patch.flags)
    if patch.only_cut_off:
        if _WIDER not in notices:
            notices.append(_WIDER)
        notices.append(f'"{name}" counts only as far as the file can say its colour')
        return True
    if not patch.usable:
        notices.append(f'"{name}" was left out ({said}); photograph it again to have it count')
        return False
    if patch.flags:
        notices.append(f'"{name}": {said}')
    return True


_WIDER: Final = (
    "colours are purer than this file can say: photograph in raw, or set the camera to a wider colour "
    "space than sRGB, to narrow the range"
)


def _why(patches: Mapping[str, PhotographedPatch], swatches: PhotographedSet) -> str:
    said = [f'"{s.name}" {", ".join(patches[s.patch].flags)}' for s in swatches.swatches]
    return "; ".join(said[:3]) + ("; ..." if len(said) > 3 else "")


def _grounds(
    swatches: PhotographedSet,
    views: Views,
    shelf: Shelf,
    notices: list[str],
    where: Path,
) -> tuple[dict[str, Below], dict[str, FloatArray], list[tuple[str, str]]]:
    """Return the grounds, what else they may be, and their bare patches (name of the patch, ground)."""
    patches = {patch.name: patch for patch in views.readings[0].patches}
    found: dict[str, Below] = {}
    modes: dict[str, FloatArray] = {}
    bare: list[tuple[str, str]] = []
    for ground in swatches.grounds:
        own = [patches[name] for name in ground.patches if _usable(patches[name], name, notices)]
        if own:
            seen = views.seen([patch.name for patch in own])
            # By precision: one of several places may be hidden in one of the photographs.
            precision = 1.0 / np.diagonal(seen.noise, axis1=1, axis2=2)
            value = (precision * seen.values).sum(axis=0) / precision.sum(axis=0)
            level = 0.01 * float(value[:3].mean())
            covariance = np.diag(1.0 / precision.sum(axis=0) + level**2)
            least = ground.sheen * cones.directions().k1
            slack = 0.005 + 3.0 * float(np.sqrt(seen.xyz_error[0, 1, 1]))
            if float(seen.xyz[:, 1].mean()) < least - slack:
                raise FitError(
                    where,
                    f'ground "{ground.name}": found a luminance of {seen.xyz[:, 1].mean():.3f} of white; '
                    f"expected at least {least:.3f}, which its surface alone returns at this sheen. Give the "
                    f'ground its own: [[ground]] name = "{ground.name}", sheen = "gloss" or "satin".',
                )
            found[ground.name], modes[ground.name] = ground_of_colour(
                value, covariance, seen.weights, sheen=ground.sheen
            )
            bare += [(patch.name, ground.name) for patch in own]
        elif ground.paint is not None:
            try:
                found[ground.name] = primed_ground(shelf.find(ground.paint))
            except LayersimError as fault:
                raise FitError(where, f'ground "{ground.name}": {fault}') from None
    return found, modes, bare


# --- solving -------------------------------------------------------------------------------------


def settle_kin(
    problem: Problem, *, begin: FloatArray | None = None
) -> tuple[Problem, Solution, npt.NDArray[np.bool_]]:
    """Return the answer of all kinds of paints together, equation (Y3).

    Parameters
    ----------
    problem : Problem
        Its own belief does not count.
    begin : ndarray, shape (62,), optional
        ln K and ln S to begin with; each kind's own mean by default.

    Returns
    -------
    problem : Problem
        With the belief that the card agrees with best.
    solution : Solution
    kept : ndarray of bool, shape (m,)
        False for patches that do not belong.
    """
    problems = [dataclasses.replace(problem, belief=kind) for kind in kin()]
    kept = np.ones(len(problem.films.names), dtype=np.bool_)
    first = None
    if begin is not None:
        first = np.zeros(problem.unknowns)
        first[: 2 * BANDS] = begin
    solutions = [solve(own, begin=first) for own in problems]
    best = int(np.argmax(_evidence(problems, solutions)))
    if solutions[best].misfit().max() > LARGEST_MISFIT**2:
        _, kept = settle(problems[best])
        if not kept.all():
            w = kept.astype(np.float64)
            solutions = [
                solve(own, weights=w, begin=s.unknowns) for own, s in zip(problems, solutions, strict=True)
            ]
            best = int(np.argmax(_evidence(problems, solutions)))
    mean, covariance = blended(solutions, weights(_evidence(problems, solutions)))
    reflectance = predict(problem.films, mean[: problem.films.unknowns])
    found = dataclasses.replace(
        solutions[best],
        unknowns=mean,
        information=np.asarray(np.linalg.inv(covariance)),
        reflectance=reflectance,
    )
    return problems[best], found, kept


def _evidence(problems: Sequence[Problem], solutions: Sequence[Solution]) -> FloatArray:
    return np.array(
        [
            evidence(problem, solution, share=problem.belief.share)
            for problem, solution in zip(problems, solutions, strict=True)
            if isinstance(problem.belief, Kin)
        ]
    )


# --- judging -------------------------------------------------------------------------------------


def _finish(
    swatches: PhotographedSet,
    card: Card,
    problem: Problem,
    solution: Solution,
    kept: npt.NDArray[np.bool_],
    *,
    where: Path,
) -> Fit:
    log_K, log_S = solution.unknowns[:BANDS], solution.unknowns[BANDS : 2 * BANDS]
    films, seen = problem.films, card.seen
    m, own = len(films.names), len(card.swatches)
    fitted = solution.reflectance + card.surface
    measured_lab, fitted_lab, by_noise = _shown(seen, fitted)
    delta_e = colour.delta_e_2000(measured_lab, fitted_lab)
    wider = inflation(problem, solution, kept)
    _refuse_contradictions(where, card, delta_e, kept)
    coat_um = float(
        np.median([X / s.coats for s, X in zip(card.swatches, films.thickness_um, strict=False) if s.coats])
        if any(s.coats for s in card.swatches)
        else 0.5 * swatches.wet_film_um * swatches.volume_solids
    )
    posterior = solution.covariance() * wider
    covariance = posterior.copy()
    covariance[:BANDS, :BANDS] += MODEL_K**2
    covariance[BANDS:, BANDS:] += MODEL_S**2
    typical = typical_stacks(log_K, log_S, coat_um=coat_um)
    reach = typical.reach(covariance)
    suggestion = verdicts.suggest(
        belief=problem.belief,
        observation=Colours(seen.weights, np.median(seen.whitening(), axis=0)),
        noise=np.ones(seen.weights.shape[1]),
        log_K=log_K,
        log_S=log_S,
        covariance=posterior,
        typical=typical,
        grounds=card.grounds,
        white=None,
        maker=card.maker,
        thinning=float(np.median([s.thinning for s in card.swatches])),
    )
    outliers = tuple(
        Outlier(name=films.names[i], delta_e=float(delta_e[i]), looks_like="") for i in np.flatnonzero(~kept)
    )
    beyond = np.sqrt(np.maximum(delta_e**2 - (2.0 * by_noise) ** 2, 0.0))
    verdict = verdicts.judge(
        reach=reach,
        residual=float(delta_e[kept].mean()),
        beyond_noise=float(beyond[kept].mean()),
        outliers=len(outliers),
        swatches=m,
    )
    if reach > verdicts.LARGEST_REACH:
        advice = f" What would help most: {suggestion.words}." if suggestion else ""
        raise FitError(
            where,
            f"the photograph leaves open what the paint looks like in thin coats (ΔE00 {reach:.0f}, nine "
            f"times in ten; expected at most {verdicts.LARGEST_REACH:g}).{advice}",
        )
    counted = any(s.dry_film_um is None and not s.opaque for s in card.swatches)
    marked = "" if verdict.grade == "good" else f"{verdict.grade.capitalize()} fit: {verdict.words}."
    paint = Paint(
        name=swatches.paint,
        kind=swatches.kind,
        K_per_um=np.exp(log_K),
        S_per_um=np.exp(log_S),
        volume_solids=swatches.volume_solids,
        wet_film_um=swatches.wet_film_um,
        sheen=swatches.sheen,
        provenance=_provenance(swatches, card, int(kept[:own].sum()), counted=counted),
        invented=swatches.invented,
        note=" ".join(part for part in (swatches.note, marked) if part),
        doubts=doubts_from(covariance, typical, coats_only=counted),
        carrier=swatches.carrier,
        hazards=swatches.hazards,
    )
    film = solution.unknowns[2 * BANDS : 2 * BANDS + m]
    return Fit(
        paint=paint,
        names=films.names,
        measured=None,
        fitted=fitted,
        measured_lab=measured_lab,
        fitted_lab=fitted_lab,
        delta_e=delta_e,
        kept=kept,
        film_factor=np.exp(films.film_error * film),
        outliers=outliers,
        verdict=verdict,
        suggestion=suggestion,
        covariance=covariance,
        chi2=solution.chi2,
        freedom=degrees_of_freedom(problem, solution, kept),
        inflation=wider,
        steps=solution.steps,
        notices=(*card.notices, *_notices(problem, solution, kept), *_other_lamp(card, verdict)),
    )


def _shown(seen: Seen, fitted: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return colours seen and fitted at D65, 2°, and how far noise alone sets them apart (about ΔE*ab).

    What was seen has no spectrum: it is the fitted colour and, beside it, by how much each channel was off.
    """
    view = colour.Viewing()
    W = view.weights
    first = seen.weights[:, :3]
    to_xyz = np.linalg.lstsq(first, W, rcond=None)[0]
    xyz = fitted @ W
    off = seen.values[:, :3] - fitted @ first
    fitted_lab = colour.lab_from_xyz(xyz, view.white)
    measured_lab = colour.lab_from_xyz(np.maximum(xyz + off @ to_xyz, 1e-3), view.white)
    step = 1e-4
    root = np.swapaxes(np.linalg.cholesky(seen.noise[:, :3, :3]), 1, 2) @ to_xyz
    moved = colour.lab_from_xyz(xyz[:, np.newaxis] + step * root, view.white)
    slope = (moved - fitted_lab[:, np.newaxis]) / step
    return measured_lab, fitted_lab, np.sqrt((slope**2).sum(axis=(1, 2)))


def _too_little(card: Card) -> str:
    """Return why these patches cannot give a paint, or nothing."""
    crossed, pairs = _crossed(card, np.ones(len(card.seen.xyz), dtype=np.bool_))
    if crossed and 2 * len(crossed) > pairs:
        return crossed[0]
    films = {(s.ground, *_film(s)) for s in card.swatches}
    own = len(card.swatches)
    if len(films) < 2:
        return (
            f'one swatch only ("{card.swatches[0].name}"): absorption and scattering are two unknowns. '
            "Spray the same film over another ground, black and white serve best, or another number of coats."
        )
    if any(len(s.parts) > 1 for s in card.swatches):
        return ""
    lab, error = card.seen.lab()[:own], card.seen.lab_error()[:own]
    off = colour.delta_e_2000(lab[:, np.newaxis], lab)
    # Errors of the calibration are alike for swatches that look alike, so only a part counts here.
    apart = float((off - np.minimum(np.hypot(error[:, np.newaxis], error), 1.0)).max())
    if apart >= verdicts.LEAST_APART and not all(s.opaque for s in card.swatches):
        return ""
    over = " and ".join(sorted({s.ground for s in card.swatches if s.ground}))
    return (
        f"the swatches look alike over {over} (at most ΔE00 {off.max():.1f} apart): every film is opaque, "
        "and an opaque film tells only the ratio of absorption to scattering. Spray much thinner films "
        f'(half a coat), or a tint: mix = {{ "{THIS_PAINT}" = 1, "titanium white" = 9 }}.'
    )


def _crossed(card: Card, kept: npt.NDArray[np.bool_]) -> tuple[list[str], int]:
    """Return complaints of films that are darker over the lighter ground, and how many were compared."""
    level = card.seen.xyz[:, 1]
    found, pairs = [], 0
    for i, one in enumerate(card.swatches):
        for j, two in enumerate(card.swatches):
            if one.ground is None or two.ground is None or _film(one) != _film(two):
                continue
            lighter = card.grounds[one.ground].reflectance > card.grounds[two.ground].reflectance
            if not (lighter.all() and kept[i] and kept[j]):
                continue
            pairs += 1
            if level[j] - level[i] > 0.01 + 0.05 * float(level[i]):
                found.append(
                    f'swatches "{one.name}" and "{two.name}" contradict each other: the same film is '
                    f"darker over {one.ground}, the lighter ground. Were the places swapped, or is one "
                    "film thicker? Put right which patch is which, or spray and photograph both again."
                )
    return found, pairs


def _film(swatch: CardSwatch) -> tuple[object, ...]:
    return swatch.parts, swatch.thinning, swatch.coats, swatch.dry_film_um, swatch.opaque


def _refuse_contradictions(where: Path, card: Card, delta_e: FloatArray, kept: npt.NDArray[np.bool_]) -> None:
    """Refuse a card on which too little agrees, or a film is darker over the lighter ground."""
    names = [s.name for s in card.swatches]
    own = len(names)
    crossed, _ = _crossed(card, kept)
    if crossed:
        raise FitError(where, crossed[0])
    left = int(kept[:own].sum())
    if left < 2 or 3 * (own - left) > own:
        worst = [f'"{names[i]}" (ΔE00 {delta_e[i]:.1f})' for i in np.argsort(-delta_e[:own])[:3]]
        raise FitError(
            where,
            "the swatches contradict each other: no paint meets them all. Farthest off are "
            f"{', '.join(worst)}. Check which patch is which, their grounds and coats, then photograph "
            "the card again in even light.",
        )


def _provenance(swatches: PhotographedSet, card: Card, kept: int, *, counted: bool) -> str:
    scale = NOMINAL_FILM if counted else "K and S per µm of measured film"
    calibration = card.readings[0].calibration
    by = {
        "chart": f"a 24-patch chart, ΔE00 {calibration.mean_de00:.1f} on patches left out",
        "neutrals": "neutrals only",
        "none": "nothing: the camera's colours were trusted",
    }[calibration.reference]
    lamps = " under two lamps" if len(card.seen.channels) > 1 else ""
    own = f"{swatches.provenance}; " if swatches.provenance else ""
    return f"{own}fitted to {kept} swatches photographed{lamps}, calibrated by {by}; {scale}"


def _other_lamp(card: Card, verdict: Verdict) -> list[str]:
    if len(card.seen.channels) != 1 or verdict.reach <= verdicts.GOOD_REACH:
        return []
    return [
        "to be surer of its colour without spraying more, photograph the same card and chart once more under "
        "another kind of lamp, and name that picture in the swatches file: [photograph.other_light], "
        'file = "..."'
    ]


def _notices(problem: Problem, solution: Solution, kept: npt.NDArray[np.bool_]) -> list[str]:
    found = []
    film = solution.unknowns[2 * BANDS : 2 * BANDS + len(kept)]
    for i in np.flatnonzero(kept & (np.abs(film) > 2.0)):
        factor = float(np.exp(problem.films.film_error[i] * film[i]))
        found.append(f'the film of "{problem.films.names[i]}" seems {factor:.2f} times what was meant')
    if not solution.converged:
        found.append("the fit had not settled when it was stopped; take it with care")
    return found
