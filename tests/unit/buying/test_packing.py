import os

import pytest

from stockroom.buying.exact import quiet


def test_what_c_code_prints_is_dropped_and_ours_is_kept(capfd: pytest.CaptureFixture[str]) -> None:
    with quiet():
        os.write(1, b"a stray line\n")
    print("ours", flush=True)
    assert capfd.readouterr().out == "ours\n"
