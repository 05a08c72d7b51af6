"""What stands on the page, what does not, and how large it may become."""

import base64
import hashlib
import io
import json
import re
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from fecallab.domain.errors import BadInput
from fecallab.report.files import page_is_within_budget
from fecallab.report.model import AdequacyBlock, ConditionLine
from fecallab.vet.mail import covering_words, largest_file_bytes, packed, sent_bytes
from fecallab.vet.page import page_script, render_vet_page
from fecallab.vet.page_build import vet_page
from fecallab.vet.page_data import safe_json
from fecallab.vet.page_leave_out import names_here, places_here, read_leave_out, without
from fecallab.vet.pdf import vet_pdf
from fecallab.vet.pdf_record import adequacy_line
from fecallab.vet.sheet import SHEET_FIELDS, contact_sheets

from ..effort import examples
from . import invented
from .conftest import float_of

HOSTILE = "<script>alert(1)</script>\"'&</style><b onclick=x>{{7*7}}</script><!--\u202eevil"


class Skeleton(HTMLParser):
    """Tags with the names of their attributes, addresses, and text."""

    def __init__(self, html):
        super().__init__(convert_charrefs=True)
        self.tags, self.addresses, self.text = [], [], []
        self.feed(html)

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, sorted(name for name, _ in attributes)))
        self.addresses += [value for name, value in attributes if name in ("src", "href", "action", "srcset")]

    def handle_data(self, data):
        self.text.append(data)


def pdf_text(content):
    import pypdfium2

    return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(content))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("pictures")


@pytest.fixture(scope="module")
def plain(folder):
    return packed(invented.page(folder))[0]


def test_every_address_on_the_page_is_on_the_page_itself(plain):
    found = Skeleton(render_vet_page(plain))
    assert len(found.addresses) > 10
    assert [a for a in found.addresses if not re.match(r"data:image/jpeg;base64,|#[\w-]+$", a)] == []


def test_the_pages_rule_names_its_one_script_and_nothing_else_that_may_run(plain):
    html = render_vet_page(plain)
    rule = re.search(r'Content-Security-Policy" content="([^"]*)"', html).group(1)
    inside = re.search(r"<script>(.*?)</script>", html, re.S).group(1)
    assert inside == page_script()
    digest = base64.b64encode(hashlib.sha256(inside.encode()).digest()).decode()
    assert rule == (
        "default-src 'none'; img-src data:; style-src 'unsafe-inline'; "
        f"script-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    )


@pytest.mark.parametrize("where", ["name", "species", "remark", "asks", "mark", "vet"])
def test_hostile_text_stays_text_wherever_it_stands(folder, where):
    def made(text):
        animal = invented.ANIMAL
        if where in ("name", "species"):
            animal = replace(animal, **{where: text})
        page = packed(
            invented.page(
                folder,
                animal=animal,
                remark=text if where == "remark" else "",
                asks=text if where == "asks" else "asked",
                name=text if where == "mark" else "oxyurid",
            )
        )[0]
        return replace(page, to_whom=text) if where == "vet" else page

    hostile, harmless = made(HOSTILE), made("x" * len(HOSTILE))
    found, plain = Skeleton(render_vet_page(hostile)), Skeleton(render_vet_page(harmless))
    assert found.tags == plain.tags
    assert not [names for _, names in found.tags if any(name.startswith("on") for name in names)]
    html = render_vet_page(hostile)
    assert "\u202e" not in html
    data = re.search(r'id="page-data">(.*?)</script>', html, re.S).group(1)
    assert "<" not in data and json.loads(data)["id"] == hostile.page_id
    assert "49" not in [text for text in found.text if "evil" in text], "no template runs in a name"
    assert "alert(1)" in pdf_text(vet_pdf(hostile)) or where == "mark"


@settings(max_examples=examples(40), deadline=None)
@given(
    st.recursive(
        st.text() | st.integers() | st.none(),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    )
)
def test_data_for_the_script_never_ends_its_element_and_reads_back_the_same(value):
    text = safe_json(value)
    assert not set("<>&\u2028\u2029") & set(text)
    text.encode("ascii")
    assert json.loads(text) == value


def with_place_in_exif(path):
    """Give a picture what a phone writes into it: device and place."""
    image = Image.open(path)
    exif = image.getexif()
    exif[271], exif[272] = "SECRETMAKER", "SECRETPHONE 9"
    exif.get_ifd(34853).update({1: "N", 2: (51.0, 30.0, 0.0), 3: "E", 4: (7.0, 12.0, 0.0)})
    exif[270] = "SECRETWORDS"
    image.save(path, exif=exif, quality=90)
    assert b"SECRETPHONE" in path.read_bytes()


def test_neither_device_nor_place_of_a_picture_travels(tmp_path):
    page = invented.page(tmp_path)
    for picture in page.pictures:
        with_place_in_exif(picture.source)
    part = packed(page)[0]
    jpegs = [one.jpeg for one in part.pictures] + [one.thumbnail for one in part.pictures]
    jpegs += [one.crop.jpeg for one in part.items if one.crop] + contact_sheets(part)
    for jpeg in jpegs:
        assert b"SECRET" not in jpeg and b"Exif" not in jpeg
        with Image.open(io.BytesIO(jpeg)) as image:
            assert not image.getexif()
    for content in (render_vet_page(part).encode(), vet_pdf(part)):
        assert b"SECRET" not in content
        assert str(tmp_path).encode() not in content, "no folder of the keeper either"


def test_owner_and_place_are_left_out_to_the_last_byte(folder):
    remark = "Mara Quell says: MARA QUELL keeps it in Vivarium 4, by the window. Mara saw it."
    page = invented.page(folder, asks="Should Mara treat her?", remark=remark)
    exams = [page.exams[0].page.exam]
    people, places = names_here(page, exams), places_here(page.animal)
    assert people == {"Mara Quell"} and places == {"vivarium 4"}
    clear = packed(without(page, read_leave_out("owner,place"), people, places))[0]
    texts = [render_vet_page(clear), pdf_text(vet_pdf(clear)), covering_words([clear], ["a.html"])]
    for text in texts:
        for word in ("mara", "quell", "vivarium"):
            assert word not in text.lower(), word
    assert "the keeper says" in texts[0] and "the enclosure" in texts[0]
    assert (clear.page_id, clear.page_hash) == (page.page_id, page.page_hash)
    assert [one.item.key for one in clear.items] == [one.item.key for one in page.items]
    kept = render_vet_page(packed(page)[0])
    assert "Mara Quell" in kept and "Vivarium 4" in kept, "without the wish they stand there"


def test_only_what_was_asked_for_is_left_out(folder):
    page = invented.page(folder, remark="Mara Quell, vivarium 4")
    clear = without(page, ("place",), {"Mara Quell"}, {"vivarium 4"})
    html = render_vet_page(packed(clear)[0])
    assert "Mara Quell" in html and "vivarium 4" not in html


def test_a_vet_of_the_same_name_is_not_taken_for_the_owner(folder):
    page = replace(invented.page(folder), to_whom="Mara Quell")
    assert names_here(page, [page.exams[0].page.exam]) == set()


@pytest.mark.parametrize(
    ("text", "read"), [("", ()), ("owner", ("owner",)), ("place; owner", ("owner", "place"))]
)
def test_what_is_to_be_left_out_is_read(text, read):
    assert read_leave_out(text) == read


def test_a_strange_word_to_leave_out_is_refused():
    with pytest.raises(BadInput, match="name"):
        read_leave_out("owner,name")


def test_the_page_keeps_to_its_budget_with_two_thousand_marks(folder):
    part = packed(invented.page(folder, pictures=4, marks=500, doubtful=3))[0]
    assert part.parts == 1 and len(part.items) == 2000
    html = render_vet_page(part)
    assert page_is_within_budget(len(html.encode()), part.picture_bytes)


def test_pictures_are_scaled_to_the_mail_and_crops_are_not(tmp_path):
    page = invented.page(tmp_path, pictures=2, marks=4, width=2600, height=1950)
    roomy, tight = packed(page, 20), packed(page, 2)
    assert len(roomy) == len(tight) == 1
    assert invented.jpeg_size(roomy[0].pictures[0].jpeg) == (2400, 1800)
    assert max(invented.jpeg_size(tight[0].pictures[0].jpeg)) < 2400
    crops = [[one.crop.jpeg for one in part[0].items if one.crop] for part in (roomy, tight)]
    assert crops[0] == crops[1] and len(crops[0]) == 2
    for part in (*roomy, *tight):
        assert "were made smaller for this page" in render_vet_page(part)
    assert sent_bytes(len(render_vet_page(tight[0]).encode())) <= 2_000_000


def test_what_no_mail_can_carry_comes_in_several_pages_that_say_so(tmp_path):
    page = invented.page(tmp_path, pictures=4, marks=9, width=1500, height=1100)
    parts = packed(page, 1.2)
    assert len(parts) > 1
    assert [one.item.number for part in parts for one in part.items] == list(range(1, 37))
    assert {(part.page_id, part.page_hash, part.parts) for part in parts} == {
        (page.page_id, page.page_hash, len(parts))
    }
    for number, part in enumerate(parts, start=1):
        html = render_vet_page(part)
        assert f"page {number} of {len(parts)}" in html
        assert sent_bytes(len(html.encode())) <= 1_200_000
        assert ("Preparations" in html) is (number == 1)
        assert all(one.crop for one in part.doubtful)
        assert sent_bytes(len(vet_pdf(part))) <= 1_200_000
    assert f"{len(parts)} parts" in covering_words(parts, ["a"])


def test_a_mail_too_small_for_any_page_is_refused(folder):
    with pytest.raises(BadInput, match="too small"):
        packed(invented.page(folder), 0.3)


def test_the_size_in_a_mail_is_that_of_the_mail_program():
    from email.message import EmailMessage

    for size in (0, 1, 56, 57, 58, 5_000, 123_456):
        mail = EmailMessage()
        mail.add_attachment(b"x" * size, maintype="text", subtype="html")
        lines = next(mail.iter_attachments()).get_payload().splitlines()
        assert sum(len(line) + 2 for line in lines) == pytest.approx(sent_bytes(size), abs=78)
    assert sent_bytes(largest_file_bytes(10)) <= 10_000_000 < sent_bytes(largest_file_bytes(10) + 100)


def test_a_crop_is_the_part_of_the_picture_around_its_mark(folder):
    page = invented.page(folder)
    one = next(item for item in page.doubtful if item.picture == 0)
    with Image.open(page.pictures[0].source) as whole, Image.open(io.BytesIO(one.crop.jpeg)) as crop:
        half = crop.width // 2
        x, y = round(one.mark.x_px), round(one.mark.y_px)
        assert one.mark.length_um / 0.65 < crop.width < 2 * one.mark.length_um / 0.65
        for right, down in ((0, 0), (15, -10), (-20, 12)):
            there = whole.getpixel((x + right, y + down))
            here = crop.getpixel((half + right, half + down))
            assert max(abs(a - b) for a, b in zip(there, here, strict=True)) <= 30, "JPEG twice, grain of 9"


def test_a_sure_mark_whose_size_cannot_be_is_asked_about_too(folder):
    page = invented.page(folder, name="isospora_amphiboluri_sporulated", doubtful=0)
    assert len(page.doubtful) == 12
    assert {one.why_doubtful for one in page.doubtful} == {
        "the keeper is sure, but its size is too large for the name"
    }
    html = render_vet_page(packed(page)[0])
    assert "12 marks are doubtful" in html or "Twelve marks are doubtful" in html


def test_without_a_scale_no_size_is_told_and_nothing_is_named_by_it(folder):
    page = packed(invented.page(folder, um_per_px=None))[0]
    assert "The scale of this picture is not known" in render_vet_page(page)


def test_contact_sheets_carry_the_numbers_of_the_page_and_few_fields_each(folder):
    page = packed(invented.page(folder, pictures=4, marks=2, width=640, height=480))[0]
    sheets = contact_sheets(page)
    assert len(sheets) == -(-4 // SHEET_FIELDS)
    for sheet in sheets:
        assert invented.jpeg_size(sheet)[0] > 1000


def test_the_pdf_says_what_the_page_says(plain):
    content = vet_pdf(plain)
    text = pdf_text(content)
    for said in (
        "Are these pinworm eggs?",
        "Saffron",
        "318",
        "marks are doubtful",
        "cannot tell",
        plain.page_id,
        "by number",
        "1?",
        "100 µm",
    ):
        assert said in text, said
    assert vet_pdf(plain) == content, "the same page gives the same bytes"
    assert b"/JavaScript" not in content and b"/URI" not in content


@pytest.mark.parametrize(
    ("block", "said"),
    [
        (AdequacyBlock(what="oxyurid, egg", adequate=False, note="It says nothing."), "No. It says nothing."),
        (AdequacyBlock(what="oxyurid, egg", adequate=True, note="as told"), "Yes. As told."),
        (AdequacyBlock(what="oxyurid, egg", adequate=False), "No."),
        (
            AdequacyBlock(
                what="oxyurid, egg",
                adequate=False,
                conditions=(
                    ConditionLine(question="Fresh?", answer="yes"),
                    ConditionLine(question="Warm?", answer="no"),
                ),
            ),
            "No (1 of 2 conditions hold). Warm? no.",
        ),
    ],
)
def test_on_paper_it_is_told_in_whole_sentences_whether_it_could_have_been_shown(block, said):
    assert adequacy_line(block) == f"Could it have shown oxyurid, egg? {said}"


def test_every_page_of_the_pdf_says_what_it_belongs_to_and_which_it_is(folder):
    import pypdfium2

    many = packed(invented.page(folder, pictures=5, marks=2))[0]
    document = pypdfium2.PdfDocument(vet_pdf(many))
    texts = [page.get_textpage().get_text_range() for page in document]
    assert len(texts) > 3
    for number, text in enumerate(texts, start=1):
        assert f"page {many.page_id} · {number} of {len(texts)}" in text


def test_an_example_answer_uses_numbers_of_this_page(plain):
    html = render_vet_page(plain)
    assert re.search(r"<q>1 pollen; 7 cannot tell; the rest agreed", html)


def test_a_page_without_anything_marked_is_whole(folder):
    page = packed(invented.page(folder, marks=0, doubtful=0))[0]
    html = render_vet_page(page)
    assert "Nothing was marked or counted" in html and "Nothing marked." in html
    assert 'id="rest-agreed"' not in html
    assert "Nothing was marked or counted" in pdf_text(vet_pdf(page))


def test_danger_signs_stand_on_the_first_screen(folder):
    page = replace(packed(invented.page(folder))[0], signs=("Blood in the stool, since 19 April 2026.",))
    head = render_vet_page(page).split("</header>")[0]
    assert "Blood in the stool" in head
    assert "Blood in the stool" in pdf_text(vet_pdf(page))


def test_no_score_and_no_percentage_stands_beside_a_name(plain):
    text = " ".join(Skeleton(render_vet_page(plain)).text)
    assert not re.search(r"\b(score|confidence|probab)", text, re.I)
    one = next(item for item in plain.doubtful)
    assert all("%" not in word for word in (*one.fits, *one.nearly, one.fit))


def test_the_day_of_the_page_is_the_day_it_was_asked_for(plain):
    assert plain.made_on == date(2026, 4, 20)
    assert "20\u00a0April\u00a02026" in render_vet_page(plain)


def test_whether_it_could_be_shown_stands_on_the_page_where_it_was_not_found(rescue):
    first = rescue.exam("2026-03-01", float_of(("oxyurid", True)))
    rescue.case("oxyurid", "2026-03-01", first)
    clean = rescue.exam("2026-04-20", float_of())
    with rescue.open() as store:
        told = vet_page(store, "C1", date(2026, 4, 21), exams=[first, clean])
    html = render_vet_page(packed(told)[0])
    asked = [[one.what for block in exam.page.preparations for one in block.adequacy] for exam in told.exams]
    assert asked == [[], ["oxyurid, egg"]]
    assert html.count("Could it have shown oxyurid, egg?") == 1
    assert html.count("Could this exam have shown oxyurid?") == 1
