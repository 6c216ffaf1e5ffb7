"""The command `layersim log`."""

from __future__ import annotations

import json
import shlex
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from layersim.cli import main
from layersim.estimate import Estimate
from layersim.learn.beside import compared
from layersim.learn.then import NoCopy, no_copy_words
from layersim.log import SCREEN_DOUBT, Chip, Entry, add_entry, log_path, read_log
from layersim.resources import data_folder
from layersim.scheme.ownfilms import UNMEASURED, with_factor
from layersim.scheme.reading import load_scheme
from layersim.scheme.simulate import simulate
from layersim.sprayer import Sprayer, read_sprayer, write_sprayer
from layersim.writers.data import VERSION, plain
from tests.learn.sprayers import log_of, scheme_text, truth


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(scheme_text(0), encoding="utf-8")
    return path


def command(job: Path, paints: Path, *words: str) -> list[str]:
    return ["log", str(job), "--paints", str(paints), *words]


def test_add_then_show(job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(command(job, paints_folder, "show")) == 0
    said = capsys.readouterr().out
    assert "nothing logged yet" in said
    assert f'layersim log {job} add --area "panel" --coat "base" --coats 2' in said
    words = ["--area", "Panel", "--coat", "base", "--coats", "2", "--drops", "moss green=10", "--drops"]
    words += ["thinner=10", "--pressure", "1.2", "--cup-loss", "0.9", "--note", "calm hands"]
    words += ["--chip", "mid=28.5, -3, 4", "--chip", "70=40 -4 5", "--at", "2026-05-01T18:30"]
    assert main(command(job, paints_folder, "add", *words)) == 0
    entry = read_log(log_path(job)).entries[0]
    assert (entry.area, entry.step, entry.coats, dict(entry.drops)) == (
        "panel",
        "base",
        2,
        {"moss green": 10.0, "thinner": 10.0},
    )
    assert [chip.tone for chip in entry.chips] == ["mid", 70.0]
    added = capsys.readouterr().out
    assert main(command(job, paints_folder, "show")) == 0
    said = capsys.readouterr().out
    # What is added is told at once, whole, as it is shown later.
    told = added[: added.index("Logged in")].splitlines()
    assert len(told) == 3
    assert all(line.strip() in said for line in told)
    assert "2026-05-01 18:30  panel, base: 2 coats; drops 10 moss green, 10 thinner; 1.2 bar" in said
    assert "real 28.5 -3.0 4.0: ΔE00" in said
    assert "Predicted against real, 2 chips: mean ΔE00" in said


def test_what_a_photograph_says_goes_with_the_data(job: Path, paints_folder: Path, tmp_path: Path) -> None:
    """Who reads the file knows as much of the chip as who reads the terminal."""
    photograph, data = data_folder() / "examples" / "teal-card.jpg", tmp_path / "said.json"
    words = ["add", "--area", "panel", "--coat", "base", "--chip", f"mid={photograph}@62,31"]
    assert main(command(job, paints_folder, *words, "--json", str(data))) == 0
    notices = json.loads(data.read_text(encoding="utf-8"))["result"]["notices"]
    assert any("by the chart in the picture" in one for one in notices)
    assert any("colour profile" in one for one in notices)


def test_every_action_writes_its_data(
    job: Path, paints_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = tmp_path / "said.json"
    table = tmp_path / "read.csv"
    bands = ",".join(str(nm) for nm in range(400, 701, 10))
    area = simulate(load_scheme(job, folders=[paints_folder]), tones=3, draws=0)["panel"]
    stages = area.reflectance[[area.stage("preshade"), area.stage("base")], 1]
    bare, seen = [[round(float(value), 6) for value in stage] for stage in stages]
    rows = [f"{name},{','.join(map(str, row))}\n" for name, row in (("bare", bare), ("mine", seen))]
    table.write_text(f"name,{bands}\n{''.join(rows)}", encoding="utf-8")

    def said(action: str, *words: str) -> dict[str, Any]:
        assert main(command(job, paints_folder, action, *words, "--json", str(data))) == 0
        assert f"Data: {data}" in capsys.readouterr().out
        content = json.loads(data.read_text(encoding="utf-8"))
        assert content["format"] == f"layersim log {action} {VERSION}"
        result: dict[str, Any] = content["result"]
        return result

    at = ["--area", "panel", "--at", "2026-05-01T18:30"]
    before = said("add", *at, "--coat", "preshade", "--chip", f"mid={table}#bare")
    words = [*at, "--coat", "base"]
    added = said("add", *words, "--chip", f"mid={table}#mine")
    entry = read_log(log_path(job)).entries[1]
    assert added["entry"] == plain(entry)
    assert added["chips"][0]["measured"]["chip"]["reflectance"] == seen
    assert added["so_far"]["step"] == "base"
    assert said("show")["log"]["entries"] == [before["entry"], added["entry"]]
    assert said("learn")["chips"] == 2
    made = said("swatches", "--paint", "moss green", "--out", str(tmp_path / "moss.toml"))
    assert (tmp_path / "moss.toml").read_text(encoding="utf-8") == made["text"]
    assert said("take-back")["entry"] == added["entry"]
    assert len(read_log(log_path(job)).entries) == 1
    # Neither the scheme nor its log is written over, and nothing is logged where the data cannot go.
    for path in (job, log_path(job)):
        assert main(command(job, paints_folder, "add", *words, "--json", str(path))) == 2
        assert "this is a file to read from" in capsys.readouterr().err
    assert len(read_log(log_path(job)).entries) == 1


def test_a_spectrum_from_a_file(
    job: Path, paints_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "read.csv"
    bands = [400 + 10 * i for i in range(31)]
    table.write_text("name," + ",".join(map(str, bands)) + "\npanel mid," + ",".join(["0.31"] * 31) + "\n")
    words = ["--area", "panel", "--coat", "base", "--chip", f"mid={table}#panel mid"]
    assert main(command(job, paints_folder, "add", *words)) == 0
    assert read_log(log_path(job)).entries[0].chips[0].reflectance == (0.31,) * 31
    assert (
        main(
            command(
                job, paints_folder, "add", "--area", "panel", "--coat", "base", "--chip", f"mid={table}#x"
            )
        )
        == 2
    )
    assert "panel mid" in capsys.readouterr().err


def test_learn_writes_the_profile_and_the_next_prediction_uses_it(
    job: Path,
    paints_folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("LAYERSIM_SPRAYERS", str(tmp_path / "sprayers"))
    # What 0.7 times the planned films give.
    scheme = with_factor(load_scheme(job, folders=[paints_folder]), Estimate(0.7, 0.0))
    real = truth(scheme, 0.7, np.random.default_rng(0), scatter=0.0)
    for stage, step in enumerate(("preshade", "base", "filter"), start=1):
        L, a, b = real[stage, -1]
        words = ["--area", "panel", "--coat", step, "--chip", f"light={L:.2f},{a:.2f},{b:.2f}"]
        assert main(command(job, paints_folder, "add", *words)) == 0
    capsys.readouterr()
    assert main(command(job, paints_folder, "learn")) == 0
    said = capsys.readouterr().out
    assert "This sprayer's film per coat is" in said
    assert "Nothing written." in said
    assert main(command(job, paints_folder, "learn", "--sprayer", "fine needle")) == 0
    profile = read_sprayer(tmp_path / "sprayers" / "fine-needle.toml")
    assert profile.film_factor is not None
    assert profile.film_factor.value < 0.9
    assert profile.film_factor.error < UNMEASURED.error
    # Learning again from the same log, with the profile put to the scheme, gives the same.
    job.write_text(job.read_text() + '\n[batch]\nsprayer = "fine needle"\n', encoding="utf-8")
    assert main(command(job, paints_folder, "learn", "--sprayer", "fine needle")) == 0
    again = read_sprayer(tmp_path / "sprayers" / "fine-needle.toml").film_factor
    assert again is not None
    assert again.value == pytest.approx(profile.film_factor.value, rel=1e-3)


def test_an_edited_scheme_does_not_rewrite_the_log(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--area", "panel", "--coat", "base", "--chip", "mid=43,-22,10", "--chip", "light=46,-26,12"]
    assert main(command(job, paints_folder, "add", *words)) == 0
    assert read_log(log_path(job)).entries[0].scheme == job.read_text(encoding="utf-8")
    said = []
    for edit in (None, ("coats = 2", "coats = 9"), ('name = "base"', 'name = "ground coat"')):
        if edit:
            job.write_text(job.read_text(encoding="utf-8").replace(*edit), encoding="utf-8")
        capsys.readouterr()
        assert main(command(job, paints_folder, "show")) == 0
        assert main(command(job, paints_folder, "learn")) == 0
        # What to measure next is of the scheme as it is now.
        said.append(capsys.readouterr().out.split("The chip that would")[0])
    assert said[0] == said[1] == said[2]
    assert "Note:" not in said[0]


def test_an_entry_without_a_copy_is_told(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    chip = Chip("mid", lab=(43.0, -22.0, 10.0))
    add_entry(log_path(job), Entry(datetime(2026, 5, 1), "panel", "base", chips=(chip,)))
    for action in ("show", "learn"):
        assert main(command(job, paints_folder, action)) == 0
        assert f"Note: {no_copy_words(NoCopy())}." in capsys.readouterr().out


def test_the_film_factor_of_the_day_is_kept(
    job: Path,
    paints_folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("LAYERSIM_SPRAYERS", str(tmp_path))
    profile = tmp_path / "fine-needle.toml"
    write_sprayer(Sprayer(name="fine needle", film_factor=Estimate(0.8, 0.1)), profile)
    job.write_text(job.read_text() + '\n[batch]\nsprayer = "fine needle"\n', encoding="utf-8")
    words = ["--area", "panel", "--coat", "base", "--chip", "light=40,-3,4"]
    assert main(command(job, paints_folder, "add", *words)) == 0
    assert read_log(log_path(job)).entries[0].film_factor == pytest.approx(0.8)
    said = []
    for factor in (0.8, 1.3):
        write_sprayer(Sprayer(name="fine needle", film_factor=Estimate(factor, 0.1)), profile)
        capsys.readouterr()
        assert main(command(job, paints_folder, "show")) == 0
        said.append(capsys.readouterr().out)
    assert said[0] == said[1]


def test_few_chips_write_no_profile_unless_asked(
    job: Path, paints_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    profile = tmp_path / "mine.toml"
    words = ["--area", "panel", "--coat", "base", "--chip", "light=46,-26,12"]
    assert main(command(job, paints_folder, "add", *words)) == 0
    asked = command(job, paints_folder, "learn", "--sprayer", "mine", "--out", str(profile))
    assert main(asked) == 2
    both = capsys.readouterr()
    assert "One chip: too little to rely on." in both.out
    learned, _ = both.out.split("The chip that would")
    assert "filter" not in learned
    assert "varnish" not in learned
    assert "--sprayer: found one chip; expected at least 3" in both.err
    assert not profile.exists()
    assert main([*asked, "--few-chips"]) == 0
    assert read_sprayer(profile).film_factor is not None


def test_a_torn_line_is_told_and_kept(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = command(job, paints_folder, "add", "--area", "panel", "--coats", "1", "--coat")
    assert main([*asked, "base"]) == 0
    path = log_path(job)
    path.write_bytes(path.read_bytes() + b'{"layersim log": 1, "at')
    capsys.readouterr()
    assert main(command(job, paints_folder, "show")) == 0
    assert "Set aside, line 2" in capsys.readouterr().out
    assert main([*asked, "filter"]) == 0
    assert [entry.step for entry in read_log(path).entries] == ["base", "filter"]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--area", "pannel", "--coat", "base"], 'no area "pannel". Did you mean "panel"?'),
        (["--area", "panel", "--coat", "bass"], 'no coat "bass" on "panel". Did you mean "base"?'),
        (["--area", "panel", "--coat", "base", "--coats", "0"], "coats: found 0; expected a whole number"),
        (["--area", "panel", "--coat", "base", "--coats", "two"], 'found "two"; expected a whole number'),
        (["--area", "panel", "--coat", "base", "--pressure", "-1"], "--pressure: found -1; expected bar"),
        (["--area", "panel", "--coat", "base", "--pressure", "18"], "18 psi are 1.2 bar."),
        (["--area", "panel", "--coat", "base", "--pressure", "1,2"], "Write decimals with a point."),
        (["--area", "panel", "--coat", "base", "--pressure", "nan"], 'found "nan"; expected a number'),
        (["--area", "panel", "--coat", "base", "--drops", "moss green"], "expected a paint and a number"),
        (["--area", "panel", "--coat", "base", "--drops", "mos green=3"], 'Did you mean "moss green"?'),
        (
            ["--area", "panel", "--coat", "base", "--drops", "moss green=2,5"],
            'a number: "navy blue=15". Write decimals with a point. Did you mean 2.5?',
        ),
        (["--area", "panel", "--coat", "base", "--drops", "moss, green"], 'a number: "navy blue=15".\n'),
        (["--area", "panel", "--coat", "base", "--drops", "moss green=−2"], "expected a paint and a number"),
        (["--area", "panel", "--coat", "base", "--drops", "moss green=nan"], "expected a paint and a number"),
        (
            ["--area", "panel", "--coat", "base", "--drops", "moss green=3", "--drops", "Moss Green=4"],
            'found "moss green" twice',
        ),
        (["--area", "panel", "--coat", "base", "--chip", "mid"], '--chip: found "mid"; expected a tone'),
        (
            ["--area", "panel", "--coat", "base", "--chip", "mid=1,2"],
            "expected a tone and its colour",
        ),
        (["--area", "panel", "--coat", "base", "--chip", "mid=nan,2,3"], "expected a tone and its colour"),
        (["--area", "panel", "--coat", "base", "--chip", "mid=#3f7d9"], "expected a tone and its colour"),
        (["--area", "panel", "--coat", "base", "--chip", "mid=3f7d93"], 'Did you mean "mid=#3f7d93"?'),
        (
            ["--area", "panel", "--coat", "base", "--chip", "mid=no.jpg@4,5"],
            "no.jpg: there is no such file",
        ),
        (["--area", "panel", "--coat", "base", "--chip", "mid=no.jpg@40"], "expected a point X,Y"),
        (
            ["--area", "panel", "--coat", "base", "--chip", "mid=no.jpg@4,5", "--grey", "5,5=2"],
            '--grey: found "5,5=2"',
        ),
        (
            ["--area", "panel", "--coat", "base", "--chip", "mid=30,5 -5 -10"],
            'Write decimals with a point. Did you mean "mid=30.5,-5,-10"?',
        ),
        (["--area", "panel", "--coat", "base", "--chip", "mid=30,5,-5,-10"], "Write decimals with a point\n"),
        (["--area", "panel", "--coat", "base", "--chip", "mid=30,5;−5;-10"], 'mean "mid=30.5,-5,-10"?'),
        (["--area", "panel", "--coat", "base", "--chip", "mid=30.5,2.5"], '"mid=FILE@X,Y"\n'),
        (["--area", "panel", "--coat", "base", "--chip", "62,5=1,2,3"], "with a point. Did you mean 62.5?"),
        (["--area", "panel", "--coat", "base", "--chip", "nan=1,2,3"], 'the tone "nan"; expected shadow'),
        (["--area", "panel", "--coat", "base"], "found nothing beside area and coat; expected what"),
        (["--area", "panel", "--coat", "base", "--sprayer", "x"], "found nothing beside area and coat"),
        (["--area", "panel", "--coat", "base", "--chip", "mdi=1,2,3"], 'Did you mean "mid"?'),
        (["--area", "panel", "--coat", "base", "--chip", "mid=200,2,3"], "a lightness L of 200"),
        (["--area", "panel", "--coat", "base", "--chip", "mid=nowhere.txt#a"], "there is no such file"),
        (["--area", "panel", "--coat", "base", "--chip", "mid=1,2,3", "--chip-lamp", "D66"], '"D65"?'),
        (["--area", "panel", "--coat", "base", "--photograph", "a.jpg"], '--photograph: found "a.jpg"'),
        (["--area", "panel", "--coat", "base", "--at", "noon"], '--at: found "noon"; expected a date'),
        (["--coat", "base"], "add: found no --area; expected what you sprayed, for example:\n  layersim log"),
        ([], "add: found no --area and no --coat; expected what you sprayed, for example:\n  layersim log"),
    ],
)
def test_bad_entries(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str], words: list[str], message: str
) -> None:
    assert main(command(job, paints_folder, "add", *words)) == 2
    assert message in capsys.readouterr().err
    assert not log_path(job).exists()


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["learn"], "no measured chip yet"),
        (["swatches", "--paint", "rust", "--out", "x.toml"], 'no paint "rust" in this scheme'),
        (["swatches", "--paint", "moss gren", "--out", "x.toml"], 'Did you mean "moss green"?'),
        (["swatches", "--paint", "moss green", "--out", "x.toml"], 'found no swatch of "moss green"'),
        (["show", "--fast"], '"--fast" is not known here'),
        (["shwo"], 'Did you mean "show"?'),
        (
            ["takeback"],
            'found "takeback"; expected add, take-back, show, learn, swatches. Did you mean "take-',
        ),
    ],
)
def test_bad_requests(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str], words: list[str], message: str
) -> None:
    assert main(command(job, paints_folder, *words)) == 2
    assert message in capsys.readouterr().err


def test_a_log_named_twice_counts_once(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--area", "panel", "--coat", "base", "--chip", "mid=28.5 -3 4"]
    assert main(command(job, paints_folder, "add", *words)) == 0
    also = str(job.parent / "." / job.name)
    assert main(command(job, paints_folder, "learn", "--also", also)) == 2
    assert "is named twice; expected each logged scheme once" in capsys.readouterr().err


def test_coats_of_several_entries_are_told_against_the_scheme(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def said(step: str, *words: str) -> str:
        capsys.readouterr()
        assert main(command(job, paints_folder, "add", "--area", "panel", "--coat", step, *words)) == 0
        return capsys.readouterr().out

    assert "so far" not in said("base", "--chip", "mid=28,-3,4")
    first = said("base", "--coats", "2", "--chip", "mid=28,-3,4")
    assert "base on panel: 2 coats so far; the scheme has 2." in first
    assert "without --coats" not in first
    second = said("Base", "--coats", "2", "--chip", "light=40,-3,4")
    assert "base on panel: 4 coats so far; the scheme has 2." in second
    assert "log further chips of the same coats without --coats" in second
    # Advice is for an entry that adds coats, and speaks of chips where it has some.
    drops = said("base", "--drops", "moss green=4")
    assert "base on panel: 4 coats so far; the scheme has 2.\n" in drops
    assert "take-back" not in drops
    bare = said("base", "--coats", "1")
    assert (
        f"The coats of 3 entries add up: if these are not further ones, layersim log {job} take-back" in bare
    )
    assert "chip" not in bare
    assert "preshade on panel: 1 pass so far; the scheme has 5." in said("preshade", "--coats", "1")
    assert "The passes of 2 entries add up" in said("preshade", "--coats", "6")
    # What the hint says is so: taken back, a chip without --coats leaves two coats.
    taken = ("preshade: 6 passes", "preshade: 1 pass", "base: 1 coat", "base: drops 4", "base: 2 coats")
    for words in taken:
        capsys.readouterr()
        assert main(command(job, paints_folder, "take-back")) == 0
        last = capsys.readouterr().out
        assert f"  panel, {words}" in last
    assert "    light   40.0 -3.0 4.0\n" in last
    assert "2 coats so far" in said("base", "--chip", "light=40,-3,4")


def test_what_looks_like_a_slip_is_noted(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def notes(step: str, *words: str) -> list[str]:
        capsys.readouterr()
        assert main(command(job, paints_folder, "add", "--area", "panel", "--coat", step, *words)) == 0
        return [line for line in capsys.readouterr().out.splitlines() if line.startswith("Note: ")]

    assert notes("base", "--coats", "2", "--drops", "moss green=4", "--drops", "thinner=4") == []
    [strange] = notes("base", "--drops", "moss green=4", "--drops", "plum ink=1")
    assert '"plum ink" is not in the scheme\'s mix for base' in strange
    [strange] = notes("primer", "--drops", "chalk white=4")
    assert '"chalk white" is not in the scheme\'s mix for primer' in strange
    assert notes("primer", "--drops", "soot primer=4") == []

    [far] = notes("base", "--chip", "mid=95,60,60", "--chip-lamp", "A")
    assert far.startswith("Note: mid is ΔE00 ")
    assert "90 % of outcomes lie within" in far
    predicted = compared(
        load_scheme(job, folders=[paints_folder]), read_log(log_path(job)), folders=[paints_folder]
    )
    near = ",".join(f"{value:.2f}" for value in predicted.rows[-1].predicted)
    # The very prediction is no slip; said twice in a row it may be one, at another step or place it is none.
    assert notes("base", "--chip", f"mid={near}", "--chip-lamp", "A") == []
    [again] = notes("base", "--chip", f"mid={near}", "--chip-lamp", "A")
    assert (
        again == f"Note: mid: exactly as in the entry before. If it is a slip: layersim log {job} take-back."
    )
    assert notes("base", "--note", "dry") == []
    assert notes("base", "--chip", f"mid={near}", "--chip-lamp", "A") == []


def test_a_spectrum_and_its_light_are_told(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    at = datetime(2026, 5, 1)
    chips = (Chip("mid", reflectance=(0.31,) * 31), Chip(60.0, lab=(30.0, 1.0, -2.0), light="A"))
    add_entry(log_path(job), Entry(at, "panel", "base", chips=chips))
    assert main(command(job, paints_folder, "take-back")) == 0
    said = capsys.readouterr().out
    L = 116.0 * 0.31 ** (1.0 / 3.0) - 16.0
    assert f"    mid     {L:.1f} 0.0 0.0, from a spectrum\n" in said
    assert "    L* 60   30.0 1.0 -2.0 under a bulb (A)\n" in said


def test_an_entry_for_no_area_keeps_no_other_from_counting(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    add_entry(log_path(job), Entry(datetime(2026, 5, 1), "nowhere", "base", coats=1))
    words = ["--area", "panel", "--coat", "base", "--chip", "mid=43,-22,10"]
    assert main(command(job, paints_folder, "add", *words)) == 0
    assert "    mid     predicted " in capsys.readouterr().out
    # The entry that counts for nothing is told by its line, and keeps nothing else from being told.
    for action in ("show", "learn"):
        assert main(command(job, paints_folder, action)) == 0
        told = capsys.readouterr().out
        assert 'Note: line 1 of job.log.jsonl does not count: no area "nowhere".' in told
        assert "one chip: mean ΔE00" in told
    assert [entry.area for entry in read_log(log_path(job)).entries] == ["nowhere", "panel"]


def test_dashes_and_semicolons_are_read_as_elsewhere(job: Path, paints_folder: Path) -> None:
    words = ["--chip", "mid=28.5; −3; 4", "--chip", "light=40,–4,5", "--drops", "moss green= 2.5"]
    assert main(command(job, paints_folder, "add", "--area", "panel", "--coat", "base", *words)) == 0
    [entry] = read_log(log_path(job)).entries
    assert [chip.lab for chip in entry.chips] == [(28.5, -3.0, 4.0), (40.0, -4.0, 5.0)]
    assert dict(entry.drops) == {"moss green": 2.5}


def test_an_entry_is_taken_back_though_its_scheme_cannot_be_read_any_more(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(command(job, paints_folder, "add", "--area", "panel", "--coat", "base", "--coats", "2")) == 0
    job.write_text(job.read_text(encoding="utf-8").replace("moss green", "fern green"), encoding="utf-8")
    assert main(command(job, paints_folder, "show")) == 2
    capsys.readouterr()
    assert main(command(job, paints_folder, "take-back")) == 0
    assert "Taken back: " in capsys.readouterr().out
    assert read_log(log_path(job)).entries == ()


def test_a_torn_line_is_told_instead_of_taking_back_the_one_before(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(command(job, paints_folder, "add", "--area", "panel", "--coat", "base", "--coats", "2")) == 0
    path = log_path(job)
    path.write_bytes(path.read_bytes() + b'{"layersim log": 1, "at')
    capsys.readouterr()
    assert main(command(job, paints_folder, "take-back")) == 2
    both = capsys.readouterr()
    assert both.out == ""
    assert f"{path}: nothing was taken back: line 2, " in both.err
    assert "delete line 2 in a text editor first" in both.err


def test_nothing_to_take_back(job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(command(job, paints_folder, "take-back")) == 2
    assert "found no entry; expected one to take back" in capsys.readouterr().err
    assert not log_path(job).exists()


def test_learn_leaves_chips_of_other_sprayers_out(
    job: Path,
    paints_folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("LAYERSIM_SPRAYERS", str(tmp_path / "sprayers"))

    def add(step: str, chip: str, *words: str) -> None:
        asked = ["add", "--area", "panel", "--coat", step, "--chip", chip, *words]
        assert main(command(job, paints_folder, *asked)) == 0

    def learn() -> Estimate:
        asked = command(job, paints_folder, "learn", "--sprayer", "fine needle", "--few-chips")
        assert main(asked) == 0
        found = read_sprayer(tmp_path / "sprayers" / "fine-needle.toml").film_factor
        assert found is not None
        return found

    add("base", "light=48,-27,13", "--sprayer", "coarse needle")
    capsys.readouterr()
    asked = command(job, paints_folder, "learn", "--sprayer", "fine needle", "--few-chips")
    assert main(asked) == 2
    assert (
        'no chip of the sprayer "fine needle": found one chip, of "coarse needle"' in capsys.readouterr().err
    )
    assert not (tmp_path / "sprayers").exists()
    log_path(job).unlink()

    add("preshade", "light=57,0,-9", "--sprayer", "Fine Needle")
    add("base", "light=46,-26,12")
    alone = learn()
    assert "left out" not in capsys.readouterr().out
    add("base", "light=48,-27,13", "--sprayer", "coarse needle")
    add("base", "mid=44,-23,11", "--sprayer", "coarse needle")
    capsys.readouterr()
    again = learn()
    assert "2 chips of other sprayers left out: coarse needle." in capsys.readouterr().out
    assert (again.value, again.basis) == (alone.value, alone.basis)
    # With no sprayer named all are taken, and that is told.
    assert main(command(job, paints_folder, "learn")) == 0
    assert "chips of Fine Needle, coarse needle are taken as one sprayer's" in capsys.readouterr().out
    # A chip of this sprayer over a step of the other: its film cannot be told apart, and that is said.
    add("filter", "light=39,-13,7", "--sprayer", "fine needle")
    capsys.readouterr()
    learn()
    told = capsys.readouterr().out
    assert "areas where coarse needle sprayed, too" in told
    assert "Before, the profile said" in told


def test_a_chip_with_a_sign_reversed_is_named_and_not_learned_from(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = command(job, paints_folder, "add", "--area", "panel", "--coat", "base", "--chip")
    for chip in ("mid=43,-22,10", "light=46,-26,12", "shadow=39,-17,8"):
        assert main([*asked, chip]) == 0
    assert "reversed" not in capsys.readouterr().out
    assert main(command(job, paints_folder, "learn")) == 0
    before = capsys.readouterr().out
    assert main([*asked, "mid=43,22,10"]) == 0
    told = "mid of base on panel, 43.0 22.0 10.0, looks like 43.0 -22.0 10.0 with a* reversed"
    assert f"Note: {told}. If it is a slip: layersim log {job} take-back." in capsys.readouterr().out
    assert main(command(job, paints_folder, "learn")) == 0
    after = capsys.readouterr().out
    assert f"Left out: {told}. Enter it again with the right sign." in after
    assert [line for line in after.splitlines() if "Left out" not in line] == before.splitlines()


def test_a_chip_of_another_paint_is_not_learned_from(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--area", "panel", "--coat", "base", "--chip", "mid=43,-22,10", "--chip", "light=60,50,40"]
    assert main(command(job, paints_folder, "add", *words)) == 0
    for action in ("show", "learn"):
        capsys.readouterr()
        assert main(command(job, paints_folder, action)) == 0
        assert "farther than films and bottles explain" in capsys.readouterr().out


def test_the_chip_that_is_asked_for_can_be_added_as_it_is_told(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = command(job, paints_folder, "add", "--area", "panel", "--coat", "base", "--chip", "mid=43,-22,10")
    assert main(asked) == 0
    capsys.readouterr()
    assert main(command(job, paints_folder, "learn")) == 0
    said = capsys.readouterr().out
    assert "The chip that would narrow the next preview most: " in said
    assert said.endswith("With --sprayer NAME and --few-chips it goes into that sprayer's profile.\n")
    typed = shlex.split(said.splitlines()[-2])
    assert typed[:4] == ["layersim", "log", str(job), "add"]
    words = [word.replace("L,a,b", "36,-11,6") for word in typed[3:]]
    assert main(command(job, paints_folder, *words)) == 0


def test_what_a_hand_scatters_goes_into_the_profile_unless_it_is_surer_there(
    job: Path, paints_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Four jobs of a hand that scatters by 5 % round a factor of 0.8."""
    profile = tmp_path / "mine.toml"
    luck = np.random.default_rng(3)
    names = []
    for number in range(4):
        path = tmp_path / f"job-{number}.toml"
        path.write_text(scheme_text(number), encoding="utf-8")
        names.append(path)
        one = load_scheme(path, folders=[paints_folder])
        for entry in log_of(one, truth(one, 0.8, luck), luck).entries:
            add_entry(log_path(path), entry)
    also = [word for path in names[1:] for word in ("--also", str(path))]
    asked = command(names[0], paints_folder, "learn", *also, "--sprayer", "mine", "--out", str(profile))
    assert main(asked) == 0
    assert "From one coat to the next its films vary by " in capsys.readouterr().out
    found = read_sprayer(profile).film_scatter
    assert found is not None
    assert 0.02 < found.value < 0.12
    # The next scheme that names the sprayer counts with it, and its range is narrower.
    named = job.read_text(encoding="utf-8").replace("[hand]\nfilm = 0.1\n", "")
    job.write_text(named, encoding="utf-8")
    unmeasured = load_scheme(job, folders=[paints_folder])
    job.write_text(named + f'\n[batch]\nsprayer = "{profile}"\n', encoding="utf-8")
    measured = load_scheme(job, folders=[paints_folder])
    assert found.value < measured.hand.film < unmeasured.hand.film
    reach = [float(simulate(one).areas[0].reach[-1].mean()) for one in (unmeasured, measured)]
    assert reach[1] < 0.9 * reach[0]
    surer = Estimate(0.06, 0.01, "thirty cards")
    write_sprayer(Sprayer("mine", film_scatter=surer), profile)
    assert main(asked) == 0
    assert "stays as the profile has it, which is surer: thirty cards." in capsys.readouterr().out
    assert read_sprayer(profile).film_scatter == surer


def test_a_chip_photographed_beside_a_chart_is_read_with_its_range(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    picture = data_folder() / "examples" / "teal-card.jpg"
    chip = f"mid={picture}@30,20"
    assert main(command(job, paints_folder, "add", "--area", "panel", "--coat", "base", "--chip", chip)) == 0
    out = capsys.readouterr().out
    assert "by the chart in the picture." in out
    [entry] = read_log(log_path(job)).entries
    [kept] = entry.chips
    assert kept.lab is not None
    assert 1.0 < kept.doubt < 8.0
    assert f"± {kept.doubt:.2g}" in out


def test_a_colour_off_a_screen_counts_for_little(
    job: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["add", "--area", "panel", "--coat", "base", "--chip", "mid=#3f7d93"]
    assert main(command(job, paints_folder, *words)) == 0
    assert "a colour off a screen may be off by 10 either way" in capsys.readouterr().out
    [entry] = read_log(log_path(job)).entries
    assert entry.chips[0].doubt == SCREEN_DOUBT
