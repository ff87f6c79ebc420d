"""Clients over the API: the card and no health. A search travels in the body, so that no name stands in an address."""

from dataclasses import asdict
from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from clients import actions, queries
from clients.api.limits import LimitsView
from studio.doors import me, rest
from studio.rules import Role

__all__ = ["ClientView", "ClientsView", "FindView", "LimitsView"]

MOST_ROWS = 100


class ClientRowSerializer(serializers.Serializer):
    id = serializers.UUIDField()
    name = serializers.CharField()
    say_it = serializers.CharField()
    pronoun = serializers.CharField()
    phone = serializers.CharField()
    email = serializers.CharField()
    born_on = serializers.DateField(allow_null=True)
    last_visit = serializers.DateField(allow_null=True)


class FormStandingSerializer(serializers.Serializer):
    """What the desk knows of a health form."""

    word = serializers.CharField(help_text="form current, form not current or speak to the instructor")
    missing = serializers.ListField(child=serializers.CharField(), help_text="form, signature or letter")
    valid_until = serializers.DateField(allow_null=True)
    signed_on = serializers.DateField(allow_null=True)


class ClientCardSerializer(serializers.Serializer):
    id = serializers.UUIDField()
    name = serializers.CharField()
    say_it = serializers.CharField()
    pronoun = serializers.CharField()
    born_on = serializers.DateField(allow_null=True)
    guardian_name = serializers.CharField()
    email = serializers.CharField()
    phone = serializers.CharField()
    emergency_name = serializers.CharField()
    emergency_phone = serializers.CharField()
    notes = serializers.CharField()
    usual_instructor = serializers.CharField()
    home_id = serializers.IntegerField(allow_null=True)
    home = serializers.CharField()
    visits = serializers.IntegerField()
    last_visit = serializers.DateField(allow_null=True)
    made_at = serializers.DateTimeField()
    form = FormStandingSerializer()


class PageSerializer(serializers.Serializer):
    """`next_after` is the id to pass as `after` for the next page, null on the last one."""

    clients = ClientRowSerializer(many=True)
    next_after = serializers.UUIDField(allow_null=True)


class FoundSerializer(serializers.Serializer):
    clients = ClientRowSerializer(many=True)


class PageWantedSerializer(serializers.Serializer):
    after = serializers.UUIDField(required=False, help_text="The last id of the page before.")
    limit = serializers.IntegerField(required=False, min_value=1, max_value=MOST_ROWS)


class FindSerializer(serializers.Serializer):
    text = serializers.CharField(max_length=120, help_text="Any part of a name, phone or e-mail, accents or not.")


class NewClientSerializer(serializers.Serializer):
    """`different_from` names the look-alikes of an earlier 409 who are somebody else."""

    name = serializers.CharField(max_length=120)
    email = serializers.CharField(max_length=254, required=False, allow_blank=True)
    phone = serializers.CharField(max_length=40, required=False, allow_blank=True)
    pronoun = serializers.CharField(max_length=40, required=False, allow_blank=True)
    say_it = serializers.CharField(max_length=120, required=False, allow_blank=True)
    born_on = serializers.DateField(required=False, allow_null=True)
    guardian_name = serializers.CharField(max_length=120, required=False, allow_blank=True)
    emergency_name = serializers.CharField(max_length=120, required=False, allow_blank=True)
    emergency_phone = serializers.CharField(max_length=40, required=False, allow_blank=True)
    notes = serializers.CharField(max_length=2000, required=False, allow_blank=True)
    home_id = serializers.IntegerField(required=False, allow_null=True, min_value=1, max_value=2**31 - 1)
    different_from = serializers.ListField(child=serializers.UUIDField(), max_length=20, required=False)


REFUSALS = {401: rest.DetailSerializer, 403: rest.DetailSerializer}
KEY = OpenApiParameter("Idempotency-Key", str, OpenApiParameter.HEADER, description="One intent, one key.")


class ClientsView(APIView):
    @extend_schema(
        operation_id="clients_list",
        summary="All clients, page by page",
        parameters=[PageWantedSerializer],
        responses={200: PageSerializer, 400: dict[str, Any], **REFUSALS},
    )
    def get(self, request: Request) -> Response:
        wanted = PageWantedSerializer(data=request.query_params)
        wanted.is_valid(raise_exception=True)
        limit = wanted.validated_data.get("limit", MOST_ROWS)
        rows = queries.page_of(after=wanted.validated_data.get("after"), limit=limit)
        following = rows[-1].id if len(rows) == limit else None
        return Response(PageSerializer({"clients": rows, "next_after": following}).data)

    @extend_schema(
        operation_id="clients_add",
        summary="Add a client",
        parameters=[KEY],
        request=NewClientSerializer,
        responses={201: ClientCardSerializer, 400: dict[str, Any], 409: rest.RefusedSerializer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        if not me(request).has_role(Role.DESK, Role.OWNER):
            return Response({"detail": "Your roles do not open this."}, status=403)
        given = NewClientSerializer(data=request.data)
        given.is_valid(raise_exception=True)

        def add(now: datetime) -> tuple[int, dict[str, Any]]:
            words = given.validated_data | {"different_from": tuple(given.validated_data.get("different_from", ()))}
            client = actions.add_client(**words, by=me(request), now=now)
            return 201, _card(client.pk, now)

        return rest.once(request, add)


class FindView(APIView):
    @extend_schema(
        operation_id="clients_find",
        summary="Find clients",
        request=FindSerializer,
        responses={200: FoundSerializer, 400: dict[str, Any], **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        wanted = FindSerializer(data=request.data)
        wanted.is_valid(raise_exception=True)
        return Response(FoundSerializer({"clients": queries.find(wanted.validated_data["text"])}).data)


class ClientView(APIView):
    @extend_schema(
        operation_id="clients_card",
        summary="One client's card",
        responses={200: ClientCardSerializer, 404: rest.DetailSerializer, **REFUSALS},
    )
    def get(self, request: Request, client_id: UUID) -> Response:
        return Response(_card(client_id, timezone.now()))


def _card(client_id: UUID, now: datetime) -> dict[str, Any]:
    standing = queries.form_standings([client_id], on=queries.house_day(now))[client_id]
    shown = vars(queries.card(client_id)) | {"form": asdict(standing)}
    return dict(ClientCardSerializer(shown).data)
