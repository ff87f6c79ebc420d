"""People who work here and how they are invited."""

import uuid

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from studio.rules import Role


class PersonQuerySet(models.QuerySet["Person"]):
    def working_here(self) -> "PersonQuerySet":
        return self.filter(is_active=True)

    def with_role(self, role: Role) -> "PersonQuerySet":
        return self.filter(roles__contains=[role.value])


class People(BaseUserManager.from_queryset(PersonQuerySet)):  # type: ignore[misc]
    def get_by_natural_key(self, username: str) -> "Person":
        return self.get(email__iexact=username.strip())


class Person(AbstractBaseUser):
    """Somebody who works here. Leaving ends the account, never the row: lessons and logs keep their names."""

    email = models.EmailField(max_length=254)
    name = models.CharField(max_length=120)
    say_it = models.CharField(max_length=120, blank=True)
    pronoun = models.CharField(max_length=40, blank=True)
    roles = ArrayField(models.CharField(max_length=20, choices=[(role.value, role.value) for role in Role]))
    is_active = models.BooleanField(default=True)
    left_on = models.DateField(null=True, blank=True)
    contact = models.ForeignKey("studio.Contact", on_delete=models.PROTECT, null=True, related_name="+", editable=False)
    session_epoch = models.PositiveIntegerField(default=0)
    joined_at = models.DateTimeField()

    objects = People()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    class Meta:
        verbose_name_plural = "people"
        constraints = [
            models.UniqueConstraint(
                Lower("email"),
                name="studio_person_email_once",
                violation_error_message="Somebody already uses that e-mail address.",
            ),
            models.CheckConstraint(
                condition=Q(roles__contained_by=[role.value for role in Role]) & Q(roles__len__gt=0),
                name="studio_person_known_roles",
                violation_error_message="Choose at least one role.",
            ),
            models.CheckConstraint(
                condition=Q(is_active=True, left_on=None) | Q(is_active=False),
                name="studio_person_left_is_inactive",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def has_role(self, *roles: Role) -> bool:
        return any(role.value in self.roles for role in roles)

    def _get_session_auth_hash(self, secret: str | None = None) -> str:
        # The epoch joins the password, so that ending someone's sessions needs no new password.
        from django.utils.crypto import salted_hmac

        salt = "studio.person.session"
        return salted_hmac(salt, f"{self.password}:{self.session_epoch}", secret=secret, algorithm="sha256").hexdigest()


class Invitation(models.Model):
    """A mailed link by which somebody sets the first password. Only a digest of the token is kept."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="invitations")
    token_digest = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"invitation of {self.person}"
