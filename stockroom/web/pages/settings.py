"""Settings, passcodes, what was refused at the door, and what is to be minded in store."""

import re
from collections.abc import Callable, Mapping
from decimal import Decimal

from flask import Blueprint, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.errors import UsageError
from stockroom.flows.bench.shelf import storage
from stockroom.flows.book import audit_log
from stockroom.flows.book.opening import change_settings, changed, keep_passcode
from stockroom.phrases import as_phrase, joined, phrase
from stockroom.show.formats import formats_of
from stockroom.stock.shop import WEEKDAYS, in_words, is_figure, setting_name, setting_options, shown_settings
from stockroom.web import access, guard, typed
from stockroom.web.access import ROLES, may, set_passcode
from stockroom.web.audit_log import TYPED
from stockroom.web.beside import Checks, Faults, faults_of, told
from stockroom.web.site import role, say, shop, site
from stockroom.web.words import language, words

pages = Blueprint("settings", __name__)


def _(text: str) -> str:
    """Mark a text for the catalogues; the page says it in the reader's language."""
    return text


# What the page puts together, by the names books keep; a setting named nowhere stands under the last heading.
_GROUPS = (
    (_("The shop"), ("name", "receipt_heading", "start", "open_weekdays", "locale", "currency", "currency_digits")),
    (
        _("Tax and prices"),
        (
            "tax_registered",
            "tax_rate",
            "prices_include_tax",
            "card_fee",
            "bench_hour_rate",
            "margin_floor",
            "price_step",
            "price_ending",
        ),
    ),
    (
        _("Orders"),
        (
            "held_up_job_cost",
            "held_up_day_cost",
            "holding_rate",
            "cash_limit",
            "review_days",
            "outlook_weeks",
            "forecast_models",
            "use_learnt",
        ),
    ),
    (_("Stock and counts"), ()),
)
_PERCENT = {
    "tax_rate", "card_fee", "margin_floor", "holding_rate", "idle_keeps", "selling_cost",
    "cut_a", "cut_b", "tolerance_a", "tolerance_b", "tolerance_c",
}  # fmt: skip
_MONEY = {"held_up_job_cost", "held_up_day_cost", "cash_limit", "bench_hour_rate", "price_step", "price_ending"}
_IN = {
    "idle_days": _("days"), "review_days": _("days"), "outlook_weeks": _("weeks"), "flammable_limit_l": _("litres"),
    "counts_a_year_a": _("counts a year"), "counts_a_year_b": _("counts a year"),
    "counts_a_year_c": _("counts a year"),
}  # fmt: skip
_SAID_ALREADY = re.compile("per ?cent|Prozent")  # names that tell their unit themselves
_SAMPLE = 1234.0  # of the currency
_NEWEST = 20  # lines shown, the last one first


@pages.get("/settings")
@may(access.OWNER)
def settings() -> str:
    """Show every setting, the passcodes that are set, the newest refusals, and what was done last."""
    return _page(_shown(), {})


def _page(shown: Mapping[str, str], faults: Faults) -> str:
    return render_template(
        "settings.html",
        groups=_grouped(shown),
        faults=faults,
        roles=ROLES,
        weekdays=WEEKDAYS,
        kept=site().passcodes.read(),
        refusals=site().log.newest()[:_NEWEST],
        lines=audit_log.newest(site().book, _NEWEST)[::-1],
        typed=TYPED,
    )


@pages.post("/settings")
@may(access.OWNER)
def change() -> Response | tuple[str, int]:
    """Change settings, all or none."""
    typed_over = _changes()
    if faults := faults_of(_checks(typed_over)):
        return _page(_shown() | typed_over, faults), 400
    changes = {name: _kept(name, text) for name, text in typed_over.items()}
    if changes:
        change_settings(site().book, changes, at=site().now(), who=role())
        say(words("Changed: %(names)s.", names=joined(map(in_words, changes), ", ")))
    return go(url_for("settings.settings"), 303)


@pages.post("/settings/check")
@may(access.OWNER)
def check() -> Response:
    """Say to the form's script what is wrong so far."""
    return told(faults_of(_checks(_changes())))


def _changes() -> dict[str, str]:
    """Give the settings that were typed over."""
    before = _shown()
    asked = {
        name: " ".join(request.form.getlist(f"set:{name}")).strip() for name in before if f"set:{name}" in request.form
    }
    return {name: text for name, text in asked.items() if text != before[name]}


def _checks(changes: Mapping[str, str]) -> Checks:
    def check_of(name: str, text: str) -> Callable[[], object]:
        return lambda: changed(shop(), {name: _kept(name, text)})

    return {f"set:{name}": check_of(name, text) for name, text in changes.items()}


def _grouped(shown: Mapping[str, str]) -> list[tuple[str, list[tuple[str, str, str, str, tuple[str, ...]]]]]:
    """Give every setting under its heading: its name, label, unit, text, and what it is one of."""
    homes = {name: heading for heading, names in _GROUPS for name in names}
    last = _GROUPS[-1][0]
    found: dict[str, list[tuple[str, str, str, str, tuple[str, ...]]]] = {heading: [] for heading, _ in _GROUPS}
    for name, text in shown.items():
        kept = setting_name(name)
        label = str(in_words(name))
        unit = _unit(kept)
        if _SAID_ALREADY.search(words(label)) or words(unit).casefold() in words(label).casefold():
            unit = ""
        row = (name, label, unit, text, setting_options(name))
        found[homes.get(kept, last)].append(row)
    return list(found.items())


def _unit(kept: str) -> str:
    """Say what a setting is given in; of the locale what it means."""
    if kept == "locale":
        return _written_so()
    return "%" if kept in _PERCENT else shop().currency if kept in _MONEY else words(_IN[kept]) if kept in _IN else ""


def _written_so() -> str:
    """Name the shop's language and country, and show how they write."""
    from babel import Locale  # noqa: PLC0415 -- only here is a locale told to people

    write = formats_of(shop())
    name = Locale.parse(write.locale.replace("-", "_")).get_display_name(language())
    return f"{name}: {write.round_money(_SAMPLE)}, {write.day(site().now().date())}"


_DAY = re.compile("|".join(WEEKDAYS))


def _shown() -> dict[str, str]:
    """Write every setting as the reader types it: days of the week in his language, figures with his mark."""
    found = shown_settings(shop())
    found |= {name: typed.shown(Decimal(text)) for name, text in found.items() if text and is_figure(name)}
    return found | {name: _DAY.sub(lambda day: words(day[0]), found[name]) for name in ("open_weekdays", "open_hours")}


def _kept(name: str, text: str) -> str:
    """Read what was typed into a setting's own text; a figure that could be thousands is asked for again."""
    return typed.marked(text) if is_figure(name) else text


@pages.post("/settings/passcode")
@may(access.OWNER)
def passcode() -> Response:
    """Set a role's passcode, or close the role; the owner's own can be changed, not removed."""
    who, chosen = typed.field("role"), request.form.get("passcode", "")
    if who not in ROLES:
        raise UsageError("There is no such role.", fix="Choose one from the list.")
    if not chosen and who == "owner":
        raise UsageError("The owner's passcode can't be empty.", fix="Type a new one.")
    if who != "owner" and "owner" not in site().passcodes.read():
        raise UsageError("The owner needs a passcode first.", fix="Set the owner's, then the others.")
    if chosen:
        set_passcode(site().book, who, chosen)
    else:
        keep_passcode(site().book, who, "")
    if who == "owner" and role() == "owner":
        access.sign_in("owner", site().passcodes)
    guard.note(phrase("passcode of %(role)s set" if chosen else "passcode of %(role)s removed", role=as_phrase(who)))
    say(words("The passcode of %(role)s is changed.", role=words(who)))
    return go(url_for("settings.settings"), 303)


@pages.get("/hazards")
@may(access.ANYONE)
def hazards() -> str:
    """Show what is to be minded in store."""
    return render_template("hazards.html", found=storage(site().book))
