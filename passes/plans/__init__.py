"""Plan files: what is to be exposed on which field, read and written as TOML."""

from passes.model import Overheads
from passes.plans.reading import sexagesimal_deg
from passes.plans.sessions import (
    Group,
    Plan,
    PlannedSub,
    plan_text,
    read_plan,
    read_plan_text,
)
from passes.plans.timing import fixed, half_turned, subs_of

__all__ = [
    "Group",
    "Overheads",
    "Plan",
    "PlannedSub",
    "fixed",
    "half_turned",
    "plan_text",
    "read_plan",
    "read_plan_text",
    "sexagesimal_deg",
    "subs_of",
]
