"""Import of drawings as ratios against the parser alone, in the same run: pytest tests/benchmarks

Nothing here asserts a time; see test_speed.py, which says how the figures are told.
"""

from __future__ import annotations

import math
import statistics
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np

from preview.drawings import Wanted, read_drawing


def ratios(ours: Callable[[], Any], baseline: Callable[[], Any], rounds: int) -> list[float]:
    """ours / baseline, pair by pair, so that a machine whose speed drifts does not decide."""
    found = []
    for _ in range(rounds):
        started = time.perf_counter()
        ours()
        between = time.perf_counter()
        baseline()
        found.append((between - started) / (time.perf_counter() - between))
    return found


def told(benchmark: Any, name: str, found: list[float], aim: str) -> None:
    benchmark.extra_info[name] = f"{statistics.median(found):.2f} ({min(found):.2f} to {max(found):.2f}); aim {aim}"
    print(f"\n{benchmark.name}: {name} {benchmark.extra_info[name]}")


def drawing(path: Path, count: int, loose: bool) -> None:
    """A DXF of `count` edges: loose lines and arcs, or one polyline with bulges."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    pitch = 4000.0 / count
    corners = [(0.0, 0.0, 0.0)]
    corners += [(30.0, i * pitch, math.tan(math.pi / 8) if i % 2 else 0.0) for i in range(count - 3)]
    corners += [(30.0, (count - 3) * pitch, 0.0), (0.0, (count - 3) * pitch, 0.0)]
    if not loose:
        space.add_lwpolyline(corners, format="xyb", close=True)
    for (x0, y0, bulge), (x1, y1, _) in zip(corners, [*corners[1:], corners[0]], strict=True) if loose else ():
        if bulge:
            center, start, end, radius = ezdxf.math.bulge_to_arc((x0, y0), (x1, y1), bulge)
            space.add_arc(center, radius, math.degrees(start), math.degrees(end))
        else:
            space.add_line((x0, y0), (x1, y1))
    document.saveas(path)


def import_against_parser(benchmark: Any, path: Path, aim: str) -> None:
    found = read_drawing(path, Wanted(back="left"))
    assert len(found.profile.edges) == 2000
    benchmark(read_drawing, path, Wanted(back="left"))
    told(
        benchmark,
        "times the parser alone",
        ratios(lambda: read_drawing(path, Wanted(back="left")), lambda: ezdxf.readfile(path), 9),
        aim,
    )


def test_2000_lines_and_arcs(benchmark: Any, tmp_path: Path) -> None:
    """Read, chained, checked for contacts and placed, against ezdxf reading the same file."""
    drawing(tmp_path / "loose.dxf", 2000, loose=True)
    import_against_parser(benchmark, tmp_path / "loose.dxf", "at most 3")


def test_a_polyline_of_2000_edges(benchmark: Any, tmp_path: Path) -> None:
    """The same outline as one entity, which costs the parser next to nothing."""
    drawing(tmp_path / "polyline.dxf", 2000, loose=False)
    import_against_parser(benchmark, tmp_path / "polyline.dxf", "at most 8")


def test_splines(benchmark: Any, tmp_path: Path) -> None:
    """Sixty splines of ten control points into arcs within 0.002 mm, against ezdxf reading the file."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    for i in range(60):
        inner = [(30 + 2 * math.sin(k), 20 * i + 20 * k / 9) for k in range(1, 9)]
        space.add_open_spline([(30, 20 * i), *inner, (30, 20 * i + 20)])
    space.add_lwpolyline([(30, 1200), (0, 1200), (0, 0), (30, 0)])
    path = tmp_path / "splines.dxf"
    document.saveas(path)
    assert 0 < read_drawing(path).deviation <= 0.002
    benchmark(read_drawing, path)
    told(benchmark, "times the parser alone", ratios(lambda: read_drawing(path), lambda: ezdxf.readfile(path), 5), "60")


def test_fit_of_5000_points(benchmark: Any, tmp_path: Path) -> None:
    """Lines and arcs through 5,000 points with 0.1 mm of noise, against numpy reading the file."""
    angle = np.linspace(0, math.pi / 2, 2000)
    face = np.vstack([
        np.column_stack([np.full(1500, 30.0), np.linspace(0, 40, 1500)]),
        np.column_stack([30 - 20 * np.sin(angle), 60 - 20 * np.cos(angle)]),
        np.column_stack([np.full(1500, 10.0), np.linspace(60, 100, 1500)]),
    ])  # fmt: skip
    path = tmp_path / "face.csv"
    np.savetxt(path, face + np.random.default_rng(3).normal(0, 0.1, face.shape), delimiter=",")
    wanted = Wanted(units="mm")
    assert len(read_drawing(path, wanted).profile.edges) == 6
    benchmark(read_drawing, path, wanted)
    found = ratios(lambda: read_drawing(path, wanted), lambda: np.loadtxt(path, delimiter=","), 9)
    told(benchmark, "times reading the numbers", found, "at most 50")
