"""How growers write numbers and units, what they count, and the words around a number that bear on it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

SPACE = "[ \t\xa0\u2009\u202f]"
BLANK = "\x00"
"""Stands in for a digit that is part of a name, a date or a time, so that places in the text stay the same."""


def either_of(words: str | Sequence[str]) -> str:
    """Return a pattern for any of some words, the longest first."""
    several = words.split() if isinstance(words, str) else words
    return "|".join(re.escape(word).replace(r"\ ", f"{SPACE}+") for word in sorted(several, key=len, reverse=True))


def compiled(pattern: str) -> re.Pattern[str]:
    """Return a verbose pattern in which an escaped space stands for one to three spaces of any sort."""
    pattern = pattern.replace(r"[-\ ]", f"(?:-|{SPACE}{{1,3}})").replace(r"\ ", f"{SPACE}{{1,3}}")
    return re.compile(pattern, re.IGNORECASE | re.ASCII | re.VERBOSE)


ONES = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
}  # fmt: skip
TEENS = {
    "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16,
    "seventeen": 17, "eighteen": 18, "nineteen": 19,
}  # fmt: skip
TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fourty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80,
    "ninety": 90, "ninty": 90,
}  # fmt: skip
DIGIT_WORDS: Mapping[str, int] = {"zero": 0, "oh": 0, **ONES}
WORD_VALUES: Mapping[str, int] = {"zero": 0, **ONES, **TEENS, **TENS}
VULGAR = {"½": 0.5, "¼": 0.25, "¾": 0.75, "⅓": 1 / 3, "⅔": 2 / 3, "⅛": 0.125, "⅜": 0.375, "⅝": 0.625, "⅞": 0.875}
SHARES = {"half": 0.5, "quarter": 0.25, "third": 1 / 3, "thirds": 2 / 3, "quarters": 0.75}

_TENS, _ONES, _TO_TWENTY = either_of(list(TENS)), either_of(list(ONES)), either_of(list({**TEENS, **ONES}))
SMALL = rf"(?:(?:{_TENS})(?:[-\ ](?:{_ONES})(?![a-z]))?|{_TO_TWENTY})"
"""Number words from one to ninety-nine."""
_WORDS = rf"(?:(?:an?|{either_of(list(ONES))})\ hundred(?:\ (?:and\ )?{SMALL}(?![a-z]))?|{SMALL}|zero)"
_AFTER_POINT = rf"(?:(?:{either_of(list(DIGIT_WORDS))})(?:\ (?:{either_of(list(DIGIT_WORDS))})(?![a-z])){{0,2}}|[0-9]+)"
SLASH = r"(?:1/2|[12]/3|[13]/4|[1357]/8|(?:1|3|5|7|9|11|13|15)/16)"
NUMBER = compiled(
    rf"""(?<![0-9a-z_])(?<![0-9][.,:/])(?:
      (?P<whole>[0-9]+){SPACE}?(?P<whole_vulgar>[{"".join(VULGAR)}])
    | (?P<before_slash>[0-9]+)[-\ ](?P<mixed_slash>{SLASH})(?![0-9/])
    | (?P<slash>{SLASH})(?![0-9/])
    | (?P<vulgar>[{"".join(VULGAR)}])
    | (?P<digits>[0-9]+(?:[.,][0-9]+)?|\.[0-9]+)(?:{SPACE}point{SPACE}(?P<digits_point>{_AFTER_POINT}))?
    | (?:zero\ )?point\ (?P<point>{_AFTER_POINT})(?![a-z])
    | (?:(?:an?|one)[-\ ])?(?P<share>half|quarter)(?![a-z])
    | (?:an?|one)[-\ ](?P<share_third>third)(?![a-z])
    | (?:two[-\ ](?P<share_thirds>thirds)|three[-\ ](?P<share_quarters>quarters))(?![a-z])
    | (?P<words>{_WORDS})(?![a-z])(?:\ point\ (?P<words_point>{_AFTER_POINT})(?![a-z]))?
    | (?:an?\ )?(?:(?P<couple>couple)|(?P<pair>pair))(?:\ of)?(?![a-z])
    | (?:an?\ )?(?P<dozen>dozen)(?![a-z])
    | (?P<article>an?)\ (?=(?:{either_of("inch foot metre meter gallon litre liter kilo pound hour")})(?![a-z]))
    )(?![0-9])(?![.,:/][0-9])"""
)
"""A number as written. A slash is only a fraction in the sizes of a ruler; whether it is one, its unit tells."""
AND_A_PART = compiled(r"\ and\ (?:an?\ (?P<one>half|quarter)|three\ (?P<many>quarters))(?![a-z])")

DOZEN = compiled(r"\ (?:an?\ )?dozen(?![a-z])")
STUCK_LETTER = compiled(r"['’][a-z]")
SPELT_NEXT = compiled(rf"[-\ ](?:{_WORDS})(?![a-z])")
OR_TWO = compiled(
    rf"\ or\ (?:two|so|2)(?![a-z0-9])(?={SPACE}*(?:\Z|[.,;:!?)\n]|\ (?:of|deep|long|more|at|on|to)(?![a-z])))"
)
UNCLEAR_COMMA = re.compile(r"(?!0,[0-9]{2}\Z)[0-9]+,[0-9]{2,}")
"""May be thousands or two numbers; a comma with a single figure after it is a decimal comma."""
COMMA = re.compile(",")
SIGN = compiled(rf"(?P<sign>(?<![a-z])(?:minus|negative|neg)|[-−–—+])(?P<space>\.?{SPACE}{{0,3}})\Z")
NUMBER_BEFORE = re.compile(rf"[0-9]{SPACE}+\Z")
PART_OF = compiled(r"(?:\ of)?\ (?:an?|one)(?=\ )")
JOINT = compiled(rf"{SPACE}{{0,2}}(?P<and>and\ )?")
STUCK_DIGITS = compiled(r"(?<=[a-z'])[0-9]+(?![0-9]|[.,:/][0-9])")

UNIT_WORDS: Mapping[str, str] = {
    "cm": "cm cms centimetre centimetres centimeter centimeters",
    "mm": "mm mms millimetre millimetres millimeter millimeters",
    "m_s": "m/s mps",
    "km_h": "km/h kmh kph kmph",
    "mph": "mph mi/h",
    "m": "m metre metres meter meters mtr mtrs",
    "in": "inch inches inchs inche ins ″",
    "ft": "ft foot feet ′",
    "ml": "ml mls millilitre millilitres milliliter milliliters",
    "l": "l lt ltr ltrs litre litres liter liters",
    "gal": "gal gals gallon gallons galon galons",
    "kg": "kg kgs kilo kilos kilogram kilograms kilogramme kilogrammes",
    "g": "g gr gm gms gram grams gramme grammes",
    "lb": "lb lbs pound pounds",
    "oz": "oz ounce ounces",
    "percent": "% percent pct",
    "h": "h hr hrs hour hours",
    "min": "min mins minute minutes",
}
UNIT_OF: Mapping[str, str] = {word: unit for unit, words in UNIT_WORDS.items() for word in words.split()}
_SPEEDS = r"""(?P<m_s>(?:metres?|meters?)\ (?:per|an?)\ second)|(?P<km_h>(?:km|kilomet(?:re|er)s?)\ (?:per|an?)\ hour)
    |(?P<mph>miles?\ (?:per|an?)\ hour)|(?P<percent>per\ cent)"""
DEGREES = r"(?:degrees?|degs?\.?|[°º˚])"
_WHOLE_WORDS = either_of(
    "under in at on deep below near by sun shade soil air mulch chips long high tall and today this last vs of to the"
)
NEXT = rf"(?:(?![a-z])|(?=(?:{_WHOLE_WORDS})(?![a-z])))"
"""What may come after a unit: no letter, or a small word that the thumb left no space before ("12.5cunder")."""
UNIT = compiled(
    rf"""(?P<gap>{SPACE}{{0,2}}|-)(?:
      (?P<celsius>℃|(?:{DEGREES}{SPACE}?|o(?=c(?![a-z])))?(?:celsius|celcius|centigrade|c){NEXT})
    | (?P<fahrenheit>℉|(?:{DEGREES}{SPACE}?)?(?:fahrenheit|farenheit|fahrenhiet|f){NEXT})
    | (?P<degrees>{DEGREES})(?![a-z])(?!\ days?(?![a-z]))
    | (?:{_SPEEDS}){NEXT}
    | (?P<plain>{either_of(list(UNIT_OF))})(?:{NEXT}|(?<=%))
    )"""
)
CAPITAL_UNIT = re.compile(r"(?P<unit>[CF])(?=[a-z])")
"""A capital C or F between a number and a word that the thumb left no space before ("68Fsouth")."""
IN = compiled(rf"(?P<gap>{SPACE}{{0,2}}|-)in(?![a-z])")
LENGTH_AFTER_IN = compiled(
    r"(?:-|\ )?(?:deep|long|tall|high|thick|wide|across|of|down|below|under|more|shoots?|growth|inch)(?![a-z])"
)
PAUSE_AFTER_IN = compiled(
    rf"{SPACE}*(?:\Z|[.,;:!?)\n])|\ (?:at|on|and|for|today|yesterday|now|already|from|since)(?![a-z])"
)
PLACE_AFTER_IN = compiled(
    rf"""{SPACE}+(?:the|an?|my|our|his|her|their|this|that|these|those|its|it|all|total|full|here|there|sun|shade|air
    |pot(?=\x00|\ [\x000-9])
    )(?![a-z])"""
)
CLAUSE_ENDS = re.compile(rf"{SPACE}*(?:\Z|[.,;:!?)\n](?![0-9]))")
SOIL_WORD = compiled(rf"{SPACE}+(?:mulch|chips|straw|soil|ground|shade|sun|compost|leaves)(?![a-z])")
STUCK = compiled(rf"(?:{_WHOLE_WORDS}|ish)(?![a-z])")
OPENING_DOUBLE = re.compile('(?<![0-9])["“”]')
OPENING_SINGLE = re.compile(r"(?<!\w)['‘]")
FROM_ZERO = compiled(
    r"\ (?P<way>below|under|above|over)\ (?:(?P<freezing>freezing)|zero|0(?![0-9]|[.,][0-9]))(?![a-z])"
)
BELOW = compiled(
    rf"""\ below(?={SPACE}*(?:\Z|[.,;:!?)\n])|{SPACE}+(?:at|in|on|by|last|tonight|this|overnight|here|outside|today
    |yesterday|now|again|and)(?![a-z]))"""
)
LAYERS = compiled(r"(?<![a-z])(?:above|top|surface|soil|mulch|chips|straw|deep|depth|roots?|under|down)(?![a-z])")
"""Words of a message that makes of "below" a place in the ground."""
BROUGHT = compiled(r"(?<![a-z])(?:br(?:ought|ing)|mov|took|tak|carr|came|come|drag|haul|wheel|got|put|pots?)")
_OTHER_UNITS = (
    "km kms kilometres kilometers mile miles mi yard yards yd yds acre acres pint pints pt quart quarts qt qts knot "
    "knots kt kts ppm ph volt volts watt watts lux euro euros eur dollar dollars bucks quid pence cents usd ton tons "
    "tonne tonnes sec secs second seconds thousand million cup cups tbsp tsp tablespoon tablespoons teaspoon teaspoons "
    "pair pairs hpa mbar o'clock oclock noon midday midnight am pm a.m p.m"
)
OTHER_UNIT = compiled(rf"{SPACE}?(?:{either_of(_OTHER_UNITS)})(?![a-z])")
"""Units that no record here holds, and words that make a time of a number."""

COUNTED_WORDS: Mapping[str, str] = {
    "leaves": "leaf leaves leafs leavs lvs lves", "buds": "bud buds", "fruits": "fruit fruits",
    "fruitlets": "fruitlet fruitlets", "figs": "fig figs", "brebas": "breba brebas", "shoots": "shoot shoots",
    "pots": "pot pots tub tubs", "nodes": "node nodes", "days": "day days", "nights": "night nights",
    "weeks": "week weeks wk wks", "months": "month months", "years": "year years yr yrs", "trees": "tree trees",
    "plants": "plant plants", "ones": "ones", "flowers": "flower flowers blossom blossoms bloom blooms",
    "branches": "branch branches limb limbs", "canes": "cane canes", "cuttings": "cutting cuttings",
    "peaches": "peach peaches", "pears": "pear pears", "apples": "apple apples", "plums": "plum plums",
    "cherries": "cherry cherries", "apricots": "apricot apricots", "berries": "berry berries",
    "suckers": "sucker suckers", "stems": "stem stems", "tips": "tip tips", "spurs": "spur spurs",
    "twigs": "twig twigs", "clusters": "cluster clusters", "spots": "spot spots", "beds": "bed beds",
    "times": "times", "bags": "bag bags", "buckets": "bucket buckets", "baskets": "basket baskets",
}  # fmt: skip
COUNTED_AS: Mapping[str, str] = {word: plural for plural, words in COUNTED_WORDS.items() for word in words.split()}
COUNTED = compiled(
    rf"""(?:{SPACE}{{0,2}}|-)(?:of\ )?(?:(?:the|my|our|these|those)\ )?
    (?:(?:small|big|large|tiny|little|new|old|tall|short|ripe|breba|main|green|brown|dead|dormant|open|fat|swollen|good
    |nice|more|full|young|first|extra|node|flower|leaf|fruit|fig|side|live|unripe|soft|potted)[-\ ]){{0,2}}
    (?P<noun>degree\ days?|{either_of(list(COUNTED_AS))})(?![a-z])"""
)
STAGE_NOUN = compiled(
    rf"{SPACE}*-?{SPACE}*(?:break|broke|burst|swell|out\b|drop|fall|set\b|scale|green|size|bud|unfold)"
)
"""After "bud", "leaf" or "fruit", words that make a stage of it, so that the number before counts nothing."""

_MONTH = (
    r"(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|oct(?:ober)?"
    r"|nov(?:ember)?|dec(?:ember)?)"
)
MONTH_AFTER = compiled(rf"(?:{SPACE}{{0,2}}|-)(?:of\ )?{_MONTH}(?![a-z])")
MONTH_BEFORE = compiled(rf"(?<![a-z]){_MONTH}\.?(?:{SPACE}{{0,2}}|-)(?:the\ )?\Z")
RANGE = compiled(rf"(?P<ahead>{SPACE}{{0,2}})(?P<dash>[-–—−])(?P<behind>{SPACE}{{0,2}})|\ (?:to|or|thru|through)\ ")
RANGE_AND = compiled(rf"(?P<ahead>{SPACE}{{0,2}})(?P<dash>[-–—−])(?P<behind>{SPACE}{{0,2}})|\ (?:and|to|or)\ ")
RANGE_NUMBER = compiled(r"(?P<sign>[-−–]|(?:minus|negative|neg)\ )?(?=[0-9.a-z½¼¾⅓⅔⅛⅜⅝⅞])")
BETWEEN = compiled(r"(?<![a-z])between\ \Z")
FROM = compiled(r"(?<![a-z])from\ \Z")
DATED = compiled(r"(?<![a-z])(?:on|since|until|till|til|dated?|by)\ (?:the\ )?\Z")
DAY_MONTH = re.compile(r"(?:[1-9]|[12][0-9]|3[01])[.](?:0?[1-9]|1[0-2])")
LEADING_ZERO = re.compile(r"0[0-9]")
AT = compiled(rf"(?:(?<![a-z])at|@)(?:\ about|\ around)?{SPACE}{{0,3}}\Z")
READING_AT = compiled(
    r"""(?<![a-z])(?:soil|mulch|chips|straw|bed|ground|air|temp|temps|temperature|reading|reads|it|it's|its|is|was|still
    |only|sits|sat|sitting|low|lowest|high|now)\ at\ (?:about\ |around\ )?\Z"""
)
OF_ZERO = compiled(r"(?<![a-z])(?:below|above|sub|under|over|freezing)(?:-|\ )\Z")
LIST_AHEAD = re.compile(rf"(?:\A|\n){SPACE}*\Z")
LIST_AFTER = re.compile(rf"[.)]{SPACE}")
DESCRIBED = compiled(
    r"""(?<![a-z])(?:the|this|that|which|each|every|any|no|other|another|small|big|tall|little|large|new|old|short|red
    |green|left|right|first|last|only|good|bad|smaller|bigger|taller|some|my|our|your|front|back|middle)\ \Z"""
)
ABOUT = compiled(
    rf"""(?:(?<![a-z])(?:about|around|roughly|approx(?:imately|\.)?|circa|ca\.?|nearly|almost|some|maybe|perhaps
    |at\ least|up\ to|more\ than|less\ than|over|below|above|say)|[~≈<>]){SPACE}{{0,3}}\Z"""
)
OR_SO = compiled(rf"(?:-|{SPACE})?ish(?![a-z])|\ or\ so(?![a-z])|\ give\ or\ take|\ (?:roughly|approx)(?![a-z])")
SHARE_OF = compiled(r"\ (?:of|the|my|our|its|their|all|them|these|those)(?![a-z])(?!\ (?:size|height|way|time))")
SHARE_ENDS = compiled(rf"{SPACE}*(?:\Z|[.,;!?\n])|\ (?:gone|dead|lost|eaten)(?![a-z])")
NO_SHARE = compiled(
    r"(?<![a-z])(?:first|second|last|other|top|bottom|lower|upper|back|front|this|that|in|by|other)\ \Z"
)
NAMED_THING = compiled(rf"(?<![a-z])(pot|tub|bed|tree|row|tray|spot|fig|pear|apple|peach|plum){SPACE}{{0,3}}\Z")
WEEKDAY = compiled(
    r"""(?:(?<![a-z])(?:(?:mon|tues|wednes|thurs|fri|satur|sun)day|mon|tues?|wed|thur?s?|fri)[.,]?|(?<![a-z])the)\ \Z"""
)
COMPARED = compiled(r"\ (?:vs\.?|v|versus|and|or|&|against)\ ")
LISTED = re.compile(rf"{SPACE}*,{SPACE}*")
OR = compiled(r"\ or\ ")
CHANGED = compiled(r"\ to\ ")
