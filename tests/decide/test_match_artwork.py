"""Targets from pictures: profile, regions, main colours, and every kind of picture that is none."""

from __future__ import annotations

import struct
import zlib

import numpy as np
import pytest
from PIL import Image, ImageCms

from layersim import colour
from layersim.decide import artwork as art
from layersim.errors import ArtworkError, LayersimError

RED, GREEN, BLUE = (200, 30, 40), (40, 150, 60), (40, 60, 190)


def picture(tmp_path, size=(200, 100), name="art.png", **options):
    """Three upright bands of red, green and blue: half, three tenths, a fifth."""
    image = Image.new("RGB", size)
    width = size[0]
    for colours, left, right in ((RED, 0, 0.5), (GREEN, 0.5, 0.8), (BLUE, 0.8, 1.0)):
        image.paste(colours, (int(left * width), 0, int(right * width), size[1]))
    path = tmp_path / name
    image.save(path, **options)
    return path


def lab(rgb):
    return colour.lab_of_hex("#" + "".join(f"{v:02x}" for v in rgb))


def test_main_colours_are_found_with_their_shares_and_places(tmp_path):
    found = art.main_colours(art.read_artwork(picture(tmp_path)))
    assert [round(p.share, 2) for p in found] == [0.5, 0.3, 0.2]
    for patch, rgb, low, high in zip(found, (RED, GREEN, BLUE), (0, 0.5, 0.8), (0.5, 0.8, 1), strict=True):
        assert colour.delta_e_2000(patch.lab, lab(rgb)) < 0.3
        assert low < patch.at[0] < high
        assert patch.spread < 0.5


def test_main_colours_are_the_same_every_time(tmp_path):
    draw = np.random.default_rng(0)
    noisy = (draw.random((60, 80, 3)) * 255).astype(np.uint8)
    Image.fromarray(noisy).save(tmp_path / "n.png")
    artwork = art.read_artwork(tmp_path / "n.png")
    one, two = art.main_colours(artwork), art.main_colours(artwork)
    assert [p.lab.tolist() for p in one] == [p.lab.tolist() for p in two]


def test_a_region_gives_its_mean_light(tmp_path):
    # A chequer of black and white is grey in linear light, not in the file's numbers.
    chequer = np.indices((64, 64)).sum(axis=0) % 2 * 255
    image = np.stack([chequer] * 3, axis=-1).astype(np.uint8)
    image[:, 32:] = RED
    Image.fromarray(image).save(tmp_path / "c.png")
    patch = art.patch_in(art.read_artwork(tmp_path / "c.png"), art.Region(0, 0, 40, 100), name="mid")
    assert patch.lab[0] == pytest.approx(colour.lab(np.full(31, 0.5), colour.Viewing())[0], abs=0.2)
    assert patch.clipped > 0.4
    assert art.patch_notices({"mid": patch})


def test_tones_of_a_region_run_from_dark_to_light(tmp_path):
    ramp = np.linspace(0.1, 0.9, 200)[np.newaxis, :, np.newaxis] * np.array([250, 120, 60])
    Image.fromarray(np.repeat(ramp, 50, axis=0).astype(np.uint8)).save(tmp_path / "r.png")
    found = art.tones_in(art.read_artwork(tmp_path / "r.png"), art.Region(0, 0, 100, 100))
    assert list(found) == ["shadow", "mid", "light"]
    L = [found[name].lab[0] for name in found]
    assert sorted(L) == L
    assert L[2] - L[0] > 30


def test_a_family_of_one_hue_is_proposed(tmp_path):
    image = np.full((80, 140, 3), (190, 185, 170), dtype=np.uint8)  # a mount, which is background
    for i, rgb in enumerate(((30, 40, 90), (60, 80, 160), (140, 160, 220), (230, 210, 60))):
        image[10:70, 10 + 30 * i : 40 + 30 * i] = rgb
    Image.fromarray(image).save(tmp_path / "f.png")
    artwork = art.read_artwork(tmp_path / "f.png")
    found = art.proposed_targets(artwork, art.main_colours(artwork))
    for name, rgb in (("shadow", (30, 40, 90)), ("mid", (60, 80, 160)), ("light", (140, 160, 220))):
        assert colour.delta_e_2000(found[name].lab, lab(rgb)) < 1.0


def test_an_embedded_profile_is_honoured(tmp_path):
    """A tag that says what is assumed changes nothing; numbers of another space are read as that space."""
    profile = ImageCms.createProfile("sRGB")
    plain = ImageCms.ImageCmsProfile(profile).tobytes()
    tagged = picture(tmp_path, name="tagged.png", icc_profile=plain)
    bare = picture(tmp_path, name="bare.png")
    one, two = art.read_artwork(tagged), art.read_artwork(bare)
    assert "profile was used" in one.notices[0]
    assert "sRGB is assumed" in two.notices[0]
    np.testing.assert_allclose(one.linear, two.linear, atol=0.02)
    # An L*a*b* picture with Pillow's own profile: its numbers are the colours themselves.
    image = Image.new("LAB", (40, 40), (128, 128 + 40, 128))
    image.paste((180, 128, 128 + 50), (20, 0, 40, 40))
    path = tmp_path / "lab.tif"
    image.save(path, icc_profile=ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes())
    found = art.read_artwork(path)
    assert "profile was used" in found.notices[0]
    seen = found.lab[20, 5]
    assert seen[0] == pytest.approx(128 / 2.55, abs=2.5)
    assert seen[1] == pytest.approx(40, abs=5)


def test_a_spoilt_profile_is_told(tmp_path):
    path = picture(tmp_path, icc_profile=b"no profile at all")
    assert any("cannot be read" in note for note in art.read_artwork(path).notices)


def test_transparency_is_no_colour(tmp_path):
    image = Image.new("RGBA", (40, 40), (0, 0, 0, 0))
    image.paste((*RED, 255), (0, 0, 20, 40))
    image.save(tmp_path / "t.png")
    found = art.main_colours(art.read_artwork(tmp_path / "t.png"))
    assert len(found) == 1
    assert colour.delta_e_2000(found[0].lab, lab(RED)) < 0.3
    with pytest.raises(LayersimError, match="transparency"):
        art.patch_in(art.read_artwork(tmp_path / "t.png"), art.Region(60, 0, 30, 100), name="mid")


@pytest.mark.parametrize("mode", ["P", "RGBA", "CMYK", "I;16"])
def test_other_kinds_of_pictures(tmp_path, mode):
    with Image.open(picture(tmp_path)) as opened:
        base = opened.copy()
    if mode == "I;16":
        path = tmp_path / "deep.png"
        Image.fromarray(np.linspace(0, 65535, 4000).reshape(40, 100).astype(np.uint16)).save(path)
        with pytest.raises(ArtworkError, match="without colour"):
            art.read_artwork(path)
        return
    path = tmp_path / ("k.tif" if mode == "CMYK" else "k.png")
    (base.quantize(8) if mode == "P" else base.convert(mode)).save(path)
    found = art.main_colours(art.read_artwork(path))
    assert len(found) == 3


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "empty"),
        (b"hello", "found no picture"),
        (b"\x89PNG\r\n\x1a\n" + b"rubbish" * 20, "picture"),
    ],
)
def test_what_is_no_picture_is_told(tmp_path, content, says):
    path = tmp_path / "x.png"
    path.write_bytes(content)
    with pytest.raises(ArtworkError, match=says):
        art.read_artwork(path)


def test_missing_folder_and_cut_off(tmp_path):
    with pytest.raises(ArtworkError, match="no such file"):
        art.read_artwork(tmp_path / "nothing.png")
    with pytest.raises(ArtworkError, match="folder"):
        art.read_artwork(tmp_path)
    whole = picture(tmp_path, name="w.jpg", quality=90).read_bytes()
    (tmp_path / "half.jpg").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(ArtworkError, match="is it whole"):
        art.read_artwork(tmp_path / "half.jpg")


def test_a_bomb_is_turned_away_by_its_header(tmp_path):
    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    path = tmp_path / "bomb.png"
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"0"))
        + chunk(b"IEND", b"")
    )
    with pytest.raises(ArtworkError, match=r"absurd size|at most 150 million"):
        art.read_artwork(path)


def test_greys_are_no_colours(tmp_path):
    Image.new("RGB", (50, 50), (120, 121, 120)).save(tmp_path / "g.png")
    with pytest.raises(ArtworkError, match="without colour"):
        art.read_artwork(tmp_path / "g.png")


def test_a_turned_photograph_is_turned(tmp_path):
    image = Image.open(picture(tmp_path))
    exif = Image.Exif()
    exif[0x0112] = 6
    image.save(tmp_path / "turned.jpg", exif=exif, quality=95)
    artwork = art.read_artwork(tmp_path / "turned.jpg")
    assert artwork.size == (100, 200)
    assert artwork.solid.shape == (200, 100)
    top = art.patch_in(artwork, art.Region(0, 0, 100, 20), name="mid")
    assert colour.delta_e_2000(top.lab, lab(RED)) < 3.0


@pytest.mark.parametrize("text", ["", "1,2,3", "a,b,c,d", "90,0,20,10", "0,0,0,10", "-1,0,5,5"])
def test_regions_that_are_none_are_told(text):
    with pytest.raises(LayersimError, match="region: found"):
        art.region_from(text)
