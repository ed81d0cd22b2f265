"""The same scene gives the same bytes in every format: written in two processes with other seeds for the hashes of
text, another clock and another folder.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest

from preview.exports import FORMATS

SCENE = Path(__file__).parents[2] / "scenes" / "stair-hall.toml"
NAMES = ("glb", "stl", *FORMATS)
CODE = """
import hashlib, json, sys
from pathlib import Path
from preview.build import build
from preview.exports import FORMATS, stl_bytes
from preview.exports.glb import built_glb
from preview.scene import load_scene

built = build(load_scene(Path(sys.argv[1])))
found = {"glb": [("", built_glb(built))], "stl": [("", stl_bytes(built.meshes, built.scene.title))]}
found |= {name: write(built, "scene") for name, write in FORMATS.items()}
print(json.dumps({n: [(file, hashlib.sha256(data).hexdigest()) for file, data in files] for n, files in found.items()}))
"""


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> list[Mapping[str, object]]:
    """What two processes write of a scene in paint and clear finish: for each format its files, name and SHA-256."""
    found = []
    for seed, zone in (("1", "America/Los_Angeles"), ("4321", "Asia/Tokyo")):
        done = subprocess.run(
            [sys.executable, "-c", CODE, str(SCENE)],
            env=os.environ | {"PYTHONHASHSEED": seed, "TZ": zone},
            cwd=tmp_path_factory.mktemp(f"seed-{seed}"),
            capture_output=True,
            text=True,
            timeout=120,
            check=True,
        )
        found.append(json.loads(done.stdout))
    return found


@pytest.mark.parametrize("name", NAMES)
def test_same_scene_same_bytes(both: list[Mapping[str, object]], name: str) -> None:
    one, other = both
    assert one[name]
    assert one[name] == other[name]
