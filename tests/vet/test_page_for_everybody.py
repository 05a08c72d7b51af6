"""The page in a real browser for whoever reads it: names, contrast, what is large enough to tap, the focus."""

import pytest

from .browsing import DESK, PHONE, open_tab

__all__ = ["open_tab"]


CHECKS = """
() => {
  const problems = [], seen = (e) => e.getClientRects().length > 0 && getComputedStyle(e).visibility !== 'hidden';
  const named = (e) => (e.getAttribute('aria-label') || [...(e.labels || [])].map(l => l.textContent).join(' ') || e.textContent ||
    (e.getAttribute('aria-labelledby') || '').split(' ').map(id => (document.getElementById(id) || {}).textContent || '').join(' ')).trim();
  document.querySelectorAll('input, select, textarea, button, a, summary, [tabindex="0"], [role=application]').forEach(e => {
    if (!named(e)) problems.push('no name: ' + e.outerHTML.slice(0, 90));
  });
  document.querySelectorAll('img').forEach(e => { if (!e.alt) problems.push('no words: ' + e.outerHTML.slice(0, 60)); });
  document.querySelectorAll('fieldset').forEach(e => { if (!e.querySelector(':scope > legend')) problems.push('no legend: ' + e.outerHTML.slice(0, 60)); });
  const ids = [...document.querySelectorAll('[id]')].map(e => e.id);
  ids.filter((id, k) => ids.indexOf(id) !== k).forEach(id => problems.push('id twice: ' + id));
  document.querySelectorAll('[aria-labelledby], [aria-describedby]').forEach(e => ((e.getAttribute('aria-labelledby') || '') + ' ' + (e.getAttribute('aria-describedby') || ''))
    .trim().split(/\\s+/).forEach(id => { if (!document.getElementById(id)) problems.push('points nowhere: ' + id); }));
  let level = 1;
  document.querySelectorAll('h1, h2, h3, h4').forEach(e => { const now = Number(e.tagName[1]); if (now > level + 1) problems.push('heading jumps: ' + e.textContent); level = now; });
  const rgb = (text) => text.match(/[\\d.]+/g).map(Number);
  const light = ([r, g, b]) => { const f = (c) => { c /= 255; return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; }; return 0.2126 * f(r) + 0.7152 * f(g) + 0.0722 * f(b); };
  const ground = (e) => { for (; e; e = e.parentElement) { const c = rgb(getComputedStyle(e).backgroundColor); if (c.length < 4 || c[3] > 0) return c; } return [255, 255, 255]; };
  document.querySelectorAll('body *').forEach(e => {
    if (e.closest('svg') || !seen(e) || ![...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim())) return;
    const [a, b] = [light(rgb(getComputedStyle(e).color)), light(ground(e))].sort((x, y) => y - x);
    if ((a + 0.05) / (b + 0.05) < 4.5) problems.push('pale: ' + e.textContent.trim().slice(0, 40));
  });
  document.querySelectorAll('button, select, input:not([type=radio]):not([type=checkbox]), textarea, .words label, label.wide').forEach(e => {
    const box = e.getBoundingClientRect();
    if (seen(e) && box.height < 43.5) problems.push('small to tap (' + Math.round(box.height) + '): ' + e.outerHTML.slice(0, 80));
  });
  return problems;
}
"""
"""Names, labels, legends, ids, order of headings, contrast of 4.5 to 1 (WCAG 2.2, 1.4.3; formula from memory), and
44 px to tap (common practice)."""


@pytest.mark.parametrize("name", ["story", "hostile"])
def test_names_labels_headings_contrast_and_size_of_what_is_tapped(files, open_tab, name):
    page = open_tab(files[name], PHONE).page
    assert page.evaluate(CHECKS) == []
    page.locator("li.doubt label", has_text="other organism").first.tap()
    page.locator("li.doubt [data-look]").first.tap()
    page.locator("#viewer-say label", has_text="agree").tap()
    assert page.evaluate(CHECKS) == []
    page.locator("#viewer-close").tap()
    if name == "story":
        page.locator("label", has_text="a new plan").tap()
        assert page.evaluate(CHECKS) == []


def test_the_known_checker_finds_nothing_serious(files, open_tab):
    """With axe-core, as it comes with axe-playwright-python; minor advice is not counted."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()

    def serious(page):
        found = axe.run(page).response["violations"]
        return [
            (one["id"], one["nodes"][0]["html"][:80])
            for one in found
            if one["impact"] in ("serious", "critical")
        ]

    still = open_tab(files["plain"], PHONE).page
    still.evaluate("document.documentElement.classList.remove('on')")  # as it is shown without scripts
    assert serious(still) == []
    still.evaluate("document.querySelector('main').append(document.createElement('img'))")
    assert [rule for rule, _ in serious(still)] == ["image-alt"], "it does find what is wrong"
    page = open_tab(files["story"], PHONE).page
    page.locator("li.doubt label", has_text="other organism").first.tap()
    page.locator("label", has_text="a new plan").tap()
    assert serious(page) == []
    viewer = open_tab(files["plain"], PHONE).page
    viewer.locator("li.doubt [data-look]").first.tap()
    assert serious(viewer) == []


def test_the_checks_find_what_is_wrong(files, open_tab):
    page = open_tab(files["plain"], PHONE).page
    page.evaluate("""() => { document.querySelector('main').insertAdjacentHTML('beforeend',
      '<h2>y</h2><h4>x</h4><img src="data:,"><input type="text"><button style="min-height:0;height:20px"></button><p style="color:#999">pale</p><fieldset></fieldset><p id="doubtful"></p>'); }""")
    found = " ".join(page.evaluate(CHECKS))
    for what in ("no name", "no words", "no legend", "id twice", "heading jumps", "pale", "small to tap"):
        assert what in found, what


def test_what_has_the_focus_is_seen(files, open_tab):
    page = open_tab(files["plain"], DESK).page
    for selector in ("#number-1 input", "#rest-agreed", "#save", "#bar a", "[name=words]"):
        page.locator(selector).first.focus()
        page.keyboard.press("Shift")
        style = "e => { const s = getComputedStyle(e.matches('.words input') ? e.nextElementSibling : e); return s.outlineStyle + ' ' + s.outlineWidth; }"
        page.keyboard.press("Tab")
        page.keyboard.press("Shift+Tab")
        assert page.locator(selector).first.evaluate(style) == "solid 3px", selector
