"""The program ``fecallab``: joins the nouns and turns every problem into one line and an exit code."""

from __future__ import annotations

import errno
import os
import re
import sys
from collections.abc import Sequence
from functools import cache
from typing import Any

import typer

from fecallab.cli.ask import may_ask
from fecallab.cli.nouns import first_word, join
from fecallab.cli.output import emit_error, prepare_streams, say
from fecallab.cli.scanned import codes_for, is_scanned
from fecallab.domain.errors import BadInput, CouldNot, FecallabError

TRACE = "FECALLAB_TRACE"
"""Set this environment variable to see the trace of a fault of the program itself."""

STOPPED = 130
"""Exit code when the person pressed Ctrl-C, as shells know it."""

_UsageTrouble: type[Exception] = typer.BadParameter.__mro__[2]
"""What typer raises for a wrong option or a missing word, whichever copy of click it carries."""

HELP = """Fecal exams of reptiles: from a sample to a case that is clear by the rule.

A screening aid and a record, no diagnosis: your vet and your local law decide."""


def build_app(wanted: str | None = None) -> typer.Typer:
    """Join one thin module per noun into one program.

    Parameters
    ----------
    wanted : str or None
        The one noun or command that is loaded; the others are there by name and help only. None loads all.
    """
    app = typer.Typer(
        name="fecallab",
        help=HELP,
        no_args_is_help=True,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )

    @app.callback()
    def root(
        version: bool = typer.Option(
            False, "--version", help="Print the version and stop.", is_eager=True, callback=_print_version
        ),
    ) -> None:
        pass

    join(app, wanted)
    return app


def _print_version(wanted: bool) -> None:
    if wanted:
        from fecallab import __version__

        print(f"fecallab {__version__}")
        raise typer.Exit


@cache
def _program(wanted: str | None) -> Any:
    """Build the program once for each word, for a story of many commands in one process too."""
    from fecallab.cli.help_words import plain_kinds

    program = typer.main.get_command(build_app(wanted))
    plain_kinds(program)
    return program


def _program_for(words: list[str]) -> Any:
    """Return the program with the command loaded that was typed, or is being completed in a shell."""
    if "_FECALLAB_COMPLETE" in os.environ:
        line = os.environ.get("COMP_WORDS") or os.environ.get("_TYPER_COMPLETE_ARGS", "")
        words = line.split()[1:]
    return _program(first_word(words))


def run(argv: Sequence[str] | None = None) -> int:
    """Run the program and return its exit code.

    Parameters
    ----------
    argv : sequence of str, optional
        The words after ``fecallab``; those of the process when omitted.

    Returns
    -------
    int
        0 done, 1 a refused act or dose, 2 bad input, 3 could not, 130 stopped by the person.
    """
    words = list(sys.argv[1:] if argv is None else argv)
    as_json = "--json" in words
    prepare_streams()
    try:
        if any(map(is_scanned, words)):
            words = codes_for(words)
        result = _asked(words) if may_ask(words) else _whole(words)
    except FecallabError as error:
        emit_error(error, as_json)
        return error.exit_code
    except typer.Exit as stop:
        result = stop.exit_code
    except (typer.Abort, KeyboardInterrupt):
        return _stopped()
    except _UsageTrouble as error:
        if type(error).__name__ == "NoArgsIsHelpError":
            print(error)
            return 0
        emit_error(_bad_usage(error, words), as_json)
        return 2
    except UnicodeEncodeError:
        text = "A word that was typed holds half of a character; it cannot be looked up or recorded."
        emit_error(BadInput(text, next="Type it anew.", code="half-a-character"), as_json)
        return 2
    except OSError as error:
        emit_error(could_not_from(error), as_json)
        return 3
    except Exception as error:
        if os.environ.get(TRACE):
            raise
        emit_error(fault_from(error), as_json)
        return 3
    if result == STOPPED:
        return _stopped()
    return result if isinstance(result, int) else 0


def _stopped() -> int:
    say("Stopped. Nothing was recorded by the step that was stopped.")
    return STOPPED


def _whole(words: list[str]) -> Any:
    """Run a command as it was typed; say what may be typed when there is none."""
    if not words and "_FECALLAB_COMPLETE" not in os.environ:
        from fecallab.cli.what_next import what_next

        print(what_next(), flush=True)
        return 0
    return _program_for(words).main(args=words, prog_name="fecallab", standalone_mode=False)


def _asked(words: list[str]) -> Any:
    """Open the start screen for the bare program; else ask for what a command was not given."""
    if not words:
        from fecallab.cli.start_screen import open_start_screen

        return open_start_screen(run)
    from fecallab.cli.ask.command import with_questions

    return with_questions(_program_for(words), words, _whole)


def fault_from(error: Exception) -> CouldNot:
    """Say a fault of this program in one line; the trace is shown on request."""
    return CouldNot(
        f"A fault inside fecallab ({type(error).__name__}: {str(error)[:200]}); what was being recorded is not"
        " kept.",
        next=f"Repeat it with {TRACE}=1 set and report the last lines.",
        code="fault",
    )


def _bad_usage(error: Any, words: Sequence[str]) -> BadInput:
    """Say in one line which word or option is wrong, what was probably meant, and where the help is."""
    context = getattr(error, "ctx", None)
    path = context.command_path if context is not None else "fecallab"
    said = " ".join(error.format_message().split())
    step = f"Type: {path} --help"
    if re.match(r"No such option: -[\d.]", said):
        step = "A number below zero is typed after two dashes, at the end: -- -1.5"
    elif said.startswith("No such option") and context is not None:
        from fecallab.cli.near import meant_option

        said = f"{said.partition(' (')[0].rstrip('.')}."
        if near := meant_option(context.command, str(getattr(error, "option_name", ""))):
            step = f"Did you mean {near}? {step}"
    elif said.startswith("No such command") and context is not None:
        said = said.partition(" Did you mean")[0]
        step = f"{_nearest_command(context, words)}{step}"
    return BadInput(said, next=step, code="usage")


def _nearest_command(context: Any, words: Sequence[str]) -> str:
    """Say what may follow a noun, or which whole command was probably meant."""
    from fecallab.cli.near import meant_command, meant_otherwise, near_verbs, verbs_of

    typed = [word for word in words if not word.startswith("-")]
    depth = len(context.command_path.split()) - 1
    if not meant_otherwise(typed):
        if near := near_verbs(context.command, typed[depth].lower() if depth < len(typed) else ""):
            return f"Did you mean {' or '.join(map(repr, near))}? "
        if context.parent is not None:
            return f"After {context.command_path} comes one of: {', '.join(verbs_of(context.command))}. "
    meant = meant_command(_program(None), words)
    return f"Did you mean: {' or '.join(f'fecallab {one}' for one in meant)}? " if meant else ""


def could_not_from(error: OSError) -> CouldNot:
    """Say in one line what the disk or the system refused."""
    what = f"{error.strerror or error}" + (f": {error.filename}" if error.filename else "")
    if error.errno == errno.ENOSPC:
        return CouldNot(
            f"The disk is full ({what}); nothing was changed.", next="Free some space and repeat."
        )
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return CouldNot(f"Not allowed ({what}); nothing was changed.", next="Check the folder's permissions.")
    return CouldNot(f"The system said: {what}; nothing was changed.", next="Repeat, or name another folder.")


def main() -> None:
    """Entry point of the console script."""
    raise SystemExit(run())


if __name__ == "__main__":
    main()
