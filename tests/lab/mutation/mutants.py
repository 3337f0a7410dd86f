"""Makes the mutants of a module: one small change each, with mutmut's operators."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import libcst as cst
from libcst.metadata import ByteSpanPositionProvider, MetadataWrapper, PositionProvider
from mutmut.mutation.mutators import mutation_operators

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path
    from types import CodeType

    from libcst.metadata import CodeSpan

    Chosen = Callable[[str, str, str, str], bool]

# Calls whose mutants could only fail for want of an argument, or that only a type checker reads.
UNTOUCHED_CALLS = frozenset({"len", "isinstance", "TypeVar", "NamedTuple"})
LONGEST_TEXT = 100


@dataclass(frozen=True, slots=True)
class Mutant:
    """One small change.

    Attributes:
        module: the file, as its path below the root of the sources.
        line: where the change begins.
        place: the function or method it is in, "" at the level of the module or a class.
        before: the code that was changed, on one line.
        after: what it was changed to.
        source: the whole file with the change.
    """

    module: str
    line: int
    place: str
    before: str
    after: str
    source: str


class _Finder(cst.CSTVisitor):
    """Collects every change that an operator makes to a node of the program's own logic."""

    METADATA_DEPENDENCIES = (PositionProvider,)

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[cst.CSTNode, cst.CSTNode, int, str]] = []
        self._within: list[str] = []

    def on_visit(self, node: cst.CSTNode) -> bool:
        if isinstance(node, cst.FunctionDef | cst.ClassDef):
            self._within.append(node.name.value)
        if isinstance(node, cst.Annotation | cst.Decorator | cst.Import | cst.ImportFrom) or _is_aside(node):
            return False
        for kind, operator in mutation_operators:
            if isinstance(node, kind):
                for changed in operator(node):
                    if not _only_letter_case(node, changed):
                        line = self.get_metadata(PositionProvider, node).start.line
                        self.found.append((node, changed, line, ".".join(self._within)))
        return True

    def on_leave(self, original_node: cst.CSTNode) -> None:
        if isinstance(original_node, cst.FunctionDef | cst.ClassDef):
            self._within.pop()


def _is_aside(node: cst.CSTNode) -> bool:
    """Docstrings, what only a type checker reads, and calls that are not worth a mutant."""
    if isinstance(node, cst.Expr):
        return isinstance(node.value, cst.SimpleString)
    if isinstance(node, cst.If):
        return isinstance(node.test, cst.Name) and node.test.value == "TYPE_CHECKING"
    return (
        isinstance(node, cst.Call) and isinstance(node.func, cst.Name) and node.func.value in UNTOUCHED_CALLS
    )


def _only_letter_case(node: cst.CSTNode, changed: cst.CSTNode) -> bool:
    """Whether a text was only written in capitals or small letters; one changed text each is enough."""
    return isinstance(node, cst.SimpleString) and "XX" not in getattr(changed, "value", "")


def _on_one_line(node: cst.CSTNode) -> str:
    text = " ".join(cst.Module([]).code_for_node(node).split())
    return text if len(text) <= LONGEST_TEXT else f"{text[:LONGEST_TEXT]}…"


def functions_of(code: CodeType) -> dict[str, CodeType]:
    """The code of every function and method of a module, by qualified name; nested ones belong to theirs."""
    found: dict[str, CodeType] = {}
    for part in code.co_consts:
        if hasattr(part, "co_qualname"):
            if part.co_flags & 0x02:  # CO_NEWLOCALS: a function; a class body has it not
                found[part.co_qualname] = part
            else:
                found |= functions_of(part)
    return found


def mutants_of(path: Path, module: str, chosen: Chosen | None = None) -> Iterator[Mutant]:
    """Every mutant of a file that is different code, one after the other.

    Args:
        path: the file.
        module: its name for people.
        chosen: which are wanted, by module, place, before and after; the others cost no compiling.
    """
    text = path.read_text(encoding="utf-8")
    wrapper = MetadataWrapper(cst.parse_module(text), unsafe_skip_copy=True)
    spans = wrapper.resolve(ByteSpanPositionProvider)
    finder = _Finder()
    wrapper.visit(finder)
    seen = {compile(text, module, "exec")}
    for node, changed, line, place in finder.found:
        before, after = _on_one_line(node), _on_one_line(changed)
        if chosen is not None and not chosen(module, place, before, after):
            continue
        source = _with_change(wrapper.module, text.encode(), spans[node], node, changed)
        try:
            code = compile(source, module, "exec")
        except SyntaxError:
            continue
        if code not in seen:
            seen.add(code)
            yield Mutant(module, line, place, before, after, source)


def _with_change(
    whole: cst.Module, text: bytes, span: CodeSpan, node: cst.CSTNode, changed: cst.CSTNode
) -> str:
    """The file with one node changed; cutting the text is a hundred times faster than writing it anew."""
    end = span.start + span.length
    if text[span.start : end] == whole.code_for_node(node).encode():
        changed_text = whole.code_for_node(changed).encode()
        return (text[: span.start] + changed_text + text[end:]).decode()
    return whole.deep_replace(node, changed).code  # type: ignore[arg-type]
