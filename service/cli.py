"""The command ``stilltaut``: finds the command asked for, and says errors in one line."""

import importlib
import os
import sys
from collections.abc import Sequence

import click

from analysis.errors import StilltautError
from dashboards.text.error_words import problem_words
from dashboards.text.messages import N_, in_the_way_of
from service import compiled_cache
from service.command_words import CommandCall, show, way_of_call, worded
from service.importing import nothing_thrown_away

# One command a file: name -> (module in service.commands, one line of help).
COMMANDS = {
    "demo": N_("build the invented museum, run the whole job, print the lists, then serve"),
    "serve": N_("serve the pages"),
    "register": N_("rooms, loggers, works, mounts and frames from CSV files"),
    "read": N_("show how a logger's file is understood; stores nothing"),
    "add": N_("take logger files in"),
    "account": N_(
        "who may sign in; a link for a forgotten password, also the last administrator's"
    ),
    "token": N_("what a gateway shows to send one logger's readings"),
    "take-back": N_("take the readings of an upload back; its original stays"),
    "air": N_("derived air quantities for each reading of a file"),
    "events": N_("swings, excursions and spikes of a file"),
    "week": N_("draw a room's week"),
    "round": N_("look first / watch / leave be / cannot tell, with reasons"),
    "why": N_("why a work is as it is at an hour: room, frame, print, tension, surface"),
    "half-time": N_("how fast a frame follows its room, from a logger left inside it"),
    "classes": N_("what works of one kind teach each other; to another museum and from it"),
    "measure": N_("what to measure next, for the whole house"),
    "plan": N_("mounting RH, hanging, sealing, spacer, set points, the days to come, mount sheet"),
    "notices": N_("open notices, newest first"),
    "report": N_("a month or a quarter: what happened, what was done, what it asks of whom"),
    "journey": N_("what a work went through in crates and other houses"),
    "due": N_("once, what the service does by the clock: silence, reminders, letters; for cron"),
    "check": N_("verify originals, readings and register against each other"),
    "compact": N_("put the months of years that are over into one file a logger and year"),
    "archive": N_("write everything in plain text and Parquet"),
    "restore": N_("read an archive back into an empty folder"),
    "group": N_("several houses served together: which house needs whom"),
}


class Commands(click.Group):
    """A group that imports a command only when it is asked for, so that ``--help`` is quick."""

    context_class = CommandCall

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the commands in the order of the job."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the command of that name, or None."""
        if cmd_name not in COMMANDS:
            return None
        name = f"service.commands.{cmd_name.replace('-', '_')}"
        if name not in sys.modules:
            with nothing_thrown_away():
                importlib.import_module(name)
        return worded(sys.modules[name].command)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="stilltaut")
def stilltaut() -> None:
    """Is it still taut? From room air to an answer for each tension-held photograph."""


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line. Exit codes: 0 done, 1 needs a person, 2 could not be done."""
    called = sys.argv[1:] if arguments is None else list(arguments)
    with in_the_way_of(way_of_call(called, os.environ)):
        sys.exit(_done(called))


def _done(arguments: list[str]) -> int:
    """Carry a command out; return its exit code."""
    try:
        compiled_cache.settle()
        code = stilltaut.main(args=arguments, prog_name="stilltaut", standalone_mode=False)
    except click.ClickException as problem:
        show(problem)
        code = 2
    except click.Abort:
        code = 2
    except StilltautError as problem:
        click.echo(f"stilltaut: {problem.in_words or problem_words(problem)}", err=True)
        code = 2
    except BrokenPipeError:
        sys.stderr.close()
        code = 0
    return code if isinstance(code, int) else 0
