"""The reference encoder and decoder of EXT_meshopt_compression: the npm package meshoptimizer (MIT), by its author.

Both run in Node, many streams in one go.
"""

from __future__ import annotations

import base64
import json
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass

import gltf

SECONDS = 60


@dataclass(frozen=True)
class Task:
    """What the reference is to do with some bytes. what: encode, decode, octahedral or exponential."""

    what: str
    mode: str
    count: int
    stride: int
    data: bytes
    filtered: str = "NONE"


def reference(tasks: Sequence[Task]) -> list[bytes]:
    """What comes of each task; b"" where the decoder refuses."""
    asked = [
        {
            "what": task.what,
            "mode": task.mode,
            "count": task.count,
            "stride": task.stride,
            "filter": task.filtered,
            "data": base64.b64encode(task.data).decode(),
        }
        for task in tasks
    ]
    done = subprocess.run(
        [gltf.node(), "meshopt.mjs"],
        cwd=gltf.FOLDER,
        input=json.dumps(asked),
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=SECONDS,
        check=False,
    )
    if done.returncode:
        raise RuntimeError(f"the reference failed; is it set up by the README's test command?\n{done.stderr}")
    return [base64.b64decode(each) if isinstance(each, str) else b"" for each in json.loads(done.stdout)]
