"""Every command: what it does, its words and options, an example."""

from collections.abc import Iterator
from typing import Any

from reference_pages.examples import example_of
from reference_pages.markdown import anchor, code, codes, console, page, plain, table

NO_NOUN = "single-words"
EVERYWHERE = {"--records", "--by", "--json"}


def commands() -> Iterator[tuple[str, Any]]:
    """Walk the program: every command with the words that call it."""
    import typer

    from fecallab.cli.main import build_app
    from fecallab.cli.near import every_command

    yield from every_command(typer.main.get_command(build_app()))


def page_of(name: str) -> str:
    """Return the page on which a command stands."""
    return name.split()[0] if " " in name else NO_NOUN


def pages() -> dict[str, str]:
    """Return the pages of the commands by their place below docs/reference."""
    from fecallab.cli.nouns import NOUNS

    found: dict[str, list[tuple[str, Any]]] = {}
    for name, command in commands():
        found.setdefault(page_of(name), []).append((name, command))
    made = {"commands/index.md": _index(found, NOUNS)}
    for noun, below in found.items():
        title = "Commands of one word" if noun == NO_NOUN else f"fecallab {noun}"
        about = "" if noun == NO_NOUN else NOUNS[noun]
        sections = [_section(name, command) for name, command in below]
        made[f"commands/{noun}.md"] = page(title, about, *sections)
    return made


def _index(found: dict[str, list[tuple[str, Any]]], nouns: dict[str, str]) -> str:
    blocks = []
    for noun, below in found.items():
        title = "Commands of one word" if noun == NO_NOUN else f"[{noun}]({noun}.md): {plain(nouns[noun])}"
        if noun == NO_NOUN:
            title = f"[Commands of one word]({noun}.md)"
        rows = [
            [f"[{code('fecallab ' + name)}]({noun}.md#{anchor('fecallab ' + name)})", _first_line(command)]
            for name, command in below
        ]
        blocks.append(f"**{title}**\n\n" + table(["command", "what it does"], rows))
    return page(
        "Commands",
        "A command is a noun and a verb, or one word. `fecallab --help` lists them, `fecallab animal add --help`"
        " tells of one. `fecallab` alone opens a start screen.",
        "## Options of most commands",
        table(
            ["option", "what it does"],
            [
                [
                    "`--records …`",
                    "Record folder; else the one named by `FECALLAB_RECORDS`, else this folder.",
                ],
                ["`--by …`", "Who does this; else the name in `FECALLAB_BY`, else your user name."],
                ["`--json`", "Print one JSON object on stdout and nothing else there."],
                ["`--help`, `-h`", "Say what the command does, and stop."],
                ["`--version`", "Print the version and stop; of `fecallab` alone."],
                [
                    "`--install-completion`, `--show-completion`",
                    "Complete words in your shell by the Tab key; of `fecallab` alone.",
                ],
            ],
        ),
        "Required words that are left out are [asked for](../../how-it-asks.md) in a terminal. What an exit code"
        " means: [codes](../codes.md).",
        "## All commands",
        *blocks,
    )


def _first_line(command: Any) -> str:
    return plain((command.help or "").strip().split("\n\n")[0])


def _section(name: str, command: Any) -> str:
    about = "\n\n".join(plain(part) for part in (command.help or "").strip().split("\n\n"))
    arguments = [item for item in command.params if item.param_type_name == "argument"]
    options = [item for item in command.params if item.param_type_name == "option"]
    own = [item for item in options if not _is_everywhere(item)]
    shared = [spelling for item in options if _is_everywhere(item) for spelling in item.opts]
    rows = [[code(_argument(item)), _about(item)] for item in arguments]
    rows += [[_option(item), _about(item)] for item in own]
    parts = [f"## fecallab {name}", about, console(_usage(name, arguments, options))]
    if rows:
        parts.append(table(["word or option", "what it is"], rows))
    if shared:
        parts.append(f"Also {codes(shared)}, [as everywhere](index.md#options-of-most-commands).")
    parts.append("Example:\n\n" + console(example_of(name)))
    return "\n\n".join(part.strip() for part in parts)


def _is_everywhere(item: Any) -> bool:
    return bool(EVERYWHERE & set(item.opts)) and not item.required


def _argument(item: Any) -> str:
    name = (item.metavar or item.name).strip("[]").upper().replace("_", "-")
    return f"{name}…" if item.nargs == -1 else name


def _option(item: Any) -> str:
    takes = "" if getattr(item, "is_flag", False) else f" {item.metavar or '…'}"
    return codes(f"{spelling}{takes}" for spelling in (*item.opts, *item.secondary_opts))


def _about(item: Any) -> str:
    said = [plain(item.help or "")]
    if item.required:
        said.append("**Must be given.**")
    elif item.default not in (None, "", False, [], ()) and not getattr(item, "is_flag", False):
        said.append(f"When left out: {code(item.default)}.")
    if getattr(item, "multiple", False) and "may be repeated" not in (item.help or ""):
        said.append("May be repeated.")
    return " ".join(part for part in said if part)


def _usage(name: str, arguments: list[Any], options: list[Any]) -> str:
    words = ["fecallab", name]
    for item in arguments:
        words.append(_argument(item) if item.required else f"[{_argument(item)}]")
    words += [f"{item.opts[0]} {item.metavar or '…'}" for item in options if item.required]
    if any(not item.required for item in options):
        words.append("[options]")
    return " ".join(words)
