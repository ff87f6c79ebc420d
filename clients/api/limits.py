"""A client's limits over the API: who asks, and why, is kept as it is on the page."""

from typing import Any
from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from clients import actions
from studio.doors import me, rest


class WhyLookSerializer(serializers.Serializer):
    """Who cares for the client today gives no reason; anybody else does, in the body and never in an address."""

    why = serializers.CharField(
        max_length=200, required=False, allow_blank=True, help_text="Kept with your name and the time."
    )


class LimitSourceSerializer(serializers.Serializer):
    citation = serializers.CharField()
    year = serializers.CharField()
    note = serializers.CharField(help_text="How it was checked, or that nothing is published.")
    url_or_doi = serializers.CharField()


class LimitChainSerializer(serializers.Serializer):
    """The why of a limit: condition, demand, rule, sources."""

    condition = serializers.CharField()
    phase = serializers.CharField()
    rests_on = serializers.CharField()
    demand = serializers.CharField()
    rule = serializers.CharField()
    strength = serializers.CharField()
    sources = LimitSourceSerializer(many=True)


class LimitSerializer(serializers.Serializer):
    demand = serializers.CharField(help_text="The id of the demand in the reference.")
    name = serializers.CharField()
    level = serializers.CharField(help_text="avoid, adapt or watch")
    side = serializers.CharField(help_text="left or right; empty when it is on both")
    how = serializers.CharField()
    until = serializers.DateField(
        allow_null=True, help_text="The last day of the window; the limit stays until a named person confirms its end."
    )
    chains = LimitChainSerializer(many=True)


class RelaxedLimitSerializer(serializers.Serializer):
    """A limit that a clinician's letter takes back until a day, that day included."""

    name = serializers.CharField()
    level = serializers.CharField()
    side = serializers.CharField()
    until = serializers.DateField()
    because = serializers.ListField(child=serializers.CharField())


class LimitSheetSerializer(serializers.Serializer):
    """`is_reviewed` false: the rules behind it were not read over by a licensed professional yet."""

    client_id = serializers.UUIDField()
    outcome = serializers.CharField(
        allow_null=True, help_text="emergency, postpone, refer, incomplete, clear_limited or clear; null: not screened"
    )
    decided_at = serializers.DateTimeField(allow_null=True)
    valid_until = serializers.DateField(allow_null=True)
    is_reviewed = serializers.BooleanField()
    limits = LimitSerializer(many=True)
    relaxed = RelaxedLimitSerializer(many=True)


class LimitsView(APIView):
    @extend_schema(
        operation_id="clients_limits",
        summary="The limits in force, with their why",
        description="For instructors who care for the client today; others, and the owner, send a reason. Each read "
        "is recorded. Nothing found is about the answers given, never a promise of safety.",
        request=WhyLookSerializer,
        responses={
            200: LimitSheetSerializer,
            400: dict[str, Any],
            401: rest.DetailSerializer,
            403: rest.DetailSerializer,
            404: rest.DetailSerializer,
            409: rest.RefusedSerializer,
        },
    )
    def post(self, request: Request, client_id: UUID) -> Response:
        given = WhyLookSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        why = given.validated_data.get("why", "")
        sheet = actions.read_limit_sheet(client_id, by=me(request), now=timezone.now(), why=why)
        return Response(LimitSheetSerializer(sheet).data)
