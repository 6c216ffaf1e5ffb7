"""Each word holds for its range and no further."""

from __future__ import annotations

import numpy as np
import pytest

from layersim import colour
from layersim.views import words


@pytest.mark.parametrize(
    ("at", "below", "from_there"),
    [
        (0.8, "not to be seen", "to be seen side by side only"),
        (1.8, "to be seen side by side only", "plain to see"),
        (5.0, "plain to see", "striking"),
    ],
)
def test_sizes_change_at_their_ends(at, below, from_there):
    assert words.size_words(np.nextafter(at, 0.0)) == below
    assert words.size_words(at) == from_there


@pytest.mark.parametrize(
    ("share", "word"),
    [
        (0.049, ""),
        (0.051, "a tenth"),
        (0.149, "a tenth"),
        (0.151, "a fifth"),
        (0.224, "a fifth"),
        (0.226, "a quarter"),
        (0.289, "a quarter"),
        (0.291, "a third"),
        (0.414, "a third"),
        (0.416, "half"),
        (0.579, "half"),
        (0.581, "two thirds"),
        (0.709, "two thirds"),
        (0.711, "three quarters"),
        (0.849, "three quarters"),
        (0.851, "nearly all"),
    ],
)
def test_a_loss_of_chroma_is_told_in_fractions(share, word):
    told = words.chroma_words(60.0, 60.0 * (1.0 - share))
    assert told == (f"loses {word} of its chroma (C* 60 to {60 * (1 - share):.0f})" if word else "")


@pytest.mark.parametrize(
    ("to", "start"),
    [
        (20.9, ""),
        (21.1, "gains a tenth more chroma"),
        (30.0, "gains half as much chroma again"),
        (36.9, "gains three quarters more chroma"),
        (37.1, "has twice the chroma"),
        (49.9, "has twice the chroma"),
        (50.1, "has 3 times the chroma"),
    ],
)
def test_a_gain_of_chroma_is_told_in_fractions_and_times(to, start):
    told = words.chroma_words(20.0, to)
    assert told.startswith(start)
    assert bool(told) == bool(start)


def test_every_fraction_lies_nearest_to_the_share_it_is_said_of():
    fractions = {
        "a tenth": 0.1,
        "a fifth": 0.2,
        "a quarter": 0.25,
        "a third": 1 / 3,
        "half": 0.5,
        "two thirds": 2 / 3,
        "three quarters": 0.75,
    }
    for share in np.linspace(0.06, 0.80, 149):
        told = words.chroma_words(100.0, 100.0 * (1.0 - share)).removeprefix("loses ").split(" of its")[0]
        nearest = min(abs(share - value) for value in fractions.values())
        assert abs(share - fractions[told]) <= nearest + 0.011, (share, told)


def test_greys_have_no_chroma_to_lose_and_no_hue_to_turn():
    assert words.chroma_words(4.9, 0.1) == ""
    assert words.chroma_words(5.1, 4.9) == ""
    assert words.chroma_words(20.0, 4.9) == "turns grey (C* 20 to 5)"
    assert words.chroma_words(4.9, 20.0) == "turns from a grey into a colour (C* 5 to 20)"
    assert words.hue_words([50.0, 4.0, 0.0], [50.0, 0.0, 4.0]) == ""


def test_near_neutral_the_tint_is_told():
    """Cool to violet grey was told as "a trace darker", a* 4 to b* 4 as "hardly changes"."""
    assert words.change_words([50.0, -2.0, -3.0], [49.2, 4.0, -4.0]).startswith(
        "a trace darker (L* 50.0 to 49.2), tint turned towards violet"
    )
    assert words.change_words([50.0, 4.0, 0.0], [50.0, 0.0, 4.0]).startswith("tint turned towards yellowish")
    assert words.change_words([50.0, 5.1, 0.0], [50.0, 4.9, 0.0]) == "hardly changes"


def test_what_is_seen_is_told():
    """No visible difference "hardly changes", and one of tint is not told as one of lightness."""
    draw = np.random.default_rng(0)
    one = np.column_stack([draw.uniform(20, 80, 4000), draw.normal(0.0, 6.0, (4000, 2))])
    two = one + draw.normal(0.0, 3.0, (4000, 3)) * [0.3, 1.0, 1.0]
    seen = colour.delta_e_2000(one, two)
    alike = two.copy()
    alike[:, 0] = one[:, 0]
    tint = colour.delta_e_2000(one, alike)
    for i in np.flatnonzero(seen > 1.5):
        told = words.change_words(one[i], two[i])
        assert told != "hardly changes", (one[i], two[i])
        if tint[i] > 2.5:
            assert any(word in told for word in ("tint", "chroma", "hue", "grey")), (one[i], two[i], told)


@pytest.mark.parametrize(
    ("change", "start"),
    [
        (0.49, ""),
        (0.51, "a trace "),
        (1.49, "a trace "),
        (1.51, "a little "),
        (3.99, "a little "),
        (4.01, "lighter"),
        (9.99, "lighter"),
        (10.01, "much "),
    ],
)
def test_lightness_words_change_at_their_ends(change, start):
    assert words.lightness_words(50.0, 50.0 + change).startswith(start)
    assert bool(words.lightness_words(50.0, 50.0 + change)) == bool(start)
    assert words.lightness_words(50.0, 50.0 - change).replace("darker", "lighter").startswith(start)


@pytest.mark.parametrize(
    ("hue", "turn", "said"), [(350.0, 8.0, "red"), (10.0, -15.0, "blue"), (100.0, 9.0, "green")]
)
def test_hue_turns_towards_what_comes_next_across_360(hue, turn, said):
    def lab(angle):
        return [50.0, 30.0 * np.cos(np.radians(angle)), 30.0 * np.sin(np.radians(angle))]

    assert words.hue_words(lab(hue), lab(hue + turn)) == f"hue turned {abs(turn):.0f}° towards {said}"
    assert words.hue_words(lab(hue), lab(hue + 2.9)) == ""


@pytest.mark.parametrize(
    ("kept", "said"),
    [
        (-0.2, "turns that into a gain"),
        (0.0, "gives back all of it"),
        (0.3, "gives back most of it"),
        (0.5, "gives back half of it"),
        (0.7, "gives back some of it"),
        (1.0, "leaves it so"),
        (1.3, "makes it more"),
    ],
)
def test_what_the_filter_gives_back(kept, said):
    told = words.given_back_words(-0.33, -0.33 * kept, step="the filter")
    assert told == f"before the filter it had lost a third of its chroma; the filter {said}"
    gained = words.given_back_words(0.33, 0.33 * kept, step="the filter")
    assert gained.startswith("before the filter it had a third more chroma; the filter ")
    taken = said.replace("gives back", "takes").replace("of it", "of that gain away")
    assert gained.endswith(taken.replace("into a gain", "into a loss"))
    assert words.given_back_words(-0.149, 0.0, step="the filter") == ""


@pytest.mark.parametrize(
    ("gain", "had"),
    [
        (0.2, "had a fifth more chroma"),
        (0.5, "had half as much chroma again"),
        (0.9, "had twice the chroma"),
        (1.6, "had 3 times the chroma"),
    ],
)
def test_what_had_been_gained_before_the_filter(gain, had):
    said = words.given_back_words(gain, 0.3 * gain, step="the filter")
    assert said == f"before the filter it {had}; the filter takes most of that gain away"
    assert "all as much" not in said


def test_every_light_has_words():
    for light in colour.LIGHTS:
        assert words.light_words(light).endswith(f" ({light})")


def test_the_scale_names_the_sizes_that_words_stand_for():
    assert f"{words.SEEN:g} side by side" in words.SCALE
    assert f"find {words.DISTURBS:g} too much" in words.SCALE
    assert words.size_words(words.STRIKING) == "striking" != words.size_words(words.STRIKING - 0.01)


def test_unique_hues_are_those_of_a_published_appearance_model():
    """CIECAM02's unique hues (CIE 159:2004), taken into CIELAB by colour-science's inverse of it."""
    with np.printoptions():
        from colour.appearance import CAM_Specification_CIECAM02, CIECAM02_to_XYZ
        from colour.appearance.ciecam02 import HUE_DATA_FOR_HUE_QUADRATURE
    white = colour.Viewing().white
    # A white of 318 cd/m² (1000 lx), a surround of a fifth of it: a well-lit table.
    white_cd_m2, surround = 1000.0 / np.pi, 20.0
    lightness, chroma = np.meshgrid(np.arange(30.0, 81.0, 10.0), np.arange(20.0, 51.0, 10.0))
    for (angle, _), h in zip(words._HUES, HUE_DATA_FOR_HUE_QUADRATURE["h_i"][:4], strict=True):
        colours = CAM_Specification_CIECAM02(J=lightness, C=chroma, h=np.full(lightness.shape, h))
        xyz = CIECAM02_to_XYZ(colours, white, white_cd_m2 * surround / 100.0, surround)
        away = (colour.lch(colour.lab_from_xyz(xyz, white))[..., 2] - angle + 180.0) % 360.0 - 180.0
        assert abs(away.mean()) < 1.0, angle
        assert np.abs(away).max() < 6.0, angle
    assert [name for _, name in words._HUES] == ["red", "yellow", "green", "blue"]
