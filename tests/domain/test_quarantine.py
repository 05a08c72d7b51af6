"""May they mix? The rule case by case: whose run restarts, who waits for whom, what is said."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fecallab.domain.errors import BadInput, Refused
from fecallab.domain.followup import Pause
from fecallab.domain.housing import Release, Sharing
from fecallab.domain.quarantine import (
    NEVER_WITH_THESE,
    NO_LONGER_SUPPORTED,
    NOT_YET,
    NOTHING_AGAINST,
    check_release,
    contacts_of_positive,
    may_mix,
    release_state,
)
from fecallab.domain.spoken import say_date
from fecallab.reference.hosts import lineage

from .quarantine_cases import World, answers, clean, day, exam, protocol
from .quarantine_worlds import codes, pair, the_answer


def test_nothing_against_it_means_only_that_and_says_what_stools_cannot_show() -> None:
    before, found = the_answer(pair(), 89), the_answer(pair(), 90)
    assert (before.answer, before.earliest_on) == (NOT_YET, day(90))
    assert codes(before) == {"days-left"}
    assert found.answer == NOTHING_AGAINST
    assert found.may_release
    assert found.number == 2
    assert "nothing found in stools by these exams" in found.reasons[0].text
    assert any(words.startswith("viruses") for words in found.cannot_show)
    assert any(words.startswith("mites") for words in found.cannot_show)
    assert any("Entamoeba invadens" in words for words in found.never_with)
    for answer in (before, found):
        assert " free" not in " ".join([answer.headline, *(str(r) for r in answer.reasons)])


def test_the_group_waits_for_its_last_one_and_says_for_whom() -> None:
    world = (
        World()
        .arrival()
        .animal("A1", "B1")
        .animal("A2", "B1")
        .seen(clean(["A1"], 0, 28, 56), clean(["A2"], 0))
    )
    found = the_answer(world, 100)
    assert found.answer == NOT_YET
    (reason,) = found.reasons
    assert reason.code == "exams-missing"
    assert "gecko A2: 1 of 3 clean exams" in reason.text
    assert "direct saline smear, simple flotation" in reason.next
    assert found.earliest_on == day(114)  # one on day 100, one on day 114
    assert the_answer(world, 100, "A2").members[1].next_sample_on_or_after == day(14)


def test_one_exam_must_lie_past_the_longest_prepatent_period() -> None:
    world = World().arrival(days_at_least=30).animal("A1", "B1").seen(clean(["A1"], 0, 7, 14, 21))
    world.protocols = [replace(world.protocols[0], spacing_days=7)]
    found = the_answer(world, 30)
    assert codes(found) == {"exams-missing"}
    assert "22 days or more after 2 March 2026" in found.reasons[0].text
    later = the_answer(world.seen(exam("A1", 22)), 30)
    assert later.answer == NOTHING_AGAINST
    assert [on for on, _ in later.members[0].counted] == [day(0), day(7), day(22)]


def test_an_exam_that_could_not_show_everything_neither_counts_nor_resets() -> None:
    world = pair().seen(exam("A1", 70, amoeba="inconclusive"))
    assert the_answer(world, 90).may_release
    weak = (
        World().arrival().animal("A1", "B1").seen(clean(["A1"], 0, 28), exam("A1", 56, amoeba="inconclusive"))
    )
    found = the_answer(weak, 90)
    assert "neither counts nor resets; it lacks: amoeba" in found.reasons[0].text
    named = weak.seen(replace(exam("A1", 58, amoeba="inconclusive"), code="E9"))
    assert f"Exam E9 (stool of {say_date(day(58))}) neither counts" in the_answer(named, 90).reasons[0].text


def test_a_float_alone_lacks_the_direct_exam() -> None:
    float_only = replace(exam("A1", 56), preparations=("centrifugal_flotation",))
    world = World().arrival().animal("A1", "B1").seen(clean(["A1"], 0, 28), float_only)
    assert "it lacks: direct saline smear" in the_answer(world, 90).reasons[0].text
    both = replace(float_only, code="later", preparations=("cloacal_wash",))
    assert the_answer(world.seen(both), 90).may_release, "two exams of one stool speak together"
    lab = replace(exam("A1", 56), preparations=("from_elsewhere",))
    assert the_answer(World().arrival().animal("A1", "B1").seen(clean(["A1"], 0, 28), lab), 90).may_release


def test_a_positive_restarts_the_run_of_those_that_share_with_it_and_of_nobody_else() -> None:
    world = pair().animal("A3", "B3").seen(clean(["A3"], 0, 28, 56), exam("A1", 60, coccidian="positive"))
    found = answers(world, 90)
    assert found[("A3",)].may_release
    together = found[("A1", "A2")]
    assert together.answer == NOT_YET
    assert {member.k for member in together.members} == {0}
    assert "coccidian was found in gecko A1 on 1 May 2026" in together.members[1].run.why
    # on day 90 the first clean one, then 14 and 28 days on
    assert together.earliest_on == day(118)
    assert together.members[0].next_sample_on_or_after == day(61)


def test_moved_out_the_positive_no_longer_holds_up_the_others() -> None:
    world = pair().seen(exam("A1", 30, coccidian="positive")).move("A1", "B9", 32)
    world.facts_more["open_cases"] = {"A1": [("C1", "coccidian")]}
    world.seen(clean(["A2"], 60, 70, 84))
    found = answers(world, 90)
    other = found[("A2",)].members[0]
    assert other.run.day == day(32), "the last day together"
    assert (other.k, found[("A2",)].answer) == (3, NOTHING_AGAINST)  # 56, 70, 84
    own = found[("A1",)]
    assert own.answer == NOT_YET
    assert own.earliest_on is None
    assert "case-open" in codes(own)
    assert "person has to act first" in own.headline


def test_normal_inhabitants_block_nobody_and_are_told() -> None:
    world = pair().seen(exam("A1", 60, ciliate="positive"))
    found = the_answer(world, 90)
    assert found.may_release
    (remark,) = found.remarks
    assert remark.code == "normal-inhabitant"
    assert "ciliate was seen in 1 of 2" in remark.text
    strict = pair().seen(exam("A1", 60, ciliate="positive"))
    strict.protocols = [replace(strict.protocols[0], not_blocking=())]
    assert not the_answer(strict, 90).may_release, "what stands in neither list blocks"


def test_a_newcomer_restarts_days_and_run_of_those_it_meets() -> None:
    world = pair().animal("A3", "B3").seen(clean(["A3"], 0, 28, 56))
    world.arrival("I2", on=40).animal("A9", "B1", on=40, arrival="I2").seen(clean(["A1", "A2", "A9"], 41, 84))
    found = answers(world, 90)
    assert found[("A3",)].may_release
    mixed = found[("A1", "A2", "A9")]
    assert {member.clock.day for member in mixed.members} == {day(40)}
    assert "it met those that came in on 11 April 2026" in mixed.members[0].clock.why
    assert mixed.earliest_on == day(130)


@pytest.mark.parametrize(
    ("who", "restarted"), [("the animal", set()), ("the contact group", {"A1"}), ("the room", {"A1", "A2"})]
)
def test_whose_days_a_newcomer_restarts_is_the_protocols(who: str, restarted: set[str]) -> None:
    world = World().arrival(newcomer_restarts=who).animal("A1", "B1").animal("A2", "B2").animal("A3", "B3")
    world.rooms = {"B1": "north", "B2": "North", "B3": "south"}
    world.arrival("I2", on=40).animal("A9", "B1", on=40, arrival="I2")
    clocks = world.on(50).clock_starts
    assert {animal for animal in ("A1", "A2", "A3") if clocks[animal].day == day(40)} == restarted


@pytest.mark.parametrize(
    ("who", "restarted"),
    [
        ("the animal", {"A1"}),
        ("the contact group", {"A1", "A2"}),
        ("the arrival", {"A1", "A2", "A3", "A4"}),
        ("the room", {"A1", "A2", "A3"}),
    ],
)
def test_whose_run_a_positive_restarts_is_the_protocols(who: str, restarted: set[str]) -> None:
    world = World().arrival(positive_restarts=who)
    for code, enclosure in (("A1", "B1"), ("A2", "B1"), ("A3", "B2"), ("A4", "B3")):
        world.animal(code, enclosure)
    world.rooms = {"B1": "north", "B2": "north", "B3": "south"}
    world.seen(exam("A1", 14, coccidian="positive"))
    assert set(world.on(20).run_starts) == restarted


def test_an_organism_without_a_direct_way_reaches_only_those_in_the_enclosure() -> None:
    tongs = [Sharing(enclosure=code, thing="tools", label="tongs") for code in ("B1", "B2")]
    world = World().arrival().animal("A1", "B1").animal("A2", "B1").animal("A3", "B2")
    world.sharings = tongs
    assert world.on(20).groups == [("A1", "A2", "A3")]
    worm = World.on(world.seen(exam("A1", 14, cestode="positive")), 20)
    assert set(worm.run_starts) == {"A1", "A2"}
    assert set(world.seen(exam("A1", 15, coccidian="positive")).on(20).run_starts) == {"A1", "A2", "A3"}


def test_a_chain_over_an_escape_restarts_the_next_room_and_says_the_path() -> None:
    world = World().arrival().animal("A1", "B1").animal("A2", "B1").animal("A3", "B3")
    world.seen(exam("A1", 14, coccidian="positive")).move("A1", "B9", 15).stay("A2", "B3", 20, 21, visit=True)
    situation = world.on(30)
    assert situation.groups == [("A1",), ("A2",), ("A3",)]
    assert situation.run_starts["A3"].day == day(21)
    assert "gecko A3 and gecko A2: shared enclosure B3 from 22 March 2026 to 23 March 2026" in (
        situation.run_starts["A3"].why
    )
    found = contacts_of_positive("A1", "coccidian", situation)
    assert [(one.animal, one.first_day) for one in found] == [("A2", day(0)), ("A3", day(20))]
    assert found[1].exam_from == day(21 + 22)
    assert "A clean exam means something from 14 April 2026 on" in found[1].words


def test_contacts_before_the_earliest_possible_infection_are_left_out_only_when_it_is_known() -> None:
    world = World().arrival().animal("A1", "B1").animal("A2", "B1").move("A2", "B2", 10)
    world.seen(exam("A1", 40, coccidian="positive"))
    assert [one.animal for one in contacts_of_positive("A1", "coccidian", world.on(41))] == ["A2"]
    world.facts_more["infected_since"] = {("A1", "coccidian"): day(12)}
    assert contacts_of_positive("A1", "coccidian", world.on(41)) == ()
    assert set(world.on(41).run_starts) == {"A1"}


def test_an_unsure_mark_waits_for_the_vet_whatever_came_later() -> None:
    found = the_answer(pair().seen(exam("A1", 14, amoeba="unsure")), 95)
    assert found.answer == NOT_YET
    assert found.earliest_on is None
    assert codes(found) == {"unsure-mark"}


def test_deaths_and_sales_lower_the_count() -> None:
    world = pair().animal("A3", "B1").seen(clean(["A3"], 0)).event("A3", "died", 20)
    found = the_answer(world, 90)
    assert found.may_release, "an exam of day 56 lies 22 days and more after the last day together"
    assert found.number == 2
    late = pair().animal("A3", "B1").seen(clean(["A3"], 0)).event("A3", "left", 50)
    waits = the_answer(late, 90)
    assert waits.answer == NOT_YET
    assert "the last contact with gecko A3" in waits.reasons[0].text
    assert the_answer(late.seen(clean(["A1", "A2"], 73)), 90).may_release


def test_a_member_split_off_while_others_were_not_done_needs_an_exam_after_it() -> None:
    world = pair().animal("A3", "B1").seen(clean(["A3"], 0)).move("A1", "B9", 85)
    moved = the_answer(world, 95)
    assert moved.answer == NOT_YET
    assert "22 days or more after 26 May 2026, the last contact with gecko A3" in moved.reasons[0].text
    assert the_answer(world.seen(exam("A1", 107)), 107).may_release


def test_one_that_was_cleared_after_a_meeting_does_not_pass_it_on_to_its_group() -> None:
    """A1 met the unexamined A3 until day 10 and has an exam 22 days and more after it; A2 never met A3."""
    world = World().arrival().animal("A1", "B1").animal("A3", "B1").animal("A2", "B2").move("A1", "B2", 10)
    world.seen(clean(["A1"], 0, 28, 56), clean(["A2"], 0, 14, 28))
    assert the_answer(world, 90).may_release
    assert the_answer(world.move("A1", "B9", 80), 90).may_release, "it was ready; the move changes nothing"
    late = World().arrival().animal("A1", "B1").animal("A3", "B1").animal("A2", "B2").move("A1", "B2", 70)
    late.seen(clean(["A1"], 0, 28, 56), clean(["A2"], 0, 14, 28)).move("A1", "B9", 80)
    found = answers(late, 90)
    for animal, other in (("A1", "A2"), ("A2", "A1")):
        text = found[(animal,)].reasons[0].text
        assert f"22 days or more after 21 May 2026, the last contact with gecko {other}" in text
    world.seen(clean(["A3"], 0, 28, 56))
    late.seen(clean(["A3"], 0, 28, 56))
    assert all(one.may_release for one in answers(late, 90).values()), "all done: no contact holds up anybody"


def test_tools_of_their_own_part_a_group_with_a_date() -> None:
    world = World().arrival().animal("A1", "B1").animal("A2", "B2").seen(clean(["A1"], 0, 28, 56))
    world.sharings = [
        Sharing(enclosure="B1", thing="tools", label="tongs", end=day(10)),
        Sharing(enclosure="B2", thing="tools", label="tongs"),
    ]
    assert world.on(10).groups == [("A1", "A2")]
    assert the_answer(world, 90).may_release, "its exam of day 56 lies 22 days and more after day 10"
    assert not the_answer(world, 90, "A2").may_release


def test_cryptosporidium_takes_the_number_of_laboratory_pcrs_that_the_vet_sets() -> None:
    world = World("gecko").arrival(laboratory_pcrs=2).animal("A1", "B1").seen(clean(["A1"], 0, 28, 56))
    found = the_answer(world, 90)
    assert codes(found) == {"pcr-missing"}
    assert "0 of 2 laboratory PCRs" in found.reasons[0].text
    world.seen(
        replace(exam("A1", 30), laboratory_pcr="negative"), replace(exam("A1", 44), laboratory_pcr="negative")
    )
    assert the_answer(world, 90).may_release
    unset = World("gecko").arrival().animal("A1", "B1").seen(clean(["A1"], 0, 28, 56))
    assert "pcr-not-set" in {remark.code for remark in the_answer(unset, 90).remarks}


@pytest.mark.parametrize("how", ["stain at home", "laboratory"])
def test_a_carrier_of_cryptosporidium_never_leaves_by_clean_stools(how: str) -> None:
    found = exam("A1", 14, cryptosporidium="positive")
    if how == "laboratory":
        found = replace(exam("A1", 14), laboratory_pcr="positive")
    world = (
        World("gecko")
        .arrival()
        .animal("A1", "B1")
        .animal("A2", "B1")
        .seen(found, clean(["A1"], *range(20, 200, 14)))
    )
    answer = the_answer(world, 200)
    assert answer.earliest_on is None
    assert "carried for life" in answer.reasons[0].text
    assert set(world.on(200).run_starts) == {"A1", "A2"}


def test_hosts_that_must_not_be_mixed_are_never_released_together_or_into_each_other() -> None:
    world = World("snake").arrival().animal("A1", "B1").animal("A2", "B1", host="tortoise")
    world.seen(clean(["A1", "A2"], 0, 28, 56))
    found = the_answer(world, 120)
    assert found.answer == NEVER_WITH_THESE
    assert found.reasons[0].code == "never-mixed"
    with pytest.raises(Refused):
        check_release(found, vet="Dr Ilse Varnholt", reason="moved")
    alone = World("tortoise").arrival().animal("A1", "B1").seen(clean(["A1"], 0, 28, 56))
    situation = alone.on(200)
    assert may_mix(("A1",), situation).may_release
    assert may_mix(("A1",), situation, into=[lineage("corn snake")]).answer == NEVER_WITH_THESE
    assert may_mix(("A1",), situation, into=[lineage("tortoise")]).may_release
    parted = world.move("A1", "B9", 100).on(120)
    assert "which it should never meet" in may_mix(("A1",), parted).reasons[0].text


def test_before_time_only_on_a_named_vets_order_with_a_reason() -> None:
    early, late = the_answer(pair(), 60), the_answer(pair(), 90)
    assert check_release(late) is True
    for vet, reason in (("", ""), ("Dr Ilse Varnholt", ""), ("", "room needed"), (" ", " ")):
        with pytest.raises(Refused) as caught:
            check_release(early, vet=vet, reason=reason)
        assert "31 May 2026" in caught.value.reasons[0].text
        assert "--vet" in caught.value.reasons[0].next
    assert check_release(early, vet="Dr Ilse Varnholt", reason="to a single home") is False


def test_a_release_that_a_later_correction_contradicts_shows_as_no_longer_supported() -> None:
    act = Release(arrival="I1", animals=("A1", "A2"), on=day(90), by="Mara Quell")
    assert release_state(act, the_answer(pair(), 90)) == "released on 31 May 2026"
    corrected = pair().seen(exam("A2", 56, "S-A2-56", ascarid="positive"))
    assert release_state(act, the_answer(corrected, 90)) == NO_LONGER_SUPPORTED
    ordered = replace(act, vet="Dr Ilse Varnholt", reason="single home", supported_then=False)
    assert "on the order of Dr Ilse Varnholt: single home" in release_state(ordered, None)


def test_the_released_are_out_and_the_rest_goes_on() -> None:
    world = pair().animal("A3", "B3")
    world.more["releases"] = (Release(arrival="I1", animals=("A1", "A2"), on=day(90), by="Mara Quell"),)
    assert world.on(90).groups == [("A3",)]
    with pytest.raises(BadInput, match="in quarantine"):
        may_mix(("A1", "A2"), world.on(90))


def test_without_a_protocol_or_a_place_a_person_must_act() -> None:
    world = pair()
    world.protocols = []
    assert codes(the_answer(world, 90)) == {"protocol-missing"}
    lost = pair()
    lost.stays = [stay for stay in lost.stays if stay.animal != "A2"]
    found = the_answer(lost, 90, "A2")
    assert codes(found) == {"enclosure-unknown"}
    assert found.earliest_on is None


def test_the_protocol_recorded_last_stands() -> None:
    world = pair()
    world.protocols.append(
        replace(protocol(), code="O2", days_at_least=40, vet="Dr Ilse Varnholt", written_on=day(50))
    )
    assert the_answer(world, 49).earliest_on == day(90)
    assert the_answer(world, 60).may_release


def test_those_of_the_collection_that_share_are_named() -> None:
    world = pair().animal("A9", "B1", on=70, arrival="")
    found = the_answer(world, 90)
    assert found.others == ("A9",)
    assert "others-share" in {remark.code for remark in found.remarks}
    assert {member.clock.day for member in found.members} == {day(70)}
    assert "it met the collection" in found.members[0].clock.why


def test_brumation_stops_the_days_and_its_stools_do_not_count() -> None:
    world = pair()
    world.facts_more["pauses"] = {"A1": [Pause(day(20), day(50))]}
    found = the_answer(world, 95)
    assert found.earliest_on == day(120)
    assert found.members[0].k == 2
    assert found.members[1].k == 3
