"""Weighings: exact on exact weights, an honest error for the next job, and what cannot be."""

from __future__ import annotations

import contextlib

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy import stats

from layersim.chance import NINETY
from layersim.errors import LayersimError
from layersim.estimate import Estimate
from layersim.plan import weighing
from layersim.plan.weighing import Run, drop_size_ul, mass_solids, transfer_efficiency
from layersim.sprayer import Sprayer, read_sprayer, write_sprayer


class TestEfficiency:
    def test_exact_weights_give_the_share_of_solids(self) -> None:
        runs = [Run(0.105, 1.0), Run(0.21, 2.0)]
        found = transfer_efficiency(runs, solids_by_mass=0.3, solids_error=0.0, balance_g=0.0)
        assert found.value == pytest.approx(0.35)
        assert found.error == pytest.approx(0.0, abs=1e-12)
        assert found.basis == "2 cards and the cup weighed"

    @pytest.mark.parametrize("runs", [2, 3, 6])
    def test_nine_in_ten_next_jobs_lie_in_the_range(self, runs: int) -> None:
        # A sprayer with a hidden efficiency of 0.28 that scatters 12 % from job to job.
        draw = np.random.default_rng(7)
        hits = 0
        trials = 1500
        for _ in range(trials):
            eta = 0.28 * np.exp(0.12 * draw.standard_normal(runs + 1))
            cards = [Run(float(e) * 0.2, 1.0) for e in eta[:runs]]
            try:
                found = transfer_efficiency(cards, solids_by_mass=0.2, solids_error=0.0, balance_g=0.0)
            except LayersimError:
                # So far apart that the range would have held anything.
                hits += 1
                continue
            hits += found.low <= eta[runs] <= found.high
        # Three standard errors of a share of 0.9.
        assert hits / trials == pytest.approx(0.90, abs=3 * np.sqrt(0.09 / trials))

    def test_a_coarse_balance_and_unsure_solids_widen_the_range(self) -> None:
        runs = [Run(0.1, 1.0)] * 3
        fine = transfer_efficiency(runs, solids_by_mass=0.3, solids_error=0.0, balance_g=0.001)
        coarse = transfer_efficiency(runs, solids_by_mass=0.3, solids_error=0.0, balance_g=0.01)
        unsure = transfer_efficiency(runs, solids_by_mass=0.3, solids_error=0.1, balance_g=0.001)
        assert fine.error < coarse.error
        assert unsure.error == pytest.approx(np.hypot(fine.error, 0.1))

    def test_one_card_takes_the_assumed_scatter(self) -> None:
        found = transfer_efficiency([Run(0.1, 1.0)], solids_by_mass=0.3, solids_error=0.0, balance_g=0.0)
        assert found.error == pytest.approx(weighing.ONE_RUN * np.sqrt(2.0))
        assert "assumed" in found.basis

    def test_students_table_is_right(self) -> None:
        expected = stats.t.ppf(0.95, np.arange(1, 11))
        np.testing.assert_allclose(weighing._STUDENT, expected, atol=6e-4)
        assert pytest.approx(stats.norm.ppf(0.95)) == NINETY

    @pytest.mark.parametrize(
        ("runs", "solids", "balance", "message"),
        [
            ([], 0.3, 0.01, "found 0; expected from 1"),
            ([Run(0.0, 1.0)], 0.3, 0.001, "card 1: found a gain of the card of 0 g"),
            ([Run(0.1, -1.0)], 0.3, 0.001, "card 1: found a loss of the cup of -1 g"),
            ([Run(0.1, 1.0), Run(0.4, 1.0)], 0.3, 0.001, "card 2: found 0.4 g dry .* Was the card dry"),
            ([Run(0.02, 1.0)], 0.3, 0.01, "sure to 0.01 g; expected at least 0.03 g"),
            ([Run(0.1, 1.0)], 0.0, 0.001, "solids: found 0"),
            ([Run(0.1, 1.0)], 1.2, 0.001, "solids: found 1.2"),
        ],
    )
    def test_what_cannot_be_is_said(
        self, runs: list[Run], solids: float, balance: float, message: str
    ) -> None:
        with pytest.raises(LayersimError, match=message):
            transfer_efficiency(runs, solids_by_mass=solids, solids_error=0.0, balance_g=balance)


class TestDrops:
    def test_the_metric_drop_of_water(self) -> None:
        # A metric drop is 1/20 ml: ten of water weigh half a gram.
        found = drop_size_ul([0.5], drops=10, density=1.0, density_error=0.0, balance_g=0.0)
        assert found.value == pytest.approx(1000.0 / 20.0)

    def test_density_turns_mass_into_volume(self) -> None:
        found = drop_size_ul([0.6, 0.6], drops=10, density=1.2, density_error=0.05, balance_g=0.0)
        assert found.value == pytest.approx(50.0)
        assert found.error == pytest.approx(0.05)

    @pytest.mark.parametrize(
        ("weights", "drops", "density", "message"),
        [
            ([0.5], 0, 1.0, "drops: found 0"),
            ([0.5], 10, 0.01, "density: found 0.01"),
            ([0.0], 10, 1.0, "weighing 1: found a weight of 10 drops of 0 g"),
            ([0.02], 1, 1.0, "Spray or drop more"),
        ],
    )
    def test_what_cannot_be_is_said(
        self, weights: list[float], drops: int, density: float, message: str
    ) -> None:
        with pytest.raises(LayersimError, match=message):
            drop_size_ul(weights, drops=drops, density=density, density_error=0.0, balance_g=0.01)


class TestMassSolids:
    def test_as_a_data_sheet_has_it(self) -> None:
        # A data sheet of an interior acrylic: 38 ± 1 % by volume, 56 ± 1 % by mass, 1.40 kg/l. The dry film
        # then weighs 0.56 · 1.40 / 0.38 = 2.06 kg/l, and back.
        assert mass_solids(volume_solids=0.38, dry_density=2.063, wet_density=1.40) == pytest.approx(
            0.56, 1e-3
        )

    def test_more_than_all_is_refused(self) -> None:
        with pytest.raises(LayersimError, match="120 % by mass"):
            mass_solids(volume_solids=0.6, dry_density=2.0, wet_density=1.0)


class TestWhatNoProfileHolds:
    """Whatever is learned can be written and read back: what could not is refused before."""

    def test_milligrams_are_no_grams(self) -> None:
        with pytest.raises(LayersimError, match=r"found 50000 µl a drop; .* weights in grams"):
            drop_size_ul([500.0], drops=10, density=1.0, density_error=0.0, balance_g=0.01)
        with pytest.raises(LayersimError, match="found 0 µl a drop"):
            drop_size_ul([0.05], drops=1000, density=1.0, density_error=0.0, balance_g=0.001)

    def test_hardly_anything_on_the_card(self) -> None:
        with pytest.raises(LayersimError, match=r"found a transfer efficiency of 0\.0001"):
            transfer_efficiency([Run(0.1, 1000.0)], solids_by_mass=1.0, solids_error=0.0, balance_g=0.001)

    def test_cards_too_far_apart(self) -> None:
        runs = [Run(0.1, 4.0), Run(0.4, 4.0)]
        with pytest.raises(LayersimError, match=r"2 cards and .* found 0\.125, 0\.5, too far apart"):
            transfer_efficiency(runs, solids_by_mass=0.2, solids_error=0.0, balance_g=0.001)

    @settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    @given(
        runs=st.lists(st.tuples(st.floats(1e-3, 10.0), st.floats(1e-2, 100.0)), min_size=1, max_size=4),
        weights=st.lists(st.floats(1e-3, 50.0), min_size=1, max_size=4),
    )
    def test_what_is_learned_reads_back(
        self, runs: list[tuple[float, float]], weights: list[float], tmp_path_factory: pytest.TempPathFactory
    ) -> None:
        path = tmp_path_factory.mktemp("own") / "fine.toml"
        learned: dict[str, Estimate] = {}
        with contextlib.suppress(LayersimError):
            cards = [Run(*run) for run in runs]
            learned["transfer_efficiency"] = transfer_efficiency(
                cards, solids_by_mass=0.3, solids_error=0.1, balance_g=1e-4
            )
        with contextlib.suppress(LayersimError):
            learned["drop_ul"] = drop_size_ul(
                weights, drops=10, density=1.0, density_error=0.05, balance_g=1e-4
            )
        write_sprayer(Sprayer("fine", **learned), path)
        read = read_sprayer(path)
        for key, estimate in learned.items():
            assert getattr(read, key).value == pytest.approx(estimate.value, rel=0.01)
