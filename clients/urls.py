"""Routes of the clients' app: the desk's cards, the floor's health page, the form by its private link, the API."""

from django.urls import path

from clients import api, pages
from studio.doors import by_link, roles
from studio.rules import Role

app_name = "clients"

desk = roles(Role.DESK, Role.OWNER)
house = roles(Role.DESK, Role.OWNER, Role.INSTRUCTOR)
floor = roles(Role.INSTRUCTOR, Role.OWNER)
teachers = roles(Role.INSTRUCTOR)

urlpatterns = [
    path("desk/clients/", house(pages.listing), name="list"),
    path("desk/clients/find/", house(pages.find), name="find"),
    path("desk/clients/add/", desk(pages.add), name="add"),
    path("desk/clients/import/", desk(pages.import_list), name="import"),
    path("desk/clients/import/<uuid:import_id>/", desk(pages.import_rows), name="import-rows"),
    path("desk/clients/import/<uuid:import_id>/columns/", desk(pages.import_columns), name="import-columns"),
    path("desk/clients/import/<uuid:import_id>/rest.csv", desk(pages.import_rest), name="import-rest"),
    path("desk/clients/import/<uuid:import_id>/leave/", desk(pages.import_leave), name="import-leave"),
    path("desk/clients/import/<uuid:import_id>/take-back/", desk(pages.import_take_back), name="import-take-back"),
    path("desk/clients/<uuid:client_id>/", house(pages.card), name="card"),
    path("desk/clients/<uuid:client_id>/change/", desk(pages.change), name="change"),
    path("desk/clients/<uuid:client_id>/send-form/", desk(pages.send_form), name="send-form"),
    path("desk/clients/<uuid:client_id>/form-here/", house(pages.form_here), name="form-here"),
    path("desk/clients/<uuid:client_id>/type-in/", floor(pages.type_in), name="type-in"),
    path("desk/clients/<uuid:client_id>/consents/", house(pages.consents), name="consents"),
    path("desk/clients/<uuid:client_id>/same-person/", desk(pages.same_person), name="same-person"),
    path("desk/clients/<uuid:client_id>/merge/<uuid:other_id>/", desk(pages.merge), name="merge"),
    path("desk/merges/<uuid:merge_id>/undo/", desk(pages.merge_undo), name="merge-undo"),
    path("desk/empty-form.pdf", house(pages.blank_form), name="blank-form"),
    path("desk/form-links/<uuid:link_id>/back/", house(pages.form_back), name="form-back"),
    path("floor/clients/<uuid:client_id>/health/", floor(pages.health), name="health"),
    path("floor/clients/<uuid:client_id>/versions/", floor(pages.versions), name="versions"),
    path(
        "floor/clients/<uuid:client_id>/versions/<int:version>/paper/", floor(pages.version_paper), name="version-paper"
    ),
    path("floor/conditions/<uuid:record_id>/settle/", roles(Role.INSTRUCTOR)(pages.settle), name="settle"),
    path("floor/conditions/<uuid:record_id>/window-end/", teachers(pages.window_end), name="window-end"),
    path("floor/clients/<uuid:client_id>/readings/", teachers(pages.readings), name="readings"),
    path("floor/readings/<uuid:reading_id>/repeat/", teachers(pages.reading_repeat), name="reading-repeat"),
    path("floor/readings/<uuid:reading_id>/strike/", teachers(pages.reading_strike), name="reading-strike"),
    path("floor/clients/<uuid:client_id>/restrict/", teachers(pages.restrict), name="restrict"),
    path("floor/restrictions/<uuid:restriction_id>/end/", teachers(pages.end_restriction), name="end-restriction"),
    path("floor/clients/<uuid:client_id>/ask-again/", floor(pages.ask_again), name="ask-again"),
    path("floor/coming/", floor(pages.coming_panel), name="coming-panel"),
    path("floor/reviews/", floor(pages.reviews_panel), name="reviews-panel"),
    path("floor/reviews/<uuid:review_id>/held/", roles(Role.INSTRUCTOR)(pages.review_held), name="review-held"),
    path("floor/clients/<uuid:client_id>/looked/", floor(pages.looked), name="looked"),
    path("office/clients/<uuid:client_id>/export/", roles(Role.OWNER)(pages.export), name="export"),
    path("office/clients/<uuid:client_id>/erase/", roles(Role.OWNER)(pages.erase), name="erase"),
    path("form/<str:token>/", by_link(pages.form), name="form"),
    path("form/<str:token>/ask/<str:screen_id>/", by_link(pages.form_screen), name="form-screen"),
    path("form/<str:token>/card/", by_link(pages.form_card), name="form-card"),
    path("form/<str:token>/later/", by_link(pages.form_later), name="form-later"),
    path("form/<str:token>/signed/", by_link(pages.form_signed), name="form-signed"),
    path("api/clients/", house(api.ClientsView.as_view()), name="api-list"),
    path("api/clients/find/", house(api.FindView.as_view()), name="api-find"),
    path("api/clients/<uuid:client_id>/limits/", floor(api.LimitsView.as_view()), name="api-limits"),
    path("api/clients/<uuid:client_id>/", house(api.ClientView.as_view()), name="api-card"),
]
