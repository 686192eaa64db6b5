"""What is typed when a repair is recorded, and what can be wrong with it."""

from dataclasses import asdict, dataclass
from datetime import datetime

from service.domain.words import Found
from service.errors import Problem


@dataclass(frozen=True, slots=True)
class RepairFields:
    """As found, as left; torque in newton metres, contact resistance in micro-ohm."""

    repaired_at: datetime
    as_left: str
    as_found: str = ""
    by: str = ""
    cause: str = ""
    torque_found_nm: float | None = None
    torque_left_nm: float | None = None
    micro_ohm_found: float | None = None
    micro_ohm_left: float | None = None
    replaced: bool = False
    found: str | None = None
    cost: float | None = None

    def columns(self) -> dict[str, object]:
        """The columns of a repair; the cause belongs to the finding."""
        values = asdict(self)
        del values["cause"]
        return values

    def problems(self, now: datetime) -> list[Problem]:
        found = []
        if self.repaired_at > now:
            found.append(
                Problem(
                    "form", "repaired_at", self.repaired_at.isoformat(), "A repair to come cannot be recorded.",
                    "Plan it, and record it when it is done.",
                )
            )  # fmt: skip
        if not self.as_left.strip():
            found.append(
                Problem(
                    "form",
                    "as_left",
                    "",
                    "How was it left?",
                    "Say what was done: remade, tightened, replaced.",
                )
            )
        if self.found is not None and self.found not in list(Found):
            found.append(
                Problem(
                    "form", "found", self.found, "That is no answer.", f"Choose one of: {', '.join(Found)}."
                )
            )
        limits = {
            "torque_found_nm": 5000,
            "torque_left_nm": 5000,
            "micro_ohm_found": 1e7,
            "micro_ohm_left": 1e7,
            "cost": 1e9,
        }
        for name, limit in limits.items():
            value = getattr(self, name)
            if value is not None and not 0 <= value <= limit:
                found.append(
                    Problem(
                        "form", name, str(value), f"Between 0 and {limit:g} is expected.", "Check the figure."
                    )
                )
        return found
