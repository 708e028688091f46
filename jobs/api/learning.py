"""What the shop learnt from its own results, for programs."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.core.proportion import Proportion
from jobs.selectors.learning import learning_of
from shopdiag.people.authentication import member_of
from shopdiag.people.core.roles import Action


class ProportionSerializer(serializers.Serializer[Any]):
    """A count of a total, with the 95 % interval (Wilson); null of nothing."""

    count = serializers.IntegerField()
    total = serializers.IntegerField()
    low = serializers.FloatField(allow_null=True)
    high = serializers.FloatField(allow_null=True)


class CallsSerializer(serializers.Serializer[Any]):
    """How calls fared against gauge and leak-down on one engine and signal."""

    engine = serializers.CharField()
    signal = serializers.CharField()
    suspect_found_bad = ProportionSerializer()
    watch_found_bad = ProportionSerializer()
    good_found_good = ProportionSerializer()


class CauseSerializer(serializers.Serializer[Any]):
    """How many finished jobs of an engine had a cause, and whose repair holds."""

    engine = serializers.CharField()
    group = serializers.CharField()
    jobs = ProportionSerializer()
    repairs_that_hold = serializers.IntegerField()


class LearningSerializer(serializers.Serializer[Any]):
    """Calls and causes of the shop's own jobs."""

    calls = CallsSerializer(many=True)
    causes = CauseSerializer(many=True)


class LearningView(APIView):
    """How the analysis' calls fared in this shop, and what its causes were."""

    actions = {"GET": Action.SEE_LEARNING}

    @extend_schema(responses=LearningSerializer)
    def get(self, request: Request) -> Response:
        """Read both; nothing of another shop counts."""
        learned = learning_of(member_of(request))
        answer = {
            "calls": [
                {
                    "engine": engine,
                    "signal": signal,
                    "suspect_found_bad": _told(rate.suspect),
                    "watch_found_bad": _told(rate.watch),
                    "good_found_good": _told(rate.sound),
                }
                for engine, signal, rate in learned.both
            ],
            "causes": [
                {
                    "engine": row.engine,
                    "group": row.count.group,
                    "jobs": _told(row.count.found),
                    "repairs_that_hold": row.count.proven,
                }
                for row in learned.causes
            ],
        }
        return Response(LearningSerializer(answer).data)


def _told(found: Proportion) -> dict[str, float | None]:
    low, high = found.interval or (None, None)
    return {
        "count": found.count,
        "total": found.total,
        "low": low if low is None else round(low, 3),
        "high": high if high is None else round(high, 3),
    }
