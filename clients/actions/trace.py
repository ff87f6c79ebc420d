"""What a deed changed in the rows of a client, found by looking before and after, and put back row by row."""

import base64
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import IntegrityError, models, transaction

from clients.queries import merging as queries

# {table: {key: {column: plain value}}}
Snapshot = dict[str, dict[str, dict[str, Any]]]
OWN_APP = "clients"


@dataclass
class Trace:
    """`changed` holds [before, after] by table, key and column; `made` the rows that were not there before."""

    changed: dict[str, dict[str, dict[str, list[Any]]]] = field(default_factory=dict)
    made: list[tuple[str, str]] = field(default_factory=list)


def snapshot(rows: Iterable[models.Model]) -> Snapshot:
    """Every column of these rows as plain values."""
    found: Snapshot = {}
    for row in rows:
        plain = {one.attname: _plain(row, one) for one in row._meta.concrete_fields}
        found.setdefault(row._meta.label_lower, {})[str(row.pk)] = plain
    return found


def rows_of(client_ids: Iterable[UUID]) -> list[models.Model]:
    """The rows of this app that name one of these clients."""
    own = [one for one in queries.pointers() if one.model._meta.app_label == OWN_APP]
    return [row for client_id in client_ids for one in own for row in one.rows(client_id)]


def between(before: Snapshot, after: Snapshot, *, without: frozenset[tuple[str, str, str]]) -> Trace:
    """The difference; cells in `without` (table, key, column) are left out."""
    trace = Trace()
    for label, rows in after.items():
        for key, columns in rows.items():
            was = before.get(label, {}).get(key)
            if was is None:
                trace.made.append((label, key))
                continue
            cells = {
                name: [was[name], value]
                for name, value in columns.items()
                if was[name] != value and (label, key, name) not in without
            }
            if cells:
                trace.changed.setdefault(label, {})[key] = cells
    return trace


def put_back(label: str, key: str, cells: dict[str, list[Any]]) -> None:
    """Give a row the values of before, where it still holds those of after and nothing newer stands in the way."""
    model = apps.get_model(label)
    row = model._default_manager.filter(pk=key).first()
    if row is None:
        return
    values = {
        name: _value(model._meta.get_field(name), was)
        for name, (was, became) in cells.items()
        if _plain(row, model._meta.get_field(name)) == became
    }
    if not _written(model, key, values):
        for name, value in values.items():
            _written(model, key, {name: value})


def remove(label: str, key: str) -> None:
    """Take away a row that the deed made, unless something else stands on it by now."""
    model = apps.get_model(label)
    try:
        with transaction.atomic():
            model._default_manager.filter(pk=key).delete()
    except (IntegrityError, models.ProtectedError):
        return


def _written(model: type[models.Model], key: str, values: dict[str, Any]) -> bool:
    if not values:
        return True
    try:
        with transaction.atomic():
            model._default_manager.filter(pk=key).update(**values)
    except IntegrityError:
        return False
    return True


def _plain(row: models.Model, one: "models.Field[Any, Any]") -> Any:
    value = one.value_from_object(row)
    if isinstance(value, bytes | memoryview):
        return base64.b64encode(bytes(value)).decode()
    if value is None or isinstance(value, str | int | list | dict):
        return value
    return one.value_to_string(row)


def _value(one: "models.Field[Any, Any]", plain: Any) -> Any:
    if plain is None:
        return None
    if isinstance(one, models.BinaryField):
        return base64.b64decode(plain)
    return one.target_field.to_python(plain) if isinstance(one, models.ForeignKey) else one.to_python(plain)
