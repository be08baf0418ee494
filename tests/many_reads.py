"""Does memory stay flat over thousands of reads?

python -m tests.many_reads [--reads 3000] [FILE.c3d]
"""

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

from condyle.files.c3d import C3DReader
from tests.c3d_bytes import C3DFile, walking_body

FLAT_MB = (
    16.0  # an allocator's unrest; one leaked recording of the test file in a hundred would be more over 3,000 reads
)


def resident_mb(pid: int) -> float:
    """Memory of a process that lies in RAM, by the kernel's own count."""
    return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def growth_mb(path: Path, reads: int) -> tuple[float, float, float]:
    """Growth of the reader and of its reading process after a tenth of the reads, MB; and milliseconds per read."""
    with C3DReader() as reader:
        warm = max(reads // 10, 1)
        for _ in range(warm):
            reader.read(path)
        child = reader._process.pid
        assert child is not None
        before, child_before = resident_mb(os.getpid()), resident_mb(child)
        started = time.perf_counter()
        for _ in range(reads - warm):
            reader.read(path)
        spent = time.perf_counter() - started
        now = reader._process.pid
        assert now is not None
        return resident_mb(os.getpid()) - before, resident_mb(now) - child_before, 1e3 * spent / (reads - warm)


def main() -> int:
    """Print the growth; 1 where it is not flat."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("file", type=Path, nargs="?")
    parser.add_argument("--reads", type=int, default=3000)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = arguments.file or C3DFile(*_recording()).write(Path(folder, "walk.c3d"))
        own, child, each = growth_mb(path, arguments.reads)
    print(f"{arguments.reads} reads: {own:+.1f} MB here, {child:+.1f} MB in the reading process, {each:.1f} ms each")
    return 1 if max(own, child) > FLAT_MB else 0


def _recording():  # type: ignore[no-untyped-def]
    points, labels = walking_body(frames=600)
    return points, None, labels


if __name__ == "__main__":
    sys.exit(main())
