"""Built scenes that the tests of OBJ, PLY and 3MF write out, and what they compare."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from preview.build import Built, build
from preview.models.mesh import PieceMesh
from preview.scene import Finish, load_scene, parse_scene

SCENES = ("window-seat", "stair-hall", "door-casing")
"""Straights and curves between surroundings; a rake in two finishes; molding on the face of a wall."""
BOARD = """
title = "A board along a wall"
units = "mm"
[profile.board]
foot = 20
face = [{ fillet = 90 }]
[finish.oak]
color = "#804020"
roughness = 0.25
metallic = 0.5
[member.base]
profile = "board"
finish = "oak"
[[run]]
name = "north"
room = "left"
start = START
heading = 0
level = 100
steps = [{ straight = 1000 }, { left = 90 }, { straight = 500 }]
"""


@cache
def scene_build(name: str) -> Built:
    return build(load_scene(Path(__file__).parents[2] / "scenes" / f"{name}.toml"))


@cache
def board(start: str = "[0, 0]") -> Built:
    """A board 20 mm thick from 100 to 190 mm up: a meter along plan x, a corner, half a meter along plan y.

    The room is on the left, so the corner is an inside one and each piece is mitered back by its thickness.
    """
    return build(parse_scene(BOARD.replace("START", start), Path("board.toml")))


HOSTILE = [
    'say "it\'s" / base / 1 straight',
    "two\nlines\r\tand a tab \x00\x1b\x7f / base / 1 straight",
    "<&> ]]> &amp; --> <!-- / base / 1 straight",
    "Βάση 木線 חלון \U0001f6aa e\u0301 / base / 1 straight",
    "x" * 200 + " / base / 1 straight",
    "end_header TextureFile grain.png mtllib other.mtl / base / 1 straight",
    "\u2028 \u0085 \u202e \ud800 \ufffe / base / 1 straight",
    "# ../../etc \\ % {} $x / base / 1 straight\\",
    "a/b / base / 1 straight",
    "a b / base / 1 straight",
]


@cache
def hostile() -> Built:
    """Straight pieces, all alike, whose names, title and finishes are made to break a text format."""
    built = board()
    pieces = tuple(replace(built.pieces[0], name=name) for name in HOSTILE)
    looks = [Finish(name, (0.5, i / 10, 1.0)) for i, name in enumerate(HOSTILE)]
    return replace(
        built,
        scene=replace(built.scene, title="".join(HOSTILE)),
        lines=(replace(built.lines[0], pieces=pieces),),
        members=tuple(replace(built.members[0], finish=look) for look in looks),
        pieces=pieces,
        meshes=tuple(replace(built.meshes[0], piece=piece) for piece in pieces),
    )


def nothing() -> Built:
    built = board()
    return replace(built, lines=(), members=(), pieces=(), meshes=(), joints=(), volumes=())


def volume(points: np.ndarray, triangles: np.ndarray) -> float:
    """What triangles enclose, by tetrahedra from the middle of their points."""
    a, b, c = ((points - points.mean(axis=0))[triangles[:, i]] for i in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def is_closed(triangles: np.ndarray) -> bool:
    """Whether each directed edge stands there once, and its reverse once."""
    edges = np.concatenate([triangles[:, [i, (i + 1) % 3]] for i in range(3)]).tolist()
    forth = {(a, b) for a, b in edges}
    return len(forth) == len(edges) and all((b, a) in forth for a, b in forth)


def welded(points: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """Triangles by the numbers of their distinct positions."""
    _, place = np.unique(points, axis=0, return_inverse=True)
    return place.ravel()[triangles]


def box(mesh: PieceMesh) -> np.ndarray:
    """The lowest and the highest corner, mm, z up."""
    return np.array([mesh.points.min(axis=0), mesh.points.max(axis=0)])
