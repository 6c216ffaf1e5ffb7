"""Arguments that several commands share."""

from __future__ import annotations

import argparse
import difflib
import itertools
import re
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NoReturn

from layersim.cli import USER_FAULT, as_typed
from layersim.cli.numbers import number
from layersim.documents.typed import ODD_QUOTES, three_numbers
from layersim.errors import LayersimError, UnknownNameError, nearest_hint, quoted

if TYPE_CHECKING:
    from layersim.paint import Paint
    from layersim.shelf import Shelf

COLOUR: Final = "COLOUR"
"""What a colour is called in an option's help; by it a parser knows which values are colours."""

# Typographic quotes, and the apostrophe, which some command lines take for a letter.
# Words of one name at most, and how like a name they must be to be taken for it.
_LONGEST_RUN: Final = 6
_LIKE: Final = 0.75


class Parser(argparse.ArgumentParser):
    """A parser whose complaints say what to type, and where to read on."""

    def __init__(self, *args: Any, **others: Any) -> None:
        usual: dict[str, Any] = {"formatter_class": argparse.RawDescriptionHelpFormatter}
        super().__init__(*args, **(usual | {"exit_on_error": False} | others))
        # A bare float or int would complain in words of Python's.
        self.register("type", float, number)
        self.register("type", int, whole_number)
        self._words: list[str] = []
        self.once: dict[str, str] = {}
        """Options that were once called otherwise: the old name, and today's."""

    def parse_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Parse words; those that belong to nothing are told with what was meant."""
        found, unknown = self.parse_known_args(args, namespace)
        if unknown:
            hint = self._option_meant(unknown[0]) or self._name_in_pieces()
            self.error(self._value_in_pieces() or f"{quoted(unknown[0])} is not known here. {hint}".rstrip())
        return found

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Parse words, and remember them for complaints."""
        self._words = [self._as_called_now(word) for word in args]
        args = self._words
        try:
            return super().parse_known_args(args, namespace)
        except argparse.ArgumentError as fault:
            name = fault.argument_name
            of_colour = any(action.metavar == COLOUR for action in self._named(name))
            # A colour's only complaint here is that nothing stands after the option.
            hint = (
                ': a colour such as 40,-5,10 or "#2c4470". The quotes are needed: without them the command '
                "line leaves out # and all that follows"
            )
            place = f"{name}: " if name is not None else ""
            self.error(f"{place}{fault.message}{hint if of_colour else ''}")

    def _as_called_now(self, word: str) -> str:
        name, equals, value = word.partition("=")
        if name not in self.once:
            return word
        self._print_message(f"{name} is now called {self.once[name]}; it is read as before.\n")
        return f"{self.once[name]}{equals}{value}"

    def error(self, message: str) -> NoReturn:
        """Say what is wrong and where to read on, and exit."""
        told = _odd_quotes(self._words) or message + self._greedy_words()
        self.exit(USER_FAULT, as_typed(f"layersim: {told}\nSee: {self.prog} --help\n"))

    def format_help(self) -> str:
        """Return the help, with this program's name as it has to be typed."""
        return as_typed(super().format_help())

    def _print_message(self, message: str, file: Any = None) -> None:
        # argparse would drop what an output refuses to take, and nobody would be told.
        (file or sys.stderr).write(message)

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        if action.choices is not None and value not in action.choices:
            names = list(action.choices)
            hint = nearest_hint(str(value), names, listed=False)
            expected = ". ".join(part for part in (", ".join(names), hint) if part)
            raise argparse.ArgumentError(action, f"found {quoted(str(value))}; expected {expected}")

    def _named(self, name: str | None) -> list[argparse.Action]:
        """Return the options of a name, or of several with strokes between, as argparse tells them."""
        known = self._options()
        return [known[one] for one in (name or "").split("/") if one in known]

    def _option_meant(self, word: str) -> str:
        """Return a sentence of help for a word that is no option here."""
        options = [option for option in self._options() if option.startswith("--")]
        if word == "--replace" and "--out" in options:
            return "Leave it out: this command writes over its own files without being told."
        bare = word.partition("=")[0].lstrip("-").lower()
        names = [option.lstrip("-") for option in options]
        if not word.startswith("--"):
            return ""
        near = difflib.get_close_matches(bare, names, 1, _LIKE)
        near += [name for name in names if bare and (bare.startswith(name) or name.startswith(bare))]
        return f"Did you mean {quoted(f'--{near[0]}')}?" if near else ""

    def _options(self) -> dict[str, argparse.Action]:
        """Return the options that these words may hold, those of the action named among them, too."""
        known = dict(self._option_string_actions)
        for action in self._actions:
            if isinstance(action, argparse._SubParsersAction):
                for name, parser in action.choices.items():
                    if name in self._words:
                        known |= parser._option_string_actions
        return known

    def _greedy_words(self) -> str:
        """Return what to do where an option may have taken the words that are missing; else nothing."""
        options = self._options()
        greedy = [word for word in self._words if word in options and options[word].nargs in ("+", "?")]
        places = [action.dest for action in self._actions if not action.option_strings]
        if not greedy or not _is_option(self._words[0]):
            return ""
        taken = "every word" if options[greedy[0]].nargs == "+" else "the word"
        return f". Write {' '.join(places)} before {greedy[0]}, which takes {taken} after it"

    def _value_in_pieces(self) -> str:
        """Return what to type where the one value of an option stands in several words; else nothing."""
        options = self._options()
        for place, word in enumerate(self._words):
            action = options.get(word)
            if action is None or action.nargs is not None:
                continue
            pieces = list(itertools.takewhile(lambda w: not _is_option(w), self._words[place + 1 :]))
            if action.metavar == COLOUR:
                for count in (2, 3):
                    written = " ".join(pieces[:count])
                    if len(pieces) >= count and (values := three_numbers(written)) is not None:
                        typed = ",".join(f"{value:g}" for value in values)
                        return (
                            f"{word}: found {quoted(written)} as {count} words; expected one: {word} {typed}"
                        )
            elif action.type is None:
                names = list(itertools.takewhile(lambda w: not _ends_like_a_file(w), pieces))
                if len(names) > 1:
                    return (
                        f"{word}: found {len(names)} words; expected one, or quotes around them: "
                        f"{word} {quoted(' '.join(names))}"
                    )
        return ""

    def _name_in_pieces(self) -> str:
        """Return a sentence of help where the words before all options are more than belong there."""
        words = list(itertools.takewhile(lambda w: not w.startswith("-"), self._words))
        places = [action for action in self._actions if not action.option_strings]
        if any(action.nargs is not None for action in places) or not len(words) > len(places) > 0:
            return ""
        return f"A name with spaces goes in quotes: {quoted(' '.join(words))}."


def _ends_like_a_file(word: str) -> bool:
    return bool(Path(word).suffix.strip(".,;0123456789"))


def _is_option(word: str) -> bool:
    return re.match("--?[A-Za-z]", word) is not None


def _odd_quotes(words: Sequence[str]) -> str:
    """Return what to type where words stand in quotes that no command line takes for quotes; else nothing."""
    for place, word in enumerate(words):
        option, _, value = word.partition("=") if word.startswith("--") else ("", "", word)
        if not value or value[0] not in ODD_QUOTES:
            continue
        run = [value, *itertools.takewhile(lambda w: not _is_option(w), words[place + 1 :])]
        # A word with a space in it was in quotes that the command line knows: the others are meant.
        run = list(itertools.takewhile(lambda w: " " not in w, run))
        last = next((i for i, w in enumerate(run) if len(w) > 1 and w[-1] in ODD_QUOTES), None)
        # A single word in whatever quotes is no reason for a complaint.
        if not last:
            continue
        found = " ".join(run[: last + 1])
        if not option and place and words[place - 1].startswith("--"):
            option = words[place - 1]
        typed = f"{option} {quoted(found.strip(ODD_QUOTES))}".strip()
        return f"found {found}, in quotes that a command line does not know; expected straight ones: {typed}"
    return ""


def add_shelf(parser: argparse.ArgumentParser) -> None:
    """Add ``--paints FOLDER``."""
    parser.add_argument(
        "--paints", action="append", type=Path, metavar="FOLDER", help="search this folder of paints first"
    )


def extra_folders(asked: argparse.Namespace) -> list[Path]:
    """Return the folders given with ``--paints``; raise if one is not there."""
    folders: list[Path] = asked.paints or []
    for folder in folders:
        if not folder.is_dir():
            raise UnknownNameError(f"--paints {folder}: there is no such folder")
    return folders


def shelf_from(asked: argparse.Namespace) -> Shelf:
    """Return the shelf that the arguments ask for."""
    from layersim.shelf import Shelf

    return Shelf.usual(*extra_folders(asked))


def paints_named(shelf: Shelf, words: Sequence[str], *, option: str, repeated: bool = False) -> list[Paint]:
    """Return the paints that the words after an option name, each once; raise if one is not there.

    Names that were torn apart at their spaces, or joined with commas, are told as they should be typed:
    after one option, or `repeated` with an option before each.
    """
    try:
        return list({paint.name: paint for paint in map(shelf.find, words)}.values())
    except UnknownNameError as fault:
        meant = _names_meant(words, shelf.names())
        if not meant:
            raise UnknownNameError(f"{option}: {fault}") from None
        between = f" {option} " if repeated else " "
        typed = f"{option} {between.join(map(quoted, meant))}"
    raise UnknownNameError(
        f"{option}: found {quoted(' '.join(words))}; expected names in quotes, each by itself. "
        f"Did you mean {typed}?"
    )


def _names_meant(words: Sequence[str], known: Iterable[str]) -> list[str]:
    """Return the known names that words make up if joined, or parted at commas; none where they do not."""
    lowered = {name.lower(): name for name in known}
    meant = []
    for piece in " ".join(words).lower().split(","):
        left = [word.strip(ODD_QUOTES) for word in piece.split()]
        while left:
            # The run of words from here that is most like some name.
            tried = []
            for count in range(1, min(len(left), _LONGEST_RUN) + 1):
                run = " ".join(left[:count])
                for near in difflib.get_close_matches(run, lowered, 1, _LIKE):
                    tried.append((difflib.SequenceMatcher(None, run, near).ratio(), count, near))
            if not tried:
                return []
            _, count, name = max(tried)
            meant.append(lowered[name])
            left = left[count:]
    torn = len(meant) != len(words) or any("," in word or word[:1] in ODD_QUOTES for word in words)
    return meant if torn else []


def whole_number(text: str) -> int:
    """Return the whole number that an argument says."""
    try:
        return int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"found {quoted(text)}; expected a whole number") from None


def check_range(name: str, value: int, low: int, high: int) -> None:
    """Raise if a whole number is out of its range."""
    if not low <= value <= high:
        raise LayersimError(f"{name}: found {value}; expected a whole number from {low} to {high}")
