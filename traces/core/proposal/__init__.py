"""A set-up as the file itself suggests it: what each channel shows, scale, sync."""

from traces.core.proposal.channel_roles import (
    BatterySeen,
    ChannelRoles,
    ClampSeen,
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

__all__ = [
    "BatterySeen",
    "ChannelRoles",
    "ClampSeen",
    "Proposal",
    "ScaleChoice",
    "SyncSeen",
    "channel_words",
    "propose",
    "roles_of",
    "scale_choices",
    "sync_every",
]
