"""The command line: finds the command's module, parses its words, turns errors into a sentence and an exit status.

A command's module has ``add_arguments(parser)`` and ``run(arguments) -> exit status``; it is imported only when asked
for, so that ``condyle --help`` answers at once.
"""

import argparse
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import NoReturn

from condyle import __version__
from condyle.errors import CondyleError, ConfigurationErrors

COMMANDS = {
    "run": ("condyle.commands.run", "process one session folder (or its session.yaml)"),
    "check": ("condyle.commands.check", "only read and judge: a session, a marker set, or many sessions"),
    "inspect": ("condyle.commands.inspect", "what is in a C3D file, and what is wrong with it"),
    "draft": ("condyle.commands.draft", "write session.yaml and markers.yaml for a folder of C3D files"),
    "agree": ("condyle.study.command_line", "2D screening against the 3D reference, over a study"),
    "archive": ("condyle.archive.command_line", "many sessions; resumes where it stopped"),
    "export": ("condyle.archive.export_command_line", "write results in open formats"),
    "sample": ("condyle.commands.sample", "write synthetic sessions with their truth"),
}
INTERNAL_ERROR, INTERRUPTED = 3, 130
_CAUTION = "Not a medical device: interpretation belongs to a licensed clinician and the lab's own protocol."


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence and where help is, without the usage block."""

    def error(self, message: str) -> NoReturn:
        """Exit with status 2."""
        self.exit(2, f"{self.prog}: {message}; see '{self.prog} --help'.\n")


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit status."""
    words = list(sys.argv[1:] if argv is None else argv)
    if not words or words[0] not in COMMANDS:
        return _top_level(words)
    debug = "--debug" in words
    try:
        return _run(words)
    except KeyboardInterrupt:
        print("Interrupted; what was finished is saved.", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except ConfigurationErrors as error:
        if debug:
            raise
        print(*error.sentences, sep="\n", file=sys.stderr)
        return error.status
    except CondyleError as error:
        if debug:
            raise
        print(error, file=sys.stderr)
        return error.status
    except Exception as error:
        if debug:
            raise
        kind = type(error).__name__
        print(f"An error of condyle's own ({kind}: {error}); run again with --debug to see where.", file=sys.stderr)
        return INTERNAL_ERROR


def _run(words: Sequence[str]) -> int:
    module_name, description = COMMANDS[words[0]]
    module = import_module(module_name)
    parser = _Parser(
        prog=f"condyle {words[0]}", description=f"{description[0].upper()}{description[1:]}.", epilog=_CAUTION
    )
    module.add_arguments(parser)
    parser.add_argument("--debug", action="store_true", help="show the traceback of an error")
    return int(module.run(parser.parse_args(words[1:])))


def _top_level(words: Sequence[str]) -> int:
    listing = "\n".join(f"  {name:<9}{words_}" for name, (_, words_) in COMMANDS.items())
    parser = _Parser(
        prog="condyle",
        usage="condyle COMMAND ...",
        description="Marker-based 3D kinematics of the single-leg squat, and which part moved the knee.",
        epilog=f"commands:\n{listing}\n\n'condyle COMMAND --help' tells more.\n{_CAUTION}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"condyle {__version__}")
    if words and not words[0].startswith("-"):
        from difflib import get_close_matches

        near = get_close_matches(words[0], COMMANDS, n=1)
        hint = f"did you mean '{near[0]}'?" if near else f"the commands are {', '.join(COMMANDS)}."
        print(f"condyle: '{words[0]}' is no command; {hint}", file=sys.stderr)
        return 2
    parser.parse_args(words)
    parser.print_help()
    return 0 if words else 2


if __name__ == "__main__":
    sys.exit(main())
