"""The painted surface: published tables, other ways to the same numbers, and laws."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layersim.optics.surface import (
    BINDER_INDEX,
    SHEEN_DEPTH_UM,
    SHEENS,
    Surface,
    blended_sheen,
    internal_from_seen,
    reflections,
    seen,
    smooth_surface,
)
from tests import reference
from tests.optics.ranges import LAW, SHARE, THICKNESS

INDEX = st.floats(1.01, 4.0)
SURFACE = st.builds(Surface, k1=st.floats(0.0, 0.3), k2=st.floats(0.0, 0.9))


def diffuse_reflection_outside(index: float) -> float:
    return float(reflections(index=index)[1])


def diffuse_reflection_inside(index: float) -> float:
    return smooth_surface(index).k2


class TestLiterature:
    # Normal: ((n − 1)/(n + 1))² exactly. Diffuse: computed by integration and by Walsh's closed form.
    TABLE = (
        (1.30, 0.017013, 0.061132, 0.444457),
        (1.33, 0.020059, 0.065931, 0.471949),
        (1.40, 0.027778, 0.076812, 0.528985),
        (1.50, 0.040000, 0.091778, 0.596346),
        (1.60, 0.053254, 0.106246, 0.650877),
    )

    @pytest.mark.parametrize(("n", "normal", "outside", "inside"), TABLE)
    def test_reflections(self, n: float, normal: float, outside: float, inside: float) -> None:
        assert smooth_surface(n).k1 == pytest.approx(normal, abs=5.1e-7)
        assert diffuse_reflection_outside(n) == pytest.approx(outside, abs=5.1e-7)
        assert diffuse_reflection_inside(n) == pytest.approx(inside, abs=5.1e-7)

    @pytest.mark.parametrize(
        ("ratio", "R1"),
        [
            (0.50, 0.161),
            (0.55, 0.137),
            (0.60, 0.116),
            (0.65, 0.097),
            (0.70, 0.081),
            (0.75, 0.066),
            (0.80, 0.053),
            (0.85, 0.040),
            (0.90, 0.027),
            (0.95, 0.015),
        ],
    )
    def test_prahl_outside(self, ratio: float, R1: float) -> None:
        # S. A. Prahl, Light transport in tissue (thesis, 1988), appendix B, table of Fresnel reflection
        # moments against nᵢ/nₜ, "accurate to 0.001 … identical to those of Orchard and Ryde" (seen).
        assert diffuse_reflection_outside(1.0 / ratio) == pytest.approx(R1, abs=0.001)

    @pytest.mark.parametrize(("n", "R1"), [(1.3, 0.444), (1.4, 0.529), (1.5, 0.596), (1.6, 0.651)])
    def test_prahl_inside(self, n: float, R1: float) -> None:
        assert diffuse_reflection_inside(n) == pytest.approx(R1, abs=0.001)  # the same table

    @pytest.mark.parametrize("n", [1.1, 1.2, 1.33, 1.4, 1.5])
    def test_egan_and_hilgeman_inside(self, n: float) -> None:
        # W. G. Egan and T. W. Hilgeman, Optical Properties of Inhomogeneous Materials (1979): a fit,
        # −1.440/n² + 0.710/n + 0.668 + 0.0636 n, good to some thousandths (seen in renderers' sources).
        assert diffuse_reflection_inside(n) == pytest.approx(
            -1.440 / n**2 + 0.710 / n + 0.668 + 0.0636 * n, abs=0.004
        )

    @pytest.mark.parametrize(
        ("internal", "expected"),
        [(0.0, 0.04), (0.1, 0.080851), (0.3, 0.180488), (0.5, 0.314286), (0.8, 0.630769), (1.0, 1.0)],
    )
    def test_saunderson(self, internal: float, expected: float) -> None:
        # J. L. Saunderson, J. Opt. Soc. Am. 32 (1942) 727, with the constants k₁ = 0.04, k₂ = 0.6 that
        # users of his correction take for n = 1.5. At ½: 0.04 + 0.96·0.4·0.5/0.7 = 0.3142857 exactly.
        surface = Surface(k1=0.04, k2=0.6)
        assert seen(internal, sheen=1.0, surface=surface) == pytest.approx(expected, abs=6e-7)

    def test_small_until_45_degrees(self) -> None:
        assert reference.fresnel_by_angles(math.radians(45.0), 1.5) == pytest.approx(0.0502, abs=5e-5)


class TestOtherWays:
    @pytest.mark.parametrize("n", [1.01, 1.2, 1.33, 1.5, 1.6, 2.0, 3.0])
    def test_integration(self, n: float) -> None:
        outside = reference.diffuse_reflection_by_quadrature(n)
        inside = reference.diffuse_reflection_by_quadrature(1.0 / n)
        assert diffuse_reflection_outside(n) == pytest.approx(outside, abs=1e-8)
        assert diffuse_reflection_inside(n) == pytest.approx(inside, abs=1e-8)

    @pytest.mark.parametrize("n", [1.05, 1.5, 1.9])
    def test_another_library(self, n: float) -> None:
        from iadpython import fresnel as theirs

        assert diffuse_reflection_outside(n) == pytest.approx(theirs.R1(1.0, n), rel=1e-11)
        assert diffuse_reflection_inside(n) == pytest.approx(theirs.R1(n, 1.0), rel=1e-11)
        assert smooth_surface(n).k1 == pytest.approx(theirs.fresnel_reflection(1.0, 1.0, n), rel=1e-11)

    @LAW
    @given(SHARE, SURFACE, SHARE)
    def test_bounce_by_bounce(self, internal: float, surface: Surface, sheen: float) -> None:
        slow = reference.seen_by_bounces(internal, surface.k1, surface.k2, sheen)
        assert seen(internal, sheen=sheen, surface=surface) == pytest.approx(slow, abs=1e-13)


class TestLaws:
    @LAW
    @given(st.floats(1.01, 9.0), st.floats(1e-3, 1.0))
    def test_a_greater_step_reflects_more(self, n: float, more: float) -> None:
        assert smooth_surface(n + more).k1 > smooth_surface(n).k1
        assert 0.0 < diffuse_reflection_outside(n) < diffuse_reflection_outside(n + more) < 1.0
        assert diffuse_reflection_inside(n) < diffuse_reflection_inside(n + more) < 1.0

    @pytest.mark.parametrize("index", [1.0, 0.9, 1.0 + 1e-9, 11.0, math.inf, math.nan])
    def test_no_binder(self, index: float) -> None:
        for function in (diffuse_reflection_outside, smooth_surface):
            with pytest.raises(ValueError, match="binder"):
                function(index)


class TestSeen:
    @LAW
    @given(SHARE, SHARE, SURFACE)
    def test_there_and_back(self, internal: float, sheen: float, surface: Surface) -> None:
        shown = seen(internal, sheen=sheen, surface=surface)
        assert internal_from_seen(shown, sheen=sheen, surface=surface) == pytest.approx(internal, abs=1e-12)

    @LAW
    @given(st.floats(0.0, 1.2), SHARE)
    def test_back_and_there(self, shown: float, sheen: float) -> None:
        # Beyond what any stack shows, too: a fit may pass through there.
        internal = internal_from_seen(shown, sheen=sheen)
        assert seen(internal, sheen=sheen) == pytest.approx(shown, abs=1e-12)

    @LAW
    @given(SHARE, SHARE, st.floats(0.0, 1.0), SURFACE)
    def test_monotone_and_within_the_light(
        self, internal: float, sheen: float, darker: float, surface: Surface
    ) -> None:
        shown = seen(internal, sheen=sheen, surface=surface)
        assert 0.0 <= shown <= 1.0 + 1e-15
        assert seen(internal * darker, sheen=sheen, surface=surface) <= shown + 1e-15

    @LAW
    @given(SURFACE)
    def test_ends(self, surface: Surface) -> None:
        assert seen(0.0, sheen=0.0, surface=surface) == 0.0
        assert seen(0.0, sheen=1.0, surface=surface) == surface.k1
        assert seen(1.0, sheen=1.0, surface=surface) == pytest.approx(1.0, abs=1e-14)  # all comes back
        assert seen(1.0, sheen=0.0, surface=surface) == pytest.approx(1.0 - surface.k1, abs=1e-14)

    def test_no_surface(self) -> None:
        assert seen(0.37, sheen=1.0, surface=Surface(k1=0.0, k2=0.0)) == 0.37

    @LAW
    @given(SHARE)
    def test_the_default_is_a_smooth_binder(self, internal: float) -> None:
        binder = Surface(k1=((BINDER_INDEX - 1) / (BINDER_INDEX + 1)) ** 2, k2=diffuse_reflection_inside(1.5))
        assert seen(internal, sheen=0.4) == pytest.approx(
            float(seen(internal, sheen=0.4, surface=binder)), rel=1e-14
        )
        assert smooth_surface() == smooth_surface(1.5)

    @LAW
    @given(st.floats(0.0, 0.99), st.floats(1e-3, 1.0))
    def test_matt_greys_and_dark_tones_move_most(self, dark: float, step: float) -> None:
        tones = np.array([dark, min(1.0, dark + step)])
        shown = {name: reference.lightness(seen(tones, sheen=SHEENS[name])) for name in SHEENS}
        moved = shown["matt"] - shown["gloss"]
        assert moved[1] > 0.0
        assert moved[0] >= moved[1] - 1e-12
        assert (shown["satin"] > shown["gloss"]).all()
        assert (shown["satin"] < shown["matt"]).all()

    def test_a_black_moves_by_more_than_twenty_and_a_white_by_less_than_two(self) -> None:
        # L* of 0.04 is 23.7 and of 0.002 is 1.8 (CIE 15: 116 · 0.04^⅓ − 16 and 903.3 · 0.002).
        tones = np.array([0.0, 1.0])
        matt = reference.lightness(seen(tones, sheen=SHEENS["matt"]))
        gloss = reference.lightness(seen(tones, sheen=SHEENS["gloss"]))
        assert matt == pytest.approx([23.67, 100.0], abs=0.01)
        assert gloss == pytest.approx([1.81, 98.52], abs=0.01)


class TestBlendedSheen:
    @LAW
    @given(SHARE, SHARE, THICKNESS, THICKNESS)
    def test_two_coats_alike_are_one_of_both_thicknesses(
        self, below: float, coat: float, first: float, second: float
    ) -> None:
        once = blended_sheen(below, coat_sheen=coat, thickness_um=first + second)
        twice = blended_sheen(
            blended_sheen(below, coat_sheen=coat, thickness_um=first), coat_sheen=coat, thickness_um=second
        )
        assert twice == pytest.approx(float(once), abs=1e-14)
        assert min(below, coat) - 1e-15 <= once <= max(below, coat) + 1e-15

    def test_ends(self) -> None:
        thickness = [0.0, SHEEN_DEPTH_UM * math.log(2.0), math.inf]
        np.testing.assert_allclose(
            blended_sheen(1.0, coat_sheen=0.2, thickness_um=thickness), [1.0, 0.6, 0.2], rtol=1e-15
        )


@pytest.mark.parametrize("wrong", [np.nan, np.inf, -1.0, 1.5])
def test_what_no_stack_returns_is_not_seen(wrong: float) -> None:
    with pytest.raises(ValueError, match=r"must lie within 0\.\.1"):
        seen(wrong, sheen=0.5)
    with pytest.raises(ValueError, match="a sheen must lie"):
        seen(0.5, sheen=wrong)
