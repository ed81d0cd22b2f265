"""Textures: how wood, stone and brushed metal look close by. All of it is made up here, by plain rules.

Wood is a tree with its years, and a board is cut out of it: whatever surface a piece has cuts the years where it lies
in the board. So a flat face shows the long arches of a plain-sawn board, a cove or a bead shows narrower lines, and
the cut ends show arcs. Years are 2 to 4 mm wide, and the tree leans and bends a little, which makes the arches.
Figures in this file are common practice or judged by eye.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from preview.profiles import Outline

Floats = NDArray[np.float64]
Small = NDArray[np.float32]
Vec3 = tuple[float, float, float]

BOARDS = 3
"""So many boards of a profile are in its texture."""
GOLDEN = (math.sqrt(5) - 1) / 2
LENGTH = 2400.0
"""After so many mm a board begins again."""
ALONG, ACROSS = 1.0, 0.35
"""The mm that a texel of wood reaches along the grain and across it."""
MOST = 700
"""A board has at most so many texels across."""
EDGE = 2
"""A part of a texture is surrounded by so many texels of its own, so that no other shows at its edge."""
EARLY_TO_LATE = (0.56, 0.50, 0.44)
"""The share of light wood's color (red, green, blue) that the dark wood of a late year has."""
END_GRAIN = 0.28
"""How much of the way from light to dark the cut ends are darker: they drink more of the finish."""
PLANK, PLANKS, PLANK_GAP = 110.0, 10, 1.0
"""Boards of a clear-finished floor: how wide, mm, how many there are before they repeat, and the joint between them."""
TILE = 1200.0
"""After so many mm stone begins again."""
STONE = 0.80
"""The share of its light parts' color that the dark parts of stone have."""
BRUSHED = 0.88
"""Likewise of brushed metal."""


@dataclass(frozen=True, eq=False)
class Texture:
    """How light a surface is from place to place, and the colors (linear RGB) at 0 and at 255.

    tones (h, w): v goes down the rows, u across. size (mm): what the whole reaches along u and v.
    """

    tones: NDArray[np.uint8]
    dark: Vec3
    light: Vec3
    size: tuple[float, float]


@dataclass(frozen=True)
class Timber:
    """The boards that pieces of one profile are cut from, and where on them each piece lies.

    strip: rows for each board's face, the margins with them. across: mm for each row. end (d, h, mm): the least d and h
    of the section, and what a texel reaches there. end_size: columns and rows for each board's end.
    """

    texture: Texture
    strip: int
    across: float
    end: tuple[float, float, float]
    end_size: tuple[int, int]

    def sides(self, uvs: NDArray[np.floating], index: int) -> Floats:
        """Where points (n, 2: mm along the grain, mm round the profile) of the index-th piece are in the texture."""
        row = board_of(index) * self.strip + EDGE + uvs[:, 1] / self.across
        along = uvs[:, 0] + LENGTH * (index * GOLDEN % 1)
        return np.column_stack([along / LENGTH, row / len(self.texture.tones)])

    def ends(self, points: NDArray[np.floating], index: int) -> Floats:
        """Likewise for points (n, 2) of its cut ends, as (d, h)."""
        d, h, texel = self.end
        column = board_of(index) * self.end_size[0] + EDGE + (points[:, 0] - d) / texel
        row = BOARDS * self.strip + EDGE + (points[:, 1] - h) / texel
        high, wide = self.texture.tones.shape
        return np.column_stack([column / wide, row / high])


def board_of(index: int) -> int:
    """The board a piece is cut from; its neighbor is from another, so that their joint can be seen."""
    return index % BOARDS


def timber(outline: Outline, color: Vec3) -> Timber:
    """Boards for pieces with this outline (mm), of wood that is `color` (linear RGB) on the whole."""
    around = float(outline.along[-1])
    across = max(ACROSS, around / MOST)
    strip = math.ceil(around / across) + 1 + 2 * EDGE
    columns = round(LENGTH / ALONG)
    low, high = outline.points.min(axis=0), outline.points.max(axis=0)
    middle = (low + high) / 2
    texel = max(across, float(high[0] - low[0]) / (columns / BOARDS - 1 - 2 * EDGE))
    wide, tall = (math.ceil(float(side) / texel) + 1 + 2 * EDGE for side in high - low)

    at = (np.arange(strip) - EDGE + 0.5) * across
    loop = np.vstack([outline.points, outline.points[:1]])
    d, h = (np.interp(at, outline.along, loop[:, i] - middle[i])[:, None].astype(np.float32) for i in (0, 1))
    along = ((np.arange(columns) + 0.5) * ALONG).astype(np.float32)
    end_d = ((np.arange(wide) - EDGE + 0.5) * texel + low[0] - middle[0]).astype(np.float32)
    end_h = ((np.arange(tall) - EDGE + 0.5) * texel + low[1] - middle[1]).astype(np.float32)

    tones = np.zeros((BOARDS * strip + tall, columns), np.float32)
    for board in range(BOARDS):
        tree = _Tree.grown(board)
        tones[board * strip : (board + 1) * strip] = tree.face(along, d, h, across)
        end = tree.years(np.zeros(1, np.float32), end_d, end_h[:, None], np.float32(0))
        tones[BOARDS * strip :, board * wide : (board + 1) * wide] = tree.tone + END_GRAIN + 0.75 * end
    faces = tones[: BOARDS * strip]
    texture = _colored(tones, float(faces.mean()), color, EARLY_TO_LATE, (LENGTH, len(tones) * across))
    return Timber(texture, strip, across, (float(low[0]), float(low[1]), texel), (wide, tall))


def planks(color: Vec3, *, gaps: bool) -> Texture:
    """Boards side by side, along u: a floor's with a fine dark joint between them, or glued up to a panel."""
    columns, rows = 1600, 128
    along = ((np.arange(columns) + 0.5) * (LENGTH / columns)).astype(np.float32)
    across = PLANK / rows
    at = ((np.arange(rows) + 0.5) * across - PLANK / 2).astype(np.float32)[:, None]
    tones = []
    for board in range(PLANKS):
        tree = _Tree.grown(100 + board)
        tone = np.roll(tree.face(along, np.zeros_like(at), at, across), round(columns * (board * GOLDEN % 1)), axis=1)
        if gaps:
            joint = np.maximum(np.abs(at) - (PLANK / 2 - PLANK_GAP), 0) > 0
            butt = np.abs((along - LENGTH * (board * 2 * GOLDEN % 1) + LENGTH / 2) % LENGTH - LENGTH / 2) < PLANK_GAP
            tone = np.where(joint | butt, np.float32(1), tone)
        tones.append(tone)
    whole = np.concatenate(tones)
    return _colored(whole, float(whole.mean()), color, EARLY_TO_LATE, (LENGTH, PLANK * PLANKS))


def stone(color: Vec3) -> Texture:
    """Fine mottling, the same every way."""
    side = 1024
    chance = np.random.default_rng(7)
    tone = np.full((side, side), 0.5, np.float32)
    for grain, weight in ((300, 0.18), (90, 0.22), (25, 0.28), (8, 0.28), (2.4, 0.26)):
        cells = round(TILE / grain)
        tone += weight * _noise(chance, (side, side), (cells, cells))
    tone += 0.25 * (_noise(chance, (side, side), (side // 3, side // 3)) > 0.42)  # grains of something darker
    return _colored(tone, float(tone.mean()), color, (STONE,) * 3, (TILE, TILE))


def brushed(color: Vec3) -> Texture:
    """Fine strokes along u."""
    rows, columns = 1024, 512
    chance = np.random.default_rng(8)
    tone = (
        0.5 + 0.5 * _noise(chance, (rows, columns), (rows, 6)) + 0.3 * _noise(chance, (rows, columns), (rows // 5, 3))
    )
    return _colored(tone, float(tone.mean()), color, (BRUSHED,) * 3, (600.0, 300.0))


@dataclass(frozen=True)
class _Tree:
    """A tree, and the board's place in it. All mm, in the board's own d and h, from the middle of its section.

    heart: where the tree's axis lies. lean (2, 3), turn (2, 3): how far that strays with the length (d and h), in
    waves of which 1, 2 and 3 go on a board, and where these begin. year: how wide one is. tone: how much darker this
    board is than others.
    """

    seed: int
    heart: tuple[float, float]
    lean: Floats
    turn: Floats
    year: float
    tone: float

    @staticmethod
    def grown(seed: int) -> _Tree:
        """The tree of that number, always the same."""
        chance = np.random.default_rng([11, seed])
        # The heart lies behind the face or before it, so that the broad face is plain-sawn.
        side = 1 if seed % 2 else -1
        heart = (side * chance.uniform(45, 85), chance.uniform(-18, 18))
        lean = np.array([5.0, 2.2, 1.0]) * chance.uniform(0.6, 1.3, (2, 3)) * np.array([[1.0], [1.6]])
        tone = 0.10 * (seed * GOLDEN * 2 % 1 - 0.5)
        return _Tree(seed, heart, lean, chance.uniform(0, 2 * math.pi, (2, 3)), chance.uniform(2.2, 3.6), tone)

    def years(self, along: Small, d: Small, h: Small, warp: Small | np.float32) -> Small:
        """How dark the wood is for its place in the year, 0 to 1, at along, d, h (mm), moved out by warp (mm)."""
        waves = np.arange(1, 4)[:, None] * (2 * math.pi / LENGTH) * along
        axis_d, axis_h = (
            (self.heart[i] + (self.lean[i][:, None] * np.sin(waves + self.turn[i][:, None])).sum(axis=0)).astype(
                np.float32
            )
            for i in (0, 1)
        )
        out = (np.hypot(d - axis_d, h - axis_h) + warp) * np.float32(1 / self.year)
        out += 0.45 * np.sin(out * 0.41 + self.seed) + 0.25 * np.sin(out * 1.13 + 2 * self.seed)  # good years and bad
        count = np.floor(out)
        share = out - count
        strength = 0.55 + 0.45 * np.modf(np.abs(np.sin(count * 12.9898 + self.seed) * 437.585))[0]
        # Wood darkens through the year, and the next year begins at once.
        return cast(Small, strength * _ramp(share, 0.25, 0.9) * (1 - _ramp(share, 0.93, 1.0)))

    def face(self, along: Small, d: Small, h: Small, across: float) -> Small:
        """How dark a face is, (rows, columns), cut along lines at d, h (rows, 1), a row `across` mm from the next."""
        chance = np.random.default_rng([12, self.seed])
        shape = (len(h), len(along))
        wide = shape[0] * across

        def noise(length: float, width: float) -> Small:
            return _noise(chance, shape, (max(2, round(wide / width)), max(2, round(LENGTH / length))))

        dark = self.years(along, d, h, 0.55 * noise(160, 22) + 0.16 * noise(45, 6))
        pores = np.maximum(0, noise(7, across) - 0.22) * (1.15 - dark)
        shade = np.float32(self.tone + 0.1)
        return cast(Small, shade + 0.6 * dark + 0.85 * pores + 0.13 * noise(90, 1.2) + 0.12 * noise(500, 45))


def _ramp(share: Small, start: float, stop: float) -> Small:
    """From 0 at `start` to 1 at `stop`, smoothly."""
    t = np.clip((share - np.float32(start)) * np.float32(1 / (stop - start)), 0, 1)
    return cast(Small, t * t * (3 - 2 * t))


def _noise(chance: np.random.Generator, shape: tuple[int, int], cells: tuple[int, int]) -> Small:
    """Noise (h, w) from -0.5 to 0.5 that changes over so many cells each way, and goes on at the far edges."""
    found = chance.random(cells, dtype=np.float32) - np.float32(0.5)
    for axis in (0, 1):
        at = np.arange(shape[axis], dtype=np.float32) * np.float32(cells[axis] / shape[axis])
        cell = at.astype(np.int64) % cells[axis]
        part = at - np.floor(at)
        part = (part * part * (3 - 2 * part)).reshape((-1, 1) if axis == 0 else (1, -1))
        here, there = np.take(found, cell, axis), np.take(found, (cell + 1) % cells[axis], axis)
        found = here + part * (there - here)
    return found


def _colored(
    dark: Small, mean: float, color: Vec3, ratio: Vec3 | tuple[float, ...], size: tuple[float, float]
) -> Texture:
    """The texture of surfaces so dark (0 to 1), whose color is `color` where they are as dark as the mean."""
    share = np.clip(dark, 0, 1)
    mean = min(1.0, max(0.0, mean))
    light = [min(1.0, part / (1 - mean + mean * k)) for part, k in zip(color, ratio, strict=True)]
    tones = np.rint((1 - share) * 255).astype(np.uint8)
    return Texture(tones, _vec3([part * k for part, k in zip(light, ratio, strict=True)]), _vec3(light), size)


def _vec3(parts: list[float]) -> Vec3:
    red, green, blue = parts
    return red, green, blue
