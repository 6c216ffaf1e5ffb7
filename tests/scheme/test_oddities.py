"""What can be worked out but is hardly meant is noted, and what is usual is not."""

from __future__ import annotations

from pathlib import Path

import pytest

from layersim.resources import data_folder
from layersim.scheme.reading import load_scheme
from layersim.scheme.simulate import simulate

STARTER = (data_folder() / "schemes" / "starter.toml").read_text(encoding="utf-8")


def noted(text: str, folder: Path) -> str:
    file = folder / "scheme.toml"
    file.write_text(text, encoding="utf-8")
    return "\n".join(simulate(load_scheme(file), tones=3, sites=1, draws=0).notices)


@pytest.mark.parametrize(
    ("was", "slip", "says"),
    [
        ('paint = "violet glaze"', 'paint = "titanium white"', '"filter" is a filter, but this film hides'),
        ('paint = "violet glaze"', 'paint = "leather brown"', '"filter" is a filter, but this film hides'),
        (
            'paint = "violet glaze"',
            'paint = "black ink"',
            '"filter" is a filter, but hardly lets light through',
        ),
        ('paint = "violet glaze"', 'paint = "copper"', '"filter" is a filter, but its metal covers'),
        ('paint = "violet glaze"', 'paint = "violet glaze"\ndry_film_um = 100', "100 µm thick when dry"),
        ("thinning = 1.5\ncoats = 2", "coats = 20", '"base" is 20 coats, unthinned'),
        ("thinning = 3.5", "", "30 passes of white are 84 µm thick"),
        ("passes = 30", "passes = 2", "full highlight is no lighter than L*"),
        ('name = "cloth"', 'name = "cloth"\nshare = 0.7', "shares add up to 70 % of the model"),
    ],
)
def test_a_slip_is_noted_and_the_starter_has_none(was: str, slip: str, says: str, tmp_path: Path) -> None:
    assert STARTER.count(was) >= 1
    assert says not in noted(STARTER, tmp_path)
    assert says in noted(STARTER.replace(was, slip, 1), tmp_path)
