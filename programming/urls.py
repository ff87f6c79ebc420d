"""Routes of programs: the floor and its sheets, the client's panel, the repertoire in the office, the API."""

from django.urls import path

from programming import api, pages
from programming.api import building as building_api
from programming.api.fitting import FitView
from programming.pages import bodies, checkins, groups, papers, progress, proposals, springs, telling
from programming.pages import builder as builder_pages
from programming.pages import differences as difference_pages
from programming.pages import drafts as draft_pages
from studio.doors import roles
from studio.rules import Role

app_name = "programming"

floor = roles(Role.INSTRUCTOR)
teaching = roles(Role.INSTRUCTOR, Role.OWNER)
owner = roles(Role.OWNER)

urlpatterns = [
    path("floor/", floor(pages.floor), name="floor"),
    path("floor/panel/", floor(pages.home_floor), name="home-floor"),
    path("floor/<uuid:place_id>/brief/", teaching(pages.brief), name="brief"),
    path("floor/<uuid:place_id>/templates/", teaching(pages.templates), name="templates"),
    path("floor/<uuid:place_id>/assign/", teaching(pages.assign), name="assign"),
    path("floor/<uuid:place_id>/run/", floor(pages.run_sheet), name="run-sheet"),
    path("floor/<uuid:place_id>/run/lines/", floor(pages.run_lines), name="run-lines"),
    path("floor/<uuid:place_id>/run/mark/", floor(pages.mark), name="mark"),
    path("floor/<uuid:place_id>/run/undo/", floor(pages.undo), name="undo"),
    path("floor/<uuid:place_id>/run/score/", floor(pages.score), name="score"),
    path("floor/<uuid:place_id>/run/note/", floor(pages.note), name="note"),
    path("floor/<uuid:place_id>/run/finish/", floor(pages.finish), name="finish"),
    path("floor/<uuid:place_id>/check-in/", floor(checkins.check_in), name="check-in"),
    path("floor/<uuid:place_id>/check-in/back/", floor(checkins.take_back), name="check-in-back"),
    path("floor/clients/<uuid:client_id>/body/", teaching(bodies.body), name="body"),
    path("floor/clients/<uuid:client_id>/body/back/", teaching(bodies.body_back), name="body-back"),
    path("floor/clients/<uuid:client_id>/waivers/", teaching(bodies.waive), name="waivers"),
    path("floor/waivers/<uuid:waiver_id>/back/", teaching(bodies.waiver_back), name="waiver-back"),
    path("floor/lessons/<uuid:lesson_id>/group/", teaching(groups.group_lesson), name="group-lesson"),
    path("floor/groups/<uuid:plan_id>/", teaching(groups.group), name="group"),
    path("floor/groups/<uuid:plan_id>/rounds/<int:number>/", teaching(groups.group_round), name="group-round"),
    path("floor/groups/<uuid:plan_id>/back/", teaching(groups.group_back), name="group-back"),
    path("floor/programs/<uuid:program_id>/", teaching(pages.program), name="program"),
    path("floor/programs/<uuid:program_id>/work/", teaching(springs.program_work), name="program-work"),
    path("floor/programs/<uuid:program_id>/work/<uuid:line_id>/", teaching(springs.line_work), name="line-work"),
    path("office/springs/translate/", teaching(springs.translate), name="translate"),
    path("floor/programs/<uuid:program_id>/fit/", teaching(pages.refit), name="refit"),
    path("floor/programs/<uuid:program_id>/differences/", teaching(difference_pages.differences), name="differences"),
    path(
        "floor/programs/<uuid:program_id>/lines/<uuid:line_id>/", teaching(difference_pages.line), name="program-line"
    ),
    path(
        "floor/programs/<uuid:program_id>/lines/<uuid:line_id>/back/",
        teaching(difference_pages.line_back),
        name="program-line-back",
    ),
    path("floor/clients/<uuid:client_id>/programs/", teaching(pages.client_panel), name="client-panel"),
    path("office/templates/", teaching(draft_pages.template_list), name="template-list"),
    path("office/templates/new/", teaching(draft_pages.template_new), name="template-new"),
    path("office/templates/<uuid:template_id>/", teaching(builder_pages.template), name="template"),
    path("office/templates/<uuid:template_id>/edit/", teaching(builder_pages.template_edit), name="template-edit"),
    path("office/templates/<uuid:template_id>/stand/", teaching(builder_pages.template_stand), name="template-stand"),
    path("office/templates/<uuid:template_id>/about/", teaching(draft_pages.template_about), name="template-about"),
    path("office/templates/<uuid:template_id>/decide/", teaching(draft_pages.template_decide), name="template-decide"),
    path("office/templates/<uuid:template_id>/answer/", owner(draft_pages.template_answer), name="template-answer"),
    path(
        "office/templates/<uuid:template_id>/compare/",
        teaching(draft_pages.template_compare),
        name="template-compare",
    ),
    path("floor/clients/<uuid:client_id>/progress/", teaching(progress.progress), name="progress"),
    path("floor/clients/<uuid:client_id>/plan/", teaching(progress.plan), name="plan"),
    path("floor/clients/<uuid:client_id>/load/", teaching(progress.load), name="load"),
    path("floor/clients/<uuid:client_id>/level/<str:apparatus_kind>/", teaching(progress.level), name="level"),
    path(
        "floor/clients/<uuid:client_id>/progress/<str:exercise_id>/",
        teaching(progress.exercise_progress),
        name="exercise-progress",
    ),
    path("floor/clients/<uuid:client_id>/progress/<str:exercise_id>/decide/", teaching(progress.decide), name="decide"),
    path("floor/decisions/<uuid:decision_id>/back/", teaching(progress.decision_back), name="decision-back"),
    path("floor/grants/<uuid:grant_id>/back/", teaching(progress.grant_back), name="grant-back"),
    path("floor/clients/<uuid:client_id>/home-card/", teaching(papers.home_card), name="home-card"),
    path("floor/clients/<uuid:client_id>/log.csv", teaching(papers.log_file), name="log-file"),
    path("floor/programs/<uuid:program_id>/lesson-card/", teaching(papers.lesson_card), name="lesson-card"),
    path("floor/<uuid:place_id>/run/felt/", floor(telling.felt), name="felt"),
    path("floor/<uuid:place_id>/run/effort/", floor(telling.effort), name="effort"),
    path("floor/<uuid:place_id>/run/effort/back/", floor(telling.effort_back), name="effort-back"),
    path("floor/<uuid:place_id>/run/reopen/", floor(telling.reopen), name="reopen"),
    path("office/repertoire/", teaching(pages.repertoire), name="repertoire"),
    path("office/repertoire/reload/", owner(pages.reload), name="reload"),
    path("office/repertoire/new/", teaching(proposals.new_exercise), name="exercise-new"),
    path("office/waiting/", owner(proposals.waiting), name="waiting-panel"),
    path("office/repertoire/proposals/", teaching(proposals.all_proposals), name="proposals"),
    path("office/repertoire/proposals/<uuid:proposal_id>/", teaching(proposals.proposal), name="proposal"),
    path("office/repertoire/proposals/<uuid:proposal_id>/decide/", owner(proposals.decide), name="proposal-decide"),
    path(
        "office/repertoire/proposals/<uuid:proposal_id>/withdraw/",
        teaching(proposals.withdraw),
        name="proposal-withdraw",
    ),
    path("office/repertoire/proposals/<uuid:proposal_id>/take-back/", teaching(proposals.take_back), name="take-back"),
    path("office/repertoire/steps/new/", teaching(proposals.new_step), name="step-new"),
    path("office/repertoire/steps/<slug:step_code>/", teaching(proposals.step), name="step"),
    path("office/repertoire/steps/<slug:step_code>/retire/", teaching(proposals.retire_step), name="step-retire"),
    path("office/repertoire/steps/<slug:step_code>/back/", owner(proposals.bring_back_step), name="step-back"),
    path("office/repertoire/<slug:exercise_id>/", teaching(pages.exercise), name="exercise"),
    path("office/repertoire/<slug:exercise_id>/change/", teaching(proposals.change_exercise), name="exercise-change"),
    path("office/repertoire/<slug:exercise_id>/versions/", teaching(pages.versions), name="exercise-versions"),
    path("office/repertoire/<slug:exercise_id>/retire/", teaching(proposals.retire_exercise), name="exercise-retire"),
    path("office/repertoire/<slug:exercise_id>/back/", owner(proposals.bring_back_exercise), name="exercise-back"),
    path("api/lessons/<uuid:lesson_id>/group-plan/", floor(api.GroupPlanView.as_view()), name="api-group-plan"),
    path("api/programs/validate/", teaching(building_api.ValidateView.as_view()), name="api-validate"),
    path("api/programs/time/", teaching(building_api.TimeView.as_view()), name="api-time"),
    path("api/places/<uuid:place_id>/run-sheet/", floor(api.RunSheetView.as_view()), name="api-run-sheet"),
    path("api/places/<uuid:place_id>/log/lines/", floor(api.LogLineView.as_view()), name="api-log-line"),
    path("api/places/<uuid:place_id>/log/undo/", floor(api.LogUndoView.as_view()), name="api-log-undo"),
    path("api/places/<uuid:place_id>/log/finish/", floor(api.LogFinishView.as_view()), name="api-log-finish"),
    path("api/programs/fit/", teaching(FitView.as_view()), name="api-fit"),
    path("api/programs/fit/", teaching(FitView.as_view()), name="api-fit"),
    path("api/springs/translate/", teaching(api.TranslateView.as_view()), name="api-translate"),
]
