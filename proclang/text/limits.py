"""Bounds on everything that is read. Each turns an endless or enormous input into a placed message."""

FILE_BYTES = 1 << 20
"""Longest procedure, machine, site or reply file."""

LINE_CHARACTERS = 10_000
BLOCK_DEPTH = 32
EXPRESSION_DEPTH = 100
NAME_CHARACTERS = 64
FINDINGS_SHOWN = 100
FILES_IN_A_SET = 200
BYTES_IN_A_SET = 8 << 20
PERFORM_DEPTH = 32
STEPS_EXPANDED = 10_000
"""Steps a procedure may come to with every loop run to its bound and every perform written out."""

INSTRUCTIONS_EXPANDED = 100_000
"""All else it may come to, counted likewise: what is done without a question must end while somebody waits for it."""

LABELS_IN_A_SET = 1_000
NUMBER_CHARACTERS = 40
NUMBER_EXPONENT = 99
EXACT_DIGITS = 60
"""An exact rational with a longer numerator or denominator is rounded (see values.number)."""

REPLY_CHARACTERS = 2_000
JOURNAL_LINE_BYTES = 1 << 16
JOURNAL_DEPTH = 16
