"""The files that are damaged: the corpus kept here, and files of the project that are of the same kind."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
CORPUS = HERE / "corpus"
FOUND = HERE / "found"
"""What was found: files that once broke the promise, each named for what it did."""
MOST_BAD = 150
"""Scenes of the corpus of wrong scenes that are taken along."""


@cache
def seeds(kind: str) -> tuple[bytes, ...]:
    """The bytes of all seeds of a kind, always in one order."""
    folder = CORPUS / kind
    found = [path.read_bytes() for path in sorted(folder.iterdir())]
    found += [path.read_bytes() for path in _found(kind) if path.stat().st_size < 50_000]
    return (*found, *_elsewhere(kind))


def _found(kind: str) -> list[Path]:
    folder = FOUND / kind
    return sorted(folder.iterdir()) if folder.is_dir() else []


def _elsewhere(kind: str) -> list[bytes]:
    bad = ROOT / "tests" / "corpus" / "bad"
    if kind == "scene":
        scenes = [_alone(path.read_text("utf-8")) for path in sorted((ROOT / "scenes").glob("*.toml"))]
        wrong = sorted(bad.glob("*.toml"))
        return scenes + [path.read_bytes() for path in wrong[:: max(1, len(wrong) // MOST_BAD)]]
    if kind == "profile":
        shipped = sorted((ROOT / "profiles").glob("*.toml"))
        return [path.read_bytes() for path in (*shipped, *sorted((bad / "profiles").glob("*.toml")))]
    if kind in ("dxf", "svg", "csv"):
        return [path.read_bytes() for path in sorted((bad / "drawings").glob(f"*.{kind}"))]
    return []


def _alone(scene: str) -> bytes:
    """A scene that ships, its profiles taken from the library rather than from the folder beside it."""
    return re.sub(r'file = "\.\./profiles/([\w-]+)\.toml"', r'library = "\1"', scene).encode()
