"""Several captures of one engine in one state."""

from traces.core.pooling.bank_pooling import pool_banks, pooled_bank_line
from traces.core.pooling.pool_input import half_of, take_of
from traces.core.pooling.pooling import PooledPlace, PoolInput, Together, is_poolable, pool
from traces.core.pooling.pooling_words import CaptureConditions, PoolingText, ordinal, said

__all__ = [
    "CaptureConditions",
    "PoolInput",
    "PooledPlace",
    "PoolingText",
    "Together",
    "half_of",
    "is_poolable",
    "ordinal",
    "pool",
    "pool_banks",
    "pooled_bank_line",
    "said",
    "take_of",
]
