"""What the pages say where the rooms below speak to somebody at the command line: what to tap or fill in instead.

By the English pattern; a page's words may leave facts out, never name others. A test holds that no text a page can
come to say names a command or an option, here or anywhere.
"""


def _(text: str) -> str:
    """Mark a text for the catalogues."""
    return text


AT_THE_PAGE = {
    "%(hint)s To open it: stockroom sites --add '%(name)s'": _("%(hint)s The settings say which sites there are."),
    "Add it, such as --size 'EU 42'.": _("Choose the size."),
    'Add packs, or state what packs weigh: stockroom change offer … "pack weight=2 kg"': _(
        "Add packs, or say in the list of offers what a pack weighs."
    ),
    "Another amount than the recipe's: --used '%(typed)s'.": _(
        "Type another amount than the recipe's beside its line."
    ),
    "Back-test %(weeks)s weeks at most (--weeks).": _("Back-test %(weeks)s weeks at most."),
    "Begin one: stockroom begin TICKET": _("Open a ticket and tap 'Begin'."),
    "Check the amount. If it is right, say so: --anyway, or 'Enter it all the same' on a page.": _(
        "Check the amount. If it is right: 'Enter it all the same'."
    ),
    "Choose another piece: stockroom offcuts": _("Choose another piece."),
    "Choose another piece: stockroom offcuts. If it was cut all the same, say so: --anyway.": _(
        "Choose another piece. If it was cut all the same: 'Enter it all the same'."
    ),
    "Copy the backup to a new one: --book %(backup)s copy-book": _(
        "Ask whoever keeps the computer to copy the backup into a new database."
    ),
    "Correct or leave out these items; to enter them all the same, add --yes.": _(
        "Correct or leave out these items; or 'Enter it all the same'."
    ),
    "Count again: stockroom count --sheet '%(sheet)s' MATERIAL=AMOUNT; or post as counted: --confirmed.": _(
        "Count them again; or tick those to be posted as counted."
    ),
    "Count it a few more times; see: stockroom usage --all": _("Count it a few more times."),
    "Cut from a sheet are: %(known)s. Name the line: --offcut 'LINE=NUMBER'.": _(
        "Cut from a sheet are: %(known)s. Choose the piece beside the line."
    ),
    "Fill it in, such as 2026-02-07 17:55, so that it is compared with the book of that moment; or say it for the "
    "whole sheet: stockroom count SHEET --at 2026-02-07T17:55.": _(
        "Fill it in, such as 2026-02-07 17:55, so that it is compared with the book of that moment."
    ),
    "For goods sent back: stockroom send-back.": _("For goods sent back there is a form of its own on this page."),
    "Give the document of a sale or a finish: stockroom documents": _(
        "Choose a sale or finished work among the documents."
    ),
    "If it is another delivery, say so: --anyway, or 'Enter it all the same' on a page.": _(
        "If it is another delivery: 'Enter it all the same'."
    ),
    "Give --supplier and --credit, or --delivery for what may go back: stockroom may-go-back": _(
        "Give the supplier and the credit, or choose a delivery of which something may go back."
    ),
    "Send back no more, or say what the supplier credits all the same: --credit.": _(
        "Send back no more, or say what the supplier credits all the same."
    ),
    "If it was, give the time: --minutes 25.": _("If it was, type the minutes."),
    "It takes: %(known)s. Something else: --add MATERIAL=AMOUNT.": _(
        "It takes: %(known)s. Something else goes under 'Beyond the recipe'."
    ),
    "Make a new sheet (stockroom count-sheet), or type in what was counted: stockroom count …": _(
        "Print a new count sheet, or type what was counted at its location."
    ),
    "Name another folder with --keep.": _("Name another folder."),
    "Name lines or materials of the ticket, or --pairs done.": _(
        "Tick lines of the ticket, name a material, or say how many pairs are done."
    ),
    "Name the customer's ticket (--ticket), or for how many days (--days).": _(
        "Give the customer's ticket, or for how many days."
    ),
    "Name the offcuts of this very sheet. If it is right, say so: --anyway.": _(
        "Name the offcuts of this very sheet. If it is right: 'Enter it all the same'."
    ),
    "Name what is sold: MATERIAL=AMOUNT.": _("Choose what is sold."),
    "Nothing was entered. Give each entry a key of its own (--once), or none; on a page, open it anew.": _(
        "Nothing was entered. Open the page anew and enter it again."
    ),
    "Recipes still name %(old)s, such as that of %(job)s. To let them all take %(new)s: stockroom replace %(old)s "
    "%(new)s": _("Recipes still name %(old)s, such as that of %(job)s: change them in the list of recipes."),
    "Run: stockroom check": _("Check the book under 'Safekeeping'."),
    "Run: stockroom check. If it finds nothing, this is a fault of the program: keep the old files.": _(
        "Check the book under 'Safekeeping'. If nothing is found, this is a fault of the program: keep the old files."
    ),
    "Say it in the note, such as --note 'Resew a bag strap'.": _("Say it in the note, such as 'Resew a bag strap'."),
    "Say what becomes of it: --back LINE (or all) for what goes back on the shelf, --wasted for the rest.": _(
        "Say of each line whether it goes back on the shelf or is wasted."
    ),
    "Say what is to be otherwise, such as --promised or --price.": _("Change a field first, such as the day or price."),
    "Say which, such as --with colour=black.": _("Choose one."),
    "See the last ones: stockroom documents": _("See the last ones under 'Documents'."),
    "See the open tickets: stockroom tickets": _("See the open ones under 'Tickets'."),
    "See them all: stockroom change %(list)s": _("Choose it from the list."),
    "See what is on order: stockroom orders. Goods no order asked for: stockroom receive --from SUPPLIER": _(
        "See what is on order under 'Orders'. Goods no order asked for have a form of their own there."
    ),
    "See: stockroom differences '%(sheet)s'": _("See the count's differences."),
    "See: stockroom documents": _("See the documents."),
    "See: stockroom documents. Without the sale's number the shelf price is paid back.": _(
        "See the documents. Without the sale's number the shelf price is paid back."
    ),
    "See: stockroom shelf": _("See the shelf."),
    "See: stockroom usage --all": _("See 'Actual usage'."),
    "See: %(command)s": _("See the suggested orders."),
    "Start from the list of suggested orders that 'stockroom reports' writes, and change its packs.": _(
        "Start from the list of suggested orders as a file, and change its packs."
    ),
    "Store one with its size first: stockroom offcut SHEET KEPT_AS '60 x 40 cm'": _(
        "Keep one with its size first, such as 60 x 40 cm."
    ),
    "To end that: stockroom pause %(number)s": _("To end that, tap 'Pause' at ticket %(number)s."),
    "To have it back: stockroom undo %(document)s": _("To have it back, undo document %(document)s."),
    "To list them: stockroom settings": _("See the settings."),
    "To put it there all the same, name the one that goes: --over '%(name)s'": _(
        "To put it there all the same, type the name of the shop whose book goes: %(name)s"
    ),
    "To replace it: stockroom count --sheet '%(sheet)s' --drop %(material)s, then enter it again.": _(
        "To replace it, take it off the count first, then enter it again."
    ),
    "To undo a sale: stockroom undo.": _("To undo a sale, undo its document."),
    "Undo it and enter it with --price.": _("Undo it and enter it with its price."),
    "Was it entered already? See stockroom documents. If more came: stockroom receive --from %(supplier)s": _(
        "Was it entered already? See the documents. If more came, receive it as goods no order asked for."
    ),
}
TYPED_THERE = {  # said at the command line alone, though a page could reach the function
    (
        "If %(leave)s of ten customers who must wait don't come back, each worth %(worth)s a year, a delayed job costs "
        "you about %(cost)s; it is counted at %(now)s now. To count it so: stockroom settings "
        "cost_of_delayed_job=%(figure)s"
    ),
    (
        "If %(leave)s of ten customers who must wait don't come back, each worth %(worth)s a year, a delayed job "
        "costs you about %(cost)s: it is counted so already."
    ),
    "Then: stockroom settings %(settings)s",
}
