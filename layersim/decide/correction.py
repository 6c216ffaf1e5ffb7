"""After the fact: what came out is not what was wanted, and the smallest coat that brings it back.

First it is asked which step forgotten or doubled, and which films, explain the chips
(:mod:`layersim.decide.diagnosis`). Where something does, the correction is searched over that stack. Where
nothing does, the surface is taken for a ground that scatters evenly: its spectrum is the one that was
predicted, changed smoothly until it has the colour found. What is laid over it is searched as any match. A
correction must bring shadow, middle and light nearer, all three, or it is better to leave it.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar, Final

import numpy as np

from layersim import colour
from layersim.chance import check_counts
from layersim.decide.diagnosis import Explanation, diagnosed
from layersim.decide.eye import DISTURBS, SEEN
from layersim.decide.match import coat_of, find_place, lab_of_recipes, own_film_factor, refuse_metal
from layersim.decide.opening import Opening, opening_in
from layersim.decide.recipes import Limits, pots
from layersim.decide.search import Progress, closeness, search
from layersim.decide.targets import PLACE_WORDS, ToneTargets, place_tone, surface_can_be, tone_targets
from layersim.errors import LayersimError
from layersim.optics import cones, surface
from layersim.optics.cones import Admittance
from layersim.paint import Paint
from layersim.scheme.prediction import AreaPrediction
from layersim.scheme.records import Coat, Scheme, Targets, Where, targets_of
from layersim.scheme.simulate import simulate
from layersim.scheme.targets import Target
from layersim.shown import Shown
from layersim.spectra import FloatArray, wavelengths_nm

ENOUGH: Final = 0.3
"""ΔE00 of closeness for which nobody sprays one coat more of two that both help."""
WORTH: Final = 0.5
"""ΔE00 of closeness that a correction must gain at the least."""
GAINS: Final = 0.1
"""ΔE00 that each of shadow, middle and light must gain, unless nobody sees what is left of it."""
EXPLAINED: Final = 2.5
"""Mean ΔE00 of the chips within which a diagnosis explains them."""
LIMITS: Final = Limits(paints_at_most=2, drops=6, coats=(1, 2, 3, 4), thinnings=(2.0, 4.0))
"""Corrections are thin: this by default."""


@dataclass(frozen=True, eq=False)
class Correction:
    """One way to bring the tones back."""

    coat: Coat
    lab: FloatArray
    """Shape (tones, 3). After it, with an even film."""
    delta_e: FloatArray
    """Shape (counted tones,). From the targets, after it."""

    @property
    def closeness(self) -> float:
        """½ (mean + worst) of ΔE00 after it."""
        return float(closeness(self.delta_e))


@dataclass(frozen=True, eq=False)
class Corrections(Shown):
    """What came out, and what to do about it."""

    scheme: Scheme
    found: FloatArray
    """Shape (tones, 3). L*a*b* of what came out."""
    targets: ToneTargets
    from_prediction: bool
    """Whether the targets are the scheme's own predicted finish, for want of others."""
    delta_e: FloatArray
    """Shape (counted tones,). From the targets, as it is."""
    explanations: tuple[Explanation, ...]
    """What may have gone wrong, likeliest first."""
    over_stack: bool
    """Whether it is corrected over the stack of the likeliest explanation; else over an even ground."""
    smallest: Correction | None
    """The fewest coats that come as near as can be; None where it is best left alone."""
    others: tuple[Correction, ...]
    """With other paints, as near or nearer."""
    shelf: tuple[Paint, ...]
    """The paints that were tried."""
    limits: Limits

    JSON_ALSO: ClassVar = ("viewing",)

    @property
    def viewing(self) -> colour.Viewing:
        """The light that all its colours stand for."""
        return self.scheme.viewing

    @property
    def closeness(self) -> float:
        """½ (mean + worst) of ΔE00 as it is."""
        return float(closeness(self.delta_e))


def correct(
    scheme: Scheme,
    *,
    area: str,
    found: Mapping[str, FloatArray],
    paints: Sequence[Paint],
    doubts: Mapping[str, float] | None = None,
    targets: Targets | None = None,
    limits: Limits = LIMITS,
    tones: int = 9,
    progress: Progress | None = None,
) -> Corrections:
    """Return the smallest correction of what came out.

    `found` is L*a*b*, shape (3,), or a measured reflectance, shape (31,), of what came out there. `doubts`
    says by how much each of L*, a* and b* may be off there, nine times in ten, where it was not measured.
    `targets` are by default the area's own, and for want of these the scheme's predicted finish. Raises
    LayersimError if nothing was found, or a colour that no surface can have.
    """
    check_counts(tones=tones)
    place = find_place(scheme, area=area, coat=None, after="preshade")
    refuse_metal(place.area)
    paints = [paint for paint in paints if paint.flakes is None]
    view = scheme.viewing
    finish = simulate(dataclasses.replace(scheme, areas=(place.area,)), tones=tones, draws=0).areas[0]
    came_out = _found_targets(found, doubts or {}, tones=tones, viewing=view)
    asked = targets if targets is not None else place.area.targets
    planned = not asked.given
    if planned:
        goals = dataclasses.replace(came_out, lab=finish.lab[-1])
    else:
        goals = tone_targets(asked, tones=tones, viewing=view)
    counted = goals.counted & came_out.counted
    if not counted.any():
        raise LayersimError(
            "what came out: found colours at tones that have no target; expected one at the same tones "
            f"({', '.join(goals.given)})"
        )
    goals = dataclasses.replace(goals, counted=counted)
    as_is = np.where(came_out.counted[:, np.newaxis], came_out.lab, finish.lab[-1])
    now = colour.delta_e_2000(as_is[counted], goals.lab[counted])
    chips = {tone: came_out.lab[tone] for tone in came_out.given.values()}
    unsure = {came_out.given[key]: doubt for key, doubt in (doubts or {}).items()}
    diagnosis = diagnosed(scheme, place.area, chips, tones=tones, doubts=unsure)
    may_be_off = float(came_out.may_be_off[list(chips)].mean()) if doubts else 0.0
    explained = diagnosis.explanations[0].delta_e <= max(EXPLAINED, may_be_off)
    if explained:
        opening = opening_in(
            scheme,
            diagnosis.area,
            at=len(diagnosis.area.coats),
            where=Where(),
            later=(),
            tones=tones,
        )
    else:
        opening = _even_ground(finish, as_is, found, viewing=view)
    # What the ground is off by stays when a thin coat is laid over it.
    off = as_is - opening.without()
    factor = own_film_factor(scheme)
    tried: list[Correction] = []
    # Fewest coats first: each number of coats has a best of its own.
    for coats in limits.coats:
        some = dataclasses.replace(limits, coats=(coats,))
        shelf = pots(tuple(paints), some, film_factor=factor)
        over = dataclasses.replace(goals, lab=goals.lab - off)
        best = search([opening], shelf, some, over, keep=6, progress=progress).best
        for hit in (hit for hits in best.values() for hit in hits):
            coat = coat_of(hit.recipe, shelf, some, None, film_factor=factor)
            lab = lab_of_recipes([(hit.recipe, 1.0)], opening, shelf)[0] + off
            delta_e = colour.delta_e_2000(lab[counted], goals.lab[counted])
            tried.append(Correction(dataclasses.replace(coat, name="correction"), lab, delta_e))
    ends = [0, len(now) // 2, len(now) - 1]
    tried = [c for c in tried if (c.delta_e[ends] <= np.maximum(now[ends] - GAINS, SEEN)).all()]
    chosen = _smallest(tried, float(closeness(now)))
    rest = () if chosen is None else _others(tried, chosen)
    return Corrections(
        scheme=scheme,
        found=as_is,
        targets=goals,
        from_prediction=planned,
        delta_e=now,
        explanations=diagnosis.explanations,
        over_stack=explained,
        smallest=chosen,
        others=rest,
        shelf=tuple(paints),
        limits=limits,
    )


def _even_ground(
    finish: AreaPrediction, lab: FloatArray, found: Mapping[str, FloatArray], *, viewing: colour.Viewing
) -> Opening:
    """Return what came out as a ground that scatters evenly and looks like that."""
    tones = len(lab)
    seen = reflectance_like(finish.reflectance[-1], lab, viewing)
    for name, value in found.items():
        if np.shape(value) == (31,):
            seen[place_tone(name, tones)] = value
    sheen = finish.sheen[-1]
    least = surface.smooth_surface().k1 * sheen[:, np.newaxis]
    ground = cones.ground_from_seen(np.clip(seen, least + 1e-4, 0.999), sheen=sheen[:, np.newaxis])
    return Opening(
        below=Admittance(
            *(np.broadcast_to(p, seen.shape) for p in (ground.cone, ground.cross, ground.trapped))
        ),
        sheen_below=sheen,
        later=(),
        sheen_kept=np.ones(tones),
        sheen_added=np.zeros(tones),
        share=np.ones(tones),
        viewing=viewing,
        shade=finish.shade,
    )


def _found_targets(
    found: Mapping[str, FloatArray], doubts: Mapping[str, float], *, tones: int, viewing: colour.Viewing
) -> ToneTargets:
    if not found:
        raise LayersimError(
            'what came out: found no colour; expected shadow, mid or light, as L,a,b or "#rrggbb" of a chip'
        )
    lab = {k: colour.lab(v, viewing) if np.shape(v) == (31,) else np.asarray(v) for k, v in found.items()}
    for name, value in lab.items():
        if not surface_can_be(value, viewing):
            L, a, b = (float(v) for v in value)
            raise LayersimError(
                f"what came out at the {PLACE_WORDS[name]}: found L* {L:g}, a* {a:g}, b* {b:g}; "
                "expected a colour that a surface can have"
            )
    found_there = targets_of(**{name: Target(value, doubt=doubts.get(name)) for name, value in lab.items()})
    return tone_targets(found_there, tones=tones, viewing=viewing)


def _smallest(tried: list[Correction], now: float) -> Correction | None:
    """Return the correction of fewest coats and paints that is good enough, or nearly the best."""
    if not tried:
        return None
    best = min(c.closeness for c in tried)
    if best > now - WORTH:
        return None
    good = max(best + ENOUGH, min(DISTURBS, now - WORTH))
    enough = [c for c in tried if c.closeness <= good]
    return min(enough, key=lambda c: (c.coat.coats, len(c.coat.mix.ingredients), c.closeness))


def _others(tried: list[Correction], chosen: Correction) -> tuple[Correction, ...]:
    """Return the best with other paints, each set of paints once."""

    def names(one: Correction) -> frozenset[str]:
        return frozenset(paint.name for paint, _ in one.coat.mix.ingredients)

    seen = {names(chosen)}
    others = []
    for one in sorted(
        tried, key=lambda c: c.closeness + 0.2 * len(c.coat.mix.ingredients) + 0.1 * c.coat.coats
    ):
        if names(one) not in seen:
            seen.add(names(one))
            others.append(one)
    return tuple(others[:3])


def reflectance_like(start: FloatArray, lab: FloatArray, viewing: colour.Viewing) -> FloatArray:
    """Return spectra of given colours, as like some others as three smooth bumps allow.

    ln R changes by a sum of three bell curves, whose heights Newton's method finds.

    `start` has the shape (n, 31), `lab` (n, 3). Returns shape (n, 31), within 0..1; a colour at the very
    limit of what surfaces can have may be missed.

    >>> grey = np.full((1, 31), 0.3)
    >>> wanted = np.array([[60.0, 12.0, -8.0]])
    >>> colour.lab(reflectance_like(grey, wanted, colour.Viewing()), colour.Viewing()).round(3).tolist()
    [[60.0, 12.0, -8.0]]
    """
    nm = wavelengths_nm()
    bumps = np.stack([np.exp(-0.5 * ((nm - middle) / 45.0) ** 2) for middle in (450.0, 540.0, 620.0)])
    target = np.cbrt(np.maximum(colour.xyz_from_lab(lab, viewing.white) / viewing.white, 1e-9))
    heights = np.zeros((len(start), 3))
    base = np.log(np.clip(start, 1e-4, 1.0))
    for _ in range(60):
        R = np.minimum(np.exp(base + heights @ bumps), 1.0)
        share = colour.xyz(R, viewing) / viewing.white
        root = np.cbrt(share)
        off = target - root
        if np.abs(off).max() < 1e-9:
            break
        slope = np.einsum("nw,kw,wc->nck", np.where(R < 1.0, R, 0.0), bumps, viewing.weights / viewing.white)
        slope = slope / (3.0 * np.maximum(root, 1e-3) ** 2)[:, :, np.newaxis]
        slope += 1e-9 * np.eye(3)
        step = np.linalg.solve(slope, off[:, :, np.newaxis])[:, :, 0]
        heights = np.clip(heights + np.clip(step, -1.0, 1.0), -8.0, 8.0)
    return np.asarray(np.minimum(np.exp(base + heights @ bumps), 1.0))
