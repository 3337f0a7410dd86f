"""Who wrote what is inside the package and under which licence: Debian's copyright file."""

from __future__ import annotations

import json
import re
from email import message_from_string
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

FORMAT = "https://www.debian.org/doc/packaging-manuals/copyright-format/1.0/"
APACHE_HERE = "Apache License, Version 2.0; its text is in /usr/share/common-licenses/Apache-2.0."
_NAMES = ("LICEN[CS]E*", "NOTICE*", "licenses/*")
_HOLDER = re.compile(r"^\W*(copyright\b.*[0-9]{4}.*)$", re.IGNORECASE | re.MULTILINE)


def copyright_file(root: Path, library: Path) -> str:
    """The copyright file of the package.

    Args:
        root: the checkout, with our LICENSE.
        library: the directory with the vendored packages, each with its dist-info.

    Raises:
        SystemExit: a vendored package brings no licence.
    """
    ours = (root / "LICENSE").read_text(encoding="utf-8")
    parts = [f"Format: {FORMAT}\nUpstream-Name: hypocaust", _part("*", "Expat", ours)]
    for about in sorted(library.glob("*/*.dist-info")):
        data = message_from_string((about / "METADATA").read_text(encoding="utf-8"))
        name = data["Name"]
        if name == "hypocaust":
            continue
        files = sorted({path for pattern in _NAMES for path in about.glob(pattern) if path.is_file()})
        if not files:
            raise SystemExit(f"{about.name} has no licence in it; it cannot be distributed like that")
        text = "\n\n".join(_words(path) for path in files)
        where = f"usr/lib/hypocaust/{about.parent.name}"
        covered = [f"{where}/{top}/*" for top in _folders(about)]
        covered += [f"{where}/{top}*" for top in _modules(about)]
        part = _part("\n ".join([*covered, f"{where}/{about.name}/*"]), f"{name}-{data['Version']}", text)
        parts.append(part + _compiled_in(about))
    return "\n\n".join(parts) + "\n"


def _words(path: Path) -> str:
    """A licence's text; the one that every Debian has a copy of is named only, as Debian asks."""
    text = path.read_text(encoding="utf-8").strip()
    return (
        APACHE_HERE
        if text.startswith("Apache License") or "Version 2.0, January 2004" in text[:400]
        else text
    )


def _compiled_in(about: Path) -> str:
    """What a compiled package has inside it, with the licences it names."""
    lines = []
    for path in sorted(about.glob("sboms/*.json")):
        for part in json.loads(path.read_text(encoding="utf-8"))["components"]:
            licences = [
                entry.get("expression") or entry["license"]["id"] for entry in part.get("licenses", ())
            ]
            lines.append(f"  {part['name']} {part['version']}: {', '.join(licences) or 'not named'}")
    return "\nComment: compiled into it\n" + "\n".join(lines) if lines else ""


def _folders(about: Path) -> list[str]:
    """The packages that came with a dist-info: folders of its own name, or those it lists."""
    return [name for name in _tops(about) if (about.parent / name).is_dir()]


def _modules(about: Path) -> list[str]:
    """Single files that came with a dist-info."""
    return [name for name in _tops(about) if not (about.parent / name).is_dir()]


def _tops(about: Path) -> list[str]:
    listed = about / "top_level.txt"
    if listed.exists():
        return sorted(listed.read_text(encoding="utf-8").split())
    name = about.name.partition("-")[0]
    return [name.removesuffix("_mqtt")]


def _part(files: str, licence: str, text: str) -> str:
    holders = "\n ".join(dict.fromkeys(found.strip() for found in _HOLDER.findall(text))) or "see the licence"
    body = "\n".join(f" {line.rstrip()}" if line.strip() else " ." for line in text.strip().splitlines())
    return f"Files: {files}\nCopyright: {holders}\nLicense: {licence}\n{body}"
