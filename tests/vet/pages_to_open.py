"""The vet's pages that the browser tests open: of a story, a split one, a hostile one, one answered before."""

from dataclasses import replace

import pytest

from fecallab.vet.mail import packed
from fecallab.vet.page import render_vet_page

from . import invented, vet_story

HOSTILE = (
    "</script><script>document.title='owned'</script><img src=x onerror=\"document.title='owned'\">'\"&\u202e"
)


@pytest.fixture(scope="session")
def files(tmp_path_factory, story):
    """Give the pages: of the story with thirty marks, one part of a split one, a hostile one, one without a case."""
    from fecallab.records.store import open_records
    from fecallab.vet.page_build import vet_page

    folder = tmp_path_factory.mktemp("pages")
    with open_records(story) as store:
        told = vet_page(store, "C1", invented.STAMP.made_on, from_whom=vet_story.KEEPER)
    plain = packed(invented.page(folder))[0]
    hostile = packed(
        invented.page(
            folder, animal=replace(invented.ANIMAL, name=HOSTILE), remark=HOSTILE, asks=HOSTILE, name=HOSTILE
        )
    )[0]
    said = "Dr Ilse Varnholt on 21 April 2026: artefact"
    items = [
        replace(one, vets_word=said, vets_note=said) if one.item.number == 3 else one for one in plain.items
    ]
    items[1] = replace(items[1], why_doubtful="the keeper is sure, but its size is too small for the name")
    made = {
        "answered": replace(plain, items=tuple(items)),
        "story": packed(told)[0],
        "plain": plain,
        "part": replace(plain, part=2, parts=3),
        "hostile": hostile,
    }
    paths = {}
    for name, page in made.items():
        paths[name] = folder / f"{name}.html"
        paths[name].write_text(render_vet_page(page), encoding="utf-8")
    return paths


def tap_words(page, number, words):
    page.locator(f"#number-{number} label", has_text=words).tap()


def box_of(page):
    return [float(part) for part in page.locator("#stage").get_attribute("viewBox").split()]
