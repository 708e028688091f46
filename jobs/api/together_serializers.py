"""What captures of a visit look like together to programs."""

from typing import Any

from rest_framework import serializers

from jobs.api.form_input import FormInput
from jobs.core.in_cylinder import InTurn
from jobs.forms.evidence import PurposeForm
from shopdiag.people.api.serializers import ConfirmedField, KnownFields


class AsideSerializer(KnownFields):
    """Why a capture shall not count; empty takes it in again."""

    why = serializers.CharField(allow_blank=True, max_length=300)
    confirmed = ConfirmedField()


class PurposeSerializer(FormInput[PurposeForm]):
    """What a capture was made for."""

    form_class = PurposeForm


class SideSerializer(serializers.Serializer[Any]):
    """One capture beside the others, and what became of it."""

    capture = serializers.IntegerField()
    run = serializers.IntegerField(allow_null=True)
    pooled = serializers.BooleanField()
    role = serializers.CharField()
    temperature = serializers.CharField(allow_blank=True)
    throttle = serializers.CharField(allow_blank=True)


class PooledPlaceSerializer(serializers.Serializer[Any]):
    """One cylinder in all captures together; 1.00 is like the sound ones.

    `figures` and their own 95 % `intervals` come in the order of the pooled captures.
    `repeat_sd` is the standard deviation between them, null where one is taken by itself; `p` how
    often captures of an unchanged cylinder differ as much.
    """

    place = serializers.IntegerField()
    cylinder = serializers.IntegerField(allow_null=True)
    figures = serializers.ListField(child=serializers.FloatField())
    intervals = serializers.ListField(child=serializers.ListField(child=serializers.FloatField()))
    relative = serializers.FloatField()
    low = serializers.FloatField()
    high = serializers.FloatField()
    call = serializers.CharField()
    repeat_sd = serializers.FloatField(allow_null=True)
    p = serializers.FloatField()
    differs = serializers.BooleanField()


class TogetherSerializer(serializers.Serializer[Any]):
    """Captures of one state of the engine, compared and pooled, in figures and sentences."""

    captures = SideSerializer(many=True)
    cylinders_known = serializers.BooleanField()
    cylinders = PooledPlaceSerializer(many=True)
    candidates = serializers.ListField(
        child=serializers.ListField(child=serializers.IntegerField())
    )
    repeat_sd = serializers.FloatField(allow_null=True)
    cycles = serializers.IntegerField()
    agree = serializers.BooleanField()
    headline = serializers.CharField()
    verdict = serializers.CharField()
    disagreements = serializers.ListField(child=serializers.CharField())
    asides = serializers.ListField(child=serializers.CharField())


class TogetherPairSerializer(serializers.Serializer[Any]):
    """Before the repair and after it; null where fewer than two captures can be compared."""

    diagnosis = TogetherSerializer(allow_null=True)
    verification = TogetherSerializer(allow_null=True)


class ShareSerializer(serializers.Serializer[Any]):
    """One cylinder's figure over the good ones, with its 95 % interval and call."""

    relative = serializers.FloatField()
    low = serializers.FloatField()
    high = serializers.FloatField()
    call = serializers.CharField()


class SideBySideSerializer(serializers.Serializer[Any]):
    """One cylinder cranked and idling; null where a test does not say."""

    cylinder = serializers.IntegerField()
    cranking = ShareSerializer(allow_null=True)
    running = ShareSerializer(allow_null=True)


class BesideLineSerializer(serializers.Serializer[Any]):
    """What both tests say of some cylinders, and what to do.

    `kind` is `mechanical` (weak in both), `burn` (compresses, adds less at idle), `contradiction`
    (weak while cranking, even at idle), `leans-mechanical` (weak while cranking, somewhat less at
    idle), `watch`, `borderline` (none clearly weak, not all clearly good), `even`, `open`,
    `disagree`; without a cranking test `idles-evenly`, and after the repair `still-weak`,
    `newly-weak` or `adds-again`.
    """

    kind = serializers.CharField()
    cylinders = serializers.ListField(child=serializers.IntegerField())
    words = serializers.CharField()
    remedy = serializers.CharField()


class RunningBesideSerializer(serializers.Serializer[Any]):
    """Running balance beside the cranking balance."""

    capture = serializers.IntegerField()
    run = serializers.IntegerField(allow_null=True)
    cranking_run = serializers.IntegerField(allow_null=True)
    says = BesideLineSerializer(many=True)
    cylinders = SideBySideSerializer(many=True)


class RunningPairSerializer(serializers.Serializer[Any]):
    """Before the repair and after it; null where the idling engine was not recorded."""

    before = RunningBesideSerializer(allow_null=True)
    after = RunningBesideSerializer(allow_null=True)


class FigureSerializer(serializers.Serializer[Any]):
    """A figure with its 95 % interval."""

    value = serializers.FloatField()
    low = serializers.FloatField()
    high = serializers.FloatField()


IN_TURN_KINDS = [kind.value for kind in InTurn]


class InTurnLineSerializer(serializers.Serializer[Any]):
    """What pressures in the cylinders say of some of them, and what to do.

    `kind` is `leak`, `low` (compresses less, loses no more), `watch`, `exhaust` (holds back), `cam`
    (off beside a known-good capture), `comes-and-goes`, `alike`, `alone` (one measured only),
    `cleared` (what was found before the repair is gone);
    `disagree`, `contradiction` and `conditions` speak against the figures.
    """

    kind = serializers.ChoiceField(choices=IN_TURN_KINDS)
    cylinders = serializers.ListField(child=serializers.IntegerField())
    words = serializers.CharField()
    remedy = serializers.CharField(allow_blank=True)


class CylinderPressureSerializer(serializers.Serializer[Any]):
    """One cylinder by its newest capture; `share` is its peak over that of the good ones."""

    cylinder = serializers.IntegerField()
    capture = serializers.IntegerField()
    run = serializers.IntegerField(allow_null=True)
    peak_kpa = serializers.FloatField()
    rpm = serializers.FloatField()
    share = ShareSerializer(allow_null=True)
    loss_per_s = FigureSerializer(allow_null=True)
    loss_rank = serializers.IntegerField(allow_null=True)
    is_rank_sure = serializers.BooleanField()
    back_pressure_kpa = FigureSerializer(allow_null=True)


class InTurnSerializer(serializers.Serializer[Any]):
    """Cylinders measured in turn, all `cranking` or all `running`."""

    state = serializers.ChoiceField(choices=["cranking", "running"])
    says = InTurnLineSerializer(many=True)
    cylinders = CylinderPressureSerializer(many=True)


class PressurePairSerializer(serializers.Serializer[Any]):
    """Before the repair and after it; null where no cylinder was measured."""

    before = InTurnSerializer(allow_null=True)
    after = InTurnSerializer(allow_null=True)
