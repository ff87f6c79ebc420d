"""The group plan of a lesson on the floor: choosing it, the shared lines with who deviates, one round on the stand."""

from collections.abc import Callable
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from programming.actions import groups as actions
from programming.forms.groups import GroupForm
from programming.pages.reasons import ASKS, ask_for_all, asks_why, reasons_for
from programming.queries import groups as group_queries
from programming.queries.groups import GroupView
from programming.rules.timing import Pace
from studio.doors import me
from studio.rules import Reason, Refused


@asks_why
def group_lesson(request: HttpRequest, lesson_id: UUID) -> HttpResponse:
    """The people of a lesson and the templates to choose from; a POST makes the plan."""
    looks, chosen = "look" in request.POST, _key(request.GET.get("template", ""))
    if request.method == "POST" and not looks:
        return _make(request, lesson_id)
    if looks or chosen:
        return _asked_first(request, lesson_id, chosen)
    return _page(request, lesson_id, None, None)


def _asked_first(request: HttpRequest, lesson_id: UUID, chosen: UUID | None) -> HttpResponse:
    """The form of a template, for who may read these people; asked before she fills it in, so that nothing is lost."""
    whys = reasons_for(request, group_queries.clients_of_lesson(lesson_id))
    try:
        actions.check_reader(lesson_id, by=me(request), now=timezone.now(), whys=whys)
    except Refused as refused:
        return ask_for_all(request, whys, refused)
    return _page(request, lesson_id, chosen, _form(chosen) if chosen else None)


def _make(request: HttpRequest, lesson_id: UUID) -> HttpResponse:
    chosen = _key(request.POST.get("template", ""))
    form = _form(chosen, request)
    if not form.is_valid():
        return _page(request, lesson_id, chosen, form, status=422)
    data, whys = form.cleaned_data, reasons_for(request, group_queries.clients_of_lesson(lesson_id))
    before = group_queries.standing(lesson_id)
    try:
        plan = actions.make_group_plan(
            lesson_id, template_id=data["template"], pace=Pace(data["pace"]), one_voice=data["one_voice"],
            without=data["without"], by=me(request), now=timezone.now(), whys=whys,
        )  # fmt: skip
    except Refused as refused:
        if ASKS & {reason.code for reason in refused.reasons}:
            return ask_for_all(request, whys, refused)
        return _page(request, lesson_id, chosen, form, refused.reasons, status=409)
    if plan.pk == before:
        messages.success(request, "Made again: nothing had to change.")
    else:
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


@asks_why
def group(request: HttpRequest, plan_id: UUID) -> HttpResponse:
    """The shared lines, each person's deviations beside them, and the rounds."""
    return _opened(request, plan_id, lambda view: render(request, "programming/group.html", {"plan": view}))


@asks_why
def group_round(request: HttpRequest, plan_id: UUID, number: int) -> HttpResponse:
    """One round to be read from afar: what each person does now and what comes then."""
    return _opened(request, plan_id, lambda view: _round(request, view, number))


def _opened(request: HttpRequest, plan_id: UUID, page: Callable[[GroupView], HttpResponse]) -> HttpResponse:
    """The page of an opened plan, or the question why she looks, once for everybody."""
    whys = reasons_for(request, group_queries.clients_of_plan(plan_id))
    try:
        view = actions.open_group_plan(plan_id, by=me(request), now=timezone.now(), whys=whys)
    except Refused as refused:
        return ask_for_all(request, whys, refused)
    return page(view)


def _round(request: HttpRequest, view: GroupView, number: int) -> HttpResponse:
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
