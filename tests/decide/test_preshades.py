"""Darker, lighter and lifted preshades, for the preshades that there are."""

from __future__ import annotations

import dataclasses

import pytest

from layersim.decide.preshades import preshades_to_try
from layersim.errors import LayersimError
from layersim.resources import demo_scheme
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import GreysGiven, GreysSprayed, Preshade, Scheme


def with_preshade(preshade: Preshade | None) -> Scheme:
    scheme = load_scheme(demo_scheme())
    area = dataclasses.replace(scheme.areas[0], preshade=preshade)
    return dataclasses.replace(scheme, areas=(area, *scheme.areas[1:]))


def test_sprayed_white_gets_fewer_and_more_passes() -> None:
    scheme = load_scheme(demo_scheme())
    now = scheme.areas[0].preshade
    assert isinstance(now, GreysSprayed)
    fewer, more, lifted = preshades_to_try(scheme, scheme.areas[0].name.upper())
    assert isinstance(fewer, GreysSprayed)
    assert isinstance(more, GreysSprayed)
    assert 1 <= fewer.passes < now.passes < more.passes
    assert dataclasses.replace(fewer, passes=now.passes) == now
    assert isinstance(lifted, GreysSprayed)
    assert lifted.reach > now.reach


def test_known_greys_are_moved_and_stay_greys() -> None:
    scheme = with_preshade(GreysGiven(5.0, 92.0, sheen=1.0))
    moved = preshades_to_try(scheme, scheme.areas[0].name)
    ends = [(one.darkest, one.lightest) for one in moved if isinstance(one, GreysGiven)]
    assert ends == [(17.0, 97.0), (0.0, 80.0), (17.0, 92.0)]


def test_bare_primer_has_none_to_change() -> None:
    scheme = with_preshade(None)
    with pytest.raises(LayersimError, match="without a preshade"):
        preshades_to_try(scheme, scheme.areas[0].name)
