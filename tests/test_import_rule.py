"""Who may import whom, read from the syntax trees: one direction, as DEVELOPERS.md says."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import layersim

PACKAGE = Path(layersim.__file__).parent
FILES = sorted(PACKAGE.rglob("*.py"))

LOW = {
    "meshfile",
    "shown",
    "called",
    "errors",
    "spectra",
    "chance",
    "estimate",
    "resources",
    "files",
    "names",
    "documents",
    "optics",
    "colour",
    "metals",
}
PAINTS = {"paint", "paintfile", "shelf", "owned", "swatchcard", "sprayer"}
UP_TO_SCHEME = LOW | PAINTS | {"scheme"}
ANSWERS = {"measure", "fitting", "decide", "plan", "log", "learn", "figure"}

# A room is a folder or a file at the top of the package. Nobody may import what is not listed for it.
MAY_IMPORT: dict[str, set[str]] = {
    "version": set(),
    "called": set(),
    "errors": set(),
    "resources": set(),
    "spectra": {"errors"},
    "chance": {"spectra"},
    "estimate": {"chance", "spectra"},
    "files": {"errors"},
    "names": {"errors"},
    "documents": {"errors", "files", "names", "spectra"},
    "optics": {"spectra"},
    "colour": {"errors", "spectra", "resources"},
    "metals": {"errors", "resources"},
    "paint": {"documents", "metals", "optics", "spectra"},
    "paintfile": LOW | {"paint"},
    "meshfile": {"called", "errors", "files", "spectra"},
    "shelf": LOW | {"paint", "paintfile", "swatchcard"},
    "owned": LOW | {"paint", "shelf"},
    "swatchcard": LOW | {"paint"},
    "sprayer": LOW | {"paint", "paintfile"},
    "measure": LOW | PAINTS,
    "fitting": LOW | PAINTS | {"measure"},
    "scheme": LOW | PAINTS,
    "decide": UP_TO_SCHEME,
    "plan": UP_TO_SCHEME,
    "figure": UP_TO_SCHEME | {"measure", "fitting"},
    "log": LOW,
    "learn": UP_TO_SCHEME | {"log"},
    # Answers look their views and writers up by name, when somebody asks to see them.
    "shown": set(),
    "views": UP_TO_SCHEME | ANSWERS | {"bench"},
    "writers": {"views", "chance", "errors", "files", "colour", "spectra", "paint", "scheme"},
    "bench": UP_TO_SCHEME | ANSWERS,
    "page": UP_TO_SCHEME | ANSWERS | {"views", "writers", "bench", "version"},
    "cli": UP_TO_SCHEME | ANSWERS | {"views", "writers", "bench", "version", "page"},
    "__main__": {"cli"},
    "__init__": UP_TO_SCHEME | ANSWERS | {"bench", "version"},
}

# Each takes longer to import than a preview takes to work out, or opens windows.
HEAVY = {"matplotlib", "scipy", "colour", "PIL", "cv2", "OpenImageIO", "rawpy", "skimage", "pandas"}


def room(path: Path) -> str:
    return path.relative_to(PACKAGE).with_suffix("").parts[0]


def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


def modules(node: ast.AST) -> list[str]:
    """Names of the modules that a statement imports; `from layersim import colour` is layersim.colour."""
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if isinstance(node, ast.ImportFrom):
        assert node.level == 0, "imports name their module in full"
        assert node.module is not None
        if node.module == "layersim":
            return [f"layersim.{alias.name}" for alias in node.names]
        return [node.module]
    return []


def imported_rooms(path: Path) -> set[str]:
    names = [name for node in ast.walk(tree(path)) for name in modules(node)]
    return {name.split(".")[1] for name in names if name.startswith("layersim.")} - {room(path)}


def at_the_top(node: ast.AST) -> Iterator[ast.AST]:
    """Statements that run when a module is imported: not those in functions, nor for type checkers alone."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda)):
            continue
        if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.dump(child.test):
            continue
        yield child
        yield from at_the_top(child)


def test_every_room_stands_in_the_table() -> None:
    assert {room(path) for path in FILES} == set(MAY_IMPORT)


def test_the_table_has_one_direction() -> None:
    """No two rooms may import each other, not even in a ring."""
    left = {name: set(others) for name, others in MAY_IMPORT.items() if name != "__init__"}
    while left:
        free = [name for name, others in left.items() if not others & set(left)]
        assert free, f"these import each other in a ring: {sorted(left)}"
        for name in free:
            del left[name]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
class TestEveryFile:
    def test_it_imports_only_what_its_room_may(self, path: Path) -> None:
        assert imported_rooms(path) <= MAY_IMPORT[room(path)]

    def test_nothing_heavy_is_imported_before_it_is_needed(self, path: Path) -> None:
        names = {name.split(".")[0] for node in at_the_top(tree(path)) for name in modules(node)}
        assert not names & HEAVY

    def test_only_the_command_line_prints_or_leaves(self, path: Path) -> None:
        if room(path) == "cli":
            assert path.suffix == ".py"
            return
        for node in ast.walk(tree(path)):
            if not isinstance(node, ast.Call):
                continue
            called = ast.unparse(node.func)
            assert called not in {"print", "input", "exit", "quit", "sys.exit", "os._exit"}, (
                f"line {node.lineno}"
            )
            assert not called.startswith(("sys.stdout", "sys.stderr", "sys.stdin")), f"line {node.lineno}"


@pytest.mark.parametrize("path", sorted((PACKAGE / "optics").glob("*.py")), ids=lambda path: path.stem)
def test_optics_knows_numpy_and_nothing_else(path: Path) -> None:
    names = {name.split(".")[0] for node in ast.walk(tree(path)) for name in modules(node)}
    assert names <= {"numpy", "layersim"} | set(sys.stdlib_module_names)


def test_a_class_name_stands_for_one_thing() -> None:
    homes: dict[str, list[str]] = {}
    for path in FILES:
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef):
                homes.setdefault(node.name, []).append(path.relative_to(PACKAGE).as_posix())
    assert {name: places for name, places in homes.items() if len(places) > 1} == {}


def test_the_rules_catch_what_they_are_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "optics").mkdir()
    bad = tmp_path / "optics" / "film.py"
    bad.write_text(
        "import scipy.special\nfrom layersim import colour\nfrom layersim.scheme.records import Coat\n"
        "class C:\n    import PIL\nif TYPE_CHECKING:\n    import cv2\ndef f():\n    import matplotlib\n"
    )
    monkeypatch.setattr(sys.modules[__name__], "PACKAGE", tmp_path)
    assert imported_rooms(bad) == {"colour", "scheme"}
    names = {name.split(".")[0] for node in at_the_top(tree(bad)) for name in modules(node)}
    assert names & HEAVY == {"scipy", "PIL"}
