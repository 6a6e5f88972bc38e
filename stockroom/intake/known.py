"""What may be referred to: what the book holds, and what this load has brought so far."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from stockroom.errors import UnknownError, nearest
from stockroom.phrases import phrase
from stockroom.stock.materials import Material
from stockroom.stock.recipes import Catalogue, Job, Recipe, recipe_catalogue
from stockroom.stock.suppliers import Offer, Supplier

MOST_SUGGESTED = 100
_NOUNS = {
    "materials": phrase("material"),
    "suppliers": phrase("supplier"),
    "jobs": phrase("job"),
    "stock": phrase("material or group"),
}
_PLACES = {"materials": "materials", "suppliers": "suppliers", "jobs": "jobs", "stock": "materials"}


@dataclass(frozen=True, slots=True, kw_only=True)
class BookFacts:
    """What the book holds before a load."""

    materials: Mapping[str, Material] = field(default_factory=dict)
    suppliers: Mapping[str, Supplier] = field(default_factory=dict)
    jobs: Mapping[str, Job] = field(default_factory=dict)
    recipes: Mapping[str, Sequence[Recipe]] = field(default_factory=dict)  # versions by job, as entered
    offers: Sequence[Offer] = ()
    tickets: Collection[str] = ()


class LoadScope:
    """What may be referred to while a load is read; grows with each kind of file.

    A code whose own row is at fault is known, but without its facts: the rows that name it aren't blamed too.
    """

    def __init__(self, known: BookFacts) -> None:
        self.materials = dict(known.materials)
        self.suppliers = dict(known.suppliers)
        self.jobs = dict(known.jobs)
        self.recipes = {job: list(versions) for job, versions in known.recipes.items()}
        self.offers = list(known.offers)
        self.tickets = set(known.tickets)
        self._folded: dict[str, dict[str, str]] = {"materials": {}, "suppliers": {}, "jobs": {}, "stock": {}}
        self._names: dict[str, dict[str, list[str]]] = {}  # codes by name, of as many nouns as were read then
        self._read: dict[str, int] = {}
        self._unread: set[str] = set()
        self._suggested: dict[tuple[str, str], str] = {}
        self._catalogue: Catalogue | None = None
        self.doubtful: set[str] = set()  # kinds of file with a fault: what follows from them isn't blamed twice
        for kind, codes in (("materials", self.materials), ("suppliers", self.suppliers), ("jobs", self.jobs)):
            self.declare(kind, *codes)
        self.declare("stock", *self.materials, *(m.group for m in self.materials.values() if m.group))

    def declare(self, kind: str, *codes: str) -> None:
        """Make codes known, whether or not their facts are."""
        self._folded[kind].update((code.casefold(), code) for code in codes)

    def declared(self, kind: str, code: str) -> str | None:
        """Give the code that equals one but for capitals, if there is one."""
        return self._folded[kind].get(code.casefold())

    def leave_open(self, kind: str) -> None:
        """Remember that a file of this kind couldn't be read, so that nothing is blamed for naming its codes."""
        self._unread.update({kind, "stock"} if kind == "materials" else {kind})
        self.doubtful.add(kind)

    def resolve(self, kind: str, code: str) -> str:
        """Find the code a cell refers to, by the code or by a name that only one has; capitals don't matter.

        Raises
        ------
        UnknownError
            If nothing of that kind has the code or name.
        """
        found = self.meant(kind, code)
        if found is not None:
            return found
        if kind in self._unread:
            return code
        wrong = phrase("No %(kind)s has the code or name '%(code)s'.", kind=_NOUNS[kind], code=code)
        raise UnknownError(wrong, fix=self._suggest(kind, code))

    def meant(self, kind: str, text: str) -> str | None:
        """Give the code that a text is, or that only one thing of that name has."""
        return self._folded[kind].get(text.casefold()) or self._named(kind, text.casefold())

    def _named(self, kind: str, name: str) -> str | None:
        nouns = self._nouns(kind)
        if self._read.get(kind) != len(nouns):
            self._read[kind], self._names[kind] = len(nouns), {}
            for code, noun in nouns.items():
                self._names[kind].setdefault(noun.name.casefold(), []).append(code)
        found = self._names[kind].get(name, [])
        return found[0] if len(found) == 1 else None

    def _nouns(self, kind: str) -> Mapping[str, Material | Supplier | Job]:
        if kind == "suppliers":
            return self.suppliers
        return self.jobs if kind == "jobs" else self.materials

    def _suggest(self, kind: str, code: str) -> str:
        """Name the nearest code; only so often, since looking through thousands of codes takes a while."""
        plain = phrase("Add it to %(places)s first, or correct the code.", places=_PLACES[kind])
        if (kind, code) not in self._suggested:
            names = (noun.name for noun in self._nouns(kind).values())
            pool = [*names, *self._folded[kind].values()] if len(self._suggested) < MOST_SUGGESTED else []
            near = nearest(code, pool)
            self._suggested[kind, code] = near or plain
        return self._suggested[kind, code]

    def add_material(self, material: Material) -> None:
        """Take a material up."""
        self.materials[material.code] = material
        self.declare("materials", material.code)
        self.declare("stock", material.code, *([material.group] if material.group else []))
        self._catalogue = None

    def add_supplier(self, supplier: Supplier) -> None:
        """Take a supplier up."""
        self.suppliers[supplier.code] = supplier
        self.declare("suppliers", supplier.code)

    def add_job(self, job: Job) -> None:
        """Take a job up."""
        self.jobs[job.code] = job
        self.declare("jobs", job.code)

    def add_recipe(self, recipe: Recipe) -> None:
        """Take a version of a recipe up; a version of the same day is replaced."""
        versions = self.recipes.setdefault(recipe.job, [])
        versions[:] = [version for version in versions if version.valid_from != recipe.valid_from]
        versions.append(recipe)

    @property
    def catalogue(self) -> Catalogue:
        """Materials and groups, arranged for recipes."""
        if self._catalogue is None:
            self._catalogue = recipe_catalogue(list(self.materials.values()))
        return self._catalogue
