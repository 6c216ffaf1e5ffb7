"""The surface of meshes whose surface is known, and files that are none."""

from __future__ import annotations

import json
import struct
import sys
from pathlib import Path

import pytest

from layersim.errors import LayersimError, MeshFileError
from layersim.meshfile import read_mesh
from layersim.plan.mesh import mesh_surface

# A box of 10 × 20 × 30: its surface is 2 (200 + 300 + 600) = 2200 square units.
CORNERS = [(x, y, z) for x in (0, 10) for y in (0, 20) for z in (0, 30)]
FACES = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
TRIANGLES = [(a, b, c) for f in FACES for a, b, c in ((f[0], f[1], f[2]), (f[0], f[2], f[3]))]
BOX_MM2 = 2200.0


def stl_text() -> bytes:
    rows = ["solid box"]
    for triangle in TRIANGLES:
        rows += ["facet normal 0 0 0", "outer loop"]
        rows += ["vertex {} {} {}".format(*CORNERS[i]) for i in triangle]
        rows += ["endloop", "endfacet"]
    return "\n".join([*rows, "endsolid box", ""]).encode()


def stl_binary() -> bytes:
    body = b"".join(
        struct.pack("<12fH", 0.0, 0.0, 0.0, *(v for i in triangle for v in CORNERS[i]), 0)
        for triangle in TRIANGLES
    )
    return b" " * 80 + struct.pack("<I", len(TRIANGLES)) + body


def obj() -> bytes:
    rows = ["mtllib ../../nowhere.mtl", *("v {} {} {}".format(*c) for c in CORNERS)]
    return "\n".join([*rows, *("f {} {} {}".format(*(i + 1 for i in t)) for t in TRIANGLES), ""]).encode()


def ply() -> bytes:
    head = ["ply", "format ascii 1.0", f"element vertex {len(CORNERS)}"]
    head += [f"property float {axis}" for axis in "xyz"]
    head += [f"element face {len(TRIANGLES)}", "property list uchar int vertex_indices", "end_header"]
    rows = ["{} {} {}".format(*c) for c in CORNERS] + ["3 {} {} {}".format(*t) for t in TRIANGLES]
    return "\n".join([*head, *rows, ""]).encode()


def off() -> bytes:
    rows = ["OFF", f"{len(CORNERS)} {len(TRIANGLES)} 0", *("{} {} {}".format(*c) for c in CORNERS)]
    return "\n".join([*rows, *("3 {} {} {}".format(*t) for t in TRIANGLES), ""]).encode()


MESHES = {"a.stl": stl_text, "b.stl": stl_binary, "c.obj": obj, "d.ply": ply, "e.OFF": off}


def glb(*, nodes: int = 1, count: int = 3, indices: tuple[int, ...] = (0, 1, 2), bare: bool = False) -> bytes:
    """One triangle, placed so often; `bare`: its points are not in the file."""
    binary = struct.pack("<9f", 0, 0, 0, 1, 0, 0, 0, 0, 1) + struct.pack("<3I", *indices)
    points = {"componentType": 5126, "count": count, "type": "VEC3"}
    content = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": list(range(nodes))}],
        "nodes": [{"mesh": 0, "name": f"n{i}"} for i in range(nodes)],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "buffers": [{"byteLength": len(binary)}],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": 36},
            {"buffer": 0, "byteOffset": 36, "byteLength": 12},
        ],
        "accessors": [
            points if bare else {**points, "bufferView": 0},
            {"bufferView": 1, "componentType": 5125, "count": 3, "type": "SCALAR"},
        ],
    }
    text = json.dumps(content).encode()
    text += b" " * (-len(text) % 4)
    chunks = struct.pack("<I4s", len(text), b"JSON") + text
    chunks += struct.pack("<I4s", len(binary), b"BIN\0") + binary
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def short_ply() -> bytes:
    return ply().replace(b"3 0 1 3\n", b"3 0 1 99\n")


class TestSmallFilesThatAskForMuch:
    @pytest.mark.parametrize(
        ("name", "raw", "said"),
        [
            ("a.glb", glb(indices=(0, 1, 77)), "a triangle of points that are not there"),
            ("b.ply", short_ply(), "a triangle of points that are not there"),
            ("c.glb", glb(nodes=1001), "found 1001 parts; expected at most 1000"),
            ("d.glb", glb(count=10**9, bare=True), "more values than"),
        ],
    )
    def test_are_refused(self, tmp_path: Path, name: str, raw: bytes, said: str) -> None:
        (tmp_path / name).write_bytes(raw)
        with pytest.raises(MeshFileError, match=said):
            read_mesh(tmp_path / name)

    def test_a_part_placed_often_counts_each_time(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("layersim.meshfile.MOST_TRIANGLES", 5)
        (tmp_path / "a.glb").write_bytes(glb(nodes=5))
        assert len(read_mesh(tmp_path / "a.glb").faces) == 5
        (tmp_path / "a.glb").write_bytes(glb(nodes=6))
        with pytest.raises(MeshFileError, match="found 6 triangles; expected at most 5"):
            read_mesh(tmp_path / "a.glb")


class TestSurface:
    @pytest.mark.parametrize("name", MESHES)
    def test_a_box_has_its_surface(self, tmp_path: Path, name: str) -> None:
        pytest.importorskip("trimesh")
        path = tmp_path / name
        path.write_bytes(MESHES[name]())
        found = mesh_surface(path, unit_mm=1.0)
        assert found.value == pytest.approx(BOX_MM2 / 100.0)
        assert found.error > 0.0
        assert "hidden" in found.basis

    def test_scale_counts_squared(self, tmp_path: Path) -> None:
        pytest.importorskip("trimesh")
        path = tmp_path / "box.stl"
        path.write_bytes(stl_binary())
        assert mesh_surface(path, unit_mm=2.5).value == pytest.approx(22.0 * 2.5**2)


@pytest.mark.parametrize(
    "lines",
    [
        ("o coat", "o belt"),
        ("g coat", "g belt"),
        ("o model\ng coat", "g belt"),
        ("o coat\ng a", "o belt\ng a"),
    ],
)
def test_an_obj_has_the_parts_that_its_objects_or_groups_are(tmp_path: Path, lines: tuple[str, str]) -> None:
    pytest.importorskip("trimesh")
    corners, faces = obj().split(b"\nf ", 1)
    *first, last = faces.split(b"\nf ")
    path = tmp_path / "x.obj"
    path.write_bytes(
        b"\n".join(
            [corners, lines[0].encode(), *(b"f " + one for one in first), lines[1].encode(), b"f " + last]
        )
    )
    mesh = read_mesh(path)
    shares = {mesh.parts[i]: int((mesh.part_of == i).sum()) for i in set(mesh.part_of)}
    assert shares == {"coat": len(TRIANGLES) - 1, "belt": 1}


class TestBad:
    @pytest.mark.parametrize("raw", [b"", b"nonsense", b"solid\nendsolid\n", stl_binary()[:100]])
    def test_what_is_no_mesh(self, tmp_path: Path, raw: bytes) -> None:
        pytest.importorskip("trimesh")
        path = tmp_path / "x.stl"
        path.write_bytes(raw)
        with pytest.raises(MeshFileError, match=r"x\.stl: found no triangles; expected a whole mesh as STL"):
            mesh_surface(path, unit_mm=1.0)

    def test_very_many_groups_are_refused_before_they_are_read(self, tmp_path: Path) -> None:
        path = tmp_path / "x.obj"
        path.write_bytes(b"".join(b"\ng part%d" % i for i in range(1001)))
        with pytest.raises(MeshFileError, match=r"x\.obj: found over 1000 groups"):
            mesh_surface(path, unit_mm=1.0)

    def test_the_wrong_unit(self, tmp_path: Path) -> None:
        pytest.importorskip("trimesh")
        path = tmp_path / "box.stl"
        path.write_bytes(stl_binary())
        with pytest.raises(MeshFileError, match="Does mesh_mm say"):
            mesh_surface(path, unit_mm=0.001)

    def test_another_ending(self, tmp_path: Path) -> None:
        with pytest.raises(
            MeshFileError, match=r'found the ending "stll"; expected one of .* Did you mean "stl"'
        ):
            mesh_surface(tmp_path / "box.stll", unit_mm=1.0)

    def test_no_file(self, tmp_path: Path) -> None:
        with pytest.raises(MeshFileError, match="there is no such file; expected a mesh file"):
            mesh_surface(tmp_path / "box.stl", unit_mm=1.0)

    def test_no_reader(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        path = tmp_path / "box.stl"
        path.write_bytes(stl_binary())
        monkeypatch.setitem(sys.modules, "trimesh", None)
        with pytest.raises(LayersimError, match=r"pip install .*trimesh; or give"):
            mesh_surface(path, unit_mm=1.0)
