"""The group plan of a lesson on the floor: choosing it, the shared lines with who deviates, one round on the stand."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from programming.actions import groups as actions
from programming.forms.groups import GroupForm
from programming.queries import groups as group_queries
from programming.rules.timing import Pace
from studio.doors import me
from studio.rules import Reason, Refused


def group_lesson(request: HttpRequest, lesson_id: UUID) -> HttpResponse:
    """The people of a lesson and the templates to choose from; a POST makes the plan."""
    if request.method == "POST":
        return _make(request, lesson_id)
    chosen = _key(request.GET.get("template", ""))
    form = _form(chosen) if chosen else None
    return _page(request, lesson_id, chosen, form)


def _make(request: HttpRequest, lesson_id: UUID) -> HttpResponse:
    chosen = _key(request.POST.get("template", ""))
    form = _form(chosen, request)
    if not form.is_valid():
        return _page(request, lesson_id, chosen, form, status=422)
    data = form.cleaned_data
    try:
        plan = actions.make_group_plan(
            lesson_id, template_id=data["template"], pace=Pace(data["pace"]), one_voice=data["one_voice"],
            without=data["without"], by=me(request), now=timezone.now(),
        )  # fmt: skip
    except Refused as refused:
        return _page(request, lesson_id, chosen, form, refused.reasons, status=409)
    undo = reverse("programming:group-back", args=[plan.pk])
    messages.success(request, "The plan is made; everybody has her program.", extra_tags=f"undo:{undo}")
    return redirect("programming:group", plan.pk)


def _key(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None


def _form(chosen: UUID | None, request: HttpRequest | None = None) -> GroupForm:
    lines = group_queries.lines_of(chosen) if chosen else []
    return GroupForm(request.POST if request else None, lines=lines, initial={"template": chosen})


def _page(
    request: HttpRequest,
    lesson_id: UUID,
    chosen: UUID | None,
    form: GroupForm | None,
    reasons: tuple[Reason, ...] = (),
    *,
    status: int = 200,
) -> HttpResponse:
    templates = group_queries.template_choices()
    context = {
        "lesson": group_queries.group_lesson(lesson_id),
        "templates": templates,
        "chosen": next((one for one in templates if one.id == chosen), None),
        "form": form,
        "reasons": reasons,
    }
    return render(request, "programming/group_lesson.html", context, status=status)


@require_safe
def group(request: HttpRequest, plan_id: UUID) -> HttpResponse:
    """The shared lines, each person's deviations beside them, and the rounds."""
    view = actions.open_group_plan(plan_id, by=me(request), now=timezone.now())
    return render(request, "programming/group.html", {"plan": view})


@require_safe
def group_round(request: HttpRequest, plan_id: UUID, number: int) -> HttpResponse:
    """One round to be read from afar: what each person does now and what comes then."""
    view = actions.open_group_plan(plan_id, by=me(request), now=timezone.now())
    if not 1 <= number <= len(view.rounds):
        raise Http404("no such round")
    after = view.rounds[number].doing if number < len(view.rounds) else ()
    people = [(one, after[at] if after else None) for at, one in enumerate(view.rounds[number - 1].doing)]
    context = {"plan": view, "round": view.rounds[number - 1], "people": people, "last": len(view.rounds)}
    return render(request, "programming/group_round.html", context)


@require_POST
def group_back(request: HttpRequest, plan_id: UUID) -> HttpResponse:
    """The undo of a plan: the programs before it stand again."""
    lesson_id = group_queries.lesson_of_plan(plan_id)
    actions.take_back_group_plan(plan_id, by=me(request), now=timezone.now())
    messages.success(request, "The plan is taken back; the programs before it stand again.")
    return redirect("programming:group-lesson", lesson_id)
