"""Ways in which a file of the controller's memory can be damaged."""

from __future__ import annotations

import json
import random as random_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path

EMPTY, CUT, TORN, ANOTHER = "empty", "cut", "torn", "another"
NUMBERS = (-1.0, 1e30, 0.0, "soon", None, [], 1e6)


def damaged(random: random_module.Random) -> str:
    """A way to damage a file, by its word."""
    way = random.choice((EMPTY, CUT, TORN, ANOTHER, "number"))
    return f"number {random.randrange(1_000_000)}" if way == "number" else way


def damage(path: Path, way: str) -> None:
    """Damage a file, if it is there."""
    try:
        content = path.read_bytes()
    except OSError:
        return
    match way:
        case "empty":
            content = b""
        case "cut":
            content = content[: len(content) // 2]
        case "torn":
            content = content[: len(content) // 3] + b"\x00" * 512 + content[len(content) // 2 :]
        case "another":
            content = b'{"version": 99, "what": "is this"}'
        case _:
            content = _with_wrong_number(content, int(way.split()[1]))
    path.write_bytes(content)


def _with_wrong_number(content: bytes, seed: int) -> bytes:
    """One number of the memory is another one: JSON as before, but not what was written."""
    random = random_module.Random(seed)  # noqa: S311 - a campaign has to be repeatable
    try:
        document = json.loads(content)
    except ValueError:
        return content
    places = list(_numbers(document))
    if places:
        holder, key = random.choice(places)
        holder[key] = random.choice(NUMBERS)
    return json.dumps(document).encode()


def _numbers(node: Any) -> Any:
    """Every number of a document, as what holds it and its key."""
    items = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in items:
        if isinstance(value, float):
            yield node, key
        yield from _numbers(value)
