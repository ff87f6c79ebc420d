"""The rules asked over the API about a case that nobody has: reference ids in, outcome and its path out."""

from typing import Any, TypeAlias

from django.utils import timezone
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from clients import queries
from clients.queries import trials
from clients.rules import trying
from clients.rules.facts import Disease, Side, Today
from clients.rules.outcomes import Level, Outcome
from clients.rules.reference import Intensity
from studio.doors import rest
from studio.rules import Refused

MOST = 20
Many: TypeAlias = serializers.ListSerializer[Any]


def _ids(**words: Any) -> serializers.ListField:
    return serializers.ListField(child=serializers.CharField(max_length=60), max_length=MOST * 3, **words)


class TryConditionSerializer(serializers.Serializer):
    condition = serializers.CharField(max_length=60, help_text="Id of a condition, like C01.")
    side = serializers.ChoiceField(choices=[one.value for one in Side], required=False, allow_null=True)
    since = serializers.DateField(required=False, allow_null=True, help_text="The day its window counts from.")
    needs_clearance = serializers.BooleanField(required=False, allow_null=True, help_text="null: not asked.")
    is_held = serializers.BooleanField(required=False, help_text="Something besides the date keeps it in force.")


class TryFlagSerializer(serializers.Serializer):
    flag = serializers.CharField(max_length=60, help_text="Id of a red flag, like F01.")
    needs_met = serializers.BooleanField(required=False, allow_null=True, default=True)


class TryPressureSerializer(serializers.Serializer):
    systolic = serializers.IntegerField(min_value=40, max_value=320)
    diastolic = serializers.IntegerField(min_value=20, max_value=220)


class TryReadingsSerializer(serializers.Serializer):
    """In mmHg and beats a minute, seated, in the order taken."""

    pressures: Many = serializers.ListSerializer(child=TryPressureSerializer(), required=False, max_length=4)
    heart_rate = serializers.IntegerField(required=False, allow_null=True, min_value=20, max_value=260)
    is_treated = serializers.BooleanField(required=False, allow_null=True)
    has_signs = serializers.BooleanField(required=False, allow_null=True)
    standing_drop = serializers.IntegerField(required=False, allow_null=True, min_value=-60, max_value=150)
    faint_with_low_pressure = serializers.BooleanField(required=False)


class TryPregnancySerializer(serializers.Serializer):
    due_on = serializers.DateField(required=False, allow_null=True)
    gates = _ids(required=False, help_text="Ids of the statements that are so, like P04.")


class TryRestrictionSerializer(serializers.Serializer):
    demands = _ids(help_text="Codes of demands, like rotation.")
    level = serializers.ChoiceField(choices=[one.value for one in Level], required=False)
    side = serializers.ChoiceField(choices=[one.value for one in Side], required=False, allow_null=True)


class TryLetterSerializer(serializers.Serializer):
    """A clinician's letter as a person would have put it into terms. Without an end it holds on the day tried."""

    dated = serializers.DateField(required=False, allow_null=True)
    holds_until = serializers.DateField(required=False, allow_null=True)
    answers = _ids(required=False, help_text="Ids of the rules it answers, like leaf 5 or C23.")
    effort = serializers.ChoiceField(choices=[one.value for one in Intensity], required=False, allow_null=True)
    allows = _ids(required=False, help_text="Codes of demands.")
    forbids = _ids(required=False, help_text="Codes of demands.")


class TryCaseSerializer(serializers.Serializer):
    """A case told in reference ids. What is left out, or null, is not known: the outcome is then unfinished."""

    on = serializers.DateField(required=False, help_text="The day it is tried on; today without one.")
    written_on = serializers.DateField(required=False, help_text="When the answers were given; the same day without.")
    version = serializers.IntegerField(
        required=False, min_value=1, max_value=2**31 - 1, help_text="Number of a version; the one in force without."
    )
    regularly_active = serializers.BooleanField(required=False, allow_null=True)
    intensity = serializers.ChoiceField(choices=[one.value for one in Intensity], required=False, allow_null=True)
    diseases = serializers.ListField(
        child=serializers.ChoiceField(choices=[one.value for one in Disease]),
        required=False,
        allow_null=True,
        max_length=MOST,
        help_text="An empty list means that none is there.",
    )
    symptoms = _ids(required=False, allow_null=True, help_text="Ids of signs, like S1; empty means none.")
    chest_pain_is_new = serializers.BooleanField(required=False)
    conditions: Many = serializers.ListSerializer(child=TryConditionSerializer(), required=False, max_length=MOST)
    flags: Many = serializers.ListSerializer(child=TryFlagSerializer(), required=False, max_length=MOST * 2)
    readings = TryReadingsSerializer(required=False)
    pregnancy = TryPregnancySerializer(required=False, allow_null=True)
    today = serializers.ListField(
        child=serializers.ChoiceField(choices=[one.value for one in Today]), required=False, max_length=MOST
    )
    restrictions: Many = serializers.ListSerializer(child=TryRestrictionSerializer(), required=False, max_length=MOST)
    letters: Many = serializers.ListSerializer(child=TryLetterSerializer(), required=False, max_length=MOST)
    has_unread_words = serializers.BooleanField(required=False)
    supervised_only = serializers.BooleanField(required=False)


class CitedSerializer(serializers.Serializer):
    citation = serializers.CharField()
    year = serializers.CharField()
    note = serializers.CharField(help_text="How it was checked, or that nothing is published.")
    url_or_doi = serializers.CharField()


class TriedReasonSerializer(serializers.Serializer):
    rule_id = serializers.CharField()
    outcome = serializers.ChoiceField(choices=[one.value for one in Outcome])
    says = serializers.CharField()
    strength = serializers.CharField()
    sources = CitedSerializer(many=True)
    answered_by = serializers.CharField()
    chosen = serializers.CharField(help_text="The point at which the owner chose, where that touched it.")


class TriedGateSerializer(serializers.Serializer):
    name = serializers.CharField()
    reasons = TriedReasonSerializer(many=True)


class TriedChainSerializer(serializers.Serializer):
    condition = serializers.CharField()
    phase = serializers.CharField()
    demand = serializers.CharField()
    rule = serializers.CharField()
    strength = serializers.CharField()
    sources = CitedSerializer(many=True)


class TriedLimitSerializer(serializers.Serializer):
    demand = serializers.CharField()
    name = serializers.CharField()
    level = serializers.ChoiceField(choices=[one.value for one in Level])
    side = serializers.CharField(help_text="Empty when it is on both.")
    how = serializers.CharField()
    until = serializers.DateField(allow_null=True)
    chains = TriedChainSerializer(many=True)


class TriedRelaxedSerializer(serializers.Serializer):
    name = serializers.CharField()
    level = serializers.CharField()
    side = serializers.CharField()
    letter = serializers.CharField()
    until = serializers.DateField()


class TriedRulesSerializer(serializers.Serializer):
    """The version that spoke; `reviewed_on` null: no licensed professional has read it yet."""

    id = serializers.IntegerField()
    digest = serializers.CharField()
    reviewed_by = serializers.CharField()
    profession = serializers.CharField()
    reviewed_on = serializers.DateField(allow_null=True)


class TriedCaseSerializer(serializers.Serializer):
    """Clear means that nothing was found in what was told, never that anybody is safe."""

    rules = TriedRulesSerializer()
    on = serializers.DateField()
    outcome = serializers.ChoiceField(choices=[one.value for one in Outcome])
    desk = serializers.CharField(help_text="All that the desk would see.")
    path = TriedGateSerializer(many=True, help_text="The gates in the order in which they are read.")
    limits = TriedLimitSerializer(many=True)
    relaxed = TriedRelaxedSerializer(many=True)
    proposals = serializers.ListField(child=serializers.CharField())
    conditions = serializers.ListField(child=serializers.CharField())
    valid_until = serializers.DateField()
    look_again_on = serializers.DateField(allow_null=True)


BONES = OpenApiExample(
    "Thin bones, controlled pressure",
    summary="67, inactive, thin bones without a fracture, 136/84",
    value={
        "on": "2031-03-12",
        "regularly_active": False,
        "diseases": [],
        "symptoms": [],
        "intensity": "light_moderate",
        "conditions": [
            {"condition": "C01", "needs_clearance": False},
            {"condition": "C14"},
        ],
        "readings": {"pressures": [{"systolic": 136, "diastolic": 84}], "heart_rate": 72},
    },
    request_only=True,
)
SUGAR = OpenApiExample(
    "Diabetes, inactive",
    summary="52, type 2 diabetes without complications, inactive, wants moderate work",
    value={
        "on": "2031-03-12",
        "regularly_active": False,
        "diseases": ["diabetes"],
        "symptoms": [],
        "intensity": "light_moderate",
        "conditions": [{"condition": "C56"}],
    },
    request_only=True,
)
WRONG = OpenApiExample(
    "An id that these rules do not hold",
    value={"conditions": {"0": {"condition": ["There is no condition C99 in these rules."]}}},
    response_only=True,
    status_codes=["400"],
)


class TryView(APIView):
    @extend_schema(
        operation_id="rules_try",
        summary="Try a case; nothing is stored",
        request=TryCaseSerializer,
        responses={
            200: TriedCaseSerializer,
            400: dict[str, Any],
            401: rest.DetailSerializer,
            403: rest.DetailSerializer,
            404: rest.DetailSerializer,
            409: rest.RefusedSerializer,
        },
        examples=[BONES, SUGAR, WRONG],
    )
    def post(self, request: Request) -> Response:
        given = TryCaseSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        case = given.validated_data
        on = case.get("on") or queries.house_day(timezone.now())
        try:
            found = trials.tried_case(trying.facts_from(case, on=on), on=on, version_id=case.get("version"))
        except Refused as refused:
            if any(reason.code == "no_rules" for reason in refused.reasons):
                raise
            raise serializers.ValidationError(_by_field(refused)) from refused
        return Response(TriedCaseSerializer(found).data)


def _by_field(refused: Refused) -> dict[str, Any]:
    """Each reason where its field stands in what was sent: "conditions.0.since" below conditions, 0, since."""
    body: dict[str, Any] = {}
    for reason in refused.reasons:
        *above, name = reason.field.split(".")
        place = body
        for part in above:
            place = place.setdefault(part, {})
        place.setdefault(name, []).append(reason.says)
    return body
