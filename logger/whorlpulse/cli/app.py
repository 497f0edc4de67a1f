"""The list of commands. A command's file is imported only when it is used, and so is what it needs."""

from __future__ import annotations

import shlex
from difflib import get_close_matches
from importlib import import_module
from pathlib import Path
from typing import Annotated, Any, Final

import typer
from typer.core import TyperCommand, TyperGroup

from whorlpulse import __version__

from .completion import print_lines
from .plain_text import taken_as_typed

#: Commands in the order of the help, from measuring to making: each is the function of that name in the file of that
#: name beside this one.
_ORDER: Final = (
    *("record", "find", "tally", "live", "ratio", "twist", "slip", "cadence", "check", "compare", "report", "survey"),
    *("plan", "ply", "sample", "calibrate", "gather", "convert", "simulate", "demo"),
)
COMMANDS: Final = tuple(name for name in _ORDER if Path(__file__).with_name(f"{name}.py").is_file())


class _Command(TyperCommand):
    """A command whose text is taken as typed."""

    def get_params(self, ctx: Any) -> list[Any]:
        """Return the arguments and options."""
        return taken_as_typed(super().get_params(ctx))


class _Commands(TyperGroup):
    """A group that finds its commands by name."""

    def get_params(self, ctx: Any) -> list[Any]:
        """Return the options, their text taken as typed."""
        return taken_as_typed(super().get_params(ctx))

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Write a help that fits a screen of 24 lines with every command on it: the options go into its first."""
        formatter.write("Usage: whorlpulse COMMAND [--help]   whorlpulse --version   --completion SHELL\n\n")
        formatter.write(f"  {self.help}\n\n")
        rows = [(name, command.get_short_help_str(66)) for name in COMMANDS if (command := self.get_command(ctx, name))]
        with formatter.indentation():
            formatter.write_dl(rows)

    def list_commands(self, ctx: Any) -> list[str]:
        """Return the names in the order of the help."""
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Return the command of that name, imported now; None if there is none."""
        if cmd_name not in COMMANDS:
            return None
        alone = typer.Typer(add_completion=False, rich_markup_mode=None)
        alone.command(cmd_name, cls=_Command)(getattr(import_module(f"whorlpulse.cli.{cmd_name}"), cmd_name))
        return typer.main.get_command(alone)

    def _say_finding(self, name: str, ctx: Any) -> None:
        """Print the section of a finding and end, if it is one that was asked for."""
        from .finding_page import section

        found = None if name in COMMANDS else section(name)
        if found is not None:
            typer.echo(found)
            ctx.exit()

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """Return the command that the words begin with; refuse another name with the nearest one.

        `help` and `help COMMAND` are tried by many who are new, and mean the same as --help; `help FINDING` is its
        section of the findings' page.
        """
        if args[0] == "help":
            if len(args) == 1:
                typer.echo(ctx.get_help())
                ctx.exit()
            self._say_finding(args[1], ctx)
            args = [args[1], "--help"]
        name = args[0]
        if name not in COMMANDS and not name.startswith("-") and not ctx.resilient_parsing:
            ctx.fail(f"there is no command {name!r}{_meant(name)}")
        return super().resolve_command(ctx, args)


def _meant(name: str) -> str:
    """Return what the user may have meant by a word that is no command: a command goes before a file."""
    if Path(name).is_file():
        return f": before a file stands what to do with it, as in whorlpulse check {shlex.quote(name)}"
    near = get_close_matches(name, COMMANDS, 1)
    return f": did you mean {near[0]}?" if near else ""


app = typer.Typer(
    cls=_Commands,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["--help", "-h"]},
)


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"whorlpulse {__version__}")
        raise typer.Exit


@app.callback(invoke_without_command=True)
def whorlpulse(
    ctx: typer.Context,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say the version and end.")
    ] = False,
    completion: Annotated[
        str | None,
        typer.Option("--completion", metavar="SHELL", callback=print_lines, is_eager=True, help="Lines for a shell."),
    ] = None,
) -> None:
    """A wheel's true ratio, and the twist in its yarn. Start with: demo."""
    if ctx.invoked_subcommand is None:
        from .first_steps import say_first_steps

        say_first_steps(Path.cwd())
