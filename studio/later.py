"""Wake a task once the present transaction is committed; the row it works on is the truth, the message a hint."""

import logging

from celery import current_app
from django.db import transaction
from kombu.exceptions import OperationalError

log = logging.getLogger(__name__)


def after_commit(task: str, **ids: str) -> None:
    """Ask for `task` (dotted name) with plain ids, after the commit; one hint for each name and ids a transaction.

    A broker that does not answer is logged and passed over: beat finds the row within a minute.
    """
    hint = (task, tuple(sorted(ids.items())))
    connection = transaction.get_connection()
    waiting = {getattr(function, "hint", None) for _, function, _ in connection.run_on_commit}
    if hint in waiting:
        return

    def wake() -> None:
        try:
            current_app.send_task(task, kwargs=ids, retry=False)
        except (OperationalError, OSError) as error:
            log.warning("no broker for %s: %s", task, type(error).__name__)

    wake.hint = hint  # type: ignore[attr-defined]
    transaction.on_commit(wake)
