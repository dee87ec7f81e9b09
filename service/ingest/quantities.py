"""Which quantity a heading names, in the languages that loggers speak."""

import difflib
import re
from dataclasses import dataclass

from service.errors import remark
from service.ingest.evidence import limit
from service.ingest.units import UNITS, Unit, plain

# What a number of the quantity can be at all, in the unit of its name. Practice, no source;
# the humidity a sensor may show above 100 % is analysis/published/moist_air.toml's.
POSSIBLE = {
    "temp_c": (-90.0, 100.0),
    "rh_pct": (0.0, 105.0),
    "dew_point_c": (-100.0, 100.0),
    "wet_bulb_c": (-90.0, 100.0),
    "pressure_pa": (30_000.0, 110_000.0),
    "sea_level_pressure_pa": (80_000.0, 110_000.0),
    "vapour_pressure_pa": (0.0, 20_000.0),
    "humidity_ratio_kg_kg": (0.0, 1.0),
    "absolute_humidity_g_m3": (0.0, 600.0),
}
FAMILY = {
    "temp_c": "temperature",
    "rh_pct": "share",
    "dew_point_c": "temperature",
    "wet_bulb_c": "temperature",
    "pressure_pa": "pressure",
    "sea_level_pressure_pa": "pressure",
    "vapour_pressure_pa": "pressure",
    "humidity_ratio_kg_kg": "ratio",
    "absolute_humidity_g_m3": "density",
}
WORDS = {
    "temp_c": remark("temperature"),
    "rh_pct": remark("relative humidity"),
    "dew_point_c": remark("dew point"),
    "wet_bulb_c": remark("wet bulb"),
    "pressure_pa": remark("air pressure"),
    "sea_level_pressure_pa": remark("air pressure at sea level"),
    "vapour_pressure_pa": remark("vapour pressure"),
    "humidity_ratio_kg_kg": remark("humidity ratio"),
    "absolute_humidity_g_m3": remark("absolute humidity"),
}

# A column with one of these is no reading of the air at that time.
_NO_READING = re.compile(
    r"\b(?:max|min|maks|mini|maxi|std|soll|code|cpu|board|wood|water|sea|past|source|count)\b"
    r"|maxim|minim|massim|maksim|previous|vergangen|\blast \d|\bletzte|uncert|\bflag|quality"
    r"|status|\berror|set ?point|sollwert|consigne|\btarget|alarm|\blimit|stdev|deviation"
    r"|\bdelta|\brange\b|batter|batterie|precip|\brain|niederschlag|neerslag|pluie|lluvia"
    r"|pioggia|chuva|\bregen|nederbord|nedbor|\bsade\b|sademaar|\bsoil|bodenfeucht|bodentemp|holz"
    r"|wasser|\bsnow|schnee|\bwind\b|wind ?speed|windgesch|visib|illum|radiation|strahlung"
    r"|chill|heat index|feels|apparent|humidex|gefuhlt|ressenti|vapou?r|dampf|\bvpd\b|deficit"
    r"|enthalp|calibrat(?!ed)|offset|neerslag|resistance|humidity sensor id"
)
_NOT_AIR = re.compile(r"surface|oberflach|\bground|\bgrass|\b(?:5|10) ?cm\b|\bprobe\b|\bwall\b")
_AIR = re.compile(r"\b(?:2|1[.,]5|1[.,]50) ?m(?:eters?|etres?)?\b|dry ?bulb|\bair\b|luft|trockenk")

_NAMED = [
    (
        "humidity_ratio_kg_kg",
        r"humidity ratio|mixing ratio|mischungsverh|rapport de melange|\bhumratio\b|vattenkvot",
    ),
    ("absolute_humidity_g_m3", r"\babs\w*\W*(?:hum|feucht|luft|fukt|umid|vocht|\bah\b)|\bah\b"),
    (
        "absolute_humidity_g_m3",
        r"绝对湿度|絶対湿度|절대습도|absolutni vlhkost|wilgotnosc bezwzgledna|абсолютная влажн"
        r"|humid\w* absolu|humedad absolu|umidita assol|umidade absol|absolute \w*feucht",
    ),
    (
        "dew_point_c",
        r"rosneho bodu|rosny bod|punkt rosy|harmatpont|точка росы|露点|이슬점|ciy noktasi"
        r"|\bdew|dauwpunt|taupunkt|\brosee\b|\brocio\b|rugiada|orvalho|da[gu]g+punkt|kastepiste"
        r"|\btd\d*\b|\bdp\d*\b|dewp",
    ),
    (
        "wet_bulb_c",
        r"\bwet ?bulb|feuchtkugel|bulbe humide|bulbo (?:h)?umed?i?do|natte ?bol|vat temp|wetb",
    ),
    (
        "rh_pct",
        r"humid|feucht|vochtig|fuktig|fugtig|\bfukt\b|kosteus|humed|umidit|umidad"
        r"|\b(?:rh|hr|ur|rv|rf|rlf|lf|rhe|rhi|hum|rhum|hrel|relh|relf)\d*\b|\br [hf]\d*\b",
    ),
    (
        "rh_pct",
        r"vlhkost|wilgotn|paratartalom|влажн|nem orani|\bnem\b|υγρασια|湿度|습도|dregm|umiditate"
        r"|\bvlaga|vlaznost|vlaznist|drosum|niiskus",
    ),
    ("rh_pct", r"^u$|^hygro\w*$"),
    ("temp_c", r"temperat|\btemp\d*\b|\btmp\d*\b|lampotila|dry ?bulb|trockenkugel|\btemper\b"),
    ("temp_c", r"teplota|homerseklet|температур|sicaklik|θερμοκρασια|温度|온도|hitastig"),
    ("temp_c", r"\bt(?:air|amb)?\d*\b|\bt[eia]\d*\b"),
]
_QUANTITY = [(quantity, re.compile(pattern)) for quantity, pattern in _NAMED]
_PRESSURE = re.compile(
    r"\bpress(?:ure)?\b|druck|pression|presion|pressao|luchtdruk|tryck|trykk|\btryk\b|paine\b"
    r"|\bbaro\w*|^p$"
)
_SEA_LEVEL = re.compile(r"sea level|meereshoh|zeeniveau|\bqnh\b|\bslp\b|\bmsl\b|niveau de la mer")

# Words that belong to the quantity or the unit, not to the name of a sensor.
_VOCABULARY = re.compile(
    r"rel|relat\w*|air|luft|lucht|temp\w*|tmp|humid\w*|hum|h?umed\w*|umid\w*|\w*feucht\w*|\w*vochtig\w*"
    r"|\w*fuktig\w*|\w*fugtig\w*|suhteellinen|\w*kosteus|\w*lampotila|\w*temperat\w*|rh|hr|ur|rv|rf"
    r"|rlf|rhum|t|te|ti|ta|u|u?hygro\w*|dew\w*|point\w*|punkt|\w*taupunkt\w*|de|di|da|rosee|rocio|rugiada"
    r"|orvalho|td|dp|dry|wet|bulb|ambient\w*|ambiante?|deg|degc|degf|c|f|pct|percent|celsius"
    r"|fahrenheit|in|of|the|ilman|aire|aria|do|ar|press\w*|\w*druck|kastepiste|\w*dauwpunt|da[gu]g+punkt"
    r"|vlhkost|teplota|vzduchu|wilgotnosc|relativni|wzgledna|powietrza|homerseklet|paratartalom|relativ"
    r"|температура|влажность|воздуха|относительная|温度|湿度|相对|ratio|fraction|frac|k|kelvin|l|value|reading|avg|average|mean|°c|°f|°|h|r|baro\w*|p|absolut\w*|abs|ah"
)


@dataclass(frozen=True)
class Named:
    """What a heading names: a quantity, the sensor it belongs to, and how sure that is."""

    quantity: str
    label: str
    rank: int


# A short name of a quantity behind the number of a sensor: S2RH, T1RH1.
_JOINED = r"\b((?!CO)[A-Za-z]{1,3}\d{1,3})(RH|HR|RF|rF|UR|rh|Temp|temp|Hum|hum|T|t)(?=\d*\b)"


def words_of(text: str) -> str:
    """Return a heading as plain words.

    Examples
    --------
    >>> words_of("HumidityRatio"), words_of("Rel.-Feuchte_1"), words_of("Dry-bulb")
    ('humidity ratio', 'rel feuchte 1', 'dry bulb')
    """
    apart = re.sub(_JOINED, r"\1 \2", text.replace("_", " "))
    apart = re.sub(r"\brF(?=\d*\b)", "rf", apart)
    apart = re.sub(r"([a-zà-ÿ])([A-Z])", r"\1 \2", apart)
    return re.sub(r"[^\w.,]+|_|(?<!\d)[.,]|[.,](?!\d)", " ", plain(apart)).strip()


def quantity_of(words: str) -> str | None:
    """Return the quantity that plain words name, or None.

    Examples
    --------
    >>> [quantity_of(w) for w in ("suhteellinen kosteus", "rhum", "precipitation", "t")]
    ['rh_pct', 'rh_pct', None, 'temp_c']
    """
    if _PRESSURE.search(words) and not re.search(r"vapou?r|dampf", words):
        return "sea_level_pressure_pa" if _SEA_LEVEL.search(words) else "pressure_pa"
    if _NO_READING.search(words):
        return None
    for quantity, pattern in _QUANTITY:
        if pattern.search(words):
            return quantity
    return None


def is_quality(words: str) -> bool:
    """Return whether plain words speak of the quality or the kind of a value beside them."""
    return bool(_NO_READING.search(words))


# What else stands in files: known, and no reading of the air's warmth or moisture.
_OTHER = re.compile(
    r"\b(?:co2|carbon|voc|tvoc|pm ?\d*\.?\d*|ppm|ppb|lux|lx|light|licht\w*|lumiere|luz|luce|ljus"
    r"|lys|valo|uv\w*|noise|sound|db|volt\w*|vbat\w*|batt?\w*|akku|power|energy|current|signal|rssi"
    r"|snr|lqi|occup\w*|motion|pir|door|window|fan|heat\w*|valve|event\w*|note\w*|comment\w*|remark\w*"
    r"|bemerk\w*|label|seq\w*|packet\w*|counter|record|firmware|version|wind\w*|gust\w*|cloud\w*"
    r"|ozone|dust|particle\w*|radiat\w*|solar|ghi|dni|dhi|visib\w*|flow|speed|direction|wdir|wspd"
    r"|altitude|elevation|latitude|longitude|lat|lon|weekday|wochentag|interval|duration|acc\w*)\b"
)


def is_other(words: str) -> bool:
    """Return whether plain words name something known that is neither warmth nor moisture.

    Examples
    --------
    >>> is_other("co2"), is_other("battery voltage"), is_other("channel 1")
    (True, True, False)
    """
    return bool(_OTHER.search(words))


def is_air(words: str) -> bool:
    """Return whether plain words speak of the air rather than a surface or a probe."""
    return bool(_AIR.search(words)) or not _NOT_AIR.search(words)


def label_of(heading: str) -> str:
    """Return what is left of a heading without the words of its quantity and unit.

    Examples
    --------
    >>> [label_of(h) for h in ("North gallery - Temp", "RH2", "Rel. humidity store")]
    ['North gallery', '2', 'store']
    """
    apart = re.sub(_JOINED, r"\1 \2", heading.replace("_", " "))
    apart = re.sub(r"([a-zà-ÿ])([A-Z][a-z])", r"\1 \2", apart)
    apart = re.sub(r"\b((?i:rh|hr|rf|ur|t|temp|hum|td))(\d+)\b", r"\1 \2", apart)
    tokens = [token for token in re.split(r"[\s_:;,./|()\[\]%#\-–'’]+", apart) if token]
    return " ".join(token for token in tokens if not _VOCABULARY.fullmatch(plain(token)))


def measures(unit: Unit, quantity: str) -> bool:
    """Return whether a unit can be the quantity's."""
    return unit.family == FAMILY[quantity]


def unit_for(quantity: str) -> Unit:
    """Return the unit that the quantity's name promises."""
    names = {"temperature": "°C", "share": "%", "pressure": "Pa", "ratio": "kg/kg"}
    return UNITS[names.get(FAMILY[quantity], "g/m³")]


# Words to which a misspelt heading may be near.
_NEAR = {
    "temp_c": ("temperature", "temperatur", "temperatura", "temperatuur", "temp", "lampotila",
               "lufttemperatur", "raumtemperatur", "airtemp", "celsius", "fahrenheit", "teplota",
               "homerseklet", "sicaklik", "температура"),
    "rh_pct": ("humidity", "relhumidity", "relativehumidity", "humidite", "humedad", "umidita",
               "umidade", "humidade", "feuchte", "feuchtigkeit", "luftfeuchte", "luftfuktighet",
               "luftfugtighed", "vochtigheid", "fuktighet", "kosteus", "humid", "vlhkost",
               "wilgotnosc", "paratartalom", "vlaznost", "umiditate", "влажность"),
}  # fmt: skip
# Words in which one letter differs and which are near them by chance.
_NOT_NEAR = frozenset(("time", "tempo", "temps", "humus", "template", "tempered", "comp"))


def near_quantity(token: str) -> str:
    """Return the quantity to whose word a single word is near, "" where to none.

    Examples
    --------
    >>> [near_quantity(word) for word in ("tempertaure", "humidty", "channel")]
    ['temp_c', 'rh_pct', '']
    """
    if len(token) < 3 or token in _NOT_NEAR:
        return ""
    least = limit("name", "near")
    for quantity, known in _NEAR.items():
        if any(_similar(token, word) >= least for word in known):
            return quantity
    return ""


def _similar(token: str, word: str) -> float:
    if abs(len(token) - len(word)) > 4:
        return 0.0
    matcher = difflib.SequenceMatcher(None, token, word)
    begun = (len(token) >= 4 and word.startswith(token)) or (
        len(word) >= 4 and token.startswith(word)
    )
    return 1.0 if begun else matcher.ratio()
