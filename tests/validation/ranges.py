"""The range that a paint's own doubts give a colour: drawn as previews draw it."""

from __future__ import annotations

from typing import Final

import numpy as np

from layersim.chance import normal_hypercube
from layersim.paint import Paint
from layersim.spectra import FloatArray

DRAWS: Final = 64


def drawn(paint: Paint, *, seed: int, draws: int = DRAWS) -> tuple[FloatArray, FloatArray]:
    """Return K and S of a paint, then of draws of its doubts, each of shape (1 + draws, 31)."""
    deviates = normal_hypercube(len(paint.doubts), draws, seed=seed)
    moves = []
    for constant in ("log_K", "log_S"):
        doubts = [getattr(doubt, constant) for doubt in paint.doubts]
        logs = deviates @ np.reshape(doubts, (len(doubts), -1)) if doubts else np.zeros((draws, 31))
        moves.append(np.exp(np.concatenate([np.zeros((1, logs.shape[1])), logs])))
    return paint.K_per_um * moves[0], paint.S_per_um * moves[1]
