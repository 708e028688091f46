"""Limits of a test's figures: the shop's, an engine's, or the manufacturer's for one job."""

from typing import ClassVar

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from engines.models import Engine
from jobs.core.measured_tests import Limit, Origin
from jobs.models.intake import Visit
from shopdiag.people.models import Member, ShopOwned, ShopQuerySet


class FigureLimit(ShopOwned):
    """The limit of one figure; the newest line of its scope counts, an empty one takes it back."""

    engine = models.ForeignKey(
        Engine, null=True, on_delete=models.PROTECT, related_name="+", editable=False
    )
    """Set where it holds for this engine in this shop; library engines are shared, limits not."""
    visit = models.ForeignKey(
        Visit, null=True, on_delete=models.PROTECT, related_name="figure_limits", editable=False
    )
    """Set where it is the manufacturer's figure for one job."""
    fuel = models.CharField(max_length=6, null=True, editable=False)  # noqa: DJ001 - lines from before have none
    """What the engine ran on that a shop's limit was set for; None holds for every fuel."""
    test = models.CharField(_("test"), max_length=10, editable=False)
    figure = models.CharField(_("figure"), max_length=30, editable=False)
    least = models.FloatField(_("at least"), null=True, editable=False)
    most = models.FloatField(_("at most"), null=True, editable=False)
    apart = models.FloatField(_("from the mean"), null=True, editable=False)
    """In the unit that the figure's name ends with."""
    source = models.CharField(_("where it comes from"), max_length=200, blank=True, editable=False)
    form_token = models.UUIDField(null=True, editable=False)
    set_at = models.DateTimeField(default=timezone.now, editable=False)
    set_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+", editable=False)

    objects: ClassVar = ShopQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(engine=None) | models.Q(visit=None),
                name="limit_of_one_scope",
            ),
        ]

    @property
    def origin(self) -> Origin:
        """Whose limit it is."""
        if self.visit_id is not None:
            return Origin.JOB
        return Origin.SHOP if self.engine_id is None else Origin.ENGINE

    @property
    def limit(self) -> Limit | None:
        """What it says; None for a line that takes a limit back."""
        if self.least is None and self.most is None and self.apart is None:
            return None
        return Limit(self.least, self.most, self.apart, self.source, self.origin)
