"""A set-up as the file itself suggests it: what each channel shows, scale, sync."""

from traces.core.proposal.channel_roles import (
    BatterySeen,
    ChannelRoles,
    ClampSeen,
    PressureSeen,
    SyncSeen,
    roles_of,
)
from traces.core.proposal.proposing import (
    Proposal,
    ScaleChoice,
    channel_words,
    propose,
    scale_choices,
    sync_every,
)
from traces.core.proposal.transducer_scales import PressureScale, pressure_scales

__all__ = [
    "BatterySeen",
    "ChannelRoles",
    "ClampSeen",
    "PressureScale",
    "PressureSeen",
    "Proposal",
    "ScaleChoice",
    "SyncSeen",
    "channel_words",
    "pressure_scales",
    "propose",
    "roles_of",
    "scale_choices",
    "sync_every",
]
