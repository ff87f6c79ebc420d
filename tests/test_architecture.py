"""The house's own rules: who imports whom, where things lie, what has a name."""

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from celery import current_app
from django.apps import apps
from django.core.management import call_command
from importlinter.cli import lint_imports

ROOT = Path(__file__).resolve().parent.parent
# From the ground up: a row may point down, never up.
APPS = ("studio", "clients", "scheduling", "programming")
ROOMS = {
    "rules",
    "models",
    "queries",
    "actions",
    "forms",
    "pages",
    "api",
    "tasks",
    "doors",
    "demo",
    "urls",
    "admin",
    "management",
    "templatetags",
    "apps",
    "migrations",
}
FRONT_DOOR = {"settings", "keys", "celery", "wsgi", "later", "embedded", "context"}
NO_MEANING = {"utils", "helpers", "services", "managers", "signals", "mixins", "common", "core", "base", "misc"}
LONGEST = 600
OUR_MODELS = [model for app in APPS for model in apps.get_app_config(app).get_models()]


def sources(*folders: str) -> Iterator[Path]:
    """Our own Python files, migrations left out."""
    for folder in folders:
        yield from (path for path in sorted((ROOT / folder).rglob("*.py")) if "migrations" not in path.parts)


def test_rules_need_neither_django_nor_celery():
    modules = [
        ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        for app in APPS
        for path in sources(app)
        if path.relative_to(ROOT / app).parts[0] in ("rules", "rules.py")
    ]
    assert {f"{app}.rules" for app in APPS} <= set(modules)
    found = "import sys, importlib\n" + "".join(f"importlib.import_module({name!r})\n" for name in modules)
    found += "print(sorted({name.split('.')[0] for name in sys.modules} & {'django', 'celery', 'rest_framework'}))"
    answer = subprocess.run([sys.executable, "-c", found], cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert (answer.returncode, answer.stdout.strip()) == (0, "[]"), answer.stderr


def test_no_row_points_to_an_app_above_its_own():
    upward = [
        f"{model._meta.label}.{field.name} → {field.related_model._meta.label}"
        for model in OUR_MODELS
        for field in model._meta.get_fields()
        if field.is_relation and not field.auto_created and field.related_model._meta.app_label in APPS
        if APPS.index(field.related_model._meta.app_label) > APPS.index(model._meta.app_label)
    ]
    assert upward == []


def after_commit_calls() -> Iterator[tuple[str, ast.expr, ast.Module]]:
    for path in sources(*APPS):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if (
                isinstance(node, ast.Call)
                and getattr(node.func, "id", getattr(node.func, "attr", "")) == "after_commit"
            ):
                yield f"{path.relative_to(ROOT)}:{node.lineno}", node.args[0], tree


def named(argument: ast.expr, tree: ast.Module) -> str | None:
    """The text of the argument, or of the constant of its module that it names."""
    if isinstance(argument, ast.Name):
        constants = [node for node in tree.body if isinstance(node, ast.Assign)]
        argument = next(
            (node.value for node in constants if any(getattr(one, "id", "") == argument.id for one in node.targets)),
            argument,
        )
    return argument.value if isinstance(argument, ast.Constant) and isinstance(argument.value, str) else None


def test_every_task_woken_after_a_commit_exists():
    current_app.loader.import_default_modules()
    calls = [(where, named(argument, tree)) for where, argument, tree in after_commit_calls()]
    assert calls
    assert [(where, name) for where, name in calls if name not in current_app.tasks] == []


def test_the_import_contracts_are_kept(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    broken = lint_imports(cache_dir=None)
    assert broken == 0, capsys.readouterr().out


@pytest.mark.parametrize("app", APPS)
def test_every_file_lies_in_a_room_of_the_house(app):
    known = ROOMS | {"__init__"} | (FRONT_DOOR if app == "studio" else set())
    found = {path.relative_to(ROOT / app).parts[0].removesuffix(".py") for path in sources(app)}
    assert found <= known, f"{app}: {sorted(found - known)}"


def test_doors_are_only_in_studio_and_the_demo_only_in_programming():
    assert [app for app in APPS if (ROOT / app / "doors").exists()] == ["studio"]
    assert [app for app in APPS if (ROOT / app / "demo").exists()] in ([], ["programming"])


def test_no_module_has_a_name_without_meaning():
    found = [path.relative_to(ROOT) for path in sources(*APPS, "tests", "bench") if path.stem in NO_MEANING]
    assert found == []


def test_the_front_page_of_studio_stays_empty():
    assert (ROOT / "studio" / "__init__.py").read_text(encoding="utf-8").strip() == ""


def test_no_file_is_longer_than_six_hundred_lines():
    lengths = {
        str(path.relative_to(ROOT)): len(path.read_text(encoding="utf-8").splitlines())
        for path in sources(*APPS, "tests", "bench")
    }
    assert {name: lines for name, lines in lengths.items() if lines > LONGEST} == {}


def test_every_constraint_and_index_says_whose_it_is():
    nameless = [
        f"{model._meta.label}: {one.name}"
        for model in OUR_MODELS
        for one in [*model._meta.constraints, *model._meta.indexes]
        if not one.name.startswith(f"{model._meta.app_label}_")
    ]
    assert nameless == []
    assert not [model._meta.label for model in OUR_MODELS if model._meta.unique_together]


def test_rows_have_no_order_of_their_own():
    assert [model._meta.label for model in OUR_MODELS if model._meta.ordering] == []


def test_nothing_happens_behind_a_save():
    """No save or delete of our own, so that a write can be understood where it is written."""
    own = [f"{model._meta.label}.{name}" for model in OUR_MODELS for name in ("save", "delete") if name in vars(model)]
    assert own == []


@pytest.mark.django_db
def test_every_change_of_a_model_has_its_migration(capsys):
    call_command("makemigrations", check=True, dry_run=True, verbosity=1)
    assert "No changes detected" in capsys.readouterr().out
