"""The ready views: the whole, the plan, each corner, a section; and from where each joint is best looked at."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.joinery import MemberRun
from preview.models.mesh import SurroundingMesh
from preview.profiles import flatten
from preview.runs import IN_PLAN, Stand
from preview.vantage import ACROSS, MARGIN, Corner, Job, Sight, choose_camera, corner_names, eyes_of, looks_down

Floats = NDArray[np.float64]

PICTURE = (1600, 1000)
"""The shape of the picture that a view's distance is meant for."""
OFF_PLUMB = 1e-4
"""How far from plumb a plan is looked at, so that an upright camera knows its top."""
SQUARE = 1.15
"""A plan whose sides differ by less than this factor has no longer one."""
CLEARANCE = 60.0
"""What is cut away before a flat view ends this far, mm, before the molding."""
MOST_SECTIONS = 8
SECTION_ROOM = 1.6
"""How much wider than the section the picture of one is."""


@dataclass(frozen=True)
class View:
    """A ready view, as the page's document says; eye and target in the scene, mm."""

    name: str
    kind: str
    eye: Floats
    target: Floats
    flat: bool = False
    near: float = 0.0
    cut: tuple[int, float] | None = None


def common_views(
    builts: Sequence[Built], around: Sequence[SurroundingMesh], rough: Sequence[SurroundingMesh]
) -> list[View]:
    """The whole and the plans: one for all variants, so that comparing them does not jump.

    around, rough: what stands round the first of them, as shown and cut as roughly as serves.
    """
    first = builts[0]
    ground = min((float(mesh.points[0, 2]) for mesh in around if mesh.kind == "floor"), default=-math.inf)
    points = np.concatenate([_corners_of_pieces(built) for built in builts])
    blocks = np.concatenate([np.zeros((0, 3, 3)), *(mesh.points[mesh.triangles] for mesh in rough)])
    camera = choose_camera(first.lines, points, blocks, PICTURE, ground)
    whole = View("Whole", "whole", np.array(camera.eye), np.array(camera.target))
    ahead = whole.target - whole.eye
    found = [whole]
    lines = [line for line in first.lines if line.run.stand == IN_PLAN]
    if lines:
        below = all(_looks_down(lines, name) for name in {line.run.name for line in lines})
        down = np.array([0.0, 0.0, 1.0 if below else -1.0])
        top = _plan_top(ahead, np.ptp(points, axis=0)) * (-1.0 if below else 1.0)
        found.append(_flat_view("Plan from below" if below else "Plan", points, down, top))
    stands: list[Stand] = []
    for placed in first.scene.runs:
        if placed.run.stand != IN_PLAN and placed.run.stand not in stands:
            stands.append(placed.run.stand)
    for number, stand in enumerate(stands, start=1):
        name = "Front" if len(stands) == 1 else f"Front {number}"
        found.append(_flat_view(name, points, -np.array(stand.z), np.array([0.0, 0.0, 1.0])))
    return found


def _looks_down(lines: Sequence[MemberRun], run: str) -> bool:
    """Whether the molding of a run is looked up at."""
    outlines = [flatten(line.profile, 1.0).points for line in lines if line.run.name == run]
    return looks_down([np.roll(outline, -1, axis=0) - outline for outline in outlines])


def _corners_of_pieces(built: Built) -> Floats:
    """The corners (8 n, 3) of every piece's box."""
    low = np.array([mesh.points.min(axis=0) for mesh in built.meshes])
    high = np.array([mesh.points.max(axis=0) for mesh in built.meshes])
    ends = np.stack([low, high])
    pick = np.array([[(i >> axis) & 1 for axis in range(3)] for i in range(8)])
    corners: Floats = np.concatenate([np.stack([ends[each[a], :, a] for a in range(3)], axis=1) for each in pick])
    return corners


def _plan_top(ahead: Floats, size: Floats) -> Floats:
    """The axis that points to a plan's top: the longer side lies across, and it looks the way the whole is seen."""
    square = max(size[0], size[1]) < SQUARE * min(size[0], size[1])
    nearest = abs(ahead[0]) > abs(ahead[1]) * (1 + 1e-6)
    axis = 0 if (nearest if square else size[1] > size[0]) else 1
    found = np.zeros(3)
    found[axis] = 1.0 if ahead[axis] >= 0 else -1.0
    return found


def _flat_view(name: str, points: Floats, ahead: Floats, top: Floats) -> View:
    """All points in a picture without perspective, seen along `ahead` with `top` up."""
    right = np.cross(ahead, top)
    axes = np.array([right, top, ahead])
    low, high = (points @ axes.T).min(axis=0), (points @ axes.T).max(axis=0)
    target = ((low + high) / 2) @ axes
    half = (high - low) / 2
    shape = PICTURE[0] / PICTURE[1]
    distance = max(half[0], half[1] * shape) / ((1 - MARGIN) * math.tan(ACROSS / 2))
    distance = max(distance, half[2] + 2 * CLEARANCE)
    eye = target - distance * ahead
    if abs(ahead[2]) > 0.5:
        # On the side of the picture's foot when looking down, and of its top when looking up.
        eye = eye + top * distance * OFF_PLUMB * math.copysign(1.0, ahead[2])
    return View(name, "plan", eye, target, True, distance - half[2] - CLEARANCE)


def corner_views(job: Job, corners: Sequence[Corner], sight: Sight) -> list[View]:
    """One view for each corner, numbered along the runs and called after what is there."""
    found: list[View] = []
    spots = [corner.spot for corner in corners]
    for name, spot, eye in zip(corner_names(job, corners), spots, eyes_of(spots, sight), strict=True):
        found.append(View(name, "corner", eye, spot.target))
    return found


def section_views(job: Job) -> list[View]:
    """Each run cut open in the middle of its longest straight, a level one if it has one, seen along the travel."""
    found = []
    for number, (name, path) in enumerate(list(job.paths.items())[:MOST_SECTIONS]):
        run = path.run
        blocks = run.blocks or ("",) * len(run.elements)
        lengths = [
            element.length * (0.01 if element.sweep or element.bend or block else 0.3 if element.slope else 1.0)
            for element, block in zip(run.elements, blocks, strict=True)
        ]
        longest = int(np.argmax(lengths))
        element = run.elements[longest]
        station = path.starts[longest] + element.walked(element.length / 2)
        at, travel = path.at(station)
        pieces = [
            mesh.points
            for mesh, piece in zip(job.built.meshes, job.built.pieces, strict=True)
            if piece.run == name and piece.index == longest + 1 and piece.role == "molding"
        ]
        if not pieces:
            continue
        points = np.concatenate(pieces)
        right = np.cross(travel, [0.0, 0.0, 1.0])
        right = right / np.linalg.norm(right) if np.linalg.norm(right) > 1e-6 else np.array(run.stand.x)
        top = np.cross(right, travel)
        across, upward = ((points - at) @ way for way in (right, top))
        middle = at + right * (across.min() + across.max()) / 2 + top * (upward.min() + upward.max()) / 2
        half = max(float(np.ptp(across)), float(np.ptp(upward)) * PICTURE[0] / PICTURE[1]) / 2
        distance = SECTION_ROOM * half / math.tan(ACROSS / 2)
        view = View("Section", "end", middle - distance * travel, middle, True, distance - 10.0, (number, station))
        found.append(view)
    if len(found) > 1:
        names = list(job.paths)
        found = [replace(view, name=f"Section: {names[view.cut[0]]}") for view in found if view.cut]
    return found
