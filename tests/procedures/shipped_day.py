"""One invented day behind a shipped file of replies: who answers what, at which site."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path

import attrs
from procedure_help import SITES, Run, facts, home, program, run
from site_crew import Crew


@attrs.frozen
class Day:
    """A procedure at a site on one day."""

    procedure: str
    site: str
    what: str
    crew: Callable[[float], Crew]
    """Makes the crew for a site with this declination in deg."""

    @property
    def file(self) -> str:
        """`level_base.northern.replies`, with the kind of day between where it is no ordinary one."""
        kind = "" if self.what == "ordinary day" else "." + self.what.replace(" ", "_")
        return f"{self.procedure}.{self.site}{kind}.replies"

    @property
    def path(self) -> Path:
        """Where it lies: beside the procedure it answers."""
        return home(self.procedure) / "replies" / self.file

    def run(self) -> Run:
        """The run, from the first question to the last."""
        return run(program(self.procedure), facts(self.procedure, self.site), self.crew(declination(self.site)))

    def text(self) -> str:
        """The file of replies."""
        lines = [
            f"# Training example with invented values: {self.procedure} at the {self.site} site, {self.what}.",
            "# One reply a line: `address = reply`, a note `address ! note`, a stop `address stop reason`.",
        ]
        part = ""
        for line in self.run().lines():
            here = "/".join(line.split("/")[:2]) if not line.startswith("opening/") else "opening"
            if here != part:
                lines.append("")
                part = here
            lines.append(line)
        return "\n".join(lines) + "\n"


def place(site: str) -> dict[str, float]:
    """Latitude and longitude of a site in deg, as a crew takes them."""
    read = tomllib.loads((SITES / f"{site}.toml").read_text(encoding="utf-8"))
    return {name: float(str(read["facts"][name]).removesuffix(" deg")) for name in ("latitude", "longitude")}


def declination(site: str) -> float:
    """Magnetic declination of a site in deg, east plus."""
    read = tomllib.loads((SITES / f"{site}.toml").read_text(encoding="utf-8"))
    return float(str(read["facts"]["declination"]).removesuffix(" deg"))
