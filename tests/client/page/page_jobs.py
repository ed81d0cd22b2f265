"""The page's container taken apart by a reader of its own, and the jobs that the page's tests share."""

from __future__ import annotations

import functools
import json
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from preview.build import Built, build
from preview.scene import load_scene

ROOT = Path(__file__).parent.parent.parent.parent
SCENES = sorted((ROOT / "scenes").glob("*.toml"))
Floats = NDArray[np.float64]

KINDS = {"points": "<f4", "normals": "<i1", "uvs": "<f4", "triangles": "<u4", "rim": "<f4", "samples": "<f4"}


@functools.cache
def shipped(name: str) -> Built:
    """A shipped scene as drawn, built once."""
    return build(load_scene(ROOT / "scenes" / f"{name}.toml"))


@dataclass(frozen=True)
class Taken:
    """A container: its document and its binary part."""

    document: dict[str, Any]
    data: bytes

    def array(self, what: str, span: dict[str, int], wide: int) -> NDArray[Any]:
        """An array that the document names, in rows of `wide` numbers."""
        assert span["at"] % 4 == 0
        return np.frombuffer(self.data, KINDS[what], span["count"], span["at"]).reshape(-1, wide)

    def body(self, thing: dict[str, Any]) -> tuple[Floats, Floats, NDArray[np.int64]]:
        """Points (v, 3) where they stand, from the document's origin; normals (v, 3); triangles (t, 3)."""
        body = self.document["bodies"][thing["body"]]
        points = self.array("points", body["points"], 3).astype(np.float64) + np.array(thing["origin"])
        normals = self.array("normals", body["normals"], 4)
        assert not normals[:, 3].any()
        triangles = self.array("triangles", body["triangles"], 3).astype(np.int64)
        assert triangles.max() < len(points) == len(normals)
        return points, normals[:, :3] / 127.0, triangles


def taken_apart(container: bytes) -> Taken:
    """uint32 length, JSON, arrays."""
    (length,) = struct.unpack_from("<I", container)
    assert length % 4 == 0
    return Taken(json.loads(container[4 : 4 + length].decode("utf-8")), container[4 + length :])


def volume(points: Floats, triangles: NDArray[np.int64]) -> float:
    """The volume inside, by the divergence theorem."""
    a, b, c = (points[triangles[:, i]] - points.mean(axis=0) for i in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def open_edges(points: Floats, triangles: NDArray[np.int64]) -> int:
    """How many directed edges have no counterpart, once points at one place are one."""
    _, weld = np.unique(points, axis=0, return_inverse=True)
    t = weld.ravel()[triangles]
    t = t[(t[:, 0] != t[:, 1]) & (t[:, 1] != t[:, 2]) & (t[:, 2] != t[:, 0])]
    start, stop = t.ravel(), np.roll(t, -1, axis=1).ravel()
    big = len(points)
    ahead, back = np.sort(start * big + stop), np.sort(stop * big + start)
    return int((ahead != back).sum())


def distance_to_mesh(points: Floats, corners: Floats) -> Floats:
    """The distance (n,) of each point (n, 3) to the nearest of triangles (t, 3, 3): plane, sides and corners."""
    found = np.full(len(points), np.inf)
    a, b, c = (corners[:, i] for i in range(3))
    normal = np.cross(b - a, c - a)
    area = np.linalg.norm(normal, axis=1)
    good = area > 1e-12
    a, b, c, normal = a[good], b[good], c[good], normal[good] / area[good, None]
    for i, point in enumerate(points):
        off = np.einsum("ij,ij->i", point - a, normal)
        foot = point - off[:, None] * normal
        inside = np.ones(len(a), dtype=bool)
        nearest = np.full(len(a), np.inf)
        for p, q in ((a, b), (b, c), (c, a)):
            side = q - p
            inside &= np.einsum("ij,ij->i", np.cross(side, foot - p), normal) >= 0
            share = np.einsum("ij,ij->i", point - p, side) / np.einsum("ij,ij->i", side, side)
            at = p + np.clip(share, 0, 1)[:, None] * side
            nearest = np.minimum(nearest, np.linalg.norm(point - at, axis=1))
        found[i] = np.where(inside, np.abs(off), nearest).min()
    return found


def crossings(start: Floats, end: Floats, corners: Floats) -> Floats:
    """Where a segment passes through triangles (t, 3, 3): shares of its way (Möller and Trumbore, 1997).

    Triangles seen edge-on do not count: one who looks square at a miter looks along its plane.
    """
    way = end - start
    a = corners[:, 0]
    one, other = corners[:, 1] - a, corners[:, 2] - a
    across = np.cross(way, other)
    slant = np.einsum("ij,ij->i", one, across)
    ok = np.abs(slant) > 2e-3 * np.linalg.norm(way) * np.linalg.norm(np.cross(one, other), axis=1)
    slant = np.where(ok, slant, 1.0)
    away = start - a
    u = np.einsum("ij,ij->i", away, across) / slant
    turned = np.cross(away, one)
    v = np.einsum("j,ij->i", way, turned) / slant
    t = np.einsum("ij,ij->i", other, turned) / slant
    return np.asarray(t[ok & (u >= 0) & (v >= 0) & (u + v <= 1)])
