"""Speed as ratios against a baseline that does comparable work in the same run: pytest tests/benchmarks

Nothing here asserts a time. Each benchmark times ours by pytest-benchmark and the baseline in turn with it, and puts
the median ratio into the table's extra column (`--benchmark-json` has it too); aims stand beside them as text.
"""

from __future__ import annotations

import math
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from preview.joinery import MemberRun, join
from preview.models.mesh import mesh_runs, spans_needed
from preview.profiles import flatten
from preview.runs import Corner, Curve, Run, Step, Straight, lay_out
from preview.scene import load_profile

ROOT = Path(__file__).parents[2]
BASE = load_profile(ROOT / "profiles" / "cove-and-bead-base.toml")
CHORD = 0.05
QUARTER = math.pi / 2


def winding_run(count: int) -> Run:
    """A run of `count` elements: per seven, four straights, two curves and two miters, going on without crossing."""
    unit: list[Step] = [
        Straight(300), Corner(QUARTER), Straight(300), Corner(-QUARTER), Straight(200),
        Curve(QUARTER, 50), Straight(100), Curve(-QUARTER, 60), Straight(100),
    ]  # fmt: skip
    steps: list[Step] = []
    left = count
    while left > 0:
        for step in unit:
            if left == 0:
                break
            steps.append(step)
            left -= not isinstance(step, Corner)
    while isinstance(steps[-1], Corner):
        steps.pop()
    return lay_out("bench", steps)


def line_of(count: int) -> MemberRun:
    return join(winding_run(count), "base", BASE)


def ratios(ours: Callable[[], Any], baseline: Callable[[], Any], rounds: int) -> list[float]:
    """baseline / ours, pair by pair, so that a machine whose speed drifts does not decide."""
    found = []
    for _ in range(rounds):
        started = time.perf_counter()
        ours()
        between = time.perf_counter()
        baseline()
        found.append((time.perf_counter() - between) / (between - started))
    return found


def told(benchmark: Any, name: str, found: list[float], aim: str) -> None:
    benchmark.extra_info[name] = f"{statistics.median(found):.1f} ({min(found):.1f} to {max(found):.1f}); aim {aim}"
    print(f"\n{benchmark.name}: {name} {benchmark.extra_info[name]}")


@pytest.mark.parametrize("count", [7, 28, 700])
def test_mesh_against_cadquery(benchmark: Any, count: int) -> None:
    """Our meshes against cadquery's sweep of the same section along the same path, tessellated to the same chord."""
    import cadquery as cq

    line = line_of(count)
    outline = flatten(BASE, CHORD)

    def cadquery_sweep(elements: Any) -> int:
        path = cq.Workplane("XY").moveTo(*elements[0].start)
        for element in elements:
            if element.curvature:
                path = path.threePointArc(element.point(element.length / 2), element.end)
            else:
                path = path.lineTo(*element.end)
        (x, y), (tx, ty) = elements[0].start, elements[0].tangent
        plane = cq.Plane(origin=(x, y, 0), xDir=(-ty, tx, 0), normal=(tx, ty, 0))
        section = cq.Workplane(plane)
        pen = section.moveTo(*BASE.edges[0].start)
        for edge in BASE.edges:
            via = getattr(edge, "via", None)
            pen = pen.threePointArc(via, edge.end) if via else pen.lineTo(*edge.end)
        solid = pen.close().sweep(path, transition="right")
        return len(solid.val().tessellate(CHORD, 0.5)[1])

    def baseline() -> None:
        # Long paths are swept in parts of 28 elements: in one part the kernel takes more than its share.
        for i in range(0, len(line.run.elements), 28):
            assert cadquery_sweep(line.run.elements[i : i + 28]) > len(outline.points)

    benchmark(mesh_runs, [line], CHORD)
    told(
        benchmark,
        "times cadquery",
        ratios(lambda: mesh_runs([line], CHORD), baseline, 3 if count < 100 else 1),
        "100, least 50",
    )


@pytest.mark.parametrize("count", [7, 28, 700])
def test_mesh_against_trimesh(benchmark: Any, count: int) -> None:
    """Our separate capped pieces with normals and UVs against trimesh's one sweep of the same polygon and path."""
    import shapely
    import trimesh

    line = line_of(count)
    polygon = shapely.Polygon(flatten(BASE, 0.4 * CHORD).points)
    spans = spans_needed(line, CHORD)
    path = [line.run.elements[0].start]
    for element, steps in zip(line.run.elements, spans.tolist(), strict=True):
        path += [element.point(element.length * i / steps) for i in range(1, steps + 1)]
    points = np.column_stack([np.array(path), np.zeros(len(path))])

    def baseline() -> None:
        assert len(trimesh.creation.sweep_polygon(polygon, points).faces) > 0

    benchmark(mesh_runs, [line], CHORD)
    told(benchmark, "times trimesh", ratios(lambda: mesh_runs([line], CHORD), baseline, 15), "3")


def test_growth_per_element(benchmark: Any) -> None:
    """Time per element on 7,000 elements against 28."""
    few, many = line_of(28), line_of(7000)

    def each(line: MemberRun, times: int) -> float:
        started = time.perf_counter()
        for _ in range(times):
            mesh_runs([line], CHORD)
        return (time.perf_counter() - started) / times / len(line.pieces)

    each(few, 20)
    found = [each(many, 1) / each(few, 50) for _ in range(5)]
    benchmark.pedantic(mesh_runs, ([many], CHORD), rounds=1)
    told(benchmark, "per element, 7,000 against 28", found, "at most 1.3")


def test_start_of_check(benchmark: Any) -> None:
    """`molding check` on a shipped scene, whole process, against `import cadquery`."""
    scene = str(ROOT / "scenes" / "bay.toml")

    def run(code: str, *arguments: str) -> None:
        subprocess.run([sys.executable, "-c", code, *arguments], check=True, capture_output=True)

    def ours() -> None:
        run("from preview.cli import main; main()", "check", scene)

    def baseline() -> None:
        run("import cadquery")

    found = [1 / ratio for ratio in ratios(ours, baseline, 7)]
    benchmark.pedantic(ours, rounds=3)
    told(benchmark, "of importing cadquery", found, "under 0.33")
