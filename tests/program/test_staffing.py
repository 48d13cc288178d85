"""Which roles of a program are two people, and the line each pair comes from."""

from __future__ import annotations

from helpers import program_of

from proclang.program.model import Program

NEEDS = "needs\n  crew lead, rigger, scribe, owner\n  authority lead\n"


def pairs(body: str, needs: str = NEEDS, **others: str) -> set[tuple[frozenset[str], str, str]]:
    """Roles, why, and where."""
    return {(two.pair, two.why, two.place) for two in program(body, needs, **others).pairs}


def program(body: str, needs: str = NEEDS, **others: str) -> Program:
    """The program of a few lines in one section."""
    return program_of({"job": text("job", body, needs), **others}, "job")


def text(name: str, body: str, needs: str = NEEDS) -> str:
    inside = "".join(f"  {line}\n" for line in body.strip("\n").split("\n"))
    return f'proclang 1\nprocedure {name} "Training example"\n{needs}section work "Work"\n{inside}'


def test_what_the_needs_say() -> None:
    """By the procedure that says it."""
    needs = NEEDS + "  nobody is both scribe and rigger\n"
    assert pairs('step a "A."', needs) == {(frozenset({"scribe", "rigger"}), "needs", "job")}


def test_who_do_confirm_or_release_one_thing() -> None:
    """Each two of three."""
    found = pairs('step lift "Lift." by lead and rigger and scribe\nhold ok "Ok" by lead and owner')
    assert found == {
        (frozenset({"lead", "rigger"}), "step", "job/work/lift"),
        (frozenset({"lead", "scribe"}), "step", "job/work/lift"),
        (frozenset({"rigger", "scribe"}), "step", "job/work/lift"),
        (frozenset({"lead", "owner"}), "hold", "job/work/ok"),
    }
    assert pairs('confirm seen "Seen" by lead and rigger') == {
        (frozenset({"lead", "rigger"}), "confirm", "job/work/seen")
    }


def test_a_witness_and_who_releases() -> None:
    """Who performs the step before a hold is another matter: what is witnessed is the release."""
    found = pairs('step turn "Turn." by rigger\nhold ok "Ok" by lead, witness scribe')
    assert found == {(frozenset({"lead", "scribe"}), "witness", "job/work/ok")}


def test_a_witness_point_and_who_does_the_step_before_it_on_every_way() -> None:
    """In either arm of a branch, and past what is computed; not what a performed procedure does."""
    body = """
step look "Look." by owner
  choose lean from near, far "Which way?"
according to lean
  near
    step shim "Shim." by rigger
  far
    step turn "Turn." by lead
witness seen "Seen" by scribe
"""
    assert pairs(body) == {
        (frozenset({"scribe", "rigger"}), "witness", "job/work/seen"),
        (frozenset({"scribe", "lead"}), "witness", "job/work/seen"),
    }
    inner = text("inner", 'step turn "Turn." by rigger')
    assert pairs('perform inner\nwitness seen "Seen" by scribe', inner=inner) == set()


def test_performed_procedures_count() -> None:
    """A role is one person throughout a run."""
    inner = text("inner", 'step turn "Turn." by rigger and owner')
    made = program('step lift "Lift." by lead and rigger\nperform inner', inner=inner)
    assert {two.pair for two in made.pairs} == {frozenset({"lead", "rigger"}), frozenset({"rigger", "owner"})}
    assert (made.fewest.number, made.fewest.exact) == (2, True)


def test_as_many_as_the_author_says_or_more() -> None:
    """The greatest of all that is said, and what the pairs come to."""
    needs = NEEDS.replace("owner\n", "owner, at least 3 people\n")
    assert program('step a "A."', needs).fewest.number == 3
    assert program('step a "A." by lead and rigger and scribe and owner', needs).fewest.number == 4
