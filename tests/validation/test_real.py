"""How really measured data are found, and made into swatches."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from layersim.measure.swatch import Ground, Swatch, SwatchSet
from layersim.spectra import FloatArray
from tests.validation import real_data, real_stacks
from tests.validation.models import BEER_LAMBERT, TWO_CONES, Model
from tests.validation.swatches import nearest_to


def test_a_table_is_looked_for_in_the_folder_that_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "table.csv").write_text("# measured by nobody\nstack,L\nWW,95.0\n", encoding="utf-8")
    monkeypatch.setenv(real_data.VARIABLE, str(tmp_path))
    assert list(real_data.rows_of("table.csv")) == [{"stack": "WW", "L": "95.0"}]
    monkeypatch.delenv(real_data.VARIABLE)
    with pytest.raises(real_data.MissingDataError, match="is not here; LAYERSIM_REAL names"):
        real_data.rows_of("table.csv")


def test_the_board_is_whole_and_its_swatches_are_not_predicted() -> None:
    board = real_stacks.board()
    assert len(board.lab) == 4**real_stacks.LAYERS
    swatches, used = real_stacks.swatch_set("C", over_black=True, reading=0.01)
    assert len(swatches.swatches) == 6
    assert {"WWWWW", "CWWWW", "CCWWW", "CCCCW"} <= used <= set(board.lab)
    # What makes four cyan layers darkest lies under them, and stands as a ground uppermost over white.
    below = real_stacks.darkest_under("CCCC")
    assert board.lab["CCCC" + below][0] == min(board.lab["CCCC" + c][0] for c in real_stacks.COLOURS)
    assert below + "WWWW" in used


@pytest.mark.parametrize("model", [TWO_CONES, BEER_LAMBERT])
def test_least_squares_find_the_paint_that_swatches_were_made_of(model: Model) -> None:
    K, S = np.geomspace(0.3, 0.01, 31), np.full(31, 0.03)
    black, white = np.full(31, 0.03), np.full(31, 0.85)

    def look(ground: FloatArray, coats: int) -> FloatArray:
        return model.seen(model.lay(K, S, np.asarray(2.0 * coats), model.ground(ground)), 0.0)

    noise = np.full(31, 0.001)
    grounds = {"black": black, "white": white}
    made = SwatchSet(
        paint="made up",
        kind="paint",
        volume_solids=0.5,
        wet_film_um=4.0,
        sheen=0.0,
        specular="excluded",
        grounds=tuple(Ground(name=n, reflectance=R, noise=noise, sheen=0.0) for n, R in grounds.items()),
        swatches=tuple(
            Swatch(name=f"{c} {n}", ground=n, coats=c, reflectance=look(R, c), noise=noise)
            for n, R in grounds.items()
            for c in (1, 2)
        ),
    )
    found_K, found_S = nearest_to(model, made)
    np.testing.assert_allclose(found_K, K, rtol=1e-3)
    if model is TWO_CONES:
        np.testing.assert_allclose(found_S, S, rtol=1e-3)
