"""The two-cone film: laws, limits, its own differential equations, and radiative transfer."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layersim import colour
from layersim.optics import cones, surface
from tests.judge import radiative_transfer as judge
from tests.oracle.two_fluxes import film, opaque_reflectance, over_ground

constant = st.floats(0.0, 5.0)
film_um = st.floats(0.0, 50.0)
ground = st.floats(0.0, 1.0)


def over(K, S, X, rho, sheen=0.0):
    paint = cones.medium(K_per_um=K, S_per_um=S)
    return float(cones.seen(cones.lay(paint, thickness_um=X, over=cones.even_ground(rho)), sheen=sheen))


def by_matrix_exponential(K, S, X, rho):
    """The transfer equations (D2) to (D4) as they stand, solved by one matrix exponential."""
    from scipy.linalg import expm

    z = cones.directions()
    D = np.diag(np.sqrt(z.paths))
    q, m = np.array(z.even), np.array(z.odd)
    a, sigma = K / 2.0, z.scattering_per_S * S
    M = D @ (a * np.eye(2) + sigma * (1.0 - z.chi2) * np.outer(q, q)) @ D
    P = D @ ((a + sigma) * np.eye(2) - sigma * z.chi1 * np.outer(m, m)) @ D
    zero = np.zeros((2, 2))
    up = expm(np.block([[zero, P], [M, zero]]) * X)  # from depth X to the top
    root = np.sqrt(np.array(z.shares))
    Y = np.eye(2) - 2.0 * rho / (1.0 + rho) * np.outer(root, root)
    Y = (up[2:, :2] + up[2:, 2:] @ Y) @ np.linalg.inv(up[:2, :2] + up[:2, 2:] @ Y)
    y = Y[0, 0] - Y[0, 1] ** 2 / Y[1, 1]
    inside = (1.0 - y) / (1.0 + y)
    return (1.0 - z.k1) * (1.0 - z.r1) * inside / (1.0 - z.r1 * inside)


@pytest.mark.parametrize("K", [0.001, 0.1, 1.0])
@pytest.mark.parametrize("S", [0.0, 0.01, 0.5])
@pytest.mark.parametrize("X", [0.1, 2.0, 6.0])
@pytest.mark.parametrize("rho", [0.0, 0.4, 0.95])
def test_film_solves_its_own_equations(K, S, X, rho):
    assert over(K, S, X, rho) == pytest.approx(by_matrix_exponential(K, S, X, rho), abs=1e-10)


def test_shares_and_paths_are_those_of_even_light():
    z = cones.directions()
    assert sum(z.shares) == pytest.approx(1.0, abs=1e-15)
    assert z.shares[0] == pytest.approx(1.0 / 1.5**2, abs=1e-15)  # what Fresnel's cone lets out
    # Kubelka and Munk's mean path of diffuse light is twice the depth.
    assert np.dot(z.shares, z.paths) == pytest.approx(2.0, abs=1e-14)


@given(rho=ground, sheen=st.floats(0.0, 1.0))
def test_even_ground_without_films_is_saunderson(rho, sheen):
    # Trapped light that is evenly scattered anew is what k2 stands for. The cone's own share of k2 is
    # averaged here, so the two agree to rounding.
    seen = cones.seen(cones.even_ground(rho), sheen=sheen)
    assert float(seen) == pytest.approx(float(surface.seen(rho, sheen=sheen)), abs=1e-12)


@given(K=constant, S=constant, rho=ground)
def test_no_film_changes_nothing(K, S, rho):
    assert over(K, S, 0.0, rho) == pytest.approx(
        float(cones.seen(cones.even_ground(rho), sheen=0.0)), abs=1e-12
    )


@given(S=constant, X=film_um)
def test_lossless_film_over_perfect_white_returns_everything(S, X):
    assert over(0.0, S, X, 1.0, sheen=1.0) == pytest.approx(1.0, abs=1e-9)


@given(K=constant, S=constant, X=film_um, rho=ground, part=st.floats(0.0, 1.0))
def test_parts_of_a_film_are_the_whole(K, S, X, rho, part):
    paint = cones.medium(K_per_um=K, S_per_um=S)
    lower = cones.lay(paint, thickness_um=X * part, over=cones.even_ground(rho))
    both = cones.lay(paint, thickness_um=X * (1.0 - part), over=lower)
    assert float(cones.seen(both, sheen=0.0)) == pytest.approx(over(K, S, X, rho), abs=1e-10)


@given(K=st.floats(0.001, 5.0), S=constant, rho=ground)
def test_endless_film_is_the_opaque_one(K, S, rho):
    opaque = float(cones.seen(cones.endless(cones.medium(K_per_um=K, S_per_um=S)), sheen=0.0))
    assert over(K, S, np.inf, rho) == pytest.approx(opaque, abs=1e-12)
    assert over(K, S, 1e6, rho) == pytest.approx(opaque, abs=1e-9)


@given(K=constant, S=constant, X=film_um, rho=ground)
def test_what_is_seen_is_finite_and_within_bounds(K, S, X, rho):
    assert -1e-12 <= over(K, S, X, rho) <= 0.96 + 1e-9


@given(K=constant, S=constant, X=film_um, rho=ground)
def test_more_absorption_is_darker_and_lighter_ground_lighter(K, S, X, rho):
    here = over(K, S, X, rho)
    assert over(K + 0.1, S, X, rho) <= here + 1e-12
    assert over(K, S, X, min(1.0, rho + 0.1)) >= here - 1e-12


@given(S=constant, X=film_um)
def test_more_scattering_over_black_is_lighter(S, X):
    assert over(0.1, S + 0.1, X, 0.0) >= over(0.1, S, X, 0.0) - 1e-12


def test_extremes_are_finite():
    tiny, huge = 1e-300, 1e3
    for K in (0.0, tiny, huge):
        for S in (0.0, tiny, huge):
            for X in (0.0, tiny, 1e12, np.inf):
                for rho in (0.0, 1.0):
                    assert np.isfinite(over(K, S, X, rho)), (K, S, X, rho)


def test_order_of_two_coats_matters():
    white, ink = cones.medium(K_per_um=0.001, S_per_um=0.3), cones.medium(K_per_um=0.3, S_per_um=0.0)
    black = cones.even_ground(0.0)

    def both(lower, upper):
        return float(
            cones.seen(
                cones.lay(upper, thickness_um=2.0, over=cones.lay(lower, thickness_um=2.0, over=black)),
                sheen=0.0,
            )
        )

    assert both(ink, white) > 1.5 * both(white, ink)


@given(R=st.floats(0.0, 0.95), sheen=st.floats(0.0, 1.0))
def test_ground_from_seen_is_the_inverse_of_seen(R, sheen):
    seen = R + sheen * cones.directions().k1 * (1.0 - R)
    again = cones.seen(cones.ground_from_seen(seen, sheen=sheen), sheen=sheen)
    assert float(again) == pytest.approx(seen, abs=1e-12)


@pytest.mark.parametrize("X", [-1.0, np.nan])
def test_bad_thickness_is_refused(X):
    with pytest.raises(ValueError, match="thickness_um"):
        over(0.1, 0.1, X, 0.5)


@pytest.mark.parametrize("name", ["K_per_um", "S_per_um"])
@pytest.mark.parametrize("value", [-0.1, np.nan, np.inf])
def test_bad_constants_are_refused(name, value):
    constants = {"K_per_um": 0.1, "S_per_um": 0.1, name: value}
    with pytest.raises(ValueError, match=name):
        cones.medium(**constants)


def stacks(rng, pigments, count):
    """Random stacks of four films over the judge's preshade, as (films for the judge, their constants)."""
    white = pigments["titanium white"] if "titanium white" in pigments else next(iter(pigments.values()))
    others = [p for p in pigments.values() if p is not white]
    for _ in range(count):
        chosen = [others[i] for i in rng.integers(len(others), size=4)]
        yield white, chosen, rng.uniform(0.5, 6.0, size=4)


@pytest.mark.parametrize("pigments", [judge.TUNING, judge.HELD_OUT], ids=["tuning", "held-out"])
def test_nearer_to_radiative_transfer_than_two_fluxes(pigments):
    """K = 2 μa and S = ¾ μs (1 − g) put straight into both models; no fit that could hide an error."""
    view, errors = colour.Viewing(), {"cones": [], "fluxes": []}
    black = judge.TUNING["carbon black"]
    for white, chosen, X in stacks(np.random.default_rng(5), pigments, 8):
        tones = judge.PRESHADE_UM
        films = [judge.Film(white, tones), *(judge.Film(p, x) for p, x in zip(chosen, X, strict=True))]
        truth = colour.lab(judge.render(films, ground=judge.opaque(black)), view)
        K, S = black.kubelka_munk_per_um()
        below = cones.endless(cones.medium(K_per_um=K, S_per_um=S))
        R = opaque_reflectance(K_per_um=K, S_per_um=S)
        layers = [(white, np.asarray(tones)[:, np.newaxis]), *zip(chosen, X, strict=True)]
        for paint, thickness in layers:
            K, S = paint.kubelka_munk_per_um()
            medium = cones.medium(K_per_um=K, S_per_um=S)
            below = cones.lay(medium, thickness_um=thickness, over=below)
            R = over_ground(film(K_per_um=K, S_per_um=S, thickness_um=thickness), R)
        for name, seen in (("cones", cones.seen(below, sheen=0.0)), ("fluxes", surface.seen(R, sheen=0.0))):
            errors[name].append(colour.delta_e_2000(colour.lab(seen, view), truth))
    cone, flux = np.concatenate(errors["cones"]), np.concatenate(errors["fluxes"])
    assert cone.mean() < 1.0
    assert cone.max() < 3.5
    assert cone.mean() < flux.mean() / 4.0
