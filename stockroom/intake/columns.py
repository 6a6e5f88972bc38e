"""What a file may hold: kinds of file, their columns, and the types of their cells."""

from dataclasses import dataclass
from datetime import time
from enum import StrEnum

from stockroom.phrases import phrase
from stockroom.stock.counts import CountReason
from stockroom.stock.materials import FAMILIES, Purpose
from stockroom.stock.moves import WRITTEN_OFF
from stockroom.stock.recipes import Per, Sizing

BROUGHT_BACK = ("no", "into stock", "wasted")
README = "read me"  # the sheet of a template that describes the columns; never loaded


class Type(StrEnum):
    """How a cell is read; the value is its plain description."""

    TEXT = "text"
    ANY = "what the setting asks for"
    CODE = "a code: letters, digits and - . _ / + #, without spaces"
    REFERENCE = "a code that is already known"
    CHOICE = "one of the words listed"
    NUMBER = "a number"
    WHOLE = "a whole number"
    MONEY = "money in whole currency, such as 12.50, without the currency's sign"
    PERCENT = "per cent, such as 21 or 21%"
    EXCHANGE = "two amounts, such as 1 l = 1.2 kg"
    SHARE = "a share of jobs: 1/3, 0.33 or 33%"
    DATE = "a day, such as 2026-01-31, or as your country writes it"
    MOMENT = "a day, with a time if known: 2026-01-31 14:30"
    TIME = "a time of day, such as 16:00"
    WEEKDAYS = "weekdays, such as Mon Wed Fri"
    YES_NO = "yes or no"
    UNIT = "a unit: dm2 cm2 m2 sq ft, m cm mm ft in, ml l, g kg oz lb, piece pair dozen gross"
    QUANTITY = "an amount with its unit, such as 2.5 kg"
    BRIDGE = "two amounts that are the same stuff, such as 1 l = 860 g"
    THICKNESS = "a thickness in mm, iron or oz, such as 4 mm"
    SIZE = "a shoe size with its system, such as EU 42 or UK 8.5"
    SIZES = "the same shoe size in each system you use, such as EU 42 = UK 8"
    PAIRS = "names with values, such as sole=bend; colour=black"
    BREAKS = "packs with the price from there on, such as 10=4.20; 20=3.95"


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A declared column: what its header says and what its cells mean."""

    name: str  # what the readers know it by; files headed so go on loading
    meaning: str
    header: str = ""  # what templates head it with, where that differs
    type: Type = Type.TEXT
    required: bool = False  # the header must be there and no cell may be blank
    headed: bool = False  # the header must be there, though cells may be blank
    example: str = ""
    choices: tuple[str, ...] = ()
    refers_to: str = ""  # whose codes it repeats: a kind of file, or "stock" for materials and their groups
    above_zero: bool = False  # numbers are never below zero; this one isn't zero either
    finer: str = ""  # what to do about money finer than the smallest coin, where a pack's price is no answer
    at: time = time()  # the time of a moment given as a day alone
    past: bool = False  # a day on which something has happened; moments always are

    @property
    def title(self) -> str:
        """What people read for it."""
        return self.header or self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class FileKind:
    """A kind of file: the stem of its name, what it holds, and its columns."""

    stem: str
    what: str
    columns: tuple[Field, ...]
    identity: str  # what makes a row the same row when a file is loaded again
    called: str = ""  # what templates call it, where that differs from the stem; files of either name load

    @property
    def title(self) -> str:
        """What people read for it."""
        return self.called or self.stem

    @property
    def headers(self) -> dict[str, str]:
        """Give every header a column may have, and the column's name."""
        return {header: column.name for column in self.columns for header in (column.title, column.name)}

    def column(self, name: str) -> Field:
        """Give a column by its name."""
        return next(column for column in self.columns if column.name == name)


def plain_header(text: str) -> str:
    """Bring a header to the form in which headers are compared: 'Size_From ' is 'size from'."""
    return " ".join(text.replace("_", " ").casefold().split())


_FINER = phrase("Give the cost of more of them together: 4.20 here, and 1000 under 'usual cost for'.")

SHOP = FileKind(
    stem="shop",
    what="The shop's own settings, one a row. Settings that are left out keep their defaults.",
    identity="the setting",
    columns=(
        Field(name="setting", meaning="Name of the setting.", required=True, example="open_weekdays"),
        Field(name="value", meaning="Its value.", type=Type.ANY, example="Tue Wed Thu Fri Sat"),
    ),
)

MATERIALS = FileKind(
    stem="materials",
    what="What lies on the shelf, one a row. Sizes and colours of the same thing are rows that share a group.",
    identity="the code",
    columns=(
        Field(name="code", meaning="Your short code.", type=Type.CODE, required=True, example="SOLE-RUB-42"),
        Field(name="name", meaning="Its name.", required=True, example="Rubber half soles, EU 42-43"),
        Field(name="family", meaning="What sort of thing it is.", type=Type.CHOICE, required=True,
               example="pre-cut soles", choices=FAMILIES),
        Field(name="unit", meaning="Unit it is shown and priced in; decides whether it is kept by area, length, "
              "volume, mass or count.", type=Type.UNIT, required=True, example="pair"),
        Field(name="purpose", header="used for",
              meaning="Used at the bench, sold over the counter, or both. Blank: bench.",
               type=Type.CHOICE, example="bench", choices=tuple(Purpose)),
        Field(name="group", meaning="Code shared by the variants of one thing; recipes may name it.", type=Type.CODE,
               example="SOLE-RUB"),
        Field(name="size from", meaning="Smallest shoe size this variant serves.", type=Type.SIZE, example="EU 42"),
        Field(name="size to", meaning="Largest size it serves. Blank: the same.", type=Type.SIZE, example="EU 43"),
        Field(name="colour", meaning="Colour of this variant.", example="black"),
        Field(name="thickness", meaning="Thickness as stated.", type=Type.THICKNESS, example="6 mm"),
        Field(name="bridge", header="conversion",
              meaning="Conversion to another kind of unit, for stock counted by weight or bought "
              "by weight.", type=Type.BRIDGE, example="1 pair = 180 g"),
        Field(name="sell price", meaning="Shelf price, per unit shown, where it is sold over the counter.",
               type=Type.MONEY, example="6.50"),
        Field(name="tax %", meaning="Its tax rate. Blank: the shop's usual rate.", type=Type.PERCENT, example="21"),
        Field(name="shelf life days", meaning="Shelf life in days from delivery. Blank: unlimited.", type=Type.WHOLE,
               above_zero=True,
               example="365"),
        Field(name="hazards", meaning="Hazard statements of its safety data sheet, as H-codes.", example="H225 H319"),
        Field(name="flammable", meaning="Whether it counts towards your limit of flammable stock. Blank: no.",
               type=Type.YES_NO, example="no"),
        Field(name="place", header="location", meaning="Where it is kept.", example="B2"),
        Field(name="usual cost", meaning="Usual cost before tax (with it where the shop is not registered), per "
              "unit shown, for stock whose cost isn't known.",
               type=Type.MONEY, finer=_FINER, example="3.20"),
        Field(name="usual cost for", meaning="For how many units together the usual cost is, where one costs less than "
               "the smallest coin: 4.20 for 1000 tacks. Blank: 1.", type=Type.WHOLE, above_zero=True, example="1"),
        Field(name="usual a week", meaning="How much is usually sold over the counter in a week, in the unit shown. "
              "The forecast goes by it until the book has seen half a year.", type=Type.NUMBER, example="2"),
        Field(name="active", meaning="Whether it is still in use. Blank: yes.", type=Type.YES_NO, example="yes"),
        Field(name="extra", header="counting facts",
              meaning="Facts for counting, such as the weight of the empty tin.", type=Type.PAIRS,
               example="tare=85 g"),
        Field(name="other words", meaning="What else people call it, to find it by.", example="stick-on soles"),
        Field(name="least offcut", meaning="Smallest piece of a sheet that is worth keeping; what is left of a cut and "
              "smaller is waste. Blank: 10 x 5 cm.", example="15 x 10 cm"),
        Field(name="like", meaning="A material it is expected to sell like, while it is new. Blank: those of its "
              "family that are most like it.", type=Type.CODE, example=""),
        Field(name="replaces", meaning="The material it is used and sold instead of; what is known of that one counts "
              "for it.", type=Type.CODE, example=""),
        Field(name="replaces at", meaning="How much of it does for how much of the one it replaces, such as "
              "1 l = 1.2 kg. Blank: as much.", type=Type.EXCHANGE, example=""),
        Field(name="note", meaning="Anything else.", example="Check that the grain matches."),
    ),
)  # fmt: skip

SUPPLIERS = FileKind(
    stem="suppliers",
    what="Whom you buy from, and the terms of an order, one a row.",
    identity="the code",
    columns=(
        Field(name="code", meaning="Your short code.", type=Type.CODE, required=True, example="NORTH"),
        Field(name="name", meaning="Its name.", required=True, example="Northgate Example Findings"),
        Field(name="lead days", meaning="Lead time: days from order to delivery, as the supplier states them.",
              type=Type.WHOLE, required=True, example="4"),
        Field(name="carriage", meaning="Carriage charged on an order, before tax. Blank: none.", type=Type.MONEY,
               example="8.50"),
        Field(name="carriage free over", meaning="Goods before tax from which carriage is free. Blank: never.",
               type=Type.MONEY, example="150"),
        Field(name="minimum order", meaning="Minimum order value before tax. Blank: none.", type=Type.MONEY,
               example="40"),
        Field(name="order weekdays", meaning="Days on which orders are taken. Blank: Monday to Friday.",
               type=Type.WEEKDAYS, example="Mon Thu"),
        Field(name="cut-off", meaning="Cut-off time for orders of the day.", type=Type.TIME, example="14:00"),
        Field(name="tax %", meaning="Tax rate on its invoices. Blank: the shop's usual rate.", type=Type.PERCENT,
               example="21"),
        Field(name="email", meaning="Where orders go.", example="orders@supplier.example"),
        Field(name="minimum weight", meaning="Least weight of an order's packs. Blank: none.", type=Type.QUANTITY,
               example=""),
        Field(name="note", meaning="Anything else.", example="Closed in August."),
    ),
)  # fmt: skip

OFFERS = FileKind(
    stem="offers",
    what="What suppliers ask for a pack of a material. A new price is a new row with its own day; old rows stay.",
    identity="supplier, material, supplier code, pack and valid from",
    columns=(
        Field(name="supplier", meaning="The supplier, by code or name.", type=Type.REFERENCE, required=True,
               example="NORTH", refers_to="suppliers"),
        Field(name="material", meaning="The material, by code or name.", type=Type.REFERENCE, required=True,
               example="SOLE-RUB-42", refers_to="materials"),
        Field(name="supplier code", meaning="The supplier's own code for the pack.", example="R6-4243"),
        Field(name="pack", meaning="How much is in a pack.", type=Type.NUMBER, required=True, above_zero=True,
               example="10"),
        Field(name="unit", meaning="Unit of the pack. Blank: the material's.", type=Type.UNIT, example="pair"),
        Field(name="pack name", meaning="What the supplier calls the pack.", example="bag of 10 pairs"),
        Field(name="price", meaning="Price before tax, per pack or per 'priced per'.", type=Type.MONEY, required=True,
               example="32.00"),
        Field(name="priced per", meaning="What the price is for, where that isn't the pack, such as 1 kg.",
               type=Type.QUANTITY, example=""),
        Field(name="pack in priced", meaning="The pack in the unit it is priced in, such as 6.5 kg. "
               "Blank: the pack as stated.", type=Type.QUANTITY, example=""),
        Field(name="breaks", header="price breaks", meaning="Lower prices from a number of packs on.", type=Type.BREAKS,
               example="5=30.50; 10=29.00"),
        Field(name="minimum packs", meaning="Minimum order in packs. Blank: 1.", type=Type.WHOLE, above_zero=True,
               example="1"),
        Field(name="multiple", header="sold in multiples of", meaning="Packs that are only sold so many together. "
               "Blank: 1.", type=Type.WHOLE, above_zero=True, example="1"),
        Field(name="pack weight", meaning="What a pack weighs, where the supplier has a minimum weight. Blank: what is "
               "in it, where that is sold by weight.", type=Type.QUANTITY, example=""),
        Field(name="valid from", meaning="First day of the price; one that is still to come is reckoned with.",
               type=Type.DATE, required=True, example="2026-01-01"),
        Field(name="tax %", meaning="Its tax rate. Blank: the supplier's, else the material's.", type=Type.PERCENT,
              example=""),
        Field(name="measured", header="measured on arrival",
              meaning="Whether the pack is nominal and measured on arrival, like a hide. Blank: no.",
               type=Type.YES_NO, example="no"),
        Field(name="return weeks", meaning="Weeks after they came for which unused packs may go back to the supplier. "
               "Blank: none, unless 'return until' names a day.", type=Type.WHOLE, above_zero=True, example=""),
        Field(name="return until", meaning="Last day on which unused packs may go back. Where weeks are given too, the "
               "earlier holds.", type=Type.DATE, example=""),
        Field(name="return cost", header="return cost of a pack", meaning="What sending a pack back costs, such as "
               "carriage. Blank: nothing.", type=Type.MONEY, example=""),
        Field(name="on approval", meaning="Whether only what is kept or used is paid for. Blank: no; goods are paid "
               "for and credited once they go back.", type=Type.YES_NO, example="no"),
    ),
)  # fmt: skip

JOBS = FileKind(
    stem="jobs",
    what="The jobs on your price list, one a row.",
    identity="the code",
    columns=(
        Field(name="code", meaning="Your short code.", type=Type.CODE, required=True, example="HALF-SOLE"),
        Field(name="name", meaning="Its name.", required=True, example="Half soles"),
        Field(name="family", meaning="Jobs that share a season.", example="soling"),
        Field(name="price", meaning="Price of a pair, as charged.", type=Type.MONEY, example="38.00"),
        Field(name="price of one shoe", meaning="Price of a single shoe. Blank: the same as for a pair.",
               type=Type.MONEY, example=""),
        Field(name="tax %", meaning="Its tax rate. Blank: the shop's usual rate.", type=Type.PERCENT, example=""),
        Field(name="bench minutes", meaning="Usual minutes at the bench for a pair.", type=Type.WHOLE, example="35"),
        Field(name="sized", meaning="Whether the ticket must say the shoe size. Blank: no.", type=Type.YES_NO,
               example="yes"),
        Field(name="usual a week", meaning="How many are usually asked for in a week. The forecast goes by it until "
              "the book has seen half a year.", type=Type.NUMBER, example="4"),
        Field(name="active", meaning="Whether it is still offered. Blank: yes.", type=Type.YES_NO, example="yes"),
        Field(name="season", meaning="When it is busy, while its tickets can't tell yet: busy, quiet or shut, or per "
              "cent of the usual, and the months. Blank: as is usual for its family.",
              example="busy Oct-Dec; quiet Jun-Aug"),
        Field(name="like", meaning="A job it is expected to be asked for like, while it is new. Blank: those that are "
              "most like it.", type=Type.CODE, example=""),
    ),
)  # fmt: skip

RECIPES = FileKind(
    stem="recipes",
    what="What a job uses, one material a row. Rows of one job and day are one version; a change is a new version.",
    identity="job, valid from and line",
    columns=(
        Field(name="job", meaning="The job, by code or name.", type=Type.REFERENCE, required=True, example="HALF-SOLE",
               refers_to="jobs"),
        Field(name="valid from", meaning="First day of this version.", type=Type.DATE, required=True,
               example="2026-01-01"),
        Field(name="reference size", meaning="Shoe size the amounts are for, in each system you use. "
               "Needed where a row grows with the shoe; the same on every row of a version, or on its first.",
               type=Type.SIZES, example="EU 42 = UK 8"),
        Field(name="line", meaning="Name of the row, different from the others of its version.", required=True,
               example="sole, rubber"),
        Field(name="choice", meaning="What the customer chooses between. Blank: always used.", example="sole"),
        Field(name="option", meaning="The option that uses this row; the first listed is the usual one.",
               example="rubber"),
        Field(name="material", meaning="A material's code, or a group's: then the variant that fits size and colour. "
               "Blank where an option uses nothing, such as 'old ones kept'.",
               type=Type.REFERENCE, headed=True, example="SOLE-RUB", refers_to="stock"),
        Field(name="amount", meaning="How much is used; 0 or blank for an option that uses nothing.", type=Type.NUMBER,
               headed=True, example="1"),
        Field(name="unit", meaning="Unit of the amount. Blank: the material's.", type=Type.UNIT, example="pair"),
        Field(name="per", meaning="What the amount is for. Blank: pair.", type=Type.CHOICE, example="pair",
               choices=tuple(Per)),
        Field(name="sizing", header="grows with size",
              meaning="How the amount grows with the shoe: by its length, or its area, which grows as the length times "
              "itself. Blank: fixed.", type=Type.CHOICE,
               example="fixed", choices=tuple(Sizing)),
        Field(name="growth", header="power of growth",
              meaning="By which power of the length the amount grows, where that is not 1 for a length and 2 for an "
              "area, such as 1.8 for soles that grow less in width. Blank: the usual one.", type=Type.NUMBER,
              example=""),
        Field(name="waste %", meaning="Added for cutting. Blank: 0.", type=Type.PERCENT, example="0"),
        Field(name="coats", meaning="Times it is put on. Blank: 1.", type=Type.WHOLE, above_zero=True, example="1"),
        Field(name="chance", header="share of jobs",
              meaning="Share of jobs that use it. Blank: every job; 0 for an option that uses nothing.",
              type=Type.SHARE, example=""),
        Field(name="machine", meaning="The machine that runs for this row, by the name you give it.",
               example=""),
        Field(name="machine minutes", meaning="Minutes it runs for a pair. Blank: as long as the other rows of "
               "this version say that it runs.", type=Type.NUMBER, above_zero=True, example=""),
        Field(name="life in hours", meaning="How many hours of the machine the amount lasts: a band, a cutter, a "
               "needle. For oil and the like, state an amount per machine minute instead.", type=Type.NUMBER,
               above_zero=True, example=""),
        Field(name="source", header="reason", meaning="Why this version was made.", example="first card"),
    ),
)  # fmt: skip

CLOSURES = FileKind(
    stem="closures",
    what="Days on which the shop or a supplier is shut, one stretch a row.",
    identity="the whole row",
    columns=(
        Field(name="first", meaning="First day shut.", type=Type.DATE, required=True, example="2026-08-03"),
        Field(name="last", meaning="Last day shut. Blank: the first day.", type=Type.DATE, example="2026-08-15"),
        Field(name="who", meaning="The supplier, by code or name. Blank: the shop itself.", type=Type.REFERENCE,
               example="", refers_to="suppliers"),
        Field(name="yearly", header="every year", meaning="Whether it comes each year on the same days. Blank: no.",
               type=Type.YES_NO, example="no"),
        Field(name="reason", meaning="Why.", example="summer"),
    ),
)  # fmt: skip

EVENTS = FileKind(
    stem="events",
    what="Days the year's work hangs on, past and coming, one a row: each year's return to school, a promotion, an "
    "order for forty pairs. Where it isn't said how much comes, past ones of the same name tell.",
    identity="name and day",
    columns=(
        Field(name="name", meaning="The same name every year.", required=True, example="back to school"),
        Field(name="day", meaning="The day, or the first of several.", type=Type.DATE, required=True,
              example="2026-08-31"),
        Field(name="last", header="last day", meaning="The last of several days. Blank: the day.", type=Type.DATE,
              example=""),
        Field(name="job", meaning="The job, or the family of jobs, it concerns. Blank: all work and sales.",
              example=""),
        Field(name="jobs", meaning="How many of the job come, beside the usual ones.", type=Type.WHOLE,
              above_zero=True, example=""),
        Field(name="usual", header="% of usual", meaning="What comes while it lasts, in per cent of the usual: 130 for "
              "a third more, 90 for a tenth less.", type=Type.NUMBER, example=""),
        Field(name="material", meaning="What is sold over the counter because of it, where that is not a job.",
              type=Type.REFERENCE, example="", refers_to="materials"),
        Field(name="pieces", meaning="How many of the material are sold, in its unit, beside the usual sales.",
              type=Type.WHOLE, above_zero=True, example=""),
    ),
)  # fmt: skip

POSTAGE = FileKind(
    stem="postage",
    what="What parcels cost you, one kind a row.",
    identity="the code",
    columns=(
        Field(name="code", meaning="Your short code; it begins with a letter.", type=Type.CODE, required=True,
               example="SMALL"),
        Field(name="name", meaning="What it is called.", example="Small parcel"),
        Field(name="cost", meaning="What the post costs you.", type=Type.MONEY, required=True, example="4.20"),
        Field(name="packaging", meaning="What it is packed in, each with its amount.", type=Type.PAIRS, example=""),
    ),
)  # fmt: skip

SERVICES = FileKind(
    stem="services",
    what="What is to be done to your machines now and then, one a row.",
    identity="the code",
    columns=(
        Field(name="code", meaning="Your short code.", type=Type.CODE, required=True, example="OIL"),
        Field(name="machine", meaning="The machine, as your recipes name it.", required=True, example="finisher"),
        Field(name="name", header="what is done", meaning="What is done.", required=True, example="Oil the bearings"),
        Field(name="every hours", meaning="Every so many hours that it ran. Blank: by days alone.", type=Type.WHOLE,
               above_zero=True, example="20"),
        Field(name="every days", meaning="Every so many days. Blank: by hours alone.", type=Type.WHOLE,
               above_zero=True, example="90"),
    ),
)  # fmt: skip

SUBSTITUTES = FileKind(
    stem="substitutes",
    what="Materials that do each other's work, a pair a row: both count as stock, and the cheaper is bought. One way "
    "only: the substitute is used once the material is used up, never the reverse.",
    identity="the two materials",
    columns=(
        Field(name="material", meaning="One of the two.", type=Type.REFERENCE, required=True, example="SOLE-RUB-42",
               refers_to="materials"),
        Field(name="substitute", meaning="The other, which will do as well.", type=Type.REFERENCE, required=True,
               example="SOLE-RUB-43", refers_to="materials"),
        Field(name="does", header="one does the work of", meaning="How many units of the material one unit of the "
               "substitute does the work of. Blank: 1.", type=Type.NUMBER, above_zero=True, example="0.95"),
        Field(name="one way", meaning="Whether the substitute will do for the material, but not the other way round. "
               "Blank: no, either will do for the other.", type=Type.YES_NO, example="no"),
    ),
)  # fmt: skip

STANDING = FileKind(
    stem="standing",
    called="standing-orders",
    what="What a supplier sends by himself every so many weeks, one material a row.",
    identity="supplier, material, supplier code and first",
    columns=(
        Field(name="supplier", meaning="The supplier, by code or name.", type=Type.REFERENCE, required=True,
               example="NORTH", refers_to="suppliers"),
        Field(name="material", meaning="The material, by code or name.", type=Type.REFERENCE, required=True,
               example="SOLE-RUB-42", refers_to="materials"),
        Field(name="supplier code", meaning="The supplier's own code for the pack, where he has several.",
               example="R6-4243"),
        Field(name="packs", meaning="Packs each time.", type=Type.WHOLE, required=True, above_zero=True, example="2"),
        Field(name="weeks", header="every weeks", meaning="Weeks from one to the next.", type=Type.WHOLE, required=True,
               above_zero=True, example="4"),
        Field(name="first", header="first comes", meaning="The day the first comes.", type=Type.DATE, required=True,
               example="2026-01-12"),
        Field(name="last", header="last comes", meaning="The last day on which any comes. Blank: until you take it "
               "out.", type=Type.DATE, example=""),
    ),
)  # fmt: skip

CATALOGUE = (
    SHOP, MATERIALS, SUPPLIERS, OFFERS, JOBS, RECIPES, CLOSURES, EVENTS, POSTAGE, SUBSTITUTES, STANDING, SERVICES,
)  # fmt: skip


MORNING, EVENING, NIGHT = time(9), time(17), time(20)  # goods come before the work, counts after it

_MATERIAL = Field(name="material", meaning="The material, by code or name.", type=Type.REFERENCE, required=True,
                   example="SOLE-RUB-42", refers_to="materials")  # fmt: skip
_AMOUNT = Field(name="amount", meaning="How much.", type=Type.NUMBER, required=True, above_zero=True, example="12")
_UNIT = Field(name="unit", meaning="Unit of the amount. Blank: the material's.", type=Type.UNIT, example="pair")
_LOT = Field(name="lot", header="batch", meaning="Batch number on the pack.", example="L2207")
_EXPIRY = Field(name="expiry", header="expiry date", meaning="Expiry date.", type=Type.DATE, example="2027-01-31")

OPENING = FileKind(
    stem="opening",
    called="opening-stock",
    what="What lay on the shelf when the book began, one material (or batch) a row.",
    identity="material, day and batch",
    columns=(
        _MATERIAL,
        Field(name="amount", meaning="How much; 0 adds nothing.", type=Type.NUMBER, required=True, example="12"),
        _UNIT,
        Field(name="day", meaning="The day it was counted; it is posted before that day's work.", type=Type.DATE,
              past=True, required=True, example="2026-01-02"),
        Field(name="value", meaning="What this stock cost before tax (with it where the shop is not registered), in "
               "all. Blank: worked out from the usual cost.",
               type=Type.MONEY, example="38.40"),
        _LOT,
        _EXPIRY,
    ),
)  # fmt: skip

DELIVERIES = FileKind(
    stem="deliveries",
    what="Goods ordered and received, one material a row. Rows with the same supplier and reference are one delivery; "
    "rows without a day received are still on order.",
    identity="supplier and reference (still on order: supplier and order)",
    columns=(
        Field(name="reference", meaning="Number of the supplier's delivery note. Needed once received.",
               example="DN-1043"),
        Field(name="order", meaning="Number of your order. Needed while nothing was received.", example="PO-211"),
        Field(name="supplier", meaning="The supplier, by code or name.", type=Type.REFERENCE, required=True,
               example="NORTH", refers_to="suppliers"),
        Field(name="ordered", meaning="Day it was ordered. Needed while nothing was received.", type=Type.DATE,
               past=True,
               example="2026-02-02"),
        Field(name="expected", meaning="Day the supplier promised, for what is still on order.", type=Type.DATE,
               example="2026-02-06"),
        Field(name="received", meaning="When it arrived; without a time, 09:00. Blank: still on order.",
               type=Type.MOMENT, at=MORNING,
               example="2026-02-06 10:15"),
        _MATERIAL,
        Field(name="supplier code", meaning="The supplier's own code for the pack.", example="R6-4243"),
        Field(name="packs", meaning="Number of packs. Needed while on order.", type=Type.WHOLE, above_zero=True,
               example="2"),
        Field(name="amount", meaning="How much in all, as counted or measured on arrival.", type=Type.NUMBER,
               required=True, above_zero=True, example="20"),
        _UNIT,
        Field(name="cost", meaning="Cost of the row before tax. A shop that is not registered has the tax added to "
               "it.",
               type=Type.MONEY, required=True, example="64.00"),
        Field(name="carriage", meaning="Carriage on the whole delivery before tax; on one of its rows, or the same on "
               "each.", type=Type.MONEY, example="8.50"),
        Field(name="duties", meaning="Duties on the whole delivery; on one of its rows, or the same on each.",
               type=Type.MONEY, example="0"),
        _LOT,
        _EXPIRY,
        Field(name="tax %", meaning="Tax rate on the invoice. Blank: the offer's, else the supplier's, else the "
               "material's, else the shop's.", type=Type.PERCENT, example=""),
        Field(name="carriage tax %", meaning="Tax rate on the carriage; on one of its rows, or the same on each. "
               "Blank: the supplier's, else the shop's.", type=Type.PERCENT, example=""),
    ),
)  # fmt: skip

PAST_JOBS = FileKind(
    stem="past-jobs",
    called="tickets",
    what="Tickets, one a row: finished, cancelled, or still open.",
    identity="the ticket's number",
    columns=(
        Field(name="ticket", meaning="Number of the ticket.", type=Type.CODE, required=True, example="10421"),
        Field(name="taken in", meaning="When the shoes were taken in; without a time, 09:00.", type=Type.MOMENT,
               required=True, at=MORNING,
               example="2026-02-03 10:05"),
        Field(name="finished", meaning="When the work was done; without a time, 17:00. Blank: still open.",
               type=Type.MOMENT, at=EVENING,
               example="2026-02-05 15:30"),
        Field(name="promised", meaning="Day it was promised for.", type=Type.DATE, example="2026-02-06"),
        Field(name="job", meaning="The job, by code or name.", type=Type.REFERENCE, required=True, example="HALF-SOLE",
               refers_to="jobs"),
        Field(name="size", meaning="Shoe size; needed for jobs that are sized.", type=Type.SIZE, example="EU 42"),
        Field(name="pairs", meaning="Number of pairs; 0.5 is a single shoe. Blank: one pair.", type=Type.NUMBER,
               above_zero=True,
               example="1"),
        Field(name="shoes", meaning="Number of shoes, instead of pairs.", type=Type.WHOLE, above_zero=True,
               example=""),
        Field(name="choices", meaning="What the customer chose. Blank: the recipe's usual.", type=Type.PAIRS,
               example="sole=rubber; colour=black"),
        Field(name="price", meaning="Price as charged. Blank: the price list's.", type=Type.MONEY, example="38.00"),
        Field(name="redo of", meaning="Ticket whose work was done again under guarantee.", example=""),
        Field(name="by post", meaning="Whether it came by post. Blank: no.", type=Type.YES_NO, example="no"),
        Field(name="post cost", meaning="What the post cost you.", type=Type.MONEY, example=""),
        Field(name="cancelled", meaning="Whether the customer collected it unrepaired. Blank: no.", type=Type.YES_NO,
               example="no"),
        Field(name="added", meaning="Materials used beyond the recipe, each with its amount.", type=Type.PAIRS,
               example="SOLE-RUB-42=1 pair"),
        Field(name="left out", meaning="Lines of the recipe that were not wanted.", example=""),
        Field(name="note", meaning="Anything else. Leave customers' names out unless you need them.",
               example="wants thin edge"),
    ),
)  # fmt: skip

SALES = FileKind(
    stem="sales",
    what="Sales over the counter, one material a row.",
    identity="the whole row; rows of one file that are exactly alike are told apart by their number",
    columns=(
        Field(name="when", meaning="When it was sold; without a time, 17:00.", type=Type.MOMENT, required=True,
               at=EVENING, example="2026-02-03 11:20"),
        _MATERIAL,
        _AMOUNT,
        _UNIT,
        Field(name="price", meaning="Amount paid for the row. Blank: the shelf price.", type=Type.MONEY,
               example="13.00"),
        Field(name="receipt", meaning="Number of the receipt.", example="R-5512"),
        Field(name="returned", meaning="Whether a customer brought it back: the price was paid back. Blank: no.",
               type=Type.CHOICE, choices=BROUGHT_BACK, example=""),
        Field(name="post cost", meaning="What the post cost you.", type=Type.MONEY, example=""),
    ),
)  # fmt: skip

USES = FileKind(
    stem="uses",
    called="used-so-far",
    what="What tickets had used before they were finished, one material a row. The finish then takes the rest.",
    identity="the whole row; rows of one file that are exactly alike are told apart by their number",
    columns=(
        Field(name="when", meaning="When it was used; without a time, 17:00.", type=Type.MOMENT, required=True,
               at=EVENING, example="2026-02-03 16:10"),
        Field(name="ticket", meaning="Number of the ticket.", type=Type.CODE, required=True, example="10421"),
        _MATERIAL,
        _AMOUNT,
        _UNIT,
        Field(name="line", meaning="Line of the recipe it was used for. Blank: the one that takes the material, else "
               "beyond the recipe.", example=""),
    ),
)  # fmt: skip

WASTE = FileKind(
    stem="waste",
    called="write-offs",
    what="What was thrown away, expired or used by the shop itself, one material a row.",
    identity="the whole row; rows of one file that are exactly alike are told apart by their number",
    columns=(
        Field(name="when", meaning="When it was noticed; without a time, 17:00.", type=Type.MOMENT, required=True,
               at=EVENING,
               example="2026-02-03 17:40"),
        _MATERIAL,
        _AMOUNT,
        _UNIT,
        Field(name="kind", meaning="What sort of loss. Blank: waste.", type=Type.CHOICE, example="waste",
               choices=WRITTEN_OFF),
        Field(name="reason", meaning="Why.", example="tin left open"),
        _LOT,
    ),
)  # fmt: skip

COUNTS = FileKind(
    stem="counts",
    what="What was found on the shelf, one item a row. One that wasn't counted stays blank or is left out.",
    identity="the sheet (without a sheet: the day), whole",
    columns=(
        Field(name="counted at", meaning="When the item was counted; without a time, 20:00.", type=Type.MOMENT,
               headed=True, at=NIGHT,
               example="2026-02-07 17:55"),
        _MATERIAL,
        Field(name="amount", meaning="How much was found; 0 for none. Blank: not counted.", type=Type.NUMBER,
               headed=True,
               example="7"),
        _UNIT,
        Field(name="error", meaning="How far off the measuring may usually be (one standard error), in the same unit.",
               type=Type.NUMBER, example=""),
        Field(name="aid", header="counting method", meaning="How it was measured.", example="weighed"),
        Field(name="who", meaning="Who counted.", example="bench 1"),
        Field(name="reason", meaning="Why book and shelf differ, if known. Blank: other.", type=Type.CHOICE,
               choices=tuple(CountReason)),
        Field(name="sheet", meaning="The count sheet's own key; entering a sheet twice changes nothing.",
               example="2026-W06"),
        Field(name="place", header="location",
              meaning="Where it is kept: for the reader of the sheet, not loaded.", example=""),
        Field(name="name", meaning="The material's name: for the reader of the sheet, not loaded.", example=""),
        Field(name="answers", meaning="On a count sheet, instead of the amount: what the counting method asks for. "
              "Not loaded.",
               example="gross=1860 g"),
        Field(name="book", meaning="What the book said: for the reader of the sheet, not loaded.", example=""),
        Field(name="note", meaning="Anything else.", example=""),
    ),
)  # fmt: skip

HISTORY = (OPENING, DELIVERIES, PAST_JOBS, USES, SALES, WASTE, COUNTS)


KINDS: dict[str, FileKind] = {kind.stem: kind for kind in CATALOGUE + HISTORY}
_NAMED = KINDS | {kind.title: kind for kind in KINDS.values()}
TITLES = tuple(kind.title for kind in KINDS.values())


def kind_of(name: str) -> FileKind | None:
    """Recognise a kind from a file's stem or a sheet's name: 'Past jobs' and 'past_jobs' are 'past-jobs'."""
    return _NAMED.get(plain_header(name).replace(" ", "-"))
