"""How a visit ended, for programs."""

from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.outcome_serializers import OutcomeChangeSerializer, OutcomeSerializer
from jobs.api.visits import visit_or_404
from jobs.services.outcome import outcome_change, outcome_fields, outcome_of
from shopdiag.people.asking_back import is_confirmed
from shopdiag.people.authentication import member_of
from shopdiag.people.core.roles import Action


class OutcomeView(APIView):
    """Cause, correction, proof."""

    actions = {"GET": Action.SEE_WORK, "PATCH": Action.HAND_BACK}

    @extend_schema(responses=OutcomeSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Read the outcome; version 1 stands for one that was never saved."""
        return Response(OutcomeSerializer(outcome_of(visit=visit_or_404(request, pk))).data)

    @extend_schema(request=OutcomeChangeSerializer, responses=OutcomeSerializer)
    def patch(self, request: Request, pk: int) -> Response:
        """Change what is sent; 409 when somebody saved it after `version` was read."""
        visit, member = visit_or_404(request, pk), member_of(request)
        asked = OutcomeChangeSerializer.of(request)
        sent = asked.validated_data
        beyond = sorted(set(sent) - {"version", "confirmed", *outcome_fields(member)})
        if beyond:
            raise ValidationError(
                {name: [_("Your role does not write this; leave it out.")] for name in beyond}
            )
        outcome = outcome_of(visit=visit)
        form = asked.form_on(outcome, member=member)
        outcome_change(
            outcome=outcome,
            expected_version=form.expected_version,
            member=member,
            fields=[name for name in form.record_fields if name in sent],
            confirmed=is_confirmed(form),
        )
        return Response(OutcomeSerializer(outcome_of(visit=visit)).data)
