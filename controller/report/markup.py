"""Tags for pages and charts. What is not a tag made here is escaped, so that no name can become one."""

from __future__ import annotations

from html import escape

from controller.letters import visible

# Elements of HTML that have neither content nor end tag (HTML Living Standard, void elements).
_VOID = frozenset(("meta", "br", "col"))

# Spaces at which no line ends, as they stand between a number and its unit.
SPACES = "\n\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}"


class Markup(str):
    """Text that is markup already."""

    __slots__ = ()


def escaped(text: str) -> Markup:
    """A text as content or value of an attribute; letters that steer a reader's screen are replaced."""
    return Markup(escape(visible(text, keep=SPACES)))


def tag(name: str, /, *children: str | None, **attributes: str | float | None) -> Markup:
    """One element.

    Args:
        name: of the element.
        children: its content in order; what is no markup is escaped, None is left out.
        attributes: a trailing underscore is dropped, others become hyphens; None is left out.
    """
    written = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{_value(value)}"'
        for key, value in attributes.items()
        if value is not None
    )
    if name in _VOID:
        return Markup(f"<{name}{written}>")
    return Markup(f"<{name}{written}>{joined(children)}</{name}>")


def joined(children: tuple[str | None, ...] | list[Markup]) -> Markup:
    """Contents one after the other."""
    return Markup(
        "".join(
            child if isinstance(child, Markup) else escaped(child) for child in children if child is not None
        )
    )


def number(value: float) -> str:
    """A number in an attribute, to a hundredth."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def percent(share: float) -> str:
    """A place across a chart of any width."""
    return f"{number(100.0 * share)}%"


def _value(value: str | float) -> str:
    return escaped(value) if isinstance(value, str) else number(value)
