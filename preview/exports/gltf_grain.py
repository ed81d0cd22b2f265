"""The grain of wood under a clear finish, as two small pictures of one tile that goes on at all its edges.

    u along the grain, TILE[0] mm      color: how much light each place gives back, against the lightest
    v across it, TILE[1] mm            normals: the pores, as grooves along the grain

Both are made up here by plain rules and are the same every time. The lines of the years are some 3 mm apart and
wander a little; pores are fine dark strokes. These figures are common practice or judged by eye.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import cache
from typing import cast

import numpy as np
from numpy.typing import NDArray

Small = NDArray[np.float32]

TILE = (768.0, 160.0)
"""What the tile reaches along the grain and across it, mm."""
TEXELS = (512, 256)
YEARS = 52
"""How many years lie side by side in the tile."""
EARLY_TO_LATE = (0.52, 0.44, 0.37)
"""The share of light wood's color (red, green, blue) that the dark wood of a late year has."""
PORE_DEPTH = 0.06
"""How deep a pore is, mm, where the finish has sunk into it."""


@dataclass(frozen=True)
class Detail:
    """How fine the pictures are. merged: how many of TEXELS, along and across, one texel stands for. shades: of the
    color; as many as the eye tells apart there, and few make a small file. relief: whether pores are grooves as well.
    """

    merged: tuple[int, int]
    shades: int
    relief: bool = True


FULL, COMPACT, FAR = Detail((1, 1), 48), Detail((2, 1), 16, relief=False), Detail((4, 4), 12, relief=False)
"""COMPACT keeps all texels across the grain, where lines are fine. It takes a quarter of FULL's bytes, and looks the
same from a quarter of a meter (judged by eye)."""


@dataclass(frozen=True)
class Grain:
    """color, normals: PNG files. mean: what the color comes to on the whole (linear red, green, blue)."""

    color: bytes
    normals: bytes
    mean: tuple[float, float, float]


@cache
def grain(detail: Detail = FULL) -> Grain:
    """The grain of all wood; each finish gives it its own color."""
    dark, pores = _tile()
    dark = _merged(dark, detail.merged)  # light grows evenly as dark falls, so its mean is kept
    shade = np.rint((1 - dark) * (detail.shades - 1)).astype(np.uint8)
    share = np.linspace(1.0, 0.0, detail.shades)[:, None]
    light = 1 - share * (1 - np.array(EARLY_TO_LATE))  # (shades, 3), linear
    palette = np.rint(255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055))
    count = np.bincount(shade.ravel(), minlength=detail.shades) / shade.size
    mean = (count @ light).tolist()
    normals = _bumps(pores, detail.merged) if detail.relief else b""
    return Grain(_shaded(shade, palette.astype(np.uint8)), normals, (mean[0], mean[1], mean[2]))


@cache
def _tile() -> tuple[Small, Small]:
    """How dark each place is (0 to 1), and how much of a pore is there."""
    rows = TEXELS[1]
    chance = np.random.default_rng(29)
    v = ((np.arange(rows) + 0.5) / rows).astype(np.float32)[:, None]
    wander = 2.2 * _noise(chance, (2, 3)) + 0.7 * _noise(chance, (5, 9)) + 0.12 * _noise(chance, (16, 40))
    phase = YEARS * v + 3.0 * _noise(chance, (1, 12)) + wander
    year = np.floor(phase)
    part = phase - year
    strength = 0.55 + 0.45 * np.abs(np.sin((year % YEARS) * 12.9898))
    # Wood darkens through the year, and the next year begins at once.
    late = strength * _ramp(part, 0.15, 0.85) * (1 - _ramp(part, 0.9, 1.0))
    strokes = _noise(chance, (48, rows)) + 0.5 * _noise(chance, (90, rows))
    pores = _ramp(strokes, 0.30, 0.60) * (1.1 - 0.6 * late)
    dark = 0.10 + 0.42 * late + 0.5 * pores + 0.16 * _noise(chance, (3, 8)) + 0.10 * _noise(chance, (6, 96))
    return cast(Small, np.clip(dark, 0, 1)), cast(Small, np.clip(pores, 0, 1))


def _noise(chance: np.random.Generator, cells: tuple[int, int]) -> Small:
    """Noise (rows, columns) from -0.5 to 0.5 that changes over so many cells along and across, and goes on beyond."""
    columns, rows = TEXELS
    found = chance.random((cells[1], cells[0]), dtype=np.float32) - np.float32(0.5)
    for axis, size in ((0, rows), (1, columns)):
        count = found.shape[axis]
        at = np.arange(size, dtype=np.float32) * np.float32(count / size)
        cell = at.astype(np.int64) % count
        part = at - np.floor(at)
        part = (part * part * (3 - 2 * part)).reshape((-1, 1) if axis == 0 else (1, -1))
        here, there = np.take(found, cell, axis), np.take(found, (cell + 1) % count, axis)
        found = here + part * (there - here)
    return found


def _ramp(share: Small, start: float, stop: float) -> Small:
    """From 0 at `start` to 1 at `stop`, smoothly."""
    t = np.clip((share - np.float32(start)) * np.float32(1 / (stop - start)), 0, 1)
    return cast(Small, t * t * (3 - 2 * t))


def _merged(values: Small, size: tuple[int, int]) -> Small:
    """The means of so many texels along and across."""
    columns, rows = size
    parted = values.reshape(TEXELS[1] // rows, rows, TEXELS[0] // columns, columns)
    return cast(Small, parted.mean(axis=(1, 3)))


def _shaded(shade: NDArray[np.uint8], palette: NDArray[np.uint8]) -> bytes:
    from PIL import Image

    picture = Image.fromarray(shade)
    picture.putpalette(palette.tobytes())
    return _png(picture)


def _bumps(pores: Small, merged: tuple[int, int]) -> bytes:
    """A tangent-space normal map: red along +u, green toward the picture's top, which is -v (glTF 2.0, 3.9.3)."""
    height = -PORE_DEPTH * pores
    slopes = []
    for axis in (1, 0):
        step = 2 * TILE[1 - axis] / TEXELS[1 - axis]
        rise = (np.roll(height, -1, axis) - np.roll(height, 1, axis)) / np.float32(step)
        slopes.append(_merged(cast(Small, rise), merged))
    normal = np.stack([-slopes[0], slopes[1], np.ones_like(slopes[0])], axis=-1)
    normal /= np.linalg.norm(normal, axis=-1, keepdims=True)
    stored = np.rint(127.5 + 127.5 * normal).astype(np.uint32)
    # Pores are so shallow that there are not a hundred of them: numbered, they take two thirds of the bytes.
    known, number = np.unique(stored @ np.array([1 << 16, 1 << 8, 1], np.uint32), return_inverse=True)
    palette = np.stack([known >> 16, known >> 8 & 255, known & 255], axis=-1).astype(np.uint8)
    return _shaded(number.reshape(stored.shape[:2]).astype(np.uint8), palette)


def _png(picture: object) -> bytes:
    from PIL import Image

    stream = io.BytesIO()
    cast(Image.Image, picture).save(stream, "PNG", optimize=True)
    return stream.getvalue()
