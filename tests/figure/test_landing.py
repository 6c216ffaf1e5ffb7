"""Where coats land on a form, and what colours come of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import layersim
from layersim import colour
from layersim.figure.landing import covered, covers, share_at, usual_place
from layersim.figure.onform import point_colours
from layersim.figure.paintedarea import PaintedArea
from layersim.figure.sprayed import SprayedForm, spray_form
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Coat, Scheme, Where
from layersim.scheme.simulate import AreaModel
from tests.figure.forms import form, plane, sheet
from tests.figure.scene import TO_XYZ

trimesh = pytest.importorskip("trimesh")
pytest.importorskip("embreex")
WHITE = colour.Viewing().white


@pytest.fixture(scope="module")
def scheme() -> Scheme:
    return load_scheme(layersim.demo_scheme())


@pytest.fixture(scope="module")
def roofs() -> SprayedForm:
    """Ridges and grooves, sprayed from above."""
    at = np.linspace(0.0, 1.0, 161)
    return spray_form(form(sheet(at, np.linspace(0.0, 0.6, 41), lambda x: 0.12 * np.abs((x * 5) % 2 - 1))))


@pytest.fixture(scope="module")
def cube() -> SprayedForm:
    return spray_form(form(trimesh.creation.box()))


def coats(scheme: Scheme) -> dict[str, Coat]:
    return {coat.name: coat for area in scheme.areas[1::-1] for coat in area.coats}


def test_where_a_coat_usually_lands(scheme: Scheme) -> None:
    named = coats(scheme)
    assert usual_place(named["scuffs"]) == "edges"
    assert usual_place(named["pin wash"]) == "recesses"
    # The filter is a wash, but sprayed: it dries where it lands.
    assert usual_place(named["filter"]) is None
    assert usual_place(replace(named["filter"], by="brush")) == "gathers"
    assert usual_place(replace(named["scuffs"], on_form="left")) == "left"
    assert usual_place(named["base"]) is None


class TestCovered:
    @pytest.mark.parametrize("coverage", [0.0, 0.03, 0.5, 0.8, 1.0])
    def test_the_mean_is_the_coverage(self, coverage: float) -> None:
        rng = np.random.default_rng(1)
        most, surface = rng.random(2000) ** 3, rng.random(2000)
        found = covered(most, surface, coverage=coverage)
        assert found @ surface / surface.sum() == pytest.approx(coverage)
        assert found.min() >= 0.0
        assert found.max() <= 1.0 + 1e-12
        by_most = found[np.argsort(-most)]
        assert (np.diff(by_most) <= 1e-9).all()

    def test_a_form_without_edges_is_covered_evenly(self) -> None:
        assert covered(np.full(50, 0.3), np.linspace(1.0, 2.0, 50), coverage=0.1) == pytest.approx(0.1)

    def test_chips_keep_to_edges_and_a_pin_wash_to_grooves(
        self, scheme: Scheme, roofs: SprayedForm, cube: SprayedForm
    ) -> None:
        straps, cloth = scheme.areas[1], scheme.areas[0]
        every = np.arange(len(cube.share))
        (chips,) = covers(straps, cube, every, np.full(len(every), 80.0))
        # 0.04 of a cube, half its surface within 0.04 of 1/12 of it on either side of its twelve edges.
        off = np.sort(0.5 - np.abs(cube.form.points), axis=1)[:, 1]
        assert chips[off > 0.03].max() == 0.0
        assert chips[off < 1e-6].min() > 0.5
        assert chips @ cube.surface / cube.surface.sum() == pytest.approx(0.04)
        every = np.arange(len(roofs.share))
        (wash,) = covers(cloth, roofs, every, np.full(len(every), 0.0))
        low = roofs.form.points[:, 1] - roofs.form.points[:, 1].min()
        assert wash[low > 0.03].max() == 0.0
        assert wash @ roofs.surface / roofs.surface.sum() == pytest.approx(0.06, rel=1e-3)

    def test_with_a_place_on_the_axis_the_mean_is_that_of_the_strip(
        self, scheme: Scheme, roofs: SprayedForm
    ) -> None:
        cloth = scheme.areas[0]
        shade = 20.0 + 60.0 * roofs.share
        (wash,) = covers(cloth, roofs, np.arange(len(shade)), shade)
        pin = next(coat for coat in cloth.coats if coat.patch)
        in_strip = pin.coverage * pin.where.film_share(shade)
        assert wash @ roofs.surface == pytest.approx(in_strip @ roofs.surface)


class TestGathering:
    def test_a_brushed_wash_gathers_and_no_paint_is_lost(self, scheme: Scheme, roofs: SprayedForm) -> None:
        area = scheme.areas[1]
        glaze = replace(coats(scheme)["filter"], by="brush", where=Where(lightest_from=30.0))
        washed = PaintedArea(
            scheme, replace(area, coats=(area.coats[0], glaze)), roofs, np.arange(len(roofs.share))
        )
        place, times = washed.landing[1]
        factor = times * share_at(place, roofs)
        shade = np.interp(roofs.share, washed.model.places, washed.model.shade)
        usual = glaze.where.film_share(shade)
        assert usual * factor @ roofs.surface == pytest.approx(usual @ roofs.surface)
        low = roofs.form.points[:, 1] - roofs.form.points[:, 1].min()
        inner = np.abs(roofs.form.points[:, 0]) < 0.45
        slope = factor[inner & (np.abs(low - 0.5 * low.max()) < 0.02)].mean()
        # A roof of 0.6 up to 1 across is bent by 2 arctan 0.6 at its edges.
        most = 4.0 ** (4.0 * np.arctan(0.6) / np.pi)
        assert np.median(factor[inner & (low < 0.003)]) / slope == pytest.approx(most, rel=0.1)
        assert np.median(factor[inner & (low > low.max() - 0.003)]) / slope == pytest.approx(
            1 / most, rel=0.1
        )

    def test_spray_from_a_side_lands_there(self, scheme: Scheme, cube: SprayedForm) -> None:
        for direction, axis, sign in (("front", 2, 1), ("behind", 2, -1), ("left", 0, 1), ("below", 1, -1)):
            share = share_at(direction, cube)
            facing = sign * cube.form.normals[:, axis]
            assert share[facing > 0.99].min() > 0.9
            assert share[facing < -0.99].max() == 0.0


class TestColours:
    def test_cells_are_as_good_as_a_stack_for_each_point(self, scheme: Scheme, roofs: SprayedForm) -> None:
        """A brushed wash, a coat from a side, one on edges, chips and a pin wash, all at once."""
        cloth, straps = scheme.areas[:2]
        named = coats(scheme)
        from_left = replace(named["highlight"], on_form="left", where=Where())
        glazed = replace(named["filter"], by="brush")
        on_edges = replace(named["highlight"], on_form="edges")
        full = replace(
            cloth,
            coats=(*cloth.coats[:3], from_left, glazed, on_edges, *cloth.coats[4:], straps.coats[-1]),
        )
        every = np.arange(len(roofs.share))
        painted = PaintedArea(scheme, full, roofs, every)
        stage = len(painted.stages) - 1
        found = painted.colours(scheme.viewing, stage)
        some = np.random.default_rng(2).choice(every, 300, replace=False)
        direct = AreaModel(
            scheme,
            full,
            tones=len(some),
            places=roofs.share[some],
            landing={
                i: times * share_at(place, roofs)[some] for i, (place, times) in painted.landing.items()
            },
        ).on_patches(scheme.viewing, stage=stage)
        wash, chips = (cover[some, np.newaxis] for cover in painted.covers)
        bare, washed, chipped, both = direct
        expected = (1.0 - chips) * ((1.0 - wash) * bare + wash * washed)
        expected += chips * ((1.0 - wash) * chipped + wash * both)
        off = colour.delta_e_2000(*(colour.lab_from_xyz(xyz, WHITE) for xyz in (found[some], expected)))
        assert len(painted.landing) == 3
        assert np.ptp(expected[:, 1]) > 10.0
        assert off.max() < 0.3

    def test_without_edges_and_recesses_a_form_has_the_strips_tones(self, scheme: Scheme) -> None:
        ball = spray_form(form(trimesh.creation.icosphere(5, radius=0.5)))
        glass = scheme.areas[2]
        found = point_colours(scheme, ball, {"all": glass.name}).even
        strip = AreaModel(scheme, glass, tones=9).predict(scheme.viewing, 0, [])
        at = np.abs(ball.share[:, np.newaxis] - np.linspace(0.0, 1.0, 9)).argmin(axis=0)
        lab = colour.lab_from_xyz(100.0 * found[at] @ TO_XYZ.T, WHITE)
        assert colour.delta_e_2000(lab, strip.lab[-1]).max() < 0.5


def test_a_coat_from_where_nothing_is_seen_lands_nowhere() -> None:
    sprayed_plane = spray_form(form(plane(3)))
    assert sprayed_plane.share_from("above").max() == 1.0
    assert not sprayed_plane.share_from("below").any()
