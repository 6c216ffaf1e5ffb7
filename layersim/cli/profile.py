"""Where a sprayer's profile stands: for the commands that learn something about a sprayer."""

from __future__ import annotations

from pathlib import Path

from layersim.errors import LayersimError, quoted
from layersim.files import make_folder
from layersim.names import LONGEST_NAME, slug
from layersim.sprayer import Sprayer, own_folder, read_sprayer, write_sprayer


def profile(named: str, file: Path | None = None) -> tuple[Path, Sprayer]:
    """Return where the profile stands or is to stand, which `file` may say, and what it says so far."""
    name = Path(named).stem if named.endswith(".toml") else named
    if not slug(name) or len(name) > LONGEST_NAME:
        raise LayersimError(
            f"--sprayer: found {quoted(named)}; expected a name with letters, or a .toml file"
        )
    path = file or (Path(named) if named.endswith(".toml") else own_folder() / f"{slug(name)}.toml")
    return path, read_sprayer(path) if path.exists() else Sprayer(name)


def keep(sprayer: Sprayer, path: Path) -> None:
    """Write a profile, and make the user's own folder for it if it goes there."""
    if path.parent == own_folder():
        make_folder(path.parent, what="sprayers")
    write_sprayer(sprayer, path)
