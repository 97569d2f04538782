"""General trade words for the columns and choice words of the job log (common practice, no source).

They only propose: a person confirms every mapping. Words are written in small letters; a phrase stands for
the words a firm might put into a heading, in any order.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from functools import lru_cache
from types import MappingProxyType

from pipeline.mapping.heading_doubts import DOUBTFUL, FORBIDDING

SYNONYMS = MappingProxyType(
    {
        "job_id": "job|job no|job ref|ref|order|order no|ticket|work order|auftrag|auftragsnummer",
        "firm_id": "firm|branch|depot",
        "engineer_id": "engineer|technician|tech|fitter|operative|monteur|engineer id|led by",
        "crew_size": "crew|team size|staff|men|engineers on site|mann",
        "property_kind": "property|property type|house type|dwelling|building type|type of property|gebäude",
        "floor_count": "floors|storeys|stories|number of floors|levels|geschosse",
        "postcode_district": "postcode|district|postcode district|outward postcode|area code",
        "system_type": "system|system type|vented or sealed|open or sealed|type of system|anlage|anlagentyp"
        "|heating system",
        "pipe_layout": "layout|pipework|pipe layout|piping|pipe system|one or two pipe|rohrsystem",
        "main_bore_mm": "main bore|main pipe|primary size|primaries|main tube",
        "boiler_kind": "boiler|boiler type|heat source type|appliance|kessel|boiler kind",
        "boiler_output_kw": "boiler output|boiler size|boiler rating|kesselleistung",
        "aluminium_exchanger": "aluminium exchanger|aluminum exchanger|aluminium heat exchanger|aluminium boiler",
        "buffer_l": "buffer|buffer volume|buffer size|thermal store|pufferspeicher",
        "install_year": "install year|system year",
        "last_cleaned_year": "last cleaned|last flush|last flushed year|previous clean|letzte reinigung",
        "emitter_count_at_survey": "radiators|number of radiators|radiator count|how many radiators|emitters"
        "|number of emitters|heizkörper|anzahl heizkörper",
        "cold_count_at_survey": "cold radiators|radiators cold|number of cold radiators",
        "upstairs_count_at_survey": "upstairs radiators|radiators upstairs",
        "long_count_at_survey": "long radiators|radiators over 1600 mm",
        "panel_11_count": "number of type 11|singles|single radiators",
        "panel_21_count": "number of type 21",
        "panel_22_count": "number of type 22|doubles|double radiators",
        "towel_rail_count": "towel rails|number of towel rails",
        "column_count": "column radiators|number of columns",
        "underfloor_loop_count": "underfloor loops|number of loops|loops",
        "emitter_age_years": "age of radiators|radiator age|age of emitters|age of system|system age|alter",
        "inhibitor_at_survey": "inhibitor present|inhibitor found|inhibitor at survey|inhibitor before",
        "filter_at_survey": "filter present|filter already fitted|existing filter|filter at survey|filter before",
        "known_building_debris": "building debris|sand|debris known|building work|sand or cement",
        "antifreeze_at_survey": "antifreeze|glycol|antifreeze found|frostschutz",
        "topups_per_year": "topups|top ups|top up per year|refills per year|nachfüllungen",
        "survey_ph": "survey ph|ph before|initial ph|ph start",
        "survey_conductivity_us_cm": "survey conductivity|conductivity before",
        "survey_turbidity_ntu": "survey turbidity|turbidity before",
        "survey_iron_mg_l": "survey iron|iron before",
        "mains_conductivity_us_cm": "mains conductivity|fill water conductivity|tap conductivity",
        "predosed_on": "predosed|cleaner added|predose date|pre dose",
        "predose_label_ratio": "dose ratio|predose ratio|label ratio",
        "label_max_days": "label days|max days|label max days",
        "cleaner_suits_aluminium": "cleaner suits aluminium|cleaner safe for aluminium|aluminium safe cleaner",
        "visit_date": "date|visit date|job date|day|date of visit|visit|datum|tag|date of job|work date",
        "flush_started_at": "flush start|flush started|flush begin|flush began",
        "flush_ended_at": "flush end|flush finish|flush stop|flush stopped",
        "arrived_at": "arrived|arrival|arrival time|ankunft",
        "left_at": "left|left site|off site|departure|departed|abfahrt",
        "heat_source": "heat|heat source|heating during flush|heat used|heated by",
        "heater_kw": "heater rating|inline heater",
        "connection": "connection|connected at|connection point|where connected|anschluss",
        "machine_max_flow_l_min": "machine flow|machine max flow",
        "machine_open_tank": "open tank|machine open tank|open tank machine",
        "hose_length_m": "hose length|schlauchlänge",
        "hose_bore_mm": "hose bore|hose diameter|hose size",
        "isolation": "isolation|isolated|how isolated|focus|radiators isolated",
        "agitation": "agitation|agitated",
        "half_drained_emitters": "half drained|radiators half drained|half drained radiators",
        "flow_reversed": "flow reversed|reversed|reverse flow|reversing",
        "boiler_strainer": "strainer|boiler strainer|strainer cleaned",
        "strainer_checked": "strainer checked|trap checked|base checked",
        "final_ph": "final ph|ph after|end ph|ph end",
        "final_conductivity_us_cm": "final conductivity|conductivity after|end conductivity",
        "dosed_conductivity_us_cm": "conductivity after dosing|conductivity with inhibitor|dosed conductivity",
        "final_turbidity_ntu": "final turbidity|turbidity after|end turbidity",
        "final_iron_mg_l": "final iron|iron after",
        "filter_fitted": "filter fitted|new filter|filter eingebaut",
        "inhibitor_dosed": "inhibitor dosed|inhibitor added|inhibitor after",
        "quoted_minutes": "quoted time|time quoted|quoted duration|estimated time|quoted hours",
        "quoted_price": "quoted price|price quoted|net price",
        "cleaner_put_in_l": "cleaner put in|cleaner used|litres of cleaner",
        "inhibitor_put_in_l": "inhibitor put in|inhibitor used|litres of inhibitor",
        "caught_total_kg": "total caught|caught in total|total sludge|sludge total|sludge removed|debris removed"
        "|kg removed|total debris|debris total|magnetite removed|total magnetite",
        "caught_total_weighed": "total weighed|total wet or dry",
        "worked_hours": "hours|hours on site|hours worked|time on site|duration|job hours|total hours|stunden",
        "charged_price": "price charged|charged|amount charged|invoice|invoiced|invoice amount|paid",
        "came_back": "came back|come back|has come back|returned|recall|reklamation",
        "followed_until": "followed until|follow up until|last contact",
        "emitter_no": (
            "radiator|rad|rad no|radiator no|emitter|emitter no|radiator number|heizkörper|heizkörper nr|number"
        ),
        "emitter_kind": "type|kind|radiator type|rad type|emitter type|panel type|typ",
        "room": "room|rooms|raum|zimmer",
        "height_mm": "height|radiator height|rad height|h|höhe",
        "length_mm": "length|width|radiator length|rad length|rad width|l|länge",
        "floor_level": "floor|level|storey|etage|on floor",
        "tail_bore_mm": "tail|tail bore|tail size|tails",
        "valve_kind": "valve|valve kind|valve type|radiator valve|ventil",
        "cold_at_survey": "cold|cold spots|cold at survey|cold at bottom|cold before|kalt",
        "run_no": "run|run no|pipe run|section|line no",
        "material": "material|pipe material|tube material|werkstoff",
        "outside_mm": "outside diameter|od|outside",
        "length_m": "length|run length|pipe length|länge",
        "catch_no": "catch no|catch|weighing|weighing no|no|number|catch number|sample no|nr|lfd nr",
        "caught_at": "time|caught at|catch time|weighed at|when|time weighed|uhrzeit|zeit|time caught|at|time stamp"
        "|timestamp|date time",
        "focus_emitter_no": "radiator|rad|focus|radiator in focus|emitter|rad no|heizkörper|focus radiator",
        "trap": "trap|where|caught where|caught in|found in|place|magnet or strainer|source|fangort|location",
        "mass_g": "mass|weight|weight caught|sludge weight|debris weight|gewicht|masse|wet weight|dry weight",
        "weighed": "wet or dry|weighed|state|weighed wet|condition|nass oder trocken",
        "sticks_to_magnet": "sticks to magnet|magnetic|magnet test|magnetisch",
        "note": "note|notes|remark|remarks|comment|comments|bemerkung|details",
        "read_at": "time|read at|reading time|timestamp|logged at|uhrzeit|zeit|zeitstempel|date time|time stamp",
        "flow_l_min": "flow|flow rate|durchfluss|flowrate",
        "flow_temp_c": "flow temperature|supply temperature|flow pipe temperature|vorlauf|vorlauftemperatur",
        "return_temp_c": "return temperature|return temp|return|rücklauf|rücklauftemperatur|temperature return",
        "turbidity_ntu": "turbidity|trübung",
        "conductivity_us_cm": "conductivity|leitfähigkeit",
        "ph": "ph|ph value",
        "pressure_bar": "pressure|system pressure|druck",
        "called_back_on": "date|callback date|called back|return visit|return date|datum|date of callback",
        "cause": "cause|reason|fault|fault found|problem|grund|ursache",
        "top_before_c": "top before|top temperature before",
        "bottom_before_c": "bottom before|bottom temperature before",
        "top_after_c": "top after|top temperature after",
        "bottom_after_c": "bottom after|bottom temperature after",
        "debris_related": "debris related|due to debris|sludge related",
    }
)
"""Contract column → phrases that decide, with `|` between them; those that do not are `headings_doubts.DOUBTFUL`."""

TABLE_WORDS = MappingProxyType(
    {
        "jobs": "jobs job visits works orders arbeiten aufträge flushes projects",
        "emitters": "emitters emitter radiators radiator rads rad heizkörper hk",
        "pipe_runs": "pipes pipe runs pipework tubes rohre",
        "catches": "catches catch weighings weighing debris sludge weights fänge fang magnet strainer trap magnetite",
        "readings": "readings reading logger log measurements instruments messwerte meter",
        "callbacks": "callbacks callback returns recalls revisits reklamationen",
    }
)
"""Words in the name of a file or sheet, and in numbered headings, that speak for a table."""

CHOICES = MappingProxyType(
    {
        "system_type": {
            "open_vented": "vented|open|open vented|ov|f&e|tank fed|header tank|gravity fed|offen",
            "sealed": "sealed|pressurised|pressurized|closed|geschlossen",
        },
        "property_kind": {
            "house": "house|detached|haus|villa",
            "semi_detached": "semi|semi detached|semi-detached|doppelhaus|doppelhaushälfte",
            "bungalow": "bungalow|single storey",
            "flat": "flat|apartment|maisonette|wohnung|condo",
            "terrace": "terrace|terraced|row house|mid terrace",
        },
        "pipe_layout": {
            "two_pipe": "two pipe|2 pipe|2-pipe|twin pipe|zweirohr",
            "one_pipe": "one pipe|1 pipe|1-pipe|single pipe|einrohr",
            "microbore_manifold": "microbore|manifold|microbore manifold",
        },
        "boiler_kind": {
            "heat_only": "heat only|regular|conventional|standard",
            "system": "system|system boiler",
            "combi": "combi|combination|combi boiler",
            "heat_pump": "heat pump|ashp|gshp|wärmepumpe",
        },
        "heat_source": {
            "none": "none|cold|no heat|keine",
            "boiler": "boiler|kessel|own boiler",
            "inline_heater": "heater|inline heater|inline|electric heater",
            "both": "both|beide",
        },
        "connection": {
            "boiler_flow_return": "boiler|flow and return|boiler tails|at boiler|f&r",
            "pump_tails": "pump|pump tails|pump valves|across pump",
            "emitter_tails": "radiator tails|rad tails|tails",
            "emitter_valves": "radiator valves|rad valves|valves",
            "microbore_tails": "microbore|microbore tails",
        },
        "isolation": {
            "one_at_a_time": "one at a time|each|singly|individually|one by one|single",
            "groups": "groups|by floor|zones|by zone",
            "all_open": "all open|all|none|open",
        },
        "agitation": {
            "none": "none|no",
            "valve_bounce": "valve|valves|bounce|valve bounce|opening and closing",
            "vibration": "vibration|hammer|vibrator|drill|shaker",
            "both": "both",
        },
        "boiler_strainer": {
            "none_found": "none|none found|no strainer",
            "cleaned": "cleaned|clean",
            "removed_and_refitted": "removed|refitted|removed and refitted|out and back",
            "left_in": "left in|left|not touched|untouched",
        },
        "filter_fitted": {
            "none": "none|no|not fitted|n",
            "on_return": "return|on return|yes return",
            "on_flow": "flow|on flow",
            "already_there": "already there|existing|already|had one",
        },
        "emitter_kind": {
            "panel_10": "p1|single panel|type 10|10|panel 10",
            "panel_11": "k1|type 11|11|panel 11|single convector",
            "panel_20": "p2|double panel|type 20|20|panel 20",
            "panel_21": "p+|type 21|21|panel 21",
            "panel_22": "k2|type 22|22|panel 22|double convector",
            "panel_33": "k3|type 33|33|panel 33|triple",
            "column": "column|cast iron|columns",
            "towel_rail": "towel rail|towel|ladder|towel radiator|handtuch",
            "convector": "convector|fan convector|skirting",
            "underfloor_loop": "underfloor|ufh|loop|fussboden",
            "coil": "coil|cylinder|cylinder coil",
        },
        "material": {
            "copper": "copper|cu|kupfer",
            "plastic": "plastic|pex|poly|pb|kunststoff",
            "steel": "steel|iron|barrel|stahl",
        },
        "trap": {
            "magnet": "magnet|magnetic|mag|magnetic trap|magnetic filter",
            "strainer": "strainer|sieve|basket|sieb|mesh",
            "machine_base": "base|machine base|tank|bottom|machine",
        },
        "weighed": {"wet": "wet|damp|drained|nass|feucht|w", "dry": "dry|dried|trocken|d"},
        "cause": {
            "blockage": "blockage|blocked|blocked pipe",
            "cold_emitter": "cold radiator|cold|cold rad|rad cold|kalt",
            "noise": "noise|kettling|noisy|banging",
            "pump": "pump|pump seized|pump stuck",
            "boiler_fault": "boiler|boiler fault|lockout|kessel",
            "leak": "leak|leaking|weep|leck",
            "other": "other|misc|sonstiges",
        },
        "yes_no": {"yes": "yes|y|true|1|ja|j|x|✓|✔|ticked|done|oui|si", "no": "no|n|false|0|nein|none|not done|non"},
    }
)
"""Contract column → choice → what firms write for it; `yes_no` is for every column of that kind."""

_ABBREVIATIONS = MappingProxyType(
    {
        "temp": "temperature",
        "tmp": "temperature",
        "num": "no",
        "nr": "no",
        "number": "no",
        "reference": "ref",
        "rads": "radiators",
        "rad": "radiator",
        "dia": "diameter",
        "cond": "conductivity",
        "turb": "turbidity",
        "wt": "weight",
        "weights": "weight",
        "eng": "engineer",
        "yr": "year",
        "mins": "min",
        "qty": "amount",
        "predose": "predosed",
        "topups": "topup",
        "started": "start",
        "ended": "end",
        "finished": "finish",
        "catches": "catch",
        "notes": "note",
        "comments": "comment",
        "remarks": "remark",
        "tails": "tail",
        "floors": "floor",
        "flushing": "flush",
        "stopped": "stop",
        "began": "begin",
    }
)
_STOP = frozenset({"the", "of", "a", "an", "and", "or", "per", "der", "die", "das", "is", "was"})
_CLOSE = 0.86
_CLOSE_WORTH = 0.85


@lru_cache(maxsize=20_000)
def tokens(text: str) -> frozenset[str]:
    """The words of a heading or phrase as they are compared: no fillers, abbreviations written out."""
    split = re.findall(r"[^\W\d_]+|\d+|[&+✓✔%£€$]", text.lower())
    found = [_ABBREVIATIONS.get(word, word) for word in split]
    return frozenset(word for word in found if word not in _STOP) or frozenset(found)


def likeness(text: str, phrases: Iterable[str]) -> float:
    """How well a text matches the best of some phrases: 1 for the same words, 0 for none in common."""
    return max((_likeness(tokens(text), tokens(phrase)) for phrase in phrases), default=0.0)


@lru_cache(maxsize=200_000)
def _likeness(left: frozenset[str], right: frozenset[str]) -> float:
    if not left or not right:
        return 0.0
    matched = float(len(left & right))
    rest = right - left
    for word in left - right:
        near = [other for other in rest if _is_close(word, other)]
        if near:
            matched += _CLOSE_WORTH
            rest = rest - {near[0]}
    return 2.0 * matched / (len(left) + len(right))


@lru_cache(maxsize=200_000)
def accounted(words: frozenset[str], phrase: frozenset[str]) -> frozenset[str] | None:
    """The words that a phrase leaves over; None where it is not wholly there. A slip of the pen is passed over, unless
    the word is one that some other phrase holds."""
    left, missing = set(words - phrase), phrase - words
    for wanted in missing:
        slip = next((word for word in left if word not in _known() and _is_close(word, wanted)), None)
        if slip is None:
            return None
        left.discard(slip)
    return frozenset(left) if phrase else None


@lru_cache(maxsize=1)
def _known() -> frozenset[str]:
    """Every word of every phrase, and every word that forbids a column."""
    phrases = [phrase for table in (SYNONYMS, DOUBTFUL) for each in table.values() for phrase in each.split("|")]
    return frozenset(word for phrase in phrases for word in tokens(phrase)) | FORBIDDING


@lru_cache(maxsize=100_000)
def _is_close(word: str, other: str) -> bool:
    """Whether two words differ by a slip or an ending only."""
    if min(len(word), len(other)) < 4 or abs(len(word) - len(other)) > 2 or word[0] != other[0]:
        return False
    return difflib.SequenceMatcher(None, word, other).ratio() >= _CLOSE


@lru_cache(maxsize=1_000)
def phrases_of(column: str) -> tuple[str, ...]:
    """A column's own name and its synonyms."""
    return (column.replace("_", " "), *SYNONYMS.get(column, "").split("|"))


def choice_for(column: str, kind: str, word: str) -> tuple[str, float]:
    """The contract's word nearest to a firm's word, and how near: 1 for the same, 0 for none."""
    known = CHOICES.get("yes_no" if kind == "yes_no" else column, {})
    text = word.strip().lower()
    best, score = "", 0.0
    for ours, theirs in known.items():
        words = theirs.split("|")
        if text.replace(" ", "_").replace("-", "_") == ours:
            return ours, 1.0
        near = 0.95 if text in words else 0.8 * likeness(text, (ours.replace("_", " "), *words))
        if near > score:
            best, score = ours, near
    return best, round(score, 2)
