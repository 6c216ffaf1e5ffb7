"""Writing what a model shows into a scheme: remarks stay, what was there stays as one, and it reads back."""

from __future__ import annotations

from pathlib import Path

import pytest

from layersim.decide.writing import write_greys, write_shares
from layersim.errors import LayersimError
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import GreysGiven, GreysSprayed, Scheme
from tests.examples import SCHEME


@pytest.fixture
def scheme(tmp_path: Path, paints_folder: Path) -> Path:
    path = tmp_path / "my.toml"
    path.write_text(SCHEME, encoding="utf-8")
    return path


def read(path: Path, paints_folder: Path) -> Scheme:
    return load_scheme(path, folders=[paints_folder])


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_greys_take_the_place_of_a_preshade_that_stays_as_a_remark(
    scheme: Path, paints_folder: Path, ending: str
) -> None:
    scheme.write_bytes(SCHEME.replace("\n", ending).encode())
    assert isinstance(read(scheme, paints_folder)["cloth"].preshade, GreysSprayed)
    words = {"error": 2.44, "source": "model.jpg", "folders": (paints_folder,)}
    write_greys(scheme, {"cloth": (23.6, 81.2)}, **words)
    text = scheme.read_bytes().decode()
    found = read(scheme, paints_folder)
    preshade = found["cloth"].preshade
    assert isinstance(preshade, GreysGiven)
    assert (preshade.darkest, preshade.lightest, found.hand.greys) == (24.0, 81.0, 2.4)
    assert "greys = [24, 81]   # read from model.jpg" in text
    # Nothing is lost: each old line is there, as it was or as a remark.
    new = [line.removeprefix("# before: ") for line in text.split(ending)]
    assert [line for line in SCHEME.split("\n") if line not in new] == []
    # Written again, it is as it was; other greys leave these as a remark.
    write_greys(scheme, {"cloth": (23.6, 81.2)}, **words)
    assert scheme.read_bytes().decode() == text
    write_greys(scheme, {"cloth": (30.0, 81.2)}, **words)
    assert "# before: greys = [24, 81]" in scheme.read_bytes().decode()


def test_a_scheme_that_says_nothing_of_hand_and_preshade_gets_both(scheme: Path, paints_folder: Path) -> None:
    head, _, rest = SCHEME.partition("[hand]")
    bare = rest[rest.index("[[area]]") :].replace(
        '[area.preshade]\nwhite = "chalk white"\nthinning = 3\npasses = 4\ndry_film_um = 0.6\n', ""
    )
    scheme.write_text(head + bare, encoding="utf-8")
    assert read(scheme, paints_folder)["cloth"].preshade is None
    write_greys(scheme, {"cloth": (20.0, 70.0)}, error=3.0, source="m.jpg", folders=(paints_folder,))
    found = read(scheme, paints_folder)
    assert isinstance(found["cloth"].preshade, GreysGiven)
    assert found.hand.greys == 3.0


def test_shares_take_the_place_of_shares_and_of_surfaces(scheme: Path, paints_folder: Path) -> None:
    text = SCHEME.replace('name = "cloth"', 'name = "cloth"\nsurface_cm2 = 5', 1)
    scheme.write_text(text, encoding="utf-8")
    write_shares(scheme, {"cloth": 0.7654, "strap": 0.08}, folders=(paints_folder,))
    found = read(scheme, paints_folder)
    assert (found["cloth"].extent.share, found["strap"].extent.share) == (0.77, 0.08)
    assert "# before: surface_cm2 = 5" in scheme.read_text()
    write_shares(scheme, {"cloth": 0.5}, folders=(paints_folder,))
    assert "# before: share = 0.77\nshare = 0.5" in scheme.read_text()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            '[area.preshade]\nwhite = "chalk white"\nthinning = 3\npasses = 4\ndry_film_um = 0.6',
            "preshade = { greys = [20, 70] }",
            "cannot be replaced line by line",
        ),
        ("[hand]\nfilm = 0.2\nparts = 0.1", "hand = { film = 0.2 }", "cannot be replaced line by line"),
    ],
)
def test_what_cannot_be_written_leaves_the_file_as_it_was(
    scheme: Path, paints_folder: Path, old: str, new: str, said: str
) -> None:
    assert old in SCHEME
    scheme.write_text(SCHEME.replace(old, new, 1), encoding="utf-8")
    before = scheme.read_bytes()
    with pytest.raises(LayersimError, match=said):
        write_greys(scheme, {"cloth": (24.0, 81.0)}, error=2.4, source="m.jpg", folders=(paints_folder,))
    assert scheme.read_bytes() == before
