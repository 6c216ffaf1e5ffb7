"""Some hundreds of texts and pictures with slips, and those that once were a fault of the program."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

from layersim.errors import LayersimError
from layersim.fitting.chip import read_reference
from tests.fuzz import cases, faults, pictures


def test_every_mutated_text_is_read_or_told_what_is_wrong(tmp_path: Path) -> None:
    assert list(itertools.islice(faults(tmp_path, count=300, seed=20), 3)) == []


def test_every_spoilt_picture_is_read_or_told_what_is_wrong(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert list(itertools.islice(pictures.faults(tmp_path, count=300, seed=20), 3)) == []
    # Decoders wrote to it themselves ("libpng error: bad adaptive filter value").
    assert capfd.readouterr().err == ""


def test_the_photographs_that_are_spoilt_are_sound(tmp_path: Path) -> None:
    for content in pictures.sound_photographs(tmp_path):
        (tmp_path / "sound.jpg").write_bytes(content)
        assert read_reference(tmp_path / "sound.jpg").channels is not None


def test_the_texts_that_are_mutated_are_sound(tmp_path: Path) -> None:
    for case in cases(tmp_path):
        path = tmp_path / "sound.toml"
        path.write_text(case.text, encoding="utf-8")
        case.read(path)


@pytest.mark.parametrize("line", ["batch = 5", 'times = "x"', "hand = 1", "batch = []", "times = [[1]]"])
def test_a_table_that_is_none(tmp_path: Path, line: str) -> None:
    """Found in 258 of 260 faults of 32,584 mutated texts, when tables were read outside the net."""
    demo = cases(tmp_path)[0]
    path = tmp_path / "x.toml"
    head = 'format = "layersim scheme 1"\nname = "x"\n'
    path.write_text(f'{head}{line}\n[[area]]\nname = "a"\nground = "black primer"\n', encoding="utf-8")
    with pytest.raises(LayersimError, match="expected a table, such as"):
        demo.read(path)
