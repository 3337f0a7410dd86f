"""The pin library for Debian 13's Python, compiled for another machine from the locked source.

Nobody has published it compiled for Python 3.13, and Debian 13 has no package of it (looked up in November
2026; systems made from it may have one). What varies between machines are Python's headers: they come from
Debian 13 itself, by apt with lists of its own, so that Debian 12 can build, too. It is compiled as its own
setup.py does it with PYPI=1: everything in one module.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tarfile
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

PYTHON = "3.13"
SUITE = "trixie"
MIRROR = "http://deb.debian.org/debian"  # signed; apt checks it against Debian's keys
KEYS = "/usr/share/keyrings/debian-archive-keyring.gpg"
TRIPLETS = {"amd64": "x86_64-linux-gnu", "arm64": "aarch64-linux-gnu", "armhf": "arm-linux-gnueabihf"}


def build(target: Path, root: Path, architecture: str, work: Path) -> None:
    """Compile the library and put it into a directory as pip would.

    Args:
        target: where it goes; made if missing.
        root: the checkout with the lock file.
        architecture: for which machine, in Debian's words.
        work: an empty directory to work in.

    Raises:
        SystemExit: a compiler is missing.
    """
    triplet = TRIPLETS[architecture]
    compiler = f"{triplet}-gcc"
    for program, package in (("swig", "swig"), (compiler, f"gcc-{triplet.replace('_', '-')}")):
        if shutil.which(program) is None:
            raise SystemExit(f"{program} is missing; install it: sudo apt-get install {package}")
    source = _source(root, work)
    headers = _headers(architecture, work)
    wrapper = work / "wrapper"
    wrapper.mkdir()
    _run(["swig", "-python", "-outdir", str(wrapper), "-o", str(wrapper / "lgpio_wrap.c"), "lgpio.i"], source)
    parts = sorted(str(path.relative_to(source)) for path in source.glob("src/lg*.c"))
    target.mkdir(parents=True)
    module = target / f"_lgpio.cpython-{PYTHON.replace('.', '')}-{triplet}.so"
    command = [compiler, "-shared", "-s", "-O3", "-fPIC", "-pthread", "-w", f"-ffile-prefix-map={work}=."]
    command += ["-D_FILE_OFFSET_BITS=64", "-D_TIME_BITS=64"]  # as all of Debian 13 for armhf is compiled
    command += [f"-I{headers}/python{PYTHON}", f"-I{headers}", "-Isrc"]
    command += [str(wrapper / "lgpio_wrap.c"), *parts, "src/rgpiod.c", "-lrt", "-ldl", "-o", str(module)]
    _run(command, source)
    shutil.copyfile(wrapper / "lgpio.py", target / "lgpio.py")
    about = target / f"{source.name}.dist-info"
    about.mkdir()
    shutil.copyfile(source / "PKG-INFO", about / "METADATA")
    shutil.copyfile(source / "LICENSE", about / "LICENSE")
    (about / "top_level.txt").write_text("_lgpio\nlgpio\n", encoding="ascii")


def _source(root: Path, work: Path) -> Path:
    """The unpacked source, checked against the hash in the lock."""
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--no-binary=:all:"]
    command += ["--no-build-isolation", "--require-hashes", "-r", str(root / "requirements-board.lock")]
    _run([*command, "-d", str(work)], work, os.environ | {"PYPI": "1"})
    (archive,) = work.glob("lgpio-*.tar.gz")
    with tarfile.open(archive) as packed:
        packed.extractall(work / "source", filter="data")
    (source,) = (work / "source").iterdir()
    return source


def _headers(architecture: str, work: Path) -> Path:
    """The folder with Python's headers for a machine, out of Debian's package."""
    apt = work / "apt"
    for folder in ("lists/partial", "cache/archives/partial", "none"):
        (apt / folder).mkdir(parents=True)
    (apt / "status").touch()
    (apt / "sources.list").write_text(f"deb [signed-by={KEYS}] {MIRROR} {SUITE} main\n", encoding="ascii")
    options = {
        "Dir::Etc::sourcelist": apt / "sources.list",
        "Dir::Etc::sourceparts": apt / "none",
        "Dir::State::lists": apt / "lists",
        "Dir::State::status": apt / "status",
        "Dir::Cache": apt / "cache",
        "APT::Architecture": architecture,
        "APT::Architectures::": architecture,
        "APT::Sandbox::User": "",  # apt would give up rights that its own directories here do not need
    }
    command = ["apt-get", "-qq", *(f"-o{name}={value}" for name, value in options.items())]
    _run([*command, "update"], work)
    _run([*command, "download", f"libpython{PYTHON}-dev"], work)
    (package,) = work.glob("libpython*.deb")
    _run(["dpkg-deb", "--extract", str(package), str(work / "headers")], work)
    return work / "headers" / "usr" / "include"


def _run(command: list[str], directory: Path, environment: dict[str, str] | None = None) -> None:
    """Run a program, quietly unless it fails."""
    done = subprocess.run(
        command, cwd=directory, env=environment, capture_output=True, text=True, check=False, timeout=600
    )
    if done.returncode != 0:
        raise SystemExit(f"{command[0]} failed:\n{done.stdout}{done.stderr}")
