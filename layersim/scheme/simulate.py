"""From a scheme to its tones: every film laid over the one below, at every tone, with its range.

Arrays here run over (row, tone, patch, site, wavelength). Row 0 is the prediction; then come rows
in which everything uncertain varies at once (a Latin hypercube of normal deviates), which give
the range; then rows in which one thing alone is off by a standard deviation, which tell what
matters most. The model's own error (:mod:`layersim.scheme.modelerror`) has no such rows: what it does
is what the draws do beyond all else. What lies below a level is an admittance of
:mod:`layersim.optics.cones`. Patches are the parts of the area under local effects, sites the places
between which a sprayed film varies. Rows are worked through a few at a time, so that a whole stack stays
in the processor's cache.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np

from layersim import colour
from layersim.errors import SchemeError
from layersim.optics import cones, mixing, spray, surface
from layersim.optics.cones import Admittance, Air
from layersim.paint import Paint, film_words, mixable
from layersim.scheme import modelerror
from layersim.scheme.ownfilms import own_film, takes_own_film, unmoved_words
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
_LEAST_FILM_UM: Final = 1e-6
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
        ``("greys",)``, ``("satin",)``, ``("mist",)``, or one of the film model's own; a coat is its index,
        or ``"preshade"``.
    what, advice : str
        In words: the cause, and what would narrow it. All of the film model's own are one cause.
    towards : float
        1 or -1: which way a standard deviation is taken when it alone is off.
    room : float
        How many standard deviations there are the other way, before nothing more changes.
    """

    key: tuple[object, ...]
    what: str
    advice: str
    towards: float = 1.0
    room: float = np.inf

    @property
    def of_model(self) -> bool:
        """Whether it is an error of the film model, not of a hand or a bottle."""
        return modelerror.is_own(self.key)


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
        self.factors = [
            *_factors(area, scheme.hand),
            *_sprayer_factors(scheme, area),
            *_model_factors(area, scheme.hand),
        ]
        self.column = {factor.key: i for i, factor in enumerate(self.factors)}
        self.coat_spreads = [spray.spread_of_coats(spread=c.spread, coats=c.coats) for c in area.coats]
        self.preshade_spread = 0.0
        if isinstance(area.preshade, GreysSprayed):
            passes = area.preshade.passes
            self.preshade_spread = spray.spread_of_coats(spread=area.preshade.spread, coats=passes)
        self.spotty = (isinstance(area.preshade, GreysSprayed) and area.preshade.spot_um > 0.0) or (
            isinstance(area.preshade, GreysGiven) and area.preshade.spotted > 0.0
        )
        uneven = self.preshade_spread > 0.0 or any(spread > 0.0 for spread in self.coat_spreads)
        self.sites = sites if uneven or self.spotty else 1
        # The pre-shade's own comes first, as it is sprayed.
        orders = spray.independent_orders(coats=1 + len(area.coats), sites=self.sites, seed=seed)
        self.preshade_order, self.coat_orders = orders[0], orders[1:]
        self.exposure, self.shade = self._axis(places)
        reach = area.preshade.reach if isinstance(area.preshade, GreysSprayed) else 0.0
        even = np.linspace(0.0, 1.0, tones)
        self.places = (self.exposure - reach) / (1.0 - reach) if area.preshade is not None else even

    def reflectance(self, z: FloatArray) -> FloatArray:
        """Return what is seen, shape (row, stage, tone, 31), for rows of deviates, one column a factor."""
        return self._stages(z, self.scheme.viewing, self._spots(z))[0]

    def predict(self, viewing: colour.Viewing, draws: int, notices: list[str]) -> AreaPrediction:
        """Return the area's prediction; add to `notices` what the user should know."""
        self._notice_oddities(notices)
        z = self._deviates(draws)
        spots = self._spots(z)
        # No eye sees single spots: how blotchy a place looks is what is left without them, in a last row.
        rows = (np.concatenate([z, z[:1]]), np.append(spots, 0.0)) if self.spotty else (z, spots)
        seen, sheen, mottle = self._stages(rows[0], viewing, rows[1])
        seen = seen[: len(z)]
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
        causes = self._causes(z, lab[:, -1], draws) if draws else []
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

    def _deviates(self, draws: int) -> FloatArray:
        """Return rows of normal deviates: none, then a hypercube of draws, then each factor alone."""
        none = np.zeros((1, len(self.factors)))
        if not draws:
            return none
        alone = np.eye(len(self.factors)) * [factor.towards for factor in self.factors]
        rows = np.array([not factor.of_model for factor in self.factors], dtype=bool)
        together = normal_hypercube(len(self.factors), draws, seed=self.seed)
        return np.concatenate([none, together, alone[rows]])

    def _causes(self, z: FloatArray, lab: FloatArray, draws: int) -> list[Cause]:
        """Return why the finish may turn out otherwise, largest first.

        Parameters
        ----------
        z : ndarray, shape (row, factor)
            As :meth:`_deviates` gives them.
        lab : ndarray, shape (row, tone, 3)
        draws : int
        """
        alone = [factor for factor in self.factors if not factor.of_model]
        sizes = colour.delta_e_2000(lab[1 + draws :], lab[0]).mean(axis=-1)
        found = [Cause(one.what, one.advice, float(size)) for one, size in zip(alone, sizes, strict=True)]
        if len(alone) < len(self.factors):
            # What the draws do beyond everything that stands alone, each in proportion to its deviate.
            steps = z[1 : 1 + draws] @ z[1 + draws :].T
            steps = np.maximum(steps, [-one.room for one in alone])
            left = lab[1 : 1 + draws] - np.tensordot(steps, lab[1 + draws :] - lab[0], axes=1)
            size = np.sqrt((colour.delta_e_2000(left, lab[0]) ** 2).mean(axis=0)).mean()
            found.append(Cause(modelerror.CAUSE, modelerror.ADVICE, float(size)))
        return sorted(found, key=lambda cause: -cause.delta_e)

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
            self._medium(preshade.mix, "preshade", none),
            thickness_um=self._preshade_film(preshade, exposure, none, self._spots(none)),
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

    def _stages(
        self, z: FloatArray, viewing: colour.Viewing, spots: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return reflectance (row, stage, tone, 31), sheen of the first row and mottle of the last.

        `spots` has one value a row, as :meth:`_spots` gives it; sheen and mottle have shape (stage, tone).
        """
        area = self.area
        primer = self._primer(z)
        media: list[cones.Medium] = []
        films: list[FloatArray] = []
        glosses: list[FloatArray] = []
        if isinstance(area.preshade, GreysSprayed):
            media.append(self._medium(area.preshade.mix, "preshade", z))
            films.append(self._preshade_film(area.preshade, self.exposure, z, spots))
        shares = [coat.where.film_share(self.shade) for coat in area.coats]
        for index, coat in enumerate(area.coats):
            media.append(self._medium(coat.mix, index, z))
            films.append(self._coat_film(index, coat, shares[index], z))
            glosses.append(self._coat_sheen(index, coat, z))
        primer_sheen = self._share_off(Mix(((area.ground, 1.0),)), z)[:, np.newaxis, np.newaxis]
        air = self._air(z)
        step = max(1, _CACHED_VALUES // (self.tones * self.sites * BANDS))
        blocks = []
        even = len(z) - 1 if self.spotty else 0
        sheens, mottles = np.empty(0), np.empty(0)
        for first in range(0, len(z), step):
            rows = slice(first, first + step)
            below = _rows_of(primer, rows)
            sheen = np.broadcast_to(primer_sheen[rows], (len(z[rows]), self.tones, 1))
            weights = np.ones((self.tones, 1))
            layers = [(below, sheen, weights)]
            steps = [(cones.rows_of(m, rows), X[rows]) for m, X in zip(media, films, strict=True)]
            if isinstance(area.preshade, GreysGiven):
                greys_sheen = self._seen_share(np.full(len(z[rows]), area.preshade.sheen), z[rows])
                below = self._given_greys(area.preshade, greys_sheen, z[rows], spots[rows])
                sheen = np.broadcast_to(greys_sheen[:, np.newaxis, np.newaxis], sheen.shape)
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
                    whole = sheen.copy()
                    whole[:, :, here] = surface.blended_sheen(
                        whole[:, :, here], coat_sheen=gloss[rows], thickness_um=mean
                    )
                    sheen = whole
                layers.append((below, sheen, weights))
            surfaces = None if air is None else cones.air_of(air, rows)
            sites = [cones.seen(b, sheen=s[..., np.newaxis, np.newaxis], air=surfaces) for b, s, _ in layers]
            blocks.append(
                np.stack(
                    [_average(seen, w, self.tones) for seen, (_, _, w) in zip(sites, layers, strict=True)],
                    axis=1,
                )
            )
            if first == 0:
                sheens = np.stack([(s[0] * w).sum(axis=1) for _, s, w in layers])
            if first <= even < first + step:
                mottles = np.stack(
                    [
                        _mottle(seen[even - first], w, viewing)
                        for seen, (_, _, w) in zip(sites, layers, strict=True)
                    ]
                )
        return np.concatenate(blocks), sheens, mottles

    def _primer(self, z: FloatArray) -> Admittance:
        K, S = self._paint_constants(self.area.ground, "ground", z)
        return cones.endless(cones.medium(K_per_um=K[_LIFT], S_per_um=S[_LIFT]))

    def _spots(self, z: FloatArray) -> FloatArray:
        """Return how coarse the pre-shade is, (row,): the film of a spot, µm, or how far greys are spots."""
        preshade = self.area.preshade
        if isinstance(preshade, GreysSprayed):
            # In quarters of a standard deviation: many draws then have the same spots to be counted.
            coarser = np.round(4.0 * self._own_deviate(("mist",), z)) / 4.0
            return np.asarray(preshade.spot_um * np.exp(modelerror.SPOTS * coarser))
        if isinstance(preshade, GreysGiven):
            return modelerror.spotted(preshade.spotted, self._own_deviate(modelerror.SPOTTED_KEY, z))
        return np.zeros(len(z))

    def _given_greys(
        self, preshade: GreysGiven, sheen: FloatArray, z: FloatArray, spotted: FloatArray
    ) -> Admittance:
        """Return what lies below given greys, axes (row, tone, 1, site, 31); one sheen and share a row."""
        Y = _luminance(self.shade + self.hand.greys * self._deviate(("greys",), z)[:, np.newaxis])
        air = self._air(z)
        k1 = np.full(len(z), surface.smooth_surface().k1) if air is None else np.ravel(air.k1)
        # No darker than the surface by itself, no lighter than all that comes back.
        # A perfect white sends back all that enters, and of what does not enter the sheen's share is seen.
        least, most = (
            end[:, np.newaxis, np.newaxis, np.newaxis, np.newaxis]
            for end in (k1 * sheen, 1.0 - k1 * (1.0 - sheen))
        )
        dark, light = (float(end) for end in _luminance(np.array([preshade.darkest, preshade.lightest])))
        sites = Y[:, :, np.newaxis]
        if self.spotty:
            apart = modelerror.spots(Y, dark=dark, light=light, sites=self.sites)[..., self.preshade_order]
            sites = sites + spotted[:, np.newaxis, np.newaxis] * (apart - sites)
        greys = np.repeat(sites[:, :, np.newaxis, :, np.newaxis], BANDS, axis=4)
        if preshade.tint:
            tint = modelerror.tint(preshade.tint, self._own_deviate(modelerror.TINT_KEY, z))
            tinted = modelerror.tinted(Y, tint[:, np.newaxis], dark=dark, light=light, viewing=_DAYLIGHT)
            greys = greys * tinted[:, :, np.newaxis, np.newaxis, :]
        each = sheen[:, np.newaxis, np.newaxis, np.newaxis, np.newaxis]
        return cones.ground_from_seen(np.clip(greys, least, most), sheen=each, air=air)

    def _medium(self, mix: Mix, step: int | str, z: FloatArray) -> cones.Medium:
        K, S = self._mix_constants(mix, step, z)
        return cones.medium(K_per_um=K[_LIFT], S_per_um=S[_LIFT])

    def _air(self, z: FloatArray) -> Air | None:
        """Return the surface with its doubt, axes (row, 1, 1, 1, 1); None where there is none."""
        if modelerror.INDEX_KEY not in self.column:
            return None
        index = modelerror.index(self._own_deviate(modelerror.INDEX_KEY, z))
        return cones.air(index=index[:, np.newaxis, np.newaxis, np.newaxis, np.newaxis])

    def _preshade_film(
        self, preshade: GreysSprayed, exposure: FloatArray, z: FloatArray, spots: FloatArray
    ) -> FloatArray:
        """Return the white's film with axes (row, tone, 1, site, 1), µm."""
        error = self._film_error("preshade", z)
        X = preshade.total_film_um * error[:, np.newaxis, np.newaxis] * exposure[:, np.newaxis]
        kinds, kind = np.unique(spots, return_inverse=True)
        # What varies from place to place and what single spots do are independent: their squares add.
        spread = np.hypot(
            self.preshade_spread,
            spray.spread_of_spots(
                spot_um=kinds[:, np.newaxis], film_um=max(preshade.total_film_um, _LEAST_FILM_UM)
            ),
        )
        thin = spray.spread_where_thin(spread=spread, share=exposure)
        sites = spray.site_films(spread=thin, sites=self.sites)[kind][..., self.preshade_order]
        X = X * self._joint("preshade", X, z)
        return np.asarray((X * sites)[:, :, np.newaxis, :, np.newaxis])

    def _coat_film(self, index: int, coat: Coat, share: FloatArray, z: FloatArray) -> FloatArray:
        """Return the coat's film with axes (row, tone or 1, 1, site, 1), µm."""
        error = self._film_error(index, z)
        X = coat.total_film_um * error[:, np.newaxis, np.newaxis]
        spread: FloatArray = np.asarray(self.coat_spreads[index])
        if coat.patch is None and not coat.where.everywhere:
            X = X * share[:, np.newaxis]
            spread = spray.spread_where_thin(spread=self.coat_spreads[index], share=share)
        X = X * self._joint(index, X, z)
        sites = spray.site_films(spread=spread, sites=self.sites)[..., self.coat_orders[index]]
        return np.asarray((X * sites)[:, :, np.newaxis, :, np.newaxis])

    def _joint(self, step: int | str, film_um: FloatArray, z: FloatArray) -> FloatArray | float:
        """Return what a film (row, tone, 1) is multiplied by for the model's error where films meet."""
        if not self.hand.model:
            return 1.0
        deviate = self._own_deviate(("model", step, "joint"), z)
        return modelerror.film_factor(film_um, deviate[:, np.newaxis, np.newaxis])

    def _preshade_sheen(self, preshade: GreysSprayed, exposure: FloatArray, z: FloatArray) -> FloatArray:
        """Return the sheen of the bare pre-shade, (row, tone)."""
        error = self._film_error("preshade", z)
        ground, own = (
            self._share_off(mix, z)[:, np.newaxis] for mix in (Mix(((self.area.ground, 1.0),)), preshade.mix)
        )
        return surface.blended_sheen(
            ground,
            coat_sheen=own,
            thickness_um=preshade.total_film_um * error[:, np.newaxis] * exposure,
        )

    def _coat_sheen(self, index: int, coat: Coat, z: FloatArray) -> FloatArray:
        """Return the sheen of a dry coat with axes (row, 1, 1)."""
        shares = self._dry_shares(coat.mix, (index,), z)
        return self._share_off(coat.mix, z, shares=shares, told=coat.sheen)[:, np.newaxis, np.newaxis]

    def _share_off(
        self, mix: Mix, z: FloatArray, *, shares: FloatArray | None = None, told: float | None = None
    ) -> FloatArray:
        """Return the share of the usual first reflection that is seen off a dry mix, shape (row,)."""
        if shares is None:
            dry = mixing.dry_shares(parts=mix.parts, volume_solids=mix.solids)
            shares = np.broadcast_to(dry, (len(z), len(dry)))
        surfaces = np.stack([self._paint_surface(paint, z) for paint, _ in mix.ingredients], axis=-1)
        own, first = np.einsum("ri,ari->ar", shares, surfaces)
        sheen = own if told is None else np.full_like(own, told)
        return np.asarray(self._seen_share(sheen, z) * first)

    def _paint_surface(self, paint: Paint, z: FloatArray) -> FloatArray:
        """Return a paint's own sheen, and its first reflection over the usual one, shape (2, row)."""
        sheen, first = np.full(len(z), paint.sheen), np.ones(len(z))
        for i, doubt in enumerate(paint.doubts):
            deviate = self._deviate(("paint", paint.name, i), z)
            sheen, first = sheen + deviate * doubt.sheen, first + deviate * doubt.first_reflection
        usual = surface.smooth_surface().k1
        return np.stack([np.clip(sheen, 0.0, 1.0), np.maximum(first, 0.0) * paint.first_reflection / usual])

    def _seen_share(self, sheen: FloatArray, z: FloatArray) -> FloatArray:
        """Return the share of a surface's reflection that is seen, its doubt counted in, shape (row,).

        How much is seen depends on the room and on the hand that holds the model, alike for all surfaces.
        """
        return np.clip(sheen + self.hand.satin * self._deviate(("satin",), z), 0.0, 1.0)

    def _dry_shares(self, mix: Mix, key: tuple[object, ...], z: FloatArray) -> FloatArray:
        """Return each ingredient's share of the dry mix, (row, ingredient)."""
        off = [
            np.exp(self.hand.parts * self._deviate(("parts", *key, i), z))
            for i in range(len(mix.ingredients))
        ]
        return mixing.dry_shares(parts=mix.parts * np.stack(off, axis=-1), volume_solids=mix.solids)

    def _mix_constants(self, mix: Mix, step: int | str, z: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return K and S of a mix, shape (row, 31)."""
        shares = self._dry_shares(mix, (step,), z)
        each = [self._paint_constants(paint, step, z) for paint, _ in mix.ingredients]
        K, S = (np.stack(constants, axis=1) for constants in zip(*each, strict=True))
        return np.einsum("ri,riw->rw", shares, K), np.einsum("ri,riw->rw", shares, S)

    def _paint_constants(self, paint: Paint, step: int | str, z: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return K and S of one paint in one step with its doubts and the model's, shape (row, 31)."""
        log_K, log_S = np.zeros((2, len(z), paint.K_per_um.size))
        for i, doubt in enumerate(paint.doubts):
            deviate = self._deviate(("paint", paint.name, i), z)[:, np.newaxis]
            log_K = log_K + deviate * doubt.log_K
            log_S = log_S + deviate * doubt.log_S
        if self.hand.model:
            for key, shift in modelerror.film_shifts(self.area, step, paint):
                deviate = self._own_deviate(key, z)[:, np.newaxis]
                log_K, log_S = log_K + deviate * shift[0], log_S + deviate * shift[1]
        return paint.K_per_um * np.exp(log_K), paint.S_per_um * np.exp(log_S)

    def _film_error(self, step: int | str, z: FloatArray) -> FloatArray:
        """Return by how much a step's film is off: its own session's error, and the sprayer's, (row,)."""
        log = self.hand.film * self._deviate(("film", step), z)
        preshade = self.area.preshade
        laid = preshade if step == "preshade" else self.area.coats[int(step)]
        if takes_own_film(laid):
            log = log + own_film(self.scheme.batch.sprayer).error * self._deviate(("own film",), z)
        return np.asarray(np.exp(log))

    def _own_deviate(self, key: tuple[object, ...], z: FloatArray) -> FloatArray:
        """Return a deviate of the film model's own errors, as far as they count."""
        return self.hand.model * self._deviate(key, z)

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
    if hand.satin:
        finish = _finish_sheen(area)
        factors["satin",] = Factor(
            ("satin",),
            "how much of the finish's reflection is seen",
            "spray a chip and set its sheen",
            towards=1.0 if finish <= 0.5 else -1.0,
            room=min(finish, 1.0 - finish) / hand.satin,
        )
    if isinstance(area.preshade, GreysGiven) and hand.greys:
        add(("greys",), "greys of the pre-shade", "photograph the pre-shade beside a grey card")
    if isinstance(area.preshade, GreysSprayed):
        add_mix(area.preshade.mix, ("preshade",), "pre-shade")
        if hand.film:
            add(("film", "preshade"), "film of the pre-shade", "spray a test strip and compare")
        if hand.model and area.preshade.spot_um:
            add(("mist",), "how coarse the pre-shade's mist is", "look at it through a loupe: set drops_um")
    for index, coat in enumerate(area.coats):
        add_mix(coat.mix, (index,), coat.name)
        if hand.film and coat.total_film_um > 0.0:
            add(("film", index), f'film of "{coat.name}"', f'spray a test strip of "{coat.name}"')
    return list(factors.values())


def _finish_sheen(area: Area) -> float:
    """Return the sheen of what lies on top."""
    over_all = [coat for coat in area.coats if coat.patch is None and coat.total_film_um > 0.0]
    if over_all:
        return over_all[-1].dry_sheen
    preshade = area.preshade
    if preshade is None:
        return area.ground.sheen
    return preshade.sheen if isinstance(preshade, GreysGiven) else preshade.mix.sheen


def _sprayer_factors(scheme: Scheme, area: Area) -> list[Factor]:
    """Return the doubt that all films of the sprayer's own share."""
    sprayer = scheme.batch.sprayer
    if not own_film(sprayer).error or not any(takes_own_film(s) for s in (area.preshade, *area.coats)):
        return []
    if sprayer is None or sprayer.film_factor is None:
        what = "how thick your sprayer lays its films, of which nobody knows"
        return [Factor(("own film",), what, "log measured chips, then: layersim log SCHEME learn")]
    return [Factor(("own film",), f"own film of {sprayer.name}", "log more measured chips of this sprayer")]


def _model_factors(area: Area, hand: Hand) -> list[Factor]:
    """Return the film model's own errors: many deviates, and one cause together."""
    if not hand.model:
        return []
    return [Factor(key, modelerror.CAUSE, modelerror.ADVICE) for key in modelerror.keys(area)]


def _luminance(lightness: FloatArray) -> FloatArray:
    """Return Y over that of white for neutral greys of some L*."""
    neutral = np.stack([lightness, np.zeros_like(lightness), np.zeros_like(lightness)], axis=-1)
    return colour.xyz_from_lab(neutral, np.ones(3))[..., 1]


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
