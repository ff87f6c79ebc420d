"""Routes of the clients' app: the desk's cards, the floor's health page, the form by its private link, the API."""

from django.urls import path

from clients import api, pages
from clients.api.trying import TryView
from clients.pages import choices, rules, runs, trying, workbench
from studio.doors import by_link, roles
from studio.rules import Role

app_name = "clients"

desk = roles(Role.DESK, Role.OWNER)
house = roles(Role.DESK, Role.OWNER, Role.INSTRUCTOR)
floor = roles(Role.INSTRUCTOR, Role.OWNER)
owner = roles(Role.OWNER)
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
    path("desk/clients/<uuid:client_id>/letter/", house(pages.hand_in), name="hand-in"),
    path("desk/clients/<uuid:client_id>/photograph/", house(pages.photograph), name="photograph"),
    path("desk/clients/<uuid:client_id>/photograph/change/", house(pages.photograph_change), name="photograph-change"),
    path("desk/clients/<uuid:client_id>/photograph/remove/", house(pages.photograph_remove), name="photograph-remove"),
    path("desk/papers/", desk(pages.papers_desk), name="papers"),
    path("desk/papers/<uuid:request_id>/remind/", house(pages.paper_remind), name="paper-remind"),
    path("desk/letters/<uuid:letter_id>/route/", desk(pages.letter_route), name="letter-route"),
    path("floor/papers/", floor(pages.papers_floor), name="papers-floor"),
    path("floor/papers/<uuid:request_id>/", floor(pages.paper_request), name="paper-request"),
    path("floor/papers/<uuid:request_id>/print/", floor(pages.paper_print), name="paper-print"),
    path("floor/letters/", floor(pages.letters_panel), name="letters-panel"),
    path("floor/letters/<uuid:letter_id>/", floor(pages.letter), name="letter"),
    path("floor/letters/<uuid:letter_id>/confirm/", floor(pages.letter_confirm), name="letter-confirm"),
    path("floor/letters/<uuid:letter_id>/end/", floor(pages.letter_end), name="letter-end"),
    path("floor/letters/<uuid:letter_id>/aside/", floor(pages.letter_aside), name="letter-aside"),
    path("floor/letter-files/<uuid:file_id>/", floor(pages.letter_file), name="letter-file"),
    path("floor/clients/<uuid:client_id>/letters/", floor(pages.letters), name="letters"),
    path("form/<str:token>/", by_link(pages.form), name="form"),
    path("form/<str:token>/ask/<str:screen_id>/", by_link(pages.form_screen), name="form-screen"),
    path("form/<str:token>/card/", by_link(pages.form_card), name="form-card"),
    path("form/<str:token>/later/", by_link(pages.form_later), name="form-later"),
    path("form/<str:token>/signed/", by_link(pages.form_signed), name="form-signed"),
    path("office/rules/", floor(rules.rules), name="rules"),
    path("office/rules/tables/<slug:slug>/", floor(rules.rules_table), name="rules-table"),
    path("office/rules/try/", floor(trying.rules_try), name="rules-try"),
    path("office/rules/choices/", owner(choices.rules_choices), name="rules-choices"),
    path("office/rules/choices/<str:point>/", owner(choices.rules_choice), name="rules-choice"),
    path("office/rules/versions/", owner(workbench.rules_versions), name="rules-versions"),
    path("office/rules/versions/upload/", owner(workbench.rules_upload), name="rules-upload"),
    path("office/rules/versions/<int:version_id>/", owner(workbench.rules_version), name="rules-version"),
    path("office/rules/versions/<int:version_id>/compare/", owner(workbench.rules_compare), name="rules-compare"),
    path("office/rules/versions/<int:version_id>/put-in-force/", owner(workbench.rules_put), name="rules-put"),
    path("office/rules/versions/<int:version_id>/review/", owner(workbench.rules_review), name="rules-review"),
    path("office/rules/versions/<int:version_id>/<slug:table>.csv", owner(workbench.rules_file), name="rules-file"),
    path(
        "office/rules/versions/<int:version_id>/<slug:table>/<str:row_key>/",
        owner(workbench.rules_edit),
        name="rules-edit",
    ),
    path("office/rules/runs/all/", owner(runs.rules_screen_all), name="rules-screen-all"),
    path("office/rules/runs/<uuid:run_id>/", owner(runs.rules_run), name="rules-run"),
    path("office/rules/runs/<uuid:run_id>/stop/", owner(runs.rules_run_stop), name="rules-run-stop"),
    path("office/rules/runs/<uuid:run_id>/go-on/", owner(runs.rules_run_go_on), name="rules-run-go-on"),
    path("office/rules/runs/<uuid:run_id>/who/", owner(runs.rules_run_who), name="rules-run-who"),
    path("api/rules/try/", floor(TryView.as_view()), name="api-rules-try"),
    path("api/clients/", house(api.ClientsView.as_view()), name="api-list"),
    path("api/clients/find/", house(api.FindView.as_view()), name="api-find"),
    path("api/clients/<uuid:client_id>/limits/", floor(api.LimitsView.as_view()), name="api-limits"),
    path("api/clients/<uuid:client_id>/", house(api.ClientView.as_view()), name="api-card"),
]
