"""Measured swatches to a paint: the whole of the fit in the order in which it happens."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.errors import FitError, LayersimError
from layersim.estimate import Estimate
from layersim.fitting import amiss
from layersim.fitting import verdict as verdicts
from layersim.fitting.amiss import Contradiction
from layersim.fitting.beginning import start
from layersim.fitting.doubts import Typical, films_over, surface_doubt
from layersim.fitting.family import Kinds, answer_of_kinds, kin_of_coats
from layersim.fitting.films import Below, Maker, films_of, found_on, hand_of, measured_ground, primed_ground
from layersim.fitting.finish import Met, Open, finish
from layersim.fitting.onlycolours import ColoursOnly, only_colours
from layersim.fitting.ownerrors import (
    SURFACE_SCATTER,
    covariance_as_seen,
    covariance_of_common_error,
)
from layersim.fitting.problem import Belief, FitProblem, Spectra
from layersim.fitting.result import Fit, Outlier, Verdict, far_off
from layersim.fitting.robust import inflation, settle, tails
from layersim.fitting.solve import Solution
from layersim.fitting.surfaces import AS_SAID, SurfaceSeen, surface_of
from layersim.fitting.two_constant import ground_shows, predict
from layersim.measure.card import coats_in_words
from layersim.measure.swatch import THIS_PAINT, Sprayed, SwatchSet
from layersim.optics import cones
from layersim.paint import FIRST_REFLECTIONS, Paint
from layersim.shelf import Shelf
from layersim.spectra import BANDS, FloatArray

if TYPE_CHECKING:
    from layersim.measure.photoswatch import PhotographedSet

LARGEST_INFLATION: Final = 100.0
"""Misfit of ten standard errors all round: the swatches are not of one paint, or not what they say."""

_TINTING_WHITE: Final = "titanium white"

LARGEST_MISFIT: Final = 5.0
"""ΔE00 with which swatches of one paint are met at the worst, a root mean square beyond noise."""
_NOTEWORTHY_SHIFT: Final = 0.12
# A bare ground that sends back less than this, past its surface, is black enough to tell of it.
_BLACK: Final = 0.03
# A doubt of the surface that makes more than this share of the whole is worth a black swatch.
_SURFACE_MATTERS: Final = 0.7


def knows_only_nominal_film(paint: Paint, *, sprayer: str) -> bool:
    """Return whether a paint's record has no film but what counted coats were taken to be.

    Coats scaled by the profile of the sprayer who asks are no better, those of another hand are.
    """
    return paint.film_basis == "coats" and paint.film_of in ("", sprayer)


def fit_swatches(
    swatches: SwatchSet,
    shelf: Shelf | None = None,
    *,
    film_error: float | Estimate | None = None,
    belief: Belief | None = None,
) -> Fit:
    """Return the paint that measured swatches make most likely, with how sure that is.

    K and S at every wavelength are fitted to all swatches at once. They are per micrometre of nominal film
    where only coats are counted; see :mod:`layersim.fitting.films`. The shelf, by default the usual one, has
    the primers and the known paints of tints. `film_error` is how far a swatch's film is from what its coats
    say, one standard deviation, relative: as it is, or as it is thought before the swatches are looked at;
    by default what is usual for how they were laid. `belief` is what is thought of paints beforehand.

    Raises FitError if the swatches cannot give a paint: it says why and what to do next.
    """
    where = swatches.source or Path(swatches.paint)
    amiss.refuse_metal(swatches, where)
    paints_on = shelf or Shelf.usual()
    known = known_paints(swatches, paints_on, where)
    problem, grounds, maker = problem_of(swatches, paints_on, known, where, film_error=film_error)
    complaint = amiss.objections(
        swatches.swatches, reflectance=problem.observed, noise=problem.noise, grounds=grounds, maker=maker
    )
    if complaint:
        raise FitError(where, complaint)
    coat_um = swatches.wet_film_um * swatches.volume_solids
    problem = dataclasses.replace(problem, belief=belief or Belief.of_coats(coat_um))
    colours = only_colours(_everything_read(swatches))
    begin = start(problem) if colours else None
    problem = _as_colours(problem) if colours else problem
    # With no more than a belief about coats, colours creep along: far enough tells which swatches belong.
    problem, solution, kept = settle(problem, begin=begin, roughly=colours)
    shown = _showing_ground(swatches, problem, solution)
    if belief is None and (colours or verdicts.over_one_ground(shown, grounds)):
        # One ground leaves K and S to each other, three numbers leave a spectrum open: what paints are like
        # tells as far as can be.
        count = kept * tails(solution)
        kinds: Kinds = [(kind, solution.unknowns) for kind in kin_of_coats(coat_um)]
        likely = answer_of_kinds(problem, kept=count, among=kinds, roughly=True)[2]
        problem, solution, _ = answer_of_kinds(problem, kept=count, among=likely)
    return _finish(
        swatches,
        problem,
        solution,
        kept,
        shelf=paints_on,
        grounds=grounds,
        known=known,
        maker=maker,
        where=where,
    )


def problem_of(
    swatches: SwatchSet,
    shelf: Shelf,
    known: Mapping[str, Paint],
    where: Path,
    *,
    film_error: float | Estimate | None,
) -> tuple[FitProblem, dict[str, Below], Maker]:
    """Return swatches as a problem of no certain belief, their grounds, and how their coats became films.

    `known` are the other paints of tints. Raises FitError as :func:`grounds_of` does.
    """
    surface = surface_of_set(swatches)
    grounds = grounds_of(swatches, shelf, where, surface)
    maker = Maker(
        wet_film_um=swatches.wet_film_um,
        volume_solids=swatches.volume_solids,
        sheen=max(swatches.surface_share(swatches.sheen) + surface.shift, 0.0),
        film_error=hand_of(swatches.laid, film_error),
        surface=surface,
    )
    problem = FitProblem(
        films=films_of(swatches.swatches, grounds=grounds, paints=known, maker=maker),
        observation=Spectra(),
        observed=np.stack([s.reflectance for s in swatches.swatches]),
        noise=np.stack([s.noise for s in swatches.swatches]),
        belief=Belief(),
        surface_scatter=SURFACE_SCATTER,
    )
    return problem, grounds, maker


def _finish(
    swatches: SwatchSet,
    problem: FitProblem,
    solution: Solution,
    kept: npt.NDArray[np.bool_],
    *,
    shelf: Shelf,
    grounds: Mapping[str, Below],
    known: Mapping[str, Paint],
    maker: Maker,
    where: Path,
) -> Fit:
    sprayed = swatches.swatches
    m = len(sprayed)
    view = colour.Viewing()
    measured = np.stack([s.reflectance for s in sprayed])
    noise = np.stack([s.noise for s in sprayed])
    measured_lab, fitted_lab = colour.lab(measured, view), colour.lab(solution.reflectance, view)
    delta_e = colour.delta_e_2000(measured_lab, fitted_lab)
    by_noise = amiss.colour_noise(solution.reflectance, noise)
    # A reading that is off by several ΔE00 of its own says little of what the model is off.
    tells = kept / (1.0 + by_noise**4)
    misfit = math.sqrt(max(0.0, float(tells @ (delta_e**2 - by_noise**2)) / max(float(tells.sum()), 1e-9)))
    wider = inflation(problem, solution, kept)
    factor = problem.films.film_factor(solution.unknowns)
    explained = ~kept | far_off(factor)
    apart = 3 * int((~kept).sum()) > m or int(kept.sum()) < 2 or 2 * int(explained.sum()) > m
    pairs = amiss.contradictions(sprayed, reflectance=measured, noise=noise, grounds=grounds)
    hopeless = apart or wider > LARGEST_INFLATION or misfit > LARGEST_MISFIT
    _refuse_contradictions(where, pairs, problem.films.names, delta_e, explained, hopeless=hopeless)

    shown = _showing_ground(swatches, problem, solution)
    one_ground = verdicts.over_one_ground(shown, grounds)
    posterior = covariance_as_seen(problem, solution, kept) * wider
    less_sure = verdicts.ONE_GROUND**2 if one_ground else 1.0
    by_paint = less_sure * posterior + problem.belief.model_covariance(misfit)
    if one_ground:
        by_paint += covariance_of_common_error(problem, solution, kept)
    # Two standard deviations: a swatch within them is met, as far as anybody can tell.
    beyond_noise = np.sqrt(np.maximum(delta_e**2 - (2.0 * by_noise) ** 2, 0.0))
    white = verdicts.white_for_tints(known) or _shelf_white(shelf)
    return finish(
        swatches,
        sprayed,
        problem,
        solution,
        kept,
        met=Met(
            measured=measured,
            fitted=solution.reflectance,
            measured_lab=measured_lab,
            fitted_lab=fitted_lab,
            delta_e=delta_e,
            residual=float(delta_e[kept].mean()),
            beyond_noise=float(beyond_noise[kept].mean()),
        ),
        left=Open(
            by_paint=by_paint,
            inflation=less_sure * wider,
            one_ground=one_ground,
            **_surface(swatches, solution, maker),
        ),
        outliers=tuple(
            _outlier(swatches, problem, solution, int(i), float(delta_e[i]), grounds)
            for i in np.flatnonzero(~kept)
        ),
        suggest=lambda typical: verdicts.suggest(
            belief=problem.belief,
            observation=problem.observation,
            noise=np.median(problem.noise, axis=0),
            paint=solution.unknowns[: 2 * BANDS],
            # A swatch over another ground takes away what one ground alone leaves open.
            covariance=posterior,
            typical=typical,
            grounds=grounds,
            white=white,
            maker=maker,
            sprayed=sprayed,
        ),
        remedy=lambda verdict, typical: _remedy(
            verdict, by_paint, typical, verdicts.missing_ground(shown, grounds), grounds
        ),
        notices=lambda verdict: (
            *swatches.notices,
            *_notices(swatches, solution, factor, kept, good=verdict.grade == "good"),
            *_surface_notice(swatches, maker.surface),
        ),
        made_from="the swatches leave",
        provenance=f"fitted to {int(kept.sum())} measured swatches",
        where=where,
    )


def _surface(swatches: SwatchSet, solution: Solution, maker: Maker) -> dict[str, Any]:
    """Return the doubt about the surface, and the sheen and first reflection of the dry paint."""
    # With the specular included an instrument sees all of it; what differs is then the binder's index.
    included = swatches.specular == "included"
    share = maker.sheen if included else max(swatches.sheen + maker.surface.shift, 0.0)
    k1 = cones.directions().k1 * (share if included else max(share, 1.0))
    return {
        "surface": surface_doubt(
            solution.by_considered[: 2 * BANDS].sum(axis=1),
            sheen=0.0 if included else maker.surface.doubt,
            first_reflection=maker.surface.doubt if included else 0.0,
        ),
        # No sheen is more than all of the first reflection: what is beyond is a stronger one.
        "sheen": swatches.sheen if included else min(share, 1.0),
        "first_reflection": float(np.clip(k1, *FIRST_REFLECTIONS)),
    }


def _showing_ground(swatches: SwatchSet, problem: FitProblem, solution: Solution) -> Sequence[Sprayed]:
    """Return the swatches through which their ground shows, or all if none is like that."""
    shows = ground_shows(problem.films, solution.unknowns[: problem.films.unknowns])
    return [s for s, shown in zip(swatches.swatches, shows, strict=True) if shown] or swatches.swatches


def _everything_read(swatches: SwatchSet) -> FloatArray:
    bare = [g.reflectance for g in swatches.grounds if g.reflectance is not None]
    return np.stack([s.reflectance for s in swatches.swatches] + bare)


def _as_colours(problem: FitProblem) -> FitProblem:
    seen = ColoursOnly()
    return dataclasses.replace(
        problem,
        observation=seen,
        observed=seen.observe(problem.observed),
        noise=seen.noise(problem.observed, problem.noise),
    )


def surface_of_set(swatches: SwatchSet) -> SurfaceSeen:
    """Return what a set's own readings say of its surfaces; see :mod:`layersim.fitting.surfaces`."""
    return surface_of(
        [(s.reflectance, s.noise, swatches.surface_share(swatches.sheen)) for s in swatches.swatches],
        [
            (g.reflectance, g.noise, swatches.surface_share(g.sheen))
            for g in swatches.grounds
            if g.reflectance is not None and g.noise is not None
        ],
    )


# --- what the swatches stand on and are mixed with ---------------------------------------------


def grounds_of(
    swatches: SwatchSet, shelf: Shelf, where: Path, surface: SurfaceSeen = AS_SAID
) -> dict[str, Below]:
    """Return what swatches stand on, by name, with primers from the shelf; `where` is for messages.

    Raises FitError if a primer is not on the shelf, or a ground is darker than its surface alone.
    """
    found = {}
    k1 = cones.directions().k1
    for ground in swatches.grounds:
        if ground.paint is not None:
            primer = found_on(shelf, ground.paint, where, f'ground "{ground.name}"')
            found[ground.name] = primed_ground(primer)
        elif ground.reflectance is not None and ground.noise is not None:
            share = max(swatches.surface_share(ground.sheen) + surface.shift, 0.0)
            if float(ground.reflectance.mean()) < share * k1 - 0.004 - float(ground.noise.mean()):
                raise FitError(
                    where,
                    f'ground "{ground.name}": found a mean reflectance of {ground.reflectance.mean():.3f}; '
                    f"expected at least {share * k1:.3f}, which its surface returns by itself. "
                    + (
                        'If the specular reflection was excluded, say so: specular = "excluded".'
                        if swatches.specular == "included"
                        else 'Give its own sheen: sheen = "gloss" or "satin".'
                    ),
                )
            found[ground.name] = measured_ground(ground.reflectance, ground.noise, sheen=share)
    return found


def known_paints(swatches: SwatchSet | PhotographedSet, shelf: Shelf, where: Path) -> dict[str, Paint]:
    """Return the other paints of tints, by name; raise :class:`FitError` where one is not on the shelf."""
    found: dict[str, Paint] = {}
    for swatch in swatches.swatches:
        for name, _ in swatch.parts:
            if name != THIS_PAINT and name not in found:
                found[name] = found_on(shelf, name, where, f'swatch "{swatch.name}", mix')
    return found


def _shelf_white(shelf: Shelf) -> Paint | None:
    try:
        return shelf.find(_TINTING_WHITE)
    except LayersimError:
        return None


# --- swatches that do not agree ------------------------------------------------------------------


def _outlier(
    swatches: SwatchSet,
    problem: FitProblem,
    solution: Solution,
    row: int,
    delta_e: float,
    grounds: Mapping[str, Below],
) -> Outlier:
    """Return a swatch left out, with the film or ground that would explain it."""
    swatch = swatches.swatches[row]
    paint = solution.unknowns[: 2 * BANDS]
    nominal = float(problem.films.thickness_um[row])
    looks_like = ""
    best = min(2.0, 0.35 * delta_e)
    view = colour.Viewing()
    if np.isfinite(nominal) and len(swatch.parts) == 1:
        factors = np.geomspace(0.1, 10.0, 81)
        for name, below in grounds.items():
            reflectance = np.repeat(below.reflectance[np.newaxis], factors.size, axis=0)
            films = films_over(thickness_um=nominal * factors, reflectance=reflectance, film_error=0.0)
            tried = predict(films, np.concatenate([paint, np.zeros(factors.size)]))
            k1 = cones.directions().k1
            lab = colour.lab(tried + problem.films.sheen * k1, view)
            off = colour.delta_e_2000(lab, colour.lab(swatch.reflectance, view))
            at = int(off.argmin())
            if off[at] < best:
                best = float(off[at])
                looks_like = _film_words(swatch, float(factors[at]), name)
    return Outlier(name=swatch.name, delta_e=delta_e, looks_like=looks_like)


def _film_words(swatch: Sprayed, factor: float, ground: str) -> str:
    words = []
    if abs(np.log(factor)) > 0.15:
        if swatch.coats is not None:
            # Nobody lays 4.2 coats: to the nearest half.
            count = max(round(2.0 * factor * swatch.coats) / 2.0, 0.5)
            words.append(f"{coats_in_words(count)} (not {swatch.coats:g})")
        else:
            words.append(f"{factor:.2g} times its film")
    if ground != swatch.ground:
        words.append(f"over {ground} (not {swatch.ground})")
    return " ".join(words)


def _refuse_contradictions(
    where: Path,
    pairs: Sequence[Contradiction],
    names: Sequence[str],
    delta_e: FloatArray,
    explained: npt.NDArray[np.bool_],
    *,
    hopeless: bool,
) -> None:
    bad = {name for name, known in zip(names, explained, strict=True) if known}
    for pair in pairs:
        # One bad swatch explains its pair; nothing explains a fit that has come apart.
        if hopeless or bad.isdisjoint(pair.names):
            raise FitError(where, pair.words)
    if hopeless:
        worst = [f'"{names[i]}" (ΔE00 {delta_e[i]:.1f})' for i in np.argsort(-delta_e)[:3]]
        raise FitError(
            where,
            "the swatches contradict each other: no paint meets them all. Farthest off are "
            f"{', '.join(worst)}. Check their grounds, coats and mixes, and whether the specular "
            "was excluded; measure them again.",
        )


# --- words ---------------------------------------------------------------------------------------


def _notices(
    swatches: SwatchSet,
    solution: Solution,
    film_factor: FloatArray,
    kept: npt.NDArray[np.bool_],
    *,
    good: bool,
) -> list[str]:
    found = []
    for i in np.flatnonzero(kept & far_off(film_factor)):
        swatch, factor = swatches.swatches[i], float(film_factor[i])
        like = _film_words(swatch, factor, str(swatch.ground))
        found.append(f'check "{swatch.name}": it looks like {like}. If so, put it right and fit again')
    if not good:
        sd = np.sqrt(np.diag(solution.covariance()))
        for name, spread in (("absorption", sd[:BANDS]), ("scattering", sd[BANDS:])):
            open_bands = int((spread > math.log(2.0)).sum())
            if open_bands > BANDS // 3:
                found.append(
                    f"{name} is known to no more than a factor of two at {open_bands} of {BANDS} wavelengths"
                )
    if not any(s.ground for s in swatches.swatches):
        found.append("no swatch shows its ground, so hiding is a guess")
    return found


def _surface_notice(swatches: SwatchSet, surface: SurfaceSeen) -> list[str]:
    """Say where the darkest reading speaks against what the file says of the surface."""
    if abs(surface.shift) <= _NOTEWORTHY_SHIFT:
        return []
    more = "more" if surface.shift > 0.0 else "less"
    sheen = min(max(swatches.sheen + surface.shift, 0.0), 1.0)
    told = "a surface of paint" if swatches.specular == "included" else f"a sheen of {swatches.sheen:.2g}"
    what = (
        "the binder may be of another refractive index, or the specular reflection was excluded after all"
        if swatches.specular == "included"
        else f"the paint is taken to dry with a sheen of {sheen:.2g}"
    )
    return [f"the darkest reading holds {more} of its surface's reflection than {told} should show; {what}"]


def _remedy(
    verdict: Verdict,
    by_paint: FloatArray,
    typical: Typical,
    missing: str,
    grounds: Mapping[str, Below],
) -> str:
    """Return what else would help, as sentences; empty where nothing is known to."""
    found = [missing] if missing else []
    # What the worst varnish would show if the surface were known.
    known = max(typical.reach_under(by_paint).values())
    # A primer of the shelf is dark, but no reading tells how much of its surface this instrument saw.
    dark = any(b.paint is None and float(b.reflectance.mean()) < _BLACK for b in grounds.values())
    if not dark and verdict.grade != "good" and known < _SURFACE_MATTERS * max(verdict.reach_under.values()):
        found.append(
            "How much of the surface's reflection the readings hold is in doubt, which shows under a gloss "
            "varnish. Read an opaque black of the same finish as well and name it as a [[ground]]: it tells."
        )
    return " ".join(found)
