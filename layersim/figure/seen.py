"""A photograph of a preshaded model: how light each pixel is, and how the camera would show any colour.

A preshade is grey, so one number tells what a pixel is: its luminance factor Y, of a perfect white lit alike.
With v_c(Y) the value that channel c has for a grey of Y in this picture, known from a grey card or a chart
through the calibration (K1), (K2),

    Y = ¼ Y_r + ½ Y_g + ¼ Y_b,    v_c(Y_c) = the pixel's own value                              (F1)

The same calibration, turned round, tells what values the camera would give to a colour that it did not see:
its white balance, tone curve and look are this picture's own, so that what is new in it fits what is old.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.errors import PhotographError
from layersim.fitting.chip import Grey, read_reference
from layersim.measure.calibrate import Calibration
from layersim.measure.photograph import RAW_SUFFIXES, Levels, Photograph
from layersim.spectra import FloatArray

BINS: Final = 4096
"""Steps of lightness that pixels are sorted into."""
MOST_Y: Final = 2.0
"""Beyond twice a perfect white all pixels are alike: gloss, or a lamp in the picture."""
_SHARES: Final = (0.25, 0.5, 0.25)
_LEAST: Final = 1e-5
_STEPS: Final = 25
"""Of Newton's method; it needs some six for a camera's plain matrix, and a dozen for a maker's look."""
_SMALL: Final = 1e-6
_SETTLED: Final = 1e-5
"""In ln of a value: a hundredth of a level of 8 bits."""

_AS_GOOD_AS_TOP: Final = 0.985
"""Of the highest level: cameras bend their curve before it."""

Bins = npt.NDArray[np.uint16]


@dataclass(frozen=True, eq=False)
class ModelPhotograph:
    """A photograph in which greys are known."""

    photograph: Photograph
    calibration: Calibration
    notes: tuple[str, ...]
    """What a painter should know."""
    greys: tuple[Grey, ...] = ()
    """The grey cards that it is calibrated by; none with a chart."""

    @property
    def white(self) -> FloatArray:
        """XYZ of a perfect white in the picture's own light, Y = 100."""
        return self.calibration.viewing.white

    @functools.cached_property
    def bins(self) -> Bins:
        """Bins of the photograph's own pixels, as of :meth:`bins_of`."""
        return self.bins_of(self.photograph.levels)

    @functools.cached_property
    def lightest_bin(self) -> int:
        """The bin from which on a grey is as light as the picture can show."""
        top = round(_AS_GOOD_AS_TOP * self.photograph.top)
        return int(self.bins_of(np.full(3, top, dtype=self.photograph.levels.dtype)))

    def levels_of(self, xyz: FloatArray) -> FloatArray:
        """Return how this picture shows some colours, in levels 0 to 255 of its own encoding, shape (..., 3).

        `xyz`: shape (..., 3), for :attr:`white`. What it cannot show is shown as near as each channel gets.
        """
        wanted = np.maximum(np.asarray(xyz, dtype=np.float64), 100.0 * _LEAST).reshape(-1, 3)
        curve = self.photograph.curve
        scale = 255.0 / self.photograph.top
        linear = linear_of(self.calibration, wanted)
        levels = [np.interp(linear[:, c], curve[:, c], np.arange(len(curve)) * scale) for c in range(3)]
        return np.stack(levels, axis=-1).reshape(np.shape(xyz))

    def bins_of(self, levels: Levels) -> Bins:
        """Return in which bin of lightness each pixel of shape (..., 3) lies, shape (...), by (F1)."""
        Y = np.geomspace(_LEAST, MOST_Y, 200)
        greys = linear_of(self.calibration, 100.0 * Y[:, np.newaxis] * self.white / 100.0)
        found = np.zeros(levels.shape[:-1], dtype=np.float32)
        for c, share in enumerate(_SHARES):
            of_level = share * np.interp(self.photograph.curve[:, c], greys[:, c], Y)
            found += of_level.astype(np.float32)[levels[..., c]]
        np.sqrt(found, out=found)
        found *= np.float32((BINS - 1) / np.sqrt(MOST_Y))
        found += np.float32(0.5)
        return found.astype(np.uint16)


def luminance_of_bins() -> FloatArray:
    """Return Y of each bin of :meth:`ModelPhotograph.bins_of`, shape (BINS,), a perfect white having 1."""
    return np.asarray((np.arange(BINS) / (BINS - 1)) ** 2 * MOST_Y)


def linear_of(calibration: Calibration, xyz: FloatArray) -> FloatArray:
    """Return what linear values a camera gives to some colours, shape (n, 3): its calibration turned round.

    Newton's method in logarithms, all colours at once. What no camera value gives, the steps go no further
    towards than the least value.
    """
    aim = np.maximum(xyz, 100.0 * _LEAST)
    logs = np.log(np.full(aim.shape, 0.2))
    for _ in range(_STEPS):
        now = calibration.xyz(np.exp(logs))
        moved = [calibration.xyz(np.exp(logs + _SMALL * axis)) for axis in np.eye(3)]
        slope = np.stack([(one - now) / _SMALL for one in moved], axis=-1)
        # A channel at 0 moves nothing; it stays there.
        slope += 1e-12 * np.eye(3)
        step = np.linalg.solve(slope, (aim - now)[..., np.newaxis])[..., 0]
        after = np.clip(logs + np.clip(step, -2.0, 2.0), np.log(_LEAST), np.log(2.0 * MOST_Y))
        done = np.abs(after - logs).max() < _SETTLED
        logs = after
        if done:
            break
    return np.asarray(np.exp(logs))


def read_model(path: Path, *, greys: Sequence[Grey] = ()) -> ModelPhotograph:
    """Return a photograph of a model with a grey card or a 24-patch chart in it.

    Raises PhotographError if it cannot be read or is not to be calibrated, or is camera raw, which is no
    picture that can be given back.
    """
    if path.suffix.lower() in RAW_SUFFIXES:
        raise PhotographError(path, "camera raw is no picture to paint on; export it as TIFF or JPEG first")
    found = read_reference(path, greys=greys)
    return ModelPhotograph(found.photograph, found.calibration, found.notes, found.greys)
