"""The [batch] table, an area's extent and a coat's tool: what they say, and what is wrong with them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from layersim.errors import SchemeError, StockFileError
from layersim.scheme.batch import BRUSH, DROP_UL, TRANSFER, Batch, Owned, read_stock
from layersim.scheme.figures import SIZES, surface_of_size
from layersim.scheme.records import Scheme

HEAD = 'format = "layersim scheme 1"\nname = "b"\n'
AREA = '[[area]]\nname = "cloth"\nground = "soot primer"\n'
COAT = '[[area.coat]]\npaint = "moss green"\n'


@pytest.fixture
def batch(read: Callable[[str], Scheme]) -> Callable[[str], Batch]:
    return lambda text: read(f"{HEAD}[batch]\n{text}\n{AREA}{COAT}").batch


class TestSaid:
    def test_without_a_table_there_are_defaults_with_their_basis(self, read: Callable[[str], Scheme]) -> None:
        found = read(HEAD + AREA + COAT).batch
        assert found == Batch()
        for estimate in (
            found.transfer_efficiency,
            found.brush_efficiency,
            found.loss_ml,
            found.brush_loss_ml,
        ):
            assert "common practice, no source" in estimate.basis
        assert found.sized.value == pytest.approx((11 * 25) ** 0.5)
        assert (found.transfer_efficiency, found.brush_efficiency, found.drop_ul) == (
            TRANSFER,
            BRUSH,
            DROP_UL,
        )

    def test_a_number_keeps_the_usual_error_and_a_range_brings_its_own(
        self, batch: Callable[[str], Batch]
    ) -> None:
        assert batch("transfer_efficiency = 0.35").transfer_efficiency.value == 0.35
        assert batch("transfer_efficiency = 0.35").transfer_efficiency.error == TRANSFER.error
        ranged = batch("transfer_efficiency = [0.2, 0.3]").transfer_efficiency
        assert (ranged.low, ranged.high) == pytest.approx((0.2, 0.3))

    def test_every_key(self, batch: Callable[[str], Batch]) -> None:
        found = batch(
            'models = 10\nsize = "1/35 figure"\ntouch_up = 0\nbrush_efficiency = 0.8\ndrop_ul = 40\n'
            "cup_ml = 2\nloss_ml = 0\nbrush_loss_ml = 0.2\nreserve = 0.2\nprimer_coats = 0\n"
            "solids_error = 0.2\nplaces_error = 0.1\nshares_error = 0.3\nmesh_mm = 2\n"
            'owned = { "moss green" = 17, "Plum Ink" = 0 }'
        )
        assert (found.models, found.size, found.touch_up, found.cup_ml) == (10, "1/35 figure", 0.0, 2.0)
        assert (found.drop_ul.value, found.loss_ml.value, found.primer_coats) == (40.0, 0.0, 0)
        assert found.owned == (Owned("moss green", 17.0), Owned("Plum Ink", 0.0))

    def test_areas_and_tools(self, read: Callable[[str], Scheme]) -> None:
        local = '[[area.coat]]\npaint = "rust"\npatch = "chips"\ncoverage = 0.1\n'
        wet = '[[area.coat]]\npaint = "rust"\nwet_film_um = 4\n'
        text = f'{HEAD}{AREA}share = 0.3\n{COAT}by = "brush"\n{local}{wet}'
        found = read(text).areas[0]
        assert found.extent.share == 0.3
        assert [coat.by for coat in found.coats] == ["brush", "brush", "airbrush"]
        assert [coat.film_from for coat in found.coats] == ["paint", "paint", "wet"]

    def test_owned_paints_may_stand_in_a_file(self, batch: Callable[[str], Batch], tmp_path: Path) -> None:
        (tmp_path / "mine.toml").write_text(
            'format = "layersim stock 1"\n[ml]\n"rust" = 12\n', encoding="utf-8"
        )
        assert batch('owned = "mine.toml"').owned == (Owned("rust", 12.0),)


class TestWrong:
    @pytest.mark.parametrize(
        ("text", "message"),
        [
            ("models = 0", "batch, models: found 0; expected a whole number from 1"),
            ("models = 2.5", "batch, models: found 2.5"),
            ('size = "28 mm figure"', 'batch, size: found "28 mm figure"; expected one of'),
            ('size = "1/72 fihgter"', 'Did you mean "1/72 fighter"?'),
            ("transfer_efficiency = 35", "batch, transfer_efficiency: found 35"),
            ("transfer_efficiency = [0.4, 0.2]", r"found [0.4, 0.2]; expected one number, or [low, high]"),
            ("drop_ul = [1, 2, 3]", "batch, drop_ul: found a list of 3"),
            (
                'drop_ul = "50"',
                'found the text "50"; expected one number, or [low, high]. Write the number alone, without',
            ),
            ('surface_cm2 = "20 cm2"', 'found the text "20 cm2"; expected one number, or [low, high].'),
            ("surface_cm2 = 0", "batch, surface_cm2: found 0"),
            ('surface_cm2 = 20\nsize = "1/35 figure"', "found surface_cm2 and size; expected one of"),
            ("cup_ml = 0", "batch, cup_ml: found 0"),
            ("reserve = -0.1", "batch, reserve: found -0.1"),
            ('mesh = "figure.stl"', 'batch, mesh: found "figure.stl"; expected a mesh file beside'),
            ('mesh = "../figure.stl"', "expected a mesh file beside"),
            ('owned = "mine.toml"', "batch, owned: found"),
            ("owned = 3", "batch, owned: found 3; expected a table"),
            ('owned = { "rust" = "much" }', "batch, owned, rust: found the text"),
            ('owned = { "rust" = 1, "Rust" = 2 }', "found a paint named before; expected each paint once"),
            (
                'sprayer = "nobody"',
                'batch, sprayer: found "nobody"; expected the file nobody.toml in ',
            ),
            ("model = 3", 'Did you mean "models"?'),
        ],
    )
    def test_in_the_batch(self, batch: Callable[[str], Batch], text: str, message: str) -> None:
        with pytest.raises(SchemeError) as fault:
            batch(text)
        assert message in str(fault.value)
        assert "line " in str(fault.value)

    def test_a_sprayer_that_is_not_there_is_told_once(self, batch: Callable[[str], Batch]) -> None:
        with pytest.raises(SchemeError) as fault:
            batch('sprayer = "nobody"')
        assert str(fault.value).count("expected") == 1
        assert "Make a profile with any of: layersim weigh" in str(fault.value)

    def test_a_profile_that_cannot_be_used_says_why(
        self, batch: Callable[[str], Batch], tmp_path: Path
    ) -> None:
        (tmp_path / "fine.toml").write_text('format = "layersim sprayer 1"\nname = 3\n')
        with pytest.raises(SchemeError) as fault:
            batch('sprayer = "fine"')
        assert 'sprayer: found "fine"; expected a profile that can be used. ' in str(fault.value)
        assert "fine.toml: line 2, name: found 3" in str(fault.value)

    @pytest.mark.parametrize(
        ("area", "coat", "message"),
        [
            ("share = 0", "", "share: found 0; expected a number above 0, at most 1"),
            ("share = 40", "", "40 % is 0.4 here."),
            ("share = 0.4\nsurface_cm2 = 3", "", "found both surface_cm2 and share"),
            ("", 'by = "roller"', 'by: found "roller"; expected one of "airbrush", "brush"'),
        ],
    )
    def test_in_an_area(self, read: Callable[[str], Scheme], area: str, coat: str, message: str) -> None:
        with pytest.raises(SchemeError) as fault:
            read(f"{HEAD}{AREA}{area}\n{COAT}{coat}\n")
        assert message in str(fault.value)

    @pytest.mark.parametrize(
        ("text", "message"),
        [
            ("[ml]", 'expected "layersim stock 1"'),
            ('format = "layersim stock 1"', "a heading [ml]"),
            ('format = "layersim stock 1"\n[ml]\nrust = -1', "ml, rust: found -1"),
            ('format = "layersim stock 1"\n[mls]\nrust = 1', 'Did you mean "ml"?'),
        ],
    )
    def test_in_a_stock_file(self, tmp_path: Path, text: str, message: str) -> None:
        path = tmp_path / "mine.toml"
        path.write_text(text, encoding="utf-8")
        with pytest.raises(StockFileError) as fault:
            read_stock(path)
        assert message in str(fault.value)


class TestSizes:
    def test_figures_agree_with_skin_over_scale_squared(self) -> None:
        # A figure named by its height in mm is at 1 to 1750 / height, for people of 1.75 m (an assumption).
        for name, scale in (
            ("1/72 figure", (72.0, 72.0)),
            ("28-32 mm figure", (1750.0 / 28.0, 1750.0 / 32.0)),
            ("1/35 figure", (35.0, 35.0)),
            ("54 mm figure", (1750.0 / 54.0,) * 2),
            ("75 mm figure", (1750.0 / 75.0,) * 2),
        ):
            # 1.8 m² of skin at that scale, two to four times.
            low, high = 2.0 * 1.8e4 / scale[0] ** 2, 4.0 * 1.8e4 / scale[1] ** 2
            assert SIZES[name] == pytest.approx((low, high), rel=0.25)

    def test_each_has_its_range_and_basis(self) -> None:
        for name, (low, high) in SIZES.items():
            found = surface_of_size(name)
            assert (found.low, found.high) == pytest.approx((low, high))
            assert f'"{name}"' in found.basis
