"""A form in its colours as a GLB file (Khronos glTF 2.0): points, triangles, and a colour a point.

Colours are linear light, as glTF's COLOR_0 is, and floats: bytes of linear light would step in the dark.
"""

from __future__ import annotations

import json
import struct
from typing import Any, Final

import numpy as np

from layersim.spectra import FloatArray

_FLOAT, _WHOLE = 5126, 5125
_POINTS, _FACES = 34962, 34963
_JSON: Final = b"JSON"
_BIN: Final = b"BIN\0"


def glb(points: FloatArray, faces: Any, normals: FloatArray, linear: FloatArray, *, name: str) -> bytes:
    """Return the file. `linear`: linear sRGB of each point, 0 to 1, shape (n, 3)."""
    arrays = [
        ("POSITION", np.asarray(points, "<f4"), _FLOAT, "VEC3", _POINTS),
        ("NORMAL", np.asarray(normals, "<f4"), _FLOAT, "VEC3", _POINTS),
        ("COLOR_0", np.asarray(np.clip(linear, 0.0, 1.0), "<f4"), _FLOAT, "VEC3", _POINTS),
        ("indices", np.asarray(faces, "<u4").ravel(), _WHOLE, "SCALAR", _FACES),
    ]
    views, accessors, at = [], [], 0
    for _, values, kind, shape, target in arrays:
        views.append({"buffer": 0, "byteOffset": at, "byteLength": values.nbytes, "target": target})
        accessors.append(
            {"bufferView": len(views) - 1, "componentType": kind, "count": len(values), "type": shape}
        )
        at += values.nbytes
    accessors[0] |= {"min": arrays[0][1].min(axis=0).tolist(), "max": arrays[0][1].max(axis=0).tolist()}
    attributes = {key: i for i, (key, *_) in enumerate(arrays) if key != "indices"}
    surface = {"baseColorFactor": [1.0, 1.0, 1.0, 1.0], "metallicFactor": 0.0, "roughnessFactor": 0.8}
    content = {
        "asset": {"version": "2.0", "generator": "layersim"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0, "name": name}],
        "meshes": [{"primitives": [{"attributes": attributes, "indices": 3, "material": 0}]}],
        "materials": [{"pbrMetallicRoughness": surface, "doubleSided": True}],
        "buffers": [{"byteLength": at}],
        "bufferViews": views,
        "accessors": accessors,
    }
    text = json.dumps(content, ensure_ascii=True).encode()
    text += b" " * (-len(text) % 4)
    binary = b"".join(values.tobytes() for _, values, *_ in arrays)
    chunks = struct.pack("<I4s", len(text), _JSON) + text + struct.pack("<I4s", len(binary), _BIN) + binary
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks
