"""POST exercises and a machine (or what hangs on one): the springs of each line, by removal only inside a step-down."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from programming.queries import springs as spring_queries
from programming.rules.springs import SpringSet
from programming.rules.translation import Translated, translated
from studio.doors.rest import DetailSerializer, RefusedSerializer
from studio.rules import Reason, Refused

KEY_MOST = 2**31 - 1
MOST_SPRINGS, MOST_COUNT = 6, 6
EXERCISE_ID = r"^[A-Za-z0-9][A-Za-z0-9_-]{0,23}$"


class InventorySerializer(serializers.Serializer):
    """What hangs on a machine, by class."""

    heavy = serializers.IntegerField(min_value=0, max_value=MOST_SPRINGS)
    medium = serializers.IntegerField(min_value=0, max_value=MOST_SPRINGS)
    light = serializers.IntegerField(min_value=0, max_value=MOST_SPRINGS)


class TranslateSerializer(serializers.Serializer):
    """A series in order, and where it is to be done: a machine of the house, or an inventory."""

    exercises = serializers.ListField(
        child=serializers.RegexField(EXERCISE_ID),
        min_length=1,
        max_length=spring_queries.MOST_LINES,
        help_text="Ids of the repertoire, parts of one exercise beside each other: R-SM1, R-SM2, R-SM3, R-SM4.",
    )
    counts = serializers.ListField(
        child=serializers.IntegerField(min_value=0, max_value=MOST_COUNT, allow_null=True),
        required=False,
        max_length=spring_queries.MOST_LINES,
        help_text="Reference counts of springs, one an exercise; null or left out: the usual of the repertoire.",
    )
    machine_id = serializers.IntegerField(required=False, min_value=1, max_value=KEY_MOST)
    inventory = InventorySerializer(required=False)


class TranslatedLineSerializer(serializers.Serializer):
    exercise = serializers.CharField()
    reference = serializers.IntegerField(allow_null=True, help_text="Count of four alike springs; null: none needed.")
    springs = serializers.CharField(
        allow_null=True,
        allow_blank=True,
        help_text="Letters, heavy first; null for a row without a reformer's springs.",
    )
    error = serializers.IntegerField(
        help_text="Units above (+) or below (-) the aim; two units are one reference spring."
    )
    says = serializers.CharField(allow_blank=True, help_text="The error and what it does: `one unit heavier: harder`.")
    deed = serializers.CharField(allow_blank=True, help_text="What to do before the line: `Unhook one medium`.")
    others = serializers.ListField(child=serializers.CharField(), help_text="Sets as good, for the teacher to choose.")
    forced = serializers.BooleanField(help_text="True: this step-down cannot be made by unhooking alone.")
    impossible = serializers.BooleanField(help_text="True: nothing within tolerance; the nearest set is given.")


class TranslationSerializer(serializers.Serializer):
    inventory = serializers.CharField(allow_blank=True, help_text="Letters of all that hangs there, heavy first.")
    lines = TranslatedLineSerializer(many=True)


class TranslateView(APIView):
    @extend_schema(
        operation_id="translate_springs",
        summary="A series on a machine: what to hook and unhook for each line",
        request=TranslateSerializer,
        responses={
            200: TranslationSerializer,
            400: dict[str, Any],
            401: DetailSerializer,
            403: DetailSerializer,
            404: DetailSerializer,
            409: RefusedSerializer,
        },
    )
    def post(self, request: Request) -> Response:
        wanted = TranslateSerializer(data=request.data)
        wanted.is_valid(raise_exception=True)
        given = wanted.validated_data
        inventory = _inventory(given)
        counts = given.get("counts", [])
        if len(counts) > len(given["exercises"]):
            says = "There are more counts than exercises."
            raise Refused(Reason("too_many_counts", says, "counts", "one an exercise"))
        lines = translated(spring_queries.lines_of_ids(given["exercises"], counts), inventory)
        body = {"inventory": inventory.letters, "lines": [_line(line) for line in lines]}
        return Response(TranslationSerializer(body).data)


def _inventory(given: dict[str, Any]) -> SpringSet:
    if ("machine_id" in given) == ("inventory" in given):
        says = "Name a machine or an inventory, one of the two."
        raise Refused(Reason("one_of_two", says, "machine_id", "machine_id or inventory"))
    if "machine_id" in given:
        return spring_queries.inventory_of(given["machine_id"])
    return SpringSet(**given["inventory"])


def _line(line: Translated) -> dict[str, Any]:
    return {
        "exercise": line.line.row.id,
        "reference": None if line.hooked is None else line.line.springs,
        "springs": None if line.hooked is None else line.hooked.letters,
        "error": line.error,
        "says": line.says,
        "deed": line.deed,
        "others": [other.letters for other in line.others],
        "forced": line.is_forced,
        "impossible": line.is_impossible,
    }
