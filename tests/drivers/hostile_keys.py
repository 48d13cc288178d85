"""What a terminal, a paste or a prankster can send to a prompt: 200 and more sequences, none of which is an answer.

Sequences are those of ECMA-48, of the xterm control sequences document and of terminal emulators' manuals, written
from memory; pastes are as terminals send them, in brackets (`ESC [ 200 ~`) where the program asked for that.
"""

from __future__ import annotations

ESC = "\x1b"
ST = ESC + "\\"


def pasted(text: str) -> str:
    """As a terminal sends it when asked to mark pastes."""
    return f"{ESC}[200~{text}{ESC}[201~"


_KEYS = [
    *(f"{ESC}[{x}" for x in "ABCDHFEGPQRS"),
    *(f"{ESC}O{x}" for x in "ABCDHFPQRSMjklmnopqrstuvwxy"),
    *(f"{ESC}[{n}~" for n in (1, 2, 3, 4, 5, 6, 7, 8, 11, 15, 17, 19, 21, 23, 24, 25, 29, 34)),
    *(f"{ESC}[1;{n}{x}" for n in (2, 3, 4, 6, 8) for x in "ADHP"),
    *(f"{ESC}[27;{n};{k}~" for n in (2, 5) for k in (9, 27)),
    *(f"{ESC}[{k};{n}u" for k in (97, 57358) for n in (1, 5)),
    *(ESC + x for x in "bfdtu<>.-0=\x7f\x08"),
    *"\x00\x02\x06\x07\x08\x0b\x0c\x0e\x0f\x10\x12\x14\x17\x18\x19\x1e\x1f\x7f",
    "\t", "\t\t", f"{ESC}[Z",
]  # fmt: skip
"""Keys an editor knows or does not, alone and with modifiers."""

_REPORTS = [
    f"{ESC}[24;80R",
    f"{ESC}[1;1R",
    f"{ESC}[?1;2c",
    f"{ESC}[>41;354;0c",
    f"{ESC}[?62;22c",
    f"{ESC}[0n",
    f"{ESC}[3n",
    f"{ESC}[I",
    f"{ESC}[O",
    f"{ESC}[8;24;80t",
    f"{ESC}[4;600;800t",
    f"{ESC}[?2026;2$y",
    f"{ESC}P1$r0m{ST}",
    f"{ESC}P0+r{ST}",
    f"{ESC}P>|term(1){ST}",
    f"{ESC}]10;rgb:ffff/ffff/ffff{ST}",
    f"{ESC}]11;rgb:0000/0000/0000\x07",
    f"{ESC}]52;c;OQ=={ST}",
    f"{ESC}_Gi=31;OK{ST}",
]
"""What terminals answer to questions nobody asked here."""

_MICE = [
    *(f"{ESC}[<{b};{x};{y}{e}" for b in (0, 2, 35, 64, 65) for x, y in ((1, 1), (80, 24)) for e in "Mm"),
    f"{ESC}[M !!",
    f"{ESC}[M#!!",
    f"{ESC}[M`!!",
    f"{ESC}[32;10;10M",
    f"{ESC}[31m",
]
"""Mouse reports in the three forms, and a colour sequence that looks like one."""

_OUTPUT = [
    f"{ESC}[2J{ESC}[H",
    f"{ESC}[3J",
    f"{ESC}[?1049h",
    f"{ESC}[?25l",
    f"{ESC}[6n",
    f"{ESC}[c",
    f"{ESC}[5i",
    f"{ESC}[!p",
    f"{ESC}c",
    f"{ESC}(0",
    f"{ESC}#8",
    f"{ESC}7{ESC}8",
    f"{ESC}]0;title{ST}",
    f"{ESC}]2;title\x07",
    f"{ESC}]8;;https://example.invalid/{ST}text{ESC}]8;;{ST}",
    f"{ESC}]52;c;cm0gLXJm{ST}",
    f"{ESC}]9;4;1;50{ST}",
    f"{ESC}]1337;File=:AAAA\x07",
    f"{ESC}P$q\"p{ST}",
    f"{ESC}Pq#0;2;0;0;0{ST}",
    f"{ESC}[38;2;0;255;0mPASSES{ESC}[0m",
    "\x9b31m",
    "\x9d0;title\x9c",
    "\x90q\x9c",
    "\x85",
    "\x8d",
]  # fmt: skip
"""What belongs on a screen and is sent as if typed."""

_TEXT = [
    "\u202e2.81",
    "\u2066x\u2069",
    "\u200b18.7",
    "\u2028done",
    "\ufeff1",
    "\U000e0041",
    "１８.７ mm",
    "٣٫٥",
    "1\u00a0000 mm",
    "n" * 2000,
    "9" * 2000,
    "{{7*7}} {x} %s ${x}",
    "[x](javascript:1) | a | `` ` <!-- -->",
    "really",
    "1e9999999",
]
"""Text that is no answer, or hides something."""

_PASTES = [
    pasted(x)
    for x in (
        "18.7 mm\n2.1 mm\n",
        "yes\nyes\nyes\n",
        "done\r\ndone\r\n",
        "accept\nno reason\nAda Quill\n",
        "stop\n",
        "\n\n\n",
        "\r",
        "\x03",
        "\x04",
        "\x1a",
        f"{ESC}[31mred",
        f"{ESC}]0;t\x07",
        "\x1b[200~nested",
        "\x00\x01\x02",
        "a" * 3000,
        "\u202epasted",
        "x\ty\x0bz\x0c",
        "rm -rf x\n",
        "\x9b2J",
        "pause\n",
    )
]

SEQUENCES: tuple[str, ...] = tuple(dict.fromkeys([*_KEYS, *_REPORTS, *_MICE, *_OUTPUT, *_TEXT, *_PASTES]))
"""Each is sent to a prompt without Enter behind it."""

CLEARED = "\x07\x05\x15"
"""Leave a search, go to the end of the line, throw it away: what somebody does who sees nonsense in the line."""

UNFINISHED = tuple(ESC + x for x in ("", "[", "[1;", "[<0;1", "]0;", "P", "O", "_", "^", "[M "))
"""Beginnings of sequences that never end. The editor gives them up after half a second."""
