"""Reading patches: unbiased, with the noise it says, and blind to glare, shadow and edges."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from layersim.colour import decode_srgb, encode_srgb
from layersim.measure.card import Rect
from layersim.measure.patches import even_light, read_light, read_patch
from layersim.measure.photograph import SRGB_TO_XYZ_D50, Photograph
from layersim.measure.rectify import Placement

CARD = Rect(0.0, 0.0, 100.0, 80.0)
PLACEMENT = Placement(np.array([[8.0, 0.0, -0.5], [0.0, 8.0, -0.5], [0.0, 0.0, 1.0]]), 8.0)
PATCH = Rect(40.0, 30.0, 16.0, 16.0)
SURROUND = (Rect(2, 2, 96, 6), Rect(2, 72, 96, 6), Rect(2, 10, 6, 60), Rect(92, 10, 6, 60))
COLOUR = np.array([0.4, 0.25, 0.1])


def shot(linear: np.ndarray, *, bits: int = 16) -> Photograph:
    top = 2**bits - 1
    levels = np.rint(np.clip(linear, 0, 1) * top).astype(np.uint16 if bits == 16 else np.uint8)
    curve = np.repeat(np.linspace(0, 1, top + 1)[:, None], 3, axis=1)
    return Photograph(Path("p.tif"), levels, curve, SRGB_TO_XYZ_D50, top)


def canvas(colour: np.ndarray = COLOUR) -> np.ndarray:
    image = np.full((640, 800, 3), 0.8)
    image[area(PATCH)] = colour
    return image


def area(rect: Rect) -> tuple[slice, slice]:
    return (
        slice(round(rect.y_mm * 8), round((rect.y_mm + rect.height_mm) * 8)),
        slice(round(rect.x_mm * 8), round((rect.x_mm + rect.width_mm) * 8)),
    )


def noisy(image: np.ndarray, seed: int = 0, sigma: float = 0.01, blur: int = 1) -> np.ndarray:
    noise = np.random.default_rng(seed).standard_normal(image.shape) * sigma
    if blur > 1:
        cv2 = pytest.importorskip("cv2")
        noise = cv2.blur(noise, (blur, blur))
    return image + noise * np.sqrt(image / 0.5)


def test_mean_is_unbiased_and_quiet() -> None:
    reading = read_patch(shot(noisy(canvas())), PLACEMENT, PATCH, even_light(CARD))
    assert reading.usable
    assert reading.flags == ()
    np.testing.assert_allclose(reading.rgb, COLOUR, rtol=2e-3)


def test_what_a_jpeg_rounds_is_in_the_covariance() -> None:
    """Errors of many even patches of random colour, in units of what is said: about one in each channel."""
    rng = np.random.default_rng(3)
    curve = np.repeat(decode_srgb(np.arange(256) / 255.0)[:, np.newaxis], 3, axis=1)
    pulls = []
    for seed in range(30):
        colour = np.exp(rng.uniform(np.log(0.05), np.log(0.6), 3))
        encoded = encode_srgb(np.clip(noisy(np.tile(colour, (640, 800, 1)), seed), 0.0, 1.0))
        held = io.BytesIO()
        Image.fromarray(np.rint(encoded * 255.0).astype(np.uint8)).save(held, "JPEG", quality=90)
        photograph = Photograph(Path("p.jpg"), np.asarray(Image.open(held)), curve, SRGB_TO_XYZ_D50, 255)
        reading = read_patch(photograph, PLACEMENT, PATCH, even_light(CARD))
        pulls.append((reading.rgb - colour) / np.sqrt(np.diag(reading.covariance)))
    rms = np.sqrt(np.mean(np.square(pulls), axis=0))
    assert (rms > 0.6).all()
    assert (rms < 1.1).all()


@pytest.mark.parametrize("blur", [1, 5])
def test_covariance_is_the_scatter_of_repeated_photographs(blur: int) -> None:
    """Also where the camera has smeared its noise, which a count of pixels would belittle."""
    readings = [
        read_patch(shot(noisy(canvas(), seed, blur=blur)), PLACEMENT, PATCH, even_light(CARD))
        for seed in range(60)
    ]
    light = 0.002**2 * np.outer(COLOUR, COLOUR)
    scatter = np.cov(np.array([r.rgb for r in readings]).T)
    said = np.mean([r.covariance for r in readings], axis=0) - light
    ratio = np.diag(said) / np.diag(scatter)
    assert (ratio > 0.6).all(), ratio
    assert (ratio < 1.8).all(), ratio


@pytest.mark.parametrize(
    ("where", "value", "word"),
    [
        (Rect(42, 32, 4, 4), 0.95, "glare"),
        (Rect(48, 38, 5, 5), 0.5, "glare"),
        (Rect(43, 34, 5, 4), 0.08, "shadow"),
        (Rect(40, 30, 5, 16), 0.8, "edge"),
        (Rect(40, 42, 16, 4), 0.02, "edge"),
    ],
)
def test_glare_shadow_and_edges_are_left_out_and_named(where: Rect, value: float, word: str) -> None:
    image = canvas()
    image[area(where)] = value
    reading = read_patch(shot(noisy(image)), PLACEMENT, PATCH, even_light(CARD))
    assert reading.usable
    assert any(flag.startswith(word) for flag in reading.flags), reading.flags
    np.testing.assert_allclose(reading.rgb, COLOUR, rtol=4e-3)


def test_half_in_shadow_is_refused() -> None:
    image = canvas()
    image[area(Rect(40, 30, 8, 16))] *= 0.6
    reading = read_patch(shot(noisy(image)), PLACEMENT, PATCH, even_light(CARD))
    assert not reading.usable
    assert any("two tones" in flag or "left out" in flag for flag in reading.flags)


def test_mottled_paint_is_read_with_more_doubt() -> None:
    image = canvas()
    y, x = np.mgrid[0:640, 0:800] / 8.0
    mottle = 1 + 0.06 * np.sin(2 * np.pi * x / 4.1) * np.sin(2 * np.pi * y / 5.3)
    even = read_patch(shot(noisy(image)), PLACEMENT, PATCH, even_light(CARD))
    mottled = read_patch(shot(noisy(image * mottle[..., None])), PLACEMENT, PATCH, even_light(CARD))
    assert mottled.usable
    assert any("uneven" in flag for flag in mottled.flags)
    assert mottled.covariance[0, 0] > 3 * even.covariance[0, 0]
    np.testing.assert_allclose(mottled.rgb, COLOUR, rtol=0.02)


@pytest.mark.parametrize("bits", [8, 16])
def test_clipped_is_refused(bits: int) -> None:
    image = canvas(np.array([1.2, 0.6, 0.5]))
    reading = read_patch(shot(noisy(image), bits=bits), PLACEMENT, PATCH, even_light(CARD))
    assert not reading.usable
    assert any("clipped" in flag for flag in reading.flags)


def test_colour_beyond_the_file_is_refused() -> None:
    image = canvas(np.array([-0.05, 0.3, 0.4]))
    reading = read_patch(shot(np.maximum(image, 0)), PLACEMENT, PATCH, even_light(CARD))
    assert not reading.usable
    assert any("stands at 0" in flag for flag in reading.flags)


def test_dark_paint_in_a_linear_file_is_not_taken_for_cut_off() -> None:
    reading = read_patch(shot(noisy(canvas(np.full(3, 0.006)))), PLACEMENT, PATCH, even_light(CARD))
    assert reading.usable
    assert reading.flags == ()
    np.testing.assert_allclose(reading.rgb, 0.006, rtol=0.02)


def test_noise_cut_off_at_black_does_not_lift_it() -> None:
    image = canvas(np.array([0.2, 0.1, 0.004]))
    rng = np.random.default_rng(1)
    reading = read_patch(shot(image + rng.normal(0, 0.006, image.shape)), PLACEMENT, PATCH, even_light(CARD))
    assert reading.rgb[2] == pytest.approx(0.004, abs=3e-4)


def test_outside_and_too_small() -> None:
    light = even_light(CARD)
    photograph = shot(canvas())
    outside = read_patch(photograph, PLACEMENT, Rect(95.0, 30.0, 20.0, 16.0), light)
    assert not outside.usable
    assert "outside the picture" in outside.flags
    assert np.isnan(outside.rgb).all()
    away = read_patch(photograph, PLACEMENT, Rect(300.0, 30.0, 20.0, 16.0), light)
    assert "outside the picture" in away.flags
    small = read_patch(photograph, PLACEMENT, Rect(50.0, 30.0, 1.0, 1.0), light)
    assert not small.usable
    assert any("too small" in flag for flag in small.flags)


# -- light -----------------------------------------------------------------------------------------


def falloff() -> np.ndarray:
    """A lens's cos⁴ about a point off the middle, 20 % down in the far corner, warmer to one side."""
    y, x = np.mgrid[0:640, 0:800] / np.array([640.0, 800.0])[:, None, None]
    r2 = ((x - 0.4) ** 2 + (y - 0.6) ** 2) / 0.72
    shade = 1.0 / (1.0 + 0.118 * r2) ** 2
    return shade[..., None] * (1.0 + np.array([0.03, 0.0, -0.03]) * (x - 0.5)[..., None])


def test_uneven_light_is_taken_off() -> None:
    shade = falloff()
    photograph = shot(noisy(canvas() * shade))
    light = read_light(photograph, PLACEMENT, CARD, SURROUND)
    assert light.order == 2
    middle = shade[320, 400]
    for rect in (Rect(12, 12, 10, 10), Rect(80, 60, 10, 10), PATCH):
        truth = (canvas()[area(rect)][40, 40]) * middle
        reading = read_patch(photograph, PLACEMENT, rect, light)
        np.testing.assert_allclose(reading.rgb, truth, rtol=6e-3)
    assert light.falloff == pytest.approx(shade.min() / shade.max() - 1, abs=0.03)


def test_shadow_on_the_surround_does_not_bend_the_light() -> None:
    image = canvas() * falloff()
    image[area(Rect(60, 0, 40, 20))] *= 0.6
    image[area(Rect(0, 60, 12, 6))] = 0.2  # overspray
    light = read_light(shot(noisy(image)), PLACEMENT, CARD, SURROUND)
    assert len(light.odd_mm) > 10
    clean = read_light(shot(noisy(canvas() * falloff())), PLACEMENT, CARD, SURROUND)
    points = np.array([[10.0, 10.0], [50.0, 40.0], [90.0, 70.0], [90.0, 10.0]])
    np.testing.assert_allclose(light.at(points), clean.at(points), rtol=0.015)
    beside = read_patch(shot(noisy(image)), PLACEMENT, Rect(70.0, 10.0, 16.0, 12.0), light)
    assert any("surround beside it" in flag for flag in beside.flags) or not beside.usable


def test_little_surround_means_a_simpler_light() -> None:
    photograph = shot(noisy(canvas() * falloff()))
    assert read_light(photograph, PLACEMENT, CARD, ()).order == 0
    one_side = read_light(photograph, PLACEMENT, CARD, (Rect(2, 2, 96, 2.5),))
    assert one_side.order == 0, "a single strip says nothing of the other direction"
    clipped = shot(np.ones((640, 800, 3)))
    assert read_light(clipped, PLACEMENT, CARD, SURROUND).order == 0
