"""The command line's front door: finds the command, runs it, and says errors in plain words."""

import sys
from importlib import import_module

import click

from stockroom.errors import BadFileError, BookError, StockroomError, UsageError, nearest

# Command: where it lives, and what it is for. A test holds this list against the commands' own help, so that
# `--help` needs to load none of them.
COMMANDS: dict[str, tuple[str, str]] = {
    "demo": ("stockroom.demo.command", "Build the invented shop and show the main job on it."),
    "serve": ("stockroom.web.command", "Open the shop's pages on this machine, or to its network."),
    "new-book": ("book", "Start an empty book."),
    "upgrade-book": ("book", "Bring an older book to this version."),
    "settings": ("book", "Show the shop's settings, or change some."),
    "sites": ("book", "List the sites stock is kept at, or open one more."),
    "check": ("book", "Add the whole book up again and report anything that does not agree."),
    "deeds": ("book", "Show what was done to the book, when, by whom and from where."),
    "backup": ("safekeeping", "Copy the book while it is in use, check the copy, and let old backups go."),
    "restore": ("safekeeping", "Put a backup in the book's place; what is there now is kept beside it."),
    "export-book": ("safekeeping", "Write the whole book as plain CSV files, every column described."),
    "import-book": ("safekeeping", "Make a new book from an exported one; it must come to the same check figure."),
    "copy-book": ("safekeeping", "Copy the book to a new file or a PostgreSQL database, and check the copy."),
    "forget": ("safekeeping", "Remove a customer's name from every ticket; the chain of documents stays whole."),
    "load": ("files", "Load spreadsheets into the book, whole or not at all."),
    "templates": ("files", "Write empty files to fill in, with every column explained."),
    "take-in": ("bench", "Take in a ticket: its materials are set aside."),
    "finish": ("bench", "Finish a ticket, or a job that was never taken in: its materials leave the shelf."),
    "redo": ("bench", "Do a finished ticket again under guarantee: materials, no income."),
    "cancel": ("bench", "Cancel a booked ticket: what was set aside is free again."),
    "tickets": ("bench", "List the booked tickets."),
    "sell": ("counter", "Sell over the counter."),
    "write-off": ("counter", "Write off waste or expired stock, or take something for own use."),
    "offcut": (
        "counter",
        "Keep an offcut: it joins the offcuts, and leaves the sheet unless jobs have drawn it as waste.",
    ),
    "move": ("counter", "Move stock to another site."),
    "send-back": ("counter", "Return goods to a supplier for a credit."),
    "shelf": ("shelf", "Show what is on the shelf, set aside, free and on order."),
    "documents": ("shelf", "List the last documents entered."),
    "undo": ("shelf", "Take back a whole document; it can itself be undone."),
    "run-outs": ("outlook", "Show what runs out, when, and which tickets it holds up."),
    "run-outs-by-site": ("outlook", "Show what runs out at every site, each worked out by itself, side by side."),
    "can-do": ("outlook", "Show how many more of each job the shelf allows."),
    "reorder": ("outlook", "Suggest what to order from each supplier, with the reason for every line."),
    "rehearse": ("outlook", "Replay past weeks to see what stockroom's orders would have done."),
    "reports": ("outlook", "Write the lists as spreadsheets and charts into a folder."),
    "order": ("orders", "Place an order with a supplier."),
    "orders": ("orders", "List the orders of which something is still to come."),
    "order-form": ("orders", "Write a placed order for the supplier: text for an email, CSV or a spreadsheet."),
    "receive": ("orders", "Take in goods against an order, or without one."),
    "end-order": ("orders", "Close an order whose rest will not come."),
    "count-next": ("count_views", "Choose what to count now: where being wrong costs most."),
    "count-sheet": ("counts", "Make a sheet to count by, by shelf place."),
    "count": ("counts", "Enter a counted bin, or a filled-in sheet."),
    "differences": ("counts", "Show how a count sheet differs from the book, and what to count again."),
    "settle": ("counts", "Bring the book to what was counted."),
    "count-report": ("count_views", "Show how true the book has been, why it differed, and which bins drift."),
    "margins": ("margins", "Show what jobs earn, dearest materials first."),
    "what-moved": ("margins", "Explain what moved the margin from one period to another."),
    "alerts": ("margins", "Show jobs that a supplier's rise brought under the floor, and the price to restore."),
    "cut-or-buy": ("margins", "Compare cutting soles from a sheet with buying them cut."),
    "workbook": ("accounts", "Write the accountant's workbook of a period, with its journal and sheets as CSV."),
    "close-period": ("accounts", "Close a month, quarter or year: its figures stand from then on."),
    "periods": ("accounts", "List the closed periods, and the documents that came too late for them."),
    "stock-list": ("accounts", "Write the list of stock on a day, to be counted by hand and signed."),
    "correct-price": ("accounts", "Correct what goods of a delivery cost, once the invoice says otherwise."),
    "account-numbers": ("accounts", "Show the accounts the journal uses, or give them your accountant's numbers."),
    "tax-rates": ("accounts", "Show the tax rates by date, or add one."),
    "lessons": ("lessons", "Show what counts say jobs really use, and answer their proposals."),
}


class Desk(click.Group):
    """The one place where commands are found and errors meet a person."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 -- click's signature
        """Name the commands in the order of a shop's day, not of the alphabet."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002 -- as above
        """Load a command when it is asked for."""
        if cmd_name not in COMMANDS:
            return None
        home = COMMANDS[cmd_name][0]
        module = import_module(home if "." in home else f"stockroom.cli.{home}")
        command: click.Command = getattr(module, cmd_name.replace("-", "_"))
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:  # fmt: skip
        """Find the command; a mistyped one is answered with the nearest."""
        if args and not args[0].startswith("-") and args[0] not in COMMANDS:
            hint = nearest(args[0], COMMANDS) or "See them all: stockroom --help"
            raise UsageError(f"There is no command '{args[0]}'.", fix=hint)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002 -- as above
        """List the commands without loading them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])

    def invoke(self, ctx: click.Context) -> object:
        """Run the command and note in the journal what it did."""
        try:
            answer = self._run(ctx)
        except SystemExit as left:
            _note(ctx, left.code if isinstance(left.code, int) else int(left.code is not None))
            raise
        _note(ctx, 0)
        return answer

    def _run(self, ctx: click.Context) -> object:
        """Run the command; a fault a person can mend is said plainly, with its exit code."""
        try:
            return super().invoke(ctx)
        except StockroomError as error:
            _say(error)
            sys.exit(error.exit_code)
        except OSError as wrong:
            if not wrong.filename:  # not about a file: a closed pipe is click's to end quietly
                raise
            refused = BookError(f"{wrong.filename} can't be used: {wrong.strerror}.", fix="Choose another place.")
            _say(refused)
            sys.exit(refused.exit_code)
        except (ArithmeticError, LookupError, TypeError, ValueError) as wrong:
            damaged = _damage(str(ctx.params.get("place", "")))
            if damaged is None:  # a mistake of the program, not of the book: it is to be seen
                raise
            _say(damaged)
            raise SystemExit(damaged.exit_code) from wrong


@click.group(cls=Desk)
@click.option("--book", "place", envvar="STOCKROOM_BOOK", default="stockroom.sqlite", show_default=True,
              help="The book: a file, or postgresql://…")  # fmt: skip
@click.version_option(package_name="stockroom", message="%(version)s")
@click.pass_context
def cli(ctx: click.Context, place: str) -> None:
    """Keep a shoe-repair shop's consumables: ledger, outlook, orders, counts."""
    ctx.obj = place


def _note(ctx: click.Context, code: int) -> None:
    from stockroom.cli.audit_log import note_command

    note_command(ctx, code)


def _damage(place: str) -> BookError | None:
    """Ask the book itself when something in it makes no sense."""
    from stockroom.flows.book.check import damage

    fault = damage(place)
    if not fault:
        return None
    fix = "Restore the newest backup; keep the damaged file aside. All that is wrong: stockroom check"
    return BookError(f"The book is damaged: {fault}", fix=fix)


def _say(error: StockroomError) -> None:
    if isinstance(error, BadFileError):
        from stockroom.show.problems import problem_lines

        for line in problem_lines(error.problems):
            click.echo(line, err=True)
    click.echo(f"Error: {error.what}", err=True)
    if error.fix:
        click.echo(f"  Fix: {error.fix}", err=True)
