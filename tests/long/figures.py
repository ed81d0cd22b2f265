"""Every figure that the README and DEVELOPERS.md give as the program's own, found again:

    python tests/long/figures.py             # each as it is and as it is written; ends with 1 where one is off
    python tests/long/figures.py --write     # puts those that are off into the text

The quick ones (`readme_figures.QUICK`) are held by the suite; here are those that take some seconds or depend on what
is installed. One that cannot be told here is named as such: the newest Python needs uv and a network. What a machine
takes for a job of many pieces, `tests/benchmarks/growth.py` tells.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from importlib import metadata
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from packaging.requirements import Requirement  # noqa: E402
from packaging.utils import canonicalize_name  # noqa: E402

from preview.build import build  # noqa: E402
from preview.exports.glb import built_glb  # noqa: E402
from preview.exports.glb_compact import compact_glb  # noqa: E402
from preview.scene import load_scene  # noqa: E402
from readme_figures import DEVELOPERS, QUICK, SCENES, Figure  # noqa: E402

SHARES = ((0.9, "nine-tenths"), (0.75, "three-quarters"), (2 / 3, "two-thirds"), (0.5, "half"), (1 / 3, "a-third"))


def compact_shares() -> tuple[str, ...]:
    """How large compact files are against plain ones over the scenes that ship: the least and the most, percent."""
    shares = []
    for path in SCENES:
        built = build(load_scene(path))
        shares.append(100 * len(compact_glb(built)) / len(built_glb(built)))
    return f"{min(shares):.0f}", f"{max(shares):.0f}"


def brought_by(name: str) -> set[str]:
    """A distribution and all that it needs here, by their canonical names; extras are left out."""
    found: set[str] = set()
    left = [canonicalize_name(name)]
    while left:
        one = left.pop()
        if one in found:
            continue
        try:
            needed = metadata.requires(one) or []
        except metadata.PackageNotFoundError:  # for another platform
            continue
        found.add(one)
        for requirement in map(Requirement, needed):
            if requirement.marker is None or requirement.marker.evaluate({"extra": ""}):
                left.append(canonicalize_name(requirement.name))
    return found


def installed_bytes(name: str) -> int:
    """The bytes of a distribution's files."""
    paths = [Path(str(file.locate())) for file in metadata.files(name) or ()]
    return sum(path.stat().st_size for path in paths if path.is_file())


def pinned() -> set[str]:
    """The names in constraints.txt that are installed here."""
    lines = (ROOT / "constraints.txt").read_text("utf-8").splitlines()
    names: set[str] = {
        canonicalize_name(line.partition("==")[0]) for line in lines if "==" in line and line[0].isalnum()
    }
    return names & {canonicalize_name(each.metadata["Name"]) for each in metadata.distributions()}


def kernel_share() -> tuple[str, ...]:
    """The largest of the usual shares that the CAD kernel and what it brings exceed, of all that is installed."""
    everything = {name: installed_bytes(name) for name in pinned()}
    share = sum(everything[name] for name in brought_by("cadquery") & everything.keys()) / sum(everything.values())
    return (next((word for least, word in SHARES if share > least), f"{share:.0%}"),)


def newest_python() -> tuple[str, ...]:
    """The newest Python for which every pinned version has a wheel for Linux; nothing without uv and a network."""
    program = shutil.which("uv")
    newest = None
    for minor in range(11, 100) if program else ():
        with tempfile.TemporaryDirectory() as folder:
            command = [str(program), "pip", "install", "--dry-run", "--no-deps", "--only-binary", ":all:", "-q"]
            command += ["--python-platform", "x86_64-manylinux_2_31", "--python-version", f"3.{minor}"]
            command += ["--target", folder, "-r", str(ROOT / "constraints.txt")]
            if subprocess.run(command, check=False, capture_output=True).returncode:
                break
        newest = f"3.{minor}"
    return (newest,) if newest else ()


SLOW = (
    Figure("the newest Python", "It needs Python 3.11 to (?) with", newest_python),
    Figure(
        "compact files, % of plain ones",
        "a GLB (?) to (?) % the size of the plain one for the scenes that ship",
        compact_shares,
    ),
    Figure("the kernel's share of what is installed", "more than (?) of what is installed", kernel_share),
)


def told(figures: tuple[Figure, ...], root: Path, write: bool, say: Callable[[str], None] = print) -> int:
    """Print each figure and what is written; write those that are off where asked to. How many are left off."""
    texts = {name: (root / name).read_text("utf-8") for name in ("README.md", DEVELOPERS)}
    off = 0
    for figure in figures:
        found = figure.found()
        if not found:
            say(f"?     {figure.name}: it cannot be told here")
            continue
        try:
            match = figure.written(texts[figure.document])
        except LookupError as error:
            off += 1
            say(f"OFF   {figure.name}: {', '.join(found)}; {error}")
            continue
        if match.groups() == found:
            say(f"      {figure.name}: {', '.join(found)}")
            continue
        say(f"OFF   {figure.name}: {', '.join(found)}; {figure.document} says {', '.join(match.groups())}")
        if write:
            text = texts[figure.document]
            for at in range(len(found), 0, -1):
                text = text[: match.start(at)] + found[at - 1] + text[match.end(at) :]
            texts[figure.document] = text
            (root / figure.document).write_text(text, "utf-8")
        else:
            off += 1
    return off


def main() -> int:
    """What it says in the heading."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--write", action="store_true", help="put the figures that are off into the text")
    return 1 if told((*QUICK, *SLOW), ROOT, parser.parse_args().write) else 0


if __name__ == "__main__":
    raise SystemExit(main())
