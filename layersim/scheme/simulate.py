"""From a scheme to its tones: every film laid over the one below, at every tone, with its range.

Arrays here run over (row, tone, patch, site, wavelength). Row 0 is the prediction; then come rows
in which everything uncertain varies at once (a Latin hypercube of normal deviates), which give
the range; then rows in which one thing alone is off by a standard deviation, which tell what
matters most. Patches are the parts of the area under local effects, sites the places between
which a sprayed film varies.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np

from layersim import colour
from layersim.errors import SchemeError
from layersim.optics import mixing, spray, surface
from layersim.optics.film import Film, film, opaque_reflectance
from layersim.optics.stack import over_ground
from layersim.paint import Paint
from layersim.scheme.prediction import COVERED, AreaPrediction, Cause, Prediction, Stage
from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Hand, Mix, Scheme
from layersim.spectra import FloatArray

SITES: Final = 16
DRAWS: Final = 64
_AXIS_POINTS: Final = 129
_DAYLIGHT: Final = colour.Viewing()


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
        _AreaModel(scheme, area, tones=tones, sites=sites, seed=seed).predict(seen_under, draws, notices)
        for area in scheme.areas
    )
    return Prediction(scheme=scheme, viewing=seen_under, areas=areas, notices=tuple(dict.fromkeys(notices)))


@dataclass(frozen=True)
class _Factor:
    """One independent source of doubt: its key, cause and advice."""

    key: tuple[object, ...]
    what: str
    advice: str


class _AreaModel:
    """One area, ready to be worked out for any rows of normal deviates."""

    def __init__(self, scheme: Scheme, area: Area, *, tones: int, sites: int, seed: int) -> None:
        self.scheme, self.area, self.hand = scheme, area, scheme.hand
        self.tones, self.seed = tones, seed
        self.factors = _factors(area, scheme.hand)
        self.column = {factor.key: i for i, factor in enumerate(self.factors)}
        sprayed = isinstance(area.preshade, GreysSprayed)
        spreads = [c.spread / np.sqrt(c.coats) for c in area.coats]
        if isinstance(area.preshade, GreysSprayed):
            spreads.insert(0, area.preshade.spread / np.sqrt(area.preshade.passes))
        count = sites if any(spread > 0.0 for spread in spreads) else 1
        films = spray.independent_sites(spreads=tuple(spreads), sites=count, seed=seed)
        self.preshade_sites = films[0] if sprayed else np.ones(count)
        self.coat_sites = films[1:] if sprayed else films
        self.exposure, self.shade = self._axis()

    def predict(self, viewing: colour.Viewing, draws: int, notices: list[str]) -> AreaPrediction:
        """Return the area's prediction; add to `notices` what the user should know."""
        self._notice_missed_coats(notices)
        z = _deviates(len(self.factors), draws, self.seed)
        seen, sheen, mottle = self._stages(z, viewing)
        lab = colour.lab(seen, viewing)
        drawn = lab[1 : 1 + draws]
        tail = (1.0 - COVERED) / 2.0
        if draws:
            low, high = np.quantile(drawn, [tail, 1.0 - tail], axis=0)
            reach = np.quantile(colour.delta_e_2000(drawn, lab[0]), COVERED, axis=0)
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
            stages.append(
                Stage("pre-shade", f"{preshade.mix.words()}, {passes}, {preshade.total_film_um:.2g} µm dry")
            )
        return stages + [Stage(coat.name, coat.words(), coat.is_filter) for coat in self.area.coats]

    def _notice_missed_coats(self, notices: list[str]) -> None:
        for coat in self.area.coats:
            most = float(coat.where.film_share(self.shade).max())
            if most < 0.1:
                notices.append(
                    f'{self.area.name}: "{coat.name}" hardly lands anywhere: it goes {coat.where.words()}, '
                    f"and this shade axis runs from L* {self.shade[0]:.0f} to {self.shade[-1]:.0f}"
                )
        preshade = self.area.preshade
        if isinstance(preshade, GreysGiven):
            floor = colour.lab(np.full(31, surface.smooth_surface().k1 * preshade.sheen), _DAYLIGHT)[0]
            if preshade.darkest < floor:
                notices.append(
                    f"{self.area.name}: pre-shade greys from L* {preshade.darkest:g}: its surface reflects "
                    f"enough by itself to be no darker than L* {floor:.0f}, which is used instead"
                )

    def _axis(self) -> tuple[FloatArray, FloatArray]:
        """Return each tone's share of the full pre-shade film, and the lightness of its pre-shade."""
        preshade = self.area.preshade
        even = np.linspace(0.0, 1.0, self.tones)
        if preshade is None:
            return np.ones(self.tones), even * 100.0
        if isinstance(preshade, GreysGiven):
            return even, preshade.darkest + (preshade.lightest - preshade.darkest) * even
        exposure = np.linspace(preshade.reach, 1.0, _AXIS_POINTS)
        none = np.zeros((1, len(self.factors)))
        ground = opaque_reflectance(K_per_um=self.area.ground.K_per_um, S_per_um=self.area.ground.S_per_um)
        greys = over_ground(self._preshade_film(preshade, exposure, none), ground)
        seen = surface.seen(greys, sheen=self._preshade_sheen(preshade, exposure)[:, np.newaxis, np.newaxis])
        lightness = colour.lab(seen.mean(axis=-2)[0], _DAYLIGHT)[:, 0]
        if not (np.diff(lightness) > 0.0).all():
            where = self.scheme.path or self.scheme.name
            raise SchemeError(
                where,
                f'area "{self.area.name}", preshade: {preshade.mix.words()} does not lighten '
                f"{self.area.ground.name}; a pre-shade runs from dark to light",
            )
        shade = lightness[0] + (lightness[-1] - lightness[0]) * even
        return np.interp(shade, lightness, exposure), shade

    def _stages(self, z: FloatArray, viewing: colour.Viewing) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return reflectance (row, stage, tone, 31), sheen and mottle (stage, tone)."""
        area = self.area
        K, S = self._paint_constants(area.ground, z)
        primer = opaque_reflectance(K_per_um=K, S_per_um=S)
        shape = (len(z), self.tones, 1, len(self.preshade_sites), primer.shape[-1])
        R = np.broadcast_to(primer[:, np.newaxis, np.newaxis, np.newaxis], shape)
        sheen = np.full((self.tones, 1), area.ground.sheen)
        weights = np.ones((self.tones, 1))
        stages = [self._seen(R, sheen, weights, viewing)]
        preshade = area.preshade
        if isinstance(preshade, GreysGiven):
            lightness = self.shade + self.hand.greys * self._deviate(("greys",), z)[:, np.newaxis]
            Y = colour.xyz_from_lab(
                np.stack([lightness, 0.0 * lightness, 0.0 * lightness], axis=-1), np.ones(3)
            )
            grey = surface.internal_from_seen(np.clip(Y[..., 1], 0.0, 1.0), sheen=preshade.sheen)
            R = np.broadcast_to(np.clip(grey, 0.0, 1.0)[:, :, np.newaxis, np.newaxis, np.newaxis], shape)
            sheen = np.full_like(sheen, preshade.sheen)
            stages.append(self._seen(R, sheen, weights, viewing))
        elif preshade is not None:
            one = self._preshade_film(preshade, self.exposure, z)
            R = over_ground(one, primer[:, np.newaxis, np.newaxis])[:, :, np.newaxis]
            sheen = self._preshade_sheen(preshade, self.exposure)[:, np.newaxis]
            stages.append(self._seen(R, sheen, weights, viewing))
        under: dict[str, list[int]] = {}
        for index, coat in enumerate(area.coats):
            share = coat.where.film_share(self.shade)
            if coat.patch is not None and coat.patch not in under:
                # Split every patch so far into a part under the new one and a part beside it.
                covered = (coat.coverage * share)[:, np.newaxis]
                count = weights.shape[1]
                R = np.concatenate([R, R], axis=2)
                sheen = np.concatenate([sheen, sheen], axis=1)
                weights = np.concatenate([weights * (1.0 - covered), weights * covered], axis=1)
                for name, lying in under.items():
                    under[name] = lying + [i + count for i in lying]
                under[coat.patch] = list(range(count, 2 * count))
            one = self._coat_film(index, coat, share, z)
            here = slice(None) if coat.patch is None else np.array(under[coat.patch])
            laid = over_ground(one, R[:, :, here])
            if coat.patch is None:
                R = laid
            else:
                R = R.copy()
                R[:, :, here] = laid
            landed = coat.total_film_um * (share if coat.patch is None else np.ones_like(share))
            sheen = sheen.copy()
            sheen[:, here] = surface.blended_sheen(
                sheen[:, here], coat_sheen=coat.dry_sheen, thickness_um=landed[:, np.newaxis]
            )
            stages.append(self._seen(R, sheen, weights, viewing))
        seen, sheens, mottles = zip(*stages, strict=True)
        return np.stack(seen, axis=1), np.stack(sheens), np.stack(mottles)

    def _seen(
        self, R: FloatArray, sheen: FloatArray, weights: FloatArray, viewing: colour.Viewing
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return what the eye averages over sites and patches, the mean sheen, and the mottle."""
        sites = surface.seen(R, sheen=sheen[:, :, np.newaxis, np.newaxis])
        patches = sites.mean(axis=3)
        average = np.einsum("rtpw,tp->rtw", patches, weights)
        off = colour.delta_e_2000(
            colour.lab(sites[0], viewing), colour.lab(patches[0], viewing)[:, :, np.newaxis]
        )
        return average, (sheen * weights).sum(axis=1), (off.mean(axis=-1) * weights).sum(axis=1)

    def _preshade_film(self, preshade: GreysSprayed, exposure: FloatArray, z: FloatArray) -> Film:
        K, S = self._mix_constants(preshade.mix, ("preshade",), z)
        error = np.exp(self.hand.film * self._deviate(("film", "preshade"), z))
        X = preshade.total_film_um * error[:, np.newaxis, np.newaxis, np.newaxis]
        X = X * exposure[:, np.newaxis, np.newaxis] * self.preshade_sites[:, np.newaxis]
        return film(
            K_per_um=K[:, np.newaxis, np.newaxis], S_per_um=S[:, np.newaxis, np.newaxis], thickness_um=X
        )

    def _preshade_sheen(self, preshade: GreysSprayed, exposure: FloatArray) -> FloatArray:
        return surface.blended_sheen(
            self.area.ground.sheen,
            coat_sheen=preshade.mix.sheen,
            thickness_um=preshade.total_film_um * exposure,
        )

    def _coat_film(self, index: int, coat: Coat, share: FloatArray, z: FloatArray) -> Film:
        """Return the coat's film with axes (row, tone or 1, 1, site, 31)."""
        K, S = self._mix_constants(coat.mix, (index,), z)
        error = np.exp(self.hand.film * self._deviate(("film", index), z))
        X = coat.total_film_um * error[:, np.newaxis, np.newaxis, np.newaxis, np.newaxis]
        X = X * self.coat_sites[index][:, np.newaxis]
        if coat.patch is None and not coat.where.everywhere:
            X = X * share[:, np.newaxis, np.newaxis, np.newaxis]
        lift = (slice(None), np.newaxis, np.newaxis, np.newaxis)
        return film(K_per_um=K[lift], S_per_um=S[lift], thickness_um=X)

    def _mix_constants(
        self, mix: Mix, key: tuple[object, ...], z: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return K and S of a mix, shape (row, 31)."""
        off = [
            np.exp(self.hand.parts * self._deviate(("parts", *key, i), z))
            for i in range(len(mix.ingredients))
        ]
        shares = mixing.dry_shares(parts=mix.parts * np.stack(off, axis=-1), volume_solids=mix.solids)
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

    def _deviate(self, key: tuple[object, ...], z: FloatArray) -> FloatArray:
        column = self.column.get(key)
        return np.zeros(len(z)) if column is None else z[:, column]


def _factors(area: Area, hand: Hand) -> list[_Factor]:
    """Return everything about an area that is uncertain."""
    factors: dict[tuple[object, ...], _Factor] = {}

    def add(key: tuple[object, ...], what: str, advice: str) -> None:
        factors.setdefault(key, _Factor(key, what, advice))

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


def _deviates(factors: int, draws: int, seed: int) -> FloatArray:
    """Return rows of normal deviates: none, then a Latin hypercube, then each factor alone.

    M. D. McKay, R. J. Beckman and W. J. Conover, Technometrics 21 (1979) 239.
    """
    if not draws:
        return np.zeros((1, factors))
    normal = NormalDist()
    slices = np.array([normal.inv_cdf((i + 0.5) / draws) for i in range(draws)])
    # The slices' middles fall a little short of a normal's spread; this makes it whole again.
    slices = slices / np.sqrt((slices**2).mean()) if draws > 1 else slices
    shuffle = np.random.default_rng(seed + 1)
    together = np.array([shuffle.permutation(slices) for _ in range(factors)]).reshape(factors, draws).T
    return np.concatenate([np.zeros((1, factors)), together, np.eye(factors)])
