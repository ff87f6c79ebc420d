"""Routes of the clients' app: the desk's cards, the floor's health page, the form by its private link, the API."""

from django.urls import path

from clients import api, pages
from studio.doors import by_link, roles
from studio.rules import Role

app_name = "clients"

desk = roles(Role.DESK, Role.OWNER)
house = roles(Role.DESK, Role.OWNER, Role.INSTRUCTOR)
floor = roles(Role.INSTRUCTOR, Role.OWNER)

urlpatterns = [
    path("desk/clients/", house(pages.listing), name="list"),
    path("desk/clients/find/", house(pages.find), name="find"),
    path("desk/clients/add/", desk(pages.add), name="add"),
    path("desk/clients/<uuid:client_id>/", house(pages.card), name="card"),
    path("desk/clients/<uuid:client_id>/change/", desk(pages.change), name="change"),
    path("desk/clients/<uuid:client_id>/send-form/", desk(pages.send_form), name="send-form"),
    path("desk/clients/<uuid:client_id>/form-here/", house(pages.form_here), name="form-here"),
    path("desk/clients/<uuid:client_id>/type-in/", floor(pages.type_in), name="type-in"),
    path("desk/empty-form.pdf", house(pages.blank_form), name="blank-form"),
    path("desk/form-links/<uuid:link_id>/back/", house(pages.form_back), name="form-back"),
    path("floor/clients/<uuid:client_id>/health/", floor(pages.health), name="health"),
    path("floor/clients/<uuid:client_id>/versions/", floor(pages.versions), name="versions"),
    path(
        "floor/clients/<uuid:client_id>/versions/<int:version>/paper/", floor(pages.version_paper), name="version-paper"
    ),
    path("floor/conditions/<uuid:record_id>/settle/", roles(Role.INSTRUCTOR)(pages.settle), name="settle"),
    path("floor/reviews/", floor(pages.reviews_panel), name="reviews-panel"),
    path("floor/reviews/<uuid:review_id>/held/", roles(Role.INSTRUCTOR)(pages.review_held), name="review-held"),
    path("form/<str:token>/", by_link(pages.form), name="form"),
    path("form/<str:token>/ask/<str:screen_id>/", by_link(pages.form_screen), name="form-screen"),
    path("form/<str:token>/card/", by_link(pages.form_card), name="form-card"),
    path("form/<str:token>/later/", by_link(pages.form_later), name="form-later"),
    path("form/<str:token>/signed/", by_link(pages.form_signed), name="form-signed"),
    path("api/clients/", house(api.ClientsView.as_view()), name="api-list"),
    path("api/clients/find/", house(api.FindView.as_view()), name="api-find"),
    path("api/clients/<uuid:client_id>/", house(api.ClientView.as_view()), name="api-card"),
]
