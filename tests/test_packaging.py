"""The wheel carries what the command needs; the shipped files are found from it as from the source tree."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from preview import shipped

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from this tree without a network and unpacked as an installer would."""
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder / "dist")],
        cwd=ROOT,
        check=True,
        capture_output=True,
        timeout=120,
    )
    (wheel,) = (folder / "dist").glob("molding_preview-*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder / "site")
    return folder / "site"


def files(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*.toml")}


def test_the_source_tree_is_found() -> None:
    assert shipped.folder("profiles") == ROOT / "profiles"
    assert shipped.folder("scenes") == ROOT / "scenes"


def test_the_wheel_holds_the_package_and_what_ships(unpacked: Path) -> None:
    source = {path.relative_to(ROOT).as_posix() for path in (ROOT / "preview").rglob("*.py")}
    assert source <= {path.relative_to(unpacked).as_posix() for path in unpacked.rglob("*.py")}
    assert (unpacked / "preview" / "py.typed").is_file()
    for kind in ("profiles", "scenes"):
        assert files(unpacked / "preview" / "data" / kind) == files(ROOT / kind) != set()
    tops = {path.name for path in unpacked.iterdir()}
    assert {name for name in tops if not name.endswith(".dist-info")} == {"preview"}


def test_an_installed_package_finds_what_ships(unpacked: Path) -> None:
    code = "from preview import shipped; print(shipped.folder('profiles')); print(shipped.folder('scenes'))"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=unpacked, check=True, capture_output=True, text=True, timeout=60
    )
    data = unpacked.resolve() / "preview" / "data"
    assert done.stdout.split("\n")[:2] == [str(data / "profiles"), str(data / "scenes")]


def test_a_damaged_installation_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shipped, "PACKAGE", tmp_path / "preview")
    with pytest.raises(FileNotFoundError, match="profiles that ship"):
        shipped.folder("profiles")
