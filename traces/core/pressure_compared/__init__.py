"""One cylinder's figures beside another capture's, and cylinders measured in turn."""

from traces.core.pressure_compared.comparing import (
    Share,
    beside_known_good,
    in_turn,
    shares_in_turn,
)

__all__ = [
    "Share",
    "beside_known_good",
    "in_turn",
    "shares_in_turn",
]
