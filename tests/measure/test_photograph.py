"""Photographs: every kind read to the same light, and everything that is not one refused in a sentence."""

from __future__ import annotations

import io
import os
import struct
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from layersim.colour import decode_srgb
from layersim.errors import PhotographError
from layersim.measure.photograph import LARGEST_PIXELS, SRGB_TO_XYZ_D50, read_photograph
from layersim.measure.profile import read_matrix_profile

cv2 = pytest.importorskip("cv2")
pytest.importorskip("OpenImageIO")
Image = pytest.importorskip("PIL.Image")


def picture(height: int = 220, width: int = 260) -> np.ndarray:
    """Smooth, and different at every corner, 0..1."""
    y, x = np.mgrid[0:height, 0:width] / [[[height]], [[width]]]
    return np.stack([0.1 + 0.8 * x, 0.1 + 0.7 * y, 0.9 - 0.5 * x * y], axis=-1)


def save_16(path: Path, encoded: np.ndarray) -> Path:
    levels = np.rint(encoded * 65535).astype(np.uint16)
    order = [2, 1, 0, 3][: levels.shape[2]]
    assert cv2.imwrite(str(path), np.ascontiguousarray(levels[..., order]))
    return path


def save_8(path: Path, encoded: np.ndarray, **options: Any) -> Path:
    Image.fromarray(np.rint(encoded * 255).astype(np.uint8)).save(path, **options)
    return path


@pytest.mark.parametrize("name", ["a.png", "a.tif"])
def test_sixteen_bits_stay_sixteen(tmp_path: Path, name: str) -> None:
    encoded = picture()
    photograph = read_photograph(save_16(tmp_path / name, encoded))
    assert photograph.levels.dtype == np.uint16
    np.testing.assert_array_equal(photograph.levels, np.rint(encoded * 65535))
    np.testing.assert_allclose(photograph.linear(photograph.levels), decode_srgb(encoded), atol=3e-5)


def test_transparent_sixteen_bits_are_not_darkened(tmp_path: Path) -> None:
    encoded = np.dstack([picture(), np.full((220, 260), 0.5)])
    photograph = read_photograph(save_16(tmp_path / "a.png", encoded))
    np.testing.assert_array_equal(photograph.levels, np.rint(encoded[..., :3] * 65535))


@pytest.mark.parametrize(
    ("name", "options"), [("a.png", {}), ("a.tif", {}), ("a.tif", {"compression": "tiff_lzw"})]
)
def test_eight_bits(tmp_path: Path, name: str, options: dict[str, str]) -> None:
    encoded = picture()
    photograph = read_photograph(save_8(tmp_path / name, encoded, **options))
    np.testing.assert_array_equal(photograph.levels, np.rint(encoded * 255))
    assert "the picture names no colour profile: taken as sRGB" in photograph.notes


def test_jpeg_is_near(tmp_path: Path) -> None:
    photograph = read_photograph(save_8(tmp_path / "a.jpg", picture(), quality=95))
    assert np.abs(photograph.levels / 255.0 - picture()).max() < 0.03


def test_palette_and_alpha(tmp_path: Path) -> None:
    rgb = Image.fromarray(np.rint(picture() * 255).astype(np.uint8))
    rgb.quantize(16).save(tmp_path / "p.png")
    assert read_photograph(tmp_path / "p.png").levels.shape == (220, 260, 3)
    rgb.putalpha(100)
    rgb.save(tmp_path / "t.png")
    photograph = read_photograph(tmp_path / "t.png")
    np.testing.assert_array_equal(photograph.levels, np.rint(picture() * 255))
    assert any("transparency" in note for note in photograph.notes)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("suffix", ["png", "tif"])
def test_orientation_as_another_reader_turns_it(tmp_path: Path, orientation: int, suffix: str) -> None:
    from PIL import ImageOps

    exif = Image.Exif()
    exif[0x0112] = orientation
    path = save_8(tmp_path / f"a.{suffix}", picture(), exif=exif)
    with Image.open(path) as image:
        expected = np.asarray(ImageOps.exif_transpose(image))
    np.testing.assert_array_equal(read_photograph(path).levels, expected)


def test_senseless_orientation_is_ignored_and_named(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 77
    photograph = read_photograph(save_8(tmp_path / "a.png", picture(), exif=exif))
    assert photograph.levels.shape == (220, 260, 3)
    assert any("orientation, 77, means nothing" in note for note in photograph.notes)


# -- profiles --------------------------------------------------------------------------------------


def profile(curves: bytes, columns: np.ndarray, *, space: bytes = b"RGB ") -> bytes:
    """Build a matrix profile by hand (ICC.1:2010)."""
    parts = {f"{c}TRC".encode(): curves for c in "rgb"}
    for c, column in zip("rgb", columns.T, strict=True):
        parts[f"{c}XYZ".encode()] = b"XYZ \0\0\0\0" + struct.pack(">3i", *np.rint(column * 65536).astype(int))
    table, data, at = b"", b"", 132 + 12 * len(parts)
    for name, value in parts.items():
        table += struct.pack(">4sII", name, at + len(data), len(value))
        data += value
    head = bytearray(128)
    head[12:24] = b"mntr" + space + b"XYZ "
    head[36:40] = b"acsp"
    head[0:4] = struct.pack(">I", at + len(data))
    return bytes(head) + struct.pack(">I", len(parts)) + table + data


def gamma(value: float) -> bytes:
    return b"curv\0\0\0\0" + struct.pack(">IH", 1, round(value * 256))


def test_srgb_profile_of_another_library() -> None:
    from PIL import ImageCms

    raw = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    levels = np.linspace(0, 1, 256)
    curve, to_xyz = read_matrix_profile(raw, levels)
    np.testing.assert_allclose(curve, np.repeat(decode_srgb(levels)[:, None], 3, axis=1), atol=2e-4)
    np.testing.assert_allclose(to_xyz, SRGB_TO_XYZ_D50, atol=5e-4)


def test_embedded_profile_is_honoured(tmp_path: Path) -> None:
    wide = np.array([[0.6, 0.2, 0.16], [0.3, 0.63, 0.07], [0.02, 0.06, 0.74]])
    path = save_8(tmp_path / "a.png", picture(), icc_profile=profile(gamma(1.8), wide))
    photograph = read_photograph(path)
    expected = (photograph.levels / 255.0) ** (round(1.8 * 256) / 256)
    np.testing.assert_allclose(photograph.linear(photograph.levels), expected, atol=1e-9)
    np.testing.assert_allclose(photograph.to_xyz_d50, wide, atol=1e-4)
    by_word = read_photograph(path, encoding="srgb")
    np.testing.assert_allclose(by_word.linear(by_word.levels), decode_srgb(by_word.levels / 255.0))
    linear = read_photograph(path, encoding="linear")
    np.testing.assert_allclose(linear.linear(linear.levels), linear.levels / 255.0)


def test_curve_kinds() -> None:
    x = np.linspace(0, 1, 101)
    square = np.rint(np.linspace(0, 1, 64) ** 2 * 65535).astype(">u2").tobytes()
    parameters = [round(v * 65536) for v in (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)]
    cases = {
        "line": (b"curv\0\0\0\0" + struct.pack(">I", 0), x),
        "table": (b"curv\0\0\0\0" + struct.pack(">I", 64) + square, x**2),
        "para 0": (b"para\0\0\0\0" + struct.pack(">HHi", 0, 0, 2 * 65536), x**2),
        "para 3": (b"para\0\0\0\0" + struct.pack(">HH5i", 3, 0, *parameters), decode_srgb(x)),
        "para 1": (
            b"para\0\0\0\0" + struct.pack(">HH3i", 1, 0, 131072, 131072, -65536),
            np.maximum(2 * x - 1, 0) ** 2,
        ),
    }
    for name, (raw, expected) in cases.items():
        curve, _ = read_matrix_profile(profile(raw, SRGB_TO_XYZ_D50), x)
        np.testing.assert_allclose(curve[:, 1], expected, atol=3e-4, err_msg=name)


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"rubbish", "damaged"),
        (profile(gamma(2.2), SRGB_TO_XYZ_D50)[:140], "damaged|has no"),
        (profile(gamma(2.2), SRGB_TO_XYZ_D50, space=b"CMYK"), "for CMYK"),
        (profile(b"curv\0\0\0\0" + struct.pack(">I", 9), SRGB_TO_XYZ_D50), "damaged"),
        (profile(b"what\0\0\0\0", SRGB_TO_XYZ_D50), "unknown kind"),
        (profile(gamma(2.2), np.ones((3, 3))), "span"),
    ],
)
def test_bad_profiles(tmp_path: Path, raw: bytes, says: str) -> None:
    path = save_8(tmp_path / "a.png", picture(), icc_profile=raw)
    with pytest.raises(PhotographError, match=says):
        read_photograph(path)
    read_photograph(path, encoding="srgb")


# -- bad input -------------------------------------------------------------------------------------


def bomb(width: int, height: int, *, bits: int = 8) -> bytes:
    """A PNG of a few hundred bytes that says it is huge."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", width, height, bits, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(bytes(9)))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("size", [(9000, 9000), (15000, 15000), (60000, 60000)])
def test_bombs_are_refused_before_decoding(tmp_path: Path, size: tuple[int, int], bits: int) -> None:
    import tracemalloc

    assert size[0] * size[1] > LARGEST_PIXELS
    (tmp_path / "bomb.png").write_bytes(bomb(*size, bits=bits))
    tracemalloc.start()
    try:
        with pytest.raises(PhotographError, match=r"expected at most 64 million"):
            read_photograph(tmp_path / "bomb.png")
        assert tracemalloc.get_traced_memory()[1] < 20e6
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.tif", "b.png", "b.tif"])
@pytest.mark.parametrize("share", [0.3, 0.7, 0.95])
def test_cut_short(tmp_path: Path, name: str, share: float) -> None:
    path = tmp_path / name
    if name.startswith("b"):
        save_16(path, picture())
    else:
        save_8(path, picture())
    raw = path.read_bytes()
    path.write_bytes(raw[: int(len(raw) * share)])
    with pytest.raises(PhotographError, match=r"damaged|not a JPEG"):
        read_photograph(path)


@pytest.mark.parametrize("seed", range(30))
def test_scrambled_files_give_a_sentence_or_a_picture(tmp_path: Path, seed: int) -> None:
    rng = np.random.default_rng(seed)
    held = io.BytesIO()
    kind = ("JPEG", "PNG", "TIFF")[seed % 3]
    Image.fromarray(np.rint(picture() * 255).astype(np.uint8)).save(held, kind)
    raw = np.frombuffer(held.getvalue(), dtype=np.uint8).copy()
    where = rng.integers(0, len(raw) if seed % 2 else 600, 12)
    raw[where] = rng.integers(0, 256, 12)
    path = tmp_path / "s.bin"
    path.write_bytes(raw.tobytes())
    try:
        assert read_photograph(path).levels.ndim == 3
    except PhotographError as error:
        assert str(path) in str(error)  # noqa: PT017 - either outcome is right


def test_wrong_things(tmp_path: Path) -> None:
    def refused(path: Path, says: str, **options: str) -> None:
        with pytest.raises(PhotographError, match=says):
            read_photograph(path, **options)

    refused(tmp_path / "none.jpg", "no such file")
    refused(tmp_path, "a folder")
    os.mkfifo(tmp_path / "pipe.jpg")
    refused(tmp_path / "pipe.jpg", "not an ordinary file")
    (tmp_path / "empty.jpg").write_bytes(b"")
    refused(tmp_path / "empty.jpg", "empty")
    (tmp_path / "text.jpg").write_text("not a picture at all")
    refused(tmp_path / "text.jpg", "not a JPEG, PNG or TIFF")
    grey = Image.fromarray(np.full((220, 220), 99, dtype=np.uint8))
    grey.save(tmp_path / "grey.jpg")
    refused(tmp_path / "grey.jpg", "grey; expected one in colour")
    grey.convert("CMYK").save(tmp_path / "cmyk.jpg")
    refused(tmp_path / "cmyk.jpg", "CMYK; expected RGB")
    save_8(tmp_path / "small.png", picture(50, 400))
    refused(tmp_path / "small.png", "too few")
    save_8(tmp_path / "good.png", picture())


# -- camera raw ------------------------------------------------------------------------------------


def dng(mosaic: np.ndarray) -> bytes:
    """A raw file of the open kind (DNG 1.4; TIFF 6.0), as plain as it can be."""
    height, width = mosaic.shape
    data = mosaic.astype("<u2").tobytes()
    matrix = np.rint(np.linalg.inv(SRGB_TO_XYZ_D50) * 10000).astype(int).ravel()
    rationals = b"".join(struct.pack("<ii", int(v), 10000) for v in matrix)
    neutral = struct.pack("<6I", 1, 1, 1, 1, 1, 1)
    entries: list[tuple[int, int, int, bytes]] = [
        (254, 4, 1, struct.pack("<I", 0)),
        (256, 4, 1, struct.pack("<I", width)),
        (257, 4, 1, struct.pack("<I", height)),
        (258, 3, 1, struct.pack("<HH", 16, 0)),
        (259, 3, 1, struct.pack("<HH", 1, 0)),
        (262, 3, 1, struct.pack("<HH", 32803, 0)),
        (271, 2, 5, b"test\0"),
        (272, 2, 5, b"test\0"),
        (273, 4, 1, b"HERE"),
        (277, 3, 1, struct.pack("<HH", 1, 0)),
        (278, 4, 1, struct.pack("<I", height)),
        (279, 4, 1, struct.pack("<I", len(data))),
        (33421, 3, 2, struct.pack("<HH", 2, 2)),
        (33422, 1, 4, bytes([0, 1, 1, 2])),
        (50706, 1, 4, bytes([1, 4, 0, 0])),
        (50708, 2, 5, b"test\0"),
        (50717, 4, 1, struct.pack("<I", 65535)),
        (50721, 10, 9, rationals),
        (50728, 5, 3, neutral),
        (50778, 3, 1, struct.pack("<HH", 21, 0)),
    ]
    at = 8 + 2 + 12 * len(entries) + 4
    extra = b""
    for _, _, _, value in entries:
        if len(value) > 4:
            extra += value + b"\0" * (len(value) % 2)
    start = at + len(extra)
    table, offset = struct.pack("<H", len(entries)), at
    for tag, kind, count, value in entries:
        if value == b"HERE":
            held = struct.pack("<I", start)
        elif len(value) > 4:
            held = struct.pack("<I", offset)
            offset += len(value) + len(value) % 2
        else:
            held = value.ljust(4, b"\0")
        table += struct.pack("<HHI", tag, kind, count) + held
    return b"II*\0" + struct.pack("<I", 8) + table + struct.pack("<I", 0) + extra + data


def test_raw_is_linear_and_unbalanced(tmp_path: Path) -> None:
    pytest.importorskip("rawpy")
    level = np.array([[[0.4, 0.3], [0.3, 0.1]]])  # red, green, green, blue
    mosaic = np.tile(np.rint(level[0] * 65535).astype(np.uint16), (150, 200))
    (tmp_path / "a.dng").write_bytes(dng(mosaic))
    photograph = read_photograph(tmp_path / "a.dng")
    middle = photograph.linear(photograph.levels[100:200, 100:300]).mean(axis=(0, 1))
    np.testing.assert_allclose(middle, [0.4, 0.3, 0.1], atol=2e-3)
    np.testing.assert_allclose(photograph.to_xyz_d50.sum(axis=1), [0.9642, 1.0, 0.8249], atol=2e-3)
    (tmp_path / "bad.dng").write_bytes(dng(mosaic)[:3000])
    (tmp_path / "other.dng").write_bytes(b"no picture at all" * 500)
    for name in ("bad.dng", "other.dng"):
        with pytest.raises(PhotographError, match=r"raw file cannot be read \([a-z][^']*\)$"):
            read_photograph(tmp_path / name)
