"""What chips say about films: simulated sprayers with a hidden film per coat."""

from __future__ import annotations

import dataclasses
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from layersim.errors import LayersimError
from layersim.learn.beside import compared
from layersim.learn.films import learn_films
from layersim.learn.really import CHIP_ERROR
from layersim.log import Chip, Entry, Log
from layersim.scheme.ownfilms import UNMEASURED
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Scheme
from layersim.shelf import Shelf
from tests.learn.sprayers import JOBS, log_of, miss, scheme_text, sequence, truth

SPRAYERS = 12


@pytest.fixture
def jobs(tmp_path: Path, shelf: Shelf) -> list[Scheme]:
    schemes = []
    for number in range(len(JOBS)):
        path = tmp_path / f"job-{number}.toml"
        path.write_text(scheme_text(number), encoding="utf-8")
        schemes.append(load_scheme(path, shelf))
    return schemes


def test_three_logged_schemes_halve_the_error_of_the_next(jobs: list[Scheme]) -> None:
    """Hidden factors of 0.7 to 1.3, 5 % scatter of each coat, chips read with an error of 0.5.

    Reported: mean ΔE00 1.22 before, 0.36 after, over twelve sprayers. The sprayers follow the same model
    of light that predicts, so that this is what learning films can do, not what the model leaves over.
    """
    luck = np.random.default_rng(0)
    before, after = [], []
    for number in range(SPRAYERS):
        factor = float(luck.uniform(0.7, 1.3))
        logged, real = sequence(factor, jobs, number)
        learned = learn_films(logged)
        assert learned.film_factor is not None
        before.append(miss(jobs[-1], None, real))
        after.append(miss(jobs[-1], learned.film_factor, real))
    assert np.mean(before) > 0.8
    assert np.mean(after) <= 0.5 * np.mean(before)


def test_the_error_told_is_the_error_made(jobs: list[Scheme]) -> None:
    """Over sprayers, hands, bottles and chips drawn from what is assumed of them, factors lie as told."""
    luck = np.random.default_rng(5)
    off = []
    for _ in range(16):
        factor = float(np.exp(UNMEASURED.error * luck.normal()))
        bottles: dict[tuple[object, ...], float] = {}
        logged = []
        for scheme in jobs[:2]:
            real = truth(scheme, factor, luck, scatter=scheme.hand.film, bottles=bottles)
            logged.append((scheme, log_of(scheme, real, luck, chip_error=CHIP_ERROR)))
        found = learn_films(logged).film_factor
        assert found is not None
        off.append(np.log(found.value / factor) / found.error)
    # Mean and spread of sixteen standard normal deviates lie within these in all but 1 of 500 cases.
    assert abs(np.mean(off)) < 0.8
    assert 0.5 < np.std(off) < 1.6


def test_more_logs_tell_more(jobs: list[Scheme]) -> None:
    logged, _ = sequence(1.25, jobs, 3)
    errors = []
    for count in (1, 2, 3):
        found = learn_films(logged[:count]).film_factor
        assert found is not None
        errors.append(found.error)
    assert UNMEASURED.error > errors[0] > errors[1] > errors[2]


def test_a_chip_as_predicted_changes_nothing(jobs: list[Scheme]) -> None:
    real = truth(jobs[0], 1.0, np.random.default_rng(0), scatter=0.0)
    chips = (Chip("mid", lab=tuple(float(v) for v in real[2, 16])),)  # type: ignore[arg-type]
    log = Log(Path("x"), (Entry(datetime(2026, 1, 1), "panel", "base", chips=chips),), ())
    found = learn_films([(jobs[0], log)])
    assert found.film_factor is not None
    assert found.film_factor.value == pytest.approx(1.0, abs=1e-6)
    assert found.before == pytest.approx(0.0, abs=1e-6)


def test_films_that_the_scheme_gives_are_told_coat_by_coat(tmp_path: Path, shelf: Shelf) -> None:
    path = tmp_path / "given.toml"
    text = scheme_text(0).replace("passes = 5", "passes = 5\ndry_film_um = 0.3")
    text = text.replace("coats = 2", "coats = 2\ndry_film_um = 1.0").replace(
        "thinning = 2", "dry_film_um = 0.4"
    )
    path.write_text(text, encoding="utf-8")
    scheme = load_scheme(path, shelf)
    thick = path.with_name("thick.toml")
    thick.write_text(text.replace("dry_film_um = 1.0", "dry_film_um = 1.2"), encoding="utf-8")
    luck = np.random.default_rng(1)
    real = truth(load_scheme(thick, shelf), 1.0, luck)
    learned = learn_films([(scheme, log_of(scheme, real, luck))])
    assert learned.film_factor is None
    base = next(coat for coat in learned.coats if coat.step == "base")
    assert base.planned_um == 1.0
    assert 1.02 < base.film_um.value < 1.3
    assert learned.after < learned.before


def test_more_coats_than_planned_are_counted(jobs: list[Scheme]) -> None:
    chip = Chip("mid", lab=(30.0, 0.0, 0.0))
    two = Entry(datetime(2026, 1, 1), "panel", "base", coats=2, chips=(chip,))
    planned, three = (
        compared(jobs[0], Log(Path("x"), entries, ())).rows
        for entries in ((two,), (two, Entry(datetime(2026, 1, 2), "Panel", "Base", coats=1, chips=(chip,))))
    )
    # Two as planned; then a third on another day.
    assert three[0].predicted == pytest.approx(planned[0].predicted)
    more = dataclasses.replace(jobs[0].areas[0].coats[0], coats=3)
    area = dataclasses.replace(jobs[0].areas[0], coats=(more, jobs[0].areas[0].coats[1]))
    asked = dataclasses.replace(jobs[0], areas=(area,))
    real = compared(asked, Log(Path("x"), (dataclasses.replace(two, coats=None),), ())).rows
    assert three[1].predicted == pytest.approx(real[0].predicted)


def test_other_drops_change_mix_and_film(jobs: list[Scheme]) -> None:
    chip = Chip("light", lab=(30.0, 0.0, 0.0))
    plain, strong, same = (
        compared(
            jobs[1],
            Log(Path("x"), (Entry(datetime(2026, 1, 1), "panel", "base", drops=d, chips=(chip,)),), ()),
        )
        .rows[0]
        .predicted
        for d in (
            {},
            {"plum ink": 30, "moss green": 10, "thinner": 20},
            {"plum ink": 10, "moss green": 10, "thinner": 10},
        )
    )
    assert same == pytest.approx(plain)
    assert not np.allclose(strong, plain, atol=0.5)


def test_a_place_may_be_a_lightness(jobs: list[Scheme]) -> None:
    from layersim.scheme.simulate import AreaModel

    shade = AreaModel(jobs[0], jobs[0].areas[0], tones=33).shade
    for word, place in (("shadow", shade[0]), ("mid", shade[16]), ("light", shade[32])):
        rows = [
            compared(
                jobs[0],
                Log(
                    Path("x"),
                    (Entry(datetime(2026, 1, 1), "panel", "base", chips=(Chip(t, lab=(1.0, 0.0, 0.0)),)),),
                    (),
                ),
            )
            .rows[0]
            .predicted
            for t in (word, float(place))
        ]
        assert rows[0] == pytest.approx(rows[1], abs=1e-6)


def test_what_cannot_be_learned_from_is_said(jobs: list[Scheme]) -> None:
    with pytest.raises(LayersimError, match="no measured chip yet"):
        learn_films([(jobs[0], Log(Path("x"), (), ()))])
