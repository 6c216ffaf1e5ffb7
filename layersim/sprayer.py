"""A sprayer's profile: what was found out about one airbrush in one pair of hands.

A small text file that weighings and fits write and schemes name. Each of its numbers is optional:
what nobody measured is left to the defaults.
"""

from __future__ import annotations

import dataclasses
import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from layersim.errors import LayersimError, MissingSprayerError, SprayerFileError, nearest_hint, quoted
from layersim.estimate import Estimate
from layersim.files import write_whole
from layersim.paintfile import slug
from layersim.tables import Document, Table

FORMAT: Final = 1
FOLDER_VARIABLE: Final = "LAYERSIM_SPRAYERS"
"""Environment variable that names the user's own folder of sprayers."""
MOST_ERROR: Final = 2.0
_FILM: Final = (0.01, 100.0)
_DROP_UL: Final = (1.0, 1000.0)
_SCATTER: Final = (0.001, 2.0)


@dataclass(frozen=True)
class Sprayer:
    """One sprayer: an airbrush, its settings and the hand that holds it."""

    name: str
    film_factor: Estimate | None = None
    """Its film per coat, as a share of the film that a paint's own file suggests."""
    transfer_efficiency: Estimate | None = None
    """Share of the sprayed solids that stays on the work."""
    drop_ul: Estimate | None = None
    """One drop from the droppers used with it, µl."""
    film_scatter: Estimate | None = None
    """How far the film of one coat, or one swatch, is from the next's: relative, one standard deviation."""
    provenance: str = ""
    """Where the numbers come from, on the whole; each has its own basis, too."""


def own_folder() -> Path:
    """Return the user's own folder of sprayers, which :data:`FOLDER_VARIABLE` may name; it need not exist."""
    named = os.environ.get(FOLDER_VARIABLE, "").strip()
    folder = Path(named) if named else Path("~/layersim/sprayers")
    try:
        return folder.expanduser()
    except RuntimeError:  # no home: a folder that is not there counts as empty
        return folder


def find_sprayer(name: str, *folders: Path) -> Sprayer:
    """Return the sprayer of a name, as :func:`find_sprayer_file` does."""
    return find_sprayer_file(name, *folders)[1]


def find_sprayer_file(name: str, *folders: Path) -> tuple[Path, Sprayer]:
    """Return the sprayer of a name with its file, from the first folder that has it, the user's own last.

    The name is the profile's, or its file's; one that ends in .toml may be that file's path. Raises
    MissingSprayerError if no folder has it, and SprayerFileError if its file cannot be used.
    """
    if name.endswith(".toml") and _is_file(Path(name)):
        return Path(name), read_sprayer(Path(name))
    wanted = slug(name.removesuffix(".toml"))
    searched = tuple(dict.fromkeys((*folders, own_folder())))
    for folder in searched:
        path = folder / f"{wanted}.toml"
        if wanted and _is_file(path):
            return path, read_sprayer(path)
    known: dict[str, tuple[Path, Sprayer]] = {}
    for folder in searched:
        for path, sprayer in _profiles_in(folder):
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
    """Return what a profile said before of a number that is replaced now; empty where nothing is.

    It warns where the new number is less sure than the old one. `heading` is the number's in the profile's
    file, `path` that file, `unit` is for the words.

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
    document = Document(path, what="sprayer", error=SprayerFileError)
    top, attempt = document.top, document.attempt
    with document.gather():
        document.check_format(FORMAT)
    sprayer = Sprayer(
        name=attempt(lambda: top.name("name"), ""),
        film_factor=attempt(lambda: _estimate(top, "film_factor", *_FILM), None),
        transfer_efficiency=attempt(lambda: _estimate(top, "transfer_efficiency", 0.001, 1.0), None),
        drop_ul=attempt(lambda: _estimate(top, "drop_ul", *_DROP_UL), None),
        film_scatter=attempt(lambda: _estimate(top, "film_scatter", *_SCATTER), None),
        provenance=attempt(lambda: top.text("provenance", ""), ""),
    )
    top.no_other_keys()
    document.finish()
    return sprayer


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
    name = json.dumps(sprayer.name, ensure_ascii=False)
    rows = [
        f"# What is known of one sprayer. A scheme names it: [batch] sprayer = {name}",
        f'format = "layersim sprayer {FORMAT}"',
        f"name = {name}",
    ]
    if sprayer.provenance:
        rows.append(f"provenance = {json.dumps(sprayer.provenance, ensure_ascii=False)}")
    remarks = {
        "film_factor": "film of a coat, as a share of the paint's own",
        "transfer_efficiency": "share of the sprayed solids that stays on the work",
        "drop_ul": "one drop, microlitres",
        "film_scatter": "how far one coat's film is from the next's, as a share",
    }
    for key, remark in remarks.items():
        estimate: Estimate | None = getattr(sprayer, key)
        if estimate is not None:
            value, error = _in_file(estimate)
            rows += [
                "",
                f"[{key}]   # {remark}",
                f"value = {value}",
                f"error = {error}   # one standard deviation, as a share",
                f"basis = {json.dumps(estimate.basis, ensure_ascii=False)}",
            ]
    return "\n".join(rows) + "\n"


def write_sprayer(sprayer: Sprayer, path: Path) -> None:
    """Write a profile whole or not at all; raises OutputError if the file cannot be written."""
    write_whole(path, sprayer_text(sprayer))


def updated(old: Sprayer, **found: Estimate | None) -> Sprayer:
    """Return a profile with some numbers replaced; those given as None stay as they were."""
    return dataclasses.replace(old, **{key: value for key, value in found.items() if value is not None})  # type: ignore[arg-type]


def _estimate(top: Table, key: str, low: float, high: float) -> Estimate | None:
    table = top.table(key)
    if table is None:
        return None
    attempt = table.document.attempt
    value = attempt(lambda: table.number("value", low=low, high=high), low)
    error = attempt(lambda: table.number("error", low=0.0, high=MOST_ERROR), 0.0)
    basis = attempt(lambda: table.text("basis", "as the profile says"), "")
    table.no_other_keys()
    return Estimate(value, error, basis)


def _in_file(estimate: Estimate) -> tuple[str, str]:
    """Return value and error as a profile's file has them."""
    return f"{estimate.value:.4g}", f"{estimate.error:.3g}"


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except OSError:  # a name too long for any file
        return False


def _how_to_make(name: str) -> str:
    """Return how a profile that is not there comes to be."""
    return (
        f"Make a profile with any of: layersim weigh {quoted(name)} (cards or drops weighed); layersim fit "
        f"SWATCHES --known PAINT --sprayer {quoted(name)} (swatches of a paint that is known); layersim log "
        f"SCHEME learn --sprayer {quoted(name)} (chips measured on models)."
    )


def _profiles_in(folder: Path) -> list[tuple[Path, Sprayer]]:
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
