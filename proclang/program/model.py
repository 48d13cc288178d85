"""What a procedure is once its names are resolved: symbols with types, and routines of instructions.

An *identity* is the path of names the author wrote, `level_base/final_level/read_tilt/ns`; an *address* also says in
which arm of which branch, so that it names one instruction of one routine: `final_level/hemisphere=north/point_mark`.
Journals hold addresses and identities, never positions in the list, so lowering may change without breaking old runs.

Types stand in `types.py`, declarations in `declared.py`, instructions in `instructions.py`; all can be had from here.
"""

from __future__ import annotations

from collections.abc import Mapping

import attrs

from proclang.program.declared import (
    BACK,
    COUNTED,
    OUT,
    Asked,
    Claim,
    Condition,
    Demand,
    Facets,
    FoundLeft,
    HazardInfo,
    Instrument,
    Interlock,
    ItemPlace,
    Machine,
    MachineItem,
    Symbol,
    TwoPeople,
)
from proclang.program.fewest import Fewest
from proclang.program.instructions import (
    Acknowledge,
    AnyOrderInstr,
    Arms,
    Ask,
    AskFound,
    AskInstrument,
    AskReady,
    AskRole,
    BeginEach,
    BeginLoop,
    BeginStep,
    Branch,
    Call,
    Change,
    ComputeValue,
    EndEach,
    EndLoop,
    EndStep,
    EndStopped,
    EnterSection,
    Instr,
    Jump,
    Leave,
    LeaveSection,
    NowInstr,
    OrderDone,
    Read,
    RequireInstr,
    Return,
    SetInstr,
    Sign,
    UpsetsInstr,
)
from proclang.program.types import (
    HEMISPHERES,
    Amount,
    Choice,
    Env,
    Formula,
    Insert,
    NotKnown,
    Template,
    Truth,
    Type,
    Value,
    Words,
)
from proclang.text.span import Span
from proclang.values.quantity import Quantity

__all__ = [
    "BACK",
    "COUNTED",
    "HEMISPHERES",
    "OUT",
    "Acknowledge",
    "Amount",
    "AnyOrderInstr",
    "Arms",
    "Ask",
    "AskFound",
    "AskInstrument",
    "AskReady",
    "AskRole",
    "Asked",
    "BeginEach",
    "BeginLoop",
    "BeginStep",
    "Branch",
    "Call",
    "Change",
    "Choice",
    "Claim",
    "ComputeValue",
    "Condition",
    "Demand",
    "EndEach",
    "EndLoop",
    "EndStep",
    "EndStopped",
    "EnterSection",
    "Env",
    "Facets",
    "Formula",
    "FoundLeft",
    "HazardInfo",
    "Insert",
    "Instr",
    "Instrument",
    "Interlock",
    "ItemPlace",
    "Jump",
    "Leave",
    "LeaveSection",
    "Machine",
    "MachineItem",
    "NotKnown",
    "NowInstr",
    "OrderDone",
    "Program",
    "Read",
    "RequireInstr",
    "Return",
    "Routine",
    "SetInstr",
    "Sign",
    "Symbol",
    "Template",
    "Truth",
    "TwoPeople",
    "Type",
    "UpsetsInstr",
    "Value",
    "Words",
]


@attrs.frozen
class Routine:
    """One procedure, lowered."""

    name: str
    title: str
    revision: str
    former: str | None
    purpose: tuple[str, ...]
    inputs: tuple[Symbol, ...]
    symbols: Mapping[str, Symbol]
    label_sets: Mapping[str, tuple[str, ...]]
    tables: Mapping[str, Mapping[str, Mapping[str, Quantity]]]
    instruments: Mapping[str, Instrument]
    tools: tuple[tuple[str, str], ...]
    parts: tuple[tuple[str, str, str], ...]
    crew: tuple[str, ...]
    fewest: int
    """How many people its author says there have to be at least; 0 where nothing is said."""

    apart: tuple[tuple[str, str, Span], ...] = attrs.field(eq=False)
    """Roles that are not held by one person, as the needs say."""

    authority: tuple[str, ...]
    machine: Machine | None
    hardware: tuple[FoundLeft, ...]
    gives: tuple[str, ...]
    code: tuple[Instr, ...]
    index: Mapping[str, int] = attrs.field(eq=False, repr=False)
    formerly: Mapping[str, str] = attrs.field(factory=dict)
    """Old identity to new, for comparing runs of two revisions."""


@attrs.frozen
class Program:
    """A procedure and all it performs."""

    entry: str
    routines: Mapping[str, Routine]
    site_facts: Mapping[str, Symbol]
    """Inputs that the site file must give, and those it may give (with a default)."""

    uses_hemisphere: bool

    opening: Routine
    """What is asked before the first section, and then the procedure itself."""

    machines: Mapping[str, Machine]

    pairs: tuple[TwoPeople, ...]
    """Roles that are two people, over the procedure and all it performs."""

    fewest: Fewest
    """How many people it takes at least."""

    def routine(self, name: str) -> Routine:
        """A routine by the name frames carry; the opening has the empty name."""
        return self.opening if not name else self.routines[name]

    @property
    def main(self) -> Routine:
        """The procedure that is run."""
        return self.routines[self.entry]
