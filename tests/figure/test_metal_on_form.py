"""Metal on a form: seen at the angle at which each place of it is seen."""

from __future__ import annotations

import numpy as np
import pytest

from layersim.figure.look import lamp_for
from layersim.figure.onform import PointColours, paint_form
from layersim.optics import flakes
from layersim.scheme.records import Area, Hand, Scheme
from tests.figure.forms import form
from tests.scheme.test_metal import BLACK, BLUE, SILVER, coat

trimesh = pytest.importorskip("trimesh")
pytest.importorskip("embreex")

FRONT = np.array([0.0, 0.0, 1.0])


def test_a_flat_face_before_the_eye_is_seen_as_the_strip_has_it() -> None:
    """The studio's lamp stands 45 degrees above the eye, so a face that looks at it is turned by 45."""
    at = flakes.direction(lamp_for(FRONT), FRONT, normal=FRONT)
    for slope in (0.05, 0.1, 0.2):
        usual = flakes.lobe(flakes.turned(flakes.TURNED), np.array(slope**2))
        assert float(flakes.lobe(at, np.array(slope**2))) == pytest.approx(float(usual), rel=1e-9)


@pytest.mark.parametrize(("paint", "shines"), [(SILVER, True), (BLUE, False)])
def test_metal_glints_where_it_mirrors_the_lamp(paint: object, shines: bool) -> None:
    solid = form(trimesh.creation.icosphere(subdivisions=4))
    scheme = Scheme("x", (Area("frame", BLACK, None, (coat(paint),)),), hand=Hand())  # type: ignore[arg-type]
    found = paint_form(scheme, solid, {"all": "frame"}, name="ball", size_px=120, between="none")
    front = found.stages[-1].picture[:, :120].mean(axis=-1)
    there = np.abs(front - front[0, 0]) > 8.0
    rows, columns = (np.flatnonzero(there.any(axis=axis)) for axis in (1, 0))
    radius = np.ptp(columns) / 2.0
    ball = np.where(there, front, 0.0)
    lightest = np.argwhere(ball > ball.max() - 4.0).mean(axis=0)
    up, across = (rows.mean() - lightest[0]) / radius, (lightest[1] - columns.mean()) / radius
    # Halfway between the eye and the lamp. Paint is lightest where it faces the lamp, 45 degrees up.
    glints = abs(across) < 0.07 and abs(up - np.sin(np.radians(22.5))) < 0.09
    assert glints == shines


def test_what_outshines_white_keeps_its_hue_in_a_file_too() -> None:
    shining = PointColours(np.zeros((1, 3)), np.array([[0.8, 0.4, 0.2]]), np.array([[0.01, 0.0]]))
    lobe = float(flakes.lobe(flakes.turned(flakes.TURNED), np.array(0.01)))
    bright = PointColours(np.zeros((1, 3)), np.array([[0.8, 0.4, 0.2]]) * 4.0 / lobe, np.array([[0.01, 0.0]]))
    np.testing.assert_allclose(shining.turned()[0] / shining.turned().max(), [1.0, 0.5, 0.25])
    np.testing.assert_allclose(bright.turned()[0], [1.0, 0.5, 0.25])
