"""The business and its studios."""

from studio import models


def business_name() -> str | None:
    return models.Business.objects.values_list("name", flat=True).first()


def is_set_up() -> bool:
    return models.Business.objects.filter(set_up_at__isnull=False).exists()
