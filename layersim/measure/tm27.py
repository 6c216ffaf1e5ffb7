"""Spectra in the XML of IES TM-27, read by colour-science, one reading a file.

The reader passes over what is not a number and over repeated wavelengths; the checks that every
format goes through afterwards do not.
"""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np

from layersim.errors import SpectralFileError
from layersim.measure.plain import sheet_of
from layersim.measure.sheet import Contents


def looks_like_tm27(text: str) -> bool:
    """Return whether a text is XML."""
    return text.lstrip().startswith("<")


def read_tm27(path: Path, text: str) -> Contents:
    """Return the reading of an IES TM-27 file, in which `text` stands.

    Raises SpectralFileError if it is another kind of XML or holds no reflectance.
    """
    if "<!DOCTYPE" in text or "<!ENTITY" in text:
        raise SpectralFileError(path, "XML that defines its own entities is not read; expected IES TM-27")
    if "SpectralData" not in text:
        raise SpectralFileError(path, "this XML is not IES TM-27; expected elements named SpectralData")
    # colour-science takes a second to import, changes how numpy prints for the whole process, and
    # warns of optional packages.
    with np.printoptions(), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from colour.io import SpectralDistribution_IESTM2714

        try:
            spectrum = SpectralDistribution_IESTM2714(str(path)).read()
            nm = np.asarray(spectrum.wavelengths, dtype=np.float64)
            values = np.asarray(spectrum.values, dtype=np.float64)
        except AssertionError:
            raise SpectralFileError(
                path, "wavelengths out of order; expected them to rise from first to last"
            ) from None
        except (ValueError, TypeError, LookupError, SyntaxError, AttributeError, OSError) as fault:
            reason = " ".join(str(fault).split())[:100]
            raise SpectralFileError(path, f"this cannot be read as IES TM-27 XML ({reason})") from None
    quantity = spectrum.spectral_quantity
    if str(quantity).strip().lower() != "reflectance":
        raise SpectralFileError(
            path, f'SpectralQuantity: found "{quantity}"; expected "reflectance" (a measured swatch)'
        )
    if not np.isfinite(values).all() or not np.isfinite(nm).all():
        bad = int(np.argmin(np.isfinite(values) & np.isfinite(nm)))
        raise SpectralFileError(
            path, f"SpectralData {bad + 1}, {nm[bad]:g} nm: found no number; expected a reflectance"
        )
    header = spectrum.header
    name = " ".join(str(header.description or header.unique_identifier or path.stem).split())
    cells = [[repr(float(value)) for value in values]]
    sheet = sheet_of(path, [name], nm, cells, at=(0, 0), nm_at=(0, 0), stated={})
    return Contents((sheet,), remarks=(str(spectrum.reflection_geometry),))
