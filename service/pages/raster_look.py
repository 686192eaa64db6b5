"""How the picture of a raster is to be drawn, as its page's address says."""

from service.charts.raster_scale import Scale
from service.domain.rasters import Raster
from service.domain.words import TemperatureUnit
from service.errors import Problem
from service.pages.forms import Form
from service.pages.view import CELSIUS, boxed_value, typed_in

SCALES = [(Scale.GREY.value, "grey"), (Scale.PETROL.value, "petrol to paper")]
SIDES = [("above", "above it"), ("below", "below it")]


class Look:
    """Scale and its ends, and the line beyond which is hatched; what is wrong is left in the form's problems."""

    def __init__(self, form: Form, raster: Raster) -> None:
        self.scale = Scale.PETROL if form.text("scale") == Scale.PETROL else Scale.GREY
        low, high = form.in_unit("from", CELSIUS), form.in_unit("to", CELSIUS)
        self.line_c = form.in_unit("line", CELSIUS)
        ends = {"from": low, "to": high, "line": self.line_c}
        #: as they stand in the boxes, in the unit of whoever looks
        self.boxes = {name: _box(form, name, value) for name, value in ends.items()}
        self.side = "below" if form.text("side") == "below" else "above"
        self.low_c = raster.low_c if low is None else low
        self.high_c = raster.high_c if high is None else high
        if not -1000 < self.low_c < self.high_c < 10_000:
            if low is not None or high is not None:
                form.problems.append(_no_scale(form))
            self.low_c, self.high_c = raster.low_c, max(raster.high_c, raster.low_c + 0.1)

    @property
    def shown(self) -> Scale:
        """With a line the picture is grey, so that its hatching stands out."""
        return Scale.GREY if self.line_c is not None else self.scale

    @property
    def beyond(self) -> dict[str, float | None]:
        return {f"{self.side}_c": self.line_c}

    @property
    def address(self) -> dict[str, str]:
        wanted = {
            "typed_in": TemperatureUnit.CELSIUS.value,
            "scale": self.scale.value,
            "from": f"{self.low_c:g}",
            "to": f"{self.high_c:g}",
        }
        if self.line_c is not None:
            wanted |= {"line": f"{self.line_c:g}", "side": self.side}
        return wanted


def _box(form: Form, name: str, value_c: float | None) -> str:
    """As typed, unless it was typed in the other unit by whoever sent this address."""
    if value_c is None or form.text("typed_in") in ("", typed_in()):
        return form.text(name)
    return boxed_value(value_c, CELSIUS)


def _no_scale(form: Form) -> Problem:
    found = f"{form.text('from') or '…'} to {form.text('to') or '…'}"
    return Problem(
        "form", "from", found, "A scale goes from less to more.", "Leave both empty for all of it."
    )
