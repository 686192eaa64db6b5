"""What the device works out by itself, against handbook tables, standards and reference libraries.

The service's own figures stand against the same sources in the other files of this folder; that the
device agrees with the service on whole views is tests/field/test_judging_parity.py.
"""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import mpmath
import numpy as np
import pytest
from astropy import units
from astropy.modeling.models import BlackBody
from playwright.sync_api import Browser, Page

from service.storage.engine import open_engine
from service.storage.unit import Store
from tests.browser.conftest import Visitor
from tests.field.device import ADDRESS, device, judge
from tests.field.packs import pack_of, visited
from tests.published.evidence import BY_HAND, LIBRARY, PUBLISHED, named
from tests.published.test_severity import NETA_AIR, NETA_SIMILAR
from tests.published.test_steam import IF97_36
from tests.published.test_surface_temperature import INVERSES

pytestmark = pytest.mark.browser
KUTZ = "Kutz (ed.), Mechanical Engineers' Handbook, vol. 4"
CALL = "async ([module, name, given]) => (await import(module))[name](...given)"


@pytest.fixture(scope="module")
def page(chromium: Browser) -> Iterator[Page]:
    visitor = Visitor(chromium, ADDRESS)
    yield device(lambda _address: visitor)
    visitor.leave()
    assert visitor.complaints == []


@pytest.fixture(scope="module")
def pack(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """A round of one view of three joints of 100 A at a site judged by the shipped set."""
    path = tmp_path_factory.mktemp("device") / "riseline.db"
    shutil.copy(sqlite_template, path)
    engine = open_engine(f"sqlite:///{path}")
    made = pack_of(visited(Store(engine), visits=1, boards=1, views=1))
    engine.dispose()
    return made


def call(page: Page, module: str, name: str, *given: Any) -> Any:
    return page.evaluate(CALL, [f"{ADDRESS}/assets/field/{module}.js", name, list(given)])


# temperature K, band µm, share of all radiation within it; source, clause, kind
SHARES = [
    (300.0, (8.0, 14.0), 0.5160 - 0.1402, KUTZ, "Table 16: 4200 less 2400 µm·K", PUBLISHED),
    (400.0, (8.0, 14.0), 0.7010 - 0.3181, KUTZ, "Table 16: 5600 less 3200 µm·K", PUBLISHED),
    (500.0, (8.0, 14.0), 0.8081 - 0.4809, KUTZ, "Table 16: 7000 less 4000 µm·K", PUBLISHED),
    (400.0, (7.5, 13.0), 0.6579 - 0.2732, KUTZ, "Table 16: 5200 less 3000 µm·K", PUBLISHED),
]


@pytest.mark.parametrize(("kelvin", "band", "share"), named(SHARES))
def test_the_device_finds_the_handbooks_share_within_a_band(
    page: Page, kelvin: float, band: tuple[float, float], share: float
) -> None:
    whole = 5.670374419e-8 * kelvin**4 / np.pi
    # both ends of the difference are rounded to four digits, and off by 6e-5 at most
    assert call(page, "radiance", "radiance", kelvin - 273.15, band) / whole == pytest.approx(
        share, abs=1.4e-4
    )


# temperature °C, band µm; source, clause, kind
RADIANCES = [
    (celsius, band, "astropy", f"BlackBody, {band[0]:g} to {band[1]:g} µm, {celsius:g} °C", LIBRARY)
    for celsius in (-40.0, 0.0, 25.0, 50.0, 100.0, 400.0)
    for band in ((8.0, 14.0), (7.5, 13.0))
]


@pytest.mark.parametrize(("celsius", "band"), named(RADIANCES))
def test_the_device_finds_the_librarys_radiance_within_a_band(
    page: Page, celsius: float, band: tuple[float, float]
) -> None:
    wavelength = np.linspace(*band, 4001) * units.um
    per_um = units.W / (units.m**2 * units.sr * units.um)
    body = BlackBody((celsius + 273.15) * units.K, scale=1.0 * per_um)
    expected = np.trapezoid(body(wavelength).value, wavelength.value)
    found = call(page, "radiance", "radiance", celsius, band)
    assert found == pytest.approx(expected, rel=1e-6)
    assert call(page, "radiance", "temperatureOf", found, band) == pytest.approx(celsius, abs=1e-6)


@pytest.mark.parametrize(("apparent", "reflected", "eps", "surface"), named(INVERSES))
def test_the_device_corrects_an_apparent_temperature(
    page: Page, apparent: float, reflected: float, eps: float, surface: float
) -> None:
    setting = {"half": 0.02, "standing": "measured", "place": "reading"}
    found = call(page, "surface", "measure", _inputs(
        shownC=apparent, setEmissivity=1.0, setTransmission=1.0, emissivity=setting | {"value": eps},
        reflected=setting | {"value": reflected}, transmission=setting | {"value": 1.0},
    ))  # fmt: skip
    assert found["surface"] == pytest.approx(surface, abs=1e-3)


def _inputs(**told: Any) -> dict[str, Any]:
    unknown = [
        "ambientC",
        "humidity",
        "distance",
        "windowTransmission",
        "windowC",
        "setReflectedC",
        "minutesAtLoad",
        "settleMinutes",
        "targetMm",
        "instrument",
    ]
    return dict.fromkeys(unknown) | {"window": False} | told


# pressure MPa, temperature K; source, clause, kind
STEAM = [
    (0.1, 372.755919, IF97_36, "0.1 MPa", PUBLISHED),
    (1.0, 453.035632, IF97_36, "1 MPa", PUBLISHED),
    (10.0, 584.149488, IF97_36, "10 MPa", PUBLISHED),
]


@pytest.mark.parametrize(("pressure_mpa", "kelvin"), named(STEAM))
def test_the_device_boils_water_at_the_published_temperature(
    page: Page, pressure_mpa: float, kelvin: float
) -> None:
    gauge_bar = pressure_mpa * 10 - 1.01325
    assert call(page, "templates", "steamC", gauge_bar) == pytest.approx(kelvin - 273.15, abs=1e-6)


ERRORS = [
    (x, "mpmath", f"erfc({x:g}), 30 digits", LIBRARY) for x in (-4.0, -1.0, 0.0, 0.5, 1.163, 2.4, 2.6, 5.0)
]


@pytest.mark.parametrize("x", named(ERRORS))
def test_the_device_knows_the_chance_beyond_a_line(page: Page, x: float) -> None:
    with mpmath.workdps(30):
        expected = float(mpmath.erfc(x))
    assert call(page, "uncertainty", "erfc", x) == pytest.approx(expected, abs=1e-13)


# over like parts K, level, source, clause, kind
SIMILAR = [
    (1.0, 1, NETA_SIMILAR, "1 K is already possible, on the device", PUBLISHED),
    (3.0, 1, NETA_SIMILAR, "3.0 K: upper bound belongs to its band, on the device", PUBLISHED),
    (3.01, 2, NETA_SIMILAR, "3.01 K: the hole 3–4 K goes up, on the device", BY_HAND),
    (14.0, 2, NETA_SIMILAR, "14 K over a similar part, on the device", PUBLISHED),
    (15.0, 2, NETA_SIMILAR, "15 K is not yet over 15 K, on the device", PUBLISHED),
    (16.0, 4, NETA_SIMILAR, "16 K over a similar part, on the device", PUBLISHED),
]


@pytest.mark.parametrize(("rise_k", "level"), named(SIMILAR))
def test_the_device_reads_the_similar_column_as_printed(
    page: Page, pack: dict[str, Any], rise_k: float, level: int
) -> None:
    # at the common load itself nothing is brought up to it
    hot = _judged(page, pack, [45.3 + rise_k, 45.3, 45.3], amps=100.0)
    assert (hot["level"], hot["atLeast"]) == (level, False)


# over air K, level, source, clause, kind
AIR = [
    (30.0, 3, NETA_AIR, "30 K over air, read alone, on the device", PUBLISHED),
    (41.0, 4, NETA_AIR, "41 K over air, read alone, on the device", PUBLISHED),
]


@pytest.mark.parametrize(("rise_k", "level"), named(AIR))
def test_the_device_reads_the_ambient_column_as_printed(
    page: Page, pack: dict[str, Any], rise_k: float, level: int
) -> None:
    alone = _judged(page, pack, [25.0 + rise_k, None, None], amps=100.0)
    assert (alone["reference"], alone["level"]) == ("air", level)


# rise K at 50 A of 100 A, at common load K; source, clause, kind
LOADS = [(10.0, 34.82, "I to the power of 1.8", "10 K from half to full load", BY_HAND)]


@pytest.mark.parametrize(("rise_k", "common_k"), named(LOADS))
def test_the_device_brings_a_rise_to_common_load(
    page: Page, pack: dict[str, Any], rise_k: float, common_k: float
) -> None:
    hot = _judged(page, pack, [40.0 + rise_k, 40.0, 40.0], amps=50.0)
    assert hot["commonK"] == pytest.approx(common_k, abs=0.01)


def _judged(
    page: Page, pack: dict[str, Any], temperatures_c: list[float | None], *, amps: float
) -> dict[str, Any]:
    """What the device says of the first of three joints; it was over its first line before."""
    points = pack["stops"][0]["views"][0]["points"]
    points[0]["judging"]["previous_over_first_line"] = True
    typed = {
        point["row_uid"]: {"temperature_c": warm, "current_a": amps}
        for point, warm in zip(points, temperatures_c, strict=True)
    }
    case = {"pack": pack, "stop": 0, "view": 0, "typed": typed, "around": {"ambient_c": 25.0}}
    (found,) = judge(page, [case])
    first: dict[str, Any] = found["points"][0]
    return first
