"""A shop small enough to see at a glance, as files, and ways to load what a test changes in it."""

from collections.abc import Mapping
from pathlib import Path

from stockroom.errors import BadFileError, Problem
from stockroom.intake.known import BookFacts
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
    "postage": "code,name,cost\nSMALL,Small parcel,4\nLARGE,Large parcel,8\n",
    "recipes": (
        "job,valid from,reference size,line,choice,option,material,amount,unit,per,sizing,waste %\n"
        "HEEL,2024-01-01,,top,,,TOP,1,pair,pair,fixed,\n"
        "SOLE,2024-01-01,EU 42 = UK 8,sole from bend,sole,bend,BEND,3.2,dm2,pair,area,15\n"
        "SOLE,2024-01-01,,sole none,sole,none,GLUE,1,ml,pair,fixed,\n"
        "SOLE,2024-01-01,,cement,,,GLUE,20,ml,pair,fixed,\n"
    ),
}

HISTORY: Mapping[str, str] = {  # what may be loaded on top
    "shop": "setting,value\nname,The small shop\nopen_weekdays,Tue Wed Thu Fri Sat\nreview_days,7\n",
    "offers": (
        "supplier,material,supplier code,pack,unit,pack name,price,priced per,pack in priced,breaks,minimum packs,valid from\n"
        "NORTH,GLUE,N-1,5,l,tin,64.00,,,,1,2024-01-01\nNORTH,LACE,N-2,12,pair,bundle,14.40,,,5=13.50; 10=12.00,1,2024-01-01\n"
        "WEST,BEND,W-1,6,kg,bend,9.50,1 kg,,,1,2024-01-01\n"
    ),
    "closures": "first,last,who,reason\n2024-08-05,2024-08-16,,summer\n2024-12-24,2025-01-02,NORTH,holidays\n",
    "services": "code,machine,what is done,every hours,every days\nOIL,finisher,Oil it,20,90\n",
    "substitutes": "material,substitute,one does the work of,one way\nTOP-S,TOP-L,1,no\n",
    "standing": "supplier,material,supplier code,packs,every weeks,first comes,last comes\nNORTH,LACE,N-2,1,8,2026-12-07,\n",
    "events": "name,day\nback to school,2024-08-26\nfair,2024-05-01\n",
    "opening": (
        "material,amount,unit,day,value,lot,expiry\nBEND,140,dm2,2024-01-02,126.00,,\nGLUE,2.5,l,2024-01-02,32.00,L1,2025-01-31\n"
        "TOP-S,30,pair,2024-01-02,27.00,,\nTOP-L,40,pair,2024-01-02,36.00,,\nLACE,48,pair,2024-01-02,57.60,,\n"
    ),
    "deliveries": (
        "reference,order,supplier,ordered,expected,received,material,supplier code,packs,amount,unit,cost,carriage,lot,expiry\n"
        "D-1,P-1,NORTH,2024-02-05,2024-02-09,2024-02-09 10:15,GLUE,,,5,l,64.00,6.50,L2,2025-02-28\n"
        "D-1,P-1,NORTH,2024-02-05,2024-02-09,2024-02-09 10:15,LACE,,,12,pair,14.40,,,\n"
        "D-2,,WEST,,,2024-02-20,BEND,,,60,dm2,54.00,9.00,,\n"
    ),
    "uses": "when,ticket,material,amount,unit,line\n2024-02-10 09:00,104,GLUE,3,ml,\n2024-02-10 10:00,104,GLUE,2,ml,\n",
    "past-jobs": (
        "ticket,taken in,finished,promised,job,size,pairs,shoes,choices,price,redo of,by post,post cost,cancelled,note\n"
        "101,2024-02-06 09:30,2024-02-07 16:00,2024-02-08,SOLE,EU 42,1,,sole=bend,45.00,,no,,no,thin edge\n"
        "102,2024-02-06 10:05,2024-02-06 15:30,,HEEL,EU 38,,1,,5.00,,yes,6.50,no,\n"
        "103,2024-02-07 11:00,2024-02-09 12:00,,SOLE,UK 8,1,,sole=none,,101,no,,no,\n"
        "104,2024-02-08,,2024-02-20,SHINE,,,,,,,,,no,\n105,2024-02-08,,,HEEL,EU 41,1,,,,,,,yes,\n"
    ),
    "sales": "when,material,amount,unit,price,receipt\n2024-02-06 11:20,LACE,2,pair,9.00,R-1\n2024-02-06 11:20,LACE,1,,,R-2\n",
    "waste": (
        "when,material,amount,unit,kind,reason,lot\n2024-02-07 17:40,GLUE,0.4,l,waste,tin left open,L1\n"
        "2024-02-08,LACE,1,pair,own use,,\n2024-02-09,GLUE,100,ml,expiry,,\n"
    ),
    "counts": (
        "counted at,material,amount,unit,error,aid,who,reason,sheet,place,name,answers,note\n"
        "2024-02-10 17:55,BEND,1.3,m2,0.02,,bench 1,,W06,,,,\n2024-02-10 17:57,GLUE,2.05,l,,,bench 1,spoilt,W06,,,,\n"
        "2024-02-10 18:00,LACE,44,pair,,,bench 1,,W06,,,,\n"
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
    return read_files([folder], BookFacts(), locale=locale, digits=digits)


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
