"""evenlead schema: the JSON Schemas that editors and other programs go by."""

from __future__ import annotations

import json

import click


@click.command()
@click.argument("what", type=click.Choice(["job", "stock", "plan"]))
def schema(what: str) -> int:
    """Print the JSON Schema of the job file, the stock file or plan.json."""
    if what == "plan":
        from cutlist.sheets.plan_json import plan_schema

        found = plan_schema()
    else:
        from cutlist.job.schema import schema_job, schema_stock

        found = schema_job() if what == "job" else schema_stock()
    click.echo(json.dumps(found, indent=2, ensure_ascii=False))
    return 0
