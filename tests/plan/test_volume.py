"""Film into liquid: identities, public data sheets, the regulators' efficiency, the worked example."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layersim.plan.volume import liquid_ml, mix_ml

FT2_PER_GALLON = 0.3048**2 / 3.785411784
"""One square foot per US gallon, in m² per litre (exact definitions, NIST Special Publication 811)."""
MIL_UM = 25.4

shares = st.floats(0.01, 1.0)
amounts = st.floats(1e-3, 1e5)


def spreading_rate_m2_per_l(*, volume_solids: float, dry_film_um: float) -> float:
    """The surface that a litre covers, as data sheets give it: that of one cm², turned round."""
    return 0.1 / float(liquid_ml(surface_cm2=1.0, dry_film_um=dry_film_um, volume_solids=volume_solids))


class TestSpreadingRate:
    @given(shares)
    def test_one_micrometre_dry_covers_v_over_a_micrometre(self, v: float) -> None:
        # The film identity: a litre over a square metre is a millimetre.
        assert spreading_rate_m2_per_l(volume_solids=v, dry_film_um=1.0) == pytest.approx(1000.0 * v)

    @pytest.mark.parametrize(
        ("solids", "film_um", "rate", "unit", "within"),
        [
            # A data sheet of an acrylic, 38 ± 1 % volume solids: 602 ft²/US gal (15 m²/l), 1 mil dry.
            (0.38, MIL_UM, 602.0, FT2_PER_GALLON, 0.01 / 0.38),
            (0.38, MIL_UM, 15.0, 1.0, 0.01 / 0.38),
            # A data sheet of a water-borne acrylic enamel, from 32.6 to 39.6 %: 522 to 635 ft²/US gal.
            (0.326, MIL_UM, 522.0, FT2_PER_GALLON, 0.003),
            (0.396, MIL_UM, 635.0, FT2_PER_GALLON, 0.003),
            # ... and 12.8 to 15.6 m²/l, at a mil called 25 µm.
            (0.326, MIL_UM, 12.8, 1.0, 0.005),
            (0.396, MIL_UM, 15.6, 1.0, 0.005),
            # A data sheet of an alkyd enamel, 42 to 43 %: 675 to 690 ft²/US gal at 1 mil.
            (0.42, MIL_UM, 675.0, FT2_PER_GALLON, 0.005),
            (0.43, MIL_UM, 690.0, FT2_PER_GALLON, 0.005),
            # A paint merchant's worked example: 28 % at 18 µm covers 15.55 m²/l.
            (0.28, 18.0, 15.55, 1.0, 0.001),
        ],
    )
    def test_as_data_sheets_have_it(
        self, solids: float, film_um: float, rate: float, unit: float, within: float
    ) -> None:
        found = spreading_rate_m2_per_l(volume_solids=solids, dry_film_um=film_um)
        assert found == pytest.approx(rate * unit, rel=within)

    def test_wet_and_dry_film_as_a_data_sheet_has_them(self) -> None:
        # A data sheet of a satin white: 35 % solids, 80 µm wet, 28 µm dry. Wet film is liquid ÷ surface.
        wet_um = liquid_ml(surface_cm2=10_000.0, dry_film_um=28.0, volume_solids=0.35)
        assert wet_um == pytest.approx(80.0)


class TestLiquid:
    def test_the_worked_example(self) -> None:
        # Ten figures of 20 cm² at 10 µm, 12 %, 35 %: 4.8 ml; with 1 ml lost and 15 % in reserve 6.6 ml
        # (common practice, no source: the arithmetic is what is checked).
        work = liquid_ml(surface_cm2=200.0, dry_film_um=10.0, volume_solids=0.12, transfer_efficiency=0.35)
        assert work == pytest.approx(4.8, abs=0.05)
        assert mix_ml(work_ml=work, touch_up=0.0, loss_ml=1.0, reserve=0.15) == pytest.approx(6.6, abs=0.05)

    @given(amounts, st.floats(0.01, 1000.0), shares, shares)
    def test_efficiency_is_solids_on_the_work_over_solids_used(
        self, A: float, X: float, v: float, eta: float
    ) -> None:
        # South Coast Air Quality Management District, Spray equipment transfer efficiency: mass of coating
        # solids that adheres to the object ÷ mass of coating solids used.
        density = 1.4
        used_g = (
            liquid_ml(surface_cm2=A, dry_film_um=X, volume_solids=v, transfer_efficiency=eta) * v * density
        )
        adhering_g = A * X * 1e-4 * density
        assert adhering_g / used_g == pytest.approx(eta)

    @given(amounts, st.floats(0.01, 1000.0), shares, shares, st.floats(1.0, 10.0))
    def test_it_rises_with_surface_and_film_and_falls_with_solids(
        self, A: float, X: float, v: float, eta: float, more: float
    ) -> None:
        V = liquid_ml(surface_cm2=A, dry_film_um=X, volume_solids=v, transfer_efficiency=eta)
        wider = liquid_ml(surface_cm2=A * more, dry_film_um=X, volume_solids=v, transfer_efficiency=eta)
        thicker = liquid_ml(surface_cm2=A, dry_film_um=X * more, volume_solids=v, transfer_efficiency=eta)
        thinned = liquid_ml(surface_cm2=A, dry_film_um=X, volume_solids=v / more, transfer_efficiency=eta)
        assert wider == pytest.approx(V * more)
        assert thicker == pytest.approx(V * more)
        assert thinned == pytest.approx(V * more)

    def test_no_film_takes_no_paint(self) -> None:
        assert liquid_ml(surface_cm2=10.0, dry_film_um=0.0, volume_solids=0.2) == 0.0

    @pytest.mark.parametrize(
        "bad",
        [
            {"surface_cm2": -1.0},
            {"dry_film_um": np.inf},
            {"volume_solids": 0.0},
            {"volume_solids": 1.1},
            {"transfer_efficiency": 0.0},
            {"transfer_efficiency": 1.01},
        ],
    )
    def test_what_cannot_be_is_refused(self, bad: dict[str, float]) -> None:
        sound = {"surface_cm2": 1.0, "dry_film_um": 1.0, "volume_solids": 0.5, "transfer_efficiency": 0.5}
        with pytest.raises(ValueError, match="must be"):
            liquid_ml(**(sound | bad))  # type: ignore[arg-type]

    @given(amounts, st.floats(0.0, 2.0), st.floats(0.0, 10.0), st.floats(0.0, 2.0), st.floats(0.0, 5.0))
    def test_more_loss_and_reserve_never_take_less(
        self, work: float, touch_up: float, loss: float, reserve: float, more: float
    ) -> None:
        least = mix_ml(work_ml=work, touch_up=touch_up, loss_ml=loss, reserve=reserve)
        assert mix_ml(work_ml=work, touch_up=touch_up, loss_ml=loss + more, reserve=reserve) >= least
        assert mix_ml(work_ml=work, touch_up=touch_up, loss_ml=loss, reserve=reserve + more) >= least
        assert least >= work
