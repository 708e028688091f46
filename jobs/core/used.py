"""Time and parts used on a job against what the customer authorised."""

from dataclasses import dataclass

from jobs.core.amounts import money
from shopdiag.people.core.words import gettext as _


@dataclass(frozen=True, slots=True)
class Budget:
    """What was used of a diagnosis or of a repair, and what was agreed to.

    Parameters
    ----------
    minutes, amount
        Used so far; the amount is that of parts and other costs, without the hours.
    labour
        What the minutes cost; None where the shop has no hourly rate.
    minutes_agreed, amount_agreed
        What the customer authorised; None where nothing was noted, or no number can be read.
    minutes_planned
        What the orders of a repair plan; 0 where nothing is planned.
    currency
        The shop's.
    """

    is_repair: bool
    minutes: int
    amount: float
    minutes_agreed: int | None = None
    amount_agreed: float | None = None
    minutes_planned: int = 0
    currency: str = ""
    labour: float | None = None

    @property
    def cost(self) -> float:
        """What stands against the agreed amount: parts, and labour where it has a price."""
        return round(self.amount + (self.labour or 0), 2)

    @property
    def is_used(self) -> bool:
        """Whether anything was used."""
        return bool(self.minutes or self.amount)

    @property
    def is_passed(self) -> bool:
        """Whether more was used than was authorised."""
        return (self.minutes_agreed is not None and self.minutes > self.minutes_agreed) or (
            self.amount_agreed is not None and self.cost > self.amount_agreed
        )

    def tells_agreed(self, minutes: int | None, amount: str) -> bool:
        """Whether the warning says all that was agreed to: time, and an amount as it was typed."""
        return self.is_passed and (
            (minutes is None or self.minutes_agreed is not None)
            and (not amount or (self.amount_agreed is not None and bool(self.cost)))
        )

    @property
    def words(self) -> tuple[str, ...]:
        """What was used, a phrase each."""
        return (self._time(), *([self._money()] if self.cost else []))

    def _time(self) -> str:
        minutes = f"{self.minutes:,}"
        if self.minutes_agreed is not None:
            return _("{minutes} of {agreed} authorised minutes used").format(
                minutes=minutes, agreed=f"{self.minutes_agreed:,}"
            )
        if self.is_repair and self.minutes_planned:
            return _("{minutes} of {planned} planned minutes used").format(
                minutes=minutes, planned=f"{self.minutes_planned:,}"
            )
        if self.is_repair:
            return _("{minutes} minutes used").format(minutes=minutes)
        return _("{minutes} minutes used, no authorised time noted").format(minutes=minutes)

    def _money(self) -> str:
        if self.labour:
            return self._money_with_labour()
        used = money(self.amount, self.currency)
        if self.amount_agreed is None:
            return _("parts for {used} used").format(used=used)
        return _("parts for {used} of {agreed} used").format(
            used=used, agreed=money(self.amount_agreed, self.currency)
        )

    def _money_with_labour(self) -> str:
        figures = {
            "used": money(self.cost, self.currency),
            "labour": money(self.labour or 0, self.currency),
            "parts": money(self.amount, self.currency),
        }
        if self.amount_agreed is None:
            return _("{used} used: labour {labour}, parts {parts}").format(**figures)
        return _("{used} of {agreed} used: labour {labour}, parts {parts}").format(
            agreed=money(self.amount_agreed, self.currency), **figures
        )

    @property
    def warning(self) -> str:
        """That the customer has to agree to more; empty where they need not."""
        if not self.is_passed:
            return ""
        used = "; ".join(self.words)
        if self.is_repair:
            return _("More than agreed for the repair: {used}.").format(used=used)
        return _("More than agreed for the diagnosis: {used}.").format(used=used)
