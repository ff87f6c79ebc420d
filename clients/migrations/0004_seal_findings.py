"""Conditions and limits that stood in plain columns are sealed with their client's key."""

import json

from django.conf import settings
from django.db import migrations

from clients.rules import sealing


def seal_findings(apps, schema_editor):
    for client in apps.get_model("clients", "Client").objects.iterator():
        key = sealing.unwrap(
            bytes(client.wrapped_key),
            settings.HEALTH_KEY,
            sealing.bound_to("clients_client", "wrapped_key", client.pk),
        )
        _seal_conditions(apps, client, key)
        _seal_limits(apps, client, key)


def _seal_conditions(apps, client, key):
    for record in apps.get_model("clients", "ConditionRecord").objects.filter(client=client):
        fact = {
            "condition_id": record.condition_id,
            "side": record.side or None,
            "since": record.since and record.since.isoformat(),
            "needs_clearance": None,
            "is_held": False,
        }
        record.sealed_fact = _seal(key, fact, "clients_conditionrecord", "sealed_fact", record.pk)
        record.mark = sealing.mark(key, f"{record.condition_id}|{record.side}")
        record.save(update_fields=["sealed_fact", "mark"])


def _seal_limits(apps, client, key):
    for screening in apps.get_model("clients", "Screening").objects.filter(client=client):
        limits = [
            {
                "demand": limit.demand_id,
                "level": limit.level,
                "how": limit.how,
                "side": limit.side or "both",
                "because": limit.because,
                "source_ids": limit.source_ids,
                "strength": limit.strength,
                "until": limit.until and limit.until.isoformat(),
            }
            for limit in screening.limits.order_by("demand__position", "side")
        ]
        screening.sealed_limits = _seal(
            key, {"limits": limits, "relaxed": [], "asked": ""}, "clients_screening", "sealed_limits", screening.pk
        )
        screening.look_again_on = screening.valid_until
        screening.save(update_fields=["sealed_limits", "look_again_on"])


def _seal(key, words, table, column, pk):
    return sealing.seal(key, json.dumps(words, separators=(",", ":")), sealing.bound_to(table, column, pk))


class Migration(migrations.Migration):
    dependencies = [("clients", "0003_sealed_findings")]

    operations = [migrations.RunPython(seal_findings, migrations.RunPython.noop)]
