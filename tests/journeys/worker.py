"""A real Celery worker on a day of the story: `python -m tests.journeys.worker SECONDS PREFIX`.

Its clock stands SECONDS from the real one, as the web server's of the journey does, and it takes its messages from
under PREFIX in the broker, where no other test's worker looks.
"""

import sys
import time

import django
import time_machine

django.setup()

from studio.celery import app  # noqa: E402


def main(seconds: str, prefix: str) -> None:
    app.conf.broker_transport_options = app.conf.broker_transport_options | {"global_keyprefix": prefix}
    command = ["worker", "--concurrency", "1", "--loglevel", "INFO", "--without-gossip", "--without-mingle"]
    with time_machine.travel(time.time() + float(seconds), tick=True):
        # The travelled clock goes on from when it is first asked; asked later, it would stay behind the web server's.
        time.time()
        app.worker_main(command)


if __name__ == "__main__":
    main(*sys.argv[1:3])
