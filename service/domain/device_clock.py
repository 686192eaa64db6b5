"""What the clock of a device is worth: instants put right by its measured offset, and doubts about them."""

from dataclasses import dataclass
from datetime import datetime, timedelta

#: From here on the offset is told beside the reading (own rule) [s].
TOLD_FROM_S = 300.0
#: What a right clock and a measured offset may miss the truth by (own rule).
SLACK = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class TakenWithin:
    """Between when a reading of a round can have been taken, and when the one before it was.

    ``before`` is the latest instant that the same source has on the round, None where it has none.
    """

    not_before: datetime
    not_after: datetime
    before: datetime | None = None

    def put_right(self, shown: datetime | None, skew_s: float | None) -> datetime | None:
        """The true instant of what the device's clock showed; None where that cannot be.

        Parameters
        ----------
        shown : datetime or None
            As the device's clock showed it; None where that is no instant.
        skew_s : float or None
            How far the clock was ahead of the server's [s]; None counts as right.

        Notes
        -----
        True = shown − skew. What comes out in the future, or before the round went out, is not
        believed: the clock was set, or failed, between the reading and the measuring.
        """
        try:
            true = None if shown is None else shown - timedelta(seconds=skew_s or 0.0)
        except OverflowError:
            return None
        if true is None or not self.not_before - SLACK <= true <= self.not_after + SLACK:
            return None
        return min(true, self.not_after)

    @property
    def by_order(self) -> datetime:
        """Where a reading without a time that can be believed stands: after the one before it."""
        return max(self.not_before, self.before) if self.before is not None else self.not_before


def clock_doubt(shown: datetime | None, skew_s: float | None, taken_at: datetime) -> str:
    """What is to be said of the time of a reading; empty where its clock was right to five minutes.

    ``shown`` is None where the device's text is no instant.
    """
    ahead = skew_s or 0.0
    if shown is None or abs((shown - taken_at).total_seconds() - ahead) > TOLD_FROM_S:
        return "The device’s clock could not be believed: this reading is placed by its order on the walk."
    if abs(ahead) <= TOLD_FROM_S:
        return ""
    return f"The device’s clock was {span_words(abs(ahead))} {'ahead' if ahead > 0 else 'behind'}; the time is put right by that."


def span_words(seconds: float) -> str:
    """26 h 5 min; more than two days in days."""
    minutes = round(seconds / 60)
    if minutes >= 2 * 24 * 60:
        return f"{minutes // (24 * 60):,} days"
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest} min" if hours else f"{rest} min"
