"""What a command loads before it works: start-up is most of what a short command takes."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

RUN = """
import json, sys
sys.path.insert(0, sys.argv[1])
from layersim.cli import main
code = main(json.loads(sys.argv[2]))
print()
print(json.dumps([code, sorted(sys.modules)]))
"""


def loaded(*arguments: str, folder: Path) -> set[str]:
    """Run one command in a process of its own and return the top names of all it loaded."""
    tree = str(Path(__file__).parents[1])
    done = subprocess.run(
        [sys.executable, "-c", RUN, tree, json.dumps(arguments)],
        capture_output=True,
        text=True,
        cwd=folder,
        check=True,
    )
    code, modules = json.loads(done.stdout.splitlines()[-1])
    assert code == 0, done.stderr
    assert done.stderr == ""
    return set(modules)


def test_importing_the_package_loads_nothing_of_it() -> None:
    done = subprocess.run(
        [sys.executable, "-c", "import sys, layersim; print([m for m in sys.modules if 'layersim' in m])"],
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[1],
        check=True,
    )
    assert done.stdout.strip() == "['layersim']"


@pytest.mark.parametrize("arguments", [(), ("--help",), ("--version",)])
def test_help_loads_no_numbers_and_no_parser(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    modules = loaded(*arguments, folder=tmp_path)
    assert not modules & {"numpy", "argparse", "dataclasses", "layersim.errors"}


def test_starting_a_scheme_loads_no_numbers(tmp_path: Path) -> None:
    assert "numpy" not in loaded("start", "x.toml", folder=tmp_path)


def test_a_preview_loads_nothing_that_makes_it_slow(tmp_path: Path, scheme_file: Path) -> None:
    paints = scheme_file.parent / "paints"
    from tests.examples import fill

    fill(paints)
    modules = loaded("preview", str(scheme_file), "--paints", str(paints), "--tones", "3", folder=tmp_path)
    assert (tmp_path / "rig-preview.png").is_file()
    assert "numpy" in modules
    assert not modules & {"colour", "scipy", "matplotlib.pyplot", "cv2", "tkinter"}


@pytest.mark.parametrize(
    "arguments",
    [("check", "{scheme}"), ("preview", "{scheme}", "--no-picture"), ("paints",), ("paint", "rust")],
)
def test_a_table_needs_no_picture(tmp_path: Path, scheme_file: Path, arguments: tuple[str, ...]) -> None:
    from tests.examples import fill

    paints = fill(tmp_path / "paints")
    words = [word.format(scheme=scheme_file) for word in arguments]
    modules = loaded(*words, "--paints", str(paints), folder=tmp_path)
    assert not modules & {"matplotlib", "colour", "scipy", "PIL", "cv2"}
