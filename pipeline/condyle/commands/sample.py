"""``condyle sample``: write synthetic sessions with their truth."""

import argparse
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("folder", type=Path, metavar="DIR", help="where the sessions are written")
    parser.add_argument("--participants", type=int, default=10, metavar="N", help="how many people (default: 10)")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="same seed, same files (default: 1)")
    parser.add_argument(
        "--ideal", action="store_true", help="no noise, gaps, soft tissue or misplaced markers; the same people"
    )


def run(arguments: argparse.Namespace) -> int:
    """Write the sessions."""
    from condyle.sample import write_sample

    folders = write_sample(
        arguments.folder, participants=arguments.participants, seed=arguments.seed, ideal=arguments.ideal
    )
    print(f"{len(folders)} synthetic sessions with their truth in {arguments.folder}")
    return 0
