"""``python -m tests.benchmarks NAME [options]``: runs one benchmark and prints its figures."""

import sys
from importlib import import_module

BENCHMARKS = {
    "archive": "tests.benchmarks.archive",  # many sessions: throughput, memory, kills, a cluster, damaged files
    "report": "tests.benchmarks.report",  # what the report adds to a run, and how large its page is
    "run": "tests.benchmarks.run",  # one session: stages against reading, the command against a bare process, memory
}


def main(words: list[str]) -> int:
    if not words or words[0] not in BENCHMARKS:
        print(
            f"usage: python -m tests.benchmarks NAME [options]; the names are {', '.join(BENCHMARKS)}", file=sys.stderr
        )
        return 2
    return int(import_module(BENCHMARKS[words[0]]).main(words[1:]))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
