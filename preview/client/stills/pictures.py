"""Stills: what the molding will look like, path-traced without a window or a graphics card."""

from __future__ import annotations

import importlib.util
import io
import json
import os
import secrets
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import IO, Literal

import numpy as np

from preview.build import Built
from preview.client.stills.studio import EVERYWHERE, Shot, set_up
from preview.errors import PreviewError

Quality = Literal["final", "quick"]
Progress = Callable[[str, int, int], None]
"""Told what is being done, how far it is, and how far it will go."""

SAMPLES: dict[Quality, tuple[int, int]] = {"final": (25, 9), "quick": (8, 4)}
"""Paths of light for each pixel, and for each pixel of the noise filter's guides."""
SMALLEST, LARGEST = 16, 8000
"""The least and the largest width and height, pixels."""
POSTER, POSTER_QUALITY = (1200, 750), 82
"""The still that a page carries: pixels, and JPEG quality of a hundred."""
RENDERER = Path(__file__).with_name("renderer.py")
NEEDED = ("mitsuba", "mitsuba_oidn")
INSTALL = 'pip install "molding-preview[pictures]"'


def render(
    built: Built,
    path: Path,
    size: tuple[int, int] = (1600, 1000),
    quality: Quality = "final",
    progress: Progress | None = None,
) -> None:
    """Make a still of the whole scene and write it to `path`, a PNG file, whole or not at all.

    Raises PreviewError as `picture` does, and where the file cannot be written: before the work, if that is known.
    """
    if path.suffix.lower() != ".png":
        raise PreviewError("", None, "a picture is written as PNG", "give a name that ends in .png", str(path))
    above = next(folder for folder in path.absolute().parents if folder.exists())
    if path.is_dir() or not above.is_dir() or not os.access(above, os.W_OK):
        raise _unwritable(path, "its folder is read-only, or the name is taken")
    content = picture(built, size, quality, progress)
    beside = path.with_name(f".molding-{secrets.token_hex(8)}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        beside.write_bytes(content)
        beside.replace(path)
    except OSError as error:
        raise _unwritable(path, error.strerror or str(error)) from error
    finally:
        beside.unlink(missing_ok=True)


def picture(
    built: Built,
    size: tuple[int, int] = (1600, 1000),
    quality: Quality = "final",
    progress: Progress | None = None,
) -> bytes:
    """A still of the whole scene as the bytes of a PNG, `size` pixels wide and high.

    The tool chooses the camera and sets the light. On one machine the same scene gives the same bytes. It runs in a
    process of its own, which ends with this call, however it ends. Raises PreviewError when the packages that
    render are not installed, for a size that no picture has, and when the renderer fails.
    """
    if not all(SMALLEST <= side <= LARGEST for side in size):
        problem = f"a picture is {SMALLEST} to {LARGEST} pixels wide and high"
        raise PreviewError("size", f"{size[0]}x{size[1]}", problem, "1600x1000 serves most uses")
    refuse_missing()
    with tempfile.TemporaryDirectory(prefix="molding-picture-") as folder:
        job, made = Path(folder) / "job.npz", Path(folder) / "picture.png"
        _write_job(job, set_up(built, size), size, quality)
        _run(job, made, progress or (lambda *_: None))
        return made.read_bytes()


def poster(built: Built, progress: Progress | None = None) -> bytes:
    """A quick still as the bytes of a JPEG, for the client's page to show where it cannot show the model itself.

    Raises as `picture` does.
    """
    from PIL import Image

    made = Image.open(io.BytesIO(picture(built, POSTER, "quick", progress)))
    out = io.BytesIO()
    made.convert("RGB").save(out, "JPEG", quality=POSTER_QUALITY, optimize=True, progressive=True)
    return out.getvalue()


def refuse_missing() -> None:
    """Raise PreviewError when a package that renders is not installed."""
    missing = [name.replace("_", "-") for name in NEEDED if importlib.util.find_spec(name) is None]
    if missing:
        raise PreviewError("", None, f"pictures need {' and '.join(missing)}, not installed here", INSTALL)


def _unwritable(path: Path, reason: str) -> PreviewError:
    return PreviewError("", None, f"the picture cannot be written: {reason}", "write it to another place", str(path))


def _write_job(path: Path, shot: Shot, size: tuple[int, int], quality: Quality) -> None:
    """Write down what the renderer needs, measured from the molding's middle so that 32-bit numbers serve."""
    bodies = shot.molding + shot.around
    middle = np.concatenate([body.points for body in shot.molding]).mean(axis=0)
    arrays = {}
    for i, body in enumerate(bodies):
        arrays[f"points{i}"] = (body.points - middle).astype(np.float32)
        arrays[f"normals{i}"] = body.normals.astype(np.float32)
        arrays[f"triangles{i}"] = body.triangles.astype(np.uint32)
    samples, guide_samples = SAMPLES[quality]
    job = {
        "size": size,
        "samples": samples,
        "guide_samples": guide_samples,
        "everywhere": EVERYWHERE,
        "camera": {
            "eye": np.subtract(shot.camera.eye, middle).tolist(),
            "target": np.subtract(shot.camera.target, middle).tolist(),
            "across": float(np.degrees(shot.camera.across)),
        },
        "lamps": [
            {
                "at": np.subtract(lamp.at, middle).tolist(),
                "toward": np.subtract(lamp.toward, middle).tolist(),
                "half_width": lamp.half_width,
                "radiance": lamp.radiance,
            }
            for lamp in shot.lamps
        ],
        "bodies": [
            {
                "color": body.color,
                "roughness": body.roughness,
                "metallic": body.metallic,
                "molding": i < len(shot.molding),
            }
            for i, body in enumerate(bodies)
        ],
    }
    np.savez(path, job=np.array(json.dumps(job)), **arrays)


def _run(job: Path, made: Path, progress: Progress) -> None:
    """Run the renderer to its end, and end it when we are interrupted."""
    command = [sys.executable, "-P", str(RENDERER), str(job), str(made)]
    with (job.with_name("said.txt")).open("w+", encoding="utf-8", errors="replace") as said:
        with subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=said, text=True, encoding="utf-8"
        ) as process:
            try:
                assert process.stdout is not None
                for line in process.stdout:
                    word, _, percent = line.rstrip().partition("\t")
                    if percent.isdigit():
                        progress(word, int(percent), 100)
                process.wait()
            finally:
                process.kill()
        if process.returncode:
            raise _failure(process.returncode, said)


def _failure(code: int, said: IO[str]) -> PreviewError:
    """What to say of a renderer that ended early."""
    said.seek(0)
    last = next((line.strip() for line in reversed(said.readlines()) if line.strip()), "")
    if code < 0 and not last:
        last = f"the system ended it (signal {-code}), as it does when memory runs out"
    fix = f"try a smaller picture or the quick quality; if that fails as well, install it anew: {INSTALL}"
    return PreviewError("", None, f"the renderer failed: {last or f'it ended with code {code}'}", fix)
