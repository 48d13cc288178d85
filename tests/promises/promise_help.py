"""Texts that are meant to do harm: controls, format characters and sequences, each with where it is from."""

from __future__ import annotations

C0_DEL_C1 = [chr(c) for c in (*range(0x20), *range(0x7F, 0xA0))]
"""ECMA-48: the 65 control characters, C0, DEL and C1."""

FORMAT = [
    chr(c)
    for c in (
        0x00AD, 0x061C, 0x180E, 0x200B, 0x200C, 0x200D, 0x200E, 0x200F, 0x2028, 0x2029, 0x202A, 0x202B, 0x202C, 0x202D,
        0x202E, 0x2060, 0x2066, 0x2067, 0x2068, 0x2069, 0xFEFF, 0xFFF9, 0xFFFA, 0xFFFB, 0xE0001, 0xE0041, 0xE007F,
    )
]  # fmt: skip
"""Unicode 15, general categories Cf, Zl and Zp: soft hyphen, bidi controls, zero widths, separators, tags."""

BIDI = [
    chr(c) for c in (0x061C, 0x200E, 0x200F, 0x202A, 0x202B, 0x202C, 0x202D, 0x202E, 0x2066, 0x2067, 0x2068, 0x2069)
]
"""Bidi_Control of Unicode's PropList; CVE-2021-42574 used the nine of them that embed, override and isolate."""

SEQUENCES = [
    "\x1b]0;title\x07", "\x1b]2;title\x1b\\", "\x1b]8;;http://example\x1b\\x\x1b]8;;\x1b\\", "\x1b]52;c;cm0gLXJm\x07",
    "\x1b]4;1;?\x07", "\x1b]10;?\x07", "\x1b]11;#000000\x07", "\x1b]104\x07", "\x1b]1337;File=:x\x07", "\x1b]777;x\x07",
    "\x1b]9;note\x07", "\x1b]50;font\x07", "\x1bP$q\"p\x1b\\", "\x1bP+q544e\x1b\\", "\x1bPq#0!9~\x1b\\", "\x1b_x\x1b\\",
    "\x1b^x\x1b\\", "\x1bXx\x1b\\", "\x1b[2J", "\x1b[3J", "\x1b[H", "\x1b[1;1H", "\x1b[5A", "\x1b[99B", "\x1b[9C",
    "\x1b[9D", "\x1b[K", "\x1b[1K", "\x1b[2K", "\x1b[M", "\x1b[L", "\x1b[P", "\x1b[@", "\x1b[6n", "\x1b[5n", "\x1b[c",
    "\x1b[>c", "\x1b[21t", "\x1b[18t", "\x1b[8;1;1t", "\x1b[?1049h", "\x1b[?1000h", "\x1b[?1003h", "\x1b[?2004h",
    "\x1b[?25l", "\x1b[?7l", "\x1b[?3h", "\x1b[!p", "\x1b[4h", "\x1b[20h", "\x1b[31m", "\x1b[8m", "\x1b[0m",
    "\x1b[38;2;1;2;3m", "\x1b[r", "\x1b[1;1r", "\x1b[s", "\x1b[u", "\x1b7", "\x1b8", "\x1bc", "\x1b#8", "\x1b(0",
    "\x1b)0", "\x1b=", "\x1bD", "\x1bM", "\x1bE", "\x9b2J", "\x9d0;t\x9c", "\x90q\x9c", "\x0e", "\x0f", "\x07",
    "\x08\x08", "x\ry", "\x05", "\x18\x1a",
]  # fmt: skip
"""Sequences of ECMA-48 and of the control sequences xterm documents (from memory): titles, links, the clipboard,
reports that a terminal types back, screens, margins, character sets."""
