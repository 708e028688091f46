"""An order that cannot be taken on says why: who has it, or that it is over."""

import pytest
from django.core.exceptions import ValidationError

from jobs.models import WorkOrder
from jobs.services.work import work_order_accept


@pytest.mark.parametrize(
    ("state", "has_it"),
    [
        (WorkOrder.State.ACCEPTED, True),
        (WorkOrder.State.DONE, False),
        (WorkOrder.State.WITHDRAWN, False),
    ],
)
def test_only_an_order_in_work_names_who_has_it(order, cast, state, has_it: bool):
    work_order_accept(order=order, member=cast.mechanic)
    WorkOrder.objects.filter(pk=order.pk).update(state=state)
    with pytest.raises(ValidationError) as refused:
        work_order_accept(order=order, member=cast.diagnostician)
    (said,) = refused.value.messages
    assert (cast.mechanic.name in said) is has_it
    assert (state.label.lower() in said) is not has_it
