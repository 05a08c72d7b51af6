"""``fecallab`` alone says what to type next; a word that is none leads to the one that was meant."""

import shlex

import pytest

from fecallab.cli.main import run


@pytest.fixture(autouse=True)
def at_home(tmp_path, monkeypatch):
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.chdir(home)
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.setenv("USERPROFILE", str(home))
    monkeypatch.setenv("FECALLAB_ASK", "0")
    monkeypatch.delenv("FECALLAB_RECORDS", raising=False)
    return home


def offered(text):
    """Return the commands that were offered, each in its own line before its explanation."""
    after = text.partition("What next? Type one of:\n")[2]
    return [line.strip().partition("  ")[0] for line in after.splitlines()]


def test_alone_in_an_empty_folder_it_says_how_to_begin(capsys):
    assert run([]) == 0
    said = capsys.readouterr()
    assert "this folder is none" in said.out and "no diagnosis" in said.out and not said.err
    assert offered(said.out)[:2] == ["fecallab demo", "fecallab records make my-records"]


def test_every_command_that_is_offered_exists(capsys):
    from fecallab.cli.what_next import ALWAYS, WITH_RECORDS, WITHOUT_RECORDS

    for typed, about in (*WITH_RECORDS, *WITHOUT_RECORDS, *ALWAYS):
        words = [word for word in shlex.split(typed)[1:] if word.islower() and "-r" not in word]
        assert run([*words, "--help"]) == 0, typed
        assert about and "Usage: fecallab" in capsys.readouterr().out


def test_alone_in_a_record_folder_it_names_it_and_goes_on_there(at_home, monkeypatch, capsys):
    assert run(["records", "make", "my-records"]) == 0
    capsys.readouterr()
    assert run([]) == 0
    assert offered(capsys.readouterr().out)[0] == "cd my-records"
    monkeypatch.chdir(at_home / "my-records")
    assert run([]) == 0
    said = capsys.readouterr().out
    assert str((at_home / "my-records").resolve()) in said and offered(said)[0] == "fecallab due"


def test_alone_with_a_damaged_marker_it_says_what_mends_it(at_home, monkeypatch, capsys):
    (at_home / "fecallab.json").write_text("{", encoding="utf-8")
    assert run([]) == 0
    assert "damaged" in (said := capsys.readouterr().out) and "fecallab records make" in said


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("weigh Saffron 317", "Did you mean: fecallab animal weigh?"),
        ("add animal", "Did you mean: fecallab animal add?"),
        ("backup", "Did you mean: fecallab records backup?"),
        ("list animals", "Did you mean: fecallab animal list?"),
        ("animl list", "Did you mean 'animal'?"),
        ("animal lst", "Did you mean 'list'?"),
        ("sample show S1", "After fecallab sample comes one of: add, list."),
        ("delete E1", "Did you mean: fecallab withdraw or fecallab correct?"),
        ("exam delete E1", "Did you mean: fecallab withdraw or fecallab correct?"),
        ("animal edit Saffron", "Did you mean: fecallab correct or fecallab withdraw?"),
        ("due --jsn", "Did you mean --json?"),
        ("animal add Saffron --specis lizard", "Did you mean --species?"),
        ("exam add --colour brown", "No such option: --colour. Type: fecallab exam add --help"),
        ("cage list", "Did you mean 'enclosure'?"),
        ("stool add", "Did you mean 'sample'?"),
    ],
)
def test_a_word_that_is_none_leads_to_the_nearest(typed, meant, capsys):
    assert run(shlex.split(typed)) == 2
    said = capsys.readouterr()
    assert meant in said.err and said.err.count("\n") == 1 and not said.out


@pytest.mark.parametrize("typed", ["xyzzy", "print", "star", "todo", "banana"])
def test_a_word_that_is_like_nothing_is_not_guessed(typed, capsys):
    assert run([typed]) == 2
    assert "Did you mean" not in (said := capsys.readouterr().err) and "fecallab --help" in said


def test_names_of_animals_methods_and_organisms_are_suggested_too(monkeypatch, at_home, capsys):
    assert run(["records", "make", "here"]) == 0
    monkeypatch.chdir(at_home / "here")
    assert run(["animal", "add", "Saffron", "--species", "Pogona vitticeps"]) == 0
    capsys.readouterr()
    read = ["--objective", "10", "--counts", "0,1"]
    assert run(["sample", "add", "Saffron"]) == 0
    for words, meant in (
        (["animal", "show", "Safron"], "Saffron"),
        (["exam", "add", "S1", "--method", "simple_flotaton", *read, "--of", "oxyurid"], "simple_flotation"),
        (["exam", "add", "S1", "--method", "simple_flotation", *read, "--of", "oxyurit"], "oxyurid"),
        (["clean", "advice", "cocidian"], "coccidian"),
        (["reference", "show", "organism"], "organisms"),
    ):
        capsys.readouterr()
        assert run(words) == 2, words
        assert f"Did you mean {meant}" in capsys.readouterr().err, words


def test_a_species_and_a_drug_that_were_mistyped_are_asked_about_and_none_is_chosen(fecallab, folder):
    said = fecallab("animal", "add", "Saffron", "--species", "Pogona viticeps")
    assert said.code == 0 and "Did you mean Pogona vitticeps?" in said.out
    mended = shlex.split(said.out.partition("Type: fecallab ")[2])
    assert fecallab(*mended).code == 0
    assert "Pogona vitticeps" in fecallab("animal", "show", "Saffron").out
    for species in ("Pogona vitticeps", "Pogona minor", "corn snake"):
        assert "Did you mean" not in fecallab("animal", "add", f"A {species}", "--species", species).out
    dose = ("--weight-g", "317", "--dose-mg-per-kg", "50", "--concentration-mg-per-ml", "100")
    for drug, asked in (("fenbendazol", True), ("oxibendazole", False), ("brimodazole", False)):
        said = fecallab("calc", "dose", *dose, "--drug", drug, "--taxon", "Pogona vitticeps", "--json")
        assert said.json["refused"] and said.json["volume_ml"] is None
        (reason,) = [one for one in said.json["reasons"] if one["code"] == "drug-unknown"]
        assert ("Is fenbendazole meant?" in reason["text"]) is asked, drug


def test_two_different_drugs_are_never_taken_for_a_slip():
    from difflib import SequenceMatcher
    from itertools import combinations

    from fecallab.domain.dose_facts import NEARLY_SPELLED
    from fecallab.reference.drugs import dose_facts

    spelled = {name.drug: (name.drug, *name.other_names) for name in dose_facts().drug_names}
    for one, other in combinations(spelled, 2):
        for mine in spelled[one]:
            for theirs in spelled[other]:
                alike = SequenceMatcher(None, mine.casefold(), theirs.casefold()).ratio()
                assert alike < NEARLY_SPELLED, (mine, theirs)


def test_where_the_program_is_not_found_by_its_name_it_says_what_to_type(at_home, monkeypatch, capsys):
    from fecallab.cli import by_name

    monkeypatch.setattr(by_name.shutil, "which", lambda name: None)
    monkeypatch.setattr(by_name.sys, "base_prefix", "/elsewhere")
    monkeypatch.setattr(by_name.sys, "prefix", str(at_home / ".venv"))
    assert run([]) == 0
    assert capsys.readouterr().out.rstrip().endswith("type once: source .venv/bin/activate")
    monkeypatch.setattr(by_name.sys, "prefix", str(at_home / "my tools"))
    assert by_name.how_to_be_found() == 'source "my tools/bin/activate"'
    monkeypatch.setattr(by_name.sys, "base_prefix", by_name.sys.prefix)
    assert by_name.hint().endswith("type instead: python -m fecallab")
    monkeypatch.setattr(by_name.shutil, "which", lambda name: "/usr/bin/fecallab")
    assert run([]) == 0
    assert "type once" not in capsys.readouterr().out and by_name.hint() == ""
