"""A job for the renderer's process: one file of plain arrays, and what they are in JSON."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np

from preview.client.stills.grain import Texture
from preview.client.stills.studio import EVERYWHERE, Body, Floats, Shot

Quality = Literal["final", "quick"]


@dataclass(frozen=True)
class Effort:
    """How much work goes into a picture.

    paths: of light, for each pixel of `scale` times the picture's width and height. legs: each may have at most so
    many; fewer leave corners dark. filter: how thoroughly noise is cleared.
    """

    scale: float
    paths: int
    legs: int
    filter: Literal["High", "Balanced", "Fast"]


EFFORTS: dict[Quality, Effort] = {
    "final": Effort(scale=1.0, paths=3, legs=5, filter="High"),
    "quick": Effort(scale=0.36, paths=3, legs=3, filter="Balanced"),
}


def write_job(path: Path, shots: Sequence[Shot], quality: Quality) -> None:
    """Write the job down, each stage measured from its molding's middle so that 32-bit numbers serve.

    Views from one camera belong together: they share an exposure.
    """
    written = _Written({}, {}, [], [])
    cameras = [shot.camera for shot in shots]
    job = {
        "effort": asdict(EFFORTS[quality]),
        "everywhere": EVERYWHERE,
        "views": [_view(shot, written) | {"together": cameras.index(shot.camera)} for shot in shots],
        "bodies": written.bodies,
        "textures": [{"dark": texture.dark, "light": texture.light} for texture in written.textures],
    }
    for i, texture in enumerate(written.textures):
        written.arrays[f"tones{i}"] = texture.tones
    np.savez(path, job=np.array(json.dumps(job)), **written.arrays)


@dataclass(frozen=True)
class _Written:
    """What is in the file so far: its arrays, the number of each body by what makes it up, the bodies and textures."""

    arrays: dict[str, Any]
    numbers: dict[tuple[int, bytes], int]
    bodies: list[dict[str, Any]]
    textures: list[Texture]

    def number(self, body: Body, middle: Floats) -> int:
        """The number of a body, which is written if it is not there yet."""
        key = (id(body.points), body.triangles.tobytes())  # the stage keeps its arrays, so their ids stay
        if key in self.numbers:
            return self.numbers[key]
        number = self.numbers[key] = len(self.bodies)
        self.arrays[f"points{number}"] = (body.points - middle).astype(np.float32)
        self.arrays[f"normals{number}"] = body.normals.astype(np.float32)
        self.arrays[f"triangles{number}"] = body.triangles.astype(np.uint32)
        texture = None
        if body.texture is not None and body.places is not None:
            self.arrays[f"places{number}"] = body.places.astype(np.float32)
            if body.texture not in self.textures:
                self.textures.append(body.texture)
            texture = self.textures.index(body.texture)
        look = {"color": body.color, "roughness": body.roughness, "metallic": body.metallic}
        self.bodies.append({**look, "texture": texture, "layer": body.layer})
        return number


def _view(shot: Shot, written: _Written) -> dict[str, Any]:
    """A picture's camera, lamps, size, and the numbers of the bodies it shows."""
    middle = np.concatenate([body.points for body in shot.stage.molding]).mean(axis=0)
    lamps = [
        {
            "at": np.subtract(lamp.at, middle).tolist(),
            "toward": np.subtract(lamp.toward, middle).tolist(),
            "half_width": lamp.half_width,
            "radiance": lamp.radiance,
            "asked": lamp.asked,
        }
        for lamp in shot.lamps
    ]
    camera = {
        "eye": np.subtract(shot.camera.eye, middle).tolist(),
        "target": np.subtract(shot.camera.target, middle).tolist(),
        "across": float(np.degrees(shot.camera.across)),
    }
    seen = [written.number(body, middle) for body in shot.seen]
    return {"camera": camera, "lamps": lamps, "size": shot.size, "bodies": seen}
