"""A simulated crew: it answers what every run asks, and leaves the readings to the simulated hardware.

All people, serial numbers and weather are invented.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator

import attrs

from proclang.engine.model import Reply, Request

PEOPLE = {
    "lead": "Ada Quill",
    "rigger": "Bo Tarn",
    "driver": "Bo Tarn",
    "spotter": "Dee Marl",
    "scribe": "Cy Moss",
    "signaller": "Eli Vane",
}

TEXTS = {
    "signaller": "Bo Tarn",
    "gust": "4 m/s",
    "stop_holder": "Dee Marl",
    "weather": "clear, 6 °C, light wind from the west",
    "iron": "crane mats, 12 m away",
    "new_plan": "Ada Quill, with the operator",
    "remarks": "nut 3 turns harder than the others",
    "last_nut": "nut 4 in the second pass",
    "limits_before": "none set, both show 0.0",
    "reversed": "readout direction, from 0 to 1",
    "as_found": "as_found_001.jpg",
    "ring_clamped": "ring_014.jpg",
    "as_left_photo": "as_left_022.jpg",
    "wrap_before": "wrap_003.jpg",
    "wrap_after": "wrap_019.jpg",
}
"""Answers in words, by the last name of the address."""

WAITED = {
    "waited": "12 min",
    "settled": "10 min",
    "wind_waited": "10 min",
    "aired": "16 min",
    "pond_waited": "30 min",
    "rested": "10 min",
}
"""How long a step that only waits took; no shorter than any site wants."""


@attrs.define
class Crew:
    """Answers one run. `ways` says what is done where a verdict asks, by the end of its address; several in order."""

    seed: int = 1
    texts: dict[str, str] = attrs.field(factory=dict)
    """Answers in words that differ from `TEXTS`."""

    ways: dict[str, list[str]] = attrs.field(factory=dict)
    notes: dict[str, str] = attrs.field(factory=dict)
    """What is noted when the question with this end of an address first comes up."""

    stop_at: str = ""
    stop_reason: str = ""
    random: random.Random = attrs.field(init=False)

    def __attrs_post_init__(self) -> None:
        self.random = random.Random(self.seed)

    # ------------------------------------------------------------------ the driver's side

    def __call__(self, request: Request) -> Iterable[Reply]:
        """Notes first, then the answer."""
        return list(self._replies(request))

    def _replies(self, request: Request) -> Iterator[Reply]:
        for end in [end for end in self.notes if request.address.endswith(end)]:
            yield Reply(self.notes.pop(end), "note")
        if self.stop_at and request.address.endswith(self.stop_at):
            self.stop_at = ""
            yield Reply(self.stop_reason, "stop")
            return
        yield Reply(self.answer(request))

    def answer(self, request: Request) -> str:
        """One answer."""
        address = request.address
        name = address.rsplit("/", 1)[-1]
        if address.startswith("opening/"):
            return self._opening(request, name)
        for end in self.ways:
            if address.endswith(end) and self.ways[end]:
                way = self.ways[end].pop(0)
                self.way(request, way)
                return way
        if request.kind == "word":
            self.done(request, name)
            return request.choices[0]
        if name in self.texts or name in TEXTS:
            self.done(request, name)
            return self.texts.get(name, TEXTS.get(name, ""))
        if request.kind == "quantity":
            return self.reading(request, name)
        if request.kind == "names":
            return ", ".join(request.choices)
        if request.kind == "name":
            return self._signer(request)
        if request.kind == "choice":
            return self.choice(request, name)
        raise AssertionError(f"nobody knows what to write at {address}")

    def _opening(self, request: Request, name: str) -> str:
        parts = request.address.split("/")
        if parts[1] == "crew":
            return PEOPLE[name]
        if name == "calibrated":
            return "2031-03-12"
        if parts[1] == "instrument":
            return f"{name.upper().replace('_', '-')}-{100 + sum(map(ord, name)) % 900}"
        if parts[1] == "found":
            said = request.facts[-1].replace("_", " ")
            return max((c for c in request.choices if said.endswith(c.replace("_", " "))), key=len)
        return request.choices[0]

    def _signer(self, request: Request) -> str:
        """Whoever the question names first; the lead where it names nobody."""
        text = f"{request.people} {' '.join(request.choices)} {request.prompt}"
        found = [(text.find(person), person) for person in PEOPLE.values() if person in text]
        return min(found)[1] if found else PEOPLE["lead"]

    # ------------------------------------------------------------------ the hardware's side

    def reading(self, request: Request, name: str) -> str:
        """What an instrument shows, or the watch after a wait."""
        if name.partition("[")[0] in WAITED:
            return WAITED[name.partition("[")[0]]
        raise AssertionError(f"nobody can read {request.address}")

    def choice(self, request: Request, name: str) -> str:
        """What is seen; here all is as the question says. What to do about a failure is never left to chance."""
        assert "stop" not in request.choices, f"nobody expected {request.address}: {request.facts}"
        return request.choices[0]

    def done(self, request: Request, name: str) -> None:
        """A step has been carried out, or what was done has been written down."""

    def way(self, request: Request, word: str) -> None:
        """A way on was chosen; `adjust` means that the hardware was put right."""
