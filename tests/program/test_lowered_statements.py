"""What each kind of statement becomes, and where it stands."""

from __future__ import annotations

from typing import TypeVar

from lowering_help import HEADER, amount, kinds, routine

from proclang.program import model as m

Kind = TypeVar("Kind", bound=m.Instr)


def only(made: m.Routine, kind: type[Kind]) -> Kind:
    """The one instruction of a kind."""
    found = [instr for instr in made.code if isinstance(instr, kind)]
    assert len(found) == 1
    return found[0]


def all_of(made: m.Routine, kind: type[Kind]) -> list[Kind]:
    """Every instruction of a kind."""
    return [instr for instr in made.code if isinstance(instr, kind)]


def test_a_section_is_entered_and_left_and_the_procedure_returns() -> None:
    """The frame everything else stands in."""
    made = routine('step look "Look."')
    assert [type(x).__name__ for x in made.code] == [
        "EnterSection", "BeginStep", "EndStep", "LeaveSection", "Return",
    ]  # fmt: skip
    assert made.code[0].identity == "trial/main"
    assert made.code[1].identity == "trial/main/look"
    assert made.code[1].address == "main/look"
    assert only(made, m.EnterSection).stopped is None


def test_addresses_are_unique_and_the_index_finds_each() -> None:
    """A journal names an instruction by its address."""
    made = routine(
        'when slab is steel\n  step look "Look."\nwhen ring > 1 m\n  step watch "Watch."\n'
        'for each corner of corners\n  step at_corner "At {corner}."\n'
        'for each corner of corners\n  step once_more "At {corner}."'
    )
    addresses = [instr.address for instr in made.code]
    assert len(set(addresses)) == len(addresses)
    assert all(made.code[pc].address == address for address, pc in made.index.items())
    assert len(made.index) == len(made.code)


def test_a_step_holds_its_texts_people_and_time() -> None:
    """They are shown as a whole."""
    made = routine(
        'step look "Look at {ring to 1 mm}." by rigger and lead, takes 5 .. 10 min\n'
        '  "Twice."\n  figure "figures/a.svg" "The ring."'
    )
    step = only(made, m.BeginStep)
    assert (step.people, step.takes, step.ask_done) == (("rigger", "lead"), "5 .. 10 min", True)
    assert step.title.plain == "Look at {ring}."
    assert [text.plain for text in step.prose] == ["Twice."]
    assert [(path, caption.plain) for path, caption in step.figures] == [("figures/a.svg", "The ring.")]


def test_each_label_of_a_series_is_read_by_itself() -> None:
    """The last one ends the series."""
    made = routine('step read "Read."\n  measure gap[near, far] "gap" in mm using feeler\n    at most 2 mm')
    near, far = all_of(made, m.Read)
    assert (near.labels, far.labels) == (("near",), ("far",))
    assert (near.last_of_series, far.last_of_series) == (False, True)
    assert (near.address, far.identity) == ("main/read/gap[near]", "trial/main/read/gap[far]")
    assert (near.instrument, near.symbol.title, near.again, near.handled) == ("feeler", "gap", False, False)
    assert near.symbol.type == m.Amount(near.symbol.unit.dimension, (("near", "far"),))  # type: ignore[union-attr]
    assert near.symbol.facets.judged


def test_a_set_in_brackets_is_written_out() -> None:
    """A set of the header, and one of the machine."""
    made = routine('step read "Read."\n  measure gap[corners] in mm\n  measure torque[bolts] in N.m')
    assert [read.labels for read in all_of(made, m.Read)] == [(str(i),) for i in (1, 2, 3, 4)] * 2


def test_loop_labels_make_an_axis_each() -> None:
    """One reading a pass; where the loops stand is asked when it is read."""
    made = routine(
        "for each pull of pulls\n  for each bolt of bolts in star order\n"
        '    step tighten "{pull}, {bolt}"\n      measure torque[pull, bolt] in N.m'
    )
    read = only(made, m.Read)
    assert (read.labels, read.variables, read.last_of_series) == (("pull", "bolt"), (True, True), True)
    assert isinstance(read.symbol.type, m.Amount)
    assert read.symbol.type.axes[0] == ("snug", "full")
    assert sorted(read.symbol.type.axes[1]) == ["1", "2", "3", "4"]
    outer, inner = all_of(made, m.BeginEach)
    assert outer.labels == ("snug", "full")
    assert inner.labels == read.symbol.type.axes[1]
    assert [end.begin for end in all_of(made, m.EndEach)] == [
        made.index[inner.address] + 1, made.index[outer.address] + 1,
    ]  # fmt: skip


def test_measure_again_reads_the_labels_it_names_or_all() -> None:
    """With the instrument of the first reading."""
    made = routine(
        'step read "Read."\n  measure gap[near, far] in mm using feeler\n'
        'step once_more "Read."\n  measure again gap\n  measure again gap[far]'
    )
    again = [read for read in all_of(made, m.Read) if read.again]
    assert [read.labels for read in again] == [("near",), ("far",), ("far",)]
    assert {read.instrument for read in again} == {"feeler"}


def test_a_value_the_procedure_asks_about_is_left_to_it() -> None:
    """Nobody is asked about a failure that the procedure itself looks at."""
    made = routine(
        'step read "Read."\n  measure gap in mm\n    at most 2 mm\n  measure rim in mm\n    at most 2 mm\n'
        'when gap fails\n  step shim "Shim."'
    )
    assert {read.symbol.name: read.handled for read in all_of(made, m.Read)} == {"gap": True, "rim": False}
    assert only(made, m.Branch).condition.verdicts == ("gap",)


def test_a_compute_knows_where_its_readings_begin() -> None:
    """So that they can be taken again, all of them, in the block they stand in."""
    made = routine(
        'step first "Read."\n  measure near_gap in mm\nstep second "Read."\n  measure far_gap in mm\n'
        "compute half = near_gap / 2\ncompute tilt = half - far_gap\n  within 0 ± 1 mm"
    )
    half, tilt = all_of(made, m.ComputeValue)
    assert half.reread == made.index["main/first"]
    assert tilt.reread == made.index["main/first"]
    assert tilt.targets[0][0].unit is not None
    assert tilt.targets[0][0].unit.symbol == "mm"


def test_readings_of_another_block_are_not_taken_again_from_here() -> None:
    """Going back into a loop that is over would leave its passes undone."""
    made = routine(
        'repeat trying at most 2 times\n  step read "Read."\n    measure gap in mm\n'
        "compute half = gap / 2\n  at most 1 m"
    )
    assert only(made, m.ComputeValue).reread is None


def test_several_results_become_several_names() -> None:
    """In the order they are given."""
    made = routine("compute left_screw, right_screw = tilt_screws(1 mm, 2 mm, 4 m, lever = 120 mm, pitch = 1 mm/turn)")
    assert [symbol.name for symbol, _, _ in only(made, m.ComputeValue).targets] == ["left_screw", "right_screw"]


def test_a_setting_with_all_its_parts() -> None:
    """What may differ, the instrument, and the power cycle."""
    made = routine(
        'set stop_plus "plus stop" to ring / 2 ± 0.5 mm in mm, read back using feeler, read again after a power cycle'
    )
    instr = only(made, m.SetInstr)
    assert (instr.instrument, instr.read_back, instr.power_cycle) == ("feeler", True, True)
    assert instr.allowed is not None
    assert (instr.symbol.how, instr.title.plain) == ("set", "plus stop")


def test_questions_and_signatures() -> None:
    """Each with its kind, its answers and its people."""
    made = routine(
        'step ask "Ask."\n  confirm clean "Clean?" by lead\n  choose lean from near, far "Which way?"\n'
        '  note marks "Marks"\n  photo seat "The seat."\n'
        'hold done "Done" by lead, witness rigger\nwitness seen "Seen" by rigger'
    )
    asked = all_of(made, m.Ask)
    assert [instr.kind for instr in asked] == ["confirm", "choose", "note", "photo"]
    assert asked[0].people == ("lead",)
    assert asked[1].symbol.type == m.Choice(("near", "far"))
    hold, witness = all_of(made, m.Sign)
    assert (hold.kind, hold.people, hold.witness) == ("hold", ("lead",), ("rigger",))
    assert (witness.kind, witness.people) == ("witness", ("rigger",))


def test_a_hazard_is_acknowledged_by_who_does_the_next_step_and_briefed_with_its_section() -> None:
    """Most serious first, each once."""
    made = routine(
        'caution edges "Edges"\n  risk "Cut hands."\n  avoid "Wear gloves."\nstep guide "Guide." by rigger\n'
        'danger gale "Wind"\n  risk "It swings."\n  avoid "Stand clear."\n  asks gust "Gust now" in m/s\n'
        'step lift "Lift at {gust to 1 m/s}." by lead\ncaution edges\nstep let_down "Let down."'
    )
    assert [(x.hazard.name, x.people) for x in all_of(made, m.Acknowledge)] == [
        ("edges", ("rigger",)), ("gale", ("lead",)), ("edges", ()),
    ]  # fmt: skip
    assert [hazard.name for hazard in only(made, m.EnterSection).hazards] == ["gale", "edges"]
    assert made.symbols["gust"].how == "answered"


def test_according_to_sends_each_label_to_its_arm_and_all_on_together() -> None:
    """Labels that share an arm go the same way."""
    made = routine(
        'step ask "Ask."\n  choose lean from near, far, level "Which way?"\n'
        'according to lean\n  near\n    step shim "Shim."\n  far, level\n    step leave_it "Leave it."\nstep on "On."'
    )
    arms = only(made, m.Arms)
    assert made.code[arms.targets["near"]].identity == "trial/main/shim"
    assert made.code[arms.targets["far"]].identity == "trial/main/leave_it"
    assert arms.targets["far"] == arms.targets["level"]
    assert made.code[arms.targets["near"]].address == "main/lean=near/shim"
    jumps = all_of(made, m.Jump)
    assert {made.code[jump.target].identity for jump in jumps} == {"trial/main/on"}


def test_a_branch_goes_on_or_to_its_otherwise() -> None:
    """And both come together."""
    made = routine('when slab is steel\n  step weld "Weld."\notherwise\n  step drill "Drill."\nstep on "On."')
    branch = only(made, m.Branch)
    assert made.code[made.index[branch.address] + 1].identity == "trial/main/weld"
    assert made.code[branch.otherwise].identity == "trial/main/drill"
    assert made.code[only(made, m.Jump).target].identity == "trial/main/on"


def test_a_loop_goes_round_leaves_or_comes_to_its_otherwise() -> None:
    """Without an otherwise, coming to the bound is unfinished."""
    lines = (
        'repeat trying at most 3 times\n  step read "Read."\n    measure gap in mm\n      at most 2 mm\n'
        "  leave when gap passes\n"
    )
    made = routine(lines + 'otherwise\n  step give_up "Give up."\nstep on "On."')
    end, leave = only(made, m.EndLoop), only(made, m.Leave)
    assert (end.bound, end.unfinished, leave.loop) == (3, False, "trying")
    assert made.code[end.begin] is only(made, m.BeginLoop)
    assert made.code[end.exhausted].identity == "trial/main/trying/give_up"
    assert made.code[leave.out].identity == "trial/main/on"
    assert made.code[end.out].identity == "trial/main/on"
    assert only(routine(lines), m.EndLoop).unfinished
    assert not only(routine('repeat trying at most 3 times\n  step look "Look."'), m.EndLoop).unfinished


def test_any_order_comes_back_after_each_step() -> None:
    """What is left is asked each time."""
    made = routine('in any order\n  step wipe "Wipe."\n  step count_them "Count."\nstep on "On."')
    order = only(made, m.AnyOrderInstr)
    assert [(name, title) for name, title, _ in order.steps] == [("wipe", "Wipe."), ("count_them", "Count.")]
    assert [made.code[pc].identity for _, _, pc in order.steps] == ["trial/main/wipe", "trial/main/count_them"]
    assert {done.back for done in all_of(made, m.OrderDone)} == {made.index[order.address]}
    assert made.code[order.out].identity == "trial/main/on"


def test_a_call_hands_over_arguments_and_takes_results() -> None:
    """By the names of the one performed, into the names of the caller."""
    survey = (
        'proclang 1\nprocedure survey "Survey"\ninputs\n  limit: length\n  base: length = 3 mm\ngives drop\n'
        'section look "Look"\n  step read "Read."\n    measure drop in mm\n      at most (limit + base)\n'
    )
    made = routine(
        "perform survey as again\n  with limit = ring / 100\n  gives drop as fall\ncompute double = 2 * fall",
        others={"survey": survey},
    )
    call = only(made, m.Call)
    assert (call.routine, call.name, call.address) == ("survey", "again", "main/again")
    assert [symbol.name for symbol, _ in call.arguments] == ["limit"]
    assert [(name, symbol.name, symbol.how) for name, symbol in call.gives] == [("drop", "fall", "given")]


def test_the_safe_state_stands_behind_its_section_and_is_passed_by() -> None:
    """It is entered by stopping only."""
    made = routine('step look "Look."\nif stopped\n  step cover "Cover it."\n    now cap is fitted')
    enter = only(made, m.EnterSection)
    assert enter.stopped is not None
    assert made.code[enter.stopped].identity == "trial/main/if_stopped/cover"
    over = only(made, m.Jump)
    assert isinstance(made.code[over.target], m.Return)
    assert only(made, m.NowInstr).ensure


def test_old_names_lead_to_new_identities() -> None:
    """Of sections, steps and values."""
    made = routine('step look formerly peek "Look."\n  measure gap formerly slit in mm')
    assert made.formerly == {"trial/main/peek": "trial/main/look", "trial/main/look/slit": "trial/main/look/gap"}
    assert made.symbols["gap"].former == "slit"


def test_the_header_is_kept_with_the_routine() -> None:
    """Tables, sets, needs and what is found."""
    made = routine(
        'step look "Look."', header=HEADER.replace('"Trial"\n', '"Trial"\nrevision 7\npurpose "It works."\n')
    )
    assert (made.revision, made.purpose, made.crew, made.authority) == (
        "7", ("It works.",), ("lead", "rigger"), ("lead",),
    )  # fmt: skip
    assert made.label_sets == {"corners": ("1", "2", "3", "4"), "pulls": ("snug", "full")}
    assert made.tables["pulls"]["share"]["snug"].value == amount("30 %")
    assert [(x.place.text, x.found, x.left) for x in made.hardware] == [("cap", "fitted", "fitted")]
    assert kinds(made) == ["BeginStep", "EndStep"]
