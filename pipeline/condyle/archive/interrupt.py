"""Ctrl-C during an archive is never lost, wherever in the program it arrives."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

import pyarrow as pa


@contextmanager
def heeding_ctrl_c() -> Iterator[Callable[[], bool]]:
    """A question whether Ctrl-C came, to be asked at least every second; it is not raised until it comes again.

    Raised by Python itself, it may be dropped ("Exception ignored in ...": in a finaliser, in a callback), leave a lock
    taken between two lines of a library, or turn a clean end into a death by signal. Nothing of that can happen to a
    note. Where Ctrl-C is ignored or another's (a notebook's, a thread beside the main one), nothing is changed; only
    that PyArrow, which would put a handler of its own in the place of ours for every table it reads, is kept from that.
    """
    pa.enable_signal_handlers(False)
    came = False
    ours = (
        threading.current_thread() is threading.main_thread()
        and signal.getsignal(signal.SIGINT) is signal.default_int_handler
    )

    def remember(number: int, frame: FrameType | None) -> None:
        nonlocal came
        if came:  # for whoever does not want to wait for the end of what is being written
            signal.default_int_handler(number, frame)
        came = True

    if ours:
        signal.signal(signal.SIGINT, remember)
    try:
        yield lambda: came
    finally:
        if ours:
            signal.signal(signal.SIGINT, signal.default_int_handler)
