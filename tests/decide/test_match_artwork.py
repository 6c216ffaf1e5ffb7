"""Targets from pictures: profile, regions, main colours, and every kind of picture that is none."""

from __future__ import annotations

import os
import struct
import subprocess
import sys
import zlib

import numpy as np
import pytest
from PIL import Image, ImageCms

from layersim import colour
from layersim.decide import artwork as art
from layersim.errors import ArtworkError, LayersimError
from layersim.views.artwork import sentences
from tests.decide.hostile import OTHER_KINDS, sound_pictures, spoilt, survives

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
    # What lies beside an edge counts for neither.
    assert [p.share for p in found] == pytest.approx([0.5, 0.3, 0.2], abs=0.05)
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
    artwork = art.read_artwork(tmp_path / "c.png")
    patch = art.patch_in(artwork, art.Region(0, 0, 40, 100), name="mid")
    assert patch.lab[0] == pytest.approx(colour.lab(np.full(31, 0.5), colour.Viewing())[0], abs=0.2)
    assert patch.clipped > 0.4
    assert any("true colour is lost" in said for said in sentences(artwork, {"mid": patch}, proposed=False))


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
    assert one.profile is not None
    assert two.profile is None
    assert any("profile was used" in said for said in sentences(one, {}, proposed=True))
    assert any("sRGB is assumed" in said for said in sentences(two, {}, proposed=True))
    np.testing.assert_allclose(one.linear, two.linear, atol=0.02)
    # An L*a*b* picture with Pillow's own profile: its numbers are the colours themselves.
    image = Image.new("LAB", (40, 40), (128, 128 + 40, 128))
    image.paste((180, 128, 128 + 50), (20, 0, 40, 40))
    path = tmp_path / "lab.tif"
    image.save(path, icc_profile=ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes())
    found = art.read_artwork(path)
    assert found.profile is not None
    seen = found.lab[20, 5]
    assert seen[0] == pytest.approx(128 / 2.55, abs=2.5)
    assert seen[1] == pytest.approx(40, abs=5)


def test_a_spoilt_profile_is_told(tmp_path):
    path = picture(tmp_path, icc_profile=b"no profile at all")
    found = art.read_artwork(path)
    assert found.profile is None
    assert any("profile cannot be read" in said for said in sentences(found, {}, proposed=True))


def test_transparency_is_no_colour(tmp_path):
    image = Image.new("RGBA", (40, 40), (0, 0, 0, 0))
    image.paste((*RED, 255), (0, 0, 20, 40))
    image.save(tmp_path / "t.png")
    found = art.main_colours(art.read_artwork(tmp_path / "t.png"))
    assert len(found) == 1
    assert colour.delta_e_2000(found[0].lab, lab(RED)) < 0.3
    with pytest.raises(LayersimError, match="transparency"):
        art.patch_in(art.read_artwork(tmp_path / "t.png"), art.Region(60, 0, 30, 100), name="mid")


@pytest.mark.parametrize("mode", ["P", "RGBA", "CMYK"])
def test_other_kinds_of_pictures(tmp_path, mode):
    with Image.open(picture(tmp_path)) as opened:
        base = opened.copy()
    path = tmp_path / ("k.tif" if mode == "CMYK" else "k.png")
    (base.quantize(8) if mode == "P" else base.convert(mode)).save(path)
    found = art.main_colours(art.read_artwork(path))
    assert len(found) == 3


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "empty"),
        (b"hello", "found no picture of a kind read here"),
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
    with pytest.raises(ArtworkError, match="damaged, cut short"):
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
    with pytest.raises(ArtworkError, match="expected at most 60 million"):
        art.read_artwork(path)


def test_a_sixteen_bit_ramp_is_read_to_its_end(tmp_path):
    """Half of full scale is the sRGB value 0.5, of linear light 0.2140 (IEC 61966-2-1)."""
    deep = np.repeat(np.linspace(0, 65535, 101).round().astype(np.uint16)[np.newaxis], 20, axis=0)
    Image.fromarray(deep).save(tmp_path / "deep.tif")
    found = art.read_artwork(tmp_path / "deep.tif").linear[10, :, 0]
    assert found[[0, 50, 100]] == pytest.approx([0.0, 0.2140, 1.0], abs=0.004)


def test_grey_art_is_a_picture_of_lightness(tmp_path):
    """A warm grey of C* 2 has no colour: its targets are neutral, and of the same lightness."""
    image = Image.new("RGB", (90, 60), (128, 126, 122))
    image.paste((60, 59, 57), (10, 10, 40, 50))
    image.paste((220, 218, 214), (50, 10, 80, 50))
    image.save(tmp_path / "g.png")
    artwork = art.read_artwork(tmp_path / "g.png")
    chosen = art.proposed_targets(artwork, art.main_colours(artwork))
    assert artwork.is_grey
    assert all(np.hypot(*patch.lab[1:]) < 0.05 for patch in chosen.values())
    assert chosen["shadow"].lab[0] < chosen["light"].lab[0]
    assert any("only its lightness" in said for said in sentences(artwork, chosen, proposed=True))


@pytest.mark.parametrize(("kind", "side", "cell"), [("PNG", 1500, 5), ("PNG", 1201, 4), ("JPEG", 1800, 6)])
def test_dots_of_ink_reflect_what_they_leave_of_the_paper(tmp_path, kind, side, cell):
    """White paper of which dots of black cover some 47 %: 53 % of its light, L* 78 (CIE 1976)."""
    y, x = np.mgrid[:cell, :cell] - (cell - 1) / 2
    rank = np.hypot(x, y).ravel().argsort(kind="stable").argsort().reshape(cell, cell)
    black = round(0.47 * cell**2)
    dots = np.tile(np.where(rank < black, 0, 255), (side // cell + 1, side // cell + 1))[:side, :side]
    image = np.repeat(dots[..., np.newaxis], 3, axis=2).astype(np.uint8)
    # A frame of colour, so that the picture is not taken for a grey one.
    image[: side // 10] = RED
    Image.fromarray(image).save(tmp_path / "dots", kind, quality=95)
    artwork = art.read_artwork(tmp_path / "dots")
    expected = 116.0 * (1.0 - black / cell**2) ** (1 / 3) - 16.0
    assert expected == pytest.approx(78, abs=2)
    region = art.patch_in(artwork, art.Region(20, 20, 70, 70), name="mid")
    assert region.lab[0] == pytest.approx(expected, abs=1.0)
    assert art.main_colours(artwork)[0].lab[0] == pytest.approx(expected, abs=1.5)


def lettered(tmp_path, stroke):
    """A red cloak from dark to light on a pale ground, under rows of white letters with soft edges."""
    side = 900
    shade = np.linspace(0.35, 1.0, side)[:, np.newaxis, np.newaxis] * np.array([190.0, 28.0, 36.0])
    image = np.repeat(shade, side, axis=1)
    letters = np.zeros((side, side))
    for top in range(200, 700, 120):
        for left in range(200, 700, 10 * stroke):
            letters[top : top + 50, left : left + stroke] = 1.0
            letters[top : top + stroke, left : left + 5 * stroke] = 1.0
    letters = (
        letters + np.roll(letters, 1, 0) + np.roll(letters, 1, 1) + np.roll(letters, (1, 1), (0, 1))
    ) / 4
    image += letters[..., np.newaxis] * (255.0 - image)
    image[:90] = image[-90:] = image[:, :90] = image[:, -90:] = (200, 195, 180)
    Image.fromarray(image.astype(np.uint8)).save(tmp_path / "cover.jpg", quality=90)
    return art.read_artwork(tmp_path / "cover.jpg")


@pytest.mark.parametrize("stroke", [3, 6, 9])
def test_edges_and_lettering_are_no_colours(tmp_path, stroke):
    """All that is proposed of a red cloak under letters is red, and so are the tones of a region of it."""
    artwork = lettered(tmp_path, stroke)
    colours = art.main_colours(artwork)
    for found in (art.proposed_targets(artwork, colours), art.tones_in(artwork, art.Region(15, 15, 70, 70))):
        for patch in found.values():
            L, chroma, hue = colour.lch(patch.lab)
            assert chroma > 30, patch
            assert 15 < hue < 45, patch
            assert L < 45, patch
    # Nothing between red and white: no pink.
    assert not any(10 < colour.lch(patch.lab)[1] < 30 for patch in colours)


# --- pictures nobody should trust -----------------------------------------------------------------


@pytest.mark.parametrize("content", OTHER_KINDS)
def test_a_format_is_told_by_content_and_only_a_painters_are_opened(tmp_path, content):
    (tmp_path / "art.jpg").write_bytes(content)
    with pytest.raises(ArtworkError, match="found no picture of a kind read here"):
        art.read_artwork(tmp_path / "art.jpg")


def test_hostile_pictures_give_colours_or_one_line(tmp_path, capfd):
    """Some hundreds here; ``python -m tests.fuzz`` tries many."""
    draw = np.random.default_rng(7)
    whole = sound_pictures()
    read = [survives(tmp_path / "art.png", content) is not None for content in whole]
    assert sum(read) >= len(read) - 2, "all but 32 bits a pixel, and L*a*b* without a profile"
    for content in whole:
        for _ in range(15):
            survives(tmp_path / "art.png", spoilt(content, draw))
    assert capfd.readouterr().err == ""


def test_a_huge_photograph_is_shrunk_while_it_is_decoded(tmp_path):
    """63 megapixels would take 250 MB; what a process grows by is measured in one of its own."""
    Image.new("RGB", (9_000, 7_000), RED).save(tmp_path / "huge.jpg")
    code = (
        "import resource, sys; from pathlib import Path; from layersim.decide import artwork as art;"
        "import PIL.Image, PIL.ImageCms; usage = lambda: resource.getrusage(resource.RUSAGE_SELF).ru_maxrss;"
        "before = usage(); a = art.read_artwork(Path(sys.argv[1])); "
        "print(usage() - before, *a.lab.mean((0, 1)))"
    )
    told = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "huge.jpg")], capture_output=True, text=True, check=True
    )
    grown_kb, *found = (float(word) for word in told.stdout.split())
    assert grown_kb < 150_000
    assert colour.delta_e_2000(np.array(found), lab(RED)) < 1.0


def test_a_pipe_is_no_picture(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(ArtworkError, match="not an ordinary file"):
        art.read_artwork(tmp_path / "pipe")


def test_a_turned_photograph_is_turned(tmp_path):
    image = Image.open(picture(tmp_path))
    exif = Image.Exif()
    exif[0x0112] = 6
    image.save(tmp_path / "turned.jpg", exif=exif, quality=95)
    artwork = art.read_artwork(tmp_path / "turned.jpg")
    assert artwork.solid.shape == (200, 100)
    top = art.patch_in(artwork, art.Region(0, 0, 100, 20), name="mid")
    assert colour.delta_e_2000(top.lab, lab(RED)) < 3.0


@pytest.mark.parametrize("text", ["", "1,2,3", "a,b,c,d", "90,0,20,10", "0,0,0,10", "-1,0,5,5"])
def test_regions_that_are_none_are_told(text):
    with pytest.raises(LayersimError, match="region: found"):
        art.region_from(text)
