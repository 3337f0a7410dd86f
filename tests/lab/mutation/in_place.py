"""Puts a mutant into the running program, so that no module has to be imported again."""

from __future__ import annotations

import ast
import functools
import gc
import sys
from types import CodeType, FunctionType, ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from tests.lab.mutation.mutants import Mutant

# What a code does, apart from its constants.
PARTS = ("co_code", "co_names", "co_varnames", "co_freevars", "co_argcount", "co_exceptiontable")
CO_NEWLOCALS = 0x02  # set for functions, not for class bodies


class NotInPlaceError(Exception):
    """The change is not in a function or a module's constant, so it cannot be put in place."""


def functions_of(code: CodeType) -> dict[str, CodeType]:
    """The code of every function and method, by qualified name; nested functions belong to the outer one."""
    found: dict[str, CodeType] = {}
    for part in code.co_consts:
        if not isinstance(part, CodeType):
            continue
        if part.co_flags & CO_NEWLOCALS:
            found[part.co_qualname] = part
        else:
            found |= functions_of(part)
    return found


def _alike(one: CodeType, other: CodeType | None) -> bool:
    """Whether two codes do the same, on whatever lines they stand: a change may shorten a statement above."""
    if other is None or any(getattr(one, part) != getattr(other, part) for part in PARTS):
        return False
    pairs = zip(one.co_consts, other.co_consts, strict=False)
    return len(one.co_consts) == len(other.co_consts) and all(
        _alike(a, b)
        if isinstance(a, CodeType) and isinstance(b, CodeType)
        else (type(a), repr(a)) == (type(b), repr(b))
        for a, b in pairs
    )


class Original:
    """One module as it was imported, into which mutants of it can be put."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.text = path.read_text(encoding="utf-8")
        self.module = _imported_from(path)
        self._codes = functions_of(compile(self.text, str(path), "exec"))
        self._functions: dict[str, list[FunctionType]] = {}
        self._caches: list[functools._lru_cache_wrapper[object]] = []
        for thing in gc.get_objects():
            if isinstance(thing, functools._lru_cache_wrapper):
                self._caches.append(thing)
            if isinstance(thing, FunctionType) and thing.__code__.co_filename == str(path):
                self._functions.setdefault(thing.__code__.co_qualname, []).append(thing)

    def lines_of(self, mutant: Mutant) -> range:
        """The lines whose running makes a test worth trying: those of the function, or of the whole file."""
        for name, code in self._changed(mutant).items():
            lines = [line for _, _, line in self._codes[name].co_lines() if line is not None]
            del code
            return range(min(lines), max(lines) + 1)
        return range(1, self.text.count("\n") + 2)

    def only_at_import(self, mutant: Mutant) -> bool:
        """Whether the change is outside of every function."""
        return not self._changed(mutant)

    def put(self, mutant: Mutant) -> None:
        """Make the running program that mutant.

        Raises:
            NotInPlaceError: the change is in the body of a class, in a default, or in a statement that runs
                only at import.
        """
        changed = self._changed(mutant)
        for name, code in changed.items():
            if name not in self._functions:
                raise NotInPlaceError
            for function in self._functions[name]:
                function.__code__ = code
        if not changed:
            self._put_constant(mutant)
        for cache in self._caches:  # what was worked out before the change must not be used after it
            cache.cache_clear()

    def _changed(self, mutant: Mutant) -> dict[str, CodeType]:
        codes = functions_of(compile(mutant.source, str(self.path), "exec"))
        return {name: code for name, code in codes.items() if not _alike(code, self._codes.get(name))}

    def _put_constant(self, mutant: Mutant) -> None:
        before, after = ast.parse(self.text).body, ast.parse(mutant.source).body
        for old, new in zip(before, after, strict=True):
            if ast.dump(old) == ast.dump(new):
                continue
            target = new.targets[0] if isinstance(new, ast.Assign) else getattr(new, "target", None)
            value = getattr(new, "value", None)
            if not isinstance(target, ast.Name) or value is None:
                raise NotInPlaceError
            expression = compile(ast.Expression(value), str(self.path), "eval")
            changed = eval(expression, vars(self.module))  # noqa: S307 - our own source
            _replace_everywhere(target.id, getattr(self.module, target.id), changed)


def _imported_from(path: Path) -> ModuleType:
    return next(m for m in list(sys.modules.values()) if getattr(m, "__file__", None) == str(path))


def _replace_everywhere(name: str, old: object, new: object) -> None:
    """Other modules have imported a constant by name; they get the new one, too."""
    for module in list(sys.modules.values()):
        if isinstance(module, ModuleType) and vars(module).get(name) is old:
            setattr(module, name, new)
