"""What the commands say of themselves, and what goes wrong while they are called, in a language.

Help is written once, in English, where the option or the command stands; `make messages` finds it
there. Names of commands, options and values to put in are an interface and stay as they are.

The language is known before a command opens the museum: that of the house, where the folder named
by ``--data`` or by the settings holds its register; else that of LANGUAGE, LC_ALL, LC_MESSAGES or
LANG, where there is a catalogue for it; else English.
"""

import ast
import inspect
import re
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from pathlib import Path
from typing import IO, Any

import click
from babel import default_locale

from dashboards.text import error_words
from dashboards.text.messages import BRITISH, N_, _, has_catalogue, translated
from service.settings import PREFIX

DATA = re.compile(r"--data(?:=(.*))?")
BESIDE = re.compile(r"(.*?)  \[(.*)\]", re.DOTALL)  # help, and what click says of the value
OF_ITSELF = (N_("Show this message and exit."), N_("Show the version and exit."))
# Words of click itself, found again as they are written.
SECTIONS = {"Options": N_("Options"), "Commands": N_("Commands")}
HOUSE = "SELECT locale FROM sites ORDER BY borrower, site LIMIT 1"
Row = tuple[str, str]


def way_of_call(arguments: Sequence[str], environment: Mapping[str, str]) -> str:
    """Return the language and country in which a call of a command is answered."""
    folder = _folder(arguments) or environment.get(f"{PREFIX}DATA_DIR") or "data"
    register = Path(folder) / "register.db"
    if register.is_file() and not environment.get(f"{PREFIX}REGISTER_URL"):
        return _house(register) or BRITISH
    told = default_locale("LC_MESSAGES") or BRITISH
    return told if has_catalogue(told) else BRITISH


def _folder(arguments: Sequence[str]) -> str:
    for at, word in enumerate(arguments):
        if found := DATA.fullmatch(word):
            return found[1] or "".join(arguments[at + 1 : at + 2])
    return ""


def _house(register: Path) -> str | None:
    """Return what a house's register says; one that cannot be read is told of by the command."""
    try:
        with closing(sqlite3.connect(f"{register.absolute().as_uri()}?mode=ro", uri=True)) as file:
            row = file.execute(HOUSE).fetchone()
    except sqlite3.Error:
        return None
    return str(row[0]) if row and row[0] else None


class CommandHelp(click.HelpFormatter):
    """Help in the language in force: what stands in English in the commands is found again."""

    def write_usage(self, prog: str, args: str = "", prefix: str | None = None) -> None:
        """Write how a command is called."""
        super().write_usage(prog, args, prefix or _("Usage:") + " ")

    def write_heading(self, heading: str) -> None:
        """Write the heading of a list."""
        super().write_heading(translated(SECTIONS.get(heading, heading)))

    def write_text(self, text: str) -> None:
        """Write paragraphs."""
        super().write_text("\n\n".join(map(translated, paragraphs(text))))

    def write_dl(self, rows: Iterable[Row], col_max: int = 30, col_spacing: int = 2) -> None:
        """Write names and what they mean."""
        super().write_dl([(name, _meaning(text)) for name, text in rows], col_max, col_spacing)


def _meaning(text: str) -> str:
    beside = BESIDE.fullmatch(text)
    if beside is None:
        return translated(text)
    return f"{translated(beside[1])}  [{'; '.join(map(_of_value, beside[2].split('; ')))}]"


def _of_value(words: str) -> str:
    name, colon, value = words.partition(": ")
    if colon and name == "default":
        return _("default: {value}", value=translated(value))
    return _("required") if words == "required" else words


class CommandCall(click.Context):
    """A call whose help is written by `CommandHelp`."""

    formatter_class = CommandHelp


class CommandGroup(click.Group):
    """A group that lists its commands by the whole first sentence of their help."""

    context_class = CommandCall

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands."""
        with formatter.section("Commands"):
            formatter.write_dl(
                [(name, paragraphs(one.help or "")[0]) for name, one in self.commands.items()]
            )


def worded(command: click.Command) -> click.Command:
    """Return a command that, with those below it, writes its help in the language in force."""
    command.context_class = CommandCall
    for inner in getattr(command, "commands", {}).values():
        worded(inner)
    return command


def show(problem: click.ClickException) -> None:
    """Say on standard error what was wrong with a call, and where help is."""
    context = getattr(problem, "ctx", None)
    if context is not None:
        click.echo(context.get_usage(), err=True)
        asked = f"{context.command_path} {context.help_option_names[0]}"
        click.echo(_("Try '{command}' for help.", command=asked) + "\n", err=True)
    said = "\n".join(map(error_words.error_words, problem.format_message().splitlines()))
    click.echo(_("Error: {message}", message=said), err=True)


def paragraphs(text: str) -> list[str]:
    r"""Return the paragraphs of a help text, each in one line.

    Examples
    --------
    >>> paragraphs("Tell what\nhappened.\n\nA conservator decides.")
    ['Tell what happened.', 'A conservator decides.']
    """
    return [" ".join(one.split()) for one in inspect.cleandoc(text).split("\n\n")]


def extract(file: IO[bytes], keywords: Any, tags: Any, options: Any) -> Iterator[tuple[Any, ...]]:
    r"""Yield the messages of a file of commands: those of any file, and what its help says.

    Examples
    --------
    >>> from io import BytesIO
    >>> source = b'@click.command()\ndef command() -> None:\n    "Tell it."'
    >>> [message for _line, _name, message, _said in extract(BytesIO(source), {}, (), {})]
    ['Tell it.']
    """
    yield from error_words.extract(file, keywords, tags, options)
    file.seek(0)
    for node in ast.walk(ast.parse(file.read())):
        if isinstance(node, ast.FunctionDef) and any(map(_makes_command, node.decorator_list)):
            for one in paragraphs(ast.get_docstring(node) or ""):
                yield node.lineno, None, one, []
        elif isinstance(node, ast.keyword) and node.arg == "help":
            said = node.value
            if isinstance(said, ast.Constant):
                yield said.lineno, None, said.value, []


def _makes_command(decorator: ast.expr) -> bool:
    made = decorator.func if isinstance(decorator, ast.Call) else None
    return isinstance(made, ast.Attribute) and made.attr in ("command", "group")
