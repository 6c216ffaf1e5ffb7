"""Where a sprayer's profile stands: for the commands that learn something about a sprayer."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from layersim.errors import LayersimError, quoted

if TYPE_CHECKING:
    from layersim.sprayer import Sprayer


def profile(named: str) -> tuple[Path, Sprayer]:
    """Return where the profile stands or is to stand, and what it says so far."""
    from layersim.names import LONGEST_NAME, slug
    from layersim.sprayer import Sprayer, own_folder, read_sprayer

    name = Path(named).stem if named.endswith(".toml") else named
    if not slug(name) or len(name) > LONGEST_NAME:
        raise LayersimError(f"sprayer: found {quoted(named)}; expected a name with letters, or a .toml file")
    path = Path(named) if named.endswith(".toml") else own_folder() / f"{slug(name)}.toml"
    return path, read_sprayer(path) if path.exists() else Sprayer(name)


def make_folder(folder: Path) -> None:
    """Make the user's own folder of sprayers, where it is that which is meant."""
    from layersim.errors import OutputError
    from layersim.sprayer import own_folder

    if folder != own_folder():
        return
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        reason = (fault.strerror or str(fault)).lower()
        raise OutputError(f"{folder}: your own folder of sprayers cannot be made ({reason})") from None
