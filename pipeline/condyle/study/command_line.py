"""``condyle agree``: 2D screening against the 3D reference, over a study."""

import argparse
import sys
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument(
        "measures",
        nargs="+",
        type=Path,
        metavar="MEASURES",
        help="measures.csv or measures.parquet of the runs, or their folders; what lies beside them is read too",
    )
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="where the study is written")
    parser.add_argument(
        "--planar",
        type=Path,
        metavar="CSV",
        help="digitised 2D values: participant, session, trial, side, repetition, measure, value, unit",
    )
    parser.add_argument(
        "--pair",
        action="append",
        default=[],
        metavar="PLANAR:REFERENCE",
        help="a pair of measures, again for each; behind it may stand :same, :different or :opposite",
    )
    parser.add_argument(
        "--cutoff",
        action="append",
        default=[],
        metavar="MEASURE:VALUE",
        help="a cut-off, 3D or planar, again for each; :below behind it marks what lies below",
    )
    parser.add_argument(
        "--flip", action="append", default=[], metavar="MEASURE", help="turn the sign of a measure of the planar table"
    )
    parser.add_argument("--settings", type=Path, metavar="YAML", help="instead of the shipped configs/agreement.yaml")
    parser.add_argument(
        "--seed", type=int, metavar="N", help="start of the random numbers (default: as in the settings)"
    )
    parser.add_argument("--draws", type=int, metavar="N", help="bootstrap samples (default: as in the settings)")


def run(arguments: argparse.Namespace) -> int:
    """Do the study, and say what was paired, what was not, and what has to be answered."""
    from condyle.study.agreeing import agree
    from condyle.study.settings import with_numbers

    study = agree(
        arguments.measures,
        arguments.out,
        planar=arguments.planar,
        pairs=arguments.pair,
        cutoffs=arguments.cutoff,
        flip=arguments.flip,
        settings=with_numbers(arguments.settings, seed=arguments.seed, draws=arguments.draws),
    )
    for sentence in (*study.brief, *study.questions):
        sys.stderr.write(f"{sentence}\n")
    pairs = len({(r.pair.planar, r.pair.reference) for r in study.results})
    people = study.pairs.loc[study.pairs["status"] == "paired", "participant"].nunique()
    sys.stdout.write(f"{pairs} pairs of measures over {people} participants: {arguments.out / 'agreement.html'}\n")
    return 0
