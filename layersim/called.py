"""How this program and its Python were called, so that what a message says to type works where it is read."""

from __future__ import annotations

import os
import sys

NAME = "layersim"


def called() -> str:
    """Return what calls this program here: its name if the shell finds it by that, else as it was typed.

    Where another program imports this package, it is the name.
    """
    typed = sys.argv[0] if sys.argv else ""
    folder, file = os.path.split(typed)
    if (os.path.basename(folder), file) == (NAME, "__main__.py"):  # noqa: PTH119 - pathlib takes longer to import
        return f"{_word(sys.orig_argv[0])} -m {NAME}"
    if os.path.splitext(file)[0] != NAME or is_found(NAME, within=folder):  # noqa: PTH122
        return NAME
    return _word(typed)


def install_command(package: str) -> str:
    """Return the command that installs a package into the environment that this program runs in."""
    from importlib.util import find_spec

    folder, name = os.path.split(sys.executable)
    python = sys.executable
    if is_found(name, within=folder):
        python = name
    elif folder.startswith(os.path.join(os.getcwd(), "")):  # noqa: PTH109, PTH118
        python = os.path.relpath(python)
    if find_spec("pip") is None:
        return f"uv pip install --python {_word(python)} {package}"
    return f"{_word(python)} -m pip install {package}"


def is_found(program: str, *, within: str) -> bool:
    """Return whether the shell finds a program by its name alone, and in this folder."""
    for folder in os.get_exec_path():
        if any(os.path.isfile(os.path.join(folder, program + end)) for end in ("", ".exe")):  # noqa: PTH113, PTH118
            return os.path.isdir(within) and os.path.samefile(folder, within)  # noqa: PTH112, PTH121
    return False


def _word(text: str) -> str:
    """Return a text as one word of a command line."""
    return f'"{text}"' if " " in text else text
