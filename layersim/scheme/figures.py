"""How much surface a model of a named size has.

A person's skin measures about 1.8 m² (from memory: D. Du Bois and E. F. Du Bois, Arch. Intern. Med. 17
(1916) 863, for a grown man of middling build). A figure at scale 1 to n has that over n², times two to
four for clothes, folds, gear and base: an estimate, to be replaced by a mesh or a measurement. The
aeroplane's range is common practice, no source.
"""

from __future__ import annotations

from typing import Final

from layersim.estimate import Estimate

SIZES: Final = {
    "1/72 figure": (7.0, 14.0),
    "28-32 mm figure": (11.0, 25.0),
    "1/35 figure": (30.0, 60.0),
    "54 mm figure": (35.0, 70.0),
    "75 mm figure": (60.0, 125.0),
    "1/72 fighter": (115.0, 240.0),
}
"""Ranges of surface that hold 90 % of models, cm²."""
USUAL: Final = "28-32 mm figure"


def surface_of_size(size: str) -> Estimate:
    """Return the surface of a model of a named size, cm².

    Sizes are those of :data:`SIZES`.

    Raises KeyError for any other name.

    >>> surface_of_size("28-32 mm figure").words("cm²")
    '16.6 cm² (11-25)'
    """
    low, high = SIZES[size]
    worked_out = "skin ÷ scale² × 2 to 4, an estimate" if "figure" in size else "common practice, no source"
    return Estimate.within(low, high, f"size class {size!r}: {worked_out}".replace("'", '"'))
