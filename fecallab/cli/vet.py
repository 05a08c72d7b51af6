"""The vet at a distance: the page that goes out, the answer that comes back, keys, and how well both agree."""

from __future__ import annotations

import typer

from fecallab.cli import vet_agreement, vet_key, vet_page, vet_take_in

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)

vet_page.register(app)
vet_take_in.register(app)
vet_key.register(app)
vet_agreement.register(app)
