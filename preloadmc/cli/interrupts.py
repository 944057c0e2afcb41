"""Interrupts: from the keyboard (SIGINT) and from the system (SIGTERM), both told alike."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

_SIGNALS = (signal.SIGINT, signal.SIGTERM)
# As a shell tells a process that a signal ended: 128 and the number of the signal.
EXIT_CODES = {number: 128 + number for number in _SIGNALS}


class Interrupt(KeyboardInterrupt):
    """An interrupt by a signal; its notes say what had been written by then."""

    def __init__(self, number: int = signal.SIGINT) -> None:
        super().__init__()
        self.number = number


def interrupted(number: int, _frame: FrameType | None) -> None:
    """Raise an interrupt: the handler of its signal."""
    raise Interrupt(number)


@contextmanager
def interrupts_raised() -> Iterator[None]:
    """Have both signals raise an `Interrupt`, except one that the caller of the program ignores."""
    with _handled(interrupted, lambda now: now is not signal.SIG_IGN):
        yield


@contextmanager
def interrupts_held() -> Iterator[None]:
    """Hold interrupts back until the block is done, so that it is done as a whole or not begun."""
    late: list[int] = []
    with _handled(lambda number, _frame: late.append(number), callable):
        yield
    if late:
        raise Interrupt(late[0])


@contextmanager
def _handled(
    handler: Callable[[int, FrameType | None], Any], is_meant: Callable[[Any], bool]
) -> Iterator[None]:
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = {number: signal.getsignal(number) for number in _SIGNALS}
    meant = [number for number in _SIGNALS if is_meant(before[number])]
    try:
        for number in meant:
            signal.signal(number, handler)
        yield
    finally:
        for number in meant:
            signal.signal(number, before[number])
