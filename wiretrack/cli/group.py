# SPDX-License-Identifier: MIT
"""The command group: loads a command's module when it is called, and puts errors into words.

This is the one place where an error becomes a line on standard error and an exit status.
"""

from __future__ import annotations

import codecs
import gc
import importlib
import io
import os
import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import click
from click.core import ParameterSource

from wiretrack.cli.command import Group
from wiretrack.cli.terminal import sentences, terminal
from wiretrack.cli.wording import COMPLETING, REGISTRY, told, typed_db
from wiretrack.errors import SiteFileError, WiretrackError
from wiretrack.files import found_above
from wiretrack.plain import one_line

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

# Each command by its job, in the order of the work: its module and the line of help that
# `wiretrack --help` shows, kept here so that help and completion import no command.
JOBS = {
    "Describe": {
        "new": ("describe", "Make an empty registry."),
        "load": ("describe", "Add what a site file holds, all or nothing."),
        "add": ("enter", "Add one record, or a bundle of wires that are alike."),
        "set": ("enter", "Correct or complete a record, its code included."),
        "note": ("history", "Keep a remark with any record, or take one back."),
        "attach": ("history", "Keep a picture or a PDF with any record, or get one back."),
        "demo": ("demo", "Build the demo site and do the whole job on it."),
    },
    "Identify": {
        "ringout": ("ringout", "Find which end belongs to which by continuity."),
        "land": ("change", "Land an end on a terminal, cap it, or set it loose."),
    },
    "Label": {
        "label": ("label", "Fit and print the labels for both ends."),
        "marking": ("report", "List the markings that the code requires, by place."),
        "scan": ("find", "Read the QR codes in a photograph and show the records."),
    },
    "Test": {
        "test": ("test", "Plan and log continuity, insulation and polarity tests."),
        "string": ("test", "Say what a PV string should read, and what a wrong reading means."),
        "expect": ("trouble", "Say what a meter should read, or how long a conductor is."),
        "trend": ("test", "Follow a conductor's readings over the years."),
        "check": ("report", "Check the wiring rules, with figures, limits and sources."),
    },
    "Find": {
        "show": ("show", "Show a conductor, circuit, enclosure, raceway or pull."),
        "find": ("find", "Look up words in everything recorded."),
        "sites": ("find", "List the registries of a folder, with what is open in each."),
        "trace": ("find", "Follow the path from a conductor or terminal, end to end."),
        "isolate": ("trouble", "Say what goes dead and what stays live with a device."),
        "fault": ("trouble", "Say where along the route a measured fault lies."),
        "symptom": ("trouble", "Search for a fault, guided reading by reading."),
    },
    "Change": {
        "extend": ("change", "Lead conductors through a box, where they are cut and landed."),
        "replace": ("change", "Replace a conductor by a new one."),
        "retire": ("change", "Take a conductor or circuit out of the work; its record stays."),
        "swap": ("change", "Put right the record of two ends found crossed."),
        "undo": ("history", "Take a change back by a new one."),
        "history": ("history", "Show who changed what, when, and from what to what."),
    },
    "Hand over": {
        "punchlist": ("report", "List what is still open on the site."),
        "report": ("report", "Write the verification report, to be printed and signed."),
        "binder": ("report", "Write the whole record as pages that open without wiretrack."),
        "export": ("sheets", "Write all tables as a workbook, or as CSV files."),
        "dump": ("describe", "Write the whole registry as a site file."),
        "verify": ("describe", "Check that the registry is OK."),
        "backup": ("keeping", "Copy the registry while it is in use."),
        "merge": ("keeping", "Take in a copy that was changed apart."),
        "same": ("keeping", "Say that two records are of one and the same thing."),
        "rescue": ("keeping", "Save what the log proves in a damaged registry."),
    },
    "Serve": {
        "serve": ("serve", "Serve the pages for phones and the HTTP API."),
        "manual": ("demo", "Show a topic of the manual, or which topics there are."),
        "completion": ("completion", "Print the script by which a shell completes what you type."),
    },
}
COMMANDS = {name: told for commands in JOBS.values() for name, told in commands.items()}
COMMANDLINE = ParameterSource.COMMANDLINE
BAD_INPUT, UNFORESEEN, INTERRUPTED = 2, 70, 130  # 70: EX_SOFTWARE of sysexits.h


class LazyGroup(Group):
    """A group whose commands are imported when they are called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the commands in working order."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        """Return the command called `name`."""
        if name not in COMMANDS:
            return None
        module = importlib.import_module(f"wiretrack.cli.{COMMANDS[name][0]}")
        command: click.Command = getattr(module, "set_" if name == "set" else name)
        if COMPLETING in os.environ:
            from wiretrack.cli.completing import teach

            teach(command)
        return command

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        """Return the commands that begin so without importing any, or the options."""
        from click.shell_completion import CompletionItem

        found = [
            CompletionItem(name, help=told)
            for name, (_, told) in COMMANDS.items()
            if name.startswith(incomplete)
        ]
        return found + click.Command.shell_complete(self, ctx, incomplete)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the commands by their jobs without importing any."""
        for job, commands in JOBS.items():
            with formatter.section(job):
                formatter.write_dl([(name, told) for name, (_, told) in commands.items()])


@click.command(
    cls=LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"]},
    invoke_without_command=True,
)
@click.option(
    "--db",
    "db",
    type=click.Path(path_type=Path),
    envvar="WIRETRACK_DB",
    help=f"The registry; else $WIRETRACK_DB, else {REGISTRY} here or in a folder above.",
)
@click.version_option(package_name="wiretrack", message="wiretrack %(version)s")
@click.pass_context
def wiretrack(ctx: click.Context, db: Path | None) -> None:
    """Keep every conductor of a site: identify it, test it, label it, find it again."""
    typed_db.set(str(db) if ctx.get_parameter_source("db") is COMMANDLINE else None)
    ctx.obj = db or (Path(REGISTRY) if ctx.invoked_subcommand == "new" else found_above(REGISTRY))
    if ctx.invoked_subcommand is None:
        from wiretrack.cli.find import show_here

        show_here(ctx.obj)


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and end the process with the status that scripts rely on.

    A sign that the terminal's encoding lacks is shown by those that it has, as on Windows.
    """
    codecs.register_error("plain signs", _in_plain_signs)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="plain signs")
    status = run(arguments)
    gc.freeze()  # else the interpreter looks through all that is left, only to end
    sys.exit(status)


_SIGNS = {"→": "->", "Ω": "ohm", "–": "-", "│": "|", "├": "|-", "└": "`-", "─": "-", "●": "*",
          "○": "o", "≤": "<=", "≥": ">=", "²": "2", "√": "sqrt ", "…": "...", "·": ","}  # fmt: skip


def _in_plain_signs(error: UnicodeError) -> tuple[str, int]:
    """Return what stands for the signs that an encoding lacks, and where to go on."""
    assert isinstance(error, UnicodeEncodeError)
    return "".join(_SIGNS.get(c, "?") for c in error.object[error.start : error.end]), error.end


def run(arguments: list[str] | None = None) -> int:
    """Run the command line and return the exit status: 0, 1 a check failed, 2 input, 3 registry."""
    typed = typed_db.set(None)
    try:
        return _status_of(arguments)
    finally:
        typed_db.reset(typed)


def _status_of(arguments: list[str] | None) -> int:
    if COMPLETING in os.environ:
        with suppress(Exception, SystemExit):
            wiretrack.main(args=arguments, prog_name="wiretrack", standalone_mode=False)
        return 0
    try:
        ended = wiretrack.main(args=arguments, prog_name="wiretrack", standalone_mode=False)
        status = int(ended or 0)
        sys.stdout.flush()
        return status
    except WiretrackError as error:
        return _complain_of(error)
    except click.exceptions.NoArgsIsHelpError as error:  # of a group: label, test
        click.echo(error.format_message())
        return BAD_INPUT
    except click.UsageError as error:
        from wiretrack.cli.mistyped import worded

        return complain(worded(error), BAD_INPUT)
    except click.ClickException as error:
        return complain(error.format_message(), BAD_INPUT)
    except (click.Abort, KeyboardInterrupt):
        return complain("stopped. Nothing is half done. What was saved stays saved.", INTERRUPTED)
    except (BrokenPipeError, SystemExit):  # click makes one of a closed pipe
        for stream in (sys.stdout, sys.stderr):
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        return 0
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        hint = "See that the file and its folder can be used."
        return complain(f"{where}{error.strerror or error}. {hint}", BAD_INPUT)
    except Exception as error:
        if os.environ.get("WIRETRACK_DEBUG"):
            raise
        what = f"{type(error).__name__}: {error}"
        hint = "Set WIRETRACK_DEBUG=1 to see where, and report it."
        return complain(f"wiretrack failed ({what}). {hint}", UNFORESEEN)


def _complain_of(error: WiretrackError) -> int:
    """Write an error as a line; the faults of a file, where it has several, a line each."""
    if not isinstance(error, SiteFileError) or len(error.faults) < 2:
        return complain(told(error), error.exit_status)
    _write(f"error: {error.file} was not loaded, {len(error.faults)} faults:")
    for fault in error.faults:
        _write(str(fault))
    return error.exit_status


def complain(message: str, status: int) -> int:
    """Write one line on standard error and return `status`."""
    _write(f"error: {message}")
    return status


def _write(message: str) -> None:
    line = one_line(message)
    if sys.stderr.isatty():
        line = "\n".join(part.rstrip() for part in sentences(line, terminal(sys.stderr).width))
    click.echo(line, err=True)
