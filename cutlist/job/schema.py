"""The JSON Schema of the job file and of the stock file, for editors. Made from the keys the reader goes by."""

from __future__ import annotations

from cutlist.job.job_keys import JOB
from cutlist.job.kinds import Schema
from cutlist.job.records import Keys
from cutlist.job.stock_keys import STOCK

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schema_job() -> Schema:
    """Of the job file. It knows keys and forms; names, units and places only the reader checks."""
    return _published(JOB, "evenlead job file")


def schema_stock() -> Schema:
    """Of the stock file."""
    return _published(STOCK, "evenlead stock file")


def _published(keys: Keys, title: str) -> Schema:
    return {"$schema": DIALECT, **keys.schema(), "title": title}
