"""A new paint from the coats of a sprayer whose film is known: K and S of the film that really lay there."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from layersim import sprayer as sprayers
from layersim.cli import main
from layersim.errors import FitError
from layersim.estimate import Estimate
from layersim.fitting.measured import fit_swatches
from layersim.fitting.ownfilm import as_sprayed, as_suggested, counted_in_coats
from layersim.measure.swatch import SwatchSet
from layersim.paintfile import read_paint
from layersim.resources import data_folder
from layersim.scheme.reading import load_scheme
from layersim.scheme.simulate import simulate
from layersim.shelf import FOLDER_VARIABLE, Shelf
from layersim.sprayer import Sprayer, write_sprayer
from tests.fitting.cards import card_set
from tests.fitting.painter import COAT_UM, NOISE, SIX, model_reflectance, swatch, swatches_of, violet

SHELF = Shelf([])
THICK = 1.4
HEAVY = Sprayer("heavy hand", film_factor=Estimate(THICK, 0.06, "a test"))


def heavy_swatches() -> SwatchSet:
    """Six swatches whose films are 1.4 times what the paint's file suggests."""
    rng = np.random.default_rng(3)
    rows = []
    for ground, coats in SIX:
        seen = model_reflectance(*violet(), ground=ground, thickness_um=THICK * coats * COAT_UM)
        rows.append(swatch(ground, coats, seen + NOISE * rng.standard_normal(len(seen))))
    return swatches_of(rows)


def test_constants_are_those_of_the_film_that_lay_there() -> None:
    """Against the K and S that the swatches were made from, not against the fit without a sprayer."""
    written = heavy_swatches()
    K, S = violet()
    plain = fit_swatches(written, SHELF)
    np.testing.assert_allclose(np.median(plain.paint.K_per_um / K), THICK, rtol=0.03)
    fit = as_suggested(fit_swatches(as_sprayed(written, HEAVY), SHELF), written, HEAVY)
    np.testing.assert_allclose(np.median(fit.paint.K_per_um / K), 1.0, rtol=0.03)
    np.testing.assert_allclose(np.median(fit.paint.S_per_um / S), 1.0, rtol=0.05)
    assert fit.paint.wet_film_um == written.wet_film_um
    assert '"heavy hand" being 1.4 (1.3-1.5) times' in fit.paint.provenance
    np.testing.assert_allclose(fit.delta_e, plain.delta_e, atol=0.02)


def test_a_card_takes_it_as_well() -> None:
    card = card_set()
    sprayed = as_sprayed(card, HEAVY)
    assert sprayed.wet_film_um == pytest.approx(THICK * card.wet_film_um)
    assert sprayed.swatches == card.swatches


def test_what_it_has_nothing_to_say_of() -> None:
    with pytest.raises(FitError, match=r"no film per coat yet.*--known"):
        as_sprayed(heavy_swatches(), Sprayer("new needle"))
    seen = model_reflectance(*violet(), ground="black", thickness_um=3.0)
    measured = swatch("black", None, seen, dry_film_um=3.0, name="by gauge")
    opaque = swatch("black", None, seen, opaque=True, name="masstone")
    assert not counted_in_coats(measured)
    assert not counted_in_coats(opaque)
    with pytest.raises(FitError, match="Leave --sprayer away"):
        as_sprayed(swatches_of([measured, opaque]), HEAVY)


# --- the command -----------------------------------------------------------------------------

SCHEME = """\
format = "layersim scheme 1"
name = "one coat"
BATCH
[[area]]
name = "cloth"
primer = "white primer"
[[area.coat]]
name = "base"
paint = "brick red"
thinning = 1
coats = 2
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "shelf"))
    monkeypatch.setenv(sprayers.FOLDER_VARIABLE, str(tmp_path / "sprayers"))
    for name in ("brick-red.toml", "brick-red.txt"):
        shutil.copy(data_folder() / "examples" / name, tmp_path / name)
    (tmp_path / "sprayers").mkdir()
    write_sprayer(HEAVY, tmp_path / "sprayers" / "heavy-hand.toml")
    return tmp_path


def finished(folder: Path, shelf: str, batch: str) -> np.ndarray:
    path = folder / f"scheme-{shelf}.toml"
    path.write_text(SCHEME.replace("BATCH", batch), encoding="utf-8")
    return simulate(load_scheme(path, Shelf.usual(folder / shelf)), tones=3).areas[0].lab[-1]


def test_a_scheme_that_names_the_sprayer_counts_the_film_once(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same coats by the same hand look the same, whether its film was known or not."""
    for shelf, more in (("plain", []), ("own", ["--sprayer", "heavy hand"])):
        (folder / shelf).mkdir()
        out = folder / shelf / "brick-red.toml"
        assert main(["fit", str(folder / "brick-red.toml"), "--out", str(out), "--no-picture", *more]) == 0
        said = capsys.readouterr().out
        assert ("would count its film twice" in said) == (not more)
        assert ('add --sprayer "heavy hand"' in said) == (not more)
    ratio = (
        read_paint(folder / "plain" / "brick-red.toml").K_per_um
        / read_paint(folder / "own" / "brick-red.toml").K_per_um
    )
    np.testing.assert_allclose(ratio, THICK, rtol=0.02)
    batch = '[batch]\nmodels = 1\nsize = "28-32 mm figure"\nsprayer = "heavy hand"\n'
    known, plain = finished(folder, "own", batch), finished(folder, "plain", "")
    np.testing.assert_allclose(known, plain, atol=0.3)
    twice = finished(folder, "plain", batch)
    assert np.abs(twice - plain).max() > 3.0


def test_the_profile_keeps_how_uneven_the_hand_was_and_the_next_paint_starts_from_it(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fit = ["fit", str(folder / "brick-red.toml"), "--no-picture", "--sprayer", "heavy hand"]
    assert main([*fit, "--out", str(folder / "one.toml")]) == 0
    assert "vary by about" in capsys.readouterr().out
    first = sprayers.find_sprayer("heavy hand")
    assert first.film_factor == HEAVY.film_factor
    assert first.film_scatter is not None
    assert 0.01 < first.film_scatter.value < 0.15
    assert main([*fit, "--out", str(folder / "two.toml")]) == 0
    second = sprayers.find_sprayer("heavy hand")
    # The same swatches count once, however often they are fitted.
    assert second.film_scatter == first.film_scatter
    other = (folder / "brick-red.toml").read_text(encoding="utf-8").replace('"brick red"', '"tile red"')
    (folder / "tile-red.toml").write_text(other, encoding="utf-8")
    assert main(["fit", str(folder / "tile-red.toml"), *fit[2:], "--out", str(folder / "tile.toml")]) == 0
    second = sprayers.find_sprayer("heavy hand")
    assert second.film_scatter is not None
    assert second.film_scatter.error < first.film_scatter.error
    brushed = other.replace('"tile red"', '"another red"').replace(
        "invented = true", 'invented = true\nlaid = "brush"'
    )
    (folder / "brushed.toml").write_text(brushed, encoding="utf-8")
    assert (
        main(["fit", str(folder / "brushed.toml"), *fit[2:], "--out", str(folder / "brushed-out.toml")]) == 0
    )
    assert sprayers.find_sprayer("heavy hand").film_scatter == second.film_scatter
    told = [*fit, "--out", str(folder / "three.toml"), "--film-error", "20"]
    assert main(told) == 0
    assert sprayers.find_sprayer("heavy hand").film_scatter == second.film_scatter


def test_profiles_that_are_not_there_or_cannot_be_read(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fit = ["fit", str(folder / "brick-red.toml"), "--no-picture"]
    assert main([*fit, "--sprayer", "heavy hnad"]) == 2
    assert 'no sprayer "heavy hnad"' in capsys.readouterr().err
    assert main([*fit, "--sprayer", str(folder / "no.toml")]) == 2
    assert "no.toml" in capsys.readouterr().err
    write_sprayer(Sprayer("new needle"), folder / "new.toml")
    assert main([*fit, "--sprayer", str(folder / "new.toml")]) == 2
    assert "no film per coat yet" in capsys.readouterr().err
    assert not (folder / "shelf").exists()
    (folder / "sprayers" / "broken.toml").write_text("film = ", encoding="utf-8")
    assert main(fit) == 0
    assert 'add --sprayer "heavy hand"' in capsys.readouterr().out
