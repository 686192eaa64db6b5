"""Why a row stands where it stands: expected loss in words."""

from service.domain.losses import Loss
from service.pages.view.numbers import number, percent, thousands
from service.pages.view.words import counted


def loss_words(loss: Loss | None) -> str:
    """Expected loss 15 000 within 12 months: 32 % of 28 days at 70 an hour."""
    if loss is None:
        return ""
    money = thousands(int(round(loss.expected, -2 if loss.expected >= 1000 else 0)))
    return (
        f"Expected loss {money} within 12 months: {percent(loss.chance_12)} of {counted(loss.lead_days, 'day')}"
        f" at {number(loss.cost_per_hour, 0)} an hour."
    )
