"""The command line's front door: finds the command, runs it, and says errors in plain words."""

import sys
from importlib import import_module

import click

from stockroom.errors import BadFileError, BookError, StockroomError, UsageError, check_text, nearest

# The shop's work, and its commands: where each lives, and what it is for. A test holds this list against the
# commands' own help, so that `--help` needs to load none of them.
GROUPS: dict[str, dict[str, tuple[str, str]]] = {
    "Bench and counter": {
        "take-in": ("bench", "Take in a ticket: its materials are reserved."),
        "change-ticket": ("bench", "Change an open ticket: another choice, size, price, day, name, more or less work."),
        "use": ("bench", "Enter what a ticket has used so far; the rest leaves the shelf when it is finished."),
        "begin": ("work_time", "Begin work on a ticket: its minutes are measured until it is paused or finished."),
        "pause": ("work_time", "Pause work on a ticket; finishing it ends it as well."),
        "finish": ("bench", "Finish a ticket, or a job that was never taken in: its materials leave the shelf."),
        "guarantee": ("bench", "Do a finished ticket's work again under guarantee: materials, no income."),
        "cancel": ("bench", "Cancel an open ticket: what was reserved is available again."),
        "tickets": ("bench", "List the open tickets."),
        "can-take-in": ("bench", "Say whether a job can be taken in: what is missing, and from when."),
        "bench-load": ("work_time", "Set the work promised against the hours open, day by day."),
        "job-minutes": (
            "work_time",
            "Show how long jobs take at the bench: as stated, as measured, and what is reckoned with.",
        ),
        "make-recipe": ("bench", "Make a recipe of finished tickets."),
        "jobs-possible": ("outlook", "Show how many more of each job the stock allows."),
        "sell": ("counter", "Sell over the counter."),
        "shelf-price": ("counter", "Change a shelf price from a day on."),
        "customer-return": ("counter", "Enter a customer's return, into stock or as waste."),
        "receipt": ("counter", "Write a customer's receipt of a sale or a finished ticket, with its tax."),
        "parcels": ("parcels", "List the parcels to send."),
        "sent": ("parcels", "Enter that a parcel was sent."),
        "postage": ("parcels", "Show the price list of the post, or add a kind of parcel."),
        "services": ("machines", "List what is to be done to your machines, what is due first."),
        "serviced": ("machines", "Enter that a service of a machine was done; its hours and days are counted anew."),
        "keep-part": ("counter", "Keep a part taken off a job to be used again: it joins the shelf at no cost."),
        "offcut": (
            "offcuts",
            "Store an offcut: it joins the offcuts, and leaves the sheet unless jobs have drawn it as waste.",
        ),
        "offcuts": ("offcuts", "List the offcuts kept, by their numbers."),
        "trim-offcut": ("offcuts", "Enter that an offcut is smaller than it was, or gone; what is missing is waste."),
        "lend": (
            "lending",
            "Lend something out, such as shoe trees for drying: it costs nothing and stays in the book.",
        ),
        "lent-back": ("lending", "Enter that something lent is back, or lost."),
        "lent": ("lending", "List what is lent out, the first to be back first."),
        "documents": ("shelf", "List the last documents entered."),
        "undo": ("shelf", "Undo a whole document; the undo can itself be undone."),
    },
    "Shelf and counts": {
        "shelf": ("shelf", "Show what is on hand, reserved, available and on order."),
        "write-off": ("counter", "Write off waste or expired stock, or take something for own use."),
        "move": ("counter", "Move stock to another site."),
        "count-next": ("counts", "Choose what to count now: where being wrong costs most."),
        "count-sheet": ("counts", "Make a count sheet, by location."),
        "count": ("counts", "Enter a counted item, or a filled-in count sheet."),
        "count-offcuts": ("offcuts", "Count offcuts by their numbers: those missing are written off."),
        "differences": ("counts", "Show the count differences of a sheet, and what to count again."),
        "post-count": ("counts", "Post a count: from then on the book says what was counted."),
        "count-report": (
            "counts",
            "Show the accuracy of the stock record, why it differed, and which items drift.",
        ),
        "usage": ("lessons", "Show what jobs actually use, going by the counts, and answer their proposals."),
    },
    "Ordering": {
        "run-outs": ("outlook", "Show what runs out, when, and which tickets are at risk."),
        "run-outs-by-site": ("outlook", "Show what runs out at every site, each worked out by itself, side by side."),
        "events-ahead": ("outlook", "Show the events ahead, and what each is expected to bring."),
        "reorder": ("outlook", "Suggest what to order from each supplier, with the reason for every line."),
        "order": ("orders", "Place an order with a supplier."),
        "orders": ("orders", "List the orders of which something is outstanding."),
        "order-form": ("orders", "Write a placed order for the supplier: text for an email, CSV or a spreadsheet."),
        "receive": ("orders", "Receive goods against an order, or without one."),
        "close-order": ("orders", "Close an order of which no more will come."),
        "send-back": ("counter", "Return goods to a supplier for a credit."),
        "may-go-back": ("counter", "List what may go back to suppliers, and until when, the first last day first."),
        "stock-or-delays": ("outlook", "Weigh stock against delayed jobs over a year, and see where you stand."),
        "year-ahead": (
            "outlook",
            "Say what the orders of a year are expected to come to, by month and supplier, for you and the bank.",
        ),
        "back-test": ("outlook", "Back-test past weeks: see what stockroom's orders would have done."),
        "forecast-report": ("outlook", "Show the accuracy of the forecast: what was said on past days, and what came."),
        "reports": ("outlook", "Write the lists as spreadsheets and charts into a folder."),
    },
    "Money": {
        "margins": ("margins", "Show what jobs earn, dearest materials first."),
        "margin-changes": ("margins", "Explain what changed the margin from one period to another."),
        "margin-alerts": (
            "margins",
            "Show jobs that a supplier's rise brought below the minimum margin, and the price that restores it.",
        ),
        "cut-or-buy": ("margins", "Compare cutting soles from a sheet with buying them cut."),
        "outline": (
            "offcuts",
            "Give the outline of your soles, to lay out sheets and fit offcuts by; or see what is used.",
        ),
        "correct-price": ("accounts", "Correct what goods of a delivery cost, once the invoice says otherwise."),
        "workbook": ("accounts", "Write the accountant's workbook of a period, with its journal and sheets as CSV."),
        "stock-list": ("accounts", "Write the list of stock on a day, to be counted by hand and signed."),
        "close-period": ("accounts", "Close a month, quarter or year: its figures stand from then on."),
        "periods": ("accounts", "List the closed periods, and the documents that came too late for them."),
        "account-numbers": ("accounts", "Show the accounts the journal uses, or give them your accountant's numbers."),
        "tax-rates": ("accounts", "Show the tax rates by date, or add one."),
    },
    "The book": {
        "demo": ("stockroom.demo.command", "Build the invented shop and show the main job on it."),
        "serve": ("stockroom.web.command", "Open the shop's pages on this machine, or to its network."),
        "shortcut": ("stockroom.web.command", "Write a shortcut that opens the shop's pages at a double click."),
        "new-book": ("book", "Start an empty book."),
        "templates": ("files", "Write empty files to fill in, with every column explained."),
        "add": ("lists", "Add a material, supplier, offer, job, recipe line, closure, substitute and so on."),
        "change": ("lists", "Change what a list says, or show it."),
        "replace": ("lists", "Let a material stand in for another: its past counts, recipes take the new one."),
        "remove": (
            "lists",
            "Take something out of a list that nothing in the book names, such as a closure that was called off.",
        ),
        "load": ("files", "Load spreadsheets into the book, whole or not at all."),
        "settings": ("book", "Show the shop's settings, or change some."),
        "sites": ("book", "List the sites stock is kept at, or open one more."),
        "check": ("book", "Add the whole book up again and report anything that does not agree."),
        "log": ("book", "Show the activity log: what was done to the book, when, by whom and from where."),
        "backup": ("safekeeping", "Copy the book while it is in use, check the copy, and let old backups go."),
        "restore": ("safekeeping", "Put a backup in the book's place; what is there now is kept beside it."),
        "export-book": ("safekeeping", "Write the whole book as plain CSV files, every column described."),
        "import-book": ("safekeeping", "Make a new book from an exported one; it must come to the same check figure."),
        "copy-book": ("safekeeping", "Copy the book to a new file or a PostgreSQL database, and check the copy."),
        "upgrade-book": ("book", "Bring an older book to this version."),
        "forget": ("safekeeping", "Remove a customer's name from every ticket; the ledger's numbering is unbroken."),
    },
}
COMMANDS = {name: about for commands in GROUPS.values() for name, about in commands.items()}
OLDER = {  # what commands were called before: scripts go on, and the list shows the new names only
    "alerts": "margin-alerts",
    "can-do": "jobs-possible",
    "deeds": "log",
    "end-order": "close-order",
    "lessons": "usage",
    "order-paper": "order-form",
    "papers": "documents",
    "redo": "guarantee",
    "rehearse": "back-test",
    "settle": "post-count",
    "what-moved": "margin-changes",
}


class Desk(click.Group):
    """The one place where commands are found and errors meet a person."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 -- click's signature
        """Name the commands by the shop's work, not by the alphabet."""
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
        """Find the command, by its older name too; a mistyped one is answered with the nearest.

        Raises
        ------
        UsageError
            If there is no such command; the nearest is named.
        """
        for word in args:
            if "\0" in word:  # no shell hands one on, but a program that drives the shop may
                check_text(word)
        if args:
            args = [OLDER.get(args[0], args[0]), *args[1:]]
        if args and not args[0].startswith("-") and args[0] not in COMMANDS:
            hint = nearest(args[0], COMMANDS) or "See them all: stockroom --help"
            raise UsageError(f"There is no command '{args[0]}'.", fix=hint)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002 -- as above
        """List the commands by the shop's work, without loading them."""
        for work, commands in GROUPS.items():
            with formatter.section(work):
                formatter.write_dl([(name, text) for name, (_, text) in commands.items()])

    def invoke(self, ctx: click.Context) -> object:
        """Run the command and note in the activity log what it did."""
        from stockroom.cli.desk import note_command

        try:
            answer = self._run(ctx)
        except SystemExit as left:
            note_command(ctx, left.code if isinstance(left.code, int) else int(left.code is not None))
            raise
        note_command(ctx, 0)
        return answer

    def _run(self, ctx: click.Context) -> object:
        """Run the command; a fault a person can put right is said plainly, with its exit code."""
        try:
            return super().invoke(ctx)
        except StockroomError as error:
            _say(error)
            sys.exit(error.exit_code)
        except click.NoSuchOption as wrong:  # an option's older name is understood, not offered
            shown = {name for option in wrong.ctx.command.params for name in option.opts} if wrong.ctx else set()
            near = [name for name in wrong.possibilities or () if name in shown | {"--help"}]
            raise click.NoSuchOption(wrong.option_name, possibilities=near, ctx=wrong.ctx) from wrong
        except OSError as wrong:
            if not wrong.filename:  # not about a file: a closed pipe is click's to end quietly
                raise
            unusable = BookError(f"{wrong.filename} can't be used: {wrong.strerror}.", fix="Choose another place.")
            _say(unusable)
            sys.exit(unusable.exit_code)
        except UnicodeEncodeError as wrong:  # half of a character, as bytes typed or pasted can leave it
            refused = UsageError("A text holds a character that can't be saved.", fix="Type it again without pasting.")
            _say(refused)
            raise SystemExit(refused.exit_code) from wrong
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
