"""A fork between two hard stops, with a readout and a controller, and a crew that drives it as the steps say.

All values are invented. The readout counts on past a full turn and is plus for a fork that turns clockwise seen from
above, once its direction setting is right.
"""

from __future__ import annotations

import re

import attrs
from site_crew import Crew

from proclang.engine.model import Request


@attrs.define
class MountCrew(Crew):
    """Drives the fork and reads the readout."""

    plus_stop: float = 269.91
    minus_stop: float = -270.34
    mark: float = 1.27
    """Readout where the fork mark stands over the mid-wrap mark."""

    play: float = 0.06
    """How much more the readout shows at one place of the fork when it was driven minus, in deg."""

    position: float = 6.5
    readout_reversed: bool = False
    touch_noise: dict[str, float] = attrs.field(factory=dict)
    """By the end of an address: how far inside the stop contact was called, in deg."""

    typed_wrong: set[str] = attrs.field(factory=set)
    """Settings typed with the wrong sign the first time."""

    settings: dict[str, float] = attrs.field(factory=dict)

    def reading(self, request: Request, name: str) -> str:
        """What the readout or the page of the limits shows."""
        value = name.partition("[")[0]
        if value == "jog_from":
            return self._shown()
        if value.startswith("stands_at_"):
            if value == "stands_at_proof":
                self.position = self.settings["azimuth_plus"] + 0.84  # it ran past the limit before it was stopped
            return self._shown()
        if value == "jog_to":
            self.position += 5.02
            return self._shown()
        if value in ("plus_touch", "minus_touch"):
            self._touch(request, value)
        elif value == "mark_falling":
            self.position = self.mark + self.play
        elif value in ("mark_readout", "mark_again"):
            self.position = self.mark + self.random.choice((-0.02, 0.0, 0.01))
        elif value in ("reached_plus", "reached_minus"):
            setting = self.settings["azimuth_plus" if value == "reached_plus" else "azimuth_minus"]
            # At creep speed the fork runs on by a few hundredths of a degree after the limit.
            self.position = setting + (0.06 if setting > 0 else -0.06)
        elif value in ("read_back", "after_power_cycle"):
            return self._setting(request, request.address.split("/")[-2])
        else:
            return super().reading(request, name)
        return self._shown()

    def _shown(self) -> str:
        return f"{round(-self.position if self.readout_reversed else self.position, 2) + 0.0:.2f} deg"

    def _touch(self, request: Request, value: str) -> None:
        noise = 0.0
        for end in [end for end in self.touch_noise if request.address.endswith(end)]:
            noise = self.touch_noise.pop(end)
        if value == "plus_touch":
            self.position = self.plus_stop - noise - self.random.choice((0.0, 0.01, 0.02))
        else:
            self.position = self.minus_stop + noise + self.random.choice((0.0, 0.01, 0.02))

    def _setting(self, request: Request, setting: str) -> str:
        """The controller shows what was typed into it, and that is what the question says unless somebody slips."""
        if request.address.endswith("read_back"):
            told = float(re.findall(r"to ([+-]?\d+(?:\.\d+)?) deg", request.facts[0].replace("\u2212", "-"))[0])
            self.settings[setting] = -told if setting in self.typed_wrong else told
            self.typed_wrong.discard(setting)
        return f"{self.settings[setting]:+.1f} deg"

    def choice(self, request: Request, name: str) -> str:
        """The motor runs the right way round; what may be wrong is the readout."""
        return "clockwise" if name == "sense" else super().choice(request, name)

    def done(self, request: Request, name: str) -> None:
        """Drive off the stops; mend the direction of the readout."""
        if name == "back_from_plus":
            self.position -= 5
        elif name == "back_from_minus":
            self.position += 5
        elif name == "reversed":
            self.readout_reversed = False
