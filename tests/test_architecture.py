"""What the import contracts cannot see."""

import ast
import importlib
import subprocess
import sys
from pathlib import Path
from typing import Any

from django.apps import apps

ROOT = Path(__file__).resolve().parent.parent
APPS = ["studio", "clients", "scheduling", "programming"]
RULES_ALONE = """
import sys
import clients.rules, programming.rules, scheduling.rules, studio.rules
sys.exit(sorted({"django", "celery", "rest_framework"} & {name.partition(".")[0] for name in sys.modules}).__repr__())
"""


def test_the_rules_of_every_app_are_imported_without_django_and_celery():
    done = subprocess.run([sys.executable, "-c", RULES_ALONE], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.stderr.strip() == "[]"


def test_every_foreign_key_points_to_the_same_app_or_down():
    upward = [
        f"{model._meta.label}.{field.name}"
        for app in APPS
        for model in apps.get_app_config(app).get_models()
        for field in model._meta.get_fields()
        if field.concrete and field.is_relation and field.related_model
        if field.related_model._meta.app_label in APPS
        if APPS.index(field.related_model._meta.app_label) > APPS.index(app)
    ]
    assert upward == []


def test_every_task_that_is_woken_after_a_commit_exists():
    names = {name for app in APPS for path in (ROOT / app).rglob("*.py") for name in woken(path)}
    assert names, "nothing wakes a task any more: this test looks at the wrong place"
    for name in names:
        module, _, task = name.rpartition(".")
        assert hasattr(importlib.import_module(module), task), name


def woken(path: Path) -> set[str]:
    """Dotted task names that a module hands to `after_commit`, as text or by a constant of its own."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    constants: dict[str, Any] = {
        target.id: node.value.value
        for node in tree.body
        if isinstance(node, ast.Assign) and isinstance(node.value, ast.Constant)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    calls: list[Any] = [
        node.args[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and getattr(node.func, "id", getattr(node.func, "attr", "")) == "after_commit"
    ]
    return {str(argument.value) if isinstance(argument, ast.Constant) else constants[argument.id] for argument in calls}
