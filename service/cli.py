"""The command ``stilltaut``: finds the command asked for, and says errors in one line."""

import importlib
import sys
from collections.abc import Sequence

import click

from analysis.errors import StilltautError
from service import compiled_cache
from service.importing import nothing_thrown_away

# One command a file: name -> (module in service.commands, one line of help).
COMMANDS = {
    "demo": "build the invented museum, run the whole job, print the lists, then serve",
    "serve": "serve the pages",
    "register": "rooms, loggers, works, mounts and frames from CSV files",
    "read": "show how a logger's file is understood; stores nothing",
    "add": "take logger files in",
    "account": "who may sign in; a link for a forgotten password, also the last administrator's",
    "token": "what a gateway shows to send one logger's readings",
    "take-back": "take the readings of an upload back; its original stays",
    "air": "derived air quantities for each reading of a file",
    "events": "swings, excursions and spikes of a file",
    "week": "draw a room's week",
    "round": "look first / watch / leave be / cannot tell, with reasons",
    "why": "why a work is as it is at an hour: room, frame, print, tension, surface",
    "half-time": "how fast a frame follows its room, from a logger left inside it",
    "classes": "what works of one kind teach each other; to another museum and from it",
    "measure": "what to measure next, for the whole house",
    "plan": "mounting RH, hanging, sealing, spacer, set points, the days to come, mount sheet",
    "notices": "open notices, newest first",
    "report": "a month or a quarter: what happened, what was done, what it asks of whom",
    "journey": "what a work went through in crates and other houses",
    "due": "once, what the service does by the clock: silence, reminders, letters; for cron",
    "check": "verify originals, readings and register against each other",
    "archive": "write everything in plain text and Parquet",
    "restore": "read an archive back into an empty folder",
}


class Commands(click.Group):
    """A group that imports a command only when it is asked for, so that ``--help`` is quick."""

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
        command: click.Command = sys.modules[name].command
        return command

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
    try:
        compiled_cache.settle()
        code = stilltaut.main(args=arguments, prog_name="stilltaut", standalone_mode=False)
    except click.ClickException as problem:
        problem.show()
        code = 2
    except click.Abort:
        code = 2
    except StilltautError as problem:
        click.echo(f"stilltaut: {problem.in_words or problem}", err=True)
        code = 2
    except BrokenPipeError:
        sys.stderr.close()
        code = 0
    sys.exit(code if isinstance(code, int) else 0)
