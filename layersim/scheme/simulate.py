"""From a scheme to its tones: every film laid over the one below, at every tone, with its range.

Arrays here run over (row, tone, patch, site, wavelength). Row 0 is the prediction; then come rows
in which everything uncertain varies at once (a Latin hypercube of normal deviates), which give
the range; then rows in which one thing alone is off by a standard deviation, which tell what
matters most. What lies below a level is an admittance of :mod:`layersim.optics.cones`. Patches are
the parts of the area under local effects, sites the places between which a sprayed film varies.
Rows are worked through a few at a time, so that a whole stack stays in the processor's cache.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np

from layersim import colour
from layersim.errors import SchemeError
from layersim.optics import cones, mixing, spray, surface
from layersim.optics.cones import Admittance
from layersim.paint import Paint, film_words, mixable
from layersim.scheme.ownfilms import takes_own_film, unmoved_words
from layersim.scheme.prediction import COVERED, AreaPrediction, Cause, Prediction, Stage
from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Hand, Mix, Scheme
from layersim.spectra import BANDS, FloatArray

SITES: Final = 8
"""Enough to be within ΔE00 0.03 of 512 sites on the demo scheme."""
DRAWS: Final = 64
THICKEST_COAT_UM: Final = 50.0
"""A thicker dry coat is likelier a slip than paint: full coats leave 2-10 µm (common practice, no source)."""
LEAST_SHARE: Final = 0.2
"""A coat of which no tone gets more than this share of its film hardly shows."""
_AXIS_POINTS: Final = 129
_LEAST_SHADE: Final = 1.0
"""Lightness L* that a pre-shade must gain at the least: less is no gradient."""
_DAYLIGHT: Final = colour.Viewing()
# Values of one array in a block: a dozen such arrays stay in a second-level cache.
_CACHED_VALUES: Final = 16384
# From (row, 31) to (row, tone, patch, site, 31).
_LIFT: Final = (slice(None), None, None, None)


def simulate(
    scheme: Scheme,
    *,
    tones: int = 9,
    viewing: colour.Viewing | None = None,
    sites: int = SITES,
    draws: int = DRAWS,
    seed: int = 0,
) -> Prediction:
    """Return what a scheme predicts.

    Parameters
    ----------
    scheme : Scheme
    tones : int, ≥ 2
        Places along the shade axis, evenly spaced in the pre-shade's lightness.
    viewing : Viewing, optional
        Instead of the scheme's own light and observer.
    sites : int
        Places between which sprayed films vary.
    draws : int
        How often the hand and the bottles are drawn for the range; 0 for none.
    seed : int

    Returns
    -------
    Prediction

    Raises
    ------
    SchemeError
        If a pre-shade does not get lighter from shadow to highlight.
    ValueError
        If there are fewer than two tones or a negative number of draws.
    """
    if tones < 2 or draws < 0:
        raise ValueError("at least two tones and no negative number of draws are needed")
    seen_under = viewing or scheme.viewing
    notices = list(scheme.notices)
    areas = tuple(
        AreaModel(scheme, area, tones=tones, sites=sites, seed=seed).predict(seen_under, draws, notices)
        for area in scheme.areas
    )
    return Prediction(scheme=scheme, viewing=seen_under, areas=areas, notices=tuple(dict.fromkeys(notices)))


@dataclass(frozen=True)
class Factor:
    """One independent source of doubt.

    Parameters
    ----------
    key : tuple
        What it is: ``("film", coat)``, ``("parts", coat, ingredient)``, ``("paint", name, doubt)``,
        ``("greys",)``; a coat is its index, or ``"preshade"``.
    what, advice : str
        In words: the cause, and what would narrow it.
    """

    key: tuple[object, ...]
    what: str
    advice: str


class AreaModel:
    """One area, ready to be worked out for any rows of normal deviates.

    Parameters
    ----------
    scheme : Scheme
        Gives the hand, and the file for messages.
    area : Area
    tones, sites, seed : int
        As in :func:`simulate`.
    places : ndarray, shape (tones,), 0..1, optional
        Where the tones lie, from the deepest shadow (0) to the full highlight (1) in shares of the
        sprayed pre-shade, so that two schemes can be seen at the same places of the model. By default
        the tones are spaced evenly in lightness.

    Attributes
    ----------
    factors : list of Factor
        What the columns of the deviates stand for.
    shade : ndarray, shape (tones,)
        L* of the bare pre-shade.
    places : ndarray, shape (tones,)
    """

    def __init__(
        self,
        scheme: Scheme,
        area: Area,
        *,
        tones: int,
        sites: int = SITES,
        seed: int = 0,
        places: FloatArray | None = None,
    ) -> None:
        self.scheme, self.area, self.hand = scheme, area, scheme.hand
        self.tones, self.seed = tones, seed
        self.factors = [*_factors(area, scheme.hand), *_sprayer_factors(scheme, area)]
        self.column = {factor.key: i for i, factor in enumerate(self.factors)}
        sprayed = isinstance(area.preshade, GreysSprayed)
        spreads = [spray.spread_of_coats(spread=c.spread, coats=c.coats) for c in area.coats]
        if isinstance(area.preshade, GreysSprayed):
            passes = area.preshade.passes
            spreads.insert(0, spray.spread_of_coats(spread=area.preshade.spread, coats=passes))
        count = sites if any(spread > 0.0 for spread in spreads) else 1
        films = spray.independent_sites(spreads=tuple(spreads), sites=count, seed=seed)
        self.preshade_sites = films[0] if sprayed else np.ones(count)
        self.coat_sites = films[1:] if sprayed else films
        self.exposure, self.shade = self._axis(places)
        reach = area.preshade.reach if isinstance(area.preshade, GreysSprayed) else 0.0
        even = np.linspace(0.0, 1.0, tones)
        self.places = (self.exposure - reach) / (1.0 - reach) if area.preshade is not None else even

    def reflectance(self, z: FloatArray) -> FloatArray:
        """Return what is seen, shape (row, stage, tone, 31), for rows of deviates, one column a factor."""
        return self._stages(z, self.scheme.viewing)[0]

    def predict(self, viewing: colour.Viewing, draws: int, notices: list[str]) -> AreaPrediction:
        """Return the area's prediction; add to `notices` what the user should know."""
        self._notice_oddities(notices)
        z = _deviates(len(self.factors), draws, self.seed)
        seen, sheen, mottle = self._stages(z, viewing)
        lab = colour.lab(seen, viewing)
        drawn = lab[1 : 1 + draws]
        tail = (1.0 - COVERED) / 2.0
        if draws:
            # The k-th of n draws has k/(n + 1) of all outcomes below it on average (E. J. Gumbel, Statistics
            # of Extremes, 1958, from memory); the usual quantile would hold 87 % for 90 at 64 draws.
            low, high = np.quantile(drawn, [tail, 1.0 - tail], axis=0, method="weibull")
            reach = np.quantile(colour.delta_e_2000(drawn, lab[0]), COVERED, axis=0, method="weibull")
        else:
            low, high, reach = lab[0], lab[0], np.zeros(lab.shape[1:3])
        alone = lab[1 + draws :, -1]
        shifts = colour.delta_e_2000(alone, lab[0, -1]).mean(axis=-1) if len(alone) else []
        causes = sorted(
            (Cause(f.what, f.advice, float(d)) for f, d in zip(self.factors, shifts, strict=False)),
            key=lambda cause: -cause.delta_e,
        )
        return AreaPrediction(
            name=self.area.name,
            stages=tuple(self._stage_names()),
            shade=self.shade,
            has_preshade=self.area.preshade is not None,
            reflectance=seen[0],
            xyz=colour.xyz(seen[0], viewing),
            lab=lab[0],
            # A curved response can leave the prediction itself just outside its draws.
            lab_low=np.minimum(low, lab[0]),
            lab_high=np.maximum(high, lab[0]),
            reach=reach,
            mottle=mottle,
            sheen=sheen,
            causes=tuple(causes),
            targets=self.area.targets,
        )

    def _stage_names(self) -> list[Stage]:
        stages = [Stage("primer", self.area.ground.name)]
        preshade = self.area.preshade
        if isinstance(preshade, GreysGiven):
            stages.append(
                Stage("pre-shade", f"greys given, L* {preshade.darkest:g} to {preshade.lightest:g}")
            )
        elif preshade is not None:
            passes = f"{preshade.passes} pass" + ("" if preshade.passes == 1 else "es")
            film = f"{film_words(preshade.total_film_um)} dry"
            stages.append(Stage("pre-shade", f"{preshade.mix.words()}, {passes}, {film}"))
        return stages + [Stage(coat.name, coat.words(), coat.is_filter) for coat in self.area.coats]

    def _notice_oddities(self, notices: list[str]) -> None:
        """Say what can be worked out but is hardly meant."""
        ground = self.area.ground
        if ground.kind not in ("primer", "paint"):
            notices.append(
                f"{self.area.name}: the ground is {ground.name}, of the kind {ground.kind}; "
                "it is taken as opaque"
            )
        for coat in self.area.coats:
            if coat.dry_film_um > THICKEST_COAT_UM:
                notices.append(
                    f'{self.area.name}: one coat of "{coat.name}" is {coat.dry_film_um:.3g} µm thick when '
                    "dry; a sprayed coat leaves about 0.5 to 10"
                )
            paints = [paint for paint, _ in coat.mix.ingredients]
            if not mixable(paints):
                carried = ", ".join(f"{paint.name}: {paint.carrier}" for paint in paints if paint.carrier)
                notices.append(
                    f'{self.area.name}: "{coat.name}" mixes paints with different carriers ({carried}), '
                    "which may curdle or part: try a drop of it first"
                )
            most = float(coat.where.film_share(self.shade).max())
            if most < LEAST_SHARE:
                notices.append(
                    f'{self.area.name}: "{coat.name}" hardly lands anywhere: it goes {coat.where.words()}, '
                    f"and this shade axis runs from L* {self.shade[0]:.0f} to {self.shade[-1]:.0f}"
                )
        if unmoved := unmoved_words(self.area, self.scheme.batch.sprayer):
            notices.append(unmoved)
        preshade = self.area.preshade
        if isinstance(preshade, GreysGiven):
            floor = colour.lab(np.full(BANDS, surface.smooth_surface().k1 * preshade.sheen), _DAYLIGHT)[0]
            if preshade.darkest < floor:
                notices.append(
                    f"{self.area.name}: pre-shade greys from L* {preshade.darkest:g}: its surface reflects "
                    f"enough by itself to be no darker than L* {floor:.0f}, which is used instead"
                )

    def _axis(self, places: FloatArray | None) -> tuple[FloatArray, FloatArray]:
        """Return each tone's share of the full pre-shade film, and the lightness of its pre-shade."""
        preshade = self.area.preshade
        even = np.linspace(0.0, 1.0, self.tones)
        if preshade is None:
            return np.ones(self.tones), even * 100.0
        if isinstance(preshade, GreysGiven):
            return even, preshade.darkest + (preshade.lightest - preshade.darkest) * even
        # Lightness rises fastest over the first of the white, so the steps are smallest there.
        exposure = preshade.reach + (1.0 - preshade.reach) * np.linspace(0.0, 1.0, _AXIS_POINTS) ** 2
        none = np.zeros((1, len(self.factors)))
        greys = cones.lay(
            self._medium(preshade.mix, ("preshade",), none),
            thickness_um=self._preshade_film(preshade, exposure, none),
            over=self._primer(none),
        )
        sheen = self._preshade_sheen(preshade, exposure, none)
        seen = cones.seen(greys, sheen=sheen[..., np.newaxis, np.newaxis, np.newaxis])
        lightness = colour.lab(seen.mean(axis=(2, 3))[0], _DAYLIGHT)[:, 0]
        if lightness[-1] - lightness[0] < _LEAST_SHADE:
            laid = f"{preshade.mix.words()} over {self.area.ground.name}"
            ends = f"L* {lightness[0]:.0f} in the shadow and {lightness[-1]:.0f} in the light"
            raise SchemeError(
                self.scheme.path or self.scheme.name,
                f'area "{self.area.name}", preshade: {laid} gives {ends}; '
                "expected a pre-shade that runs from dark to light. Is it the right paint, and neither so "
                "thin that it does nothing nor so thick that its drift covers the shadow?",
            )
        # The first trace of a glossy white may darken a matt primer: such films share a tone.
        lightness = np.maximum.accumulate(lightness)
        if places is not None:
            here = preshade.reach + (1.0 - preshade.reach) * places
            return here, np.interp(here, exposure, lightness)
        shade = lightness[0] + (lightness[-1] - lightness[0]) * even
        return np.interp(shade, lightness, exposure), shade

    def _stages(self, z: FloatArray, viewing: colour.Viewing) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return reflectance (row, stage, tone, 31), sheen and mottle (stage, tone)."""
        area = self.area
        primer = self._primer(z)
        media: list[cones.Medium] = []
        films: list[FloatArray] = []
        glosses: list[FloatArray] = []
        if isinstance(area.preshade, GreysSprayed):
            media.append(self._medium(area.preshade.mix, ("preshade",), z))
            films.append(self._preshade_film(area.preshade, self.exposure, z))
        shares = [coat.where.film_share(self.shade) for coat in area.coats]
        for index, coat in enumerate(area.coats):
            media.append(self._medium(coat.mix, (index,), z))
            films.append(self._coat_film(index, coat, shares[index], z))
            glosses.append(self._coat_sheen(index, coat, z))
        step = max(1, _CACHED_VALUES // (self.tones * len(self.preshade_sites) * BANDS))
        blocks = []
        sheens, mottles = np.empty(0), np.empty(0)
        for first in range(0, len(z), step):
            rows = slice(first, first + step)
            below = _rows_of(primer, rows)
            sheen, weights = np.full((1, self.tones, 1), area.ground.sheen), np.ones((self.tones, 1))
            layers = [(below, sheen, weights)]
            steps = [(cones.rows_of(m, rows), X[rows]) for m, X in zip(media, films, strict=True)]
            if isinstance(area.preshade, GreysGiven):
                below = self._given_greys(area.preshade, z[rows])
                sheen = np.full_like(sheen, area.preshade.sheen)
                layers.append((below, sheen, weights))
            elif area.preshade is not None:
                medium, X = steps.pop(0)
                below = cones.lay(medium, thickness_um=X, over=below)
                sheen = self._preshade_sheen(area.preshade, self.exposure, z[rows])[:, :, np.newaxis]
                layers.append((below, sheen, weights))
            under: dict[str, list[int]] = {}
            for coat, share, (medium, X), gloss in zip(area.coats, shares, steps, glosses, strict=True):
                # The sheen is that of the mean film: a film a micrometre thin levels over its sites.
                mean = X.mean(axis=3)[..., 0]
                if coat.patch is None:
                    below = cones.lay(medium, thickness_um=X, over=below)
                    sheen = surface.blended_sheen(sheen, coat_sheen=gloss[rows], thickness_um=mean)
                else:
                    if coat.patch not in under:
                        covered = coat.coverage * share
                        below, sheen, weights = _split(below, sheen, weights, covered, under, coat.patch)
                    here = under[coat.patch]
                    laid = cones.lay(medium, thickness_um=X, over=_part(below, here))
                    below = _replaced(below, here, laid)
                    whole = np.repeat(sheen, len(z[rows]), axis=0) if len(sheen) == 1 else sheen.copy()
                    whole[:, :, here] = surface.blended_sheen(
                        whole[:, :, here], coat_sheen=gloss[rows], thickness_um=mean
                    )
                    sheen = whole
                layers.append((below, sheen, weights))
            sites = [cones.seen(b, sheen=s[..., np.newaxis, np.newaxis]) for b, s, _ in layers]
            blocks.append(
                np.stack(
                    [_average(seen, w, self.tones) for seen, (_, _, w) in zip(sites, layers, strict=True)],
                    axis=1,
                )
            )
            if first == 0:
                sheens = np.stack([(s[0] * w).sum(axis=1) for _, s, w in layers])
                mottles = np.stack(
                    [_mottle(seen[0], w, viewing) for seen, (_, _, w) in zip(sites, layers, strict=True)]
                )
        return np.concatenate(blocks), sheens, mottles

    def _primer(self, z: FloatArray) -> Admittance:
        K, S = self._paint_constants(self.area.ground, z)
        return cones.endless(cones.medium(K_per_um=K[_LIFT], S_per_um=S[_LIFT]))

    def _given_greys(self, preshade: GreysGiven, z: FloatArray) -> Admittance:
        lightness = self.shade + self.hand.greys * self._deviate(("greys",), z)[:, np.newaxis]
        neutral = np.stack([lightness, np.zeros_like(lightness), np.zeros_like(lightness)], axis=-1)
        Y = colour.xyz_from_lab(neutral, np.ones(3))[..., 1]
        # No darker than the surface by itself, no lighter than all that comes back.
        # A perfect white sends back all that enters, and of what does not enter the sheen's share is seen.
        k1 = surface.smooth_surface().k1
        Y = np.clip(Y, k1 * preshade.sheen, 1.0 - k1 * (1.0 - preshade.sheen))
        greys = np.broadcast_to(Y[:, :, np.newaxis, np.newaxis, np.newaxis], (*Y.shape, 1, 1, BANDS))
        return cones.ground_from_seen(greys, sheen=preshade.sheen)

    def _medium(self, mix: Mix, key: tuple[object, ...], z: FloatArray) -> cones.Medium:
        K, S = self._mix_constants(mix, key, z)
        return cones.medium(K_per_um=K[_LIFT], S_per_um=S[_LIFT])

    def _preshade_film(self, preshade: GreysSprayed, exposure: FloatArray, z: FloatArray) -> FloatArray:
        """Return the white's film with axes (row, tone, 1, site, 1), µm."""
        error = self._film_error("preshade", z)
        X = preshade.total_film_um * error[:, np.newaxis, np.newaxis] * exposure[:, np.newaxis]
        return np.asarray((X * self.preshade_sites)[:, :, np.newaxis, :, np.newaxis])

    def _coat_film(self, index: int, coat: Coat, share: FloatArray, z: FloatArray) -> FloatArray:
        """Return the coat's film with axes (row, tone or 1, 1, site, 1), µm."""
        error = self._film_error(index, z)
        X = coat.total_film_um * error[:, np.newaxis, np.newaxis]
        if coat.patch is None and not coat.where.everywhere:
            X = X * share[:, np.newaxis]
        return np.asarray((X * self.coat_sites[index])[:, :, np.newaxis, :, np.newaxis])

    def _preshade_sheen(self, preshade: GreysSprayed, exposure: FloatArray, z: FloatArray) -> FloatArray:
        """Return the sheen of the bare pre-shade, (row, tone)."""
        error = self._film_error("preshade", z)
        return surface.blended_sheen(
            self.area.ground.sheen,
            coat_sheen=preshade.mix.sheen,
            thickness_um=preshade.total_film_um * error[:, np.newaxis] * exposure,
        )

    def _coat_sheen(self, index: int, coat: Coat, z: FloatArray) -> FloatArray:
        """Return the sheen of a dry coat with axes (row, 1, 1)."""
        shares = self._dry_shares(coat.mix, (index,), z)
        own = shares @ np.array([paint.sheen for paint, _ in coat.mix.ingredients])
        dry = own if coat.sheen is None else np.full_like(own, coat.sheen)
        # How much of its reflection is seen depends on the room, most for what is neither gloss nor matt.
        doubt = self.hand.satin * self._deviate(("satin",), z) * 4.0 * dry * (1.0 - dry)
        dry = np.clip(dry + doubt, 0.0, 1.0)
        return np.asarray(dry[:, np.newaxis, np.newaxis])

    def _dry_shares(self, mix: Mix, key: tuple[object, ...], z: FloatArray) -> FloatArray:
        """Return each ingredient's share of the dry mix, (row, ingredient)."""
        off = [
            np.exp(self.hand.parts * self._deviate(("parts", *key, i), z))
            for i in range(len(mix.ingredients))
        ]
        return mixing.dry_shares(parts=mix.parts * np.stack(off, axis=-1), volume_solids=mix.solids)

    def _mix_constants(
        self, mix: Mix, key: tuple[object, ...], z: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return K and S of a mix, shape (row, 31)."""
        shares = self._dry_shares(mix, key, z)
        each = [self._paint_constants(paint, z) for paint, _ in mix.ingredients]
        K, S = (np.stack(constants, axis=1) for constants in zip(*each, strict=True))
        return np.einsum("ri,riw->rw", shares, K), np.einsum("ri,riw->rw", shares, S)

    def _paint_constants(self, paint: Paint, z: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return K and S of one paint with its doubts, shape (row, 31)."""
        log_K, log_S = np.zeros((2, len(z), paint.K_per_um.size))
        for i, doubt in enumerate(paint.doubts):
            deviate = self._deviate(("paint", paint.name, i), z)[:, np.newaxis]
            log_K = log_K + deviate * doubt.log_K
            log_S = log_S + deviate * doubt.log_S
        return paint.K_per_um * np.exp(log_K), paint.S_per_um * np.exp(log_S)

    def _film_error(self, step: int | str, z: FloatArray) -> FloatArray:
        """Return by how much a step's film is off: its own session's error, and the sprayer's, (row,)."""
        log = self.hand.film * self._deviate(("film", step), z)
        preshade = self.area.preshade
        laid = preshade if step == "preshade" else self.area.coats[int(step)]
        sprayer = self.scheme.batch.sprayer
        if sprayer is not None and sprayer.film_factor is not None and takes_own_film(laid):
            log = log + sprayer.film_factor.error * self._deviate(("own film",), z)
        return np.asarray(np.exp(log))

    def _deviate(self, key: tuple[object, ...], z: FloatArray) -> FloatArray:
        column = self.column.get(key)
        return np.zeros(len(z)) if column is None else z[:, column]


def _average(seen: FloatArray, weights: FloatArray, tones: int) -> FloatArray:
    """Return what the eye averages over sites and patches, (row, tone, 31)."""
    patches = seen.mean(axis=3)
    average = np.einsum(
        "rtpw,tp->rtw", np.broadcast_to(patches, (len(seen), tones, *patches.shape[2:])), weights
    )
    return np.asarray(average)


def _mottle(seen: FloatArray, weights: FloatArray, viewing: colour.Viewing) -> FloatArray:
    """Return the mean ΔE00 of sites around their own patch's average, (tone,)."""
    own = colour.lab(seen.mean(axis=-2, keepdims=True), viewing)
    off = colour.delta_e_2000(colour.lab(seen, viewing), own)
    return np.asarray((off.mean(axis=-1) * weights).sum(axis=1))


def _rows_of(below: Admittance, rows: slice) -> Admittance:
    return Admittance(below.cone[rows], below.cross[rows], below.trapped[rows])


def _split(
    below: Admittance,
    sheen: FloatArray,
    weights: FloatArray,
    covered: FloatArray,
    under: dict[str, list[int]],
    patch: str,
) -> tuple[Admittance, FloatArray, FloatArray]:
    """Split every patch so far into a part beside a new one and a part under it.

    `under` lists the places that lie under each patch, and is brought up to date.
    """
    share, count = covered[:, np.newaxis], weights.shape[1]
    for name, lying in under.items():
        under[name] = lying + [i + count for i in lying]
    under[patch] = list(range(count, 2 * count))
    every = [*range(count), *range(count)]
    return (
        _part(below, every),
        np.concatenate([sheen, sheen], axis=2),
        np.concatenate([weights * (1.0 - share), weights * share], axis=1),
    )


def _part(below: Admittance, patches: list[int]) -> Admittance:
    """Return what lies below on some patches (axis 2, or one patch that stands for all)."""

    def pick(values: FloatArray) -> FloatArray:
        return np.take(values, patches, axis=2)

    return Admittance(pick(below.cone), pick(below.cross), pick(below.trapped))


def _replaced(below: Admittance, patches: list[int], laid: Admittance) -> Admittance:
    """Return what lies below with some patches (axis 2) replaced."""

    def put(old: FloatArray, new: FloatArray) -> FloatArray:
        # A new coat may be the first to bring in sites or tones, on axes that were one long so far.
        shape = np.broadcast_shapes(old[:, :, :1].shape, new[:, :, :1].shape)
        whole = np.broadcast_to(old, (*shape[:2], old.shape[2], *shape[3:])).copy()
        whole[:, :, patches] = new
        return whole

    return Admittance(
        put(below.cone, laid.cone), put(below.cross, laid.cross), put(below.trapped, laid.trapped)
    )


def _factors(area: Area, hand: Hand) -> list[Factor]:
    """Return everything about an area that is uncertain."""
    factors: dict[tuple[object, ...], Factor] = {}

    def add(key: tuple[object, ...], what: str, advice: str) -> None:
        factors.setdefault(key, Factor(key, what, advice))

    def add_paint(paint: Paint) -> None:
        for i, doubt in enumerate(paint.doubts):
            add(("paint", paint.name, i), f"{paint.name}: {doubt.cause}", f"measure swatches of {paint.name}")

    def add_mix(mix: Mix, key: tuple[object, ...], name: str) -> None:
        for i, (paint, _) in enumerate(mix.ingredients):
            add_paint(paint)
            if hand.parts and len(mix.ingredients) > 1:
                add(
                    ("parts", *key, i),
                    f'parts of {paint.name} in "{name}"',
                    "mix a larger batch, or weigh it",
                )

    add_paint(area.ground)
    if hand.satin and any(0.0 < coat.dry_sheen < 1.0 and coat.total_film_um > 0.0 for coat in area.coats):
        add(("satin",), "how much of the finish's reflection is seen", "spray a chip and set its sheen")
    if isinstance(area.preshade, GreysGiven) and hand.greys:
        add(("greys",), "greys of the pre-shade", "photograph the pre-shade beside a grey card")
    if isinstance(area.preshade, GreysSprayed):
        add_mix(area.preshade.mix, ("preshade",), "pre-shade")
        if hand.film:
            add(("film", "preshade"), "film of the pre-shade", "spray a test strip and compare")
    for index, coat in enumerate(area.coats):
        add_mix(coat.mix, (index,), coat.name)
        if hand.film and coat.total_film_um > 0.0:
            add(("film", index), f'film of "{coat.name}"', f'spray a test strip of "{coat.name}"')
    return list(factors.values())


def _sprayer_factors(scheme: Scheme, area: Area) -> list[Factor]:
    """Return the doubt that all films of the sprayer's own share."""
    sprayer = scheme.batch.sprayer
    if sprayer is None or sprayer.film_factor is None or not sprayer.film_factor.error:
        return []
    if not any(takes_own_film(step) for step in (area.preshade, *area.coats)):
        return []
    return [Factor(("own film",), f"own film of {sprayer.name}", "fit more swatches of this sprayer")]


def _deviates(factors: int, draws: int, seed: int) -> FloatArray:
    """Return rows of normal deviates: none, then a hypercube of draws, then each factor alone."""
    if not draws:
        return np.zeros((1, factors))
    together = normal_hypercube(factors, draws, seed=seed)
    return np.concatenate([np.zeros((1, factors)), together, np.eye(factors)])


def normal_hypercube(factors: int, draws: int, *, seed: int) -> FloatArray:
    """Return independent normal deviates in a Latin hypercube, shape (draws, factors).

    M. D. McKay, R. J. Beckman and W. J. Conover, Technometrics 21 (1979) 239.

    Parameters
    ----------
    factors, draws : int
    seed : int

    Returns
    -------
    ndarray
        Each column has exactly the same slices of a normal distribution, in its own order.
    """
    normal = NormalDist()
    slices = np.array([normal.inv_cdf((i + 0.5) / draws) for i in range(draws)])
    # The slices' middles fall a little short of a normal's spread; this makes it whole again.
    slices = slices / np.sqrt((slices**2).mean()) if draws > 1 else slices
    shuffle = np.random.default_rng(seed + 1)
    return np.array([shuffle.permutation(slices) for _ in range(factors)]).reshape(factors, draws).T
