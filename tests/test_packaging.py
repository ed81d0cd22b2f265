"""The wheel and the sdist carry what the command needs; the shipped files are found from it as from the source tree."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

from preview import shipped

ROOT = Path(__file__).parent.parent
WEB = ROOT / "preview" / "client" / "web"


@pytest.fixture(scope="module")
def packed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A wheel and an sdist, built from this tree with no network, and with npm pointed at nothing."""
    folder = tmp_path_factory.mktemp("packed")
    nowhere = {"npm_config_registry": "http://127.0.0.1:9", "npm_config_cache": str(folder / "npm")}
    done = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-d", str(folder)],
        cwd=ROOT,
        env={**os.environ, **nowhere},
        check=False,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return folder


@pytest.fixture(scope="module")
def unpacked(packed: Path) -> Path:
    """The wheel, unpacked as an installer would."""
    (wheel,) = packed.glob("molding_preview-*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(packed / "site")
    return packed / "site"


@pytest.fixture(scope="module")
def source(packed: Path) -> Path:
    """The sdist, unpacked."""
    (sdist,) = packed.glob("molding_preview-*.tar.gz")
    with tarfile.open(sdist) as archive:
        archive.extractall(packed / "sdist", filter="data")
    (folder,) = (packed / "sdist").iterdir()
    return folder


def files(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*.toml")}


def test_the_source_tree_is_found() -> None:
    assert shipped.folder("profiles") == ROOT / "profiles"
    assert shipped.folder("scenes") == ROOT / "scenes"


def test_the_wheel_holds_the_package_and_what_ships(unpacked: Path) -> None:
    modules = {
        path.relative_to(ROOT).as_posix() for path in (ROOT / "preview").rglob("*.py") if WEB not in path.parents
    }
    assert modules <= {path.relative_to(unpacked).as_posix() for path in unpacked.rglob("*.py")}
    assert (unpacked / "preview" / "py.typed").is_file()
    for kind in ("profiles", "scenes"):
        assert files(unpacked / "preview" / "data" / kind) == files(ROOT / kind) != set()
    tops = {path.name for path in unpacked.iterdir()}
    assert {name for name in tops if not name.endswith(".dist-info")} == {"preview"}


def test_the_wheel_holds_the_page_and_not_what_it_is_made_from(unpacked: Path) -> None:
    client = unpacked / "preview" / "client"
    for name in ("static/viewer.js", "static/viewer.inputs", "page/page.html", "page/page.css"):
        assert (client / name).read_bytes() == (ROOT / "preview" / "client" / name).read_bytes()
    assert not (client / "web").exists()


def test_the_sdist_needs_neither_node_nor_npm(source: Path) -> None:
    """It holds all that its own bundle was made from, so the bundle is fresh where it is unpacked."""
    web = source / "preview" / "client" / "web"
    sources = {path.relative_to(WEB).as_posix() for path in (WEB / "src").rglob("*.ts")}
    assert {path.relative_to(web).as_posix() for path in (web / "src").rglob("*.ts")} == sources != set()
    code = "import hatch_build; print(hatch_build.fresh(), hatch_build.BUNDLE)"
    done = subprocess.run([sys.executable, "-c", code], cwd=web, check=True, capture_output=True, text=True, timeout=60)
    assert done.stdout == f"True {(web.parent / 'static' / 'viewer.js').resolve()}\n"


def test_neither_holds_what_was_only_needed_to_make_it(unpacked: Path, source: Path) -> None:
    made = {"node_modules", "__pycache__", ".venv", "out"}
    assert not [path for folder in (unpacked, source) for path in folder.rglob("*") if path.name in made]


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
