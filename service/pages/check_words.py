"""Checks of instruments in words: how far off, what that says, and whom it concerns."""

from collections.abc import Sequence
from datetime import datetime

from service.domain.instrument_checks import (
    Accuracy,
    CheckedInstrument,
    CheckFields,
    InstrumentCheck,
    Occasion,
    Outcome,
    in_doubt,
)
from service.pages import view
from service.pages.forms import Form

#: occasions as a form offers them
OCCASIONS = [
    (Occasion.START.value, "at the start"),
    (Occasion.END.value, "at the end"),
    (Occasion.AFTER_DROP.value, "after a drop or a knock"),
]
_AT = {Occasion.START: "at the start", Occasion.END: "at the end", Occasion.AFTER_DROP: "after a drop"}


def occasion_words(check: InstrumentCheck) -> str:
    return _AT[check.occasion]


def deviation_words(check: InstrumentCheck) -> str:
    """2.6 K too high; nothing under a tenth."""
    deviation = check.deviation_k
    if deviation is None:
        return view.NONE
    if round(deviation, 1) == 0:
        return "right to a tenth"
    return f"{view.kelvin(abs(deviation))} too {'high' if deviation > 0 else 'low'}"


def allowed_words(check: InstrumentCheck) -> str:
    return "not on record" if check.allowed_k is None else f"± {view.kelvin(check.allowed_k)}"


def accuracy_words(accuracy: Accuracy) -> str:
    """± 2.0 K or ± 2.0 %, the larger; empty when nothing is on record."""
    told = []
    if accuracy.kelvin is not None:
        told.append(f"± {view.kelvin(accuracy.kelvin)}")
    if accuracy.percent is not None:
        told.append(f"± {view.with_unit(accuracy.percent, '%')}")
    return " or ".join(told) + (", the larger" if len(told) > 1 else "")


def check_line(check: InstrumentCheck) -> str:
    """At the start: 2.6 K too high, outside its accuracy."""
    return f"{occasion_words(check)}: {deviation_words(check)}, {check.outcome.value}"


def doubts(checks: Sequence[InstrumentCheck]) -> list[str]:
    """A sentence for every instrument and occasion that failed on a round."""
    return [
        f"{check.instrument.name} ({check.instrument.serial}) was outside its accuracy when checked "
        f"{occasion_words(check)}: it showed {view.celsius(check.shown_c)} where {view.celsius(check.reference_c)} "
        f"was true, {deviation_words(check)}; {allowed_words(check)} is allowed. What it read on this round is kept "
        "and may be off by as much."
        for check in in_doubt(checks)
    ]


def instrument_title(instrument: CheckedInstrument, last: InstrumentCheck | None) -> str:
    """The news of an instrument from its latest check."""
    if last is None:
        return f"{instrument.name}: no check against a reference on record"
    if last.outcome is Outcome.UNKNOWN:
        return f"{instrument.name}: {deviation_words(last)} when last checked, with no accuracy on record"
    return f"{instrument.name}: {last.outcome.value} when last checked"


def check_fields(form: Form, zone: str, now: datetime) -> CheckFields:
    """The boxes of the form; a blank time is just now."""
    return CheckFields(
        occasion=form.text("occasion"),
        at=form.moment("at", zone) or now,
        reference_c=form.in_unit("reference_c", view.CELSIUS),
        shown_c=form.in_unit("shown_c", view.CELSIUS),
        note=form.text("note"),
    )


def said(check: InstrumentCheck, form: Form) -> str:
    """What the next page tells after a check was noted."""
    return " ".join((f"The check is noted: {deviation_words(check)}, {check.outcome.value}.", *form.chosen))
