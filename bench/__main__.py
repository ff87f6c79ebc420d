"""Run every benchmark, or those named: `python -m bench [book] [race] [day] [openings] [rules] [fit] [validate]
[groups] [rescreen]`.

Only a whole run is kept as the last result. A goal that is not met is said, and is no failure of the run.
"""

import os
import sys
import time

from bench import ground

NAMES = ("book", "race", "openings", "day", "rules", "fit", "validate", "groups", "rescreen")


def main(wanted: list[str]) -> int:
    if unknown := set(wanted) - set(NAMES):
        print(f"There is no benchmark {', '.join(sorted(unknown))}; there are {', '.join(NAMES)}.")
        return 2
    start = time.perf_counter()
    ground.choose()
    try:
        measured(wanted or list(NAMES))
    finally:
        _let_go()
    print(f"\n{time.perf_counter() - start:.0f} s in all\n")
    return 0


def measured(names: list[str]) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    import django
    from django.core.management import call_command

    django.setup()
    ground.step("migrating an empty database", lambda: call_command("migrate", verbosity=0))
    # Only now: these import models.
    from importlib import import_module

    from bench import report
    from bench.measure import Found

    found: list[Found] = []
    for name in names:
        ground.fresh(name)
        found += ground.step(name, import_module(f"bench.{name}").run)
    print("\n" + report.table(found))
    if set(names) == set(NAMES):
        report.keep(found, ground.about())


def _let_go() -> None:
    from django.db import connection

    connection.close()
    ground.drop()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
