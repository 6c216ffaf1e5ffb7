"""Why a target is out of reach, and what would bring it nearer.

A finer look at the tones where an answer misses: whether the shelf could have that colour there at
all, by itself or with others, at any number of coats allowed; and whether a paint that nobody has
yet, another pre-shade, a glossier finish, more film or a coat less above it would do it.
"""

from __future__ import annotations

import dataclasses
import itertools
from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim import colour
from layersim.decide.match import Match, own_film_factor, preshade_words
from layersim.decide.opening import Opening, opening_in
from layersim.decide.recipes import Limits, Pots, levels, pots
from layersim.decide.search import exact_lab, search
from layersim.decide.words import DISTURBS, change_words, hue_words, joined
from layersim.errors import quoted
from layersim.optics.surface import SHEENS
from layersim.paint import Paint, mixable
from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Where
from layersim.spectra import FloatArray, wavelengths_nm

_RATIOS: Final = np.array([[1, 0], [1, 1], [1, 3], [3, 1], [1, 8], [8, 1]])
_HUE_NEAR: Final = 15.0
_LIGHT_NEAR: Final = 6.0
_WORTH: Final = 0.5
# A tone is darker than can be reached, or darker under another finish, from so many L* on.
_DARKER: Final = 1.0
# A finish counts as glossier from so much less sheen on.
_LESS_SHEEN: Final = 0.1
_MORE_COATS: Final = (8, 10, 12)
# So many coats above are each left out once: every one asks for a search.
_LEFT_OUT: Final = 3
# A coat above is why a tone is missed where without it at most so much of the miss is left.
_BLAMED: Final = 0.5
# Of a coat's full film, what counts as landing on a tone.
_LANDS: Final = 0.01
_REMEDIES: Final = 4


@dataclass(frozen=True)
class Miss:
    """One target that the best answer misses."""

    place: str
    """"shadow", "mid" or "light"."""
    delta_e: float
    direction: str
    """What the answer is, seen from the target, in words."""
    why: str
    """A sentence."""


@dataclass(frozen=True)
class Remedy:
    """Something that would bring the tones nearer."""

    what: str
    closeness: float
    """That the best mix of up to two paints would then have, with even films."""


@dataclass(frozen=True)
class Reach:
    """How far the targets are out of reach."""

    reached: bool
    """Whether the best answer is within what passes side by side."""
    closeness: float
    """Of the best answer; of up to two paints in `now`."""
    now: float
    """Best closeness of up to two paints with even films: what remedies compare with."""
    misses: tuple[Miss, ...]
    remedies: tuple[Remedy, ...]
    """Nearest first; empty where nothing tried would help."""


def reach_of(match: Match) -> Reach:
    """Return whether a match reaches its targets, and if not, why and what would."""
    best = min(match.answers, key=lambda answer: answer.closeness)
    now = min((f.closeness for m, fs in match.findings.best.items() if m <= 2 for f in fs), default=np.inf)
    if best.worst <= DISTURBS:
        return Reach(True, best.closeness, now, (), ())
    finishes = _glossier_finishes(match, float(best.prediction.sheen[-1].max()))
    order = np.cumsum(match.targets.counted) - 1
    without = _without_a_coat(match, now)
    misses = []
    for place, tone in match.targets.given.items():
        miss = float(best.delta_e[order[tone]])
        if miss > DISTURBS:
            target, got = match.targets.lab[tone], best.prediction.lab[-1, tone]
            cloud = _cloud(match.shelf, match.limits, match.openings[0], tone)
            why, blamed = "", False
            if without is not None:
                bared = _cloud(match.shelf, match.limits, without.opening, tone)
                why, blamed = _above_words(without.coat, target, cloud, bared)
            if not blamed:
                why = _why(target, cloud, match, finishes, tone) + (f"; {why}" if why else "")
            misses.append(Miss(place, miss, change_words(target, got), why))
    remedies = _remedies(match, finishes, without, now)
    return Reach(False, best.closeness, now, tuple(misses), remedies)


@dataclass(frozen=True, eq=False)
class _Finish:
    """A finish glossier than the present one, and the place with everything else as it is."""

    name: str
    words: str
    opening: Opening
    shelf: Pots
    limits: Limits

    def darkest(self, tone: int) -> float:
        """Return the least lightness of a tone under it."""
        return float(_cloud(self.shelf, self.limits, self.opening, tone)[:, 0].min())


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
            words = f"a {name} finish instead of {quoted(last.name)}"
        else:
            even = np.ones(len(opening.share))
            there = dataclasses.replace(opening, sheen_kept=0.0 * even, sheen_added=value * even)
            words = f"a {name} varnish over it all"
        found.append(_Finish(name, words, there, match.shelf, match.limits))
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


def _above_words(coat: Coat, target: FloatArray, under: FloatArray, bared: FloatArray) -> tuple[str, bool]:
    """Return what a coat above does to a tone, and whether that is why it is missed.

    Recipes under the coat and without it stand in one order. Empty where it hardly matters.
    """
    to_target = colour.delta_e_2000(bared, target)
    nearest = int(to_target.argmin())
    least, now = float(to_target[nearest]), float(colour.delta_e_2000(under, target).min())
    if least > now - DISTURBS:
        return "", False
    name = quoted(coat.name)
    if least > _BLAMED * now:
        return f"without {name} above, this tone comes within ΔE00 {least:.1f}", False
    change = change_words(bared[nearest], under[nearest])
    return (
        f"{name} above keeps it away: without it this tone comes within ΔE00 {least:.1f}; from that to the "
        f"same under {name}: {change}"
    ), True


def _darker_words(finishes: tuple[_Finish, ...], tone: int, *, target: float, darkest: float) -> str:
    """Return how dark a tone could become under glossier finishes; empty where they hardly help."""
    rows: list[str] = []
    reached = False
    for finish in finishes:
        least = finish.darkest(tone)
        if least < darkest - _DARKER:
            rows.append(f"L* {least:.0f} with a {finish.name} {'one' if rows else 'finish'}")
            reached |= least - _DARKER <= target
    if not rows:
        return ""
    cause = "the haze of the finish is what keeps it so light" if reached else "a glossier finish is darker"
    return f"; {cause}: this tone could be as dark as {joined(rows)}"


def _cloud(shelf: Pots, limits: Limits, opening: Opening, tone: int) -> FloatArray:
    """Return L*a*b* of a tone with single paints and coarse pairs at every level, shape (n, 3)."""
    alone = np.arange(len(opening.share)) == tone
    count = len(shelf.paints)
    pairs = np.array(list(itertools.permutations(range(count), 2)) if count > 1 else [(0, 0)])
    ratios = _RATIOS if limits.paints_at_most > 1 and count > 1 else _RATIOS[:1]
    steps = levels(limits)
    steps = tuple({level.units: level for level in (steps[0], steps[len(steps) // 2], steps[-1])}.values())
    sets = np.repeat(pairs, len(ratios), axis=0)
    parts = np.tile(ratios, (len(pairs), 1))
    # A pair has each ratio in both orders already.
    keep = (sets[:, 0] < sets[:, 1]) | ((parts[:, 1] == 0) & (sets[:, 1] == (sets[:, 0] + 1) % count))
    keep |= count == 1
    keep &= shelf.may_mix[sets[:, 0], sets[:, 1]] | (parts[:, 1] == 0)
    sets, parts = sets[keep], parts[keep]
    amounts, sheen = shelf.amounts_of(sets, parts)
    K = np.einsum("nm,nmw->nw", amounts, shelf.K_per_um[sets])
    S = np.einsum("nm,nmw->nw", amounts, shelf.S_per_um[sets])
    film = amounts.sum(axis=1)
    return np.concatenate(
        [
            exact_lab(
                opening, K=K, S=S, units=np.full(len(K), level.units), sheen=sheen, film=film, tones=alone
            )[:, 0]
            for level in steps
        ]
    )


def _why(
    target: FloatArray, cloud: FloatArray, match: Match, finishes: tuple[_Finish, ...], tone: int
) -> str:
    """Return in a sentence why no recipe is at a target."""
    alone = float(colour.delta_e_2000(cloud, target).min())
    if alone <= DISTURBS:
        return (
            f"this tone by itself can be reached (ΔE00 {alone:.1f}), but not with the others in one coat: "
            "split the work into coats that each go to their own tones (where)"
        )
    L, C, h = (float(v) for v in colour.lch(target))
    lch = colour.lch(cloud)
    lightest, darkest = float(lch[:, 0].max()), float(lch[:, 0].min())
    most = max(match.limits.coats)
    if lightest + 1.0 < L:
        shade = float(match.openings[0].shade[tone])
        return (
            f"lighter than these paints reach over this pre-shade, which is L* {shade:.0f} "
            f"here: the lightest of them leaves L* {lightest:.0f} after {most} coats, "
            f"{L - lightest:.0f} short"
        )
    if darkest - _DARKER > L:
        return (
            f"darker than these paints reach: the darkest of them leaves L* {darkest:.0f} after {most} coats"
            + _darker_words(finishes, tone, target=L, darkest=darkest)
        )
    if C < 5.0:
        near = lch[np.abs(lch[:, 0] - L) <= _LIGHT_NEAR]
        return (
            f"a grey that no mix of two here comes closer to than ΔE00 {alone:.1f} ({len(near)} tried near)"
        )
    turn = np.abs((lch[:, 2] - h + 180.0) % 360.0 - 180.0)
    alike = np.abs(lch[:, 0] - L) <= _LIGHT_NEAR
    same_hue = alike & (turn <= _HUE_NEAR)
    strongest = float(lch[same_hue, 1].max(initial=0.0))
    if strongest < 0.5 * C:
        coloured = cloud[alike & (lch[:, 1] >= 0.5 * C)]
        if not len(coloured):
            return f"no paint or mix of two here has half this chroma (C* {C:.0f}) at this lightness"
        near = coloured[colour.delta_e_2000(coloured, target).argmin()]
        return "this hue is missing: the nearest strong colour that they make at this lightness has its " + (
            hue_words(target, near) or "hue, but not its chroma"
        )
    if strongest + 2.0 < C:
        return (
            f"more chroma than they have at this hue and lightness: C* {strongest:.0f} at most, "
            f"and C* {C:.0f} asked"
        )
    return f"no paint or mix of two comes closer than ΔE00 {alone:.1f} here"


def _remedies(
    match: Match, finishes: tuple[_Finish, ...], without: _Without | None, now: float
) -> tuple[Remedy, ...]:
    below = now - _WORTH
    found = [*_paints_to_buy(match, below), *_other_preshades(match, below)]
    few = _few_recipes(match.limits)
    found += [Remedy(f.words, _best_of(match, f.opening, few, below)) for f in finishes]
    more = dataclasses.replace(
        match.limits, coats=_MORE_COATS, paints_at_most=min(2, match.limits.paints_at_most)
    )
    if max(match.limits.coats) < _MORE_COATS[0]:
        close = _best_of(match, match.openings[0], more, below)
        found.append(Remedy(f"an opaque mix: {_MORE_COATS[0]} to {_MORE_COATS[-1]} coats", close))
    found = [remedy for remedy in found if remedy.closeness < now - _WORTH]
    found.sort(key=lambda remedy: remedy.closeness)
    # To leave a coat out costs nothing: it is told even where paints to buy would come closer.
    left_out = [] if without is None else [Remedy(f"without {quoted(without.coat.name)}", without.closeness)]
    found = [*left_out, *found[: _REMEDIES - len(left_out)]]
    return tuple(sorted(found, key=lambda remedy: remedy.closeness))


def _best_of(match: Match, opening: Opening, limits: Limits, below: float) -> float:
    """Return how close one comes there with up to two paints; infinite where not as near as `below`."""
    shelf = pots(match.shelf.paints, limits, film_factor=own_film_factor(match.scheme))
    found = search([opening], shelf, limits, match.targets, keep=1, below=below)
    return min((f.closeness for best in found.best.values() for f in best), default=np.inf)


def _few_recipes(limits: Limits) -> Limits:
    """Return limits narrow enough to search once more for every remedy."""
    drops = min(6, limits.drops)
    return dataclasses.replace(
        limits, paints_at_most=min(2, limits.paints_at_most), drops=drops,
        least_drops=min(limits.least_drops, 3, drops),
    )  # fmt: skip


def _opening(match: Match, *, area: Area | None = None, later: tuple[Coat, ...] | None = None) -> Opening:
    """Return the place sought with another pre-shade below, or other coats above."""
    place = match.place
    return opening_in(
        match.scheme,
        place.area if area is None else area,
        at=place.at,
        where=place.model.where if place.model is not None else Where(),
        later=place.later if later is None else later,
        tones=len(match.targets.lab),
    )


def _other_preshades(match: Match, below: float) -> list[Remedy]:
    preshade = match.place.area.preshade
    tried: list[GreysGiven | GreysSprayed] = []
    if isinstance(preshade, GreysSprayed):
        for share in (0.5, 1.75):
            tried.append(dataclasses.replace(preshade, passes=max(1, round(preshade.passes * share))))
        tried.append(dataclasses.replace(preshade, reach=min(0.5, preshade.reach + 0.1)))
    elif isinstance(preshade, GreysGiven):
        for low, high in ((12.0, 8.0), (-12.0, -12.0), (12.0, 0.0)):
            dark, light = max(0.0, preshade.darkest + low), min(97.0, preshade.lightest + high)
            if dark < light:
                tried.append(dataclasses.replace(preshade, darkest=dark, lightest=light))
    limits = _few_recipes(match.limits)
    remedies = []
    for other in dict.fromkeys(tried):
        opening = _opening(match, area=dataclasses.replace(match.place.area, preshade=other))
        close = _best_of(match, opening, limits, below)
        lightness = f"L* {opening.shade[0]:.0f} to {opening.shade[-1]:.0f}"
        words = preshade_words(other)
        if isinstance(other, GreysSprayed):
            drift = "" if other.reach == getattr(preshade, "reach", other.reach) else ", its shadows lifted"
            words = f"{words}{drift} ({lightness})"
        remedies.append(Remedy(words, close))
    return remedies


def _paints_to_buy(match: Match, below: float) -> list[Remedy]:
    """Return how close one more paint, of an ideal family, would come by itself or with one of the shelf."""
    limits = _few_recipes(dataclasses.replace(match.limits, least_drops=1))
    remedies = []
    for ideal in ideal_paints():
        shelf = pots((ideal, *match.shelf.paints), limits, film_factor=own_film_factor(match.scheme))
        found = search([match.openings[0]], shelf, limits, match.targets, keep=1, below=below, holding=0).best
        best = min((f for best in found.values() for f in best), key=lambda f: f.closeness, default=None)
        if best is None:
            continue
        beside = ""
        for by in best.recipe.paints[1:]:
            beside = f", mixed with {shelf.paints[by].name}"
            if shelf.paints[by].carrier and not mixable(match.shelf.paints):
                beside += f" (so carried by {shelf.paints[by].carrier}, too)"
        remedies.append(Remedy(f"one more paint: {ideal.name}{beside}", best.closeness))
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
