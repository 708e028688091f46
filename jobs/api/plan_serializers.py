"""What a plan looks like to programs."""

from typing import Any

from rest_framework import serializers

STANDINGS = ["shown", "leading", "possible", "unlikely", "ruled_out"]


class ArgumentSerializer(serializers.Serializer[Any]):
    """What speaks for or against a cause; `ratio` is its likelihood ratio, by common practice."""

    words = serializers.CharField()
    ratio = serializers.FloatField()


class PlanCauseSerializer(serializers.Serializer[Any]):
    """One cause; `share` ranks causes and is no measured probability.

    Only a test makes a cause `shown` or `ruled_out`; `settled_by` says which.
    """

    key = serializers.CharField()
    name = serializers.CharField()
    group = serializers.CharField()
    standing = serializers.ChoiceField(choices=STANDINGS)
    share = serializers.FloatField()
    supports = ArgumentSerializer(many=True)
    against = ArgumentSerializer(many=True)
    shows = serializers.CharField()
    rules_out = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]  # a field of this name is meant
    settled_by = serializers.CharField(allow_blank=True)


class PlannedTestSerializer(serializers.Serializer[Any]):
    """One test; `recorded` is the test of a finding on it, or `swap`.

    `minutes` hold what it takes to reach the plugs; `learnt_from` says from how many of the shop's
    orders on this engine they are learnt, 0 where they are usual ones.
    """

    key = serializers.CharField()
    recorded = serializers.CharField()
    name = serializers.CharField()
    tells = serializers.CharField()
    cylinders = serializers.ListField(child=serializers.IntegerField())
    banks = serializers.ListField(child=serializers.IntegerField())
    minutes = serializers.IntegerField()
    bits = serializers.FloatField()
    separates = serializers.ListField(child=serializers.CharField())
    cautions = serializers.ListField(child=serializers.CharField())
    is_for_safety = serializers.BooleanField()
    is_extent = serializers.BooleanField()
    learnt_from = serializers.IntegerField()


class PlanSerializer(serializers.Serializer[Any]):
    """Causes, the likeliest first, and tests in the order to make them in.

    `stop` says why the engine must not be cranked before the first tests; empty where it may.
    """

    stop = serializers.CharField(allow_blank=True)
    causes = PlanCauseSerializer(many=True)
    tests = PlannedTestSerializer(many=True)
    asks = serializers.ListField(
        child=serializers.ChoiceField(choices=["coils", "injection"]),
        help_text="What nobody noted of the engine though it would change what comes next.",
    )
    disputed = serializers.ListField(child=serializers.CharField())
