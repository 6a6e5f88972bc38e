"""Start stockroom."""

import gc

# What a command reads from the book it keeps to its end. Python's garbage collector would go through all of it at every
# 700 new objects, a fifth of a long command's time; so it runs less often, and frees cycles a little later.
_NEW_THINGS = 500_000


def main() -> None:
    """Run the command line."""
    from stockroom.cli.main import cli  # noqa: PLC0415 -- a door is opened when someone knocks

    gc.set_threshold(_NEW_THINGS, 20, 20)
    try:
        cli(prog_name="stockroom")
    finally:
        gc.freeze()  # at the end Python would go through all of it once more, only to give back what ends anyway


if __name__ == "__main__":
    main()
