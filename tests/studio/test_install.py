"""The installation tells a whole environment from a broken one."""

import sysconfig
from pathlib import Path

import install


def a_package(site: Path) -> Path:
    (site / "spring").mkdir()
    (site / "spring-1.dist-info").mkdir()
    rows = ["spring/__init__.py,sha256=x,1", "spring/__pycache__/__init__.cpython-311.pyc,,", '"spring/odd, name.py",,']
    (site / "spring-1.dist-info" / "RECORD").write_text("\n".join(rows))
    for name in ("__init__.py", "odd, name.py"):
        (site / "spring" / name).touch()
    return site / "spring"


def test_a_whole_package_misses_nothing(tmp_path):
    a_package(tmp_path)
    assert install.missing_files(tmp_path) == []


def test_a_lost_file_is_noticed(tmp_path):
    (a_package(tmp_path) / "odd, name.py").unlink()
    assert install.missing_files(tmp_path) == ["spring/odd, name.py"]


def test_the_environment_the_tests_run_in_is_whole():
    assert install.missing_files(Path(sysconfig.get_paths()["purelib"])) == []


def test_the_lock_holds_hashes_and_no_address():
    lock = install.LOCK.read_text()
    assert "--hash=sha256:" in lock
    assert "://" not in lock
