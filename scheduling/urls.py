"""Routes of scheduling: the desk's day, openings and places, the owner's machines and use, the API."""

from django.urls import path

from scheduling import api, pages
from studio.doors import roles
from studio.rules import Role

app_name = "scheduling"


desk = roles(Role.DESK, Role.OWNER)
house = roles(Role.DESK, Role.OWNER, Role.INSTRUCTOR)
owner = roles(Role.OWNER)
teaching = roles(Role.INSTRUCTOR, Role.OWNER)

desk_routes = [
    path("desk/", desk(pages.day_sheet), name="day-sheet"),
    path("desk/changes/", desk(pages.changes), name="changes"),
    path("desk/home/", desk(pages.home_desk), name="home-desk"),
    path("desk/home/door/", desk(pages.home_desk_side), name="home-desk-side"),
    path("desk/openings/", desk(pages.openings), name="openings"),
    path("desk/openings/who/", desk(pages.who), name="who"),
    path("desk/book/", desk(pages.book), name="book"),
    path("desk/places/<uuid:place_id>/", desk(pages.place), name="place"),
    path("desk/places/<uuid:place_id>/state/", desk(pages.mark), name="place-state"),
    path("desk/places/<uuid:place_id>/undo/", desk(pages.undo), name="place-undo"),
    path("desk/places/<uuid:place_id>/take-back/", desk(pages.take_back), name="take-back"),
    path("desk/places/<uuid:place_id>/move/", desk(pages.move), name="move"),
    path("desk/places/<uuid:place_id>/cancel-lesson/", desk(pages.cancel_lesson), name="cancel-lesson"),
    path("desk/places/<uuid:place_id>/bring-back/", desk(pages.bring_back_lesson), name="bring-back-lesson"),
    path("desk/clients/<uuid:client_id>/lessons/", house(pages.client_panel), name="client-panel"),
]

office_routes = [
    path("office/use/", owner(pages.use), name="use"),
    path("office/use/panel/", owner(pages.use_panel), name="use-panel"),
    path("office/load/panel/", owner(pages.load_panel), name="load-panel"),
    path("office/home/", owner(pages.home_owner), name="home-owner"),
    path("office/machines/", owner(pages.machines), name="machines"),
    path("office/machines/panel/", owner(pages.setup_machines), name="setup-machines"),
    path("office/machines/add-room/", owner(pages.add_room), name="add-room"),
    path("office/machines/add/", owner(pages.add_machine), name="add-machine"),
    path("office/machines/<int:apparatus_id>/", owner(pages.machine), name="machine"),
    path("office/machines/<int:apparatus_id>/out/", owner(pages.out_of_service), name="out-of-service"),
    path(
        "office/machines/<int:apparatus_id>/out/<int:out_id>/back/",
        owner(pages.back_in_service),
        name="back-in-service",
    ),
    path("office/teachers/<int:person_id>/", owner(pages.instructor), name="instructor"),
    path("office/teachers/<int:person_id>/off/", owner(pages.time_off), name="time-off"),
    path("office/teachers/<int:person_id>/off/<int:off_id>/end/", owner(pages.end_time_off), name="end-time-off"),
    path("office/staff/<int:person_id>/leave/", owner(pages.leave), name="leave"),
    path("office/hand-over/", owner(pages.hand_over), name="hand-over"),
]

spring_routes = [
    path("office/springs/", teaching(pages.springs), name="springs"),
    path("office/springs/panel/", owner(pages.springs_panel), name="springs-panel"),
    path("office/springs/<int:spring_id>/", teaching(pages.spring), name="spring"),
    path("office/springs/<int:spring_id>/calibrate/", teaching(pages.calibrate), name="calibrate"),
    path("office/springs/<int:spring_id>/look/", teaching(pages.look_at_spring), name="look-at-spring"),
    path("office/springs/<int:spring_id>/replace/", owner(pages.replace_spring), name="replace-spring"),
    path("office/springs/<int:spring_id>/off/", owner(pages.take_off_spring), name="take-off-spring"),
    path("office/springs/<int:spring_id>/back/", owner(pages.put_back_spring), name="put-back-spring"),
    path(
        "office/springs/calibrations/<int:calibration_id>/back/",
        teaching(pages.take_back_calibration),
        name="take-back-calibration",
    ),
    path(
        "office/springs/calibrations/<int:calibration_id>/again/",
        teaching(pages.bring_back_calibration),
        name="bring-back-calibration",
    ),
    path("office/springs/looks/<int:look_id>/back/", teaching(pages.take_back_look), name="take-back-look"),
    path("office/machines/<int:apparatus_id>/springs/", teaching(pages.machine_springs), name="machine-springs"),
    path("office/machines/<int:apparatus_id>/springs/hang/", owner(pages.hang_spring), name="hang-spring"),
    path("office/machines/<int:apparatus_id>/springs/looked/", teaching(pages.look_at_machine), name="look-at-machine"),
    path("office/machines/<int:apparatus_id>/measures/", owner(pages.measure_machine), name="measure-machine"),
]

item_routes = [
    path("office/items/", owner(pages.items), name="items"),
    path("office/items/<int:item_id>/away/", owner(pages.put_item_away), name="put-item-away"),
    path("office/items/<int:item_id>/back/", owner(pages.bring_item_out), name="bring-item-out"),
    path("desk/items/", house(pages.items_of_day), name="items-day"),
    path("desk/places/<uuid:place_id>/items/", house(pages.place_items), name="place-items"),
    path("desk/holds/<int:hold_id>/release/", house(pages.release_hold), name="release-hold"),
]

api_routes = [
    path("api/days/<str:day>/", house(api.DayView.as_view()), name="api-day"),
    path("api/openings/", desk(api.OpeningsView.as_view()), name="api-openings"),
    path("api/places/", desk(api.PlacesView.as_view()), name="api-places"),
    path("api/places/<uuid:place_id>/", house(api.PlaceView.as_view()), name="api-place"),
    path("api/places/<uuid:place_id>/state/", house(api.PlaceStateView.as_view()), name="api-place-state"),
]

urlpatterns = [*desk_routes, *office_routes, *spring_routes, *item_routes, *api_routes]
