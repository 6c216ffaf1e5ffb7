"""Match: the coats on the shelf that bring an area's tones closest to colours asked for.

A coat of the area is replaced, or one is put in at a place in the order of work; the coats after it
follow as before. Every recipe within the limits is searched (:mod:`layersim.decide.search`) with
even films; the best are predicted again exactly as a preview predicts them, and that is what they
are ordered by. Local effects (coats with a patch) are left out: colours are matched beside them.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.chance import check_counts
from layersim.decide.answer import FILLER, OTHER_LIGHTS, Answer, Weights, finalists, in_order, unlikeness
from layersim.decide.drops import drops_needed, fold
from layersim.decide.eye import SEEN
from layersim.decide.likely import passing, with_chances
from layersim.decide.opening import Opening, opening_in
from layersim.decide.recipes import Limits, Pots, Recipe, pots
from layersim.decide.search import KEEP, MOST_KEPT, Findings, Found, Progress, closeness, exact_lab, search
from layersim.decide.targets import ToneTargets, place_tone, tone_targets
from layersim.errors import LayersimError, quoted
from layersim.names import named, slug
from layersim.paint import Paint
from layersim.scheme.prediction import AreaPrediction
from layersim.scheme.reading import DEFAULT_SPREAD
from layersim.scheme.records import (
    Area,
    Coat,
    Mix,
    Preshade,
    Scheme,
    Targets,
    Where,
)
from layersim.scheme.simulate import simulate
from layersim.scheme.targets import MEASURED_DOUBT, PLACES
from layersim.shown import Shown
from layersim.spectra import FloatArray
from layersim.swatchcard import hue_of

_POOL: Final = 12
_EACH: Final = 4
_PREDICTED: Final = 22
_NEARER: Final = 4
MOST_ANSWERS: Final = 20
# An extra coat that nobody named is called so.
NEW_COAT: Final = "matched coat"


@dataclass(frozen=True, eq=False)
class CoatPlace:
    """Where the coat goes."""

    area: Area
    """Without its local effects, unless the coat sought is one."""
    at: int
    """Its index among the coats."""
    replaced: Coat | None

    @property
    def later(self) -> tuple[Coat, ...]:
        """Coats that follow."""
        return self.area.coats[self.at + (self.replaced is not None) :]

    @property
    def where(self) -> Where:
        """Where the new coat goes: where the one did that it replaces."""
        return Where() if self.replaced is None else self.replaced.where


@dataclass(frozen=True, eq=False)
class Variant:
    """One way in which the rest of the scheme may be: a filter after, another preshade."""

    place: CoatPlace
    extra: tuple[Coat, ...] = ()
    preshade: Preshade | None = None
    """Another than the scheme's; None where it stays."""


@dataclass(frozen=True, eq=False)
class Match(Shown):
    """What a match found."""

    scheme: Scheme
    place: CoatPlace
    targets: ToneTargets
    wanted: FloatArray | None
    """Reflectance to be like, shape (tones, 31), where it is known."""
    answers: tuple[Answer, ...]
    """Different ones, best first."""
    within: float
    """Closeness within which an answer looks right on a model of the batch."""
    before: AreaPrediction
    """The area as it stands."""
    openings: tuple[Opening, ...]
    variants: tuple[Variant, ...]
    shelf: Pots
    limits: Limits
    findings: Findings


def match(
    scheme: Scheme,
    *,
    area: str,
    paints: Sequence[Paint],
    coat: str | None = None,
    after: str | None = None,
    targets: Targets | None = None,
    wanted: FloatArray | None = None,
    limits: Limits | None = None,
    filters: Sequence[tuple[Paint, int]] = (),
    preshades: Sequence[Preshade] = (),
    weights: Weights | None = None,
    tones: int = 9,
    most: int = 6,
    keep: int = KEEP,
    quick: bool = False,
    progress: Progress | None = None,
) -> Match:
    """Return the coats of some paints that come closest to targets.

    `paints` is the shelf to search, or what is owned of it. `coat` names the coat to replace; a new one is
    put `after` another (or "preshade") instead. `targets` are by default the area's own; `wanted`, shape
    (tones, 31), has reflectances to be like at every tone, instead. `filters` are glazes that may follow the
    coat at once, and `preshades` may be sprayed instead; without them is tried, too. At `most` so many
    answers are given, 1 to 20. `keep`, 1 to 200, says how many sets of paints the search keeps, see
    :func:`layersim.decide.search.search`.
    `quick` tries three paints only where two of them are among the best pairs: faster, and not complete.
    Raises LayersimError if the place, the shelf, a limit or a target cannot be used.
    """
    check_counts(tones=tones)
    for name, number, limit_to in (
        ("answers", most, MOST_ANSWERS),
        ("sets of paints to keep", keep, MOST_KEPT),
    ):
        if not 1 <= number <= limit_to:
            raise LayersimError(f"{name}: found {number}; expected a whole number from 1 to {limit_to}")
    limit = limits or Limits()
    place = find_place(scheme, area=area, coat=coat, after=after)
    refuse_metal(place.area)
    for glaze, _ in filters:
        if glaze.flakes is not None:
            raise LayersimError(
                f"filter: found {quoted(glaze.name)}, a metal; expected a paint without flakes"
            )
    paints = [paint for paint in paints if paint.flakes is None]
    if wanted is not None:
        goals = ToneTargets(
            lab=colour.lab(wanted, scheme.viewing),
            counted=np.ones(tones, dtype=np.bool_),
            given={key: place_tone(key, tones) for key in PLACES},
            doubt=np.full(tones, MEASURED_DOUBT),
        )
    else:
        asked = targets if targets is not None else place.area.targets
        goals = tone_targets(asked, tones=tones, viewing=scheme.viewing)
    shelf = pots(tuple(paints), limit, film_factor=own_film_factor(scheme))
    variants = _variants(place, filters, preshades)
    openings = tuple(
        opening_in(
            scheme, v.place.area, at=v.place.at, where=place.where, later=(*v.extra, *v.place.later),
            tones=tones,
        )
        for v in variants
    )  # fmt: skip
    if not any((o.share[goals.counted] > 1e-6).any() for o in openings):
        name = place.replaced.name if place.replaced else NEW_COAT
        raise LayersimError(
            f"{quoted(name)} lands on none of the tones that have a target (it goes {place.where.words()})"
        )
    findings = search(openings, shelf, limit, goals, keep=keep, quick=quick, progress=progress)
    chosen = weights or Weights()
    pool = _pool(findings, chosen)

    def answered(found: Found) -> Answer:
        there = found.opening
        return answer_of(scheme, variants[there], openings[there], found, shelf, limit, goals, wanted)

    answers = [answered(found) for found in pool]
    second = _second_look(zip(pool, answers, strict=True), findings, openings, shelf, goals, chosen)
    answers += [answered(found) for found in second]
    before = _predicted(scheme, place.area, tones, draws=0)
    near = finalists(answers, chosen)
    within = passing(near)
    likely = with_chances(scheme, near, goals, within=within)
    return Match(
        scheme=scheme,
        place=place,
        targets=goals,
        wanted=wanted,
        answers=in_order(likely, chosen, most=most),
        within=within,
        before=before,
        openings=openings,
        variants=variants,
        shelf=shelf,
        limits=limit,
        findings=findings,
    )


def _pool(findings: Findings, weights: Weights) -> list[Found]:
    """Return what is predicted: the closest and plainest, and the first few with each number of paints."""
    sets = [found for best in findings.best.values() for found in best[:_POOL]]

    def cost(found: Found) -> float:
        recipe = found.recipe
        more = weights.paint * len(recipe.paints) + weights.effort(recipe.coats, recipe.drops)
        return found.closeness + more

    kept = [found for best in findings.best.values() for found in best[:_EACH]]
    others = sorted((found for found in sets if found not in kept), key=cost)
    return kept + others[: _PREDICTED - len(kept)]


def _second_look(
    looked_at: Iterable[tuple[Found, Answer]],
    findings: Findings,
    openings: Sequence[Opening],
    shelf: Pots,
    targets: ToneTargets,
    weights: Weights,
) -> list[Found]:
    """Return other recipes of the same paints that may be better, now that films are as sprayed.

    What the spread from site to site does to a set's best is taken for what it does to recipes near it. The
    closest few of all are returned, and of each set the plainest that is as close.
    """
    counted, pairs = targets.counted, list(looked_at)
    least = min(answer.closeness for _, answer in pairs)
    closest: list[tuple[float, Found]] = []
    plainer: list[Found] = []
    for found, answer in pairs:
        others = [one for one in findings.near[found.recipe.paints] if one.opening == found.opening]
        if not others or answer.closeness > least + FILLER:
            continue
        even = lab_of_recipes([(one.recipe, 1.0) for one in (found, *others)], openings[found.opening], shelf)
        lab = even[:, counted] + (answer.prediction.lab[-1] - even[0])[counted]
        close = closeness(colour.delta_e_2000(lab, targets.lab[counted]))
        closest += zip(close[1:].tolist(), others, strict=True)
        cost = close + [weights.effort(one.recipe.coats, one.recipe.drops) for one in (found, *others)]
        if cost.argmin() > 0:
            plainer.append(others[int(cost.argmin()) - 1])
    closest.sort(key=lambda entry: entry[0])
    nearer = [one for close, one in closest[:_NEARER] if close < least + SEEN]
    return list({id(one): one for one in (*nearer, *plainer)}.values())


def planned(scheme: Scheme, *, area: str, coat: str | None, after: str | None, tones: int) -> FloatArray:
    """Return the finish that an area is planned to have, shape (tones, 31); for a coat as :func:`match`."""
    place = find_place(scheme, area=area, coat=coat, after=after)
    finish: FloatArray = _predicted(scheme, place.area, tones, draws=0).reflectance[-1]
    return finish


def filters_of(glazes: Sequence[Paint]) -> list[tuple[Paint, int]]:
    """Return each glaze in one coat and in two, as :func:`match` tries them."""
    return [(glaze, coats) for glaze in glazes for coats in (1, 2)]


def own_film_factor(scheme: Scheme) -> float:
    """Return by how much the scheme's sprayer lays more than the paints' own films; 1 without one."""
    sprayer = scheme.batch.sprayer
    return 1.0 if sprayer is None or sprayer.film_factor is None else sprayer.film_factor.value


def find_place(scheme: Scheme, *, area: str, coat: str | None, after: str | None) -> CoatPlace:
    """Return where a coat goes.

    Raises LayersimError if there is no such area or coat, or neither or both of `coat` and `after` are given.
    """
    whole = named(scheme.areas, area, kind="areas")
    name = coat if coat is not None else after
    if name is None or (coat is not None and after is not None):
        raise LayersimError(
            "where the coat goes: expected either a coat to replace (--coat) or one to follow (--after)"
        )
    if after is not None and slug(after) in ("preshade", "ground", "primer"):
        return CoatPlace(_without_patches(whole, keep=None), 0, None)
    found = named(whole.coats, name, kind=f"coats of {whole.name}")
    beside = _without_patches(whole, keep=found)
    at = beside.coats.index(found)
    if coat is None:
        return CoatPlace(beside, at + 1, None)
    alone = dataclasses.replace(found, patch=None, coverage=1.0)
    coats = (*beside.coats[:at], alone, *beside.coats[at + 1 :])
    return CoatPlace(dataclasses.replace(beside, coats=coats), at, alone)


def refuse_metal(area: Area) -> None:
    """Raise LayersimError for an area with metal: no search knows of colours that go with the angle."""
    metals = [coat.name for coat in area.coats if coat.mix.is_metal]
    if area.is_metal:
        laid = f"metal in {', '.join(map(quoted, metals))}" if metals else "metal below its coats"
        raise LayersimError(
            f"{area.name}: found {laid}; expected an area without metal, which recipes are not searched for. "
            "Compare some with: layersim compare"
        )


def _without_patches(area: Area, *, keep: Coat | None) -> Area:
    kept = tuple(coat for coat in area.coats if coat.patch is None or coat is keep)
    return dataclasses.replace(area, coats=kept)


def _variants(
    place: CoatPlace,
    filters: Sequence[tuple[Paint, int]],
    preshades: Sequence[Preshade],
) -> tuple[Variant, ...]:
    found = []
    for preshade in (None, *preshades):
        there = place
        if preshade is not None:
            there = dataclasses.replace(place, area=dataclasses.replace(place.area, preshade=preshade))
        found.append(Variant(there, (), preshade))
        for paint, coats in filters:
            mix = Mix(ingredients=((paint, 1.0),))
            glaze = Coat(
                name="filter",
                mix=mix,
                coats=coats,
                dry_film_um=mix.wet_film_um * mix.volume_solids,
                spread=DEFAULT_SPREAD,
                is_filter=True,
                film_from="own",
            )
            found.append(Variant(there, (glaze,), preshade))
    return tuple(found)


def coat_of(recipe: Recipe, shelf: Pots, limits: Limits, model: Coat | None, *, film_factor: float) -> Coat:
    """Return a recipe as a coat, at the place and with the name of the one it replaces.

    `film_factor` is that of the sprayer's own film.
    """
    drops = [(shelf.paints[i], float(n)) for i, n in zip(recipe.paints, recipe.drops, strict=True)]
    mix = Mix(tuple(sorted(drops, key=lambda part: -part[1])), recipe.thinning)
    wet = limits.wet_film_um or mix.wet_film_um * film_factor
    return Coat(
        name=NEW_COAT if model is None else model.name,
        mix=mix,
        coats=recipe.coats,
        dry_film_um=wet * mix.volume_solids,
        spread=DEFAULT_SPREAD if model is None else model.spread,
        where=Where() if model is None else model.where,
        is_filter=model is not None and model.is_filter,
        film_from="own" if limits.wet_film_um is None else "wet",
    )


def answer_of(
    scheme: Scheme,
    variant: Variant,
    opening: Opening,
    found: Found,
    shelf: Pots,
    limits: Limits,
    targets: ToneTargets,
    wanted: FloatArray | None,
) -> Answer:
    """Return one recipe found, predicted as a preview does, with all that a painter weighs."""
    place = variant.place
    coat = coat_of(found.recipe, shelf, limits, place.replaced, film_factor=own_film_factor(scheme))
    area = dataclasses.replace(
        place.area, coats=(*place.area.coats[: place.at], coat, *variant.extra, *place.later)
    )
    tones = len(opening.share)
    predicted = _predicted(scheme, area, tones, draws=0)
    counted = targets.counted
    delta_e = colour.delta_e_2000(predicted.lab[-1, counted], targets.lab[counted])
    need = drops_needed(scheme, place.area, coat, landed=float(opening.share.mean()))
    drop, one_coat, film = _tolerance(found.recipe, opening, shelf, counted, scheme.hand.film, need)
    seen = predicted.reflectance[-1, counted]
    like = None if wanted is None else wanted[counted]
    lights = {
        light: float(unlikeness(seen, like, viewing=scheme.viewing, light=light).mean())
        for light in OTHER_LIGHTS
        if light != scheme.viewing.light
    }
    return Answer(
        coat=coat,
        area=area,
        preshade=variant.preshade,
        extra=variant.extra,
        prediction=predicted,
        delta_e=delta_e,
        one_drop=drop,
        one_coat=one_coat,
        film=film,
        lights=lights,
        found_closeness=found.closeness,
        strays=_strays(coat.mix, targets),
        thin=_thin_share(coat.mix) if place.replaced is not None and not place.replaced.is_filter else 0.0,
    )


def _strays(mix: Mix, targets: ToneTargets) -> int:
    """Return how many paints of a mix are no white, grey or black, where only greys are asked for."""
    chroma = np.hypot(*targets.lab[targets.counted, 1:].T)
    if chroma.max() >= colour.GREY_CHROMA:
        return 0
    return sum(hue_of(paint) not in ("white", "grey", "black") for paint, _ in mix.ingredients)


def _thin_share(mix: Mix) -> float:
    """Return how much of a mix is made to be laid thin: ink, wash, glaze or medium."""
    thin = np.array([paint.kind in ("ink", "wash", "medium") for paint, _ in mix.ingredients])
    return float(mix.parts[thin].sum() / mix.parts.sum())


def _predicted(scheme: Scheme, area: Area, tones: int, *, draws: int) -> AreaPrediction:
    alone = dataclasses.replace(scheme, areas=(area,))
    return simulate(alone, tones=tones, draws=draws).areas[0]


def lab_of_recipes(recipes: Sequence[tuple[Recipe, float]], opening: Opening, shelf: Pots) -> FloatArray:
    """Return L*a*b* of recipes with even films, each with its film times a factor.

    All recipes have as many paints. Returns shape (recipes, tones, 3).
    """
    return exact_lab(
        opening,
        shelf,
        np.array([recipe.paints for recipe, _ in recipes]),
        np.array([recipe.drops for recipe, _ in recipes]),
        units=np.array([recipe.coats / (1.0 + recipe.thinning) * factor for recipe, factor in recipes]),
    )


def _tolerance(
    recipe: Recipe, opening: Opening, shelf: Pots, counted: npt.NDArray[np.bool_], film: float, need: float
) -> tuple[float, float, float]:
    """Return by how much the tones move for one drop, one coat more, one deviation of the film.

    `need` is how many drops of paint the batch takes.
    """
    as_mixed = tuple(drop * fold(need, recipe.drops) for drop in recipe.drops)
    base = dataclasses.replace(recipe, drops=as_mixed)
    tried = [(base, 1.0), (dataclasses.replace(base, coats=base.coats + 1), 1.0), (base, float(np.exp(film)))]
    if len(as_mixed) > 1:
        for i in range(len(as_mixed)):
            for step in (-1, 1):
                drops = tuple(d + step * (i == j) for j, d in enumerate(as_mixed))
                if sum(drops) > 0:
                    tried.append((dataclasses.replace(base, drops=drops), 1.0))
    lab = lab_of_recipes(tried, opening, shelf)[:, counted]
    moved = colour.delta_e_2000(lab[1:], lab[0]).mean(axis=-1)
    return float(moved[2:].max(initial=0.0)), float(moved[0]), float(moved[1])
