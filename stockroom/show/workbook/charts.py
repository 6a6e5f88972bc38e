"""Pictures of the period: margins ranked, what moved, and what key materials cost."""

from dataclasses import replace

from stockroom.margins.accounts import Accounts
from stockroom.margins.income import Group
from stockroom.show.charts.margins import margin_chart, price_chart, waterfall_chart
from stockroom.show.formats import formats_of
from stockroom.show.workbook_page import Page, WorkbookSheet, job_of


def _named(accounts: Accounts) -> list[Group]:
    return [replace(group, name=job_of(accounts, group.name)) for group in accounts.margins]


def _fill(accounts: Accounts) -> Page:
    formats = formats_of(accounts.shop)
    pictures = [margin_chart(_named(accounts), formats, say=formats.say)] if accounts.margins else []
    pictures += [waterfall_chart(accounts.moved, formats, say=formats.say)] if accounts.moved else []
    pictures += [price_chart(accounts.prices, formats, say=formats.say)] if accounts.prices else []
    return Page(columns=(), rows=(), pictures=tuple(pictures))


SHEET = WorkbookSheet(name="Charts", place=170, fill=_fill)
