"""Chips and preshades photographed beside a chart or grey cards, by an oracle's camera."""

from __future__ import annotations

import functools

import numpy as np
import pytest

from layersim import colour
from layersim.chance import NINETY
from layersim.errors import PhotographError
from layersim.fitting.chip import Grey, SeenSpot, read_reference, spot_seen
from layersim.measure.card import Rect, standard_card
from layersim.measure.rectify import project
from tests.measure import camera as cam

CARD = standard_card()
GREYS = sorted(CARD.neutrals, key=lambda neutral: float(np.mean(neutral.reflectance)))


@functools.cache
def spectra():
    """Films as paints have them: one strong edge or band, and greys."""
    nm = np.linspace(400.0, 700.0, 31)
    found = {}
    for i, patch in enumerate(CARD.patches):
        edge = 1.0 / (1.0 + np.exp(-(nm - 440.0 - 14.0 * i) / 30.0))
        band = np.exp(-0.5 * ((nm - 430.0 - 15.0 * i) / 55.0) ** 2)
        of_kind = (0.10 + 0.5 * edge, 0.12 + 0.3 * band, np.full(31, 0.05 + 0.05 * i))
        found[patch.name] = of_kind[i % 3]
    return found


def photographed(folder, **shot):
    taken = cam.Shot(width_px=900, height_px=1200, oversample=1, falloff=0.06, **shot)
    grounds = {patch.ground: np.full(31, 0.5) for patch in CARD.patches}
    frame = cam.photograph(CARD, spectra(), grounds, taken)
    return cam.save_jpeg(folder / "model.jpg", frame, quality=92), frame, taken


def at(frame, shot, rect: Rect):
    x, y = project(frame.to_px, np.array(rect.centre_mm) + np.array(cam._CARD_AT))
    return float(100.0 * x / (shot.width_px - 1)), float(100.0 * y / (shot.height_px - 1))


def read_all(path, frame, shot, greys=()):
    reference = read_reference(path, greys=greys, size=2.0)
    seen = [spot_seen(reference, at(frame, shot, patch.rect), size=2.0) for patch in CARD.patches]
    truth = [colour.lab(spectra()[patch.name], colour.Viewing()) for patch in CARD.patches]
    return seen, np.array(truth)


@pytest.mark.parametrize(
    "shot",
    [
        {"camera": "A", "light": "D65"},
        {"camera": "B", "light": "LED-B3", "look": "phone 1"},
        {"camera": "C", "light": "A", "look": "phone 2"},
    ],
)
def test_beside_a_chart_chips_are_read_within_their_range(tmp_path, shot):
    seen, truth = read_all(*photographed(tmp_path, **shot))
    found = np.array([one.lab for one in seen])
    assert np.median(colour.delta_e_2000(found, truth)) < 1.5
    off = np.abs(found - truth) <= np.array([[one.doubt] for one in seen])
    assert off.mean() > 0.8
    assert max(one.doubt for one in seen) < 8.0


def test_greys_beside_one_grey_card_are_read_within_their_range(tmp_path):
    path, frame, shot = photographed(tmp_path, camera="A", light="D65", look="phone 1")
    card = Grey(at(frame, shot, GREYS[1].rect), float(np.mean(GREYS[1].reflectance)))
    seen, truth = read_all(path, frame, shot, [card])
    greys = slice(2, None, 3)
    off = np.array([one.lab[0] for one in seen])[greys] - truth[greys, 0]
    assert (np.abs(off) <= np.array([one.lightness_doubt for one in seen])[greys]).mean() > 0.8
    # Far from the card a maker's tone curve is in doubt, beside it not.
    far = np.argsort(np.abs(truth[greys, 0] - 49.5))
    doubts = np.array([one.lightness_doubt for one in seen])[greys][far]
    assert doubts[0] < 3.0 < doubts[-1]


def test_more_grey_cards_tell_more(tmp_path):
    path, frame, shot = photographed(tmp_path, camera="A", light="D65", look="phone 1")
    cards = [Grey(at(frame, shot, one.rect), float(np.mean(one.reflectance))) for one in GREYS]
    one, truth = read_all(path, frame, shot, cards[1:2])
    three, _ = read_all(path, frame, shot, cards)
    greys = slice(2, None, 3)

    def miss(seen):
        return float(np.abs(np.array([spot.lab[0] for spot in seen]) - truth[:, 0])[greys].mean())

    assert miss(three) < 0.6 * miss(one)
    assert np.mean([s.lightness_doubt for s in three]) < np.mean([s.lightness_doubt for s in one])


def test_without_a_chart_nothing_is_read(tmp_path):
    path, *_ = photographed(tmp_path, chart=None)
    with pytest.raises(PhotographError, match=r"no 24-patch chart is found.*grey card"):
        read_reference(path)


@pytest.mark.parametrize("where", [(-1.0, 5.0), (float("nan"), 5.0), (101.0, 5.0)])
def test_a_point_outside_is_told(tmp_path, where):
    path, frame, shot = photographed(tmp_path)
    reference = read_reference(path, greys=[Grey(at(frame, shot, GREYS[1].rect))], size=2.0)
    with pytest.raises(PhotographError, match="inside the picture"):
        spot_seen(reference, where)


def test_an_edge_is_no_chip(tmp_path):
    path, frame, shot = photographed(tmp_path)
    reference = read_reference(path, greys=[Grey(at(frame, shot, GREYS[1].rect))], size=2.0)
    with pytest.raises(PhotographError, match="cannot be read"):
        spot_seen(reference, (2.0, 2.0), size=90.0)


def test_the_doubt_is_of_nine_in_ten():
    # One standard deviation of 2 in L* and none besides: 2 · 1.645 of L*, and 1/√3 of it of all three.
    seen = SeenSpot(np.zeros(3), np.diag([4.0, 0.0, 0.0]), ())
    assert seen.lightness_doubt == pytest.approx(2.0 * NINETY)
    assert seen.doubt == pytest.approx(2.0 * NINETY / np.sqrt(3.0))
