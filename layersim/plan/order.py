"""The order of work for a batch: which step when, on which areas, in which sitting, and what waits overnight.

A step is done on all models before the next mix is filled. Its coats follow each other round by round, each
round after the last has flashed off. Then it rests as ``[times]`` says (:mod:`layersim.scheme.times`).

Within an area the coats follow the scheme. Between areas, spray goes astray: where ``between = "mask"``,
every other area that has been begun is masked before an area is sprayed, and must be dry enough for a mask.
A coat with a hard edge is masked on its own area, too. Whether one area is done before another or both at
once is then chosen so that the least time goes into setting up, filling, rinsing, cleaning out and masking
(:mod:`layersim.plan.sequence`).
"""

from __future__ import annotations

from dataclasses import dataclass

from layersim.plan.offers import Offer, offers_of
from layersim.plan.sequence import MOST_LABELS, Work, Visit, best_sequence, changes
from layersim.plan.sittings import Sitting, sittings_of
from layersim.plan.steps import hours_s, steps_of, unsaid_carriers
from layersim.scheme.records import GreysGiven, Scheme
from layersim.scheme.times import UNKNOWN_CARRIER


@dataclass(frozen=True)
class Order:
    """The order of work for a batch.

    Parameters
    ----------
    scheme : Scheme
    sittings : tuple of Sitting
    proven : bool
        Whether it is certain that no other order takes less time beside laying paint.
    beside_s : int, seconds
        Setting up, filling, rinsing, cleaning out and masking.
    changes, clean_outs, maskings : int
        Other mixes put into the airbrush within a sitting; clean-outs, those at the end of a sitting
        included; areas masked (each on all models).
    handle_s : int
        From when the last film can be handled; seconds from the first sitting's start.
    offers : tuple of Offer
        Sittings that may start late on an earlier day instead, where the batch is done a day sooner so.
    notices : tuple of str
    """

    scheme: Scheme
    sittings: tuple[Sitting, ...]
    proven: bool
    beside_s: int
    changes: int
    clean_outs: int
    maskings: int
    handle_s: int
    offers: tuple[Offer, ...]
    notices: tuple[str, ...]

    @property
    def visits(self) -> tuple[Visit, ...]:
        """All visits, in order."""
        return tuple(visit for sitting in self.sittings for visit in sitting.visits)


def order(scheme: Scheme, *, most_labels: int = MOST_LABELS) -> Order:
    """Return the best order of work for a scheme's batch.

    Parameters
    ----------
    scheme : Scheme
    most_labels : int
        How many unfinished orders are kept at one stage.

    Returns
    -------
    Order

    Raises
    ------
    SchemeError
        If a step takes longer than a sitting on one model.
    """
    work = Work(steps_of(scheme), scheme.times, scheme.batch.models)
    found = best_sequence(work, most_labels=most_labels)
    sittings = sittings_of(work, found.visits)
    handle = [v.ends + hours_s(step.drying.handle_h) for v in found.visits for step in v.steps]
    strips = sum(visit.empties == "clean-out" for visit in found.visits)
    return Order(
        scheme=scheme,
        sittings=sittings,
        proven=found.proven,
        beside_s=found.cost_s,
        changes=changes(found.visits),
        clean_outs=strips + sum(sitting.clean_out for sitting in sittings),
        maskings=sum(
            len(visit.masked) + sum(s.hard_edge and s.part == 1 for s in visit.steps)
            for visit in found.visits
        ),
        handle_s=max(handle, default=0),
        offers=offers_of(work, sittings),
        notices=tuple(_notices(scheme)),
    )


def _notices(scheme: Scheme) -> list[str]:
    notices = []
    unsaid = unsaid_carriers(scheme)
    if unsaid:
        notices.append(
            f"{', '.join(unsaid)}: no file says what carries it, so it is given the times of "
            f"{UNKNOWN_CARRIER}-borne paint"
        )
    if any(isinstance(area.preshade, GreysGiven) for area in scheme.areas):
        notices.append("a pre-shade given by its greys is sprayed with the others' white, or as one coat")
    return notices
