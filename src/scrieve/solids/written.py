"""Bodies as one run of bytes for the page that draws them: what they are as JSON, then corners, triangles and edges.

Little-endian throughout: 'SBOD', the length of the JSON (uint32), the JSON padded with spaces to a multiple of four,
then all corners (float32, x y z in mm), all triangles, all edges and all triangles of the coarse picture (uint32,
numbers of corners). The JSON tells the totals, and for each body where its own begin and how many there are.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from scrieve.errors import BadGeometry
from scrieve.solids.body import Solid

#: The first bytes.
FORMAT = b"SBOD"


def write_solids(
    solids: Sequence[Solid],
    about: Mapping[str, Mapping[str, Any]] | None = None,
    besides: Mapping[str, Any] | None = None,
) -> bytes:
    """Return the bodies as bytes; `about` adds plain values to a body's entry, by its key, `besides` to the whole."""
    entries: list[dict[str, Any]] = []
    point = face = edge = coarse = 0
    for solid in solids:
        entries.append(
            {
                "key": solid.key,
                "kind": solid.kind,
                "name": solid.name,
                "hand": solid.hand,
                "points": [point, len(solid.points_mm)],
                "faces": [face, len(solid.faces)],
                "edges": [edge, len(solid.edges)],
                "coarse": [coarse, len(solid.coarse)],
                **(about or {}).get(solid.key, {}),
            }
        )
        point, face = point + len(solid.points_mm), face + len(solid.faces)
        edge, coarse = edge + len(solid.edges), coarse + len(solid.coarse)
    starts = [entry["points"][0] for entry in entries]
    told = {"points": point, "faces": face, "edges": edge, "coarse": coarse, "bodies": entries, **(besides or {})}
    head = json.dumps(told, ensure_ascii=False, separators=(",", ":")).encode()
    head += b" " * (-len(head) % 4)
    parts = [FORMAT, np.uint32(len(head)).tobytes(), head]
    parts += [_bytes([each.points_mm for each in solids], "<f4")]
    parts += [_bytes([each.faces + start for each, start in zip(solids, starts, strict=True)], "<u4")]
    parts += [_bytes([each.edges + start for each, start in zip(solids, starts, strict=True)], "<u4")]
    parts += [_bytes([each.coarse + start for each, start in zip(solids, starts, strict=True)], "<u4")]
    return b"".join(parts)


def _bytes(arrays: Sequence[Any], kind: str) -> bytes:
    return np.concatenate([each.ravel() for each in arrays]).astype(kind).tobytes() if arrays else b""


def read_solids(given: bytes) -> tuple[dict[str, Any], Any, Any, Any, Any]:
    """Return the JSON, corners (n, 3), triangles (m, 3), edges (k, 2) and coarse triangles that `write_solids` gave.

    Raises
    ------
    BadGeometry
        The bytes are not such.
    """
    try:
        if given[:4] != FORMAT:
            raise ValueError("first bytes")
        size = int(np.frombuffer(given, "<u4", 1, 4)[0])
        told = json.loads(given[8 : 8 + size])
        at, found = 8 + size, []
        for name, kind, wide in (("points", "<f4", 3), ("faces", "<u4", 3), ("edges", "<u4", 2), ("coarse", "<u4", 3)):
            found.append(np.frombuffer(given, kind, told[name] * wide, at).reshape(-1, wide))
            at += told[name] * wide * 4
    except (ValueError, KeyError, IndexError) as error:
        raise BadGeometry(f"these are not bodies as this program writes them ({error}).") from error
    return told, *found
