"""The guided plan of a visit, for programs."""

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.plan_serializers import PlanSerializer
from jobs.api.visits import visit_or_404
from jobs.selectors.plan import plan_of
from shopdiag.people.core.roles import Action


class PlanView(APIView):
    """What may be behind it, and which tests come next."""

    actions = {"GET": Action.SEE_WORK}

    @extend_schema(responses=PlanSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Read the plan as it follows from all that is on record now."""
        visit = visit_or_404(request, pk)
        found = plan_of(visit)
        plan = found.plan
        shown = {
            "stop": plan.stop,
            "causes": plan.causes,
            "tests": plan.tests,
            "asks": found.asks if visit.closed_at is None else (),
            "disputed": plan.disputed,
        }
        return Response(PlanSerializer(shown).data)
