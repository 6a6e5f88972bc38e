"""What is wrong with what was typed, said beside its field: as it is left, and when it is saved."""

from collections.abc import Callable, Mapping

from flask import Response, jsonify

from stockroom.errors import Problem, StockroomError
from stockroom.web.words import said

Checks = Mapping[str, Callable[[], object]]  # by field, what refuses it
Faults = Mapping[str, list[str]]


def fault_text(problem: Problem) -> str:
    """Say what is wrong, and what to do."""
    return f"{said(problem.what).rstrip('.')}. {said(problem.fix)}".strip()


def faults_of(checks: Checks) -> dict[str, list[str]]:
    """Check each field by itself; gives what is wrong with each that is."""
    found = {}
    for name, check in checks.items():
        try:
            check()
        except StockroomError as wrong:
            found[name] = [f"{said(wrong.what)} {said(wrong.fix)}".strip()]
    return found


def told(faults: Faults) -> Response:
    """Tell a form's script what is wrong so far."""
    return jsonify(faults=faults, said="")
