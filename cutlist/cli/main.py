"""The command `evenlead`: one group; each command lives in a module of its own and is loaded only when called."""

from __future__ import annotations

import importlib
import os
import sys

import click

# command: (module, what it does in one line). Loaded when called, so that --help stays quick.
COMMANDS = {
    "plan": ("cutlist.cli.plan", "Plan a job: runs, lengths, cut list, order list, drawings."),
    "cut": ("cutlist.cli.cut", "Cut lengths you have already: cutting order, order list; pool several jobs."),
    "recut": ("cutlist.cli.recut", "After a miscut or a short spool: plan the rest anew, keeping what is cut."),
    "stock": ("cutlist.cli.stock", "Take what a plan uses from the stock file: stock take PLAN STOCK."),
    "check": ("cutlist.cli.check", "Read a job and its stock file and report every fault."),
    "new": ("cutlist.cli.new", "Write a commented starter job that plans as it is."),
    "schema": ("cutlist.cli.schema", "Print the JSON Schema of the job file, the stock file or the plan."),
    "compare": ("cutlist.cli.compare", "Compare ways of matching the leads and of connecting the strings."),
    "what-if": ("cutlist.cli.what_if", "Ask of a job: a string out, a string back, a bad crimp, one more."),
    "places": ("cutlist.cli.places", "Show where else the bus bars could go, and what that costs."),
    "drawing": ("cutlist.cli.drawing", "Write a planned job as DXF and SVG for other drawing programs."),
}


class LateGroup(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 (click's signature)
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:  # noqa: ARG002
        if name not in COMMANDS:
            return None
        found = getattr(importlib.import_module(COMMANDS[name][0]), name.replace("-", "_"))
        assert isinstance(found, click.Command)
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


@click.group(cls=LateGroup, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="evenlead", prog_name="evenlead")
def evenlead() -> None:
    """Equal leads for a battery bank: routes, lengths, cut list and order list from a job file.

    \b
    Exit status: 0 the plan meets every limit; 1 a plan exists but a limit fails;
    2 the input is wrong; 3 no feasible plan; 130 interrupted, and nothing was written.
    """


def main() -> None:
    try:
        # a command returns its exit status; click passes it through
        status = evenlead.main(standalone_mode=False)
        sys.stdout.flush()
        sys.exit(status if isinstance(status, int) else 0)
    except click.ClickException as fault:
        fault.show()
        sys.exit(2)
    except (click.Abort, KeyboardInterrupt):
        click.echo("interrupted: nothing was replaced", err=True)
        sys.exit(130)
    except BrokenPipeError:
        # the reader of our output went away (`| head`): not a fault of ours
        sys.stderr.close()
        sys.exit(0)
    except OSError as fault:
        click.echo(f"could not write: {fault.strerror or fault}; free some room, or write elsewhere", err=True)
        os._exit(2)  # what waits to be written cannot be: do not try again on the way out


if __name__ == "__main__":
    main()
