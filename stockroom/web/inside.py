"""Addresses that stay with us."""


def inside(address: str) -> str:
    """Give an address back if it is a path of our own, else nothing: never another site."""
    ours = address.startswith("/") and not address.startswith(("//", "/\\")) and address.isprintable()
    return address if ours else ""
