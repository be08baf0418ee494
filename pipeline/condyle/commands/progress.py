"""A progress bar on a terminal; nothing in a pipe."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def trial_progress() -> Iterator[Callable[[str, str], None]]:
    """A callback ``(trial, stage)`` that shows what is being done on stderr, if that is a terminal."""
    if not sys.stderr.isatty():
        yield lambda _trial, _stage: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    columns = (SpinnerColumn(), TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("reading", total=None)
        yield lambda trial, stage: bar.update(task, description=f"{trial}: {stage}")
