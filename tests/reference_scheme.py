"""A slow, literal oracle for schemes: one tone, one site, one patch and one band at a time.

It reads a scheme's records and lays film on film, and imports none of the package's physics: films
are matrix exponentials of the transfer equations in their two cones, opaque paints the modes that
decay, the axis is found by root finding, patches are counted out as subsets.
"""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from scipy.linalg import expm
from scipy.optimize import brentq
from scipy.stats import norm

from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Mix
from tests.reference import lightness, poisson_slices, seen_by_bounces

FloatArray = npt.NDArray[np.float64]

INDEX, FORWARD = 1.5, 0.43
ROUGH_UM = 1.0
# Mean cosines and shares of the solid angle of the escape cone and of the rest: one Gauss point each.
CRITICAL = math.sqrt(1.0 - 1.0 / INDEX**2)
MU = np.array([(1.0 + CRITICAL) / 2.0, CRITICAL / 2.0])
W = np.array([1.0 - CRITICAL, CRITICAL])
C = 2.0 * MU * W  # shares of the flux of even light
K1 = 0.04  # Fresnel at the normal, n = 1.5
K2 = 0.596346  # internal reflection of even light, n = 1.5 (Prahl 1988 gives .596)


@functools.lru_cache(maxsize=100_000)
def generator(K: float, S: float) -> FloatArray:
    """d/dx of (u₁, u₂, v₁, v₂): sums and differences of the fluxes down and up, each over √c.

    Written from the transfer equation µ dI/dx = −(a + σ) I + σ Σ p I w/2 in its two cones, the
    scattering function p cut to what its even part does to the one direction that conservation leaves
    open and its odd part to the other, by Henyey and Greenstein's moments less the forward peak.
    """
    a = K / 2.0
    peak = FORWARD**4
    odd, even = (FORWARD - peak) / (1.0 - peak), (FORWARD**2 - peak) / (1.0 - peak)
    sigma = 4.0 * float((W * MU**2).sum()) * S / (1.0 - odd)
    D = np.diag(np.sqrt(1.0 / MU))
    q = np.array([math.sqrt(W[1]), -math.sqrt(W[0])])
    m = MU * np.sqrt(W) / math.sqrt(float((W * MU**2).sum()))
    M = D @ (a * np.eye(2) + sigma * (1.0 - even) * np.outer(q, q)) @ D
    P = D @ ((a + sigma) * np.eye(2) - sigma * odd * np.outer(m, m)) @ D
    return np.block([[np.zeros((2, 2)), -P], [-M, np.zeros((2, 2))]])


@functools.lru_cache(maxsize=100_000)
def slab(K: float, S: float, X: float) -> tuple[FloatArray, int]:
    """Transfer matrix of a slab thin enough for its exponential, and how many of them make the film."""
    count = max(1, math.ceil(X * (K + S)))
    return expm(generator(K, S) * X / count), count


def laid(K: float, S: float, X: float, Y: FloatArray) -> FloatArray:
    """Admittance v = Y u on top of a film, from that below it: what goes in at the top comes out there."""
    through, count = slab(K, S, X)
    for _ in range(count):
        uu, uv, vu, vv = through[:2, :2], through[:2, 2:], through[2:, :2], through[2:, 2:]
        Y = np.linalg.solve(vv - Y @ uv, Y @ uu - vu)
    return Y


@functools.lru_cache(maxsize=10_000)
def opaque(K: float, S: float) -> tuple[tuple[float, float], ...]:
    """Admittance of an endless film: only what decays with depth is in it."""
    values, modes = np.linalg.eig(generator(K, S))
    decaying = modes[:, values.real < 0.0].real
    Y = decaying[2:] @ np.linalg.inv(decaying[:2])
    return tuple(tuple(row) for row in Y)


def even_ground(rho: float) -> FloatArray:
    """Admittance of a ground that sends a share back, evenly whatever came: (1 − R)(1 + R)⁻¹."""
    R = rho * np.sqrt(np.outer(C, C))
    return (np.eye(2) - R) @ np.linalg.inv(np.eye(2) + R)


def ground_that_looks(reflectance: float, sheen: float) -> FloatArray:
    def off(rho: float) -> float:
        return seen_by_bounces(rho, K1, K2, sheen, bounces=400) - reflectance

    return even_ground(brentq(off, 0.0, 0.9999, xtol=1e-12)) if off(0.0) < 0.0 else even_ground(0.0)


def seen(Y: FloatArray, sheen: float) -> float:
    """Trapped light is all turned back; the rest meets the surface, bounce by bounce."""
    y = float(Y[0, 0] - Y[0, 1] * Y[1, 0] / Y[1, 1])
    r1 = 1.0 - INDEX**2 * (1.0 - K2)
    return seen_by_bounces((1.0 - y) / (1.0 + y), K1, r1, sheen, bounces=400)


def mixed(mix: Mix) -> list[tuple[float, float]]:
    """K and S of a dry mix, band by band."""
    solids = [parts * paint.volume_solids for paint, parts in mix.ingredients]
    bands = []
    for band in range(31):
        K = sum(s * float(p.K_per_um[band]) for s, (p, _) in zip(solids, mix.ingredients, strict=True))
        S = sum(s * float(p.S_per_um[band]) for s, (p, _) in zip(solids, mix.ingredients, strict=True))
        bands.append((K / sum(solids), S / sum(solids)))
    return bands


def film_share(coat: Coat, shade: float) -> float:
    """Share of a coat's film at one lightness: a Gaussian edge, 90 % to 10 % over `edge`."""
    share = 1.0
    where = coat.where
    for bound, sign in ((where.lightest_from, 1.0), (where.darkest_up_to, -1.0)):
        if bound is None:
            continue
        inside = sign * (shade - bound)
        if where.edge == 0.0:
            share *= 1.0 if inside >= 0.0 else 0.0
        else:
            share *= float(norm.cdf(inside, scale=where.edge / (norm.ppf(0.9) - norm.ppf(0.1))))
    return share


def sheen_after(sheen: float, coat_sheen: float, film_um: float) -> float:
    return coat_sheen + (sheen - coat_sheen) * math.exp(-film_um / ROUGH_UM)


def dry_sheen(mix: Mix) -> float:
    solids = [parts * paint.volume_solids for paint, parts in mix.ingredients]
    gloss = [s * paint.sheen for s, (paint, _) in zip(solids, mix.ingredients, strict=True)]
    return sum(gloss) / sum(solids)


class AreaByHand:
    """One area, worked out as told.

    Parameters
    ----------
    area : Area
    tones : int
    sites : int
    seed : int
    bands : sequence of int
        Those to work out; the axis needs them all, and takes the first band of each step for the
        others in it, since the tests' spectra are steps.
    """

    def __init__(
        self, area: Area, *, tones: int, sites: int, seed: int = 0, bands: Sequence[int] = (0, 8, 16, 24)
    ) -> None:
        self.area, self.tones, self.bands = area, tones, bands
        self.spreads = [coat.spread / math.sqrt(coat.coats) for coat in area.coats]
        self.preshade_spread, spotted = 0.0, 0.0
        if isinstance(area.preshade, GreysSprayed):
            spot = area.preshade.spot_um / (area.preshade.passes * area.preshade.dry_film_um)
            self.preshade_spread = math.sqrt(area.preshade.spread**2 / area.preshade.passes + spot)
        elif isinstance(area.preshade, GreysGiven):
            spotted = area.preshade.spotted
        if not any(self.spreads) and not self.preshade_spread and not spotted:
            sites = 1
        shuffle = np.random.default_rng(seed)
        self.sites = sites
        self.preshade_order = shuffle.permutation(sites)
        self.coat_orders = [shuffle.permutation(sites) for _ in area.coats]
        self.shade, self.exposure = self._axis()

    def _axis(self) -> tuple[list[float], list[float]]:
        steps = [i / (self.tones - 1) for i in range(self.tones)]
        preshade = self.area.preshade
        if preshade is None:
            return [100.0 * step for step in steps], [1.0] * self.tones
        if isinstance(preshade, GreysGiven):
            return [preshade.darkest + (preshade.lightest - preshade.darkest) * s for s in steps], steps
        first, last = self._lightness(preshade.reach), self._lightness(1.0)
        shade = [first + (last - first) * step for step in steps]
        exposure = [preshade.reach]
        for wanted in shade[1:-1]:
            exposure.append(
                brentq(lambda e, L=wanted: self._lightness(e) - L, preshade.reach, 1.0, xtol=1e-4)
            )
        return shade, [*exposure, 1.0]

    def _lightness(self, exposure: float) -> float:
        """L* of the bare preshade under daylight, from the CIE's weights."""
        from layersim.colour import Viewing

        mean = [
            sum(
                seen(self._preshade(exposure, site, band), self._preshade_sheen(exposure)) for site in self._s
            )
            / self.sites
            for band in self.bands
        ]
        spectrum = np.repeat(mean, (8, 8, 8, 7))
        return float(lightness(np.array(spectrum @ Viewing().weights[:, 1] / 100.0)))

    @property
    def _s(self) -> range:
        return range(self.sites)

    def _preshade_sheen(self, exposure: float) -> float:
        preshade = self.area.preshade
        assert isinstance(preshade, GreysSprayed)
        film = preshade.passes * preshade.dry_film_um * exposure
        return sheen_after(self.area.ground.sheen, dry_sheen(preshade.mix), film)

    def _preshade(self, exposure: float, site: int, band: int) -> FloatArray:
        preshade, ground = self.area.preshade, self.area.ground
        Y = np.array(opaque(float(ground.K_per_um[band]), float(ground.S_per_um[band])))
        assert isinstance(preshade, GreysSprayed)
        spots = self._slices(self.preshade_spread, exposure)[self.preshade_order[site]]
        film = preshade.passes * preshade.dry_film_um * exposure * float(spots)
        return laid(*mixed(preshade.mix)[band], film, Y)

    @functools.lru_cache(maxsize=10_000)  # noqa: B019 - an oracle lives for one test
    def _slices(self, spread: float, share: float) -> FloatArray:
        """Films at the sites over the mean, where a share of the full film lies: fewer spots, counted."""
        if not spread or not share:
            return np.ones(self.sites)
        return poisson_slices(spread / math.sqrt(share), self.sites)

    def _grey(self, tone: int, site: int, band: int) -> float:
        """What a site of given greys looks like: between the even grey and a bare or a covered spot."""
        from layersim.colour import Viewing

        preshade = self.area.preshade
        assert isinstance(preshade, GreysGiven)
        L, rank = self.shade[tone], int(self.preshade_order[site])
        grey, dark, light = (_luminance(value) for value in (L, preshade.darkest, preshade.lightest))
        looks = grey
        if self.sites > 1:
            # The lightest sites are covered; the one across which the border runs is partly so.
            covered = [min(max(rank + 1 - (1.0 - (grey - dark) / (light - dark)) * self.sites, 0.0), 1.0)]
            looks = grey + preshade.spotted * (dark + (light - dark) * covered[0] - grey)
        at = (L - preshade.darkest) / (preshade.lightest - preshade.darkest)
        power = -4.0 * at * (1.0 - at) * preshade.tint
        spectrum = (np.arange(400.0, 701.0, 10.0) / 550.0) ** power
        own = Viewing().weights[:, 1]
        return float(looks * spectrum[band] * own.sum() / (spectrum @ own))

    def site(self, stage: int, tone: int, site: int, under: frozenset[str]) -> tuple[list[float], float]:
        """What is seen at one site of one tone under some patches, band by band, and the sheen there.

        `stage` counts the primer as 0, then the preshade if there is one, then the coats.
        """
        area = self.area
        preshade, left = area.preshade, stage
        rows = []
        sheen = area.ground.sheen
        for band in self.bands:
            sheen, left = area.ground.sheen, stage
            Y = np.array(opaque(float(area.ground.K_per_um[band]), float(area.ground.S_per_um[band])))
            if preshade is not None and left > 0:
                left -= 1
                if isinstance(preshade, GreysGiven):
                    Y = ground_that_looks(self._grey(tone, site, band), preshade.sheen)
                    sheen = preshade.sheen
                else:
                    Y = self._preshade(self.exposure[tone], site, band)
                    sheen = self._preshade_sheen(self.exposure[tone])
            for index, coat in enumerate(area.coats[:left]):
                if coat.patch is not None and coat.patch not in under:
                    continue
                share = 1.0 if coat.patch is not None else film_share(coat, self.shade[tone])
                film = coat.coats * coat.dry_film_um * share
                if coat.where.everywhere or coat.patch is not None:
                    share = 1.0
                films = self._slices(self.spreads[index], share)
                Y = laid(*mixed(coat.mix)[band], film * float(films[self.coat_orders[index][site]]), Y)
                sheen = sheen_after(sheen, dry_sheen(coat.mix) if coat.sheen is None else coat.sheen, film)
            rows.append(seen(Y, sheen))
        return rows, sheen

    def patches(self, stage: int, tone: int) -> list[tuple[frozenset[str], float]]:
        """Every set of patches that a place may lie under after a stage, and its share of the area."""
        coats = self.area.coats[: max(0, stage - (self.area.preshade is not None))]
        first: dict[str, float] = {}
        for coat in coats:
            if coat.patch is not None and coat.patch not in first:
                first[coat.patch] = coat.coverage * film_share(coat, self.shade[tone])
        found = []
        for count in range(len(first) + 1):
            for names in itertools.combinations(first, count):
                share = math.prod(c if name in names else 1.0 - c for name, c in first.items())
                found.append((frozenset(names), share))
        return found

    def tone(self, stage: int, tone: int) -> tuple[list[float], float]:
        """What the eye averages at a tone after a stage, band by band, and the mean sheen."""
        total, sheens = np.zeros(len(self.bands)), 0.0
        for under, share in self.patches(stage, tone):
            for site in self._s:
                row, sheen = self.site(stage, tone, site, under)
                total += np.array(row) * share / self.sites
                sheens += sheen * share / self.sites
        return total.tolist(), sheens

    def mottle(self, stage: int, tone: int) -> float:
        """Mean ΔE00 of the sites around their patch's mean, under daylight."""
        from layersim.colour import Viewing, delta_e_2000, lab

        total = 0.0
        for under, share in self.patches(stage, tone):
            rows = [self.site(stage, tone, site, under)[0] for site in self._s]
            spectra = [np.repeat(row, (8, 8, 8, 7)) for row in rows]
            mean = lab(np.mean(spectra, axis=0), Viewing())
            for spectrum in spectra:
                total += share * float(delta_e_2000(lab(spectrum, Viewing()), mean)) / self.sites
        return total


def _luminance(L: float) -> float:
    """Y/Yn of a lightness, by CIE 15's inverse, no darker than the bare surface (the caller sees to it)."""
    f = (L + 16.0) / 116.0
    return f**3 if f > 6.0 / 29.0 else 3.0 * (6.0 / 29.0) ** 2 * (f - 4.0 / 29.0)
