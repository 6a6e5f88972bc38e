"""Start stockroom."""


def main() -> None:
    """Run the command line."""
    from stockroom.cli.main import cli  # noqa: PLC0415 -- a door is opened when someone knocks

    cli(prog_name="stockroom")


if __name__ == "__main__":
    main()
