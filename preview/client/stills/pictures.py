"""Stills: what the molding will look like, path-traced without a window or a graphics card."""

from __future__ import annotations

import importlib.util
import io
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import IO

from preview.build import Built
from preview.client.stills.job import Quality, write_job
from preview.client.stills.studio import Shot, Stage, Textures, set_up, stage
from preview.errors import PreviewError
from preview.vantage import Camera

Progress = Callable[[str, int, int], None]
"""Told what is being done, how far it is, and how far it will go."""

MAKING = "pictures"
"""What the renderer's work is called while it goes on."""
SIZE = (1600, 1000)
SMALLEST, LARGEST = 16, 8000
"""The least and the largest width and height, pixels."""
POSTER, POSTER_QUALITY = (1200, 750), 82
"""The still that a page carries: pixels, and JPEG quality of a hundred."""
PHOTO_QUALITY = 92
"""The JPEG quality of a still that is to be printed."""
RENDERER = Path(__file__).with_name("renderer.py")
NEEDED = ("mitsuba", "mitsuba_oidn")
INSTALL = 'pip install "molding-preview[pictures]"'


@dataclass(frozen=True)
class StillView:
    """What one picture shows: something built, from a camera (None: one that shows the whole), `size` pixels."""

    built: Built
    camera: Camera | None = None
    size: tuple[int, int] = SIZE


class Rendering:
    """A renderer's process at work. It ends when the block does that this is the context of, done or not."""

    def __init__(self, views: Sequence[StillView], quality: Quality) -> None:
        self._count = len(views)
        self._folder = tempfile.TemporaryDirectory(prefix="molding-picture-")
        try:
            folder = Path(self._folder.name)
            _write(folder / "job.npz", views, quality)
            with (folder / "said.txt").open("wb") as said:
                self._process = subprocess.Popen(
                    [sys.executable, "-P", str(RENDERER), str(folder / "job.npz"), str(folder)],
                    stdin=subprocess.PIPE,
                    stdout=subprocess.PIPE,
                    stderr=said,
                )
        except BaseException:
            self._folder.cleanup()
            raise

    def results(self, progress: Progress | None = None) -> list[bytes]:
        """Wait for the pictures: the bytes of a PNG for each view, in their order.

        progress is told percents of the whole job. Raises PreviewError when the renderer fails.
        """
        assert self._process.stdout is not None
        for line in self._process.stdout:
            if progress and line.strip().isdigit():
                progress(MAKING, int(line), 100)
        folder = Path(self._folder.name)
        if code := self._process.wait():
            with (folder / "said.txt").open(encoding="utf-8", errors="replace") as said:
                raise _failure(code, said)
        return [(folder / f"picture{i}.png").read_bytes() for i in range(self._count)]

    def close(self) -> None:
        """End the process, wherever it is, and leave nothing behind."""
        self._process.kill()
        with self._process:  # waits, and closes the pipes
            pass
        self._folder.cleanup()

    def __enter__(self) -> Rendering:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def begin(views: Sequence[StillView], quality: Quality = "final") -> Rendering:
    """Start to make pictures in one process of their own, which goes on while the caller does something else.

    Each has the exposure that suits it, near that of all; views from one camera share their light and exposure. On one
    machine the same views give the same bytes. Raises PreviewError when the packages that render are not installed, and
    for a size that no picture has.
    """
    for view in views:
        if not all(SMALLEST <= side <= LARGEST for side in view.size):
            problem = f"a picture is {SMALLEST} to {LARGEST} pixels wide and high"
            raise PreviewError("size", f"{view.size[0]}x{view.size[1]}", problem, "1600x1000 serves most uses")
    refuse_missing()
    return Rendering(views, quality)


def as_poster(png: bytes) -> bytes:
    """A still that is made already, as small a JPEG as a page carries."""
    return _jpeg(png, POSTER, POSTER_QUALITY)


def as_photo(png: bytes) -> bytes:
    """A still as a JPEG of the same size, fine enough to be printed."""
    return _jpeg(png, (LARGEST, LARGEST), PHOTO_QUALITY)


def refuse_missing() -> None:
    """Raise PreviewError when a package that renders is not installed."""
    missing = [name.replace("_", "-") for name in NEEDED if importlib.util.find_spec(name) is None]
    if missing:
        raise PreviewError("", None, f"pictures need {' and '.join(missing)}, not installed here", INSTALL)


def _jpeg(png: bytes, most: tuple[int, int], quality: int) -> bytes:
    from PIL import Image

    shown = Image.open(io.BytesIO(png)).convert("RGB")
    shown.thumbnail(most, Image.Resampling.LANCZOS)
    out = io.BytesIO()
    shown.save(out, "JPEG", quality=quality, optimize=True, progressive=True)
    return out.getvalue()


def _write(path: Path, views: Sequence[StillView], quality: Quality) -> None:
    """Write down the job. What is seen from several cameras is meshed once, and one camera has one light."""
    stages: list[tuple[Built, Stage]] = []
    shots: list[Shot] = []
    textures = Textures()
    for view in views:
        ready = next((found for built, found in stages if built is view.built), None)
        if ready is None:
            ready = stage(view.built, textures)
            stages.append((view.built, ready))
        lamps = next((shot.lamps for shot in shots if shot.camera == view.camera), None)
        shots.append(set_up(ready, view.size, view.camera, lamps))
    write_job(path, shots, quality)


def _failure(code: int, said: IO[str]) -> PreviewError:
    """What to say of a renderer that ended early."""
    last = next((line.strip() for line in reversed(said.readlines()) if line.strip()), "")
    if code < 0 and not last:
        last = f"the system ended it (signal {-code}), as it does when memory runs out"
    fix = f"try a smaller picture or the quick quality; if that fails as well, install it anew: {INSTALL}"
    return PreviewError("", None, f"the renderer failed: {last or f'it ended with code {code}'}", fix)
