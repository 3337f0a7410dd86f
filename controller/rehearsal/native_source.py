"""Rewrites a module so that the ahead-of-time compiler makes the most of it; behaviour stays the same.

The compiler turns a plain class with typed attributes into a C struct, but builds and reads a named tuple
through the interpreter, and a frozen or slotted dataclass through generated Python. What is read by people
stays as it is; only the copy that is compiled is rewritten:

- a named tuple or frozen dataclass becomes a plain class with the same constructor, fields, order, equality
  ``_replace`` and ``_asdict``;
- any other dataclass loses ``slots``, which compiled classes have anyway and cannot be given afterwards;
- a mapping is taken to be the dictionary it always is, which compiled code walks through directly;
- imports for type checkers only become real ones, because compiled classes look their field types up.
"""

from __future__ import annotations

import ast

# As a dictionary key a tuple is hashed faster than a class can be, and these are mainly that.
KEYS = frozenset({"OutputId"})


def rewritten(source: str) -> str:
    """The module's source as it is compiled."""
    module = _Rewriter().visit(ast.parse(source))
    docstring_and_future = 2 if ast.get_docstring(module) is not None else 1
    module.body.insert(docstring_and_future, ast.parse("from typing import Any").body[0])
    return ast.unparse(ast.fix_missing_locations(module))


class _Rewriter(ast.NodeTransformer):
    def visit_If(self, node: ast.If) -> ast.If:
        if ast.unparse(node.test) == "TYPE_CHECKING":
            node.test = ast.Constant(value=True)
        return node

    def visit_Subscript(self, node: ast.Subscript) -> ast.Subscript:
        self.generic_visit(node)
        if ast.unparse(node.value) == "Mapping":
            node.value = ast.Name("dict", ast.Load())
        return node

    def visit_ClassDef(self, node: ast.ClassDef) -> ast.ClassDef:
        self.generic_visit(node)
        bases = [ast.unparse(base) for base in node.bases]
        if ("NamedTuple" in bases and node.name not in KEYS) or _is_plain_frozen(node):
            return _as_plain_class(node, [base for base in bases if base != "NamedTuple"])
        node.decorator_list = [_without_slots(decorator) for decorator in node.decorator_list]
        return node


def _is_plain_frozen(node: ast.ClassDef) -> bool:
    """Whether it is a frozen dataclass that gives no default by ``field``."""
    frozen = any(ast.unparse(each).startswith("dataclass(frozen=True") for each in node.decorator_list)
    return frozen and not any(
        isinstance(part, ast.AnnAssign)
        and part.value is not None
        and ast.unparse(part.value).startswith("field(")
        for part in node.body
    )


def _without_slots(decorator: ast.expr) -> ast.expr:
    if isinstance(decorator, ast.Call) and ast.unparse(decorator.func) == "dataclass":
        decorator.keywords = [keyword for keyword in decorator.keywords if keyword.arg != "slots"]
    return decorator


_PLAIN_CLASS = """
class {name}{bases}:
    {declared}

    def __init__(self, {arguments}) -> None:
        {assigned}

    def _replace(self, **changes: Any) -> {own_type}:
        return {name}({replaced})

    def _asdict(self) -> dict[str, Any]:
        return {{{named}}}

    def __iter__(self) -> Any:
        return iter(({values},))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, {name}) and ({values},) == ({others},)

    def __hash__(self) -> int:
        return hash(({values},))

    def __repr__(self) -> str:
        return f"{name}({shown})"
"""


def _as_plain_class(node: ast.ClassDef, bases: list[str]) -> ast.ClassDef:
    """A plain class in place of a named tuple; its methods are kept."""
    fields = [part for part in node.body if isinstance(part, ast.AnnAssign)]
    names = [ast.unparse(field.target) for field in fields]
    declared = [f"{name}: {ast.unparse(field.annotation)}" for name, field in zip(names, fields, strict=True)]
    arguments = [
        text if field.value is None else f"{text} = {ast.unparse(field.value)}"
        for text, field in zip(declared, fields, strict=True)
    ]
    text = _PLAIN_CLASS.format(
        name=node.name,
        own_type=node.name + "".join(base.removeprefix("Generic") for base in bases),
        bases=f"({', '.join(bases)})" if bases else "",
        declared="\n    ".join(declared),
        arguments=", ".join(arguments),
        assigned="\n        ".join(f"self.{name} = {name}" for name in names),
        replaced=", ".join(f"changes.get('{name}', self.{name})" for name in names),
        named=", ".join(f"'{name}': self.{name}" for name in names),
        values=", ".join(f"self.{name}" for name in names),
        others=", ".join(f"other.{name}" for name in names),
        shown=", ".join(f"{name}={{self.{name}!r}}" for name in names),
    )
    plain = ast.parse(text).body[0]
    assert isinstance(plain, ast.ClassDef)  # noqa: S101 - for the type checker; the text above begins so
    plain.body += [part for part in node.body if isinstance(part, ast.FunctionDef)]
    return plain
