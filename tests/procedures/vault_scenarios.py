"""The days behind the replies of the vault: ordinary ones, bad ones and stopped ones; see reply_scenarios.py."""

from __future__ import annotations

import functools
import tomllib

from procedure_help import SITES
from shipped_day import Day
from vault_simulator import Tripod, VaultCrew


def bags(site: str) -> int:
    """How many desiccant bags the pit of a site takes."""
    read = tomllib.loads((SITES / f"{site}.toml").read_text(encoding="utf-8"))
    return int(str(read["facts"]["bags_wanted"]).removesuffix(" pieces"))


def _ordinary(site: str, east: float) -> VaultCrew:
    return VaultCrew(declination=east, bags=bags(site))


def _prepare_bad(site: str, east: float) -> VaultCrew:
    return VaultCrew(
        water=140.0,
        dioxide=9200,
        ways={"sniff/dioxide/verdict": ["stop"]},
        notes={"sniff/dioxide/verdict": "rotting leaves in the sump; nobody goes down today"},
    )


def _prepare_wet(site: str, east: float) -> VaultCrew:
    return VaultCrew(water=140.0, tools=17, notes={"pumping#1/pump_out": "140 mm after a week of rain"})


def _set_bad(site: str, east: float) -> VaultCrew:
    return VaultCrew(
        tripod=Tripod.tilted(-35.0, 48.0),
        declination=east,
        method="gyro",
        gyro_slip=0.22,
        warmth=2.0,
        offsets=[0.81, 0.22],
        swing={"east": -1.58},
        noise={"east": 910},
        ways={
            "runs_apart/verdict": ["adjust"],
            "kick/verdict": ["adjust"],
            "noise/verdict": ["accept"],
            "noise/reason": ["surf after yesterday's gale; read again on the next visit"],
            "noise/accepted_by": ["Eve Larch"],
        },
        notes={
            "runs_apart/verdict": "the tripod of the gyro had sunk on one leg; set firm and run again",
            "kick/verdict": "the east pair was crossed at the recorder; supply off, uncrossed, supply on",
        },
    )


def _set_stopped(site: str, east: float) -> VaultCrew:
    return VaultCrew(
        declination=east,
        stop_at="levelling#2/read_level/ns[reversed]",
        stop_reason="the gas meter at the belt gives an alarm",
    )


def _seal_bad(site: str, east: float) -> VaultCrew:
    return VaultCrew(
        bags=bags(site),
        bags_lost=1,
        leaks=[4, 0],
        ways={"bags_missing/verdict": ["adjust"]},
        notes={
            "bags_missing/verdict": "one bag had slid below the ladder; found and carried up",
            "go_round": "drops below bolts 3 and 4",
        },
    )


VAULT_DAYS: tuple[Day, ...] = tuple(
    Day(procedure, site, what, functools.partial(crew, site))
    for site in ("vault_north", "vault_south")
    for procedure, what, crew in (
        ("prepare_vault", "ordinary day", _ordinary),
        ("prepare_vault", "bad day", _prepare_wet),
        ("prepare_vault", "stopped", _prepare_bad),
        ("set_seismometer", "ordinary day", _ordinary),
        ("set_seismometer", "bad day", _set_bad),
        ("set_seismometer", "stopped", _set_stopped),
        ("seal_vault", "ordinary day", _ordinary),
        ("seal_vault", "bad day", _seal_bad),
    )
)
