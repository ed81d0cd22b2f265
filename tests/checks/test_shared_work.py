"""Large models are measured by several processes: what is found is the same, and no process is left behind."""

from __future__ import annotations

import os
import pickle
import signal
from pathlib import Path

import numpy as np
import pytest

from preview.build import Built, build
from preview.checks import Inspection, inspect_bodies, looking, read_glb
from preview.checks.workers import Workers
from preview.exports import built_glb
from preview.scene import load_scene

SCENES = Path(__file__).parents[2] / "scenes"


def inspected(built: Built, path: Path, workers: int, progress: object = None) -> Inspection:
    path.write_bytes(built_glb(built))
    bodies = read_glb(path)
    tell = progress if callable(progress) else None
    return inspect_bodies(bodies, built.pieces, built.joints, np.array(built.volumes), 0.05, tell, workers)


def same(one: Inspection, other: Inspection) -> bool:
    """Findings, meetings and volumes equal to the last bit, and the rims as well."""
    for mine, theirs in zip(one.rims, other.rims, strict=True):
        for rim, twin in zip(mine, theirs, strict=True):
            if (rim is None) != (twin is None):
                return False
            if rim is not None and twin is not None and not np.array_equal(rim.starts, twin.starts):
                return False
    return (one.findings, one.meetings, one.volumes) == (other.findings, other.meetings, other.volumes)


# Runs that butt, cross each other's boxes and are stacked: what parts cannot see by themselves.
@pytest.mark.parametrize("name", ["cornice", "stair-hall", "door-casing"])
def test_parts_find_what_the_whole_finds(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    built = build(load_scene(SCENES / f"{name}.toml"))
    whole = inspected(built, tmp_path / "model.glb", 0)
    monkeypatch.setattr(looking, "PART", 2)
    assert len(built.pieces) > 4
    shared = inspected(built, tmp_path / "model.glb", 2)
    assert same(whole, shared)
    assert any(finding.check.code == "overlap" for finding in shared.findings)


def test_a_worker_that_is_killed_is_an_error(tmp_path: Path) -> None:
    with Workers(signal.raise_signal, 1) as pool, pytest.raises(RuntimeError, match="a worker ended before its task"):
        list(pool.each([signal.SIGKILL]))


def test_a_function_that_cannot_be_sent_is_an_error_and_no_hang() -> None:
    with Workers(lambda number: number, 2) as pool, pytest.raises((AttributeError, pickle.PicklingError)):
        list(pool.each([1, 2, 3]))


def test_what_goes_wrong_in_a_worker_is_raised_here() -> None:
    with Workers(int, 2) as pool:
        assert sorted(pool.each(["1", "2", "3"])) == [(0, 1), (1, 2), (2, 3)]
    with Workers(int, 1) as pool, pytest.raises(ValueError, match="invalid literal"):
        list(pool.each(["one"]))


def test_a_stop_ends_the_workers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[int] = []
    entered = Workers.__enter__

    def noted(self: Workers[object, object]) -> Workers[object, object]:
        found = entered(self)
        started.extend(process.pid for process in self._processes)
        return found

    monkeypatch.setattr(Workers, "__enter__", noted)
    monkeypatch.setattr(looking, "PART", 2)

    def stop(_what: str, _done: int, _total: int) -> None:
        raise KeyboardInterrupt

    built = build(load_scene(SCENES / "cornice.toml"))
    with pytest.raises(KeyboardInterrupt):
        inspected(built, tmp_path / "model.glb", 2, stop)
    assert len(started) == 2
    for number in started:
        with pytest.raises(ProcessLookupError):
            os.kill(number, 0)


def test_no_module_is_taken_from_the_folder_of_the_day(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "numpy.py").write_text("raise SystemExit(3)")
    (tmp_path / "preview.py").write_text("raise SystemExit(3)")
    monkeypatch.chdir(tmp_path)
    with Workers(int, 1) as pool:
        assert list(pool.each(["7"])) == [(0, 7)]
