"""What an exam's eye sees is worked out while the student reaches for the next press.

Strong blur takes the engine seconds, weak blur a tenth of one: an answer worked out when it is
asked for would tell by its time what the eye is. In the other modes the picture, asked for at
once, does the same work.
"""

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import suppress
from threading import Lock

from optics.patient.questions import READING, Question
from optics.patient.replies import read_rows
from optics.patient.traits import Manner
from server.attempts.questions import Moment, answer_to, fitting
from server.errors import ServiceError

SELDOM = (Question.WAIT, Question.NEARER)  # need views of their own


class Foresight:
    """One worker; of each attempt only the newest moment is worked at."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="foresight")
        self._lock = Lock()
        self._futures: dict[str, Future[None]] = {}

    def close(self) -> None:
        """Let go of what is still to be worked out."""
        self._pool.shutdown(cancel_futures=True)

    def see(self, attempt_id: str, moment: Callable[[], Moment]) -> None:
        """Begin to work out what can be asked at a moment."""
        future = self._pool.submit(work_out, moment)
        with self._lock:
            before = self._futures.pop(attempt_id, None)
            self._futures[attempt_id] = future
        if before is not None:
            before.cancel()  # calls `_forget`, which takes the lock
        future.add_done_callback(lambda done: self._forget(attempt_id, done))

    def await_sight(self, attempt_id: str) -> None:
        """Wait for what is being worked out; what has not begun is left to who asks."""
        with self._lock:
            future = self._futures.get(attempt_id)
        if future is not None and not future.cancel():
            wait([future])

    def _forget(self, attempt_id: str, done: Future[None]) -> None:
        with self._lock:
            if self._futures.get(attempt_id) is done:
                del self._futures[attempt_id]


def work_out(at: Callable[[], Moment]) -> None:
    """Look through all that the questions of a moment need; the engine keeps it a while."""
    moment = at()
    state = moment.state
    if state.finished:
        return
    questions = fitting(state)
    if any(question in READING for question in questions):
        read_rows(moment.now, state.wall.rows, moment.owned_logmar)
    for question in questions:
        if question not in READING and question not in SELDOM:
            with suppress(ServiceError):
                answer_to(moment, question, Manner.OFFERED)
