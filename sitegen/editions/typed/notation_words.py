"""Words that stand around typed figures, by language: what CLDR does not carry. The tables are from memory.

A language without a row is read by what CLDR knows of it alone: its numbers, unit names and dates.
"""

from collections.abc import Mapping

# Between the two ends of a range, besides dashes.
JOINERS: Mapping[str, tuple[str, ...]] = {
    "en": ("to", "and", "or"), "de": ("bis", "und", "oder"), "nl": ("tot", "en", "of"), "fr": ("à", "et", "ou"),
    "es": ("a", "y", "o"), "it": ("a", "e", "o"), "da": ("til", "og", "eller"), "sv": ("till", "och", "eller"),
    "nb": ("til", "og", "eller"), "pl": ("do", "i", "lub"),
}  # fmt: skip

# A grade of an ordinal scale is written after such a word: `Grad 4`.
GRADES: Mapping[str, str] = {
    "en": "grades?|ratings?", "de": "Grade?n?|Noten?", "nl": "graad|graden|cijfers?", "fr": "notes?|degrés?|grades?|cotations?",
    "es": "grados?|notas?", "it": "gradi|grado", "da": "grad|grader|graderne", "sv": "grad|grader|betyg", "nb": "grad|grader",
    "pl": "stopień|stopnia|stopnie|stopni",
}  # fmt: skip

# Names of units that CLDR spells otherwise or leaves out: {unit: names}. The British ones stand in CLDR's `en_GB`,
# which nothing else needs and which takes as long to load as English itself.
UNIT_NAMES: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "en": {
        "%": ("per cent", "pct"), "s": ("sec", "secs"), "h": ("hrs",), "°": ("degrees", "degree"), "mmH2O": ("mm of water",),
        "mm": ("millimetre", "millimetres"), "cm": ("centimetre", "centimetres"), "m": ("metre", "metres"), "km": ("kilometre", "kilometres"),
        "ml": ("millilitre", "millilitres"), "l": ("litre", "litres"), "min": ("mins",), "lm": ("lumens",), "cd": ("candelas",),
        "km/h": ("kilometre per hour", "kilometres per hour"), "m/s": ("metre per second", "metres per second"),
    },
    "de": {"°": ("Grad",), "mmH2O": ("mm Wassersäule",)},
    "nl": {"°": ("graad", "graden"), "mmH2O": ("mm waterkolom",), "h": ("uren",), "l": ("liters",)},
    "fr": {"mmH2O": ("mm de colonne d’eau", "mm Schmerber")},
    "es": {"°": ("grad",)}, "sv": {"s": ("sek",)}, "nb": {"m/s": ("meter/s",)},
}  # fmt: skip

# "1st", "1er": what may follow the day of a date; and the small words between its parts.
DAY_ENDINGS = r"(?:\.|st|nd|rd|th|er|[ºª°])?"
DATE_LINKS = r"(?:[ \u00a0\n](?:of|de|del|d’))?"

# Before a figure that only comes near: its last zeros then say nothing.
ABOUT: Mapping[str, str] = {
    "en": "about|around|roughly|some|nearly|almost|approximately|ca\\.|just under|just over",
    "de": "rund|etwa|ungefähr|ca\\.|circa|knapp|gut|fast|beinahe|annähernd",
    "nl": "ongeveer|circa|ca\\.|bijna|zo’n|zo'n|ruim|krap",
    "fr": "environ|près de|presque|quelque|à peu près|autour de|env\\.",
}
# Before or after a figure that sets a bound or a difference and therefore contradicts nothing.
BOUNDS: Mapping[str, str] = {
    "en": "than|over|under|above|below|least|most|up to|within|every|first|last|another|each|by",
    "de": "als|über|unter|mindestens|höchstens|bis zu|ab|innerhalb von|alle|je|ersten|letzten|weitere|um|pro",
    "nl": "dan|boven|onder|minstens|hoogstens|minimaal|maximaal|tot|binnen|elke|eerste|laatste|nog|per",
    "fr": "de plus de|de moins de|plus de|moins de|au moins|au plus|jusqu’à|chaque|premières?|dernières?|toutes les|encore",
}
DIFFERENCES: Mapping[str, str] = {
    "en": "more|less|heavier|lighter|longer|shorter|later|earlier|faster|slower|apart|above|below|too",
    "de": "mehr|weniger|schwerer|leichter|länger|kürzer|später|früher|schneller|langsamer|auseinander|über|unter|zu viel|zu wenig",
    "nl": "meer|minder|zwaarder|lichter|langer|korter|later|eerder|sneller|trager|te veel|te weinig",
    "fr": "de plus|de moins|plus|moins|de trop",
}

# Hours of the day, not durations: `à 14 h 30`.
CLOCKS: Mapping[str, str] = {"fr": "à|vers|dès|avant|après|jusqu’à|depuis"}

# Words by which a sentence names what a stock protocol measures, besides the protocol's own names.
MEASURES: Mapping[str, Mapping[str, str]] = {
    "mass": {
        "en": "weigh|mass\\b|heavy|the scale", "de": "wieg|wog|gewog|gewicht|masse\\b|schwer\\b", "nl": "weeg|woog|wegen|gewogen|gewicht|zwaar\\b",
        "fr": "p[eè]se|poids|masse\\b|lourd",
    },
    "drying_time": {"en": "dry|dried", "de": "trock", "nl": "droog|drog", "fr": "séch|sec\\b|sèche"},
    "run_time": {"en": "run time|runs for|lasted|lasts", "de": "leuchtdauer|leuchte", "nl": "brandduur|brandt|schijnt", "fr": "autonomie|éclair"},
    "air_permeability": {"en": "air\\b|permeab", "de": "luft", "nl": "lucht", "fr": "air\\b|perméab"},
    "packed_volume": {"en": "pack", "de": "pack", "nl": "pak", "fr": "volume|pli"},
    "hydrostatic_head": {"en": "head\\b|column", "de": "wassersäule|wasserdruck", "nl": "waterkolom|waterdruk", "fr": "colonne|schmerber"},
    "light_output": {"en": "", "de": "", "nl": "", "fr": ""},  # a lumen can mean nothing else
}  # fmt: skip
PRICE = {"en": "price|cost", "de": "preis|kost", "nl": "prijs|kost", "fr": "prix|coût"}

# Whole numbers in words, from 0: a figure here and its word there say the same.
_UNITS = {
    "en": "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen",
    "de": "null ein|eins zwei drei vier fünf sechs sieben acht neun zehn elf zwölf dreizehn vierzehn fünfzehn sechzehn siebzehn achtzehn neunzehn",
    "nl": "nul een|één twee drie vier vijf zes zeven acht negen tien elf twaalf dertien veertien vijftien zestien zeventien achttien negentien",
    "fr": "zéro un|une deux trois quatre cinq six sept huit neuf dix onze douze treize quatorze quinze seize dix-sept dix-huit dix-neuf",
}
_TENS = {
    "en": "twenty thirty forty fifty sixty seventy eighty ninety hundred",
    "de": "zwanzig dreißig vierzig fünfzig sechzig siebzig achtzig neunzig hundert",
    "nl": "twintig dertig veertig vijftig zestig zeventig tachtig negentig honderd",
    "fr": "vingt trente quarante cinquante soixante soixante-dix quatre-vingts quatre-vingt-dix cent",
}


def number_word(language: str, value: int) -> str | None:
    """The beginning of the word for a whole number, as a pattern; None where there is no table for it."""
    units, tens = _UNITS.get(language, "").split(), _TENS.get(language, "").split()
    if 0 <= value < len(units):
        return units[value]
    return tens[value // 10 - 2] if tens and value % 10 == 0 and 20 <= value <= 100 else None
