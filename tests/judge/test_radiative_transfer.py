"""The judge against published values, against limits, and against `iadpython` itself."""

from __future__ import annotations

import iadpython
import numpy as np
import pytest

from tests.judge.radiative_transfer import (
    HELD_OUT,
    PRESHADE_UM,
    TUNING,
    WAVELENGTHS_NM,
    Film,
    FloatArray,
    Geometry,
    Pigmentation,
    Quadrature,
    add,
    emergent_reflectance,
    film_operators,
    lambertian,
    layer_operators,
    mix,
    opaque,
    preshade,
    quadrature,
    render,
    stack_operator,
)

# Mean Fresnel reflection at n = 1.5 of diffuse light from inside (Prahl 1988, thesis, table B.4).
INTERNAL_DIFFUSE = 0.596346
FLAT = np.ones(WAVELENGTHS_NM.size)


def flux(operator: FloatArray, directions: Quadrature) -> FloatArray:
    """Flux sent by unit flux along each cosine, (..., q)."""
    root = np.sqrt(directions.flux_weights)
    sent: FloatArray = (root @ operator) / root
    return sent


def grey(mu_a_per_um: float, mu_s_per_um: float, g: float) -> Pigmentation:
    return Pigmentation("grey", mu_a_per_um * FLAT, mu_s_per_um * FLAT, g)


# --- published values --------------------------------------------------------------------


def test_slab_of_van_de_hulst_at_normal_incidence() -> None:
    # van de Hulst 1980, Multiple Light Scattering (table number not checked): matched surfaces,
    # a = .9, b = 2, g = .75
    directions = quadrature(refractive_index=1.0)
    reflection, transmission = layer_operators(
        albedo=0.9, optical_depth=2.0, anisotropy=0.75, directions=directions
    )
    assert flux(reflection, directions)[-1] == pytest.approx(0.09739, abs=1e-5)
    assert flux(transmission, directions)[-1] == pytest.approx(0.66096, abs=1e-5)


def test_slab_of_van_de_hulst_at_sixty_degrees() -> None:
    # van de Hulst 1980: isotropic, a = .99, b = 1, cosine of incidence .5
    directions = quadrature(refractive_index=1.0, incident_cosine=0.5)
    entering = int(np.argmin(np.abs(directions.cosines - 0.5)))
    assert directions.cosines[entering] == pytest.approx(0.5, abs=1e-12)
    reflection, transmission = layer_operators(
        albedo=0.99, optical_depth=1.0, anisotropy=0.0, directions=directions
    )
    assert flux(reflection, directions)[entering] == pytest.approx(0.48652, abs=1e-5)
    assert flux(transmission, directions)[entering] == pytest.approx(0.49163, abs=1e-5)


def test_endless_isotropic_medium_of_giovanelli() -> None:
    # Giovanelli 1955, Optica Acta 2:153 (page from memory): a = .9, n = 1.5, normal incidence, total
    # reflection
    total = emergent_reflectance(opaque(grey(0.1, 0.9, 0.0)), geometry="collimated_included")
    assert total == pytest.approx(0.2600, abs=1e-4)


# --- equality with iadpython ---------------------------------------------------------------


@pytest.mark.parametrize("seed", range(12))
def test_stacks_equal_those_of_iadpython(seed: int) -> None:
    # Its layers are listed bottom first. The bottom one is a thick absorber, which is the ideal
    # black: then the air surface it puts below everything is out of sight.
    rng = np.random.default_rng(seed)
    mu_a = rng.uniform(0.0, 0.3, 3)
    mu_s = rng.uniform(0.02, 0.9, 3)
    thickness = rng.uniform(1.0, 20.0, 3)
    g = rng.uniform(0.0, 0.9, 3)
    mu_t = mu_a + mu_s
    theirs = iadpython.Sample(
        a=np.append(0.0, mu_s / mu_t),
        b=np.append(100.0, mu_t * thickness),
        g=np.append(0.0, g),
        n=1.5,
        quad_pts=16,
    )
    reflection, _, transmission, _ = theirs.rt_matrices()
    collimated, _, diffuse, _ = theirs.UX1_and_UXU(reflection, transmission)

    directions = quadrature(points=16)
    films = [Film(grey(*values), x) for *values, x in zip(mu_a, mu_s, g, thickness, strict=True)]
    ours = [
        render(films, geometry=geometry, directions=directions)[0]
        for geometry in ("collimated_included", "diffuse_included")
    ]
    assert ours == pytest.approx([collimated, diffuse], abs=1e-6)


@pytest.mark.parametrize("optical_depth", [0.02, 0.5, 7.0])
@pytest.mark.parametrize("anisotropy", [0.0, 0.8])
def test_single_layers_are_the_limit_of_doubling(optical_depth: float, anisotropy: float) -> None:
    # iadpython doubles from a thin start whose error falls as its thickness squared; from a
    # start 64 times as thin as it would choose, every ray agrees, the grazing ones included.
    directions = quadrature(points=16)
    sample = iadpython.Sample(a=0.8, b=optical_depth, g=anisotropy, n=1.5, quad_pts=16)
    sample.update_quadrature()
    sample.b_thinnest = iadpython.starting_thickness(sample) / 64
    doubled = iadpython.combine.double_until(
        sample, *iadpython.diamond(sample), sample.b_thinnest, sample.b_delta_M()
    )
    ours = layer_operators(
        albedo=0.8, optical_depth=optical_depth, anisotropy=anisotropy, directions=directions
    )
    for operator, matrix in zip(ours, doubled, strict=True):
        theirs = directions.flux_weights @ matrix
        np.testing.assert_allclose(flux(operator, directions), theirs, atol=2e-6)


def test_adding_equals_that_of_iadpython() -> None:
    directions = quadrature(points=16)
    sample = iadpython.Sample(n=1.5, quad_pts=16)
    sample.update_quadrature()
    root = np.sqrt(directions.flux_weights)
    scale = np.outer(root, root)
    below = layer_operators(albedo=0.95, optical_depth=3.0, anisotropy=0.6, directions=directions)
    above = layer_operators(albedo=0.4, optical_depth=0.7, anisotropy=0.2, directions=directions)
    r_above, t_above, r_below, t_below = (part / scale for part in (*above, *below))
    seen_from_above, *_ = iadpython.add_layers(
        sample, r_above, r_above, t_above, t_above, r_below, r_below, t_below, t_below
    )
    np.testing.assert_allclose(add(below[0], above), seen_from_above * scale, atol=1e-12)


# --- what must hold ------------------------------------------------------------------------


@pytest.mark.parametrize("optical_depth", [1e-6, 0.3, 5.0, 1000.0])
def test_a_lossless_film_conserves_energy(optical_depth: float) -> None:
    directions = quadrature()
    reflection, transmission = layer_operators(
        albedo=1.0, optical_depth=optical_depth, anisotropy=[0.0, 0.5, 0.9], directions=directions
    )
    np.testing.assert_allclose(flux(reflection + transmission, directions), 1.0, atol=1e-9)


@pytest.mark.parametrize("geometry", ["collimated_included", "diffuse_included"])
def test_all_light_returns_from_lossless_films_over_a_perfect_white(geometry: Geometry) -> None:
    film = Film(grey(0.0, 0.5, 0.6), (0.5, 5.0, 50.0))
    np.testing.assert_allclose(render([film], ground=lambertian(1.0), geometry=geometry), 1.0, atol=1e-8)


def test_an_absorber_that_does_not_scatter_obeys_beer() -> None:
    directions = quadrature()
    reflection, transmission = layer_operators(
        albedo=0.0, optical_depth=1.3, anisotropy=0.0, directions=directions
    )
    expected = np.diag(np.exp(-1.3 / directions.cosines))
    np.testing.assert_allclose(reflection, 0.0, atol=1e-12)
    np.testing.assert_allclose(transmission, expected, atol=1e-12)


def test_no_thickness_is_no_film() -> None:
    reflection, transmission = film_operators(TUNING["iron oxide red"], 0.0)
    np.testing.assert_allclose(reflection, 0.0, atol=1e-14)
    np.testing.assert_allclose(
        transmission, np.broadcast_to(np.eye(quadrature().cosines.size), transmission.shape), atol=1e-14
    )


def test_a_film_equals_its_parts_laid_one_on_another() -> None:
    red = TUNING["iron oxide red"]
    ground = lambertian(0.7)
    whole = stack_operator([Film(red, 9.0)], ground=ground)
    halves = stack_operator([Film(red, 4.5), Film(red, 4.5)], ground=ground)
    uneven = stack_operator([Film(red, 0.4), Film(red, 8.6)], ground=ground)
    np.testing.assert_allclose(halves, whole, atol=1e-11)
    np.testing.assert_allclose(uneven, whole, atol=1e-11)


def test_a_very_thick_film_is_the_endless_one() -> None:
    for name in ("titanium white", "ultramarine", "carbon black"):
        thick, _ = film_operators(TUNING[name], 1e5)
        np.testing.assert_allclose(thick, opaque(TUNING[name]), atol=1e-9)


def test_the_last_film_is_on_top() -> None:
    black, white = TUNING["carbon black"], TUNING["titanium white"]
    white_on_top = render([Film(black, 30.0), Film(white, 30.0)])
    black_on_top = render([Film(white, 30.0), Film(black, 30.0)])
    assert np.all(white_on_top[5:] > 0.6)
    assert np.all(black_on_top < 0.01)


def test_stacks_are_reciprocal() -> None:
    stack = stack_operator(
        [preshade(), Film(HELD_OUT["pyrrole red"], 4.0), Film(TUNING["matt varnish"], 8.0)]
    )
    np.testing.assert_allclose(stack, np.swapaxes(stack, -1, -2), atol=1e-12)


# --- the surface and the geometries --------------------------------------------------------


@pytest.mark.parametrize("internal", [0.1, 0.5, 0.8])
def test_an_even_ground_shows_as_saunderson_says(internal: float) -> None:
    # Saunderson 1942 is exact for an internal field that is even. What is left is the error of
    # 24 cosines in the mean internal reflection.
    expected = (1 - 0.04) * (1 - INTERNAL_DIFFUSE) * internal / (1 - INTERNAL_DIFFUSE * internal)
    excluded = render([], ground=lambertian(internal))
    included = render([], ground=lambertian(internal), geometry="collimated_included")
    np.testing.assert_allclose(excluded, expected, atol=2e-4)
    np.testing.assert_allclose(included - excluded, 0.04, atol=1e-15)


def test_an_even_ground_at_45_0_is_a_reflectance_factor() -> None:
    # T(0) T(45) rho / (n^2 (1 - k2 rho)), the transmissions by Fresnel's equations; 45 degrees
    # refracts to 28.1255 degrees at n = 1.5
    refracted = np.arcsin(np.sin(np.pi / 4) / 1.5)
    s = (np.sin(np.pi / 4 - refracted) / np.sin(np.pi / 4 + refracted)) ** 2
    p = (np.tan(np.pi / 4 - refracted) / np.tan(np.pi / 4 + refracted)) ** 2
    expected = 0.96 * (1 - (s + p) / 2) * 0.5 / (1.5**2 * (1 - 0.5 * INTERNAL_DIFFUSE))
    np.testing.assert_allclose(render([], ground=lambertian(0.5), geometry="45_0"), expected, rtol=1e-4)


def test_first_surface_reflection_of_diffuse_light() -> None:
    # Walsh 1926: .091778 at n = 1.5; over an ideal black nothing else is seen
    np.testing.assert_allclose(render([], geometry="diffuse_included"), 0.091778, atol=4e-4)
    np.testing.assert_allclose(render([], geometry="diffuse_excluded"), 0.0, atol=1e-15)


@pytest.mark.parametrize("geometry", ["collimated_excluded", "45_0", "diffuse_excluded"])
def test_more_cosines_change_nothing_that_matters(geometry: Geometry) -> None:
    films = [preshade(), Film(HELD_OUT["phthalo blue"], 3.0), Film(HELD_OUT["sepia wash"], 5.0)]
    finer = render(films, geometry=geometry, directions=quadrature(points=40))
    np.testing.assert_allclose(render(films, geometry=geometry), finer, atol=2e-4)


def test_an_unknown_geometry_is_refused() -> None:
    with pytest.raises(ValueError, match="unknown geometry"):
        render([], geometry="sideways")  # type: ignore[arg-type]


# --- two fluxes ----------------------------------------------------------------------------


@pytest.mark.parametrize("albedo", [0.99, 0.999])
@pytest.mark.parametrize("optical_depth", [4.0, 16.0])
def test_two_fluxes_suffice_for_diffuse_light_on_a_weak_absorber(albedo: float, optical_depth: float) -> None:
    # Gate 1974: K = 2 mu_a, S = 3/4 mu_s (1 - g); Kubelka 1948 for the slab over black
    K, S = grey(1.0 - albedo, albedo, 0.0).kubelka_munk_per_um()
    c = np.sqrt(K * (K + 2 * S))
    t = np.tanh(c * optical_depth)
    two_flux = S * t / ((K + S) * t + c)
    directions = quadrature(refractive_index=1.0)
    reflection, _ = layer_operators(
        albedo=albedo, optical_depth=optical_depth, anisotropy=0.0, directions=directions
    )
    diffuse = flux(reflection, directions) @ directions.flux_weights
    np.testing.assert_allclose(two_flux, diffuse, atol=0.005)


# --- films, tones and pigments -------------------------------------------------------------


def test_tones_are_rendered_as_if_alone() -> None:
    coats = [Film(TUNING["azo yellow"], 3.0), Film(TUNING["blue ink"], 1.5)]
    together = render([preshade(), *coats])
    assert together.shape == (len(PRESHADE_UM), WAVELENGTHS_NM.size)
    for tone, thickness in enumerate(PRESHADE_UM):
        alone = render([Film(TUNING["titanium white"], thickness), *coats])
        np.testing.assert_allclose(together[tone], alone, atol=1e-13)


def test_the_preshade_climbs_from_near_black_to_light() -> None:
    green = render([preshade()])[:, list(WAVELENGTHS_NM).index(550.0)]
    assert np.all(np.diff(green) > 0)
    assert green[0] < 0.02
    assert green[-1] > 0.7


def test_half_the_pigment_at_twice_the_thickness_is_the_same_film() -> None:
    ochre = HELD_OUT["yellow ochre"]
    thinned = mix("thinned ochre", [(ochre, 0.5)])
    np.testing.assert_allclose(render([Film(thinned, 8.0)]), render([Film(ochre, 4.0)]), atol=1e-12)


def test_a_mixture_adds_absorption_and_reduced_scattering() -> None:
    white, blue = TUNING["titanium white"], TUNING["ultramarine"]
    mixed = mix("sky", [(white, 0.7), (blue, 0.3)])
    for of_mixture, of_white, of_blue in zip(
        mixed.kubelka_munk_per_um(), white.kubelka_munk_per_um(), blue.kubelka_munk_per_um(), strict=True
    ):
        np.testing.assert_allclose(of_mixture, 0.7 * of_white + 0.3 * of_blue, rtol=1e-12)


def test_pigments_are_many_and_the_sets_share_none() -> None:
    assert len(TUNING) + len(HELD_OUT) >= 14
    assert not set(TUNING) & set(HELD_OUT)
    for pigmentation in (*TUNING.values(), *HELD_OUT.values()):
        over_black = render([Film(pigmentation, 10.0)])
        over_white = render([Film(pigmentation, 10.0)], ground=lambertian(0.9))
        assert np.all((over_black >= 0.0) & (over_black <= over_white + 1e-12) & (over_white < 0.9))


@pytest.mark.parametrize(
    ("mu_a", "mu_s", "g", "message"),
    [
        (-0.1 * FLAT, FLAT, 0.0, "mu_a_per_um is negative"),
        (FLAT, np.nan * FLAT, 0.0, "mu_s_per_um is not finite"),
        (FLAT, FLAT, 1.0, "g must lie"),
        (FLAT[:5], FLAT, 0.0, "mu_a_per_um has shape"),
    ],
)
def test_impossible_pigmentations_are_refused(
    mu_a: FloatArray, mu_s: FloatArray, g: float, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        Pigmentation("impossible", mu_a, mu_s, g)


def test_impossible_films_and_mixtures_are_refused() -> None:
    white = TUNING["titanium white"]
    with pytest.raises(ValueError, match="thickness must be >= 0"):
        render([Film(white, -1.0)])
    with pytest.raises(ValueError, match="endless film"):
        opaque(grey(0.0, 0.0, 0.0))
    with pytest.raises(ValueError, match="sum to at most 1"):
        mix("too much", [(white, 0.8), (white, 0.4)])
