"""A purchase order as an email ready to send (RFC 5322), with its spreadsheet: mail programs open it as a draft."""

from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from urllib.parse import quote

from stockroom.phrases import phrase
from stockroom.show.layout import plain_text
from stockroom.show.order_form import OrderFacts, OrderFormat
from stockroom.show.orders import order_format
from stockroom.stock.orders import Order

_EDGE = "=_order"  # between the parts; neither quoted-printable nor base64 ever holds it
_SHEET = ("application", "vnd.openxmlformats-officedocument.spreadsheetml.sheet")


def render(order: Order, facts: OrderFacts) -> bytes:
    """Write the email; who sends it is left to the mail program."""
    message = EmailMessage(policy=SMTP)
    if facts.supplier.email:
        message["To"] = plain_text(facts.supplier.email)
    message["Subject"] = subject(order, facts)
    message["Date"] = format_datetime(order.placed)
    message["X-Unsent"] = "1"  # a custom, no standard: opened to be sent, not as one that came
    message.set_content(order_format("text").render(order, facts).decode(), cte="quoted-printable")
    maintype, subtype = _SHEET
    name = f"order-{order.number}.xlsx"
    sheet = order_format("xlsx").render(order, facts)
    message.add_attachment(sheet, maintype=maintype, subtype=subtype, filename=name)
    message.set_boundary(_EDGE)
    return bytes(message)


def subject(order: Order, facts: OrderFacts) -> str:
    """Say what an email with the order is about."""
    return plain_text(facts.formats.say(phrase("Order %(number)s, %(shop)s", number=order.number, shop=facts.shop)))


def mail_link(order: Order, facts: OrderFacts) -> str:
    """Give the address that opens an email with the order in it (RFC 6068: line ends as %0D%0A)."""
    body = order_format("text").render(order, facts).decode().replace("\n", "\r\n")
    to = quote(plain_text(facts.supplier.email), safe="@,")
    return f"mailto:{to}?subject={quote(subject(order, facts), safe='')}&body={quote(body, safe='')}"


FORMAT = OrderFormat(name="eml", suffix=".eml", render=render)
