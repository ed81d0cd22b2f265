"""The mesh kernel: profile points times stations gives a grid of vertices; two caps close it.

Rings at joints are computed once per joint and handed to both pieces, so mating faces share their vertices bit for
bit. Nothing is sewn, nothing is cut.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from preview.joinery import MemberRun, cut_directions, meet
from preview.models.mesh.face import Floats, Ints, make_face
from preview.models.mesh.grid import Grid, one_station
from preview.models.mesh.shape import PieceMesh, Shape
from preview.models.mesh.steps import SHARE_SECTION, Cuts, levels_needed, spans_needed

DEFAULT_CHORD = 0.05
BLOCK = 500_000
"""How many render vertices are worked out at a time, so that working memory does not grow with the job's length."""


def mesh_runs(lines: Sequence[MemberRun], chord: float = DEFAULT_CHORD) -> list[PieceMesh]:
    """The meshes of all pieces of many member runs, in their order.

    chord: no point of a mesh is further than this, mm, from the true surface; every vertex lies on it. Members of
    one run take the same stations, so that members stacked on one another touch without cutting in.
    """
    cuts = [Cuts.of(line) for line in lines]
    spans: dict[str, Ints] = {}
    for line, cut in zip(lines, cuts, strict=True):
        needed = spans_needed(line, chord, cut)
        spans[line.run.name] = np.maximum(spans.get(line.run.name, needed), needed)
    return [
        mesh
        for line, cut in zip(lines, cuts, strict=True)
        for mesh in mesh_member_run(line, chord, spans[line.run.name], cut)
    ]


def mesh_member_run(
    line: MemberRun, chord: float = DEFAULT_CHORD, spans: Ints | None = None, cuts: Cuts | None = None
) -> list[PieceMesh]:
    """The meshes of one member run's pieces; `spans` (one per piece) may ask for more steps than the chord needs."""
    cuts = cuts or Cuts.of(line)
    spans = spans_needed(line, chord, cuts) if spans is None else spans
    face = make_face(line.profile, SHARE_SECTION * chord, levels_needed(line, chord, cuts.size))
    rings = meet(cuts.before, cuts.after, face.d)  # (J, n, 2): each joint's vertices, once
    travel = _travel(cut_directions(cuts.before, cuts.after, rings), line.run.hand)
    starts, stops = cuts.stations(rings)
    found: list[PieceMesh | None] = [None] * len(line.pieces)
    for number in np.unique(spans).tolist():
        shape = Shape(face, number, mirrored=line.run.hand < 0)
        group = np.flatnonzero(spans == number)
        block = max(1, BLOCK // ((number + 1) * len(face.column_point)))
        for part in (group[i : i + block] for i in range(0, len(group), block)):
            begin, end = cuts.begins[part], cuts.ends[part]
            between = one_station(starts[part], stops[part])
            grid = Grid(face, number, cuts.frames[part], cuts.bends[part], *between)
            points, normals, uvs = grid.vertices(rings[begin], rings[end], (-travel[begin], travel[end]))
            for at, i in enumerate(part.tolist()):
                found[i] = PieceMesh(line.pieces[i], shape, points[at], normals[at], uvs[at])
    return [mesh for mesh in found if mesh is not None]


def _travel(outward: Floats, hand: int) -> Floats:
    """The plan directions (J, n, 2) square to the joints' surfaces, along the travel."""
    return hand * np.stack([outward[..., 1], -outward[..., 0]], axis=-1)
