"""Where slips are made: worker processes that render, sign and check, so the web process never loads that machinery.

Own processes rather than the standard pool: its way of retiring workers can hang on Python 3.11 (cpython #115634), and
it gives no lawful means to end one worker that has got stuck in a layout.
"""

import contextlib
import logging
import multiprocessing
import queue
import signal
import threading
import time
from collections.abc import Callable, Mapping
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection
from typing import Any, TypeVar

from app.errors import Unavailable
from app.slips.findings import SignedSlip, SlipVerification

log = logging.getLogger("shedbook.press")
Made = TypeVar("Made")

# Layout engines grow a little with each document (0.24 MiB measured where a font set is not kept).
SLIPS_PER_WORKER = 500
# Address space, not memory in use: ten times what a slip needs, far less than a hostile upload could ask for.
WORKER_ADDRESS_SPACE = 4 * 1024**3
BUSY = "Every slip worker is busy. The record is safe; the page follows in a moment."
STUCK = "This page took too long to make and was given up. The record is safe; try again in a moment."
BROKEN = "The slip worker stopped before the page was ready. The record is safe; try again in a moment."


class Press:
    """A fixed number of workers, started when first needed. Safe to call from any thread."""

    def __init__(
        self,
        workers: int = 1,
        seconds: float = 30.0,
        slips_per_worker: int = SLIPS_PER_WORKER,
        most_callers: int | None = None,
    ) -> None:
        """Beyond `most_callers` at once nobody waits: each of them would hold a thread of the server."""
        self._seconds = seconds
        self._places = threading.BoundedSemaphore(most_callers) if most_callers is not None else None
        self._workers = [_Worker(slips_per_worker) for _ in range(workers)]
        self._idle: queue.LifoQueue[_Worker] = queue.LifoQueue()
        for worker in self._workers:
            self._idle.put(worker)

    def warm(self) -> None:
        """Starts the workers in the background: the first slip of the day need not wait for their imports."""
        threading.Thread(target=self._warm_all, name="slip-press-warm-up", daemon=True).start()

    def press_slip(
        self, record: Mapping[str, Any], private_key_pem: str, certificate_pem: str, authority_pem: str
    ) -> SignedSlip:
        """Renders, signs and checks one slip; what fails its own check never leaves the worker."""
        return self._run(_press, dict(record), private_key_pem, certificate_pem, authority_pem)

    def press_notice(
        self, record: Mapping[str, Any], private_key_pem: str, certificate_pem: str, authority_pem: str
    ) -> SignedSlip:
        """The same of a notice."""
        return self._run(_press_notice, dict(record), private_key_pem, certificate_pem, authority_pem)

    def verify_slip(self, pdf: bytes, authority_pem: str, expected_sha256: str | None = None) -> SlipVerification:
        """Looks at an upload where nothing it does can hurt the logbook."""
        return self._run(_verify, pdf, authority_pem, expected_sha256)

    def close(self) -> None:
        """Ends idle workers; one at work is killed, and the thread that waits for it clears up after it."""
        idle = []
        with contextlib.suppress(queue.Empty):
            while True:
                idle.append(self._idle.get_nowait())
        for worker in self._workers:
            if worker in idle:
                worker.stop()
                self._idle.put(worker)
            else:
                worker.kill()

    def _warm_all(self) -> None:
        with contextlib.suppress(Unavailable):
            self._run(_ready)

    def _run(self, work: Callable[..., Made], *given: object) -> Made:
        if self._places is None:
            return self._run_in_turn(work, *given)
        if not self._places.acquire(blocking=False):
            raise Unavailable(BUSY)
        try:
            return self._run_in_turn(work, *given)
        finally:
            self._places.release()

    def _run_in_turn(self, work: Callable[..., Made], *given: object) -> Made:
        deadline = time.monotonic() + self._seconds
        try:
            worker = self._idle.get(timeout=self._seconds)
        except queue.Empty:
            raise Unavailable(BUSY) from None
        try:
            outcome = worker.run(work, given, max(0.1, deadline - time.monotonic()))
        finally:
            self._idle.put(worker)
        if isinstance(outcome, BaseException):
            raise outcome
        made: Made = outcome
        return made


class _Worker:
    """One process at the end of a pipe. Only the thread that took it from the queue speaks to it."""

    def __init__(self, slips: int) -> None:
        self._slips = slips
        self._done = 0
        self._process: multiprocessing.process.BaseProcess | None = None
        self._pipe: Connection | None = None
        self._killed = False

    def run(self, work: Callable[..., Any], given: tuple[object, ...], seconds: float) -> Any:
        pipe = self._started()
        try:
            pipe.send((work, given))
            if not pipe.poll(seconds):
                self.stop()
                log.error("A slip worker took longer than %.1f s and was ended.", seconds)
                raise Unavailable(STUCK)
            outcome = pipe.recv()
        except (EOFError, OSError):
            self.stop()
            if not self._killed:
                log.exception("A slip worker stopped while at work.")
            raise Unavailable(BROKEN) from None
        self._done += 1
        if self._done >= self._slips:
            self.stop()
        return outcome

    def kill(self) -> None:
        self._killed = True
        process = self._process
        if process is not None:
            with contextlib.suppress(ValueError):  # already cleared up
                process.kill()

    def stop(self) -> None:
        if self._pipe is not None:
            self._pipe.close()
        if self._process is not None:
            with contextlib.suppress(ValueError):  # the interpreter, on its way out, was first to clear it up
                self._process.kill()
                self._process.join()
                self._process.close()
        self._process, self._pipe, self._done = None, None, 0

    def _started(self) -> Connection:
        if self._pipe is not None and self._process is not None and self._process.is_alive():
            return self._pipe
        self.stop()
        # spawn: forking a process that runs threads, or has loaded the layout library, can crash or hang.
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(target=_serve, args=(theirs,), name="shedbook-slips", daemon=True)
        # Ctrl-C reaches every process of the terminal; the worker leaves it to the server, which ends it in order.
        resource_tracker.ensure_running()  # starting it later would lift the mask
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            process.start()
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
        theirs.close()
        self._process, self._pipe, self._killed = process, ours, False
        return ours


def _serve(pipe: Connection) -> None:
    """The worker's whole life: one piece of work after the other, until the other end closes."""
    _limit_address_space()
    while True:
        try:
            work, given = pipe.recv()
        except (EOFError, OSError):
            return
        try:
            outcome = work(*given)
        except Unavailable as refusal:
            outcome = refusal
        except Exception:
            log.exception("A slip could not be made.")
            outcome = Unavailable(
                "The page could not be made. The record is safe; tell the person who runs the logbook."
            )
        try:
            pipe.send(outcome)
        except OSError:  # the server was killed meanwhile
            return


def _limit_address_space() -> None:
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (WORKER_ADDRESS_SPACE, WORKER_ADDRESS_SPACE))


def _ready() -> None:
    import app.slips.document
    import app.slips.notice_document
    import app.slips.signing
    import app.slips.verification  # noqa: F401


def _press(record: dict[str, Any], private_key_pem: str, certificate_pem: str, authority_pem: str) -> SignedSlip:
    from app.slips.making import make_slip

    return make_slip(record, private_key_pem, certificate_pem, authority_pem)


def _press_notice(record: dict[str, Any], private_key_pem: str, certificate_pem: str, authority_pem: str) -> SignedSlip:
    from app.slips.making import make_notice

    return make_notice(record, private_key_pem, certificate_pem, authority_pem)


def _verify(pdf: bytes, authority_pem: str, expected_sha256: str | None) -> SlipVerification:
    from app.slips.verification import verify_slip

    return verify_slip(pdf, authority_pem, expected_sha256)
