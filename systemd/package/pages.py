"""Manual pages and bash completion, written from the program's own command line and settings reference."""

from __future__ import annotations

import argparse
import re
import shlex
from typing import TYPE_CHECKING

from controller.cli import _parser
from controller.cli.arguments import DEFAULT_FILE
from controller.settings.reference import reference

if TYPE_CHECKING:
    from collections.abc import Iterator

COMMANDS_TAIL = f"""
.SH FILES
.TP
.I {DEFAULT_FILE}
The settings of the house; see
.BR hypocaust\\-settings (5).
.TP
.I /run/hypocaust
What the service keeps until the next boot: its status, its timers.
.TP
.I /var/lib/hypocaust
History, latches and a copy of the last good settings.
.TP
.I /usr/share/doc/hypocaust
How to begin, what the controller decides and promises, and the notes on hardware. Read their cautions first.
.SH CAUTION
Mains electricity, pumps and standing water kill. Isolate and lock the supply before you reach into a fan, an
outlet or a sump. Wiring is the work of a licensed electrician.
.SH SEE ALSO
.BR hypocaust\\-settings (5),
.BR systemctl (1),
.BR journalctl (1)
"""

FILE_WORDS = frozenset({"FILE", "DIR"})


def commands(version: str, day: str) -> str:
    """hypocaust(1): every command with its arguments and options."""
    parser = _parser()
    lines = [_title("HYPOCAUST", 1, version, day, "User commands")]
    lines += [".SH NAME", r"hypocaust \- controller for a greenhouse that stores sun heat in the soil"]
    lines += [".SH SYNOPSIS", ".B hypocaust", r".I COMMAND\fR [\fIARGUMENTS\fR]", ".SH DESCRIPTION"]
    lines += [_text(str(parser.description)), ".SH COMMANDS"]
    for name, help_text, command in _subcommands(parser):
        lines += _command(name, help_text, command)
    return "\n".join(lines) + COMMANDS_TAIL


def _command(name: str, help_text: str, command: argparse.ArgumentParser) -> Iterator[str]:
    """One command as a section."""
    positional = [action for action in command._actions if not action.option_strings]
    synopsis = " ".join(_positional(action) for action in positional)
    yield f".SS hypocaust {name} {synopsis}".rstrip()
    yield _text(_sentence(help_text))
    formatter = command._get_formatter()
    for action in command._actions:
        if isinstance(action, argparse._HelpAction) or action.help is argparse.SUPPRESS:
            continue
        yield ".TP"
        yield f"\\fB{_option(action)}\\fR" if action.option_strings else _positional(action)
        explained = formatter._expand_help(action) if action.help else ""
        choices = f" One of: {', '.join(map(str, action.choices))}." if action.choices else ""
        yield _text(_sentence(explained) + choices)


def _subcommands(parser: argparse.ArgumentParser) -> Iterator[tuple[str, str, argparse.ArgumentParser]]:
    """Name, help and parser of every command."""
    group = next(action for action in parser._actions if isinstance(action, argparse._SubParsersAction))
    help_of = {action.dest: action.help or "" for action in group._choices_actions}
    for name, command in group.choices.items():
        yield name, help_of[name], command


def _word(action: argparse.Action) -> str:
    """What stands for a value, as the command's own help shows it."""
    shown = action.metavar if isinstance(action.metavar, str) else None
    return shown or ("|".join(map(str, action.choices)) if action.choices else action.dest.upper())


def _positional(action: argparse.Action) -> str:
    word = f"\\fI{_text(_word(action))}\\fR"
    if action.nargs == "?":
        return f"[{word}]"
    return f"{word} ..." if action.nargs in ("+", "*") else word


def _option(action: argparse.Action) -> str:
    value = "" if action.nargs == 0 else f" \\fI{_text(_word(action))}\\fB"
    return ", ".join(_text(option) + value for option in action.option_strings)


def _sentence(text: str) -> str:
    """Help texts begin small and have no full stop; pages have sentences."""
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?", "!")) or not text else ".")


def settings(version: str, day: str) -> str:
    """hypocaust-settings(5): the settings reference."""
    lines = [_title("HYPOCAUST-SETTINGS", 5, version, day, "File formats")]
    lines += [".SH NAME", r"hypocaust\-settings \- the settings file of the greenhouse controller hypocaust"]
    lines += [".SH SYNOPSIS", f".I {DEFAULT_FILE}", ".SH DESCRIPTION"]
    _, *page = reference().splitlines()
    for line in page:
        lines += _from_markdown(line)
    lines += [".SH SEE ALSO", r".BR hypocaust (1)", ""]
    return "\n".join(lines)


def _from_markdown(line: str) -> Iterator[str]:
    """One line of the reference; it uses headings, bullets, tables, and lines that end in two blanks."""
    if line.startswith("## "):
        yield f'.SH "{_text(line[3:])}"'
    elif line.startswith("- "):
        yield '.IP "\\(bu" 2'
        yield _marked(line[2:])
    elif line.startswith("|"):
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if not line.startswith("|---") and cells[0] != "Kind":
            yield ".TP"
            yield f"\\fB{_text(cells[0])}\\fR"
            yield _marked(f"{cells[1]}; for example {cells[2]}")
    elif line.endswith("  "):
        yield ".TP"
        yield _marked(line.rstrip())
    elif line.strip():
        yield _marked(line.strip())
    else:
        yield ".PP"


def _marked(text: str) -> str:
    """Emphasis, code and links of the reference as fonts."""
    text = re.sub(r"\[([^]]+)\]\([^)]*\)", r"\1", _text(text))
    text = re.sub(r"\*\*`?([^*`]+)`?\*\*", r"\\fB\1\\fR", text)
    text = re.sub(r"`([^`]+)`", r"\\fB\1\\fR", text)
    return re.sub(r"(?<!\w)\*([^*]+)\*", r"\\fI\1\\fR", text)


def _text(text: str) -> str:
    """Words as roff wants them; a line must not begin like a request."""
    text = text.replace("\\", r"\e").replace("-", r"\-")
    return rf"\&{text}" if text.startswith((".", "'")) else text


def _title(name: str, section: int, version: str, day: str, kind: str) -> str:
    head = f'.TH {_text(name)} {section} {day} "hypocaust {version}" "{kind}"'
    return "\n".join(("'\\\" -*- coding: utf-8 -*-", head, ".nh", ".ad l"))


def completion() -> str:
    """The bash completion of ``hypocaust``."""
    parser = _parser()
    known = list(_subcommands(parser))
    cases, values = [], []
    for name, _, command in known:
        options = [option for action in command._actions for option in action.option_strings]
        words = [
            str(word)
            for action in command._actions
            if not action.option_strings
            for word in action.choices or ()
        ]
        quoted = [shlex.quote(" ".join(listed)) for listed in (options, words)]
        cases.append(f"        {name}) options={quoted[0]} words={quoted[1]} ;;")
        for action in command._actions:
            if action.option_strings and action.choices:
                chosen = " ".join(map(str, action.choices))
                marks = "|".join(f"{name}:{option}" for option in action.option_strings)
                values.append(f"        {marks}) options= words={shlex.quote(chosen)} files= ;;")
    first = " ".join([*(name for name, _, _ in known), "--help", "--version"])
    return COMPLETION.format(first=first, cases="\n".join(cases), values="\n".join(values))


COMPLETION = """\
# bash completion for hypocaust; written from the program's own command line

_hypocaust() {{
    local current=${{COMP_WORDS[COMP_CWORD]}} before=${{COMP_WORDS[COMP_CWORD - 1]}}
    local command=${{COMP_WORDS[1]}}
    local options= words= files=yes
    COMPREPLY=()
    if [ "$COMP_CWORD" -eq 1 ]; then
        mapfile -t COMPREPLY < <(compgen -W '{first}' -- "$current")
        return
    fi
    case $command in
{cases}
        *) return ;;
    esac
    case $command:$before in
{values}
    esac
    if [[ $current == -* ]]; then
        mapfile -t COMPREPLY < <(compgen -W "$options" -- "$current")
        return
    fi
    mapfile -t COMPREPLY < <(compgen -W "$words" -- "$current")
    if [ -n "$files" ]; then
        mapfile -t -O "${{#COMPREPLY[@]}}" COMPREPLY < <(compgen -f -- "$current")
    fi
}}

complete -o filenames -F _hypocaust hypocaust
"""
