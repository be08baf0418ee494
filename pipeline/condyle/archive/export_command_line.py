"""``condyle export``: results in open formats."""

import argparse
import sys
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    words = "results folder, session folder or archive"
    parser.add_argument("results", type=Path, nargs="+", metavar="RESULTS", help=words)
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="where the exported files go")
    parser.add_argument("--format", choices=("motion-bids", "c3d", "both"), default="both", help="default: both")
    parser.add_argument("--overwrite", action="store_true", help="replace an earlier export")


def run(arguments: argparse.Namespace) -> int:
    """Export; 0 where all trials are written."""
    from condyle.archive.export import FORMATS, export

    formats = tuple(FORMATS) if arguments.format == "both" else (arguments.format,)
    count = export(arguments.results, arguments.out, formats, arguments.overwrite)
    sys.stdout.write(f"{count} trials exported to {arguments.out}\n")
    return 0
