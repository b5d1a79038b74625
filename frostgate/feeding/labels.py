"""A label's words read into a product."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, get_args

from frostgate.errors import InputError
from frostgate.model.feedings import Analysis, DensityFrom, Product, ProductForm, Rate
from frostgate.units import TEASPOON_ML, Quantity, parse_quantity, parse_rate

# Mass of a level spoon's fill over its volume [g/mL], by form. Tap density varies by a fifth either way
# between products ("Understanding pH management and plant nutrition, part 5", a grower-journal series).
DEFAULT_DENSITY_G_ML: Mapping[ProductForm, float] = {
    "soluble": 6.0 / TEASPOON_ML,  # 5.1 g/tsp, about 0.2 oz: the same series
    "liquid": 1.1,  # concentrates run from 1.0 to 1.2: from memory
    "granular": 1.0,  # from memory
}
SALT_DENSITY_G_ML = 5.0 / TEASPOON_ML  # Epsom salt, about 1.0 g/mL in bulk: from memory

# Labels of some countries state these as oxides; shares of the element by the atomic weights of IUPAC 2021.
OXIDES: Mapping[str, tuple[str, float]] = {
    "mgo": ("mg", 0.60304),
    "so3": ("s", 0.40047),
    "cao": ("ca", 0.71470),
}
SECONDARY = ("mg", "s", "ca")
TRACE = ("Fe", "Mn", "Zn", "Cu", "B", "Mo", "Cl", "Co", "Ni", "Na", "Si", "Se")
LABEL_REMEDY = (
    "Write NAME, analysis, form and rate, as in: First feed 17-5-9 soluble 2 tsp/gal; after them may "
    "stand max 3 tsp/gal, 5.1 g/tsp, organic, Mg 2, ec 0.9 mS/cm at 100 ppm N."
)

EC_UNITS_MS_CM = {"ms/cm": 1.0, "ds/m": 1.0, "mmho/cm": 1.0, "us/cm": 0.001, "µs/cm": 0.001, "μs/cm": 0.001}
HIGHEST_EC_MS_CM = 20.0

NUMBER = r"(?:\d{1,9}(?:\.\d{1,12})?|\.\d{1,12})"
GRADE = rf"({NUMBER})\s*[-–]\s*({NUMBER})\s*[-–]\s*({NUMBER})"
_FORMS: dict[str, ProductForm] = {form: form for form in get_args(ProductForm)} | {"powder": "soluble"}
_HEAD = rf"(?<![\w.-])(?P<grade>{GRADE})[\s,;]+(?P<form>{'|'.join(_FORMS)})\b"
_SEPARATOR = r"(?:[\s;]|,(?=\s))*"
_WHOLE = r"\d{1,9}"
_AMOUNT = rf"(?:{_WHOLE}\s+{_WHOLE}/{_WHOLE}|{_WHOLE}/{_WHOLE}|{NUMBER}?\s*[½¼¾⅓⅔⅛]|{NUMBER})"
_UNIT = r"(?:(?:imp|imperial|fl|fluid)\s+)?[a-z]+"
_PER = r"\s*(?:/|\s+per\s+)\s*"
_RATE = rf"{_AMOUNT}?\s*{_UNIT}{_PER}(?:{_AMOUNT}\s*)?{_UNIT}"
_SMALL = r"(?:tsp|teaspoons?|tbsp|tablespoons?|ml|cups?|fl\s+oz)\b"  # of these a density is written
_AT = r"\s+(?:at|for|per)\s+"
_PPM_N = r"ppm\s*(?:of\s+)?n\b"
_STATED = "|".join(  # what may stand behind the form, in any order; each group holds what it is named by
    (
        r"(?P<organic>organic)\b",
        rf"max(?:imum)?\s+(?P<most>{_RATE})",
        rf"ec\s+(?P<ec>{NUMBER}\s*[a-zµμ]+/[a-z]+{_AT}(?:{NUMBER}\s*{_PPM_N}|{_RATE}))",
        rf"density\s+(?P<density>{_RATE})",
        rf"(?P<spoonful>{NUMBER}\s*(?:m?g|kg|oz|lb|grams?){_PER}{_SMALL})",
        r"(?P<density_from>measured|label)\b",
        rf"(?P<element>{'|'.join((*SECONDARY, *OXIDES, *TRACE))})\s*=?\s*(?P<percent>{NUMBER})\s*%?(?![\w/])",
        rf"(?P<rate>{_RATE})",
    )
)


def read_product(text: str) -> Product:
    """Read a product from one line: name, analysis, form and rate, then what else its label says."""
    return make_product(**read_label(text))


def read_label(text: str) -> dict[str, Any]:
    """Read a product from one line into the keys of a garden file, their values as they are written."""
    head = re.search(_HEAD, text, re.IGNORECASE)
    if head is None:
        raise InputError("a product without its analysis, or without its form behind it", value=text,
                         remedy=LABEL_REMEDY)  # fmt: skip
    label: dict[str, Any] = {}
    rest = text[head.end() :]
    while rest := re.sub(_SEPARATOR, "", rest, count=1):
        said = re.match(_STATED, rest, re.IGNORECASE)
        if said is None:
            raise InputError("not understood in a product's label", value=rest, remedy=LABEL_REMEDY)
        kind = said.lastgroup or ""
        key = {"percent": said["element"], "spoonful": "density"}.get(kind, kind)
        if key.lower() in {known.lower() for known in (*label, *label.get("secondary", ()))}:
            raise InputError("stands twice in a product's label", value=key, remedy="Leave it once.")
        if kind == "percent":
            label.setdefault("secondary", {})[key] = float(said[kind])
        else:
            label[key] = {"organic": True, "density_from": said[kind].lower()}.get(kind, said[kind])
        rest = rest[said.end() :]
    name, form = text[: head.start()].strip(" ,;"), _FORMS[head["form"].lower()]
    return {"name": name, "analysis": head["grade"], "form": form} | label


def make_product(
    *,
    name: str,
    analysis: str,
    form: ProductForm,
    rate: str | None = None,
    most: str | None = None,
    density: str | None = None,
    density_from: DensityFrom | None = None,
    secondary: Mapping[str, float] | None = None,
    organic: bool = False,
    ec: str | None = None,
    pack: str | None = None,
    price: float | None = None,
) -> Product:
    """Make a product from the texts of its label."""
    if not name.strip():
        raise InputError("a product has a name", value=name, remedy='Write name = "First feed".')
    shares = _analysis(analysis, secondary or {})
    density_g_ml, says = _density(form, shares, density, density_from)
    full = None if rate is None else read_rate(rate, density_g_ml)
    largest = None if most is None else read_rate(most, density_g_ml)
    if full is not None and largest is not None:
        remedy = f"The rate is {full.text}."
        if full.per == largest.per and largest.grams < full.grams * (1.0 - 1e-9):
            raise InputError("the label's largest rate is below its rate", value=most, remedy=remedy)
        if (full.per, largest.per) == ("pot", "metre"):
            raise InputError("it goes by another measure than the rate", value=most, remedy=remedy)
    return Product(
        name=name,
        analysis=shares,
        form=form,
        density_g_ml=density_g_ml,
        density_from=says,
        rate=full,
        most=largest,
        organic=organic,
        ec_ms_cm_per_g_l=None if ec is None else read_ec_per_g_l(ec, shares, density_g_ml),
        pack_g=None if pack is None else weigh(parse_quantity(pack, "mass", "volume"), density_g_ml),
        price=price,
    )


def _analysis(text: str, secondary: Mapping[str, float]) -> Analysis:
    grade = re.fullmatch(rf"\s*{GRADE}\s*", text)
    if grade is None:
        raise InputError("not an analysis", value=text, remedy="Write N-P2O5-K2O, such as 17-5-9.")
    n, p2o5, k2o = map(float, grade.groups())
    stated = dict.fromkeys(SECONDARY, 0.0)
    trace: dict[str, float] = {}
    for element, percent in secondary.items():
        key, share = OXIDES.get(element.lower(), (element.lower(), 1.0))
        if key in SECONDARY:
            stated[key] += percent * share
        elif key.capitalize() in TRACE:
            trace[key.capitalize()] = percent
        else:
            known = ", ".join(("Mg", "S", "Ca", "MgO", "SO3", "CaO", *TRACE))
            raise InputError("not a secondary or trace element", value=element, remedy=f"Known: {known}.")
    try:
        return Analysis(n=n, p2o5=p2o5, k2o=k2o, **stated, trace=tuple(trace.items()))
    except InputError as error:
        raise error.but(value=secondary or text, remedy="Check it against the label.") from None


def _density(
    form: ProductForm, analysis: Analysis, written: str | None, stated: DensityFrom | None
) -> tuple[float, DensityFrom]:
    """Return a product's density [g/mL] and who says so; where none is written, the default of its form."""
    if written is not None:
        return parse_density_g_ml(written), stated or "label"
    if stated in {"measured", "label"}:
        raise InputError("there is no density", value=stated, remedy='Add density = "5.1 g/tsp".')
    fed = analysis.n + analysis.p2o5 + analysis.k2o
    is_salt = form == "soluble" and fed == 0.0 and analysis.mg > 0.0 and analysis.s > 0.0
    return SALT_DENSITY_G_ML if is_salt else DEFAULT_DENSITY_G_ML[form], "default"


def parse_density_g_ml(text: str) -> float:
    """Read a density in [g/mL], such as ``5.1 g/tsp`` or ``1.1 g/ml``."""
    mass, *volume = re.split(r"\s+per\s+|(?<=[a-z])\.?\s*/\s*", text.strip(), maxsplit=1, flags=re.IGNORECASE)
    try:
        density_g_ml = parse_quantity(mass, "mass").amount / parse_quantity("".join(volume), "volume").amount
    except InputError:
        remedy = "Write it as 5.1 g/tsp or as 1.1 g/ml."
        raise InputError("not a density", value=text, remedy=remedy) from None
    if not 0.05 <= density_g_ml <= 5.0:
        raise InputError("no fertilizer has such a density", value=text, remedy="Check its units.")
    return density_g_ml


def read_rate(text: str, density_g_ml: float) -> Rate:
    """Read a label's rate, its spoons weighed by the density."""
    try:
        quantity, per = parse_rate(text)
    except InputError as error:  # named by the whole of it, as it stands on the label
        raise error.but(value=text) from None
    grams, by_mass = weigh(quantity, density_g_ml), quantity.measure == "mass"
    return Rate(grams=grams, per=per, text=text, by_mass=by_mass)


def weigh(quantity: Quantity, density_g_ml: float) -> float:
    """Return the mass of a quantity [g]; a volume is weighed by its density."""
    return quantity.amount * (density_g_ml if quantity.measure == "volume" else 1.0)


def weigh_measured(text: str, density_g_ml: float) -> float:
    """Weigh what was measured out, such as ``3 tbsp``, ``2 x 2.5 tsp + 1/2 tsp`` or ``50 g`` [g]."""
    grams = 0.0
    try:
        for part in text.split("+"):
            counted = re.fullmatch(r"\s*(\d{1,4})\s*[x×]\s*(.+)", " ".join(part.split()), re.IGNORECASE)
            count, scoop = (int(counted[1]), counted[2]) if counted else (1, part)
            grams += count * weigh(parse_quantity(scoop, "volume", "mass"), density_g_ml)
    except InputError as error:
        remedy = "Write it as 3 tbsp, 2 x 2.5 tsp, 1 tbsp + 1/2 tsp or 50 g."
        raise error.but(value=text, remedy=remedy) from None
    return grams


def parse_ec_ms_cm(text: str) -> float:
    """Read an electrical conductivity in [mS/cm]; a bare number is one."""
    match = re.fullmatch(rf"({NUMBER})\s*(\S*)", text.strip())
    factor = None if match is None else EC_UNITS_MS_CM.get(match[2].lower() or "ms/cm")
    if match is None or factor is None:
        raise InputError("not a conductivity", value=text, remedy="Write it as 0.4 mS/cm.")
    ec_ms_cm = float(match[1]) * factor
    if ec_ms_cm > HIGHEST_EC_MS_CM:
        raise InputError("no feed conducts so well", value=text, remedy="Check its unit: it is mS/cm.")
    return ec_ms_cm


def read_ec_per_g_l(text: str, analysis: Analysis, density_g_ml: float) -> float:
    """Read what one gram in a litre adds to the conductivity [mS/cm], from a line of a label's table."""
    conductivity, *solution = re.split(_AT, text, maxsplit=1, flags=re.IGNORECASE)
    try:
        return parse_ec_ms_cm(conductivity) / _grams_l("".join(solution), analysis, density_g_ml)
    except InputError:
        remedy = "Write it as 0.9 mS/cm at 100 ppm N, or as 0.85 mS/cm at 1 g/l."
        raise InputError("not a conductivity of a solution", value=text, remedy=remedy) from None


def _grams_l(text: str, analysis: Analysis, density_g_ml: float) -> float:
    if by_nitrogen := re.fullmatch(rf"({NUMBER})\s*{_PPM_N}\s*", text, re.IGNORECASE):
        grams_l = float(by_nitrogen[1]) / (10.0 * analysis.n) if analysis.n else 0.0
    else:
        rate = read_rate(text, density_g_ml)
        grams_l = rate.grams if rate.per == "litre" else 0.0
    if grams_l == 0.0:
        raise InputError("not a solution, or without the nitrogen to go by", value=text)
    return grams_l
