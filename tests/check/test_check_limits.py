"""What would come to too much is refused with a finding, without being written out."""

from __future__ import annotations

import pytest
from marked_cases import Texts, in_procedure

from proclang.check.check import Checked, check_files
from proclang.text import limits


def procedure(name: str, body: str) -> str:
    """A procedure with one section."""
    return f'proclang 1\nprocedure {name} "Invented"\nsection main "Main"\n{body}'


def check(entry: str, files: dict[str, str]) -> Checked:
    """Check one of some texts."""
    return check_files(entry, files[entry].encode(), Texts(files))


def codes(checked: Checked) -> list[str]:
    """The codes found."""
    return [f.code for f in checked.findings]


def test_a_diamond_of_performs_is_counted_and_not_written_out() -> None:
    """20 procedures, each performing the next twice, come to 2^20 steps in 60 lines."""
    files = {f"p{i}": procedure(f"p{i}", f"  perform p{i + 1}\n  perform p{i + 1} as again\n") for i in range(20)}
    files["p20"] = procedure("p20", '  step look "Look."\n')
    checked = check("p0", files)
    assert codes(checked) == ["too-many-steps"]
    assert checked.findings[0].span.file == "p0.proc"


def test_bounds_of_nested_loops_multiply() -> None:
    """Five loops of 1,000 passes each are a million million steps and more."""
    body = "".join(f"{'  ' * (i + 1)}repeat loop_{i} at most 1000 times\n" for i in range(5))
    checked = check("deep", {"deep": procedure("deep", body + '            step look "Look."\n')})
    assert codes(checked) == ["too-many-steps"]
    assert "more than a million million" in checked.findings[0].message


@pytest.mark.parametrize(("times", "found"), [(10, []), (11, ["too-many-steps"])])
def test_the_limit_on_steps_is_the_one_that_is_documented(times: int, found: list[str]) -> None:
    """10,000 are let through, 11,000 are not."""
    body = f'  repeat outer at most 1000 times\n    repeat inner at most {times} times\n      step look "Look."\n'
    assert limits.STEPS_EXPANDED == 10_000
    assert codes(check("loops", {"loops": procedure("loops", body)})) == found


def test_readings_count_like_steps() -> None:
    """A step with 1,000 readings, eleven times, is as long as 11,000 steps."""
    body = '  repeat outer at most 11 times\n    step read "Read."\n      measure gap[1 .. 1000] in mm\n'
    assert codes(check("readings", {"readings": procedure("readings", body)})) == ["too-many-steps"]


def _computes(*bounds: int) -> str:
    loops = "".join(f"{'  ' * (i + 1)}repeat loop_{i} at most {bound} times\n" for i, bound in enumerate(bounds))
    after = '  step look "Look at {sum_of}."\n'
    return f"  compute start = 1 mm\n{loops}{'  ' * (len(bounds) + 1)}compute sum_of = start + 1 mm\n{after}"


@pytest.mark.parametrize(
    ("bounds", "found"),
    [((1_000, 49), []), ((1_000, 50), ["too-many-passes"]), ((1_000,) * 20, ["too-many-passes"])],
)  # fmt: skip
def test_loops_of_nothing_but_calculations_are_bounded_too(bounds: tuple[int, ...], found: list[str]) -> None:
    """Nobody is asked anything in them, so that somebody would wait: 49,000 passes, each with one calculation, are let
    through, 50,000 are not. Found when nested loops kept the engine busy without end."""
    assert limits.INSTRUCTIONS_EXPANDED == 100_000
    assert codes(check("sums", {"sums": procedure("sums", _computes(*bounds))})) == found


def test_a_calculation_counts_for_each_of_its_results() -> None:
    """A hundred times the turns of 1,000 studs are 100,000 values."""
    call = "levelling_turns(1 arcmin, 1 arcmin, 540 mm, 2.5 mm/turn, studs = 1000)"
    for times, found in ((98, []), (100, ["too-many-passes"])):
        body = (
            f'  repeat again at most {times} times\n    compute turns = {call}\n  step look "Look at {{turns[1]}}."\n'
        )
        assert codes(check("many", {"many": procedure("many", body)})) == found


def test_calculations_of_what_is_performed_count_where_it_is_performed() -> None:
    """2^20 times one calculation, in 63 lines."""
    files = {f"p{i}": procedure(f"p{i}", f"  perform p{i + 1}\n  perform p{i + 1} as again\n") for i in range(20)}
    files["p20"] = procedure("p20", "  compute sum_of = 1 mm + 1 mm\n    at most 3 mm\n")
    found = codes(check("p0", files))  # each perform counts as a step; that 2 mm is at most 3 mm is certain
    assert found == ["too-many-steps", "always-passes"]


def _chain(length: int) -> dict[str, str]:
    files = {f"c{i}": procedure(f"c{i}", f"  perform c{i + 1}\n") for i in range(length - 1)}
    files[f"c{length - 1}"] = procedure(f"c{length - 1}", '  step look "Look."\n')
    return files


def test_a_chain_of_performs_may_be_32_deep_and_no_deeper() -> None:
    """The deepest call stands 32 procedures deep."""
    assert limits.PERFORM_DEPTH == 32
    assert codes(check("c0", _chain(32))) == []
    assert codes(check("c0", _chain(33))) == ["perform-depth"]


def test_depth_is_counted_along_the_longest_way() -> None:
    """A chain that was come to first by a short way counts its whole depth by a long one."""
    files = _chain(20)
    files |= {f"d{i}": procedure(f"d{i}", f"  perform d{i + 1}\n") for i in range(19)}
    files["d19"] = procedure("d19", "  perform c0\n")
    files["entry"] = procedure("entry", "  perform c0\n  perform d0\n")
    checked = check("entry", files)
    assert codes(checked) == ["perform-depth"]
    assert checked.findings[0].span.file == "d19.proc"


@pytest.mark.parametrize(("others", "found"), [(199, []), (200, ["set-too-large"])])
def test_two_hundred_files_belong_together_at_most(others: int, found: list[str]) -> None:
    """The procedure itself and 199 more."""
    assert limits.FILES_IN_A_SET == 200
    files = {f"f{i}": procedure(f"f{i}", '  step look "Look."\n') for i in range(others)}
    files["entry"] = procedure("entry", "".join(f"  perform f{i}\n" for i in range(others)))
    assert codes(check("entry", files)) == found


def test_a_file_that_is_performed_often_is_read_once() -> None:
    """However many ways lead to a file, it is read and told of once."""
    files = _chain(5)
    files["c4"] = procedure("c4", '  step look "Look {gap}."\n')
    files["entry"] = procedure("entry", "".join(f"  perform c{i}\n" for i in range(5)))
    library = Texts(files)
    asked: list[str] = []

    class Counting:
        """The same texts, with what was asked for."""

        shown = library.shown
        names = library.names

        def read(self, name: str) -> bytes | None:
            """A text."""
            asked.append(name)
            return library.read(name)

    checked = check_files("entry", files["entry"].encode(), Counting())
    assert sorted(asked) == ["c0", "c1", "c2", "c3", "c4"]
    assert [(f.code, f.span.file) for f in checked.findings] == [("unknown-name", "c4.proc")]


def test_many_bytes_together_are_refused() -> None:
    """Nine files of nearly a mebibyte each are more than eight mebibytes."""
    filler = "# " + "x" * 1_000 + "\n"
    big = filler * ((limits.FILE_BYTES - 10_000) // len(filler))
    files = {f"f{i}": procedure(f"f{i}", '  step look "Look."\n') + big for i in range(9)}
    files["entry"] = procedure("entry", "".join(f"  perform f{i}\n" for i in range(9)))
    assert codes(check("entry", files)) == ["set-too-large"]


def test_a_set_holds_a_thousand_labels_at_most() -> None:
    """In one range, and in ranges put together."""
    assert limits.LABELS_IN_A_SET == 1_000

    def found(labels: str) -> list[str]:
        text = f'  step read "Read."\n    measure gap[{labels}] in mm\n'
        return codes(check("sets", {"sets": procedure("sets", text)}))

    assert found("1 .. 1000") == []
    assert found("1 .. 1001") == ["label-range"]
    assert found("1 .. 600, 601 .. 1001") == ["too-many-labels"]


def test_a_name_has_64_characters_at_most() -> None:
    """Paths, columns and addresses are made of names."""
    for length, found in ((64, []), (65, ["too-long"])):
        assert codes(check("names", {"names": procedure("names", f'  step {"a" * length} "Look."\n')})) == found


def test_expressions_and_conditions_nest_a_hundred_deep() -> None:
    """Deeper ones are refused before they are walked; at the bound the walk still has stack enough."""
    for depth, found in ((limits.EXPRESSION_DEPTH, []), (limits.EXPRESSION_DEPTH + 1, ["too-deep"])):
        line = f"compute sum_of = {'(' * depth}ring{')' * depth} + 1 mm\n  at most 1 m"
        checked = check("trial", {"trial": in_procedure("section", line), "drum": _DRUM})
        assert [f.code for f in checked.findings if not f.code.startswith("unused-")] == found


_DRUM = 'proclang 1\nmachine drum "Drum"\nkind cover\n  states fitted, removed\ncap: cover\n'


def test_blocks_nest_no_deeper_than_is_documented() -> None:
    """32 levels: each `when` is one, and the step inside the last is one more."""

    def nested(levels: int) -> list[str]:
        body = "".join(f"{'  ' * i}when size > {i} mm\n" for i in range(1, levels))
        text = procedure("nested", body + "  " * levels + 'step look "Look."\n')
        return codes(check("nested", {"nested": text.replace("section", "inputs\n  size: length\nsection", 1)}))

    assert nested(limits.BLOCK_DEPTH) == []
    assert "too-deep" in nested(limits.BLOCK_DEPTH + 1)


def test_a_long_procedure_is_checked_in_one_go() -> None:
    """Thousands of steps in a row cost no stack."""
    body = "".join(f'  step s{i} "Look."\n' for i in range(9_000))
    assert codes(check("long", {"long": procedure("long", body)})) == []


def test_many_findings_are_all_kept() -> None:
    """The text shows a hundred; the check has them all, in order."""
    body = "".join(f'  step s{i} "Look." by nobody_{i}x\n' for i in range(300))
    checked = check("many", {"many": procedure("many", body)})
    places = [f.span.start for f in checked.findings]
    assert len(places) == 300
    assert places == sorted(places)


def test_thousands_of_mistakes_among_thousands_of_names_are_told() -> None:
    """Looking for what was perhaps meant is given up after a while; comparing each with each would take minutes."""
    body = "".join(f'  step y{i} "{{gap_number_{i}x}}"\n    measure gap_number_{i} in mm\n' for i in range(2_000))
    checked = check("many", {"many": procedure("many", body)})
    assert codes(checked) == ["unknown-name"] * 2_000
    assert checked.findings[0].hint.startswith("did you mean")
    assert checked.findings[-1].hint == ""
