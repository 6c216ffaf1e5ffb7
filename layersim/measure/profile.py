"""The colour profile that a picture carries, where it is made of three curves and a matrix.

ICC.1:2010, sections 7 (header, table of entries), 9.2.46 (the model), 10.5 and 10.15 (curves). Pillow's
colour engine would map into another gamut and cut to 8 bits, so the few entries are read here.
"""

from __future__ import annotations

import struct

import numpy as np
import numpy.typing as npt

from layersim.spectra import FloatArray


def read_matrix_profile(profile: bytes, levels: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return the curves and primaries of an ICC profile made of three curves and a matrix.

    The curves, shape (n, 3), are at `levels` (n,); the primaries have shape (3, 3). Raises ValueError if the
    profile is not for RGB, not of this kind, or damaged.
    """
    device = np.asarray(levels, dtype=np.float64)
    if len(profile) < 132 or profile[36:40] != b"acsp":
        raise ValueError("it is damaged")
    if profile[16:20] != b"RGB ":
        raise ValueError(f"it is for {profile[16:20].decode('latin-1').strip()}, expected RGB")
    if profile[20:24] != b"XYZ ":
        raise ValueError("it holds a table of colours, expected three curves and a matrix")
    try:
        (count,) = struct.unpack(">I", profile[128:132])
        entries = struct.iter_unpack(">4sII", profile[132 : 132 + 12 * min(count, 200)])
        tags = {name: profile[start : start + size] for name, start, size in entries}
        curves = [_profile_curve(tags[f"{c}TRC".encode()], device) for c in "rgb"]
        columns = [
            np.array(struct.unpack(">3i", tags[f"{c}XYZ".encode()][8:20]), dtype=np.float64) / 65536.0
            for c in "rgb"
        ]
    except KeyError as missing:
        raise ValueError(f"it has no {missing.args[0].decode('latin-1')}") from None
    except (struct.error, IndexError):
        raise ValueError("it is damaged") from None
    to_xyz = np.stack(columns, axis=1)
    curve = np.stack(curves, axis=1)
    if not np.isfinite(curve).all() or (np.diff(curve, axis=0) < -1e-9).any():
        raise ValueError("a curve of it does not rise")
    if np.linalg.matrix_rank(to_xyz) < 3:
        raise ValueError("its primaries do not span colour")
    return curve, to_xyz


def _profile_curve(tag: bytes, device: FloatArray) -> FloatArray:
    if tag[:4] == b"curv":
        (count,) = struct.unpack(">I", tag[8:12])
        if count == 0:
            return device
        table = np.frombuffer(tag[12 : 12 + 2 * count], dtype=">u2").astype(np.float64)
        if table.size != count:
            raise ValueError("it is damaged")
        if count == 1:
            return np.asarray(device ** (table[0] / 256.0))
        return np.interp(device, np.linspace(0.0, 1.0, count), table / 65535.0)
    if tag[:4] == b"para":
        (kind,) = struct.unpack(">H", tag[8:10])
        if kind > 4:
            raise ValueError("a curve of it is of an unknown kind")
        numbers = (1, 3, 4, 5, 7)[kind]
        g, *rest = (v / 65536.0 for v in struct.unpack(f">{numbers}i", tag[12 : 12 + 4 * numbers]))
        return _parametric(kind, g, rest, device)
    raise ValueError("a curve of it is of an unknown kind")


def _parametric(kind: int, g: float, rest: list[float], x: FloatArray) -> FloatArray:
    """Return an ICC parametric curve (ICC.1:2010 table 65)."""
    if kind == 0:
        return np.asarray(x**g)
    a, b, *more = rest
    power = np.maximum(a * x + b, 0.0) ** g
    if kind in (1, 2):
        if a == 0.0:
            raise ValueError("it is damaged")
        c = more[0] if kind == 2 else 0.0
        return np.where(x >= -b / a, power + c, c)
    c, d, *ends = more
    e, f = ends if ends else (0.0, 0.0)
    return np.where(x >= d, power + e, c * x + f)
