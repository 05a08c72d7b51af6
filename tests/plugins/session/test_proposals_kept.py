"""Proposals that `exam propose` keeps come into the window's session: with words, named where size tells it, once."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from fecallab.domain.errors import BadInput, CouldNot
from fecallab.imaging.detect.kept import keep
from fecallab.imaging.detect.propose import Detection, Proposal
from fecallab.records.store import open_records

OXYURID, OOCYST, GRAIN, LARVA = (10.0, 11.0), (40.0, 21.0), (60.0, 40.0), (70.0, 10.0)


def proposal(place, length, width):
    return Proposal(
        x_px=place[0],
        y_px=place[1],
        length_um=length,
        width_um=width,
        length_half_width_um=2.0,
        width_half_width_um=1.5,
        angle_deg=30.0,
        score=0.8,
        kind="oval",
        outline_px=((1.0, 1.0), (2.0, 2.0), (3.0, 1.0)),
    )


ALL = (
    proposal(OXYURID, 125.0, 60.0),
    proposal(OOCYST, 25.0, 24.0),
    proposal(GRAIN, 0.2, 0.2),
    proposal(LARVA, 300.0, 20.0),
)


def keep_them(session, found=ALL, um_per_px=5.0, remark="", edition="one"):
    seen = Detection(proposals=tuple(found), lit_fraction=1.0, sharpness=0.5, remark=remark, seconds=0.1)
    keep(session.folder, session.field("f1").picture, seen, um_per_px, edition)


@pytest.fixture
def proposed(with_pictures):
    """A field with a scale and four kept proposals that are taken up; nothing is marked yet."""
    with_pictures.set_scale(5.0, 0.0)
    keep_them(with_pictures)
    assert with_pictures.take_kept_proposals().made
    return with_pictures


def test_words_say_what_the_size_fits_and_never_a_score(proposed):
    assert proposed.proposals() == () and proposed.field().proposals_open == 4
    proposed.nothing_here()
    said = {(one.x_px, one.y_px): one.words for one in proposed.proposals()}
    assert said[OOCYST].startswith("fits ") and "coccidian oocyst" in said[OOCYST]
    assert said[OOCYST].endswith("25 × 24 µm")
    assert said[GRAIN].startswith("fits no organism of this host")
    assert said[LARVA] == "fits rhabditid larva, 300 × 20 µm"
    assert "0.8" not in "".join(said.values())


def test_what_size_tells_is_accepted_under_that_name_and_the_rest_asks_for_one(proposed, folder):
    proposed.nothing_here()
    by_place = {(one.x_px, one.y_px): one for one in proposed.proposals()}
    named = [one for one in by_place.values() if one.name]
    assert by_place[GRAIN].name == "" and by_place[LARVA].name == "rhabditid"
    with pytest.raises(BadInput, match="does not say what it is"):
        proposed.accept_proposals([by_place[GRAIN].uid])
    (uid,) = proposed.accept_proposals([by_place[GRAIN].uid], "yeast").uids
    mark = proposed._mark(uid)
    assert (mark.name, mark.length_um, mark.length_half_um, mark.width_half_um) == ("yeast", 0.2, 2.0, 1.5)
    for one in named:
        assert one.name in one.words
    proposed.finish()
    with open_records(folder) as store:
        (held,) = store.exam("E1").preparations[0].readings[-1].marks
    assert (held.name, held.length_um, held.sure) == ("yeast", 0.2, True)


def test_they_are_taken_up_once_whatever_is_opened_again(proposed, opened):
    uids = set(proposed._content("f1").proposals)
    proposed.take_kept_proposals()
    proposed.go_to("f2")
    proposed.go_to("f1")
    proposed.take_kept_proposals()
    proposed.close()
    again = opened()
    again.take_kept_proposals("f1")
    assert set(again._content("f1").proposals) == uids


def test_what_was_put_away_or_accepted_stays_so_when_they_are_made_anew(proposed):
    proposed.nothing_here()
    by_place = {(one.x_px, one.y_px): one.uid for one in proposed.proposals()}
    proposed.dismiss_proposals([by_place[GRAIN]])
    proposed.accept_proposals([by_place[OXYURID]], "oxyurid")
    moved = proposal((OXYURID[0] + 3, OXYURID[1]), 122.0, 61.0)
    keep_them(proposed, (moved, proposal(GRAIN, 2.5, 2.0), proposal((75.0, 55.0), 30.0, 28.0)), edition="two")
    proposed.take_kept_proposals()
    assert [(one.x_px, one.y_px) for one in proposed.proposals()] == [(75.0, 55.0)]


def test_what_is_marked_already_is_not_proposed_until_the_mark_goes(proposed):
    (uid,) = proposed.add_marks([("oxyurid", OXYURID[0] + 5, OXYURID[1])]).uids
    assert proposed.have_read() == 3
    assert OXYURID not in {(one.x_px, one.y_px) for one in proposed.proposals()}
    proposed.delete_marks([uid])
    assert OXYURID in {(one.x_px, one.y_px) for one in proposed.proposals()}


@pytest.mark.parametrize("how", ["goes on", "says so"])
def test_a_marked_field_is_read_when_the_person_goes_on_or_says_so_not_before(proposed, how):
    proposed.add_mark("yeast", 1, 55)
    assert proposed.proposals() == ()
    if how == "goes on":
        proposed.go_to("f2")
        proposed.go_to("f1")
    else:
        assert proposed.have_read() == 4
        assert proposed.have_read() == 0
    assert len(proposed.proposals()) == 4
    assert proposed.field().proposals_shown == "after reading"


def test_that_a_field_was_read_outlives_a_crash(proposed, opened):
    proposed.add_mark("yeast", 1, 55)
    proposed.have_read()
    proposed.close()
    assert len(opened().proposals("f1")) == 4


def test_without_a_scale_or_for_another_one_nothing_is_taken_up_and_it_is_said(with_pictures):
    keep_them(with_pictures)
    kept = with_pictures.take_kept_proposals()
    assert not kept.made and "Without a scale" in kept.says
    with_pictures.set_scale(0.5, 0.0)
    kept = with_pictures.take_kept_proposals()
    assert not kept.made and "button Proposals" in kept.says
    assert with_pictures.field().proposals_open == 0


def test_an_empty_picture_says_why_nothing_is_proposed(with_pictures):
    with_pictures.set_scale(5.0, 0.0)
    keep_them(with_pictures, (), remark="It shows noise alone.")
    kept = with_pictures.take_kept_proposals()
    assert kept.made and kept.says == "It shows noise alone."


def test_pictures_of_the_draft_are_proposed_on_from_the_window(with_pictures):
    from napari_fecallab.kept_proposals import propose_steps

    assert with_pictures.pictures_to_propose() == ()  # no scale
    with_pictures.set_scale(5.0, 0.0, fields=["f1", "f2"])
    wanted = with_pictures.pictures_to_propose()
    assert [one.sha256 for one in wanted] == [with_pictures.field(uid).picture for uid in ("f1", "f2")]
    steps, at = propose_steps(wanted), []
    try:
        while True:
            at.append(next(steps))
    except StopIteration as end:
        assert "in 2 pictures" in end.value
    assert at == [(0, 2), (1, 2)]
    assert with_pictures.pictures_to_propose() == ()
    assert with_pictures.take_kept_proposals().made


def test_a_full_disk_is_told_once_by_the_name_of_the_picture(with_pictures, monkeypatch):
    from errno import ENOSPC

    from napari_fecallab import kept_proposals

    def full(folder, sha256, um_per_px, optics, path):
        raise CouldNot(
            f"{sha256}.json could not be written: {os.strerror(ENOSPC)}.", next="-", code="not-written"
        )

    monkeypatch.setattr("fecallab.cli.exam_propose.propose_and_keep", full)
    with_pictures.set_scale(5.0, 0.0, fields=["f1", "f2"])
    wanted = with_pictures.pictures_to_propose()
    steps, at = kept_proposals.propose_steps(wanted), []
    try:
        while True:
            at.append(next(steps))
    except StopIteration as end:
        said = end.value
    assert at == [(0, 2)], "the next one is not tried"
    assert said.count("No space left on device") == 1 and "0 proposals in 0 pictures" in said
    assert f"Stopped at {with_pictures.field('f1').picture_name}: its proposals could not be kept" in said
    assert wanted[0].sha256 not in said and said.endswith("press Proposals again, it goes on from there.")


def test_a_broken_picture_is_told_by_its_name_and_the_next_one_is_done(with_pictures, monkeypatch):
    from napari_fecallab import kept_proposals

    def broken(folder, sha256, um_per_px, optics, path):
        if path == wanted[0].path:
            raise BadInput(
                f"{Path(path).name} ends before its end.", next="Copy it anew.", code="picture-cut-off"
            )
        return 3

    monkeypatch.setattr("fecallab.cli.exam_propose.propose_and_keep", broken)
    with_pictures.set_scale(5.0, 0.0, fields=["f1", "f2"])
    wanted = with_pictures.pictures_to_propose()
    steps = kept_proposals.propose_steps(wanted)
    with pytest.raises(StopIteration) as end:
        while True:
            next(steps)
    said = end.value.value
    assert said.startswith("3 proposals in 1 picture;")
    assert f"{with_pictures.field('f1').picture_name} ends before its end. Copy it anew." in said
    assert wanted[0].sha256 not in said
