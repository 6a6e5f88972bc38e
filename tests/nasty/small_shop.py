"""A shop small enough to see at a glance, as files, and ways to load what a test changes in it."""

from collections.abc import Mapping
from pathlib import Path

from stockroom.errors import BadFileError, Problem
from stockroom.intake.known import Known
from stockroom.intake.load import read_files
from stockroom.intake.loaded import Loaded

FILES: Mapping[str, str] = {
    "materials": (
        "code,name,family,unit,group,size from,size to,colour,bridge\n"
        "BEND,Oak bend,soling sheet,dm2,,,,,1 kg = 20 dm2\n"
        "GLUE,Cement,cement,ml,,,,,1 l = 860 g\n"
        "TOP-S,Top pieces small,top pieces,pair,TOP,EU 36,EU 39,,\n"
        "TOP-L,Top pieces large,top pieces,pair,TOP,EU 40,EU 46,,\n"
        "LACE,Laces,laces,pair,,,,,\n"
    ),
    "suppliers": "code,name,lead days\nNORTH,Northgate (invented),4\nWEST,Westgate (invented),9\n",
    "jobs": "code,name,price,sized\nHEEL,Heel tops,9.50,yes\nSOLE,Soles,45.00,yes\nSHINE,Shine,5.00,no\n",
    "recipes": (
        "job,valid from,reference size,line,choice,option,material,amount,unit,per,sizing,waste %\n"
        "HEEL,2024-01-01,,top,,,TOP,1,pair,pair,fixed,\n"
        "SOLE,2024-01-01,EU 42 = UK 8,sole from bend,sole,bend,BEND,3.2,dm2,pair,area,15\n"
        "SOLE,2024-01-01,,sole none,sole,none,GLUE,1,ml,pair,fixed,\n"
        "SOLE,2024-01-01,,cement,,,GLUE,20,ml,pair,fixed,\n"
    ),
}


def write(folder: Path, files: Mapping[str, str]) -> Path:
    """Write files by stem (or whole name) into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / (name if "." in name else f"{name}.csv")).write_text(text, "utf-8", newline="")
    return folder


def load(folder: Path, files: Mapping[str, str], *, locale: str = "en_IE", digits: int = 2) -> Loaded:
    """Load the small shop with some files added or changed."""
    write(folder, {**FILES, **files})
    return read_files([folder], Known(), locale=locale, digits=digits)


def problems(folder: Path, files: Mapping[str, str], *, locale: str = "en_IE", digits: int = 2) -> tuple[Problem, ...]:
    """Give the problems of the small shop with some files added or changed."""
    try:
        load(folder, files, locale=locale, digits=digits)
    except BadFileError as refused:
        return refused.problems
    return ()


def said(folder: Path, files: Mapping[str, str], *, locale: str = "en_IE", digits: int = 2) -> list[str]:
    """Give the problems as the lines a person reads."""
    return [str(problem) for problem in problems(folder, files, locale=locale, digits=digits)]
