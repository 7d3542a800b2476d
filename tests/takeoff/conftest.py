"""Files as a spreadsheet would write them."""

import io

import pytest
from openpyxl import Workbook


@pytest.fixture
def xlsx():
    """Make an XLSX file of rows, and of further sheets by title."""

    def make(rows, **more):
        book = Workbook()
        sheet = book.active
        sheet.title = "Marks"
        for row in rows:
            sheet.append(list(row))
        for title, others in more.items():
            extra = book.create_sheet(title)
            for row in others:
                extra.append(row)
        out = io.BytesIO()
        book.save(out)
        return out.getvalue()

    return make
