"""The one layout: what it changes, what it leaves, and where comments come to stand.

The properties hold for any tree: laid out, a file says the same, has the same comments in the same order, and is laid
out already. That the layout of `print_tree`, which knows nothing of lexemes, is left alone checks one by the other.
"""

from __future__ import annotations

import random
import re
import textwrap

import pytest
import strategies
from hypothesis import given, settings
from hypothesis import strategies as st
from line_faults import PROCEDURES, SAMPLES

from proclang.syntax import format as layout
from proclang.syntax import nodes as n
from proclang.syntax.format import format_file
from proclang.syntax.format_line import line_text
from proclang.syntax.parse import parse
from proclang.syntax.printer import print_tree
from proclang.syntax.scan import scan, scan_piece
from proclang.text.printable import has_hidden
from proclang.text.span import Source

SOUND = strategies.files.filter(lambda tree: not has_hidden(print_tree(tree).replace("\n", "")))
"""Trees whose texts hold nothing that no file may hold."""

HEAD = 'proclang 1\nprocedure invented "Invented"\n'


def laid(text: str) -> str:
    """A text laid out; it must be sound, and laid out for good."""
    done = format_file(text.encode(), "invented.proc")
    assert done.text is not None, done.findings
    assert format_file(done.text.encode(), "invented.proc").text == done.text
    return done.text


def body(text: str) -> str:
    """Lines behind the first two, laid out."""
    whole = laid(HEAD + textwrap.dedent(text).removeprefix("\n"))
    assert whole.startswith(HEAD)
    return whole.removeprefix(HEAD)


def comments_of(text: str) -> list[str]:
    """What the comments of a text say."""
    return [text[begin + 1 : end].strip(" \t") for begin, end in scan(text)[1]]


# ---------------------------------------------------------------------------- any text


_COMMENTS = st.sampled_from(["", " ", " why", "why", "# loud", '  a "quoted" { # sign', " trailing  ", "±\t"])


@st.composite
def untidy(draw: st.DrawFn) -> tuple[n.File, str]:
    """A tree, and a text of it with blanks, blank lines and comments wherever they may be."""
    tree = draw(SOUND)
    rng = random.Random(draw(st.integers(0, 2**32)))
    text = print_tree(tree)
    out: list[str] = []
    for indent, _, lexemes in scan(text)[0]:
        while rng.random() < 0.3:
            out.append(draw(st.sampled_from(["", "   "])))
        while rng.random() < 0.3:
            out.append(" " * rng.randrange(9) + "#" + draw(_COMMENTS))
        end = lexemes[0][2]
        line = indent
        for _, word, begin, after in lexemes[:-1]:
            line += text[end:begin] + (" " * rng.randrange(3) if line != indent else "") + word
            end = after
        if rng.random() < 0.3:
            line += " " * rng.randrange(4) + "#" + draw(_COMMENTS)
        out.append(line + " " * rng.randrange(3))
    out += [" #" + draw(_COMMENTS)] * rng.randrange(2)
    return tree, "\n".join(out) + draw(st.sampled_from(["", "\n", "\n\n\n"]))


@settings(max_examples=100, deadline=None)
@given(untidy())
def test_a_text_laid_out_says_the_same_with_the_same_comments(given_: tuple[n.File, str]) -> None:
    """Lines come out as they are printed, whatever blanks, blank lines and comments stood there; what was printed is
    laid out already."""
    tree, text = given_
    done = laid(text)
    parsed = parse(Source("a.proc", done))
    assert (parsed.findings, parsed.tree) == ((), tree)
    assert comments_of(done) == comments_of(text)
    bare = [done[line[0][2] : line[-2][3]] for _, _, line in scan(done)[0]]
    printed = print_tree(tree)
    assert laid(printed) == printed
    assert bare == [printed[line[0][2] : line[-2][3]] for _, _, line in scan(printed)[0]]
    assert not re.search(r"[ \t]\n|\n\n\n|\A\n|\n\n\Z", done)


@settings(max_examples=20, deadline=None)
@given(untidy(), st.sampled_from(['step "', "\tmeasure", "within ± 3", '"{"', "«"]))
def test_a_text_with_a_mistake_is_not_laid_out_at_all(given_: tuple[n.File, str], wrong: str) -> None:
    text = given_[1].rstrip("\n") + "\n" + wrong + "\n"
    done = format_file(text.encode(), "a.proc")
    assert done.text is None
    assert done.findings


@pytest.mark.parametrize("path", [*SAMPLES, *PROCEDURES], ids=lambda path: path.name)
def test_written_files_keep_their_words_and_comments(path: object) -> None:
    """Only blanks and the form of a sign may be others: every lexeme stays, brackets that are not needed included."""
    data = path.read_bytes()  # type: ignore[attr-defined]
    text, done = data.decode(), laid(data.decode())

    def words(text: str) -> list[list[str]]:
        return [["".join(word.split()) for _, word, _, _ in line] for _, _, line in scan(text)[0]]

    assert words(done) == words(text.replace("+/-", "±").replace("×", "*"))
    assert comments_of(done) == comments_of(text)


@pytest.mark.parametrize("path", PROCEDURES, ids=lambda path: path.name)
def test_what_is_shipped_is_laid_out(path: object) -> None:
    """After an edit: `proclang format procedures`."""
    text = path.read_text(encoding="utf-8")  # type: ignore[attr-defined]
    assert laid(text) == text


@pytest.mark.parametrize("part", range(2))
def test_a_file_with_signs_put_in_or_left_out_is_laid_out_for_good_or_left_alone(part: int) -> None:
    """Real files with blanks, signs and comments at random places: many are still sound, in ways nobody would write."""
    rng = random.Random(part)
    texts = [path.read_text(encoding="utf-8") for path in SAMPLES]
    bits = [*' \t#\n"{}()-x\\[],:=+\u2212×', "  ", "# x", "\n\n", "±", "..", " 1/4 mm", "at", "in mm", "/ -2 mm"]
    sound = 0
    for _ in range(150):
        text = rng.choice(texts)
        for _ in range(rng.choice((1, 1, 2, 4))):
            at = rng.randrange(len(text) + 1)
            text = text[:at] + rng.choice(["", rng.choice(bits)]) + text[at + rng.randrange(2) :]
        done = format_file(text.encode(), "a.proc")
        assert (done.text is None) is bool(done.findings)
        if done.text is not None:
            sound += 1
            assert laid(done.text) == done.text
            assert comments_of(done.text) == comments_of(text)
    assert sound > 10


# ---------------------------------------------------------------------------- inside a line


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("within 40+/-1 mm", "within 40 ± 1 mm"),
        ("within   40 mm..50 mm", "within 40 mm .. 50 mm"),
        ("within 540 + 4 deg / - 2 deg", "within 540 +4 deg / -2 deg"),
        ("within ( a+4 mm )..b", "within (a + 4 mm) .. b"),
        ("at   most   2 arcmin", "at most 2 arcmin"),
        ("plausible - 60 .. 60 mm", "plausible -60 .. 60 mm"),
        ("compute a=b-c", "compute a = b - c"),
        ("compute a = -b × ( c )", "compute a = -b * (c)"),
        ("compute a = ((b+c)) /  (d * \u2212e)", "compute a = ((b + c)) / (d * -e)"),
        ("compute a = x - 3 mm", "compute a = x - 3 mm"),
        ("compute a = x (b [ 1 ,2 ],to=3 mm) ^2 in  deg true", "compute a = x(b[1, 2], to = 3 mm) ^ 2 in deg true"),
        ("compute a = b -1 mm", "compute a = b - 1 mm"),
        ("when a>=-b   and not(c is  d)", "when a >= -b and not (c is d)"),
        ("nuts [1..6] :nut", "nuts[1 .. 6]: nut"),
        ("first - 3 mm ,-2 mm,4 %", "first -3 mm, -2 mm, 4 %"),
        ("3 - 3 mm", "3 -3 mm"),
        ("1 .. 2 - 3 mm", "1 .. 2 -3 mm"),
        ('step a   "Two  blanks, #, {b  to 0.1 mm,signed} \\{ { c[1..2]}."by d and   e',
         'step a "Two  blanks, #, {b to 0.1 mm, signed} \\{ {c[1 .. 2]}." by d and e'),
        ('section a "A",takes 1..2 min', 'section a "A", takes 1 .. 2 min'),
        ("measure seen[ direct ]in UTC using  watch", "measure seen[direct] in UTC using watch"),
        ("2.50mm", "2.50mm"),
        ("1 deg 20 arcmin", "1 deg 20 arcmin"),
    ],
)  # fmt: skip
def test_a_line_is_laid_out(written: str, expected: str) -> None:
    """Numbers and units as typed, texts too, brackets that are not needed stay."""
    assert line_text(written, scan_piece(written, 0)) == expected
    assert line_text(expected, scan_piece(expected, 0)) == expected


@pytest.mark.parametrize("written", ["1  1/4 mm", "30 deg  5 arcmin, 3 mm"])
def test_two_numbers_side_by_side_stay_two(written: str) -> None:
    """The label of a row and its first cell: with one blank they would be one number."""
    assert line_text(written, scan_piece(written, 0)) == written
    wider = written.replace("  ", "     ")
    assert line_text(wider, scan_piece(wider, 0)) == written


def test_a_line_that_blanks_would_change_stays_as_it_was_written() -> None:
    """A value called `known`, parted by a tab from `to`: with a blank the two would be words of the language."""
    written = 'step  a "{known\tto  0.1 mm}"'
    assert line_text(written, scan_piece(written, 0)) == 'step a "{known\tto  0.1 mm}"'


# ---------------------------------------------------------------------------- comments


def test_comments_stand_where_the_lines_stand_that_they_are_about() -> None:
    """Above a line at its level; at the end of a block in the block their own indentation says."""
    assert body("""
        section a "A"
        # about b
          step b "B."#close by
                # about c
            "C."
            # still in b
            # of b as well
          # about d
          step d "D."
            # all there is in d
          step e "E."
            when f passes
              step g "G."
             # between two levels: of the outer one
        # of the section after this
             # out of the block already
        section h "H"
          step i "I."
          # the last of h
        # the end
        """) == textwrap.dedent("""\

        section a "A"
          # about b
          step b "B."  # close by
            # about c
            "C."
            # still in b
            # of b as well
          # about d
          step d "D."
            # all there is in d
          step e "E."
            when f passes
              step g "G."
            # between two levels: of the outer one

        # of the section after this
        # out of the block already
        section h "H"
          step i "I."
          # the last of h
        # the end
        """)


def test_a_comment_keeps_its_text() -> None:
    """But for blanks at its end, and a missing one at its front; drawings and rows of the sign stay."""
    section = 'section a "A"\n'
    assert body(section + "  step b \"B.\" #  two   blanks \t\n  ## loud\n  #\n  #---\n  step c \"C.\"\n") == (
        "\n" + section + '  step b "B."  #  two   blanks\n  ## loud\n  #\n  # ---\n  step c "C."\n'
    )  # fmt: skip


# ---------------------------------------------------------------------------- blank lines


def test_blank_lines() -> None:
    """One where there were any; none at the top of a file or a block; one above large blocks and their comments."""
    written = (
        "\n\n# top\nproclang 1\n\n\nprocedure a \"A\"\nrevision 1\n# the facts\ninputs\n\n  b: length\n\n\n"
        "  c: length\nneeds\n  crew d\ntable e of f\n  g 1 mm\nmachine h\nlabels i 1 .. 2\nsection j \"J\"\n  \n\n"
        "  # why\n\n\n  step k \"K.\"\n  # of j\n# of l\n\n# of l too\nsection l \"L\"\n  step m \"M.\"\n\n\n# end\n\n"
    )  # fmt: skip
    assert laid(written) == (
        "# top\nproclang 1\n\nprocedure a \"A\"\nrevision 1\n\n# the facts\ninputs\n  b: length\n\n  c: length\n"
        "\nneeds\n  crew d\n\ntable e of f\n  g 1 mm\n\nmachine h\nlabels i 1 .. 2\n\nsection j \"J\"\n  # why\n\n"
        "  step k \"K.\"\n  # of j\n# of l\n\n# of l too\nsection l \"L\"\n  step m \"M.\"\n\n# end\n"
    )  # fmt: skip


def test_a_machine_file_has_its_title_right_below_the_version() -> None:
    """`machine` above the hardware of a procedure begins a block, as a title it does not; kinds stand as they stood."""
    text = (
        'proclang 1\nmachine rig "Invented"\nkind cover\n  states on, off\nkind pin\n  states fitted, out\nlid: cover\n'
    )
    assert laid(text) == text


# ---------------------------------------------------------------------------- files


def test_line_ends_and_the_mark_of_the_byte_order_go() -> None:
    """UTF-8 without a mark, lines ended by a newline, the last one too."""
    done = format_file(b"\xef\xbb\xbf" + HEAD.replace("\n", "\r\n").encode().rstrip(), "a.proc")
    assert done.text == HEAD


@pytest.mark.parametrize(
    ("wrong", "code"),
    [
        (b"<<<<<<< ours\n", "merge-conflict"),
        ("# hid\u200bden\n".encode(), "hidden-character"),
        (b"\xff\n", "not-utf8"),
        (b'section a "A"\n\tstep b "B."\n', "tab"),
        (b'section a "A"\n   step b "B."\n', "indentation"),
        (b'section a "{"\n', "insert"),
    ],
)
def test_whatever_is_wrong_with_the_form_of_a_file_leaves_it_alone(wrong: bytes, code: str) -> None:
    """Above all a merge that is not settled, whose marks would otherwise be lost between the lines."""
    done = format_file(HEAD.encode() + wrong, "a.proc")
    assert done.text is None
    assert code in [finding.code for finding in done.findings]


def test_mistakes_of_meaning_do_not_matter() -> None:
    """Names, units and dimensions are for the check; a draft can be laid out before it is right."""
    assert body('section a "A"\n  compute b = no_such_name+3 furlong\n') == (
        '\nsection a "A"\n  compute b = no_such_name + 3 furlong\n'
    )


def test_a_layout_that_would_change_what_is_said_is_never_given(monkeypatch: pytest.MonkeyPatch) -> None:
    """The result is read again and compared; a fault of ours ends there and the file is left alone."""
    monkeypatch.setattr(layout, "_laid_out", lambda text: text.replace("40", "4"))
    with pytest.raises(AssertionError):
        format_file((HEAD + 'section a "A"\n  compute b = 40 mm\n').encode(), "a.proc")


def test_a_long_file_of_nothing_but_blank_lines_or_comments_ends_in_time() -> None:
    """Each is laid out; time is not asserted, one that grows with the square of the length would be noticed."""
    assert laid(HEAD + "\n" * 200_000) == HEAD
    remarks = HEAD + "#\n" * 50_000
    assert laid(remarks) == remarks
