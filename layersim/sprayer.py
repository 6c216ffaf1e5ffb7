"""A sprayer's profile: what was found out about one airbrush in one pair of hands.

A small text file that weighings and fits write and schemes name. Each of its numbers is optional: what nobody
measured is left to the defaults.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Final

from layersim import files
from layersim.documents import kinds
from layersim.documents.document import Document
from layersim.documents.keys import Key, keys_of, read_keys, section
from layersim.documents.kinds import number, text
from layersim.documents.writing import toml
from layersim.errors import LayersimError, MissingSprayerError, SprayerFileError, nearest_hint, quoted
from layersim.estimate import Estimate
from layersim.files import is_file, write_whole
from layersim.names import LONGEST_NAME, slug

FORMAT: Final = 1
FOLDER_VARIABLE: Final = "LAYERSIM_SPRAYERS"
"""Environment variable that names the user's own folder of sprayers."""
MOST_ERROR: Final = 2.0


def _measured(low: float, high: float, words: str, unit: str = "") -> Key:
    keys = {
        "value": Key(number(low, high, unit=unit), words),
        "error": Key(number(0.0, MOST_ERROR), "one standard deviation, as a share"),
        "basis": Key(text(), "what it rests on", "as the profile says"),
    }
    return Key(section(keys, Estimate), words)


@dataclass(frozen=True)
class Sprayer:
    """One sprayer: an airbrush, its settings and the hand that holds it."""

    name: Annotated[str, Key(kinds.name(findable=True), "by which schemes find it")]
    film_factor: Annotated[
        Estimate | None, _measured(0.01, 100.0, "film of a coat, as a share of the paint's own")
    ] = None
    transfer_efficiency: Annotated[
        Estimate | None, _measured(0.001, 1.0, "share of the sprayed solids that stays on the work")
    ] = None
    drop_ul: Annotated[Estimate | None, _measured(1.0, 1000.0, "one drop, microlitres", "µl")] = None
    film_scatter: Annotated[
        Estimate | None, _measured(0.001, 2.0, "how far one swatch's film is from the next's, as a share")
    ] = None
    provenance: Annotated[str, Key(text(), "where the numbers come from, on the whole")] = ""


SPRAYER_KEYS: Final = keys_of(Sprayer)


def own_folder() -> Path:
    """Return the user's own folder of sprayers; it need not exist."""
    return files.own_folder(FOLDER_VARIABLE, "~/layersim/sprayers")


def find_sprayer(name: str, *folders: Path) -> Sprayer:
    """Return the sprayer of a name, or of its file's name, from the first folder that has its file.

    The user's own folder is searched last. Raises MissingSprayerError if no folder has it, and
    SprayerFileError if its file can't be used.
    """
    return find_sprayer_file(name, *folders)[1]


def find_sprayer_file(name: str, *folders: Path) -> tuple[Path, Sprayer]:
    """Return the file that :func:`find_sprayer` reads, and its sprayer; NAME.toml may be a path."""
    if name.endswith(".toml") and is_file(Path(name)):
        return Path(name), read_sprayer(Path(name))
    wanted = slug(name.removesuffix(".toml"))
    searched = tuple(dict.fromkeys((*folders, own_folder())))
    for folder in searched:
        path = folder / f"{wanted}.toml"
        if wanted and is_file(path):
            return path, read_sprayer(path)
    known: dict[str, tuple[Path, Sprayer]] = {}
    for folder in searched:
        for path, sprayer in profiles_in(folder):
            known.setdefault(slug(sprayer.name), (path, sprayer))
    if wanted in known:
        return known[wanted]
    hint = nearest_hint(name, [sprayer.name for _, sprayer in known.values()], kind="sprayers")
    where = " or ".join(str(folder) for folder in searched)
    missing = f"the file {wanted or 'NAME'}.toml in {where}."
    raise MissingSprayerError(
        f"{wanted or name}.toml",
        found=quoted(name),
        expected=" ".join(part for part in (missing, hint, _how_to_make(name if wanted else "NAME")) if part),
    )


def replaced_words(old: Estimate | None, new: Estimate, *, heading: str, path: Path, unit: str = "") -> str:
    """Return what a profile said before of a number that is replaced now; empty where nothing is replaced.

    With a warning where the new number is less sure than the old one. `heading` is the number's, and `path`
    the profile's file.

    >>> old = Estimate(0.3, 0.1, "3 cards")
    >>> print(replaced_words(old, Estimate(0.25, 0.05), heading="transfer_efficiency", path=Path("a.toml")))
    Before, the profile said 0.3 (0.25-0.35): 3 cards. Now it says 0.25 (0.23-0.27).
    """
    # As the file has them: the same found again is no other number for being rounded there.
    if old is None or _in_file(old) == _in_file(new):
        return ""
    told = f"Before, the profile said {old.words(unit)}: {old.basis}. Now it says {new.words(unit)}."
    (value, error), (_, new_error) = _in_file(old), _in_file(new)
    if float(new_error) <= float(error):
        return told
    return (
        f"{told}\nNote: what is there now is less sure than what was there before. To have that back, write "
        f"value = {value} and error = {error} under [{heading}] in {path}."
    )


def read_sprayer(path: Path) -> Sprayer:
    """Return the profile in a file; raises SprayerFileError with everything that is wrong in it."""
    document = Document(path, what="sprayer", error=SprayerFileError, keys=SPRAYER_KEYS)
    with document.gather():
        document.check_format(FORMAT)
    values = read_keys(document.top, SPRAYER_KEYS)
    document.finish()
    return Sprayer(**values)


def sprayer_text(sprayer: Sprayer) -> str:
    """Return a profile as the text of its file.

    >>> print(sprayer_text(Sprayer("fine needle", drop_ul=Estimate(46.0, 0.1, "ten drops weighed"))))
    # What is known of one sprayer. A scheme names it: [batch] sprayer = "fine needle"
    format = "layersim sprayer 1"
    name = "fine needle"
    <BLANKLINE>
    [drop_ul]   # one drop, microlitres
    value = 46
    error = 0.1   # one standard deviation, as a share
    basis = "ten drops weighed"
    <BLANKLINE>
    """
    rows = [
        f"# What is known of one sprayer. A scheme names it: [batch] sprayer = {toml(sprayer.name)}",
        f'format = "layersim sprayer {FORMAT}"',
        f"name = {toml(sprayer.name)}",
        *([f"provenance = {toml(sprayer.provenance)}"] if sprayer.provenance else []),
    ]
    for name, key in SPRAYER_KEYS.items():
        if isinstance(estimate := getattr(sprayer, name), Estimate):
            value, error = _in_file(estimate)
            rows += [
                "",
                f"[{name}]   # {key.words}",
                f"value = {value}",
                f"error = {error}   # one standard deviation, as a share",
                f"basis = {toml(estimate.basis)}",
            ]
    return "\n".join(rows) + "\n"


def write_sprayer(sprayer: Sprayer, path: Path) -> None:
    """Write a profile whole or not at all; raises OutputError if it can't be written."""
    write_whole(path, sprayer_text(sprayer))


def updated(old: Sprayer, **found: Estimate | None) -> Sprayer:
    """Return a profile with some numbers replaced, by the names of its fields; None leaves one as it was."""
    return dataclasses.replace(old, **{key: value for key, value in found.items() if value is not None})  # type: ignore[arg-type]


def profile(named: str, file: Path | None = None, *, mark: str = "--") -> tuple[Path, Sprayer]:
    """Return where a profile stands or is to stand, which `file` may say, and what it says so far.

    `mark` stands before "sprayer" in a message, as dashes do before options.
    """
    name = Path(named).stem if named.endswith(".toml") else named
    if not slug(name) or len(name) > LONGEST_NAME:
        raise LayersimError(
            f"{mark}sprayer: found {quoted(named)}; expected a name with letters, or a .toml file"
        )
    path = file or (Path(named) if named.endswith(".toml") else own_folder() / f"{slug(name)}.toml")
    return path, read_sprayer(path) if path.exists() else Sprayer(name)


def keep(sprayer: Sprayer, path: Path) -> None:
    """Write a profile, and make the user's own folder for it if it goes there."""
    if path.parent == own_folder():
        files.make_folder(path.parent, what="sprayers")
    write_sprayer(sprayer, path)


def _in_file(estimate: Estimate) -> tuple[str, str]:
    """Return value and error as a profile's file has them."""
    return f"{estimate.value:.4g}", f"{estimate.error:.3g}"


def _how_to_make(name: str) -> str:
    """Return how a profile that is not there comes to be."""
    return (
        f"Make a profile with any of: layersim weigh {quoted(name)} (cards or drops weighed); layersim fit "
        f"SWATCHES --known PAINT --sprayer {quoted(name)} (swatches of a paint that is known); layersim log "
        f"SCHEME learn --sprayer {quoted(name)} (chips measured on models)."
    )


def profiles_in(folder: Path) -> list[tuple[Path, Sprayer]]:
    """Return the profiles in a folder; files of other kinds, such as schemes, are passed over."""
    try:
        paths = sorted(path for path in folder.iterdir() if path.suffix == ".toml")
    except OSError:
        return []
    found = []
    for path in paths:
        try:
            found.append((path, read_sprayer(path)))
        except LayersimError:  # no profile, or one that could not be used anyway
            continue
    return found
