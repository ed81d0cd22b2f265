"""Stills: which are wanted, and made by the renderer while other work goes on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from preview.build import Built
from preview.client import (
    Quality,
    Rendering,
    Still,
    StillView,
    begin,
    grid_of,
    tiled,
)
from preview.errors import PreviewError, nearest

SIZE = (1600, 1000)
PACKAGE = 4
"""How many stills a build makes, and a sheet shows."""
FOLDER = "pictures"

Size = tuple[int, int]
Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class MadeStill:
    """A still and its picture, the bytes of a PNG of that size."""

    still: Still
    image: bytes
    size: Size


class StillsInTheMaking:
    """Stills that a renderer's process is at work on."""

    def __init__(self, rendering: Rendering, stills: Sequence[Still], size: Size) -> None:
        self._rendering = rendering
        self._stills = stills
        self._size = size

    def made(self, progress: Progress) -> list[MadeStill]:
        """Wait for them. Raises PreviewError when the renderer fails."""
        images = iter(self._rendering.results(progress))
        found = []
        for still in self._stills:
            mine = [next(images) for _ in still.frames]
            image = mine[0] if len(mine) == 1 else tiled(mine, [frame.caption for frame in still.frames], self._size)
            found.append(MadeStill(still, image, self._size))
        return found


@contextmanager
def making(
    every: Sequence[Built], stills: Sequence[Still], size: Size, quality: Quality
) -> Iterator[StillsInTheMaking]:
    """Have stills made while the caller goes on; when the block ends, so does the renderer.

    Raises PreviewError where no renderer is installed.
    """
    views = []
    for still in stills:
        tiles = [size] if len(still.frames) == 1 else grid_of(len(still.frames), size)
        views += [
            StillView(every[frame.variant], frame.camera, tile) for frame, tile in zip(still.frames, tiles, strict=True)
        ]
    with begin(views, quality) as rendering:
        yield StillsInTheMaking(rendering, stills, size)


def wanted_stills(stills: Sequence[Still], views: Sequence[str]) -> list[Still]:
    """The stills asked for by name; a name may be as in the list of them, or as in the file's name."""
    found: list[Still] = []
    by_name = {name.casefold(): still for still in stills for name in (still.key, still.name)}
    for asked in views:
        still = by_name.get(asked.strip().casefold())
        if still is None:
            keys = [each.key for each in stills]
            close = nearest(asked, [*keys, *(each.name for each in stills)])
            fix = f"did you mean {close}? " if close else ""
            raise PreviewError("--view", asked, "no view is called so", f"{fix}There are: {', '.join(keys)}")
        if still not in found:
            found.append(still)
    return found
