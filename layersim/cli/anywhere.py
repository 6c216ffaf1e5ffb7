"""Say how the program is called from any folder."""

from __future__ import annotations

import os
import shlex
import sys
import sysconfig

from layersim.called import NAME, called, is_found


def anywhere_text() -> str:
    """Return a line to paste after which the shell finds the program from every folder."""
    folder = sysconfig.get_path("scripts")
    if is_found(NAME, within=folder):
        return f"{NAME} is found from every folder: type {NAME}."
    return (
        f"{NAME} is not found from every folder yet. So that it is, paste this line into "
        f"{'PowerShell, and open it anew' if os.name == 'nt' else 'the terminal'}:\n\n"
        f"  {_line(folder)}\n\n"
        f"Until then, type {called()} wherever {NAME} is written."
    )


def _line(folder: str) -> str:
    if os.name == "nt":
        more = folder.replace("'", "''")
        path = f"[Environment]::GetEnvironmentVariable('Path', 'User') + ';{more}'"
        return f"[Environment]::SetEnvironmentVariable('Path', {path}, 'User')"
    shell = os.path.basename(os.environ.get("SHELL", ""))  # noqa: PTH119
    if shell == "fish":
        return f"fish_add_path --append {shlex.quote(folder)}"
    bash = "~/.bash_profile" if sys.platform == "darwin" else "~/.bashrc"
    start = "~/.zshrc" if shell == "zsh" else bash
    # Last in PATH, so that no other program of this folder, such as python, takes the place of one's own.
    export = f'export PATH="$PATH":{shlex.quote(folder)}'
    return f"echo {shlex.quote(export)} >> {start} && source {start}"
