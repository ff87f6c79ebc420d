"""Make or repair the virtual environment; `--browser` also sees to a Chromium for the browser tests.

Runs on the system's python3 with nothing installed. A stamp with the lock's digest tells a finished installation from
a half-made one; one that is broken is made anew.
"""

import csv
import hashlib
import os
import shutil
import subprocess
import sys
import sysconfig
from pathlib import Path

HERE = Path(__file__).resolve().parent
VENV = Path(".venv")
PYTHON = str(VENV / "bin" / "python")
STAMP = VENV / ".installed"
LOCK = Path("requirements.lock")
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
NO_BROWSER = (
    "The browser tests need Chromium or Chrome on the PATH: on Debian run `sudo apt-get install chromium`, "
    "then `make test` again."
)


def works(*command: str) -> bool:
    try:
        return (
            subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False).returncode == 0
        )
    except OSError:
        return False


def stamp() -> str:
    return f"{hashlib.sha256(LOCK.read_bytes()).hexdigest()} {sys.version_info[0]}.{sys.version_info[1]}\n"


def missing_files(site: Path) -> list[str]:
    """Files that the packages in `site` say they have and that are not there: a broken-off installation or removal."""
    missing = []
    for record in site.glob("*.dist-info/RECORD"):
        with record.open(newline="") as rows:
            names = [row[0] for row in csv.reader(rows) if row and not row[0].endswith(".pyc")]
        missing += [name for name in names if not (site / name).exists()]
    return missing


def check_whole() -> None:
    """Run by the environment's own python: leave with 1 unless what it holds is whole and can be imported."""
    import django  # noqa: F401
    import psycopg  # noqa: F401

    sys.exit(1 if missing_files(Path(sysconfig.get_paths()["purelib"])) else 0)


def is_installed() -> bool:
    return STAMP.exists() and STAMP.read_text() == stamp() and works(PYTHON, "install.py", "--whole")


def make_environment(uv: str | None) -> None:
    print("Making the virtual environment ...", flush=True)
    shutil.rmtree(VENV, ignore_errors=True)
    if uv:
        subprocess.run([uv, "venv", "--quiet", "--python", sys.executable, str(VENV)], check=True)
    elif not works(sys.executable, "-c", "import ensurepip"):
        sys.exit("This python3 cannot make virtual environments: on Debian run `sudo apt-get install python3-venv`.")
    else:
        subprocess.run([sys.executable, "-m", "venv", str(VENV)], check=True)


def install() -> None:
    if is_installed():
        return
    uv = shutil.which("uv")
    was_finished = STAMP.exists() and STAMP.read_text() == stamp()
    if was_finished or not works(PYTHON, "-c", "import sys") or not (uv or works(PYTHON, "-m", "pip", "--version")):
        make_environment(uv)
    STAMP.unlink(missing_ok=True)
    print("Installing the locked packages (half a minute when they are at hand) ...", flush=True)
    locked = ["--require-hashes", "-r", str(LOCK)]
    if uv:
        subprocess.run([uv, "pip", "install", "--python", PYTHON, *locked], check=True)
    else:
        subprocess.run([PYTHON, "-m", "pip", "install", "--disable-pip-version-check", *locked], check=True)
    STAMP.write_text(stamp())
    if not is_installed():
        STAMP.unlink()
        sys.exit("The packages are installed but cannot be imported; run the command again to make them anew.")


def browser() -> None:
    if any(shutil.which(name) for name in BROWSERS):
        return
    apt = shutil.which("apt-get")
    if not apt or os.geteuid() != 0:
        sys.exit(NO_BROWSER)
    print("Installing Chromium for the browser tests ...", flush=True)
    quiet = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
    for command in ([apt, "update", "-q"], [apt, "install", "-qy", "--no-install-recommends", "chromium"]):
        if subprocess.run(command, env=quiet, stdin=subprocess.DEVNULL, check=False).returncode:
            sys.exit(NO_BROWSER)


def main() -> None:
    if sys.version_info < (3, 11):  # noqa: UP036 - the python3 that runs this file may be older
        sys.exit(f"Python 3.11 or newer is needed; python3 here is {sys.version.split()[0]}.")
    os.chdir(HERE)
    if "--whole" in sys.argv[1:]:
        check_whole()
    try:
        install()
        if "--browser" in sys.argv[1:]:
            browser()
    except subprocess.CalledProcessError as error:
        sys.exit(
            f"Stopped: `{' '.join(error.cmd[:4])} ...` failed; what it said is above. Run the command again to go on."
        )


if __name__ == "__main__":
    main()
