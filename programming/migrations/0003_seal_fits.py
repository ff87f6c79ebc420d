"""The changed forms, their why and the digest of limits stood in plain columns: sealed with their client's key."""

import json

from django.conf import settings
from django.db import migrations

from clients.rules import sealing


def seal_fits(apps, schema_editor):
    for client in apps.get_model("clients", "Client").objects.filter(programs__isnull=False).distinct().iterator():
        cell = sealing.bound_to("clients_client", "wrapped_key", client.pk)
        key = sealing.unwrap(bytes(client.wrapped_key), settings.HEALTH_KEY, cell)
        for program in apps.get_model("programming", "Program").objects.filter(client=client).iterator():
            _seal(program, key)


def _seal(program, key):
    lines = {
        str(line.position): {"form": line.changed_to, "why": line.why, "demands": line.demands}
        for line in program.lines.all()
    }
    fit = {"limits": program.fitted_for.pop("limits", ""), "lines": lines}
    cell = sealing.bound_to("programming_program", "sealed_fit", program.pk)
    program.sealed_fit = sealing.seal(key, json.dumps(fit, separators=(",", ":")), cell)
    program.save(update_fields=["sealed_fit", "fitted_for"])


class Migration(migrations.Migration):
    dependencies = [("programming", "0002_sealed_fit")]

    operations = [migrations.RunPython(seal_fits, migrations.RunPython.noop)]
