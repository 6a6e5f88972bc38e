"""Columns of the files that say what the shop has: settings, materials, suppliers, offers, jobs, recipes, calendar."""

from stockroom.intake.fields import Column, Kind, Type
from stockroom.phrases import phrase
from stockroom.stock.materials import FAMILIES, Purpose
from stockroom.stock.recipes import Per, Sizing

_FINER = phrase(
    "Round it here. For an exact cost fill in 'value' in the opening list; deliveries since are kept at their price."
)

SHOP = Kind(
    stem="shop",
    what="The shop's own settings, one a row. Settings that are left out keep their defaults.",
    identity="the setting",
    columns=(
        Column(name="setting", meaning="Name of the setting.", required=True, example="open_weekdays"),
        Column(name="value", meaning="Its value.", type=Type.ANY, example="Tue Wed Thu Fri Sat"),
    ),
)

MATERIALS = Kind(
    stem="materials",
    what="What lies on the shelf, one a row. Sizes and colours of the same thing are rows that share a group.",
    identity="the code",
    columns=(
        Column(name="code", meaning="Your short code.", type=Type.CODE, required=True, example="SOLE-RUB-42"),
        Column(name="name", meaning="Its name.", required=True, example="Rubber half soles, EU 42-43"),
        Column(name="family", meaning="What sort of thing it is.", type=Type.CHOICE, required=True,
               example="pre-cut soles", choices=FAMILIES),
        Column(name="unit", meaning="Unit it is shown and priced in; settles whether it is kept by area, length, "
               "volume, mass or count.", type=Type.UNIT, required=True, example="pair"),
        Column(name="purpose", meaning="Used at the bench, sold over the counter, or both. Blank: bench.",
               type=Type.CHOICE, example="bench", choices=tuple(Purpose)),
        Column(name="group", meaning="Code shared by the variants of one thing; recipes may name it.", type=Type.CODE,
               example="SOLE-RUB"),
        Column(name="size from", meaning="Smallest shoe size this variant serves.", type=Type.SIZE, example="EU 42"),
        Column(name="size to", meaning="Largest size it serves. Blank: the same.", type=Type.SIZE, example="EU 43"),
        Column(name="colour", meaning="Colour of this variant.", example="black"),
        Column(name="thickness", meaning="Thickness as stated.", type=Type.THICKNESS, example="6 mm"),
        Column(name="bridge", meaning="Link to another kind of unit, for stock counted by weight or bought by weight.",
               type=Type.BRIDGE, example="1 pair = 180 g"),
        Column(name="sell price", meaning="Price on its tag, per unit shown, where it is sold over the counter.",
               type=Type.MONEY, example="6.50"),
        Column(name="tax %", meaning="Its tax rate. Blank: the shop's usual rate.", type=Type.PERCENT, example="21"),
        Column(name="shelf life days", meaning="Days it keeps after delivery. Blank: it keeps.", type=Type.WHOLE,
               above_zero=True,
               example="365"),
        Column(name="hazards", meaning="Hazard statements of its safety data sheet, as H-codes.", example="H225 H319"),
        Column(name="flammable", meaning="Whether it counts towards your limit of flammable stock. Blank: no.",
               type=Type.YES_NO, example="no"),
        Column(name="place", meaning="Where it lies.", example="B2"),
        Column(name="usual cost", meaning="Usual cost before tax, per unit shown, for stock whose cost isn't known.",
               type=Type.MONEY, finer=_FINER, example="3.20"),
        Column(name="active", meaning="Whether it is still in use. Blank: yes.", type=Type.YES_NO, example="yes"),
        Column(name="extra", meaning="Facts for counting, such as the weight of the empty tin.", type=Type.PAIRS,
               example="tare=85 g"),
        Column(name="note", meaning="Anything else.", example="Check that the grain matches."),
    ),
)  # fmt: skip

SUPPLIERS = Kind(
    stem="suppliers",
    what="Whom you buy from, and the terms of an order, one a row.",
    identity="the code",
    columns=(
        Column(name="code", meaning="Your short code.", type=Type.CODE, required=True, example="NORTH"),
        Column(name="name", meaning="Its name.", required=True, example="Northgate Example Findings"),
        Column(name="lead days", meaning="Days from order to delivery, as the supplier states them.", type=Type.WHOLE,
               required=True, example="4"),
        Column(name="carriage", meaning="Carriage charged on an order, before tax. Blank: none.", type=Type.MONEY,
               example="8.50"),
        Column(name="carriage free over", meaning="Goods before tax from which carriage is free. Blank: never.",
               type=Type.MONEY, example="150"),
        Column(name="minimum order", meaning="Least goods before tax it accepts. Blank: none.", type=Type.MONEY,
               example="40"),
        Column(name="order weekdays", meaning="Days on which orders are taken. Blank: Monday to Friday.",
               type=Type.WEEKDAYS, example="Mon Thu"),
        Column(name="cut-off", meaning="Time by which an order counts as that day's.", type=Type.TIME, example="14:00"),
        Column(name="tax %", meaning="Tax rate on its invoices. Blank: the shop's usual rate.", type=Type.PERCENT,
               example="21"),
        Column(name="email", meaning="Where orders go.", example="orders@supplier.example"),
        Column(name="note", meaning="Anything else.", example="Closed in August."),
    ),
)  # fmt: skip

OFFERS = Kind(
    stem="offers",
    what="What suppliers ask for a pack of a material. A new price is a new row with its own day; old rows stay.",
    identity="supplier, material, supplier code, pack and valid from",
    columns=(
        Column(name="supplier", meaning="The supplier's code.", type=Type.REFERENCE, required=True, example="NORTH",
               refers_to="suppliers"),
        Column(name="material", meaning="The material's code.", type=Type.REFERENCE, required=True,
               example="SOLE-RUB-42", refers_to="materials"),
        Column(name="supplier code", meaning="The supplier's own code for the pack.", example="R6-4243"),
        Column(name="pack", meaning="How much is in a pack.", type=Type.NUMBER, required=True, above_zero=True,
               example="10"),
        Column(name="unit", meaning="Unit of the pack. Blank: the material's.", type=Type.UNIT, example="pair"),
        Column(name="pack name", meaning="What the supplier calls the pack.", example="bag of 10 pairs"),
        Column(name="price", meaning="Price before tax, per pack or per 'priced per'.", type=Type.MONEY, required=True,
               example="32.00"),
        Column(name="priced per", meaning="What the price is for, where that isn't the pack, such as 1 kg.",
               type=Type.QUANTITY, example=""),
        Column(name="pack in priced", meaning="The pack in the unit it is priced in, such as 6.5 kg. "
               "Blank: the pack as stated.", type=Type.QUANTITY, example=""),
        Column(name="breaks", meaning="Lower prices from a number of packs on.", type=Type.BREAKS,
               example="5=30.50; 10=29.00"),
        Column(name="minimum packs", meaning="Fewest packs sold. Blank: 1.", type=Type.WHOLE, above_zero=True,
               example="1"),
        Column(name="valid from", meaning="First day of the price.", type=Type.DATE, required=True,
               example="2026-01-01"),
        Column(name="tax %", meaning="Its tax rate. Blank: the supplier's.", type=Type.PERCENT, example=""),
        Column(name="measured", meaning="Whether the pack is nominal and measured on arrival, like a hide. Blank: no.",
               type=Type.YES_NO, example="no"),
    ),
)  # fmt: skip

JOBS = Kind(
    stem="jobs",
    what="The jobs on your price list, one a row.",
    identity="the code",
    columns=(
        Column(name="code", meaning="Your short code.", type=Type.CODE, required=True, example="HALF-SOLE"),
        Column(name="name", meaning="Its name.", required=True, example="Half soles"),
        Column(name="family", meaning="Jobs that share a season.", example="soling"),
        Column(name="price", meaning="Price as charged.", type=Type.MONEY, example="38.00"),
        Column(name="tax %", meaning="Its tax rate. Blank: the shop's usual rate.", type=Type.PERCENT, example=""),
        Column(name="bench minutes", meaning="Usual minutes at the bench.", type=Type.WHOLE, example="35"),
        Column(name="sized", meaning="Whether the ticket must say the shoe size. Blank: no.", type=Type.YES_NO,
               example="yes"),
        Column(name="active", meaning="Whether it is still offered. Blank: yes.", type=Type.YES_NO, example="yes"),
    ),
)  # fmt: skip

RECIPES = Kind(
    stem="recipes",
    what="What a job uses, one material a row. Rows of one job and day are one version; a change is a new version.",
    identity="job, valid from and line",
    columns=(
        Column(name="job", meaning="The job's code.", type=Type.REFERENCE, required=True, example="HALF-SOLE",
               refers_to="jobs"),
        Column(name="valid from", meaning="First day of this version.", type=Type.DATE, required=True,
               example="2026-01-01"),
        Column(name="reference size", meaning="Shoe size the amounts are for, in each system you use. "
               "Needed where a row grows with the shoe; the same on every row of a version, or on its first.",
               type=Type.SIZES, example="EU 42 = UK 8"),
        Column(name="line", meaning="Name of the row, different from the others of its version.", required=True,
               example="sole, rubber"),
        Column(name="choice", meaning="What the customer chooses between. Blank: always used.", example="sole"),
        Column(name="option", meaning="The option that uses this row; the first listed is the usual one.",
               example="rubber"),
        Column(name="material", meaning="A material's code, or a group's: then the variant that fits size and colour.",
               type=Type.REFERENCE, required=True, example="SOLE-RUB", refers_to="stock"),
        Column(name="amount", meaning="How much is used.", type=Type.NUMBER, required=True, above_zero=True,
               example="1"),
        Column(name="unit", meaning="Unit of the amount. Blank: the material's.", type=Type.UNIT, example="pair"),
        Column(name="per", meaning="What the amount is for. Blank: pair.", type=Type.CHOICE, example="pair",
               choices=tuple(Per)),
        Column(name="sizing", meaning="How the amount grows with the shoe. Blank: fixed.", type=Type.CHOICE,
               example="fixed", choices=tuple(Sizing)),
        Column(name="waste %", meaning="Added for cutting. Blank: 0.", type=Type.PERCENT, example="0"),
        Column(name="coats", meaning="Times it is put on. Blank: 1.", type=Type.WHOLE, above_zero=True, example="1"),
        Column(name="chance", meaning="Share of jobs that use it. Blank: every job.", type=Type.SHARE, example=""),
        Column(name="source", meaning="Why this version was made.", example="first card"),
    ),
)  # fmt: skip

CLOSURES = Kind(
    stem="closures",
    what="Days on which the shop or a supplier is shut, one stretch a row.",
    identity="the whole row",
    columns=(
        Column(name="first", meaning="First day shut.", type=Type.DATE, required=True, example="2026-08-03"),
        Column(name="last", meaning="Last day shut. Blank: the first day.", type=Type.DATE, example="2026-08-15"),
        Column(name="who", meaning="The supplier's code. Blank: the shop itself.", type=Type.REFERENCE, example="",
               refers_to="suppliers"),
        Column(name="reason", meaning="Why.", example="summer"),
    ),
)  # fmt: skip

EVENTS = Kind(
    stem="events",
    what="Days the year's work hangs on, past and coming, one a row, such as each year's return to school.",
    identity="the whole row",
    columns=(
        Column(name="name", meaning="The same name every year.", required=True, example="back to school"),
        Column(name="day", meaning="The day.", type=Type.DATE, required=True, example="2026-08-31"),
    ),
)

CATALOGUE = (SHOP, MATERIALS, SUPPLIERS, OFFERS, JOBS, RECIPES, CLOSURES, EVENTS)
