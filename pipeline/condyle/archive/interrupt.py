"""Ctrl-C during an archive is never lost, wherever in the program it arrives."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType


@contextmanager
def heeding_ctrl_c() -> Iterator[Callable[[], bool]]:
    """A question whether Ctrl-C came; it raises KeyboardInterrupt as ever too.

    Python drops what is raised in a finaliser or a callback of a weak reference ("Exception ignored in ..."), where
    the signal may well arrive while thread pools and processes are tidied up: hence it is remembered. Where Ctrl-C is
    ignored or another's (a notebook's, a thread beside the main one), nothing is changed.
    """
    came = threading.Event()
    ours = (
        threading.current_thread() is threading.main_thread()
        and signal.getsignal(signal.SIGINT) is signal.default_int_handler
    )

    def remember(number: int, frame: FrameType | None) -> None:
        came.set()
        signal.default_int_handler(number, frame)

    if ours:
        signal.signal(signal.SIGINT, remember)
    try:
        yield came.is_set
    finally:
        if ours:
            signal.signal(signal.SIGINT, signal.default_int_handler)
