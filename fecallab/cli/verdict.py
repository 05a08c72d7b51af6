"""What vets have said: typed in from a message, listed, taken back; plans in it read over by the keeper."""

from __future__ import annotations

import typer

from fecallab.cli import verdict_add, verdict_list, verdict_plan

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)

verdict_add.register(app)
verdict_list.register(app)
verdict_plan.register(app)
