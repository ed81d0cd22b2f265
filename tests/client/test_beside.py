"""Pictures side by side: exact sizes, each tile where it belongs, and captions that stay in their place."""

from __future__ import annotations

import io

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from preview.client.stills.beside import grid_of, tiled

SIZES = [(480, 300), (300, 450), (600, 200)]
COLORS = [(200, 30 * i, 255 - 30 * i) for i in range(8)]


def plain(size: tuple[int, int], color: tuple[int, int, int]) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, color).save(out, "PNG")
    return out.getvalue()


def pixels(png: bytes) -> NDArray[np.uint8]:
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGB"))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("count", range(1, 9))
def test_every_tile_is_there_whole_once_and_apart_from_the_others(count: int, size: tuple[int, int]) -> None:
    sizes = grid_of(count, size)
    assert len(sizes) == count
    assert len(set(sizes)) == 1
    wide, high = sizes[0]
    assert 1.2 < wide / high < 2.1
    long = "A caption that is far too long for the width of any tile, and goes on for as long as it can " * 4
    shown = pixels(tiled([plain(sizes[0], color) for color in COLORS[:count]], [long] * count, size))
    assert shown.shape == (size[1], size[0], 3)
    covered = np.zeros(shown.shape[:2], bool)
    boxes = []
    for color in COLORS[:count]:
        mine = (shown == color).all(axis=2)
        assert mine.sum() == wide * high
        rows, columns = np.flatnonzero(mine.any(axis=1)), np.flatnonzero(mine.any(axis=0))
        assert (len(rows), len(columns)) == (high, wide)
        boxes.append((rows[0], columns[0]))
        covered |= mine
    assert boxes == sorted(boxes)  # as one reads
    # The captions' ink is below the tiles and no wider, and the rest is white.
    ink = (shown < 200).any(axis=2) & ~covered
    assert ink.any()
    for column in np.flatnonzero(ink.any(axis=0)):
        assert any(left <= column < left + wide for _, left in boxes)
    assert not ink[[0, -1]].any()
    assert (shown[~covered & ~(shown < 255).any(axis=2)] == 255).all()


def test_a_short_caption_is_centered_below_its_tile() -> None:
    size = (1600, 1000)
    (wide, high), _ = grid_of(2, size)
    shown = pixels(tiled([plain((wide, high), color) for color in COLORS[:2]], ["ogee", "cove and bead"], size))
    ink = shown.astype(int).sum(axis=2) < 300
    left = np.flatnonzero((shown == COLORS[0]).all(axis=2).any(axis=0))
    columns = np.flatnonzero(ink[:, left].any(axis=0))
    assert abs(columns.mean() - wide / 2) < 6
    assert 15 < np.ptp(columns) < wide / 4
    rows = np.flatnonzero(ink[:, left].any(axis=1))
    bottom = np.flatnonzero((shown == COLORS[0]).all(axis=2).any(axis=1))[-1]
    assert bottom < rows[0] < rows[-1] < bottom + 60


def test_a_picture_of_another_size_is_brought_to_that_of_its_tile() -> None:
    sizes = grid_of(2, (800, 500))
    shown = pixels(tiled([plain((37, 91), COLORS[0]), plain(sizes[1], COLORS[1])], ["", "two"], (800, 500)))
    assert (shown == COLORS[0]).all(axis=2).sum() == sizes[0][0] * sizes[0][1]


def test_an_empty_caption_and_letters_that_the_type_lacks_do_no_harm() -> None:
    sizes = grid_of(1, (320, 200))
    assert tiled([plain(sizes[0], COLORS[0])], ["漆 \n\t finish"], (320, 200)) != tiled(
        [plain(sizes[0], COLORS[0])], [""], (320, 200)
    )
