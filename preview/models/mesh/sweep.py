"""The mesh kernel: profile points times stations gives a grid of vertices; two caps close it.

Rings at joints are computed once per joint and handed to both pieces, so mating faces share their vertices bit for
bit. Nothing is sewn, nothing is cut.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from preview import limits
from preview.joinery import UPRIGHT, MemberRun, Piece, cut_directions, meet
from preview.models.mesh.climbing import climbing_mesh
from preview.models.mesh.face import Floats, Ints, make_face
from preview.models.mesh.faced import faced_section, mesh_faced
from preview.models.mesh.grid import Grid, one_station
from preview.models.mesh.shape import PieceMesh, Shape, pinched, stood
from preview.models.mesh.steps import SHARE_SECTION, Cuts, levels_needed, spans_needed
from preview.runs import IN_PLAN

DEFAULT_CHORD = 0.05
COARSER = "let the model stray further from its curves with chord, or split the scene"
BLOCK = 500_000
"""How many render vertices are worked out at a time, so that working memory does not grow with the job's length."""


def mesh_runs(lines: Sequence[MemberRun], chord: float = DEFAULT_CHORD) -> list[PieceMesh]:
    """The meshes of all pieces of many member runs, in their order.

    chord: no point of a mesh is further than this, mm, from the true surface; every vertex lies on it. Members of
    one run take the same stations, so that members stacked on one another touch without cutting in.
    Raises PreviewError where that takes more vertices than the limit.
    """
    cuts = [Cuts.of(line) for line in lines]
    spans: dict[tuple[str, int], Ints] = {}
    for line, cut in zip(lines, cuts, strict=True):
        needed = spans_needed(line, chord, cut)
        key = (line.run.name, len(needed))
        spans[key] = np.maximum(spans.get(key, needed), needed)
    found: list[PieceMesh] = []
    vertices = 0
    for line, cut in zip(lines, cuts, strict=True):
        made = mesh_member_run(line, chord, spans[line.run.name, len(line.pieces)], cut)
        vertices += sum(len(mesh.points) for mesh in made)
        limits.VERTICES.refuse(vertices, "the scene's mesh", COARSER)
        found += made
    return found


def mesh_member_run(
    line: MemberRun, chord: float = DEFAULT_CHORD, spans: Ints | None = None, cuts: Cuts | None = None
) -> list[PieceMesh]:
    """The meshes of one member run's pieces; `spans` (one per piece) may ask for more steps than the chord needs."""
    cuts = cuts or Cuts.of(line)
    hand = line.pieces[0].hand
    spans = spans_needed(line, chord, cuts) if spans is None else spans
    levels = levels_needed(line, chord, cuts.size)
    # A sheared section is flattened the finer, since its chords are sheared with it.
    fine = chord / max(_stretch(piece.shear) for piece in line.pieces)
    section = faced_section(line.profile, fine, levels) if any(piece.is_faced for piece in line.pieces) else None
    face = section.face if section else make_face(line.profile, SHARE_SECTION * fine, levels)
    limits.VERTICES.refuse(int((spans + 1).sum()) * len(face.column_point), f"the mesh of {line.name}", COARSER)
    rings = meet(cuts.before, cuts.after, face.d)  # (J, n, 2): each cut's vertices in plan, once
    travel = _travel(cut_directions(cuts.before, cuts.after, rings), hand)
    starts, stops = cuts.stations(rings)
    found: dict[int, PieceMesh] = {}
    special = np.array([piece.is_faced or not _is_flat(piece) for piece in line.pieces])
    for i in np.flatnonzero(special).tolist():
        piece = line.pieces[i]
        if section and piece.is_faced:
            cut = mesh_faced(section, piece.faced, int(spans[i]))
            found[i] = PieceMesh(piece, cut.shape, cut.points, cut.normals, cut.uvs)
        else:
            caps = (-travel[cuts.begins[i]], travel[cuts.ends[i]])
            found[i] = climbing_mesh(piece, Shape(face, int(spans[i]), hand < 0, pinched(piece, face)), caps)
    for number, wedge in {(int(n), p.role == "return") for n, p in zip(spans, line.pieces, strict=True)}:
        mine = np.array([(p.role == "return") == wedge for p in line.pieces])
        group = np.flatnonzero((spans == number) & mine & ~special)
        if not len(group):
            continue
        shape = Shape(face, number, hand < 0, pinched(line.pieces[group[0]], face))
        block = max(1, BLOCK // ((number + 1) * len(face.column_point)))
        for part in (group[i : i + block] for i in range(0, len(group), block)):
            begin, end = cuts.begins[part], cuts.ends[part]
            between = one_station(starts[part], stops[part])
            grid = Grid(face, number, cuts.frames[part], cuts.bends[part], *between)
            points, normals, uvs = grid.vertices(rings[begin], rings[end], (-travel[begin], travel[end]))
            for at, i in enumerate(part.tolist()):
                found[i] = PieceMesh(line.pieces[i], shape, points[at], normals[at], uvs[at])
    meshes = [found[i] for i in range(len(line.pieces))]
    return [mesh if mesh.piece.stand == IN_PLAN else stood(mesh) for mesh in meshes]


def _stretch(shear: float) -> float:
    """How much longer, at most, a length of the section becomes where it is sheared."""
    return (math.hypot(2.0, shear) + abs(shear)) / 2


def _is_flat(piece: Piece) -> bool:
    """Whether all of a piece's points stand at the heights that the profile says."""
    plain = all(not (cut.height or cut.lean) and cut.up == UPRIGHT for cut in (piece.begin, piece.end))
    return piece.is_level and plain


def _travel(outward: Floats, hand: int) -> Floats:
    """The plan directions (J, n, 2) square to the joints' surfaces, along the travel."""
    return hand * np.stack([outward[..., 1], -outward[..., 0]], axis=-1)
