"""Routes of programs: the floor and its sheets, the client's panel, the repertoire in the office, the API."""

from django.urls import path

from programming import api, pages
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
    path("floor/programs/<uuid:program_id>/", teaching(pages.program), name="program"),
    path("floor/programs/<uuid:program_id>/fit/", teaching(pages.refit), name="refit"),
    path("floor/clients/<uuid:client_id>/programs/", teaching(pages.client_panel), name="client-panel"),
    path("office/repertoire/", teaching(pages.repertoire), name="repertoire"),
    path("office/repertoire/reload/", owner(pages.reload), name="reload"),
    path("office/repertoire/<str:exercise_id>/", teaching(pages.exercise), name="exercise"),
    path("api/places/<uuid:place_id>/run-sheet/", floor(api.RunSheetView.as_view()), name="api-run-sheet"),
    path("api/places/<uuid:place_id>/log/lines/", floor(api.LogLineView.as_view()), name="api-log-line"),
    path("api/places/<uuid:place_id>/log/undo/", floor(api.LogUndoView.as_view()), name="api-log-undo"),
    path("api/places/<uuid:place_id>/log/finish/", floor(api.LogFinishView.as_view()), name="api-log-finish"),
]
