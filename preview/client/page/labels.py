"""Where a piece's label stands: on its face, at mid-length."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from preview.joinery import stations
from preview.vantage import Job, block_facing, on_face, on_piece

Floats = NDArray[np.float64]


def label_places(job: Job) -> list[Floats]:
    """A point (3,) of each piece's face, mm in the scene, half way between the ends of the wood there."""
    found: list[Floats] = []
    for line, look in zip(job.built.lines, job.looks, strict=True):
        if line.pieces[0].role == "block":
            mesh = job.built.meshes[len(found)]
            found.append(on_face(mesh.points, block_facing(job, line.pieces[0])))
            continue
        d, h = look.place
        starts, stops = stations(line.pieces, np.array([d]), np.array([h]))
        middles = ((starts + stops) / 2)[:, 0].tolist()
        found += [on_piece(piece, middle, d, h) for piece, middle in zip(line.pieces, middles, strict=True)]
    return found
