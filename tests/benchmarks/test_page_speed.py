"""The page's document as ratios against the build of what it shows, in the same run: pytest tests/benchmarks

Nothing here asserts a time; see test_speed.py, which says how the figures are told.
"""

from __future__ import annotations

import gzip
import statistics
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from preview.build import build
from preview.client import Shown, model_document
from preview.scene import Scene, every_variant, load_scene, parse_scene

ROOT = Path(__file__).parent.parent.parent


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


def long_job(pieces: int) -> Scene:
    """A zigzag of that many straights, of a hundred lengths."""
    steps = []
    for i in range(pieces // 2):
        turn = ("right", "left") if i % 2 else ("left", "right")
        long, short = 250 + i % 97, 100 + (i % 97) / 8
        steps += [f"{{ straight = {long} }}", f"{{ {turn[0]} = 90 }}"]
        steps += [f"{{ straight = {short} }}", f"{{ {turn[1]} = 90 }}"]
    text = f"""
    title = "Long"
    units = "mm"
    [profile.base]
    file = "../profiles/cove-and-bead-base.toml"
    [member.base]
    profile = "base"
    [[run]]
    name = "long"
    members = ["base"]
    room = "left"
    steps = [{", ".join(steps[:-1])}]
    """
    return parse_scene(text, ROOT / "scenes" / "long.toml")


@pytest.mark.parametrize(("name", "aim"), [("window-seat", "under 1.5"), ("2,000 pieces", "under 4")])
def test_document_against_build(benchmark: Any, name: str, aim: str) -> None:
    scene = long_job(2000) if name == "2,000 pieces" else load_scene(ROOT / "scenes" / f"{name}.toml")
    shown = [Shown(build(each.scene), each.picks) for each in every_variant(scene)]
    assert sum(len(each.built.pieces) for each in shown) >= 80
    made = benchmark(model_document, scene, shown)
    found = ratios(
        lambda: model_document(scene, shown), lambda: [build(each.scene) for each in every_variant(scene)], 5
    )
    size = len(gzip.compress(made, 9))
    benchmark.extra_info["ratio"] = f"{statistics.median(found):.2f} ({min(found):.2f} to {max(found):.2f}); aim {aim}"
    benchmark.extra_info["size"] = f"{size:,} bytes gzipped"
    print(f"\n{name}: {benchmark.extra_info['ratio']}; {benchmark.extra_info['size']}")
