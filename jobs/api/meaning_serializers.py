"""What a run suggests in the light of its visit, for programs."""

from typing import Any

from rest_framework import serializers


class RankedSetSerializer(serializers.Serializer[Any]):
    """One set of low cylinders that fits; `weight` is its share of likelihood, 0 to 1."""

    cylinders = serializers.ListField(child=serializers.IntegerField())
    weight = serializers.FloatField()
    reason = serializers.CharField()


class RankingSerializer(serializers.Serializer[Any]):
    """Sets that fit, ranked by the visit's misfires: an inference, not a measurement."""

    sets = RankedSetSerializer(many=True)
    strength = serializers.ChoiceField(choices=["clear", "leaning", "open"])
    headline = serializers.CharField()
    elsewhere = serializers.CharField(allow_blank=True)
    settle = serializers.ListField(child=serializers.CharField())


class PatternSerializer(serializers.Serializer[Any]):
    """A pattern that applies, with its usual reading; `tests` are keys, in order."""

    pattern = serializers.CharField()
    about = serializers.CharField(allow_blank=True)
    name = serializers.CharField()
    reading = serializers.CharField()
    disproof = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]  # a field of this name is meant
    hints = serializers.ListField(child=serializers.CharField())
    tests = serializers.ListField(child=serializers.CharField())


class SuggestsSerializer(serializers.Serializer[Any]):
    """What a run suggests beside its report, which stays as it is."""

    ranking = RankingSerializer(allow_null=True)
    patterns = PatternSerializer(many=True)
