"""The door: sign in, hand over, choose a new password, accept an invitation."""

from axes.utils import reset as forget_wrong_passwords
from django.contrib import auth, messages
from django.contrib.auth import views
from django.contrib.auth.forms import AuthenticationForm
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from studio import forms, queries
from studio.actions import people
from studio.doors import kept
from studio.doors.fields import posted

BACKEND = "django.contrib.auth.backends.ModelBackend"


class Login(views.LoginView):
    template_name = "studio/login.html"
    authentication_form = forms.LoginForm
    redirect_authenticated_user = True

    def get(self, request: HttpRequest, *args: object, **options: object) -> HttpResponse:
        if not queries.anybody():
            return redirect("studio:welcome")
        return super().get(request, *args, **options)


class TakeBack(Login):
    """A tablet kept to one address opens again for the member of staff who signs in on it."""

    template_name = "studio/take_back.html"

    def get_context_data(self, **options: object) -> dict[str, object]:
        return super().get_context_data(**options) | {"prefix": kept.kept_to(self.request)}

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        super().form_valid(form)
        return redirect(kept.take_back(self.request) or "studio:home")


@require_POST
def logout(request: HttpRequest) -> HttpResponse:
    auth.logout(request)
    messages.info(request, "Handed over. The next person signs in as herself.")
    return redirect("studio:login")


def password_reset(request: HttpRequest) -> HttpResponse:
    form = forms.ResetForm(posted(request))
    if form.is_valid():
        people.ask_reset(form.cleaned_data["email"], now=timezone.now())
        return redirect("studio:password-reset-sent")
    return render(request, "studio/password_reset.html", {"form": form})


def password_reset_sent(request: HttpRequest) -> HttpResponse:
    return render(request, "studio/password_reset_sent.html")


class PasswordResetConfirm(views.PasswordResetConfirmView):
    template_name = "studio/password_reset_confirm.html"
    success_url = reverse_lazy("studio:password-reset-done")

    def form_valid(self, form: Form) -> HttpResponse:
        assert self.user is not None
        people.reset_password(self.user.pk, password=form.cleaned_data["new_password1"], now=timezone.now())
        forget_wrong_passwords(username=self.user.email)
        del self.request.session[views.INTERNAL_RESET_SESSION_TOKEN]
        return redirect(self.success_url)


def password_reset_done(request: HttpRequest) -> HttpResponse:
    return render(request, "studio/password_reset_done.html")


@sensitive_post_parameters()
def invitation(request: HttpRequest, token: str) -> HttpResponse:
    now = timezone.now()
    form = forms.PasswordForm(posted(request))
    found = queries.invitation(token, now=now)
    if found is None:
        return render(request, "studio/invitation_used.html", status=410)
    if form.carried_out(lambda data: _accept(request, token, data["password"])):
        return redirect("studio:home")
    return render(request, "studio/invitation.html", {"form": form, "found": found}, status=status_of(form))


def _accept(request: HttpRequest, token: str, password: str) -> None:
    person = people.accept_invitation(token, password=password, now=timezone.now())
    auth.login(request, person, backend=BACKEND)


def status_of(form: Form) -> int:
    """422 when the page comes back with something to put right."""
    return 422 if form.is_bound and form.errors else 200
