"""Films of metal paint that are traced ray by ray once, and what was found: `flakes.json`.

A minute a case. ``python -m tests.oracle.flake_cases`` traces those that the file lacks; words after it
choose cases by their names, which are traced anew.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from layersim import metals
from layersim.spectra import wavelengths_nm
from tests.oracle.flakes import Film, Traced, trace

KEPT = Path(__file__).with_name("flakes.json")
BRIGHT, GREY = 0.96 + 6.7j, 1.6 + 3.4j
"""Aluminium at 550 nm (rounded) and an invented grey metal: F about .89 and .55 in a binder of 1.5."""
METALS = [BRIGHT] * 3 + [GREY] * 3
K_PER_UM = [0.0, 0.1, 0.3] * 2
"""Channels: two metals in three binders."""
WHITE = 0.85
_SHEETS, _RAYS = 16, 50_000


@dataclass(frozen=True, eq=False)
class Case:
    films: Sequence[Film]
    """The lowest first."""
    ground: float = 0.0
    surface_slope: float = 0.0


def flakes(
    cover: float,
    tilt_deg: float,
    rough: float,
    *,
    film_um: float = 5.0,
    K_per_um: npt.ArrayLike = K_PER_UM,
    metal: npt.ArrayLike = METALS,
    moved: bool = False,
) -> Film:
    """Return a film by its whole cover, C X."""
    return Film(
        film_um,
        K_per_um=K_per_um,
        cover_per_um=cover / film_um,
        tilt_deg=tilt_deg,
        metal=metal,
        rough=rough,
        moved=moved,
    )


def cases() -> dict[str, Case]:
    """Return all cases by name."""
    glaze = Film(4.0, K_per_um=K_PER_UM, metal=METALS)
    usual = flakes(1, 8, 0.15)
    clear = flakes(1, 8, 0.15, K_per_um=0.0)
    amber = 0.5 / (1.0 + np.exp((wavelengths_nm() - 530.0) / 15.0))
    found = {
        f"cover {cover:g}, tilt {tilt}°, rough {rough:g}": Case([flakes(cover, tilt, rough)])
        for tilt in (8, 4, 15)
        for cover in (1.0, 3.0, 0.3)
        for rough in (0.15, 0.0)
    }
    found |= {
        f"film 2 µm, cover {cover:g}, tilt {tilt}°, rough 0.15": Case(
            [flakes(cover, tilt, 0.15, film_um=2.0)]
        )
        for cover, tilt in ((1.0, 8), (3.0, 8), (0.3, 8), (1.0, 15))
    }
    found |= {
        f"white ground, cover {cover:g}, tilt {tilt}°, rough {rough:g}": Case(
            [flakes(cover, tilt, rough)], WHITE
        )
        for cover, tilt, rough in (
            (1.0, 8, 0.15),
            (0.3, 8, 0.15),
            (3.0, 8, 0.15),
            (1.0, 8, 0.0),
            (1.0, 15, 0.15),
        )
    }
    return found | {
        "glaze over cover 1, tilt 8°, rough 0": Case([flakes(1, 8, 0.0, K_per_um=0.0), glaze]),
        "glaze over cover 1, tilt 8°, rough 0.15": Case([clear, glaze]),
        "glaze over cover 1, tilt 8°, rough 0.15, white ground": Case([clear, glaze], WHITE),
        "cover 1 over cover 1, tilt 8°, rough 0.15": Case([usual, usual]),
        "cover 0.3 over cover 1, tilt 8°, rough 0.15, white ground": Case(
            [usual, flakes(0.3, 8, 0.15)], WHITE
        ),
        "cover 0.3, tilt 15° over cover 3, tilt 4°, rough 0.15": Case(
            [flakes(3, 4, 0.15), flakes(0.3, 15, 0.15)]
        ),
        "surface slope 0.2, cover 1, tilt 8°, rough 0.15": Case([usual], surface_slope=0.2),
        "surface slope 0.5, cover 1, tilt 8°, rough 0.15": Case([usual], surface_slope=0.5),
        "surface slope 0.5, white ground alone": Case([Film(5.0, K_per_um=K_PER_UM)], WHITE, 0.5),
        "moved into the film, cover 1, tilt 8°, rough 0.15": Case([flakes(1, 8, 0.15, moved=True)]),
        "moved into the film, cover 3, tilt 8°, rough 0.15": Case([flakes(3, 8, 0.15, moved=True)]),
        "copper, cover 1, tilt 8°, rough 0.15, white ground": Case(
            [flakes(1, 8, 0.15, K_per_um=0.0, metal=metals.refractive_index("copper"))], WHITE
        ),
        "amber binder, aluminium, cover 3, tilt 8°, rough 0.15": Case(
            [flakes(3, 8, 0.15, K_per_um=amber, metal=metals.refractive_index("aluminium"))]
        ),
        "amber glaze over aluminium, cover 1, tilt 8°, rough 0.15, white ground": Case(
            [
                flakes(1, 8, 0.15, K_per_um=0.0, metal=metals.refractive_index("aluminium")),
                Film(4.0, K_per_um=amber),
            ],
            WHITE,
        ),
    }


def kept() -> dict[str, Traced]:
    """Return what was found, by name."""
    stored = json.loads(KEPT.read_text(encoding="utf-8"))["cases"]
    return {
        name: Traced(**{key: np.array(value) for key, value in one.items()}) for name, one in stored.items()
    }


def traced(name: str) -> Traced:
    """Return a case traced now."""
    case = cases()[name]
    cover = sum(film.cover_per_um * film.thickness_um for film in case.films)
    return trace(
        case.films,
        # about as many flakes on each sheet
        sheet_um=900.0 / np.sqrt(max(cover, 0.3)),
        ground=case.ground,
        surface_slope=case.surface_slope,
        rays=_RAYS,
        sheets=_SHEETS,
        seed=list(cases()).index(name),
    )


def keep(found: Mapping[str, Traced]) -> None:
    """Write what was found, in the order of the cases."""
    content = {
        "made by": f"python -m tests.oracle.flake_cases, {_SHEETS} sheets of 25,000 to 100,000 rays each",
        "cases": {
            name: {key: np.round(value, 6).tolist() for key, value in vars(found[name]).items()}
            for name in cases()
            if name in found
        },
    }
    # One case a line: a change of one is a change of one line.
    lines = json.dumps(content, ensure_ascii=False).replace('}, "', '},\n"')
    KEPT.write_text(lines + "\n", encoding="utf-8")


def main(wanted: Sequence[str]) -> None:
    found = kept() if KEPT.exists() else {}
    names = [n for n in cases() if any(word in n for word in wanted) or (not wanted and n not in found)]
    begun = time.perf_counter()
    with ProcessPoolExecutor(2) as pool:
        waiting = {pool.submit(traced, name): name for name in names}
        for done in as_completed(waiting):
            found[waiting[done]] = done.result()
            keep(found)
            print(f"{time.perf_counter() - begun:.0f} s: {waiting[done]}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
