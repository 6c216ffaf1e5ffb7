"""A photographed card as a problem to fit: what of it can be used, and whether that is enough for a paint."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.errors import FitError, PhotographError
from layersim.estimate import Estimate
from layersim.fitting.amiss import LEAST_APART, Contradiction, crossed, too_little
from layersim.fitting.bareground import ground_of_colour
from layersim.fitting.colours import Colours, Seen, seen_patches, together, without
from layersim.fitting.cutoff import below_zero
from layersim.fitting.family import kin
from layersim.fitting.films import Below, Maker, films_of, found_on, hand_of, primed_ground
from layersim.fitting.measured import known_paints
from layersim.fitting.problem import Films, FitProblem
from layersim.fitting.solve import Solution, model_error
from layersim.fitting.surfaces import SurfaceSeen, surface_of
from layersim.fitting.two_constant import predict_with_slopes
from layersim.measure.cardreading import CardReading, PhotographedPatch
from layersim.measure.photoswatch import CardSwatch, PhotographedSet
from layersim.optics import cones
from layersim.shelf import Shelf
from layersim.spectra import BANDS, FloatArray

_AGAIN: Final = "Photograph the card again: even light, no glare or shadow, nothing clipped"
_WIDER: Final = (
    "colours are purer than this file can say: photograph in raw, or set the camera to a wider colour "
    "space than sRGB, to narrow the range"
)
# All assumptions. How far a ground may be from what its bare places say, of its level.
_UNEVEN: Final = 0.01
# How much darker than its surface, of white, a bare ground may seem.
_TOO_DARK: Final = 0.005
# Of white: no photograph tells a dark better than that.
_LEAST_DARK: Final = 0.001
# How much darker a film may seem over the lighter ground, of white and of itself.
_CROSSED: Final = 0.01
_CROSSED_SHARE: Final = 0.05
# At most how much of two swatches' errors, ΔE, is not common to both.
_ALIKE_ERROR: Final = 1.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Card:
    """A photographed card, ready to be fitted."""

    swatches: tuple[CardSwatch, ...]
    """Those whose patch can be used."""
    left_out: tuple[CardSwatch, ...]
    """The others."""
    seen: Seen
    """Swatches first, then bare patches."""
    problem: FitProblem
    """Its belief is the first kind of paints."""
    grounds: Mapping[str, Below]
    bare: list[tuple[str, str]]
    """Name and ground of each bare patch."""
    surface: FloatArray
    """Shape (m, 1): reflectance that bare grounds' own sheen adds."""
    readings: tuple[CardReading, ...]
    """One a photograph."""
    maker: Maker
    notices: tuple[str, ...]
    """What was left out, and what the photographs' readings have to say."""


@dataclass(frozen=True, eq=False)
class Views:
    """All photographs of one card."""

    readings: Sequence[CardReading]

    def seen(self, names: Sequence[str]) -> Seen:
        """Return some places of the card with all that the photographs say of them.

        `names`: places that the first photograph shows well enough.
        """
        found: Seen | None = None
        for reading in self.readings:
            patches = {patch.name: patch for patch in reading.patches}
            lost = np.array([not patches[name].tells for name in names])
            if lost.all():
                continue
            # Numbers of a place that is not shown well need not even be numbers.
            instead = patches[names[int(np.flatnonzero(~lost)[0])]]
            rows = [instead if gone else patches[name] for name, gone in zip(names, lost, strict=True)]
            seen = without(seen_patches(rows, reading), lost)
            found = seen if found is None else together(found, seen)
        if found is None:
            raise AssertionError("the first photograph shows these places")
        return found.looking_at(found.smoothest())


def card_of(
    swatches: PhotographedSet,
    readings: Sequence[CardReading],
    shelf: Shelf,
    *,
    film_error: float | Estimate | None = None,
    where: Path,
) -> Card:
    """Return a card that has been read as a problem to fit.

    `film_error`: how far one swatch's film is from what its coats say, one standard deviation,
    relative: as it is, or as it is thought before the swatches are looked at. By default what is usual
    for how they were laid. `where`: for messages. Raises FitError if nothing of it can be used.
    """
    patches = {patch.name: patch for patch in readings[0].patches}
    notices = _notes(readings)
    good = tuple(s for s in swatches.swatches if _usable(patches[s.patch], s.name, notices))
    if not good:
        raise FitError(where, f"no swatch can be used: {_why(readings[0], swatches.swatches)}. {_AGAIN}")
    views = Views(readings)
    grounds, bare = _grounds(swatches, views, shelf, notices, where)
    lost = {s.ground for s in good if s.ground is not None} - set(grounds)
    if lost:
        raise FitError(where, f'ground "{min(lost)}": none of its bare places can be used. {_AGAIN}')
    known = known_paints(swatches, shelf, where)
    places = [s.patch for s in good] + [name for name, _ in bare]
    seen = views.seen(places)
    notices += _hidden(views, places)
    # A bare ground keeps its own sheen, not that of the paint.
    sheens = {ground.name: ground.sheen for ground in swatches.grounds}
    maker = Maker(
        wet_film_um=swatches.wet_film_um,
        volume_solids=swatches.volume_solids,
        sheen=swatches.sheen,
        surface=_surface(swatches.sheen, seen, [sheens[ground] for _, ground in bare]),
        film_error=hand_of(swatches.laid, film_error),
    )
    own = [0.0] * len(good) + [sheens[ground] - swatches.sheen for _, ground in bare]
    surface = cones.directions().k1 * np.array(own)[:, np.newaxis]
    films = films_of(good, grounds=grounds, paints=known, maker=maker, bare=bare)
    problem = _problem(films, seen, surface, seen.smoothest())
    return Card(
        swatches=good,
        left_out=tuple(s for s in swatches.swatches if s not in good),
        seen=seen,
        problem=problem,
        grounds=grounds,
        bare=bare,
        surface=surface,
        readings=tuple(readings),
        maker=maker,
        notices=tuple(notices),
    )


def _surface(sheen: float, seen: Seen, bare_sheens: Sequence[float]) -> SurfaceSeen:
    """Return how far the share of the first reflection is in doubt, told by the card's bare grounds.

    A photograph's darkest greys are not sure enough to move it, only to widen or narrow the doubt.
    """
    Y = seen.xyz[:, 1]
    noise = np.sqrt(np.maximum(seen.xyz_error[:, 1, 1], 0.0)) + _LEAST_DARK

    def reading(i: int, told: float) -> tuple[FloatArray, FloatArray, float]:
        return np.full(BANDS, Y[i]), np.full(BANDS, noise[i] * math.sqrt(BANDS / 3.0)), told

    own = len(Y) - len(bare_sheens)
    found = surface_of(
        [reading(i, sheen) for i in range(own)],
        [reading(own + i, told) for i, told in enumerate(bare_sheens)],
    )
    return SurfaceSeen(shift=0.0, doubt=math.hypot(found.shift, found.doubt))


def complaint(card: Card) -> str:
    """Return why a card's patches cannot give a paint, or nothing."""
    own = len(card.swatches)
    found, pairs = crossed_films(card, np.ones(own, dtype=np.bool_))
    if 2 * len(found) > pairs:
        return found[0].words
    lab, error = card.seen.lab()[:own], card.seen.lab_error()[:own]
    off = colour.delta_e_2000(lab[:, np.newaxis], lab)
    # Errors of the calibration are alike for swatches that look alike, so only a part counts here.
    told = off - np.minimum(np.hypot(error[:, np.newaxis], error), _ALIKE_ERROR)
    said = too_little(card.swatches, apart=float(off.max()), alike=float(told.max()) < LEAST_APART)
    if said and own == 1 and card.left_out:
        count = len(card.left_out) + own
        return f"only {own} of {count} swatches can be used: {left_out_words(card)}. {_AGAIN}."
    return said


def crossed_films(card: Card, kept: npt.NDArray[np.bool_]) -> tuple[list[Contradiction], int]:
    """Return films, of those kept, that are darker over the lighter ground, and how many were compared."""
    rows = np.flatnonzero(kept[: len(card.swatches)])
    level = card.seen.xyz[rows, 1]
    slack = np.repeat((_CROSSED + _CROSSED_SHARE * level)[:, np.newaxis], len(rows), axis=1)
    chosen = [card.swatches[i] for i in rows]
    return crossed(chosen, card.grounds, level=level, slack=slack, swapped="places")


def looked_at_again(card: Card, problem: FitProblem, solution: Solution, kept: npt.NDArray[np.bool_]) -> Card:
    """Return a card with shared errors, and channels cut off at 0, as a fit makes them.

    `problem`: the card's, with the belief that it was fitted with. `kept` has shape (m,): patches that
    the fit counted.
    """
    films = problem.films
    reflectance = solution.reflectance + card.surface
    seen = card.seen.looking_at(reflectance)
    if seen.cut.any():
        seen = below_zero(seen, kept=kept, **_of_channels(card, problem, solution))
    return dataclasses.replace(card, seen=seen, problem=_problem(films, seen, card.surface, reflectance))


def _of_channels(card: Card, problem: FitProblem, solution: Solution) -> dict[str, FloatArray]:
    """Return what a fit expects of every channel, for :func:`layersim.fitting.cutoff.below_zero`."""
    seen, films = card.seen, problem.films
    slopes = predict_with_slopes(films, solution.unknowns[: films.unknowns])[1]
    by_shared = in_values(seen, problem)
    J = np.concatenate([seen.weights.T @ slopes, by_shared], axis=-1)
    covariance = np.linalg.inv(solution.information)
    expected = (solution.reflectance + card.surface) @ seen.weights
    W, inside = seen.weights, model_error(problem.belief, solution.reflectance)
    return {
        "expected": expected + by_shared @ solution.unknowns[films.unknowns :],
        "variance": np.maximum(np.einsum("icp,pq,icq->ic", J, covariance, J), 1e-12),
        "own": np.einsum("bc,ibd,dc->ic", W, inside, W),
    }


def in_values(seen: Seen, problem: FitProblem) -> FloatArray:
    """Return what one standard deviation of each shared error does to what was seen.

    `problem`: of that card; it keeps them in units of the noise. The answer has shape (m, n, r).
    """
    shared = np.zeros((0, *seen.values.shape)) if problem.shared is None else problem.shared
    return np.moveaxis((np.linalg.cholesky(seen.noise) @ shared[..., np.newaxis])[..., 0], 0, -1)


def _problem(films: Films, seen: Seen, surface: FloatArray, reflectance: FloatArray) -> FitProblem:
    """Return a card's problem, its shared errors as they are for some reflectances."""
    whiten = seen.whitening()
    return FitProblem(
        told=seen.told,
        films=films,
        observation=Colours(seen.weights, whiten, surface),
        observed=(whiten @ seen.values[..., np.newaxis])[..., 0],
        noise=np.ones(seen.values.shape),
        belief=kin()[0],
        shared=(whiten @ seen.shared(reflectance)[..., np.newaxis])[..., 0],
    )


def _grounds(
    swatches: PhotographedSet,
    views: Views,
    shelf: Shelf,
    notices: list[str],
    where: Path,
) -> tuple[dict[str, Below], list[tuple[str, str]]]:
    """Return the grounds and their bare patches (name of the patch, ground)."""
    patches = {patch.name: patch for patch in views.readings[0].patches}
    found: dict[str, Below] = {}
    bare: list[tuple[str, str]] = []
    for ground in swatches.grounds:
        own = [patches[name] for name in ground.patches if _usable(patches[name], name, notices)]
        if own:
            seen = views.seen([patch.name for patch in own])
            # By precision: one of several places may be hidden in one of the photographs.
            precision = 1.0 / np.diagonal(seen.noise, axis1=1, axis2=2)
            value = (precision * seen.values).sum(axis=0) / precision.sum(axis=0)
            level = _UNEVEN * float(value[:3].mean())
            covariance = np.diag(1.0 / precision.sum(axis=0) + level**2)
            least = ground.sheen * cones.directions().k1
            slack = _TOO_DARK + 3.0 * float(np.sqrt(seen.xyz_error[0, 1, 1]))
            if float(seen.xyz[:, 1].mean()) < least - slack:
                raise FitError(
                    where,
                    f'ground "{ground.name}": found a luminance of {seen.xyz[:, 1].mean():.3f} of white; '
                    f"expected at least {least:.3f}, which its surface alone returns at this sheen. Give the "
                    f'ground its own: [[ground]] name = "{ground.name}", sheen = "gloss" or "satin".',
                )
            found[ground.name] = ground_of_colour(value, covariance, seen.weights, sheen=ground.sheen)
            bare += [(patch.name, ground.name) for patch in own]
        elif ground.paint is not None:
            primer = found_on(shelf, ground.paint, where, f'ground "{ground.name}"')
            found[ground.name] = primed_ground(primer)
    return found, bare


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


def left_out_words(card: Card) -> str:
    """Return what is wrong with the places of swatches that cannot be used."""
    return _why(card.readings[0], card.left_out)


def _why(reading: CardReading, swatches: Sequence[CardSwatch]) -> str:
    patches = {patch.name: patch for patch in reading.patches}
    said = [f'"{s.name}" {", ".join(patches[s.patch].flags)}' for s in swatches]
    return "; ".join(said[:3]) + ("; ..." if len(said) > 3 else "")


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
