"""The readings of a round as a CSV table for other programs."""

import csv
import io

from service.domain.cells import guarded
from service.domain.reports import ReportedPoint, RoundReport

HEADER = (
    "round", "point", "site", "equipment", "view", "name", "phase", "kind", "taken (UTC)", "not assessable",
    "temperature °C", "ambient °C", "reflected °C", "wind m/s", "amps", "load share", "reference",
    "rise as measured K", "rise at common load K", "rise over air K", "standard uncertainty K", "level", "at least",
    "published band", "rule", "sentence", "trend", "picture", "note",
)  # fmt: skip


def round_table_csv(report: RoundReport) -> bytes:
    """UTF-8 with BOM, one row a point; numbers stay numbers, texts cannot become formulas."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEADER)
    for point in report.points:
        writer.writerow([_cell(value) for value in _row(report.head.code, point)])
    return ("\ufeff" + out.getvalue()).encode()


def _row(code: str, p: ReportedPoint) -> tuple[object, ...]:
    return (
        code, p.tag, p.site, p.equipment, p.view, p.name, p.phase, p.kind,
        p.taken_at.strftime("%Y-%m-%d %H:%M") if p.taken_at else None, p.reason.word if p.reason else None,
        p.temperature_c, p.ambient_c, p.reflected_c, p.wind_m_s, p.current_a, p.load_ratio, p.reference, p.value_k,
        p.common_k, p.rise_air_k, p.u_k, None if p.level is None else int(p.level), "yes" if p.at_least else "no",
        p.published_band, p.rule, p.sentence, p.trend, p.picture, p.note,
    )  # fmt: skip


def _cell(value: object) -> object:
    return guarded(value) if isinstance(value, str) else value
