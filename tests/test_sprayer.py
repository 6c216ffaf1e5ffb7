"""A sprayer's profile: there and back, what is wrong with it, and what it does to a scheme."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from layersim.chance import NINETY
from layersim.cli import main
from layersim.errors import SchemeError, SprayerFileError
from layersim.estimate import Estimate
from layersim.scheme.batch import TRANSFER
from layersim.scheme.records import GreysSprayed, Scheme
from layersim.scheme.simulate import simulate
from layersim.sprayer import (
    FOLDER_VARIABLE,
    Sprayer,
    find_sprayer,
    own_folder,
    read_sprayer,
    updated,
    write_sprayer,
)

FULL = Sprayer(
    name="Fine needle, 1.2 bar",
    film_factor=Estimate(0.8, 0.06, "24 swatches"),
    transfer_efficiency=Estimate(0.31, 0.12, "3 cards and the cup weighed"),
    drop_ul=Estimate(46.0, 0.1, "10 drops weighed 3 times"),
    provenance='a "small" airbrush',
)

SCHEME = """
format = "layersim scheme 1"
name = "own"
[batch]
sprayer = "fine needle"
[[area]]
name = "cloth"
primer = "soot primer"
[area.preshade]
white = "chalk white"
thinning = 2
passes = 6
[[area.coat]]
name = "own film"
paint = "moss green"
[[area.coat]]
name = "given film"
paint = "moss green"
dry_film_um = 1.5
[[area.coat]]
name = "wet film"
paint = "moss green"
wet_film_um = 8
[[area.coat]]
name = "chips"
paint = "rust"
patch = "chips"
coverage = 0.1
"""


@pytest.fixture(autouse=True)
def folder(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's own folder of sprayers, empty."""
    own = tmp_path_factory.mktemp("sprayers")
    monkeypatch.setenv(FOLDER_VARIABLE, str(own))
    return own


class TestFile:
    @pytest.mark.parametrize("sprayer", [FULL, Sprayer("bare"), Sprayer("drops", drop_ul=FULL.drop_ul)])
    def test_there_and_back(self, tmp_path: Path, sprayer: Sprayer) -> None:
        write_sprayer(sprayer, tmp_path / "a.toml")
        assert read_sprayer(tmp_path / "a.toml") == sprayer

    def test_what_was_found_replaces_and_the_rest_stays(self) -> None:
        new = updated(FULL, drop_ul=Estimate(52.0, 0.1), transfer_efficiency=None)
        assert new.drop_ul == Estimate(52.0, 0.1)
        assert new == dataclasses.replace(FULL, drop_ul=new.drop_ul)

    @pytest.mark.parametrize(
        ("text", "message"),
        [
            ('name = "x"', 'format: found nothing; expected "layersim sprayer 1"'),
            (
                'format = "layersim paint 1"\nname = "x"',
                "This is a paint file, and a sprayer file was asked for",
            ),
            ('format = "layersim sprayer 1"', "name: found nothing"),
            (
                'format = "layersim sprayer 1"\nname = "x"\ndrop_ul = 50',
                "drop_ul: found 50; expected a table",
            ),
            (
                'format = "layersim sprayer 1"\nname = "x"\n[transfer_efficiency]\nvalue = 31\nerror = 0.1',
                "transfer_efficiency, value: found 31; expected a number from 0.001 to 1. 31 % is 0.31 here.",
            ),
            (
                'format = "layersim sprayer 1"\nname = "x"\n[drop_ul]\nvalue = 50\n',
                "drop_ul, error: found nothing",
            ),
            (
                'format = "layersim sprayer 1"\nname = "x"\n[film_facto]\nvalue = 1\n',
                'Did you mean "film_factor"?',
            ),
        ],
    )
    def test_what_is_wrong_is_said(self, tmp_path: Path, text: str, message: str) -> None:
        path = tmp_path / "s.toml"
        path.write_text(text, encoding="utf-8")
        with pytest.raises(SprayerFileError) as fault:
            read_sprayer(path)
        assert message in str(fault.value)

    def test_it_is_found_beside_the_scheme_first_then_in_the_own_folder(
        self, tmp_path: Path, folder: Path
    ) -> None:
        write_sprayer(FULL, folder / "fine-needle.toml")
        assert find_sprayer("Fine needle", tmp_path) == FULL
        write_sprayer(Sprayer("here"), tmp_path / "fine-needle.toml")
        assert find_sprayer("fine needle.toml", tmp_path).name == "here"
        assert own_folder() == folder

    def test_a_name_that_is_near_is_suggested(self, folder: Path) -> None:
        write_sprayer(FULL, folder / "fine-needle.toml")
        with pytest.raises(SprayerFileError, match=r'Did you mean "Fine needle, 1\.2 bar"'):
            find_sprayer("fine nedle")
        with pytest.raises(SprayerFileError, match=r'no sprayer "\.\./x"'):
            find_sprayer("../x")

    def test_it_is_found_by_the_name_in_it_too(self, folder: Path) -> None:
        write_sprayer(FULL, folder / "fine-needle.toml")
        assert find_sprayer("fine needle, 1.2 bar") == FULL

    def test_one_that_is_missing_says_how_to_make_it_and_offers_profiles_once(
        self, tmp_path: Path, folder: Path
    ) -> None:
        for place in (tmp_path, folder):
            write_sprayer(FULL, place / "fine-needle.toml")
        (tmp_path / "zebra.toml").write_text(SCHEME, encoding="utf-8")
        with pytest.raises(SprayerFileError) as fault:
            find_sprayer("zebra crossing", tmp_path)
        told = str(fault.value)
        assert "The sprayers here are: Fine needle, 1.2 bar." in told
        assert told.count("Fine needle, 1.2 bar") == 1
        assert "zebra.toml" not in told.replace("zebra-crossing.toml", "")
        for way in ('layersim weigh "zebra crossing"', "--known PAINT", 'learn --sprayer "zebra crossing"'):
            assert way in told

    def test_with_no_profile_at_all_none_is_offered(self) -> None:
        with pytest.raises(SprayerFileError) as fault:
            find_sprayer("fine needle")
        assert "The sprayers here" not in str(fault.value)
        assert "Make a profile with any of: layersim weigh" in str(fault.value)


class TestWeighingAgain:
    def weigh(self, *cards: str) -> int:
        return main(["weigh", "fine needle", "--solids", "0.2", *(w for c in cards for w in ("--card", c))])

    def test_what_was_there_before_is_told(self, capsys: pytest.CaptureFixture[str], folder: Path) -> None:
        assert self.weigh("0.21:4.1", "0.22:4.2", "0.20:4.0") == 0
        assert "Before" not in capsys.readouterr().out
        sure = read_sprayer(folder / "fine-needle.toml").transfer_efficiency
        assert self.weigh("0.30:4.1") == 0
        told = capsys.readouterr().out
        unsure = read_sprayer(folder / "fine-needle.toml").transfer_efficiency
        assert sure is not None
        assert unsure is not None
        assert unsure.error > sure.error
        assert f"Before, the profile said {sure.words()}: {sure.basis}. Now it says {unsure.words()}." in told
        assert "is less sure than what was there before" in told
        assert f"value = {sure.value:.4g} and error = {sure.error:.3g} under [transfer_efficiency]" in told
        # A surer one in its place needs no warning; the same again, no word.
        assert self.weigh("0.21:4.1", "0.22:4.2", "0.20:4.0") == 0
        told = capsys.readouterr().out
        assert f"Before, the profile said {unsure.words()}" in told
        assert "less sure" not in told
        assert self.weigh("0.21:4.1", "0.22:4.2", "0.20:4.0") == 0
        assert "Before" not in capsys.readouterr().out


class TestInAScheme:
    def test_only_films_left_to_the_paint_are_scaled(
        self, read: Callable[[str], Scheme], folder: Path
    ) -> None:
        write_sprayer(FULL, folder / "fine-needle.toml")
        mine = read(SCHEME).areas[0]
        plain = read(SCHEME.replace('sprayer = "fine needle"', "")).areas[0]
        ratios = [a.dry_film_um / b.dry_film_um for a, b in zip(mine.coats, plain.coats, strict=True)]
        # Chips are a local effect, which is brushed.
        assert ratios == pytest.approx([0.8, 1.0, 1.0, 1.0])
        assert isinstance(mine.preshade, GreysSprayed)
        assert isinstance(plain.preshade, GreysSprayed)
        assert mine.preshade.dry_film_um == pytest.approx(0.8 * plain.preshade.dry_film_um)

    def test_its_numbers_go_before_the_defaults_and_behind_the_scheme(
        self, read: Callable[[str], Scheme], folder: Path
    ) -> None:
        write_sprayer(FULL, folder / "fine-needle.toml")
        batch = read(SCHEME).batch
        assert batch.transfer_efficiency == FULL.transfer_efficiency
        assert batch.drop_ul == FULL.drop_ul
        said = read(SCHEME.replace("[batch]", "[batch]\ntransfer_efficiency = [0.2, 0.3]")).batch
        assert said.transfer_efficiency.value == pytest.approx(np.sqrt(0.06))
        write_sprayer(Sprayer("bare"), folder / "fine-needle.toml")
        assert read(SCHEME).batch.transfer_efficiency == TRANSFER

    def test_its_doubt_widens_the_range_and_is_named(
        self, read: Callable[[str], Scheme], folder: Path
    ) -> None:
        certain = "[hand]\nfilm = 0\nparts = 0\ngreys = 0\n[batch]"
        text = SCHEME.replace("[batch]", certain)
        unsure = dataclasses.replace(FULL, film_factor=Estimate(0.8, 0.3))
        write_sprayer(unsure, folder / "fine-needle.toml")
        [area] = simulate(read(text), tones=5, sites=2).areas
        assert "own film of Fine needle, 1.2 bar" in [cause.what for cause in area.causes]
        sure = dataclasses.replace(FULL, film_factor=Estimate(0.8, 0.0))
        write_sprayer(sure, folder / "fine-needle.toml")
        [other] = simulate(read(text), tones=5, sites=2).areas
        np.testing.assert_allclose(area.lab, other.lab)
        assert area.reach[1].mean() > other.reach[1].mean() + 1.0

    def test_one_that_is_missing_is_said_with_its_line(self, read: Callable[[str], Scheme]) -> None:
        with pytest.raises(
            SchemeError,
            match=r'line 5, batch, sprayer: found "fine needle"; expected the file fine-needle\.toml in',
        ):
            read(SCHEME)


class TestEstimate:
    def test_a_range_and_back(self) -> None:
        found = Estimate.within(11.0, 25.0)
        assert (found.low, found.high) == pytest.approx((11.0, 25.0))
        assert found.drawn(np.array([0.0, NINETY])) == pytest.approx([found.value, 25.0])

    @pytest.mark.parametrize("ends", [(0.0, 1.0), (2.0, 1.0), (1.0, np.inf)])
    def test_ends_that_cannot_be(self, ends: tuple[float, float]) -> None:
        with pytest.raises(ValueError, match="ends above zero"):
            Estimate.within(*ends)
        with pytest.raises(ValueError, match="zero or more"):
            Estimate(-1.0, 0.1)
