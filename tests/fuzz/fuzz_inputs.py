"""Every kind of input that comes from outside, read as the program reads it; what breaks the promise is raised.

The promise: whatever the bytes are, reading them gives a result that can be used or one PreviewError with a readable
message of bounded length. Each `try_KIND` writes the bytes to a file, reads it, and returns in silence where that was
kept; any other exception, and BrokenPromiseError for what came back, is a find. Time and memory are watched by the
caller (`long_run`), who can end a process.
"""

from __future__ import annotations

import contextlib
import io
import json
import math
import unicodedata
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from preview.approval import read_answer, records, records_path
from preview.build import build
from preview.checks import digest_in
from preview.cli.model import check_model
from preview.drawings import Wanted, read_drawing
from preview.errors import PreviewError
from preview.profiles import measure
from preview.scene import load_brand, load_cuts, load_drawn, load_profile, load_scene, load_spring_notes

LONGEST_PROBLEM = 2_500
LONGEST_MESSAGE = 60_000
"""Characters of one problem, and of a whole message: a file may hold many mistakes, and all are told."""
MOST_BUILT = 100
"""Steps of a scene that is also built: a longer one that loads is valid, and what it takes is not the reader's."""


class BrokenPromiseError(AssertionError):
    """Something came back that should not: a message nobody can read, a number that is none."""


@contextlib.contextmanager
def told() -> Iterator[list[str]]:
    """Lets a PreviewError pass whose message is one that a person can read; raises BrokenPromiseError for another.

    Gives a list, in which the places of its problems are after it.
    """
    places: list[str] = []
    try:
        yield places
    except PreviewError as error:
        readable(error)
        places += [problem.place for problem in error.problems]


def readable(error: PreviewError) -> None:
    message = str(error)
    if not error.problems or not message.strip():
        raise BrokenPromiseError("an error that says nothing") from error
    if len(message) > LONGEST_MESSAGE:
        raise BrokenPromiseError(f"a message of {len(message):,} characters: {message[:200]!r}") from error
    for problem in error.problems[:200]:
        if len(str(problem)) > LONGEST_PROBLEM:
            raise BrokenPromiseError(f"a problem of {len(str(problem)):,} characters: {str(problem)[:300]!r}")
        if not problem.problem.strip() or not problem.fix.strip():
            raise BrokenPromiseError(f"a problem without words or without a fix: {problem!r}")
    strange = next((c for c in message if unicodedata.category(c) in ("Cc", "Cs") and c not in "\n\t"), None)
    if strange is not None:
        raise BrokenPromiseError(f"a message with U+{ord(strange):04X}: {message[:300]!r}") from error


def sound(*values: object) -> None:
    """Raise BrokenPromiseError unless all numbers are finite."""
    for value in values:
        if not np.isfinite(np.asarray(value, dtype=np.float64)).all():
            raise BrokenPromiseError(f"a result with a number that is none: {value!r:.200}")


def try_scene(data: bytes, folder: Path) -> None:
    path = saved(data, folder / "given.toml")
    with told():
        scene = load_scene(path)
        if sum(len(run.run.elements) for run in scene.runs) > MOST_BUILT:
            return
        built = build(scene)
        sound(built.volumes, *(mesh.points for mesh in built.meshes))
        if len(built.digest) != 64:
            raise BrokenPromiseError("a digest that is none")


def try_profile(data: bytes, folder: Path) -> None:
    path = saved(data, folder / "given.toml")
    with told():
        size = measure(load_profile(path))
        sound(size.area, size.d_min, size.d_max, size.h_min, size.h_max)
        if size.area <= 0:
            raise BrokenPromiseError(f"a profile with an area of {size.area}")
        load_spring_notes(path)
        load_drawn(path)
        load_cuts(path)


def try_brand(data: bytes, folder: Path) -> None:
    with told():
        load_brand(saved(data, folder / "given.toml"))


def _try_drawing(path: Path) -> None:
    """Read a drawing as it is, and with what it asks for where that is its units."""
    for wanted in (Wanted(), Wanted(units="mm", thickness=30.0)):
        with told() as kept:
            drawn = read_drawing(path, wanted)
            size = measure(drawn.profile)
            sound(size.area, size.d_min, size.d_max, size.h_min, size.h_max, drawn.deviation)
            if size.area <= 0:
                raise BrokenPromiseError(f"a profile with an area of {size.area}")
            if sum(map(len, drawn.notes)) > LONGEST_MESSAGE:
                raise BrokenPromiseError("notes of a length that nobody reads")
        if "units" not in kept:
            return


def try_dxf(data: bytes, folder: Path) -> None:
    _try_drawing(saved(data, folder / "given.dxf"))


def try_svg(data: bytes, folder: Path) -> None:
    _try_drawing(saved(data, folder / "given.svg"))


def try_csv(data: bytes, folder: Path) -> None:
    _try_drawing(saved(data, folder / "given.csv"))


def try_answer(data: bytes, folder: Path) -> None:
    with told():
        read_answer(saved(data, folder / "given.json"))


def try_records(data: bytes, folder: Path) -> None:
    scene = folder / "given.toml"
    saved(data, records_path(scene))
    with told():
        records(scene)


def _try_model(path: Path) -> None:
    """What `molding check FILE --json` does: read, inspect, find the digest, and print what can be read as JSON."""
    out = io.TextIOWrapper(io.BytesIO(), "utf-8", write_through=True)
    with told(), contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        check_model(path, as_json=True)
    printed = out.buffer.getvalue()  # type: ignore[attr-defined]
    if printed:
        json.loads(printed, parse_constant=_no_number)


def _no_number(word: str) -> float:
    raise BrokenPromiseError(f"{word} in JSON")


def try_stl(data: bytes, folder: Path) -> None:
    _try_model(saved(data, folder / "given.stl"))


def try_glb(data: bytes, folder: Path) -> None:
    _try_model(saved(data, folder / "given.glb"))


def try_step(data: bytes, folder: Path) -> None:
    _try_model(saved(data, folder / "given.step"))


def _digest_of(suffix: str) -> Callable[[bytes, Path], None]:
    def look(data: bytes, folder: Path) -> None:
        found = digest_in(saved(data, folder / f"given{suffix}"))
        if found and (len(found) != 64 or not math.isfinite(int(found, 16) % 2)):
            raise BrokenPromiseError(f"a digest that is none: {found!r:.100}")

    return look


def try_digest(data: bytes, folder: Path) -> None:
    """The digest finder on a file of each text format, and on glTF."""
    for suffix in (".gltf", ".glb", ".obj", ".ply", ".step", ".stl"):
        _digest_of(suffix)(data, folder)


def try_digest_3mf(data: bytes, folder: Path) -> None:
    _digest_of(".3mf")(data, folder)


def try_digest_usdz(data: bytes, folder: Path) -> None:
    _digest_of(".usdz")(data, folder)


def saved(data: bytes, path: Path) -> Path:
    path.write_bytes(data)
    return path


KINDS: dict[str, Callable[[bytes, Path], None]] = {
    "answer": try_answer,
    "brand": try_brand,
    "csv": try_csv,
    "digest": try_digest,
    "digest_3mf": try_digest_3mf,
    "digest_usdz": try_digest_usdz,
    "dxf": try_dxf,
    "glb": try_glb,
    "profile": try_profile,
    "records": try_records,
    "scene": try_scene,
    "step": try_step,
    "stl": try_stl,
    "svg": try_svg,
}
