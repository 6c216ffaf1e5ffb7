"""How likely an answer is to look right on a batch, which is what answers are ordered by.

Hand, bottles, the sprayer, the film model and the target itself are drawn together, and alike for every
answer (common random numbers): what is in doubt about all of them moves them together and does not reorder
them. A draw looks right where its closeness is within what passes side by side, or, where no answer comes so
near, within what half of all people do not tell from the closest.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Final

import numpy as np

from layersim import colour
from layersim.chance import normal_hypercube
from layersim.decide.answer import Answer
from layersim.decide.compare import shared_key
from layersim.decide.eye import DISTURBS, SEEN
from layersim.decide.search import closeness
from layersim.decide.targets import ToneTargets
from layersim.scheme.records import Scheme
from layersim.scheme.simulate import AreaModel

DRAWS: Final = 128


def passing(answers: Sequence[Answer]) -> float:
    """Return the closeness within which a batch looks right."""
    return max(DISTURBS, min(answer.closeness for answer in answers) + SEEN)


def with_chances(
    scheme: Scheme,
    answers: Sequence[Answer],
    targets: ToneTargets,
    *,
    within: float,
    seed: int = 0,
) -> list[Answer]:
    """Return the answers with the chance that each looks right on a model of the batch.

    Films are even from site to site here; what their spread does is taken from the answer's own prediction.
    """
    hand = scheme.hand
    # A model's film is off by the session's error and by its own.
    unsteady = dataclasses.replace(hand, film=float(np.hypot(hand.film, hand.models)))
    scheme = dataclasses.replace(scheme, hand=unsteady)
    counted = targets.counted
    models = [AreaModel(scheme, a.area, tones=len(counted), sites=1, seed=seed) for a in answers]
    keys = [[shared_key(model.area, factor.key) for factor in model.factors] for model in models]
    column = {key: i for i, key in enumerate(dict.fromkeys(key for own in keys for key in own))}
    z = normal_hypercube(3 + len(column), DRAWS, seed=seed)
    wanted = targets.drawn(z[:, :3])[:, counted]
    found = []
    for answer, model, own in zip(answers, models, keys, strict=True):
        mine = np.vstack([np.zeros(len(own)), z[:, [3 + column[key] for key in own]]])
        lab = colour.lab(model.finish(mine)[:, counted], scheme.viewing)
        lab = lab[1:] + (answer.prediction.lab[-1, counted] - lab[0])
        right = closeness(colour.delta_e_2000(lab, wanted)) <= within
        found.append(dataclasses.replace(answer, chance=float(right.mean())))
    return found
