"""Why a target is out of reach, and what would bring it nearer.

A finer look at the tones where an answer misses: whether the shelf could have that colour there at
all, by itself or with others, at any number of coats allowed; and whether a paint that nobody has
yet, another preshade, a glossier finish, more film or a coat less above it would do it.
"""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from layersim import colour
from layersim.decide.eye import DISTURBS, GREY_CHROMA
from layersim.decide.match import Match, coat_of, own_film_factor
from layersim.decide.opening import Opening, opening_in
from layersim.decide.preshades import other_preshades
from layersim.decide.recipes import Limits, Pots, levels, pots
from layersim.decide.search import Found, exact_lab, search
from layersim.optics import cones
from layersim.optics.surface import SHEENS
from layersim.paint import Paint, mixable
from layersim.scheme.records import Area, Coat, GreysSprayed, Preshade, Where
from layersim.spectra import FloatArray, wavelengths_nm

_RATIOS: Final = ((1, 1), (1, 3), (3, 1), (1, 8), (8, 1))
_HUE_NEAR: Final = 15.0
_LIGHT_NEAR: Final = 6.0
_WORTH: Final = 0.5
# A tone is darker than can be reached, or darker under another finish, from so many L* on.
_DARKER: Final = 1.0
# A finish counts as glossier from so much less sheen on.
_LESS_SHEEN: Final = 0.1
MORE_COATS: Final = (8, 10, 12)
# So many coats above are each left out once: every one asks for a search.
_LEFT_OUT: Final = 3
# A coat above is why a tone is missed where without it at most so much of the miss is left.
_BLAMED: Final = 0.5
# Of a coat's full film, what counts as landing on a tone.
_LANDS: Final = 0.01
_REMEDIES: Final = 4
# No colour of less chroma is taken for one of no ordinary paint (common practice, no source).
_LEAST_NEON: Final = 50.0
_MAYBE_NEON: Final = ("lighter", "pale", "hue", "chroma", "near")
# Reflectance of a ground as white as paints make it.
_WHITE: Final = 0.85
# L* over which one of two placed coats runs out: as soft as an airbrush sprays.
_SOFTEST: Final = 16.0


@dataclass(frozen=True)
class Above:
    """What a coat above does to a tone: the nearest recipe there, without that coat and under it."""

    coat: str
    nearest: float
    """ΔE00 from the target without it."""
    bare: FloatArray
    under: FloatArray
    """L*a*b* of that recipe without the coat and under it."""
    is_cause: bool
    """Whether the coat is why the tone is missed."""


@dataclass(frozen=True)
class Why:
    """Why no recipe is at a target."""

    kind: Literal["above", "together", "lighter", "darker", "grey", "pale", "hue", "chroma", "near", "neon"]
    nearest: float
    """ΔE00 of the nearest recipe for this tone by itself."""
    asked: float = 0.0
    most: float = 0.0
    """Of "lighter" and "darker" L*, of "pale" and "chroma" C*: what is asked, and the most there is."""
    other: FloatArray | None = None
    """Of "hue": the nearest strong colour at this lightness."""
    finishes: tuple[tuple[str, float], ...] = ()
    """Of "darker": finishes under which this tone could be darker, and its least L* there."""
    above: Above | None = None


@dataclass(frozen=True)
class Miss:
    """One target that the best answer misses."""

    place: str
    """"shadow", "mid" or "light"."""
    delta_e: float
    target: FloatArray
    lab: FloatArray
    """Of the best answer."""
    shade: float
    """L* of the bare preshade."""
    coats: int
    """The most that were tried."""
    why: Why


@dataclass(frozen=True)
class Remedy:
    """Something that would bring the tones nearer."""

    kind: Literal["paint", "preshade", "finish", "varnish", "coats", "without", "two"]
    closeness: float
    """That the best mix of up to two paints would then have, with even films."""
    name: str = ""
    """The paint, the finish, or the coat to leave out."""
    two: tuple[Coat, ...] = ()
    """Two coats that each go to their own tones, in the order of work."""
    beside: Paint | None = None
    """What the paint is mixed with."""
    carrier: str = ""
    """What the paint must then be carried by, where that matters."""
    coat: str = ""
    """The varnish that the finish stands instead of."""
    preshade: Preshade | None = None
    shade: tuple[float, float] = (0.0, 0.0)
    """L* of its darkest and its lightest tone."""
    lifted: bool = False
    """Whether more of the white drifts into its shadows."""


@dataclass(frozen=True)
class Reach:
    """How far the targets are out of reach."""

    reached: bool
    """Whether the best answer is within what passes side by side, or within what the targets may be off."""
    closeness: float
    """Of the best answer; of up to two paints in `now`."""
    now: float
    """Best closeness of up to two paints with even films: what remedies compare with."""
    misses: tuple[Miss, ...]
    remedies: tuple[Remedy, ...]
    """Nearest first; empty where nothing tried would help."""
    in_doubt: float = 0.0
    """Where they are reached only within what the targets may be off: ΔE00 of the worst tone."""


def reach_of(match: Match) -> Reach:
    """Return whether a match reaches its targets, and if not, why and what would."""
    best = min(match.answers, key=lambda answer: answer.closeness)
    now = min((f.closeness for m, fs in match.findings.best.items() if m <= 2 for f in fs), default=np.inf)
    if best.worst <= DISTURBS:
        return Reach(True, best.closeness, now, (), ())
    passes = np.maximum(DISTURBS, match.targets.may_be_off)
    if (best.delta_e <= passes[match.targets.counted]).all():
        return Reach(True, best.closeness, now, (), (), in_doubt=best.worst)
    finishes = _glossier_finishes(match, float(best.prediction.sheen[-1].max()))
    order = np.cumsum(match.targets.counted) - 1
    without = _without_a_coat(match, now)
    missed = {
        place: tone for place, tone in match.targets.given.items() if best.delta_e[order[tone]] > passes[tone]
    }
    tones = list(missed.values())
    clouds = _clouds(match.shelf, match.limits, match.openings[0], tones)
    bared = None if without is None else _clouds(match.shelf, match.limits, without.opening, tones)
    misses = []
    for number, (place, tone) in enumerate(missed.items()):
        target, cloud = match.targets.lab[tone], clouds[number]
        above = None
        if without is not None and bared is not None:
            above = _above(without.coat, target, cloud, bared[number])
        why = Why("above", 0.0) if above and above.is_cause else _why(target, cloud)
        if why.kind == "darker":
            why = dataclasses.replace(why, finishes=_darker(match, finishes, tone, than=why.most))
        if why.kind in _MAYBE_NEON and _is_neon(match, target, tone):
            why = dataclasses.replace(why, kind="neon")
        misses.append(
            Miss(
                place,
                float(best.delta_e[order[tone]]),
                target,
                best.prediction.lab[-1, tone],
                float(match.openings[0].shade[tone]),
                max(match.limits.coats),
                dataclasses.replace(why, above=above),
            )
        )
    remedies = _remedies(match, finishes, without, now)
    if any(miss.why.kind == "together" for miss in misses):
        two = _two_coats(match, best.closeness - _WORTH)
        remedies = tuple(sorted((*two, *remedies), key=lambda remedy: remedy.closeness))
    return Reach(False, best.closeness, now, tuple(misses), remedies)


@dataclass(frozen=True, eq=False)
class _Finish:
    """A finish glossier than the present one, and the place with everything else as it is."""

    name: str
    varnish: str
    """The varnish that it stands instead of; empty where none comes last."""
    opening: Opening


def _glossier_finishes(match: Match, sheen: float) -> tuple[_Finish, ...]:
    """Return the finishes glossier than one, least glossy first.

    A varnish that comes last is made glossier, its film left as it is; where none does, one of no
    weight is laid over everything.
    """
    opening, place = match.openings[0], match.place
    last = place.later[-1] if place.later else None
    varnished = last is not None and _is_varnish(last)
    found = []
    for name, value in sorted(SHEENS.items(), key=lambda entry: -entry[1]):
        if value > sheen - _LESS_SHEEN:
            continue
        if last is not None and varnished:
            there = _opening(match, later=(*place.later[:-1], dataclasses.replace(last, sheen=value)))
        else:
            even = np.ones(len(opening.share))
            there = dataclasses.replace(opening, sheen_kept=0.0 * even, sheen_added=value * even)
        found.append(_Finish(name, last.name if last and varnished else "", there))
    return tuple(found)


@dataclass(frozen=True, eq=False)
class _Without:
    """A coat above the one sought, the place with that coat left out, and how close one then comes."""

    coat: Coat
    opening: Opening
    closeness: float


def _without_a_coat(match: Match, now: float) -> _Without | None:
    """Return the coat above without which one comes closest, where that is worth it.

    Filters are tried first, then from the top down. Varnishes stay: they protect, and
    :func:`_glossier_finishes` sees to their sheen.
    """
    place, opening = match.place, match.openings[0]
    from_top = place.later[::-1]
    counted, few = match.targets.counted, _few_recipes(match.limits)
    coats = [
        coat
        for coat in (*(c for c in from_top if c.is_filter), *(c for c in from_top if not c.is_filter))
        if coat.patch is None
        and not _is_varnish(coat)
        and coat.where.film_share(opening.shade)[counted].max() > _LANDS
    ]
    tried = []
    for coat in coats[:_LEFT_OUT]:
        there = _opening(match, later=tuple(other for other in place.later if other is not coat))
        tried.append(_Without(coat, there, _best_of(match, there, few, now - _WORTH)))
    best = min(tried, key=lambda one: one.closeness, default=None)
    return best if best is not None and best.closeness < now - _WORTH else None


def _is_varnish(coat: Coat) -> bool:
    return all(paint.kind == "varnish" for paint, _ in coat.mix.ingredients)


def _above(coat: Coat, target: FloatArray, under: FloatArray, bared: FloatArray) -> Above | None:
    """Return what a coat above does to a tone; nothing where it hardly matters.

    Recipes under the coat and without it stand in one order.
    """
    to_target = colour.delta_e_2000(bared, target)
    nearest = int(to_target.argmin())
    least, now = float(to_target[nearest]), float(colour.delta_e_2000(under, target).min())
    if least > now - DISTURBS:
        return None
    return Above(coat.name, least, bared[nearest], under[nearest], is_cause=least <= _BLAMED * now)


def _clouds(shelf: Pots, limits: Limits, opening: Opening, tones: Sequence[int]) -> FloatArray:
    """Return L*a*b* of some tones, rising, with single paints and coarse pairs at a few levels.

    Returns shape (tones, n, 3).
    """
    # A paint with itself is that paint alone.
    mixes = [(i, i, 1, 1) for i in range(len(shelf.paints))]
    if limits.paints_at_most > 1:
        pairs = itertools.combinations(range(len(shelf.paints)), 2)
        mixes += [(*pair, *ratio) for pair in pairs if shelf.may_mix[pair] for ratio in _RATIOS]
    steps = levels(limits)
    units = dict.fromkeys(step.units for step in (steps[0], steps[len(steps) // 2], steps[-1]))
    sets, parts = np.hsplit(np.array(mixes * len(units)), 2)
    only = np.isin(np.arange(len(opening.share)), tones)
    lab = exact_lab(opening, shelf, sets, parts, units=np.repeat(list(units), len(mixes)), tones=only)
    return np.moveaxis(lab, 1, 0)


def _darker(
    match: Match, finishes: tuple[_Finish, ...], tone: int, *, than: float
) -> tuple[tuple[str, float], ...]:
    """Return the finishes under which a tone could be darker, with its least L* there."""
    could = [
        (finish.name, float(_clouds(match.shelf, match.limits, finish.opening, [tone])[0, :, 0].min()))
        for finish in finishes
    ]
    return tuple(one for one in could if one[1] < than - _DARKER)


def _why(target: FloatArray, cloud: FloatArray) -> Why:
    nearest = float(colour.delta_e_2000(cloud, target).min())
    if nearest <= DISTURBS:
        return Why("together", nearest)
    L, C, h = (float(v) for v in colour.lch(target))
    lch = colour.lch(cloud)
    lightest, darkest = float(lch[:, 0].max()), float(lch[:, 0].min())
    if lightest + 1.0 < L:
        return Why("lighter", nearest, L, lightest)
    if darkest - _DARKER > L:
        return Why("darker", nearest, L, darkest)
    if C < GREY_CHROMA:
        return Why("grey", nearest)
    turn = np.abs((lch[:, 2] - h + 180.0) % 360.0 - 180.0)
    alike = np.abs(lch[:, 0] - L) <= _LIGHT_NEAR
    strongest = float(lch[alike & (turn <= _HUE_NEAR), 1].max(initial=0.0))
    if strongest < 0.5 * C:
        coloured = cloud[alike & (lch[:, 1] >= 0.5 * C)]
        if not len(coloured):
            return Why("pale", nearest, C)
        return Why("hue", nearest, other=coloured[colour.delta_e_2000(coloured, target).argmin()])
    if strongest + 2.0 < C:
        return Why("chroma", nearest, C, strongest)
    return Why("near", nearest)


def _is_neon(match: Match, target: FloatArray, tone: int) -> bool:
    """Return whether a colour is stronger than what clean pigments of every family give, over white too."""
    _, C, h = colour.lch(target)
    if C < _LEAST_NEON:
        return False
    limits = dataclasses.replace(match.limits, paints_at_most=2)
    shelf, opening = pots(ideal_paints(), limits), match.openings[0]
    white = cones.ground_from_seen(np.full(opening.below.cone.shape, _WHITE), sheen=1.0)
    strongest = 0.0
    for place in (opening, dataclasses.replace(opening, below=white)):
        lch = colour.lch(_clouds(shelf, limits, place, [tone])[0])
        turn = np.abs((lch[:, 2] - h + 180.0) % 360.0 - 180.0)
        near = (turn <= _HUE_NEAR) & (np.abs(lch[:, 0] - target[0]) <= _LIGHT_NEAR)
        strongest = max(strongest, float(lch[near, 1].max(initial=0.0)))
    return bool(strongest + 2.0 < C)


def _remedies(
    match: Match, finishes: tuple[_Finish, ...], without: _Without | None, now: float
) -> tuple[Remedy, ...]:
    below = now - _WORTH
    found = [*_paints_to_buy(match, below), *_other_preshades(match, below)]
    few = _few_recipes(match.limits)
    found += [
        Remedy(
            "finish" if f.varnish else "varnish",
            _best_of(match, f.opening, few, below),
            f.name,
            coat=f.varnish,
        )
        for f in finishes
    ]
    more = dataclasses.replace(
        match.limits, coats=MORE_COATS, paints_at_most=min(2, match.limits.paints_at_most)
    )
    if max(match.limits.coats) < MORE_COATS[0]:
        close = _best_of(match, match.openings[0], more, below)
        found.append(Remedy("coats", close))
    found = [remedy for remedy in found if remedy.closeness < now - _WORTH]
    found.sort(key=lambda remedy: remedy.closeness)
    # To leave a coat out costs nothing: it is told even where paints to buy would come closer.
    left_out = [] if without is None else [Remedy("without", without.closeness, without.coat.name)]
    found = [*left_out, *found[: _REMEDIES - len(left_out)]]
    return tuple(sorted(found, key=lambda remedy: remedy.closeness))


def _two_coats(match: Match, below: float) -> list[Remedy]:
    """Return the best two placed coats that serve all tones together, where they come nearer than `below`.

    A first coat everywhere for the darker or the lighter half of the tones asked for, and over it one that
    goes to the others only. Each is searched by itself, so that a better pair may exist.
    """
    limits, factor, shelf = _few_recipes(match.limits), own_film_factor(match.scheme), match.shelf
    place, shade, tones = match.place, match.openings[0].shade, np.flatnonzero(match.targets.counted)
    if len(tones) < 2 or not place.where.everywhere:
        return []
    middle = len(tones) // 2
    split = round(float(shade[tones[middle - 1 : middle + 1]].mean()))
    edge = round(min(_SOFTEST, 0.5 * float(shade[tones[-1]] - shade[tones[0]])))
    from_there, up_to = Where(lightest_from=split, edge=edge), Where(darkest_up_to=split, edge=edge)
    found = []
    for first, where in ((tones[:middle], from_there), (tones[middle:], up_to)):
        counted = np.isin(np.arange(len(shade)), first)
        own = dataclasses.replace(match.targets, counted=counted)
        below_it = _closest(search([match.openings[0]], shelf, limits, own, keep=1).best)
        if below_it is None:
            continue
        base = coat_of(below_it.recipe, shelf, limits, place.replaced, film_factor=factor)
        area = place.area
        coats = (*area.coats[: place.at], base, *place.later)
        opening = opening_in(
            match.scheme,
            dataclasses.replace(area, coats=coats),
            at=place.at + 1,
            where=where,
            later=place.later,
            tones=len(shade),
        )
        above = _closest(search([opening], shelf, limits, match.targets, keep=1, below=below).best)
        if above is not None:
            second = coat_of(above.recipe, shelf, limits, None, film_factor=factor)
            two = (base, dataclasses.replace(second, where=where))
            found.append(Remedy("two", above.closeness, two=two))
    return sorted(found, key=lambda remedy: remedy.closeness)[:1]


def _closest(best: dict[int, list[Found]]) -> Found | None:
    return min((f for several in best.values() for f in several), key=lambda f: f.closeness, default=None)


def _best_of(match: Match, opening: Opening, limits: Limits, below: float) -> float:
    """Return how close one comes there with up to two paints; infinite where not as near as `below`."""
    found = search([opening], match.shelf, limits, match.targets, keep=1, below=below)
    closest = _closest(found.best)
    return np.inf if closest is None else closest.closeness


def _few_recipes(limits: Limits) -> Limits:
    """Return limits narrow enough to search once more for every remedy."""
    drops = min(6, limits.drops)
    return dataclasses.replace(
        limits, paints_at_most=min(2, limits.paints_at_most), drops=drops,
        least_drops=min(limits.least_drops, 3, drops),
    )  # fmt: skip


def _opening(match: Match, *, area: Area | None = None, later: tuple[Coat, ...] | None = None) -> Opening:
    """Return the place sought with another preshade below, or other coats above."""
    place = match.place
    return opening_in(
        match.scheme,
        place.area if area is None else area,
        at=place.at,
        where=place.where,
        later=place.later if later is None else later,
        tones=len(match.targets.lab),
    )


def _other_preshades(match: Match, below: float) -> list[Remedy]:
    preshade = match.place.area.preshade
    limits = _few_recipes(match.limits)
    remedies = []
    for other in other_preshades(preshade):
        opening = _opening(match, area=dataclasses.replace(match.place.area, preshade=other))
        close = _best_of(match, opening, limits, below)
        shade = float(opening.shade[0]), float(opening.shade[-1])
        lifted = isinstance(other, GreysSprayed) and other.reach != getattr(preshade, "reach", other.reach)
        remedies.append(Remedy("preshade", close, preshade=other, shade=shade, lifted=lifted))
    return remedies


def _paints_to_buy(match: Match, below: float) -> list[Remedy]:
    """Return how close one more paint, of an ideal family, would come by itself or with one of the shelf."""
    limits = _few_recipes(dataclasses.replace(match.limits, least_drops=1))
    remedies = []
    for ideal in ideal_paints():
        shelf = pots((ideal, *match.shelf.paints), limits, film_factor=own_film_factor(match.scheme))
        found = search([match.openings[0]], shelf, limits, match.targets, keep=1, below=below, holding=0).best
        best = _closest(found)
        if best is None:
            continue
        beside = next((shelf.paints[by] for by in best.recipe.paints[1:]), None)
        carrier = beside.carrier if beside is not None and not mixable(match.shelf.paints) else ""
        remedies.append(Remedy("paint", best.closeness, ideal.name, beside=beside, carrier=carrier))
    return remedies


def ideal_paints() -> tuple[Paint, ...]:
    """Return paints of clean hypothetical pigments: a family each, to tell what to buy.

    Each absorbs one or two ends or a band of the spectrum along smooth steps (a logistic 15 nm
    wide), strongly and little elsewhere; the inks scatter hardly, the paints as common organic ones
    do. Invented: limits of what to look for, no product.

    >>> [paint.name for paint in ideal_paints()][:2]
    ['a clean yellow ink', 'a clean yellow paint']
    """
    nm = wavelengths_nm()

    def below(edge: float) -> FloatArray:
        return np.asarray(1.0 / (1.0 + np.exp((nm - edge) / 15.0)))

    bands = {
        "yellow": below(500.0),
        "orange": below(550.0),
        "red": below(595.0),
        "magenta": below(600.0) - below(475.0),
        "violet": below(640.0) - below(455.0),
        "blue": 1.0 - below(505.0),
        "turquoise": 1.0 - below(560.0),
        "green": below(475.0) + 1.0 - below(590.0),
    }
    found = []
    for name, band in bands.items():
        for kind, K, S, solids, sheen in (("ink", 0.9, 0.004, 0.12, 0.4), ("paint", 1.0, 0.12, 0.26, 1.0)):
            found.append(_ideal(f"a clean {name} {kind}", kind, K * band + 0.002, S, solids, sheen))
    found.append(_ideal("a strong opaque white", "paint", np.full(31, 2e-4), 0.4, 0.30, 1.0))
    found.append(_ideal("a black ink", "ink", np.full(31, 1.0), 0.002, 0.12, 0.4))
    return tuple(found)


def _ideal(name: str, kind: str, K: FloatArray, S: float, solids: float, sheen: float) -> Paint:
    return Paint(
        name=name,
        kind=kind,
        K_per_um=K,
        S_per_um=np.full(len(K), S),
        volume_solids=solids,
        wet_film_um=12.0,
        sheen=sheen,
        provenance="hypothetical",
        invented=True,
    )
