"""Things that several machines share and a lesson holds by the quarter hour: boxes, poles, bars."""

from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import DateTimeRangeField, RangeOperators
from django.db import models
from django.db.models import Q

from scheduling.rules.items import HoldSource, ItemKind


class Item(models.Model):
    studio = models.ForeignKey("studio.Studio", on_delete=models.PROTECT, related_name="items")
    kind = models.CharField(max_length=12, choices=[(kind.value, kind.words) for kind in ItemKind])
    label = models.CharField(max_length=60)
    in_service_to = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "studio",
                "label",
                name="scheduling_item_label_once",
                violation_error_message="There is already something with that label here.",
            )
        ]

    def __str__(self) -> str:
        return self.label


class ItemHold(models.Model):
    """One item held by a place for a half-open span of whole quarter hours; a move or a cancel takes it along."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="holds")
    place = models.ForeignKey("scheduling.Place", on_delete=models.CASCADE, related_name="item_holds")
    during = DateTimeRangeField()
    live = models.BooleanField(default=True)
    source = models.CharField(max_length=8, choices=[(source.value, source.value) for source in HoldSource])
    made_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        constraints = [
            ExclusionConstraint(
                name="scheduling_itemhold_item_free",
                expressions=[("item", RangeOperators.EQUAL), ("during", RangeOperators.OVERLAPS)],
                condition=Q(live=True),
                violation_error_message="That is already held then.",
            ),
            models.CheckConstraint(
                condition=Q(during__isempty=False) & Q(during__lower_inc=True) & Q(during__upper_inc=False),
                name="scheduling_itemhold_half_open",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item} for {self.place_id}"
