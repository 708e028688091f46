"""Pooling one quantity that was measured several times, each time with its own uncertainty."""

import math
from dataclasses import dataclass

import scipy  # whose parts load when first used: the web process draws without analysing

from traces.core.waveform import Floats


@dataclass(frozen=True, slots=True)
class RandomEffects:
    """A pooled mean.

    Parameters
    ----------
    mean, error
        Estimate and its standard error, in the unit of the measurements.
    error_hk
        The same error after Hartung and Knapp, never smaller than `error`; for use with
        Student's t and `freedom` degrees of freedom where the measurements disagree.
    between
        Standard deviation between the measurements beyond their own errors.
    q, freedom, p
        Cochran's Q, its degrees of freedom, and how often chance alone gives as much.
    """

    mean: float
    error: float
    error_hk: float
    between: float
    q: float
    freedom: int
    p: float


def pooled_mean(values: Floats, errors: Floats, between: float | None = None) -> RandomEffects:
    """Pool measurements by the method of DerSimonian and Laird.

    Parameters
    ----------
    values
        Shape (k,), k at least 1.
    errors
        Shape (k,): standard errors, all above 0, same unit.
    between
        Standard deviation between measurements where it is known from elsewhere; None
        estimates it from these values.

    Raises
    ------
    ValueError
        If there is no value, shapes differ, or an error is not above 0.

    Notes
    -----
    R. DerSimonian, N. Laird, Controlled Clinical Trials 7 (1986) 177-188: moment estimate of
    the variance between, from Cochran's Q. J. Hartung, G. Knapp, Statistics in Medicine 20
    (2001) 1771-1782: error from the weighted scatter itself; held to at least the plain error,
    as is advised for few measurements (Röver, Knapp, Friede, BMC Medical Research Methodology
    15 (2015) 99).
    """
    if values.size == 0 or values.shape != errors.shape or not (errors > 0).all():
        raise ValueError("pooling takes as many errors above 0 as values, and at least one")
    freedom = values.size - 1
    q = cochran_q(values, errors)
    if between is None:
        between = math.sqrt(between_variance(q, freedom, spread_of_weights(errors)))
    weights = 1.0 / (errors**2 + between**2)
    mean = float(weights @ values / weights.sum())
    error = float(weights.sum() ** -0.5)
    scatter = float(weights @ (values - mean) ** 2) / freedom if freedom else 1.0
    return RandomEffects(
        mean=mean,
        error=error,
        error_hk=error * math.sqrt(max(1.0, scatter)),
        between=between,
        q=q,
        freedom=freedom,
        p=float(scipy.special.chdtrc(freedom, q)) if freedom else 1.0,
    )


def cochran_q(values: Floats, errors: Floats) -> float:
    """Return the weighted squared deviations from the fixed-effect mean."""
    weights = errors**-2.0
    centre = float(weights @ values / weights.sum())
    return float(weights @ (values - centre) ** 2)


def spread_of_weights(errors: Floats) -> float:
    """Return the divisor of DerSimonian and Laird's estimate: sum w - sum w^2 / sum w."""
    weights = errors**-2.0
    return float(weights.sum() - (weights**2).sum() / weights.sum())


def between_variance(q: float, freedom: int, divisor: float) -> float:
    """Return the moment estimate of the variance between; 0 where Q is as chance has it.

    Sums of Q, degrees of freedom and divisors over several quantities that share the variance
    give their common estimate.
    """
    return max(0.0, (q - freedom) / divisor) if divisor > 0 else 0.0


def student_t(freedom: int) -> float:
    """Return the 97.5 % point of Student's t; the normal's where `freedom` is 0."""
    return float(scipy.special.stdtrit(freedom, 0.975)) if freedom > 0 else 1.96
