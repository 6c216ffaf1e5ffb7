"""The log keeps the past: a scheme that is edited changes nothing of what was planned when it was sprayed."""

from __future__ import annotations

import dataclasses
from datetime import datetime
from pathlib import Path

import pytest

from layersim.estimate import Estimate
from layersim.learn.beside import compared
from layersim.learn.films import learn_films
from layersim.learn.then import NoCopy, no_copy_words, schemes_then
from layersim.log import Chip, Entry, Log
from layersim.scheme.ownfilms import with_factor
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Scheme
from layersim.shelf import Shelf
from tests.learn.sprayers import scheme_text

DAY = datetime(2026, 5, 1, 18, 30)
CHIPS = (
    Chip("shadow", lab=(39.0, -17.0, 8.0)),
    Chip("mid", lab=(43.0, -22.0, 10.0)),
    Chip("light", lab=(46.0, -26.0, 12.0)),
)
FINISH = (Chip("shadow", lab=(33.0, -8.0, 4.0)), Chip("mid", lab=(35.5, -10.5, 5.5)))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(scheme_text(0), encoding="utf-8")
    return path


def edited(path: Path, shelf: Shelf, text: str) -> Scheme:
    path.write_text(text, encoding="utf-8")
    return load_scheme(path, shelf)


def log_of(*entries: Entry) -> Log:
    return Log(Path("job.log.jsonl"), entries, ())


def base(text: str = scheme_text(0), **others: object) -> Entry:
    entry = Entry(DAY, "panel", "base", chips=CHIPS, scheme=text)
    return dataclasses.replace(entry, **others)  # type: ignore[arg-type]


EDITS = {
    "mix": ('"moss green" = 1', '"rust" = 1'),
    "thinning": ("thinning = 1.0", "thinning = 3.0"),
    "film": ("thinning = 1.0", "thinning = 1.0\ndry_film_um = 9.0"),
    "coats": ("coats = 2", "coats = 7"),
    "where": ("coats = 2", "coats = 2\nwhere = { from = 50, edge = 20 }"),
    "preshade": ("passes = 5", "passes = 9"),
}


@pytest.mark.parametrize("edit", EDITS)
def test_an_edited_scheme_leaves_what_was_logged_alone(path: Path, shelf: Shelf, edit: str) -> None:
    log = log_of(base())
    scheme = load_scheme(path, shelf)
    before, learned = compared(scheme, log, shelf=shelf).rows, learn_films([(scheme, log)], shelf=shelf)
    now = edited(path, shelf, scheme_text(0).replace(*EDITS[edit]))
    after = compared(now, log, shelf=shelf).rows
    for one, other in zip(before, after, strict=True):
        assert other.predicted == pytest.approx(one.predicted, abs=1e-9)
        assert other.measured.no_copies == ()
    again = learn_films([(now, log)], shelf=shelf)
    assert (again.film_factor, again.coats, again.after) == (
        learned.film_factor,
        learned.coats,
        learned.after,
    )
    # And without the copy it would not have been left alone, which is told.
    bare = compared(now, log_of(base(scheme="")), shelf=shelf).rows
    assert bare[2].predicted != pytest.approx(before[2].predicted, abs=0.05)
    assert bare[0].measured.no_copies == (NoCopy(),)


def test_steps_may_be_renamed_and_left_out_since(path: Path, shelf: Shelf) -> None:
    log = log_of(base())
    before = compared(load_scheme(path, shelf), log, shelf=shelf).rows
    now = edited(path, shelf, scheme_text(0).replace('"base"', '"ground coat"').replace("panel", "door"))
    assert compared(now, log, shelf=shelf).rows[1].predicted == pytest.approx(before[1].predicted)
    [unused] = compared(now, log_of(base(scheme="")), shelf=shelf).unused
    assert unused.line == 1
    assert 'no area "panel"' in unused.why


def test_each_step_is_planned_as_it_was_when_it_was_logged(path: Path, shelf: Shelf) -> None:
    """The base was laid by the first text, and the filter by the second, in which the base is another."""
    second = scheme_text(0).replace("coats = 2", "coats = 6").replace("thinning = 2", "thinning = 9")
    finish = Entry(DAY, "panel", "filter", chips=CHIPS, scheme=second)
    now = edited(path, shelf, second)
    both = compared(now, log_of(base(chips=()), finish), shelf=shelf).rows
    hand_made = edited(path, shelf, scheme_text(0).replace("thinning = 2", "thinning = 9"))
    expected = compared(hand_made, log_of(dataclasses.replace(finish, scheme="")), shelf=shelf).rows
    for one, other in zip(both, expected, strict=True):
        assert one.predicted == pytest.approx(other.predicted, abs=1e-9)


def test_a_coat_put_in_since_takes_no_other_coats_film(path: Path, shelf: Shelf) -> None:
    """Films are told by the names of coats: of both texts the base is the base."""
    put_in = "[[area.coat]]\nname = 'wash'\npaint = 'rust'\nthinning = 9\n"
    first, _, rest = scheme_text(0).partition("[[area.coat]]")
    second = f"{first}{put_in}[[area.coat]]{rest}"
    log = log_of(base(), base(second, at=datetime(2026, 5, 2)))
    learned = learn_films([(edited(path, shelf, second), log)], shelf=shelf)
    assert [coat.step for coat in learned.coats].count("base") == 1


def test_the_film_factor_of_its_time_counts(path: Path, shelf: Shelf) -> None:
    scheme = load_scheme(path, shelf)
    then = compared(scheme, log_of(base(film_factor=1.4)), shelf=shelf).rows
    thick = compared(with_factor(scheme, Estimate(1.4, 0.0)), log_of(base(scheme="")), shelf=shelf).rows
    assert then[2].predicted == pytest.approx(thick[2].predicted)
    # What is learned is the share of what the paints suggest, whatever the factor was then.
    with_it, without = (
        learn_films([(scheme, log_of(base(film_factor=f)))], shelf=shelf).film_factor for f in (1.4, None)
    )
    assert with_it is not None
    assert without is not None
    assert with_it.value == pytest.approx(without.value, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("[[", "its copy in the log is damaged"),
        ("a = " + "[" * 5000, "its copy in the log is damaged"),
        (scheme_text(0).replace("moss green", "a paint long gone"), "a paint long gone"),
    ],
)
def test_a_copy_that_cannot_be_used_is_told(path: Path, shelf: Shelf, text: str, why: str) -> None:
    scheme = load_scheme(path, shelf)
    [then] = schemes_then(scheme, log_of(base(text)), shelf=shelf)
    assert then.scheme is scheme
    assert then.no_copy is not None
    told = no_copy_words(then.no_copy)
    assert "the scheme as it was on 2026-05-01 18:30 cannot be used (" in told
    assert why in told


def test_what_a_batch_names_may_be_gone(path: Path, shelf: Shelf) -> None:
    text = scheme_text(0) + '\n[batch]\nmesh = "gone.stl"\nsprayer = "nobody"\n'
    [then] = schemes_then(load_scheme(path, shelf), log_of(base(text)), shelf=shelf)
    assert then.no_copy is None


def test_coats_above_every_chip_are_left_out(path: Path, shelf: Shelf) -> None:
    scheme = load_scheme(path, shelf)
    learned = learn_films([(scheme, log_of(base()))], shelf=shelf)
    assert {coat.step for coat in learned.coats} <= {"preshade", "base"}
    assert "base" in {coat.step for coat in learned.coats}
    top = Entry(DAY, "panel", "filter", chips=FINISH, scheme=scheme_text(0))
    higher = learn_films([(scheme, log_of(base(), top))], shelf=shelf)
    assert "filter" in {coat.step for coat in higher.coats}
