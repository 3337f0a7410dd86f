"""Builds ``hypocaust_VERSION_ARCH.deb`` from this checkout; started by the script ``build`` beside it.

One package serves Debian 12 (Python 3.11) and Debian 13 (Python 3.13). What is built depends on the checkout
and the locked packages only: building twice gives the same bytes.
"""

from __future__ import annotations

import argparse
import gzip
import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
sys.path[0:0] = [str(ROOT), str(HERE)]

import changes
import notices
import pages
import pin_library
import vendored

FILES = HERE / "files"
LIBRARY = Path("usr/lib/hypocaust")
DOC = Path("usr/share/doc/hypocaust")
SCRIPTS = ("postinst", "prerm", "postrm")
MAINTAINER = "The hypocaust contributors <contributors@hypocaust.example>"

# Debian 12 has Python 3.11 and Debian 13 has 3.13; both find their packages inside. /bin/kill is procps's.
DEPENDS = (
    "python3 (>= 3.11)",
    "python3 (<< 3.14)",
    "python3 (<< 3.12) | python3 (>= 3.13)",
    "libc6 (>= 2.34)",
    "procps",
    "systemd",
    "tzdata",
)
CONTROL = """\
Package: hypocaust
Version: {version}
Architecture: {architecture}
Maintainer: {maintainer}
Installed-Size: {size}
Depends: {depends}
Recommends: udev
Suggests: mosquitto, mosquitto-clients
Section: electronics
Priority: optional
Description: controller for a greenhouse that stores sun heat in the soil
 Fans push the hottest air of a greenhouse through tubes buried under its beds,
 so that the heat of the day comes back on cold nights. This program runs that
 store unattended on a single-board computer: it decides when each fan is worth
 its electricity, keeps the tubes dry with a sump pump, protects motors and
 roots, says why it does what it does, and raises alarms.
 .
 The service is installed but not started: it first needs the pins and probes of
 your house in /etc/hypocaust/house.toml.
 .
 Mains electricity, pumps and standing water kill. Wiring is the work of a
 licensed electrician; read the hardware notes in the documentation first.
"""


def main() -> int:
    """Build one package and print where it is."""
    options = _options()
    version = options.version or _version()
    epoch = _epoch()
    options.out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="hypocaust-package-") as directory:
        tree = Path(directory) / "tree"
        vendored.install(tree / LIBRARY, ROOT, options.arch)
        work = Path(directory) / "pin-library"
        work.mkdir()
        pin_library.build(tree / LIBRARY / f"python{pin_library.PYTHON}", ROOT, options.arch, work)
        _program(tree, version)
        _system(tree)
        _documents(tree, version, epoch)
        _control(tree, version, options.arch)
        _settle(tree, epoch)
        target = options.out / f"hypocaust_{version}_{options.arch}.deb"
        subprocess.run(
            ["dpkg-deb", "--root-owner-group", "-Zxz", "--build", str(tree), str(target)],
            check=True,
            stdout=subprocess.DEVNULL,
            env=os.environ | {"SOURCE_DATE_EPOCH": str(epoch), "LC_ALL": "C.UTF-8"},
        )
    print(target)
    return 0


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="systemd/package/build", description=(__doc__ or "").partition("\n")[0]
    )
    parser.add_argument(
        "--arch", choices=sorted(vendored.MACHINES), required=True, help="Debian's name of it"
    )
    parser.add_argument("--version", help="another version than that of the program, to try upgrades")
    parser.add_argument(
        "--out",
        type=Path,
        default=ROOT / "results" / "package",
        help="where the package goes (results/package)",
    )
    return parser.parse_args()


def _version() -> str:
    text = (ROOT / "controller" / "__init__.py").read_text(encoding="utf-8")
    return text.split('__version__ = "')[1].split('"')[0]


def _epoch() -> int:
    """The time that every file gets: SOURCE_DATE_EPOCH, that of the last commit, or of the last release."""
    if given := os.environ.get("SOURCE_DATE_EPOCH"):
        return int(given)
    asked = subprocess.run(
        ["git", "-C", str(ROOT), "log", "-1", "--format=%ct"], capture_output=True, text=True, check=False
    )
    if asked.returncode == 0 and asked.stdout.strip():
        return int(asked.stdout)
    return int(changes.releases(ROOT)[0].day.timestamp())


def _program(tree: Path, version: str) -> None:
    """Our own code beside the vendored packages, and what starts it."""
    site = tree / LIBRARY / "site"
    shutil.copytree(
        ROOT / "controller", site / "controller", ignore=shutil.ignore_patterns("__pycache__", "*.pyc")
    )
    start = site / "controller" / "__init__.py"
    start.write_text(
        start.read_text(encoding="utf-8").replace(f'"{_version()}"', f'"{version}"'), encoding="utf-8"
    )
    about = site / f"hypocaust-{version}.dist-info"
    about.mkdir()
    (about / "METADATA").write_text(
        f"Metadata-Version: 2.1\nName: hypocaust\nVersion: {version}\n", encoding="utf-8"
    )
    _put(FILES / "hypocaust", tree / "usr/bin/hypocaust")
    _put(FILES / "compile", tree / LIBRARY / "compile")


def _system(tree: Path) -> None:
    """What systemd, udev and dpkg are given."""
    systemd = ROOT / "systemd"
    unit = (systemd / "hypocaust.service").read_text(encoding="utf-8")
    for there, here, times in (
        ("/opt/hypocaust/.venv/bin/hypocaust", "/usr/bin/hypocaust", 2),
        ("/opt/hypocaust/pycache", "/var/cache/hypocaust", 1),
        ("man:systemd.service(5)", "man:hypocaust(1) man:hypocaust-settings(5)", 1),
    ):
        if unit.count(there) != times:
            raise SystemExit(
                f"systemd/hypocaust.service names {there} {unit.count(there)} times; expected {times}"
            )
        unit = unit.replace(there, here)
    target = tree / "usr/lib/systemd/system/hypocaust.service"
    target.parent.mkdir(parents=True)
    target.write_text(unit, encoding="utf-8")
    _put(systemd / "hypocaust.sysusers.conf", tree / "usr/lib/sysusers.d/hypocaust.conf")
    _put(systemd / "60-hypocaust-gpio.rules", tree / "usr/lib/udev/rules.d/60-hypocaust-gpio.rules")
    _put(FILES / "tmpfiles.conf", tree / "usr/lib/tmpfiles.d/hypocaust.conf")
    _put(FILES / "journald.conf", tree / "usr/lib/systemd/journald.conf.d/60-hypocaust.conf")
    _put(FILES / "lintian-overrides", tree / "usr/share/lintian/overrides/hypocaust")
    # The shortest example, as it hardly ever changes: dpkg asks about a settings file only where both the
    # person and the package have changed it.
    _put(ROOT / "config" / "one-loop.toml", tree / "etc/hypocaust/house.toml")


def _documents(tree: Path, version: str, epoch: int) -> None:
    """Manual pages, completion, documentation, changes and licences."""
    day = datetime.fromtimestamp(epoch, UTC).date().isoformat()
    _gzip(tree / "usr/share/man/man1/hypocaust.1.gz", pages.commands(version, day))
    _gzip(tree / "usr/share/man/man5/hypocaust-settings.5.gz", pages.settings(version, day))
    completion = tree / "usr/share/bash-completion/completions/hypocaust"
    completion.parent.mkdir(parents=True)
    completion.write_text(pages.completion(), encoding="utf-8")
    for name in ("README.md", "config", "hardware-notes", "systemd/README.md", "systemd/CHANGES.md"):
        _put(ROOT / name, tree / DOC / name)
    _gzip(tree / DOC / "changelog.gz", changes.debian(ROOT, version, MAINTAINER))
    (tree / DOC / "copyright").write_text(notices.copyright_file(ROOT, tree / LIBRARY), encoding="utf-8")


def _control(tree: Path, version: str, architecture: str) -> None:
    """What dpkg reads, and the hashes that ``hypocaust verify`` compares with."""
    files = sorted(path for path in tree.rglob("*") if path.is_file())
    shipped = [path for path in files if not path.is_relative_to(tree / "etc")]
    manifest = tree / LIBRARY / "manifest"
    # Small systems leave out documentation on purpose.
    needed = (path for path in shipped if not path.is_relative_to(tree / "usr/share"))
    lines = (f"{_hash(path, 'sha256')}  /{path.relative_to(tree)}\n" for path in needed)
    manifest.write_text("".join(lines), encoding="utf-8")
    control = tree / "DEBIAN"
    control.mkdir()
    sums = (f"{_hash(path, 'md5')}  {path.relative_to(tree)}\n" for path in sorted([*shipped, manifest]))
    (control / "md5sums").write_text("".join(sums), encoding="utf-8")
    conffiles = (f"/{path.relative_to(tree)}\n" for path in files if path.is_relative_to(tree / "etc"))
    (control / "conffiles").write_text("".join(conffiles), encoding="utf-8")
    size = sum(-(-path.stat().st_size // 1024) for path in files)  # whole kB, as Debian counts them
    text = CONTROL.format(
        version=version,
        architecture=architecture,
        maintainer=MAINTAINER,
        size=size,
        depends=", ".join(DEPENDS),
    )
    (control / "control").write_text(text, encoding="utf-8")
    for name in (*SCRIPTS, "triggers"):
        shutil.copyfile(FILES / name, control / name)


def _settle(tree: Path, epoch: int) -> None:
    """Modes and times that depend on nothing but the checkout."""
    programs = {
        tree / "usr/bin/hypocaust",
        tree / LIBRARY / "compile",
        *(tree / "DEBIAN" / name for name in SCRIPTS),
    }
    programs |= set((tree / DOC / "config").rglob("*.sh"))
    for path in sorted(tree.rglob("*"), reverse=True):
        path.chmod(0o755 if path.is_dir() or path in programs else 0o644)
        os.utime(path, (epoch, epoch))
    # The group is given by postinst, where it exists.
    (tree / "etc/hypocaust").chmod(0o750)
    (tree / "etc/hypocaust/house.toml").chmod(0o640)
    tree.chmod(0o755)
    os.utime(tree, (epoch, epoch))


def _put(source: Path, target: Path) -> None:
    """Copy a file or a folder."""
    target.parent.mkdir(parents=True, exist_ok=True)
    if source.is_dir():
        shutil.copytree(source, target)
    else:
        shutil.copyfile(source, target)


def _gzip(path: Path, text: str) -> None:
    """Write a text compressed, without a name or a time in it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(gzip.compress(text.encode(), 9, mtime=0))


def _hash(path: Path, kind: str) -> str:
    return hashlib.new(kind, path.read_bytes(), usedforsecurity=False).hexdigest()


if __name__ == "__main__":
    sys.exit(main())
