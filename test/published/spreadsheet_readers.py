"""Reads tables as others do: Python's csv module and openpyxl. A list of jobs as JSON on standard input, a list of answers on standard output.

A job is {"read": "csv", "text": TEXT, "delimiter": ","}, answered by its rows, or {"read": "xlsx", "base64": BYTES}, answered by its sheets:
name, frozen cell, column widths, and each row's cells as [type, value, number format], dates as ISO 8601.
"""

import base64
import csv
import datetime
import io
import json
import sys


def csv_rows(job):
    # RFC 4180 has no line breaks but CRLF: newline="" leaves those inside quotes as they are.
    return list(csv.reader(io.StringIO(job["text"], newline=""), delimiter=job["delimiter"], strict=True))


def cell(it):
    value = it.value
    if isinstance(value, (datetime.datetime, datetime.date)):
        value = value.isoformat()
    return [it.data_type, value, it.number_format]


def workbook(job):
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(base64.b64decode(job["base64"])))
    return [
        {
            "name": sheet.title,
            "frozen": sheet.freeze_panes,
            "widths": [dimension.width for _, dimension in sorted(sheet.column_dimensions.items())],
            "rows": [[cell(it) for it in row] for row in sheet.iter_rows()],
        }
        for sheet in book.worksheets
    ]


ASKED = {"csv": csv_rows, "xlsx": workbook}
json.dump([ASKED[job["read"]](job) for job in json.load(sys.stdin)], sys.stdout)
