"""A build's folder: files are made beside it, measured there, and only then moved into place together."""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from preview.exports.report import REPORT, WrittenFile
from preview.exports.writing import told


@dataclass(frozen=True)
class Stage:
    """A folder in the making: files are written below `folder`, and `publish` moves them to `target`."""

    folder: Path
    target: Path

    def files(self) -> list[WrittenFile]:
        """Every staged file with its size and digest, in the order of their paths."""
        found = []
        for path in sorted(self.folder.rglob("*")):
            if path.is_file():
                name = path.relative_to(self.folder).as_posix()
                with path.open("rb") as stream:
                    digest = hashlib.file_digest(stream, "sha256").hexdigest()
                found.append(WrittenFile(name, path.stat().st_size, digest))
        return found

    def publish(self) -> list[Path]:
        """Move every staged file into the target, the report last; returns their paths there.

        Files that an earlier report in the target lists and that are no longer made are removed, so that the
        folder never mixes two builds. Nothing else in it is touched.
        """
        names = [file.path for file in self.files()]
        stale = _listed(self.target / REPORT) - set(names)
        names.sort(key=lambda name: name == REPORT)
        for name in names:
            place = self.target / name
            with told(place):
                place.parent.mkdir(parents=True, exist_ok=True)
                (self.folder / name).replace(place)
        for name in stale:
            (self.target / name).unlink(missing_ok=True)
        return [self.target / name for name in names]


@contextmanager
def staged(target: Path) -> Iterator[Stage]:
    """A stage for `target`, inside it and so on the same disk; whatever is left in it is removed at the end.

    Raises PreviewError when the target is not a folder that can be written in, or the disk fills up on the way. A
    target that did not exist and received nothing is removed again.
    """
    new = not target.exists()
    folder: Path | None = None
    with told(target):
        try:
            target.mkdir(parents=True, exist_ok=True)
            folder = Path(tempfile.mkdtemp(prefix=".molding-", dir=target))
            yield Stage(folder, target)
        finally:
            if folder is not None:
                shutil.rmtree(folder, ignore_errors=True)
            if new and target.is_dir() and not any(target.iterdir()):
                target.rmdir()


def _listed(report: Path) -> set[str]:
    """The files that a report already in the folder says it wrote; nothing when it cannot be read or is not ours."""
    try:
        document = json.loads(report.read_text(encoding="utf-8"))
        ours = document["program"]["name"] == "molding-preview"
        names = {str(entry["path"]) for entry in document["files"]} if ours else set()
    except (OSError, ValueError, KeyError, TypeError):
        return set()
    return {name for name in names if not Path(name).is_absolute() and ".." not in Path(name).parts}
