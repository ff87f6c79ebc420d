"""What machines share: kept in the office, held at the desk by the quarter hour."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from scheduling import queries
from scheduling.actions import items as actions
from scheduling.forms import a_day
from scheduling.forms.items import HoldForm, ItemForm
from scheduling.queries import items as item_queries
from scheduling.rules.items import ItemKind
from studio.doors import me
from studio.doors.fields import posted
from studio.rules import Refused, zones


@require_http_methods(["GET", "POST"])
def items(request: HttpRequest) -> HttpResponse:
    """Everything that is shared; a POST adds one more."""
    form = ItemForm(posted(request))
    if form.is_bound and form.carried_out(lambda data: _add(request, data)):
        messages.success(request, f"{form.cleaned_data['label']} is shared from now on.")
        return redirect("scheduling:items")
    return _list(request, form)


def _add(request: HttpRequest, data: dict[str, object]) -> None:
    actions.add_item(
        studio_id=int(str(data["studio"])),
        kind=ItemKind(str(data["kind"])),
        label=str(data["label"]),
        by=me(request),
        now=timezone.now(),
    )


def _list(request: HttpRequest, form: ItemForm, reasons: tuple[object, ...] = ()) -> HttpResponse:
    rows = item_queries.shared_items(now=timezone.now())
    status = 409 if reasons else 422 if form.errors else 200
    return render(request, "scheduling/items.html", {"rows": rows, "form": form, "reasons": reasons}, status=status)


@require_POST
def put_item_away(request: HttpRequest, item_id: int) -> HttpResponse:
    try:
        item = actions.put_away(item_id, by=me(request), now=timezone.now())
    except Refused as refused:
        return _list(request, ItemForm(), refused.reasons)
    undo = reverse("scheduling:bring-item-out", args=[item_id])
    messages.success(request, f"{item.label} is put away.", extra_tags=f"undo:{undo}")
    return redirect("scheduling:items")


@require_POST
def bring_item_out(request: HttpRequest, item_id: int) -> HttpResponse:
    item = actions.bring_out(item_id, by=me(request), now=timezone.now())
    messages.success(request, f"{item.label} is shared again.")
    return redirect("scheduling:items")


@require_safe
def items_of_day(request: HttpRequest) -> HttpResponse:
    """Who has what when, studio by studio."""
    now, houses = timezone.now(), queries.houses()
    day = a_day(request.GET.get("day", "")) or (zones.local_day(now, houses[0].zone) if houses else now.date())
    studios = [(house.name, item_queries.items_of_day(house.id, day)) for house in houses]
    return render(request, "scheduling/items_day.html", {"day": day, "studios": studios})


@require_http_methods(["GET", "POST"])
def place_items(request: HttpRequest, place_id: UUID) -> HttpResponse:
    """What a place holds; a POST holds one more item."""
    form = HoldForm(posted(request), quarters=item_queries.quarters(place_id))
    if form.is_bound and form.carried_out(
        lambda data: actions.hold_item(
            place_id, item_id=data["item"], span=form.span(), by=me(request), now=timezone.now()
        )
    ):
        messages.success(request, "It is held.")
        return redirect("scheduling:place-items", place_id)
    facts = queries.place_facts(place_id)
    context = {"place": facts, "holds": item_queries.holds_of([place_id]), "form": form}
    return render(request, "scheduling/place_items.html", context, status=422 if form.errors else 200)


@require_POST
def release_hold(request: HttpRequest, hold_id: int) -> HttpResponse:
    place_id, label = item_queries.place_of_hold(hold_id)
    actions.release_hold(hold_id, by=me(request), now=timezone.now())
    messages.success(request, f"{label} is free again.")
    return redirect("scheduling:place-items", place_id)
