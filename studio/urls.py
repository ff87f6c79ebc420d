"""The front door: the studio's own routes, then each app's, known by string only."""

from django.urls import include, path
from drf_spectacular.views import SpectacularJSONAPIView

from studio import pages
from studio.doors import by_link, everyone, public, roles
from studio.pages import entry, house, privacy, sent, staff, welcome, words
from studio.rules import Role

handler400 = "studio.pages.bad_request"
handler403 = "studio.pages.not_allowed"
handler404 = "studio.pages.not_found"
handler500 = "studio.pages.broken"

owner = roles(Role.OWNER)
owner_or_desk = roles(Role.OWNER, Role.DESK)

entry_routes = [
    path("login/", public(entry.Login.as_view()), name="login"),
    path("take-back/", public(entry.TakeBack.as_view()), name="take-back"),
    path("logout/", everyone(entry.logout), name="logout"),
    path("password/", public(entry.password_reset), name="password-reset"),
    path("password/sent/", public(entry.password_reset_sent), name="password-reset-sent"),
    path("password/done/", public(entry.password_reset_done), name="password-reset-done"),
    path(
        "password/<str:uidb64>/<str:token>/",
        by_link(entry.PasswordResetConfirm.as_view()),
        name="password-reset-confirm",
    ),
    path("welcome/invitation/<str:token>/", by_link(entry.invitation), name="invitation"),
]

welcome_routes = [
    # Public while nobody has an account; each page asks for the owner as soon as there is one.
    path("welcome/", public(welcome.welcome), name="welcome"),
    path("welcome/account/", public(welcome.account), name="welcome-account"),
    path("welcome/house/", public(welcome.house), name="welcome-house"),
    path("welcome/hours/", public(welcome.hours), name="welcome-hours"),
    path("welcome/machines/", public(welcome.machines), name="welcome-machines"),
    path("welcome/teachers/", public(welcome.teachers), name="welcome-teachers"),
    path("welcome/policy/", public(welcome.policy), name="welcome-policy"),
]

office_routes = [
    path("office/", owner(pages.office), name="office"),
    path("office/staff/", owner(staff.staff), name="staff"),
    path("office/staff/invite/", owner(staff.invite), name="invite"),
    path("office/staff/<int:person_id>/", owner(staff.person), name="person"),
    path("office/staff/<int:person_id>/invite-again/", owner(staff.invite_again), name="invite-again"),
    path("office/staff/<int:person_id>/come-back/", owner(staff.come_back), name="come-back"),
    path("office/staff/<int:person_id>/end-sessions/", owner(staff.end_sessions), name="end-sessions"),
    path("office/house/", owner(house.house), name="house"),
    path("office/house/name/", owner(house.name_house), name="name-house"),
    path("office/house/add/", owner(house.add_studio), name="add-studio"),
    path("office/house/<int:studio_id>/", owner(house.change_studio), name="change-studio"),
    path("office/house/<int:studio_id>/hours/", owner(house.hours), name="hours"),
    path("office/house/<int:studio_id>/policy/", owner(house.policy), name="policy"),
    path("office/house/<int:studio_id>/days-off/", owner(house.close_days), name="close-days"),
    path("office/house/days-off/<int:closure_id>/open/", owner(house.open_days), name="open-days"),
    path("office/words/", owner(words.words), name="words"),
    path("office/words/<str:kind>/", owner(words.change_words), name="change-words"),
    path("office/sent/", owner_or_desk(sent.sent), name="sent"),
    path("office/sent/<uuid:notice_id>/again/", owner_or_desk(sent.send_again), name="send-again"),
    path("office/sent/<uuid:notice_id>/let-be/", owner_or_desk(sent.let_be), name="let-be"),
]

studio_routes = [
    path("", everyone(pages.home), name="home"),
    path("healthz", public(pages.healthz), name="healthz"),
    path("privacy/", public(privacy.privacy), name="privacy"),
    path("api/schema.json", everyone(SpectacularJSONAPIView.as_view()), name="api-schema"),
    *entry_routes,
    *welcome_routes,
    *office_routes,
]

urlpatterns = [
    path("", include((studio_routes, "studio"))),
    path("", include("clients.urls")),
    path("", include("scheduling.urls")),
    path("", include("programming.urls")),
]
