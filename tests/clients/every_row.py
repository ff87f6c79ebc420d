"""Every row of every table of the house as plain values, sealed words opened, so that two states can be compared."""

import json
from typing import Any

from django.apps import apps
from django.db.models import Model

from clients import models
from clients.actions import seals
from clients.queries import merging
from studio.models import AuditEntry

APPS = ("studio", "clients", "scheduling", "programming")
# The history that only grows.
GROWS = (AuditEntry, models.Merge)


def every_row() -> dict[str, dict[str, Any]]:
    found = {}
    for app in APPS:
        for model in apps.get_app_config(app).get_models():
            if model not in GROWS:
                found[model._meta.label] = {str(row.pk): _plain(row) for row in model._default_manager.all()}
    return found


def _plain(row: Model) -> dict[str, Any]:
    values = {field.attname: field.value_from_object(row) for field in row._meta.concrete_fields}
    for table in merging.sealed_columns():
        if isinstance(row, table.model):
            client = models.Client.objects.get(
                pk=table.model._default_manager.values_list(table.path, flat=True).get(pk=row.pk)
            )
            for column in table.columns:
                if values[column] is not None:
                    values[column] = json.dumps(seals.opened(row, column, client=client))
    return {name: bytes(value) if isinstance(value, memoryview) else value for name, value in values.items()}
