"""Invented pigments unlike those that the model was adjusted on: sharp edges, two bands, forward scattering.

No measured pigment is copied. Each has its fellows' strength and one trait that they lack: an edge three to
five nanometres steep, two separate narrow bands, a mean cosine of 0.8 to 0.93, scattering that hardly changes
with the wavelength or changes fast, or strong scattering beside strong absorption.
"""

from __future__ import annotations

from collections.abc import Mapping

from tests.judge.radiative_transfer import HELD_OUT, TUNING, Band, Edge, Pigmentation, invented, named

UNUSUAL_TUNING: Mapping[str, Pigmentation] = named(
    TUNING["titanium white"],
    TUNING["carbon black"],
    invented(
        "sharp orange",
        Edge(560.0, 3.0, 0.35),
        everywhere_per_um=0.003,
        mu_s_550_per_um=0.30,
        scattering_exponent=0.8,
        g=0.55,
    ),
    invented(
        "two-band violet",
        Band(500.0, 28.0, 0.38),
        Band(640.0, 30.0, 0.30),
        everywhere_per_um=0.012,
        mu_s_550_per_um=0.06,
        scattering_exponent=1.8,
        g=0.35,
    ),
    invented(
        "two-band green",
        Band(430.0, 45.0, 0.40),
        Band(655.0, 40.0, 0.45),
        everywhere_per_um=0.010,
        mu_s_550_per_um=0.12,
        scattering_exponent=1.0,
        g=0.50,
    ),
    invented(
        "forward blue",
        Band(600.0, 110.0, 0.24),
        everywhere_per_um=0.008,
        mu_s_550_per_um=0.60,
        scattering_exponent=0.2,
        g=0.91,
    ),
    invented(
        "forward red",
        Edge(590.0, 14.0, 0.28),
        everywhere_per_um=0.010,
        mu_s_550_per_um=0.90,
        scattering_exponent=0.4,
        g=0.87,
    ),
    invented(
        "strong turquoise",
        Band(625.0, 90.0, 0.50),
        Band(405.0, 60.0, 0.20),
        everywhere_per_um=0.015,
        mu_s_550_per_um=0.55,
        scattering_exponent=2.4,
        g=0.60,
    ),
)
"""Unusual pigmentations that the model may be adjusted on, by name."""

UNUSUAL_HELD_OUT: Mapping[str, Pigmentation] = named(
    HELD_OUT["buff white"],
    HELD_OUT["bone black"],
    invented(
        "sharp scarlet",
        Edge(603.0, 4.0, 0.40),
        everywhere_per_um=0.005,
        mu_s_550_per_um=0.24,
        scattering_exponent=0.6,
        g=0.60,
    ),
    invented(
        "sharp lemon",
        Edge(472.0, 3.0, 0.45),
        everywhere_per_um=0.003,
        mu_s_550_per_um=0.22,
        scattering_exponent=1.2,
        g=0.50,
    ),
    invented(
        "two-band rose",
        Band(490.0, 24.0, 0.26),
        Band(556.0, 26.0, 0.36),
        everywhere_per_um=0.008,
        mu_s_550_per_um=0.05,
        scattering_exponent=2.0,
        g=0.40,
    ),
    invented(
        "two-band olive",
        Band(445.0, 38.0, 0.34),
        Band(685.0, 50.0, 0.36),
        Band(600.0, 26.0, 0.10),
        everywhere_per_um=0.020,
        mu_s_550_per_um=0.16,
        scattering_exponent=0.7,
        g=0.55,
    ),
    invented(
        "forward violet",
        Band(565.0, 85.0, 0.26),
        everywhere_per_um=0.012,
        mu_s_550_per_um=0.80,
        scattering_exponent=0.3,
        g=0.93,
    ),
    invented(
        "strong brown",
        Edge(545.0, 30.0, 0.42),
        everywhere_per_um=0.060,
        mu_s_550_per_um=0.75,
        scattering_exponent=0.1,
        g=0.80,
    ),
)
"""Unusual pigmentations kept back to judge with, by name."""
