"""White sprayed onto forms, against cases that can be worked out by hand."""

from __future__ import annotations

import json
import struct
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import layersim
from layersim import colour
from layersim.cli import main
from layersim.errors import LayersimError, MeshFileError
from layersim.figure.form import Form, Stroke, cone, deposit, form_of, read_form, sprayed
from layersim.figure.glb import glb
from layersim.figure.look import NOTHING, look, studio_light
from layersim.figure.onform import paint_form
from layersim.figure.sprayed import around
from layersim.meshfile import Mesh
from layersim.scheme.reading import load_scheme
from layersim.scheme.simulate import AreaModel
from layersim.spectra import FloatArray
from layersim.views.figure import view
from tests.figure.forms import NOWHERE, form, plane
from tests.figure.scene import TO_XYZ

trimesh = pytest.importorskip("trimesh")
pytest.importorskip("embreex")

FROM_FAR = Stroke((0.0, 1.0, 0.0), cone_deg=0.0, distance=1e4)


@pytest.fixture(scope="module")
def ball() -> Form:
    return form(trimesh.creation.icosphere(5, radius=0.5))


class TestDeposit:
    def test_a_flat_form_is_as_white_at_its_ends_as_in_its_middle(self) -> None:
        """The nozzle keeps away from the longest side: over a scenic base it is not closer to the middle."""
        base = trimesh.creation.box(extents=(20.0, 1.0, 20.0)).subdivide().subdivide()
        top = form(base)
        share = sprayed(top)[(top.normals[:, 1] > 0.99)]
        assert share.min() > 0.9

    def test_the_cosine_law_on_a_sphere(self, ball: Form) -> None:
        """From far away D is the cosine: J. H. Lambert, "Photometria" (1760)."""
        assert deposit(ball, [FROM_FAR]) == pytest.approx(np.maximum(ball.normals[:, 1], 0.0), abs=0.02)

    def test_all_of_it_lands_that_can(self, ball: Form) -> None:
        """What lands in all is what is sprayed at the sphere's outline: pi r squared, per unit of beam."""
        landed = float(deposit(ball, [FROM_FAR]) @ ball.point_areas)
        assert landed == pytest.approx(np.pi * 0.25, rel=0.01)

    def test_what_lands_is_what_is_sprayed_at_it(self, ball: Form) -> None:
        """Of a nozzle that sprays alike all around, a form catches the share of the sphere that it fills as
        seen from there: 2 pi (1 - sqrt(1 - (r / R)²)) of a ball. A second one behind it catches no more."""
        for R in (0.7, 1.5, 4.0):
            near = [Stroke((0.2, 1.0, 0.3), cone_deg=0.0, distance=R)]
            expected = 2.0 * np.pi * (1.0 - np.sqrt(1.0 - (0.5 / R) ** 2)) * R**2
            assert deposit(ball, near) @ ball.point_areas == pytest.approx(expected, rel=0.01)
        two = trimesh.creation.icosphere(5, radius=0.5)
        small = trimesh.creation.icosphere(3, radius=0.1)
        small.apply_translation([0.0, -0.7, 0.0])
        behind = form(trimesh.util.concatenate([two, small]))
        size = 1.3
        # The nozzle is told from the middle of both, which lies 0.15 below the large one's.
        R, r, far = 2.0, 0.5 / size, 2.0 - 0.15 / size
        expected = 2.0 * np.pi * (1.0 - np.sqrt(1.0 - (r / far) ** 2)) * R**2
        found = deposit(behind, [Stroke((0.0, 1.0, 0.0), cone_deg=0.0, distance=R)])
        assert found @ behind.point_areas == pytest.approx(expected, rel=0.01)

    def test_from_in_front_and_from_behind_mirror_each_other(self, ball: Form) -> None:
        share = {z: sprayed(ball, [Stroke((0.0, 0.3, z))]) for z in (1.0, -1.0)}
        assert share[1.0] @ ball.point_areas == pytest.approx(share[-1.0] @ ball.point_areas, rel=0.01)
        front = ball.normals[:, 2] > 0.9
        assert share[1.0][front].min() > 0.6
        assert share[-1.0][front].max() == 0.0

    def test_the_inverse_square_of_a_nozzle_close_by(self) -> None:
        """On a plane under a point source D is R² h / (h² + x²)^(3/2), h its height above the plane."""
        flat = form(plane(40))
        # The sheet is flat: it has no height, and its longer side is 1.
        x = flat.points[:, 0] ** 2 + flat.points[:, 2] ** 2
        h = 0.7
        expected = h**2 * h / (h**2 + x) ** 1.5
        found = deposit(flat, [Stroke((0.0, 1.0, 0.0), cone_deg=0.0, distance=h)])
        inner = np.abs(flat.points).max(axis=1) < 0.45
        assert found[inner] == pytest.approx(expected[inner], rel=1e-3)

    def test_a_sphere_over_a_plane_casts_the_shadow_it_must(self) -> None:
        """Straight down, a sphere of radius r keeps a disc of radius r of the plane below it bare."""
        sphere = trimesh.creation.icosphere(4, radius=0.2)
        sphere.apply_translation([0.0, 0.5, 0.0])
        both = form(trimesh.util.concatenate([sphere, plane(120)]))
        found = deposit(both, [FROM_FAR])
        scale = float(np.ptp(both.points[:, 0]))
        below = both.points[:, 1] < both.points[:, 1].min() + 1e-6
        away = np.hypot(both.points[:, 0], both.points[:, 2])[below] / scale
        assert (found[below][away < 0.18] == 0.0).all()
        assert found[below][(away > 0.22) & (away < 0.45)] == pytest.approx(1.0, abs=1e-3)

    def test_a_cone_of_nozzles_is_even_over_the_sphere(self) -> None:
        directions = cone((0.3, 1.0, -0.2), cone_deg=180.0, count=500)
        assert np.linalg.norm(directions, axis=1) == pytest.approx(1.0)
        # Means of x, x² over the whole sphere: 0 and 1/3.
        assert np.abs(directions.mean(axis=0)).max() < 0.01
        assert (directions**2).mean(axis=0) == pytest.approx(1.0 / 3.0, abs=0.01)
        axis = np.array([0.3, 1.0, -0.2]) / np.linalg.norm([0.3, 1.0, -0.2])
        assert (cone(axis, cone_deg=35.0) @ axis >= np.cos(np.radians(35.0)) - 1e-12).all()

    def test_the_fullest_place_is_full(self, ball: Form) -> None:
        share = sprayed(ball)
        assert share.min() == 0.0
        assert share.max() == 1.0
        top = ball.normals[:, 1] > 0.97
        assert share[top].min() > 0.9
        with pytest.raises(LayersimError, match="none of the spray lands"):
            sprayed(form(plane(4)), [Stroke((0.0, -1.0, 0.0), cone_deg=1.0)])


class TestReading:
    def test_which_way_is_up_and_inside_out(self, tmp_path: Path) -> None:
        rod = trimesh.creation.cylinder(radius=0.2, height=3.0)  # along z
        rod.export(tmp_path / "rod.stl")
        upright = read_form(tmp_path / "rod.stl")
        assert np.ptp(upright.points[:, 1]) == pytest.approx(1.0)
        lying = read_form(tmp_path / "rod.stl", up="y")
        assert np.ptp(lying.points[:, 2]) == pytest.approx(1.0)
        assert np.ptp(lying.points[:, 1]) < 0.2
        rod.invert()
        rod.export(tmp_path / "inside-out.stl")
        turned = read_form(tmp_path / "inside-out.stl")
        assert np.sort(turned.normals[:, 1]) == pytest.approx(np.sort(upright.normals[:, 1]), abs=1e-5)

    def test_size_does_not_matter(self, ball: Form) -> None:
        for scale in (1e-3, 25.4, 1e4):
            other = form(trimesh.creation.icosphere(5, radius=0.5 * scale))
            assert other.points == pytest.approx(ball.points, abs=1e-6)

    def test_parts_keep_their_names(self) -> None:
        found = read_form(layersim.demo_scheme().parents[1] / "forms" / "lamplighter.glb")
        assert set(found.parts) == {"cloth", "straps", "glass", "face"}
        assert len(found.part_of) == len(found.faces)

    def test_forms_that_are_none(self, tmp_path: Path) -> None:
        point = Mesh(np.zeros((3, 3)), np.array([[0, 1, 2]]), ("",), np.zeros(1, dtype=int))
        with pytest.raises(MeshFileError, match="all its points coincide"):
            form_of(point, NOWHERE)
        line = Mesh(
            np.arange(3.0)[:, np.newaxis] * [1.0, 1.0, 0.0], np.array([[0, 1, 2]]), ("",), np.zeros(1, int)
        )
        with pytest.raises(MeshFileError, match="none of its triangles has a surface"):
            form_of(line, NOWHERE)

    def test_degenerate_triangles_are_left_out(self) -> None:
        mesh = trimesh.creation.icosphere(2)
        faces = np.vstack([mesh.faces, [[0, 0, 1], [3, 3, 3]]])
        found = form_of(
            Mesh(np.asarray(mesh.vertices), faces, ("all",), np.zeros(len(faces), dtype=int)), NOWHERE
        )
        assert found.point_areas.sum() == pytest.approx(mesh.area / np.ptp(mesh.vertices[:, 0]) ** 2)


class TestLooking:
    def test_a_sphere_from_before(self, ball: Form) -> None:
        share = 0.5 + 0.5 * ball.normals[:, 1]
        seen = look(ball, np.ones(len(share)), around_deg=0.0, size_px=200)
        inside = seen.part != NOTHING
        # A disc, and on it the share that its place on the sphere has.
        assert inside.mean() == pytest.approx(np.pi * 0.25 / 1.08**2, rel=0.01)
        at = 1.08 * (0.5 - (np.arange(400) + 0.5) / 400.0)
        expected = np.broadcast_to((0.5 + at)[:, np.newaxis], (400, 400))
        assert seen.on_pixels(share[:, np.newaxis])[:, 0] == pytest.approx(expected[inside], abs=0.01)

    def test_the_left_is_on_the_left(self) -> None:
        left = form(trimesh.creation.box(extents=[1.0, 1.0, 0.2]))
        share = (left.points[:, 0] > 0.0).astype(float)

        def seen(around_deg: float) -> FloatArray:
            side = look(left, np.ones(len(share)), around_deg=around_deg, size_px=100)
            shown = np.zeros(side.part.shape)
            shown[side.part != NOTHING] = side.on_pixels(share[:, np.newaxis])[:, 0]
            return shown

        before, behind = seen(0.0), seen(180.0)
        assert before[100, 150] > 0.5 > before[100, 50]
        assert behind[100, 50] > 0.5 > behind[100, 150]

    def test_the_light_on_a_sphere(self, ball: Form) -> None:
        """Lambert's cosine of the lamp in front, 45 degrees above the eye, and a dome that is open."""
        side = look(ball, around(ball)[0], around_deg=0.0, size_px=150)
        at = 1.08 * (0.5 - (np.arange(300) + 0.5) / 300.0)
        x, y = (one[side.part != NOTHING] for one in np.meshgrid(-at, at))
        normals = 2.0 * np.stack([x, y, np.sqrt(np.maximum(0.25 - x**2 - y**2, 0.0))], axis=1)
        assert np.einsum("ij,ij->i", side.normals, normals).min() > 0.98
        lamp = np.sqrt(0.5) * np.array([0.0, 1.0, 1.0])
        expected = 0.6 + 0.4 * np.maximum(normals @ lamp, 0.0) / lamp[2]
        assert side.light == pytest.approx(expected, abs=0.06)
        assert np.abs(side.light - expected).mean() < 0.015
        assert np.ptp(expected) > 0.5

    def test_what_stands_before_the_lamp_has_a_shadow_behind_it(self) -> None:
        """A board in front of a wall, above a place of it: the lamp's light is gone there, and only there."""
        wall = trimesh.creation.box(extents=[1.0, 1.0, 0.02])
        board = trimesh.creation.box(extents=[0.3, 0.2, 0.02])
        board.apply_translation([0.0, 0.3, 0.3])
        both = form(trimesh.util.concatenate([wall, board]))
        light = sum(studio_light(both, np.ones(len(both.points)), np.array([0.0, 0.0, 1.0])))
        x, y, z = both.points.T
        front = (z < z.max() - 0.1) & (both.normals[:, 2] > 0.99)
        # 0.3 before the wall and 45 degrees up: the shadow's middle is 0.3 below the board's.
        shaded = front & (np.hypot(x, y) < 0.02)
        assert light[shaded] == pytest.approx(0.6, abs=1e-6)
        beside = front & (np.abs(x) > 0.3) & (np.abs(x) < 0.4) & (np.abs(y) < 0.4)
        assert light[beside] == pytest.approx(1.0, abs=1e-6)

    def test_an_open_place_has_all_the_light_and_a_hollow_less(self, ball: Form) -> None:
        assert around(ball)[0] == pytest.approx(1.0, abs=0.06)
        low, high = plane(21), plane(21)
        high.apply_translation([0.0, 0.05, 0.0])
        high.invert()
        both = form(trimesh.util.concatenate([low, high]))
        seen = around(both)[0]
        middle = np.hypot(both.points[:, 0], both.points[:, 2]) < 0.2 * np.ptp(both.points[:, 0])
        assert seen[middle].max() < 0.15


class TestPainted:
    def test_a_flat_face_has_the_strips_colour(self) -> None:
        """A plate that faces the spray is at the full highlight, in full light: the strip's last tone."""
        scheme = load_scheme(layersim.demo_scheme())
        area = scheme.areas[0]
        plate = form(trimesh.creation.box(extents=[1.0, 0.02, 1.0]))
        up = [Stroke((0.0, 1.0, 0.0), cone_deg=1.0, distance=1e3)]
        found = paint_form(scheme, plate, {"all": area.name}, name="plate", strokes=up)
        expected = AreaModel(scheme, area, tones=9).predict(scheme.viewing, 0, []).lab[-1]
        top = plate.normals[:, 1] > 0.99
        lab = colour.lab_from_xyz(100.0 * found.colours.turned() @ TO_XYZ.T, colour.Viewing().white)
        assert colour.delta_e_2000(lab[top], expected[-1]).max() < 0.3
        assert colour.delta_e_2000(lab[plate.normals[:, 1] < -0.5], expected[0]).max() < 0.3

    def test_in_a_picture_a_face_that_looks_at_the_eye_has_the_strips_colour(self) -> None:
        scheme = load_scheme(layersim.demo_scheme())
        area = scheme.areas[0]
        plate = form(trimesh.creation.box(extents=[1.0, 1.0, 0.02]))
        before = [Stroke((0.0, 0.0, 1.0), cone_deg=1.0, distance=1e3)]
        found = paint_form(
            scheme, plate, {"all": area.name}, name="plate", strokes=before, size_px=40, between="none"
        )
        seen = colour.decode_srgb(found.stages[-1].picture[15:25, 15:25] / 255.0)
        lab = colour.lab_from_xyz(100.0 * seen @ TO_XYZ.T, colour.Viewing().white)
        expected = AreaModel(scheme, area, tones=9).predict(scheme.viewing, 0, []).lab[-1, -1]
        # 8 bits alone are off by some 0.3.
        assert colour.delta_e_2000(lab, expected).max() < 0.5

    def test_an_area_without_a_coat_is_shown_too(self, ball: Form) -> None:
        scheme = load_scheme(layersim.demo_scheme())
        bare = replace(scheme, areas=(replace(scheme.areas[0], coats=()),))
        found = paint_form(bare, ball, {"all": bare.areas[0].name}, name="ball", size_px=20)
        first, finished = found.stages
        assert (first.picture == finished.picture).all()
        assert view(found).parts

    def test_before_the_filter_every_area_lacks_its_filter_and_nothing_else(self, ball: Form) -> None:
        scheme = load_scheme(layersim.demo_scheme())
        half = np.where(ball.points[ball.faces].mean(axis=1)[:, 0] > 0.0, 1, 0)
        mesh = Mesh(ball.points, ball.faces, ("cloth", "straps"), half)
        areas = {"cloth": "wax cloth", "straps": "straps"}
        found = paint_form(scheme, form_of(mesh, NOWHERE), areas, name="ball", size_px=20)
        assert found.filter_stage is not None
        before, after = found.stages[found.filter_stage : found.filter_stage + 2]
        assert dict(before.done) == {"wax cloth": "highlight", "straps": "highlight"}
        assert dict(after.done) == {"wax cloth": "filter", "straps": "filter"}
        ends = [(area.name, area.coats[-1].name) for area in scheme.areas[:2]]
        assert list(found.stages[-1].done) == ends

    def test_areas_with_two_filters_and_without_a_preshade(self, ball: Form) -> None:
        scheme = load_scheme(layersim.demo_scheme())
        one, two = scheme.areas[:2]
        base, glaze = one.coats[0], next(coat for coat in one.coats if coat.is_filter)
        twice = replace(one, coats=(base, glaze, replace(base, name="more"), replace(glaze, name="again")))
        plain = replace(two, preshade=None, coats=(replace(base, name="primer"), two.coats[0]))
        half = np.where(ball.points[ball.faces].mean(axis=1)[:, 0] > 0.0, 1, 0)
        both = form_of(Mesh(ball.points, ball.faces, ("a", "b"), half), NOWHERE)
        areas = {"a": one.name, "b": two.name}
        found = paint_form(replace(scheme, areas=(twice, plain)), both, areas, name="ball", size_px=20)
        names = [tuple(name for _, name in stage.done) for stage in found.stages]
        assert names == [
            ("preshade", "primer"),
            (base.name, "primer"),
            (glaze.name, two.coats[0].name),
            ("more", two.coats[0].name),
            ("again", two.coats[0].name),
        ]
        assert found.filter_stage == 1

    def test_what_no_area_is_stays_as_preshaded(self, ball: Form) -> None:
        scheme = load_scheme(layersim.demo_scheme())
        other = form_of(
            Mesh(
                ball.points, ball.faces, ("low", "high"), (ball.points[ball.faces[:, 0], 1] > 0).astype(int)
            ),
            NOWHERE,
        )
        found = paint_form(scheme, other, {"high": scheme.areas[0].name}, name="ball")
        low = other.points[:, 1] < -0.05
        # A thin white over black is a bluish grey.
        high = other.points[:, 1] > 0.3
        least, most = (end(found.colours.turned(), axis=1) for end in (np.min, np.max))
        assert (most / least)[low].max() < 1.6
        assert (most / least)[high].min() > 2.0
        assert found.filter_stage is not None
        assert found.surface == {scheme.areas[0].name: pytest.approx(0.5, abs=0.01)}
        assert len(found.stages) == len(scheme.areas[0].coats) + 1


def test_a_glb_is_what_others_read(tmp_path: Path, ball: Form) -> None:
    linear = np.clip(ball.points + 0.5, 0.0, 1.0)
    path = tmp_path / "ball.glb"
    path.write_bytes(glb(ball.points, ball.faces, ball.normals, linear, name="ball"))
    read = trimesh.load(path, force="mesh", process=False)
    assert np.asarray(read.vertices) == pytest.approx(ball.points, abs=1e-6)
    assert np.array_equal(read.faces, ball.faces)
    # The container as Khronos glTF 2.0, section 4, has it, read by hand.
    raw = path.read_bytes()
    magic, version, length = struct.unpack_from("<4sII", raw)
    assert (magic, version, length) == (b"glTF", 2, len(raw))
    size, kind = struct.unpack_from("<I4s", raw, 12)
    content = json.loads(raw[20 : 20 + size])
    assert kind == b"JSON"
    assert size % 4 == 0
    accessor = content["accessors"][content["meshes"][0]["primitives"][0]["attributes"]["COLOR_0"]]
    where = content["bufferViews"][accessor["bufferView"]]
    start = 28 + size + where["byteOffset"]
    colours = np.frombuffer(raw[start : start + where["byteLength"]], "<f4").reshape(-1, 3)
    assert (accessor["componentType"], accessor["type"]) == (5126, "VEC3")
    assert colours == pytest.approx(linear, abs=1e-6)


def test_the_command_and_what_it_refuses(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    demo = str(layersim.demo_scheme())

    def said(*words: str) -> str:
        assert main(["figure", demo, *words]) == 2
        assert list(tmp_path.iterdir()) == []
        return capsys.readouterr().err

    assert 'no part "clot" in lamplighter.glb. Did you mean "cloth"?' in said(
        "lamplighter", "--area", "straps=clot"
    )
    assert "--grey: this is for a photograph" in said(
        "lamplighter", "--area", "straps=cloth", "--grey", "1,1"
    )
    assert "ends in .glb" in said("lamplighter", "--area", "straps=cloth", "--glb", "x.stl")
    assert 'found "cloth" twice; expected each part once' in said(
        "lamplighter", "--area", "straps=cloth", "--area", "wax cloth=cloth"
    )
    assert "there is no such file" in said("nowhere.stl", "--area", "straps=cloth")
    words = ["lamplighter", "--area", "straps=straps", "--glb", "x.glb", "--no-picture", "--json", "x.json"]
    for _ in range(2):  # over its own file, too
        assert main(["figure", demo, *words]) == 0
    assert json.loads(Path("x.json").read_text())["result"]["areas"] == {"straps": "straps"}
    assert Path("x.glb").read_bytes()[:4] == b"glTF"
