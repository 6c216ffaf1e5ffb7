"""`layersim quantities` and `layersim weigh`, as a painter types them."""

from __future__ import annotations

import dataclasses
import json
import re
from pathlib import Path

import pytest

from layersim.cli import main
from layersim.plan.quantities import quantities
from layersim.resources import demo_scheme
from layersim.scheme.reading import load_scheme
from layersim.shelf import Shelf
from layersim.sprayer import FOLDER_VARIABLE, read_sprayer
from layersim.views import quantities as quantities_view
from layersim.writers import terminal

DEMO = str(demo_scheme())


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's own folder of sprayers; not there yet."""
    own = tmp_path / "own" / "sprayers"
    monkeypatch.setenv(FOLDER_VARIABLE, str(own))
    return own


class TestQuantities:
    def test_how_much_wash_do_i_mix(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["quantities", DEMO, "--models", "10", "--coat", "pin wash"]) == 0
        said = capsys.readouterr().out
        assert "pin wash (brushed)    (wax cloth)" in said
        assert "3 drops oil wash dark brown = 0.15 ml" in said
        assert "start with 1 drop and add as needed" in said
        assert "violet glaze =" not in said

    def test_an_amount_that_lasts_nine_times_in_ten(self) -> None:
        scheme = load_scheme(demo_scheme())
        scheme = dataclasses.replace(scheme, batch=dataclasses.replace(scheme.batch, models=10))
        for mix in quantities(scheme).mixes:
            assert mix.sure.enough >= 0.9
            # Not the 95th of 100, which ends the range: about 1.28 against 1.64 standard deviations.
            assert mix.mix_ml <= mix.sure.mix_ml < 1.35 * mix.need_high_ml + 0.3
            assert sum(part.ml for part in mix.sure.parts) == pytest.approx(mix.sure.mix_ml)

    def test_sure_amount_thinner_in_millilitres_and_why_a_drop_is_off(
        self, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert main(["quantities", DEMO, "--models", "10", "--coat", "preshade"]) == 0
        said = " ".join(capsys.readouterr().out.split())
        assert "to be sure 9 times in 10: " in said
        drops, ml = re.findall(r"\+ (\d+) thinner \(([\d.]+) ml\)", said)[0]
        assert float(ml) == pytest.approx(int(drops) * 0.05, abs=0.006)

    def test_fillings_are_told_apart_from_what_they_make_in_all(
        self, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert main(["quantities", DEMO, "--models", "10", "--coat", "preshade"]) == 0
        said = " ".join(capsys.readouterr().out.split())
        found = re.findall(
            r"(\d) fillings of (\d+) drops airbrush white \+ (\d+) thinner \([\d.]+ ml\); "
            r"([\d.]+) ml in all",
            said,
        )
        assert len(found) == 2
        for fillings, paint, thinner, ml in found:
            assert float(ml) == pytest.approx(int(fillings) * (int(paint) + int(thinner)) * 0.05, abs=0.06)

    def test_it_says_which_command_prints_the_drops(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["quantities", DEMO, "--coat", "pin wash"]) == 0
        assert "To print these drops beside their coats: layersim card SCHEME" in capsys.readouterr().out

    def test_thinner_off_the_ratio_is_explained(self) -> None:
        found = quantities(load_scheme(demo_scheme()), steps=["base"])
        [mix, *_] = [mix for mix in found.mixes if len(mix.parts) == 3]
        exact = round(mix.mix.thinning * sum(part.drops for part in mix.parts[:-1]))
        off = dataclasses.replace(
            mix, parts=(*mix.parts[:-1], dataclasses.replace(mix.parts[-1], drops=exact + 1))
        )
        level = dataclasses.replace(
            mix, parts=(*mix.parts[:-1], dataclasses.replace(mix.parts[-1], drops=exact))
        )
        told, quiet = (
            " ".join(terminal.text(quantities_view.view(dataclasses.replace(found, mixes=(one,)))).split())
            for one in (off, level)
        )
        assert f"exactly in the ratio would be {exact} drops; {exact + 1} bring" in told
        assert "exactly in the ratio" not in quiet

    def test_everything_and_as_data(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        out = tmp_path / "q.json"
        assert main(["quantities", DEMO, "--models", "3", "--surface", "20", "--json", str(out)]) == 0
        said = capsys.readouterr().out
        for words in (
            "what to mix for 3 models",
            "In all",
            "What the range comes from",
            "If the first were known",
            "transfer_efficiency",
            "common practice, no source",
            "same share of the surface",
            "Oily rags heat themselves",
            "safety data sheet",
        ):
            assert words in said
        data = json.loads(out.read_text(encoding="utf-8"))
        assert data["format"] == "layersim quantities 2"
        data = data["result"]["quantities"]
        assert data["figure_cm2"]["value"] == 20.0
        for mix in data["mixes"]:
            assert mix["need_low_ml"] <= mix["need_ml"] <= mix["need_high_ml"]
            drops = sum(part["drops"] for part in mix["parts"]) * mix["fillings"]
            assert mix["mix_ml"] == pytest.approx(drops * 0.05)
            assert mix["sure"]["enough"] >= 0.9
            sure = sum(part["drops"] for part in mix["sure"]["parts"]) * mix["sure"]["fillings"]
            assert mix["sure"]["mix_ml"] == pytest.approx(sure * 0.05)

    def test_a_sprayer_that_was_weighed_narrows_the_range(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        def width(*more: str) -> float:
            out = tmp_path / "q.json"
            assert main(["quantities", DEMO, "--models", "30", "--json", str(out), *more]) == 0
            found = json.loads(out.read_text(encoding="utf-8"))["result"]["quantities"]
            return float(found["need_high_ml"] / found["need_low_ml"])

        cards = [word for run in ("0.21:4.1", "0.22:4.2", "0.20:4.0") for word in ("--card", run)]
        assert main(["weigh", "fine needle", *cards, "--solids", "0.2", "--balance", "0.001"]) == 0
        # How thick it lays its films stays in doubt.
        assert width("--sprayer", "fine needle") < 0.97 * width()
        assert "Transfer efficiency: 0.25" in capsys.readouterr().out

    @pytest.mark.parametrize(
        ("words", "message"),
        [
            (["--models", "0"], "--models: found 0; expected a whole number from 1"),
            (["--models", "ten"], 'found "ten"; expected a whole number'),
            (["--surface", "-3"], "--surface: found -3"),
            (["--size", "1/35 figur"], 'Did you mean "1/35 figure"?'),
            (["--mesh", "nowhere.stl"], "nowhere.stl: there is no such file"),
            (["--mesh", "a.stl", "--surface", "3"], "not allowed with"),
            (["--mesh-mm", "0"], "--mesh-mm: found no mesh whose unit it could be"),
            (["--mesh", "a.stl", "--mesh-mm", "0"], "--mesh-mm: found 0"),
            (["--surface", "20cm2"], 'found "20cm2"; expected a number, without its unit.'),
            (["--surface", "12,5"], 'found "12,5"; expected a number, without its unit. Write decimals with'),
            (["--surface", "nan"], 'found "nan"; expected a number'),
            (["--sprayer", "nobody"], 'no sprayer "nobody"'),
            (["--coat", "filtre"], 'Did you mean "filter"?'),
            (["--json", DEMO], "this is a file to read from"),
        ],
    )
    def test_slips(self, words: list[str], message: str, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["quantities", DEMO, *words]) == 2
        assert message in capsys.readouterr().err

    def test_what_is_owned(
        self, scheme_file: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        text = scheme_file.read_text(encoding="utf-8")
        batch = '[batch]\nmodels = 4\nowned = { "moss green" = 0.01, "rust" = 50 }\n\n[[area]]'
        scheme_file.write_text(text.replace("[[area]]", batch, 1), encoding="utf-8")
        assert main(["quantities", str(scheme_file), "--paints", str(paints_folder)]) == 0
        said = capsys.readouterr().out
        assert "buy " in said
        assert "enough" in said


class TestWeigh:
    def test_weighings_are_kept_and_the_rest_stays(
        self, folder: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        path = folder / "fine-needle.toml"
        weights = ["--drops", "10", "--weight", "0.48", "--weight", "0.50", "--density", "1.0"]
        assert main(["weigh", "Fine needle", *weights, "--balance", "0.001"]) == 0
        assert read_sprayer(path).drop_ul is not None
        dried = ["--card", "0.21:4.0", "--dried", "1.00:0.20", "--balance", "0.001"]
        assert main(["weigh", str(path), *dried]) == 0
        found = read_sprayer(path)
        assert found.name == "Fine needle"
        assert found.drop_ul is not None
        assert found.drop_ul.value == pytest.approx(49.0, abs=0.1)
        assert found.transfer_efficiency is not None
        assert found.transfer_efficiency.value == pytest.approx(0.21 / 0.8, abs=1e-3)
        assert '[batch] sprayer = "Fine needle"' in capsys.readouterr().out

    def test_solids_from_a_paint(self, folder: Path) -> None:
        words = ["--paint", "navy blue", "--thinning", "1", "--density", "1.1", "--dry-density", "1.6"]
        assert main(["weigh", "b", "--card", "0.05:1.0", *words, "--balance", "0.001"]) == 0
        found = read_sprayer(folder / "b.toml").transfer_efficiency
        solids = Shelf.usual().find("navy blue").volume_solids
        assert found is not None
        assert found.value == pytest.approx(0.05 / (solids / 2 * 1.6 / 1.1), rel=1e-3)

    @pytest.mark.parametrize(
        ("words", "message"),
        [
            ([], "nothing was weighed"),
            (["--card", "0.1:1"], "needs the solids: found none of them"),
            (["--card", "0.1:1", "--solids", "0.2", "--dried", "1:0.2"], "found --solids and --dried"),
            (["--card", "0,1:1", "--solids", "0.2"], 'found "0,1:1"; expected two weights'),
            (["--card", "0.1", "--solids", "0.2"], "such as 0.12:1.40"),
            (["--card", "0.1:1", "--solids", "20"], "20 % is 0.2 here."),
            (["--card", "0.1:1", "--dried", "1:2"], "expected less when dry"),
            (["--card", "0.1:1", "--paint", "navy blue"], "give --density and --dry-density"),
            (["--card", "0.9:1", "--solids", "0.2"], "Was the card dry"),
            (["--weight", "0.5"], "found no --drops"),
            (["--weight", "0.5", "--drops", "10", "--balance", "-1"], "--balance: found -1"),
        ],
    )
    def test_slips(
        self, words: list[str], message: str, folder: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert main(["weigh", "x", *words]) == 2
        assert message in capsys.readouterr().err
        assert not folder.exists()

    def test_a_name_without_letters(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["weigh", "--", "..."]) == 2
        assert main(["weigh", "...", "--weight", "0.5", "--drops", "10"]) == 2
        assert "expected a name with letters" in capsys.readouterr().err
