"""Keep the log of what was really sprayed, compare it with the prediction, and learn from it.

  layersim log my-scheme.toml add --area cloth --coat base --coats 3 --chip "mid=31.5 2.0 -18.2"
  layersim log my-scheme.toml add --area cloth --coat base --chip mid=chip.jpg@40,25
  layersim log my-scheme.toml show
  layersim log my-scheme.toml learn --also last-month.toml --sprayer "fine needle"
  layersim log my-scheme.toml swatches --paint "navy blue" --out navy-blue-swatches.toml

The log lies beside the scheme as NAME.log.jsonl, a line an entry, and is only ever added to: take-back adds
that the last entry does not count. Each entry keeps the scheme as it stands when it is made, so that the
scheme may be edited afterwards.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from layersim.cli import say
from layersim.cli.arguments import Parser, add_shelf, extra_folders, whole_number
from layersim.cli.chips import Photographs, add_grey
from layersim.cli.numbers import number
from layersim.cli.output import add_json, add_outputs, data_file, outputs, show, write_data
from layersim.documents.typed import comma_hint, plain_number
from layersim.errors import LayersimError, nearest_hint, quoted

_SURER = 1.01
"""A profile's file rounds an error by less than a hundredth."""

if TYPE_CHECKING:
    from layersim.log import Chip, Entry, Log
    from layersim.scheme.records import Scheme
    from layersim.sprayer import Sprayer


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, help="a scheme file")
    add_shelf(parser)
    actions = parser.add_subparsers(dest="action", required=True, metavar="ACTION")

    add = actions.add_parser("add", help="add an entry", description="Add what was sprayed.")
    add.add_argument("--area", metavar="NAME", help="the area that was sprayed")
    add.add_argument("--coat", metavar="NAME", help="a coat's name, primer or preshade")
    add.add_argument("--coats", type=whole_number, metavar="N", help="coats laid this time")
    add.add_argument("--drops", action="append", metavar="PAINT=N", help="of each paint, and thinner=N")
    add.add_argument("--pressure", type=number, metavar="BAR", help="at the airbrush")
    add.add_argument("--cup-loss", type=number, metavar="G", help="what the cup lost")
    add.add_argument("--card-gain", type=number, metavar="G", help="what a card gained, dry")
    add.add_argument("--sprayer", default="", metavar="NAME", help="whose hand (the scheme's sprayer)")
    add.add_argument("--photograph", default="", metavar="FILE", help="a file beside the scheme")
    add.add_argument(
        "--chip",
        action="append",
        metavar="TONE=L,a,b",
        help="a chip: tone shadow, mid, light or the preshade's L*; a spectrum is TONE=FILE#READING, a "
        "photograph beside a 24-patch chart TONE=FILE@X,Y",
    )
    add_grey(add)
    add.add_argument("--chip-lamp", default="D65", metavar="NAME", help="lamp the L,a,b stand for (D65)")
    add.add_argument("--note", default="", metavar="TEXT", help="what else should be remembered")
    add.add_argument("--at", metavar="DATE", help="when, such as 2026-05-01T18:30 (now)")
    add_json(add)
    assert isinstance(add, Parser)
    add.once = {"--step": "--coat", "--chip-light": "--chip-lamp"}

    take_back = "let the last entry not count"
    add_json(actions.add_parser("take-back", help=take_back, description="Take the last entry back."))
    add_outputs(actions.add_parser("show", help="show the log, predicted against real"))

    learn = actions.add_parser(
        "learn", help="learn the sprayer's film per coat, and how even it is, from the chips"
    )
    add_outputs(learn, option="--picture")
    learn.add_argument("--also", action="append", type=Path, metavar="SCHEME", help="further logged schemes")
    learn.add_argument("--sprayer", metavar="NAME", help="write it into this sprayer's profile")
    learn.add_argument("--few-chips", action="store_true", help="write it with fewer than three chips, too")
    learn.add_argument(
        "--out", type=Path, metavar="FILE", help="the profile's file, if not in your own folder"
    )

    swatches = actions.add_parser("swatches", help="write logged spectra as swatches for: layersim fit")
    swatches.add_argument("--paint", required=True, metavar="NAME", dest="of_paint")
    swatches.add_argument("--specular", choices=("included", "excluded"), default="excluded")
    swatches.add_argument("--out", type=Path, required=True, metavar="FILE")
    swatches.add_argument("--replace", action="store_true", help="write over a file that is there already")
    add_json(swatches)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.log import log_path, read_log
    from layersim.scheme.reading import load_scheme

    path = log_path(asked.scheme)
    if asked.action == "take-back":
        # Before the scheme is read: a paint renamed since must not keep a wrong entry in the log.
        _take_back(asked, path)
        return 0
    folders = extra_folders(asked)
    scheme = load_scheme(asked.scheme, folders=folders)
    if asked.action == "add":
        _add(asked, scheme, path, folders)
        return 0
    log = read_log(path)
    if asked.action == "show":
        from layersim.learn.beside import compared
        from layersim.views.log import comparison_lines, page

        beside = compared(scheme, log, folders=folders)
        title, *lines = comparison_lines(beside, scheme, _command(asked))
        show(page(title, lines), beside, outputs(asked, asked.scheme, path), name="log show")
    elif asked.action == "learn":
        also = [
            (load_scheme(other, folders=folders), read_log(log_path(other))) for other in asked.also or []
        ]
        _check_different([log, *(other for _, other in also)])
        _learn(asked, [(scheme, log), *also], folders)
    else:
        _swatches(asked, scheme, log, folders)
    return 0


def _command(asked: argparse.Namespace) -> str:
    """Return how this was called."""
    typed = str(asked.scheme)
    return f'layersim log "{typed}"' if " " in typed else f"layersim log {typed}"


def _add(asked: argparse.Namespace, scheme: Scheme, path: Path, folders: Sequence[Path]) -> None:
    from layersim.learn.entering import enter
    from layersim.views.log import entry_lines, slip_words, total_lines

    data = data_file(asked, path)
    photographs = Photographs(asked.grey)
    added = enter(path, _entry(asked, scheme, photographs), scheme, folders=folders)
    command = _command(asked)
    say("\n".join([*entry_lines(added.entry, added.chips), f"Logged in {path}"]))
    slips = slip_words(added, command)
    notices = [*photographs.notes, *slips]
    for line in (*total_lines(added, command), *(f"Note: {note}." for note in notices)):
        say(line)
    found = {
        "entry": added.entry, "path": path, "chips": added.chips, "so_far": added.so_far, "notices": notices,
    }  # fmt: skip
    write_data(found, data, name="log add")


def _take_back(asked: argparse.Namespace, path: Path) -> None:
    from datetime import datetime

    from layersim.log import take_back
    from layersim.views.log import entry_lines

    data = data_file(asked, path)
    taken = take_back(path, at=datetime.now())
    if taken is None:
        raise LayersimError(f"{path}: found no entry; expected one to take back")
    first, *chips = entry_lines(taken)
    say("\n".join([f"Taken back: {first}", *chips]))
    print("It does not count any more. Its line stays in the log.")
    write_data({"entry": taken, "path": path}, data, name="log take-back")


def _entry(asked: argparse.Namespace, scheme: Scheme, photographs: Photographs) -> Entry:
    from datetime import datetime

    from layersim.files import inside_folder, read_text
    from layersim.learn.entering import new_entry
    from layersim.views.log import example

    missing = [option for option, name in (("--area", asked.area), ("--coat", asked.coat)) if name is None]
    if missing:
        typed = example(scheme, _command(asked))
        found = f"found no {' and no '.join(missing)}"
        raise LayersimError(f"add: {found}; expected what you sprayed, for example:\n  {typed}")
    try:
        at = datetime.fromisoformat(asked.at) if asked.at else None
    except ValueError:
        raise LayersimError(
            f"--at: found {quoted(asked.at)}; expected a date such as 2026-05-01T18:30"
        ) from None
    beside = inside_folder(asked.photograph, asked.scheme.parent) if asked.photograph else None
    if asked.photograph and (beside is None or not beside.is_file()):
        raise LayersimError(
            f"--photograph: found {quoted(asked.photograph)}; expected the name of a file beside the "
            "scheme, or below it"
        )
    return new_entry(
        scheme,
        text=read_text(asked.scheme, what="scheme"),
        area=asked.area,
        step=asked.coat,
        at=at,
        coats=asked.coats,
        drops=[_drop(text) for text in asked.drops or []],
        pressure_bar=asked.pressure,
        cup_loss_g=asked.cup_loss,
        card_gain_g=asked.card_gain,
        sprayer=asked.sprayer,
        photograph=asked.photograph,
        chips=[_chip(text, asked, photographs, scheme) for text in asked.chip or []],
        note=asked.note,
        mark="--",
    )


def _drop(text: str) -> tuple[str, float]:
    name, equals, written = text.rpartition("=")
    count = plain_number(written)
    if not equals or count is None or count < 0.0:
        hint = comma_hint(written) if equals else ""
        expected = f'expected a paint and a number: "navy blue=15". {hint}'.rstrip()
        raise LayersimError(f"--drops: found {quoted(text)}; {expected}")
    return name, count


def _chip(text: str, asked: argparse.Namespace, photographs: Photographs, scheme: Scheme) -> Chip:
    from layersim.learn.entering import seen_chip, typed_chip
    from layersim.log import TONES, Chip
    from layersim.views.chip import screen_words

    word, equals, colour = text.partition("=")
    expected = (
        'a tone and its colour: "mid=31.5,2,-18" (L,a,b), a spectrum, "mid=FILE#READING", or a photograph '
        'beside a chart, "mid=FILE@X,Y"'
    )
    if not equals or not colour.strip():
        raise LayersimError(f"--chip: found {quoted(text)}; expected {expected}")
    named = word.strip()
    tone = named if named in TONES else plain_number(named)
    if tone is None:
        hint = nearest_hint(named, TONES, listed=False) or comma_hint(named)
        raise LayersimError(
            f"--chip: found the tone {quoted(named)}; expected {', '.join(TONES)}, or a number: L* "
            f"of the bare preshade there. {hint}".rstrip()
        )
    chip = typed_chip(tone, colour, light=asked.chip_lamp)
    if chip is not None:
        if chip.doubt is not None:
            photographs.notes.append(screen_words(named))
        return chip
    if re.fullmatch("#.*|[0-9a-fA-F]{6}", colour.strip()):
        meant = f"{named}=#{colour.strip().lstrip('#')}"
        known = typed_chip(tone, meant.rpartition("=")[2])
        hint = f". Did you mean {quoted(meant)}?" if known is not None else ""
        raise LayersimError(f"--chip: found {quoted(text)}; expected {expected}{hint}")
    try:
        seen = None if "#" in colour else photographs.read(colour, scheme.viewing)
    except LayersimError as fault:
        raise LayersimError(f"--chip: {fault}") from None
    if seen is not None:
        return seen_chip(tone, *seen, scheme.viewing)
    if "#" in colour:
        from layersim.measure.spectral import read_spectra

        file, _, name = colour.partition("#")
        reading = read_spectra(Path(file.strip())).find(name.strip())
        reflectance, _ = reading.on_grid()
        return Chip(tone, reflectance=tuple(round(float(value), 6) for value in reflectance))
    raise LayersimError(f"--chip: found {quoted(text)}; expected {expected}{_commas_hint(named, colour)}")


def _commas_hint(tone: str, colour: str) -> str:
    """Return what to type where a colour's decimals have commas; else nothing."""
    pieces = [plain_number(piece.replace(",", ".")) for piece in re.split(r"[;\s]+", colour.strip())]
    if "," in colour and len(pieces) == 3 and None not in pieces:
        typed = ",".join(f"{piece:g}" for piece in pieces)
        return f". Write decimals with a point. Did you mean {quoted(f'{tone}={typed}')}?"
    return ". Write decimals with a point" if colour.count(",") > 2 else ""


def _check_different(logs: Sequence[Log]) -> None:
    """Raise where one log is named twice: its chips would count twice."""
    seen: dict[Path, Path] = {}
    for log in logs:
        if log.path.resolve() in seen:
            raise LayersimError(f"--also: {log.path} is named twice; expected each logged scheme once")
        seen[log.path.resolve()] = log.path


def _learn(asked: argparse.Namespace, logged: Sequence[tuple[Scheme, Log]], folders: Sequence[Path]) -> None:
    from layersim.learn.films import ENOUGH_CHIPS, learn_films
    from layersim.sprayer import keep, profile, replaced_words, updated
    from layersim.views.log import learned_lines, page

    file: Path | None = None
    old: Sprayer | None = None
    if asked.sprayer is not None:
        file, old = profile(asked.sprayer, asked.out)
    # An entry bears the name in the profile where the scheme named it, which need not be the file's.
    names = () if old is None else (asked.sprayer, old.name)
    to = outputs(asked, *(log.path for _, log in logged), option="--picture")
    learned = learn_films(logged, sprayer_names=names, folders=folders)
    title, *lines = learned_lines(learned, _command(asked))
    show(page(title, lines), learned, to, name="log learn")
    if file is None or old is None:
        if (learned.film_factor or learned.film_scatter) is not None:
            few = " and --few-chips" if learned.too_few else ""
            print(f"Nothing written. With --sprayer NAME{few} it goes into that sprayer's profile.")
        return
    if learned.film_factor is None and learned.film_scatter is None:
        raise LayersimError("--sprayer: there is nothing about this sprayer to write (see above)")
    if learned.too_few and not asked.few_chips:
        raise LayersimError(
            f"--sprayer: found {'one chip' if learned.chips == 1 else f'{learned.chips} chips'}; expected at "
            f"least {ENOUGH_CHIPS} before a profile is written. Measure more, or add --few-chips"
        )
    known, scatter = old.film_scatter, learned.film_scatter
    if known is not None and scatter is not None and scatter.error > _SURER * known.error:
        print(f"How films vary from coat to coat stays as the profile has it, which is surer: {known.basis}.")
        scatter = None
    keep(updated(old, film_factor=learned.film_factor, film_scatter=scatter), file)
    for heading, was, new in (
        ("film_factor", old.film_factor, learned.film_factor),
        ("film_scatter", known, scatter),
    ):
        if new is not None and (before := replaced_words(was, new, heading=heading, path=file)):
            print(before)
    print(f'Sprayer: {file}. Name it in a scheme: [batch] sprayer = "{old.name}"')


def _swatches(asked: argparse.Namespace, scheme: Scheme, log: Log, folders: Sequence[Path]) -> None:
    from layersim.files import refuse_to_replace, write_whole
    from layersim.learn.swatches import FACTOR_COUNTED, swatches_text

    data = data_file(asked, log.path, written=[asked.out])
    text = swatches_text(scheme, log, asked.of_paint, specular=asked.specular, folders=folders)
    refuse_to_replace(asked.out, replace=asked.replace)
    write_whole(asked.out, text)
    print(f"Swatches: {asked.out}")
    hand = scheme.hand.film * 100.0
    say(f"Fit them with: layersim fit {asked.out}{f' --film-error {hand:g}' if hand else ''}")
    if hand:
        print(f"({hand:g} % is how exactly the scheme says you spray: film under [hand].)")
    if FACTOR_COUNTED in text:
        print(f"Note: {FACTOR_COUNTED}.")
    print("The paint then lies on your own shelf, where the next preview finds it.")
    found = {"file": asked.out, "paint": asked.of_paint, "film_error": hand / 100.0, "text": text}
    write_data(found, data, name="log swatches")
