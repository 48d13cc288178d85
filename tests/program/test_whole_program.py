"""What the site has to give, and in which order files are resolved."""

from __future__ import annotations

from lowering_help import HEADER, built

from proclang.program import model as m


def procedure(name: str, inputs: str, body: str) -> str:
    """A procedure with some inputs."""
    block = "inputs\n" + "".join(f"  {line}\n" for line in inputs.split("\n")) if inputs else ""
    return f'proclang 1\nprocedure {name} "Invented"\n{block}section main "Main"\n{body}'


def program(entry: str, files: dict[str, str]) -> m.Program:
    """A program without errors."""
    result = built(entry, files)
    assert not result.findings, [(f.code, f.message) for f in result.findings]
    assert result.program is not None
    return result.program


INNER = procedure("inner", "limit: length\nmargin: length = 1 mm", '  step look "Look at {limit}, {margin}."\n')


def test_an_input_nobody_hands_over_is_a_fact_of_the_site() -> None:
    """Of the same name; with a default it may be given and need not."""
    made = program("outer", {"outer": procedure("outer", "", "  perform inner\n"), "inner": INNER})
    assert {name: symbol.default is None for name, symbol in made.site_facts.items()} == {
        "limit": True,
        "margin": False,
    }


def test_an_input_that_is_always_handed_over_is_no_fact_of_the_site() -> None:
    """The site is not asked for what it would not be used for."""
    body = "  perform inner\n    with limit = 3 mm\n  perform inner as again\n    with limit = 4 mm\n"
    made = program("outer", {"outer": procedure("outer", "", body), "inner": INNER})
    assert set(made.site_facts) == {"margin"}


def test_an_input_handed_over_in_one_place_only_is_a_fact_of_the_site() -> None:
    """The other place needs it."""
    body = "  perform inner\n    with limit = 3 mm\n  perform inner as again\n"
    made = program("outer", {"outer": procedure("outer", "", body), "inner": INNER})
    assert set(made.site_facts) == {"limit", "margin"}


def test_the_inputs_of_the_procedure_itself_are_facts_of_the_site() -> None:
    """Even where a deeper call hands one of that name over."""
    body = '  step show "{limit}"\n  perform inner\n    with limit = limit\n'
    made = program("outer", {"outer": procedure("outer", "limit: length", body), "inner": INNER})
    assert set(made.site_facts) == {"limit", "margin"}


def test_a_fact_two_procedures_ask_for_is_needed_where_one_has_no_default() -> None:
    """The one without a default decides, whichever comes first."""
    body = '  step show "{limit}"\n  perform inner\n'
    outer = procedure("outer", "limit: length = 5 mm", body)
    made = program("outer", {"outer": outer, "inner": INNER})
    assert made.site_facts["limit"].default is None


def test_one_fact_of_two_kinds_is_refused_and_both_places_are_shown() -> None:
    """One name is one fact."""
    body = '  step show "{limit}"\n  perform inner\n'
    result = built("outer", {"outer": procedure("outer", "limit: angle", body), "inner": INNER})
    assert [(f.code, f.span.file, f.also[0].span.file) for f in result.findings] == [
        ("other-kind", "inner.proc", "outer.proc")
    ]


def test_the_hemisphere_counts_wherever_it_is_used() -> None:
    """In a branch, a condition or a text of any procedure performed."""
    inner = procedure("inner", "latitude: angle", '  step look "Look {hemisphere}."\n')
    outer = procedure("outer", "", "  perform inner\n")
    assert program("outer", {"outer": outer, "inner": inner}).uses_hemisphere
    plain = procedure("inner", "", '  step look "Look."\n')
    assert not program("outer", {"outer": outer, "inner": plain}).uses_hemisphere
    branch = procedure("inner", "latitude: angle", '  when hemisphere is north\n    step look "Look."\n')
    assert program("outer", {"outer": outer, "inner": branch}).uses_hemisphere


def test_the_program_holds_what_is_reached_and_begins_with_the_opening() -> None:
    """In the order in which it is first performed."""
    files = {
        "outer": procedure("outer", "", "  perform second\n  perform first\n"),
        "first": procedure("first", "", '  step look "Look."\n'),
        "second": procedure("second", "", "  perform first as inside\n"),
    }
    made = program("outer", files)
    assert list(made.routines) == ["outer", "second", "first"]
    assert made.routine("") is made.opening
    assert made.main is made.routines["outer"]
    last_call = [i for i in made.opening.code if isinstance(i, m.Call)]
    assert [call.routine for call in last_call] == ["outer"]


def test_the_opening_asks_for_people_instruments_and_hardware() -> None:
    """Roles first, then instruments, then what is found."""
    text = HEADER + 'section main "Main"\n  step read "Read." by rigger\n    measure gap in mm using feeler\n'
    drum = 'proclang 1\nmachine drum "Drum"\nkind cover\n  states fitted, removed\ncap: cover "cap"\n'
    made = program("trial", {"trial": text, "drum": drum})
    asked = [type(i).__name__ for i in made.opening.code]
    assert asked == ["AskRole", "AskRole", "AskInstrument", "AskFound", "Call", "Return"]


def test_a_damaged_procedure_still_has_a_program_to_look_at() -> None:
    """It is not to be run; the findings say so."""
    result = built("trial", {"trial": 'proclang 1\nprocedure trial "Trial"\nsection main "Main"\n  stp look "Look."\n'})
    assert result.findings
    assert result.program is not None
    assert result.program.main.title == "Trial"
