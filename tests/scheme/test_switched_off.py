"""A coat that is switched off: the same as a file that does not have it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from layersim.errors import SchemeError
from layersim.resources import demo_scheme
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Scheme
from layersim.scheme.simulate import simulate

TOP = 'format = "layersim scheme 1"\nname = "x"\n[[area]]\nname = "a"\nground = "black primer"\n'
BASE = '[[area.coat]]\npaint = "bone"\n'
CHIPS = '[[area.coat]]\npaint = "navy blue"\npatch = "chips"\ncoverage = 0.3\nwhere = { from = 50 }\n'
ON_LEFT = 'on_form = "left"\n'
MORE = '[[area.coat]]\npaint = "bone"\npatch = "chips"\n'
FILTER = '[[area.coat]]\npaint = "violet glaze"\nfilter = true\n'
OFF = "off = true\n"


def read(*coats: str) -> Scheme:
    return load_scheme(Path("a.toml"), text=TOP + "".join(coats))


@pytest.mark.parametrize(
    ("with_it", "without"),
    [
        ((BASE, FILTER + OFF), (BASE,)),
        ((BASE + OFF, CHIPS, MORE, FILTER), (CHIPS, MORE, FILTER)),
        ((BASE, CHIPS, MORE + OFF), (BASE, CHIPS)),
        ((BASE, CHIPS + OFF), (BASE,)),
        ((BASE + OFF, FILTER + OFF), ()),
        ((BASE + "off = false\n",), (BASE,)),
    ],
)
def test_as_if_it_were_not_written(with_it: tuple[str, ...], without: tuple[str, ...]) -> None:
    one, other = (simulate(read(*coats), tones=5, draws=8).areas[0] for coats in (with_it, without))
    assert one.stages == other.stages
    assert np.array_equal(one.lab, other.lab)
    assert np.array_equal(one.lab_low, other.lab_low)


def test_the_next_coat_of_a_patch_takes_the_place_of_its_first() -> None:
    [_, kept] = read(BASE, CHIPS + ON_LEFT + OFF, MORE).areas[0].coats
    assert (kept.coverage, kept.where.lightest_from, kept.on_form) == (0.3, 50.0, "left")
    assert kept.mix.ingredients[0][0].name == "bone"


def test_a_strip_knows_no_form() -> None:
    """Where a coat lands on a form changes nothing else."""
    one, other = (
        simulate(read(*coats), tones=5, draws=8) for coats in ((BASE, CHIPS + ON_LEFT), (BASE, CHIPS))
    )
    assert np.array_equal(one.areas[0].lab, other.areas[0].lab)


def test_it_is_checked_all_the_same() -> None:
    with pytest.raises(SchemeError, match="thinning"):
        read(BASE + OFF + "thinning = -1\n")
    with pytest.raises(SchemeError, match=r"off.*found 1; expected true or false"):
        read(BASE + "off = 1\n")


def test_a_text_is_read_in_place_of_the_file() -> None:
    text = demo_scheme().read_text(encoding="utf-8")
    scheme = load_scheme(demo_scheme(), text=text.replace("Lamplighters", "Others"))
    assert scheme.name == "Others of the tide wall"


def test_without_reasons_colours_and_ranges_are_the_same() -> None:
    scheme = load_scheme(demo_scheme())
    full, lean = (simulate(scheme, tones=3, draws=8, reasons=reasons) for reasons in (True, False))
    for one, other in zip(full.areas, lean.areas, strict=True):
        for key in ("lab", "lab_low", "lab_high", "reach", "mottle", "sheen"):
            assert np.allclose(getattr(one, key), getattr(other, key), rtol=0, atol=1e-9), key
        assert one.causes
        assert not other.causes
