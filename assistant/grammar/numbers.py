"""Numbers in words: from the words people say to a number, and from a number to spoken words.

`parse` understands these, and settles the ambiguous ones as shown:

- digit by digit: "one four" 14, "four zero" 40, "one oh five" 105, "two double five" 255.
- counting words: "fourteen", "one hundred and five", "twelve hundred", "one thousand and fifty",
  "a hundred", and "one two thousand" 12 000 as in radiotelephony. Up to 999 999.
- clipped hundreds, one digit and then 10 to 99: "one twenty" 120, "two forty five" 245.
- a point ("point" or "decimal"), with or without one of these before it, then digits or a number
  from 10 up: "twenty four point nine seven", "point five", "one point twenty five" 1.25.
- fractions below one, alone or after a whole number: halves, quarters, eighths, sixteenths, thirty
  seconds, sixty fourths: "one and a half", "five eighths", "half an", "a quarter of an" (inch).
  "Three thirty seconds" is 3/32, never 330 s, so a grammar for a time must not offer it.
- dozens: "a dozen", "two dozen", "half a dozen".
- "minus" before any of these.

`parse` refuses these, because the speaker may have corrected themselves, or because two values are
likely:

- "twenty four seven", "fourteen forty", "one four twenty", "one five sixteenths".
- "hundred" or "oh" alone: the recogniser may have lost a word, or heard one that nobody said.
- thirds, which have no exact decimal; tenths (in machining, ten thousandths of an inch); hundredths
  and thousandths, which sound like hundreds and thousands.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation

from assistant.grammar import units

_DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_TEENS = (
    *("ten", "eleven", "twelve", "thirteen", "fourteen"),
    *("fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")

_DIGIT = {word: i for i, word in enumerate(_DIGITS)} | {
    "oh": 0,
    "o": 0,
    "nought": 0,
    "naught": 0,
    "niner": 9,  # ICAO Annex 10 Vol. II, 5.2.1.4.3 (from memory)
}
_TEEN = {word: i for i, word in enumerate(_TEENS, 10)}
_TEN = {word: 10 * i for i, word in enumerate(_TENS, 2)}
_REPEAT = {"double": 2, "triple": 3}
_POINTS = ("point", "decimal")
_DENOMINATOR = {
    ("half",): 2,
    ("quarter",): 4,
    ("quarters",): 4,
    ("fourth",): 4,
    ("fourths",): 4,
    ("eighth",): 8,
    ("eighths",): 8,
    ("sixteenth",): 16,
    ("sixteenths",): 16,
    ("thirty", "second"): 32,
    ("thirty", "seconds"): 32,
    ("sixty", "fourth"): 64,
    ("sixty", "fourths"): 64,
}
_FRACTION_NAME = {
    4: "quarter",
    8: "eighth",
    16: "sixteenth",
    32: "thirty second",
    64: "sixty fourth",
}
_REFUSED = re.compile(r"(?:third|tenth|hundredth|thousandth)s?")
_MOST = 999_999
_MOST_WORDS = 400
_MOST_FIGURES = 400


# --- words to a number ---


def parse(words: Sequence[str]) -> Decimal:
    """Return the number that `words` say, exact and with the decimals as said.

    "one four point zero" gives Decimal("14.0"). The module's docstring lists what is understood.
    Raises ValueError, with a sentence to speak, for anything else.
    """
    said = _split(words)
    if not said:
        raise ValueError("No number was given.")
    if len(said) > _MOST_WORDS:
        raise ValueError("That is too long for one number. Say it again, digit by digit.")
    negative = said[0] == "minus"
    value = _unsigned(said[1:] if negative else said)
    if value is not None and len(value.as_tuple().digits) > _MOST_FIGURES:
        raise ValueError("That number has too many digits. Say it again, digit by digit.")
    if value is None:
        phrase = " ".join(said)
        if any(_REFUSED.fullmatch(word) for word in said):
            raise ValueError(f"“{phrase}” is easily misheard. Say it as a decimal, digit by digit.")
        raise ValueError(f"“{phrase}” is not one clear number. Say it digit by digit.")
    # copy_negate and copy_abs never round, as - and abs() do
    return value.copy_negate() if negative and value else value


def is_number(word: str) -> bool:
    """Whether the word by itself is a number."""
    try:
        parse([word])
    except ValueError:
        return False
    return True


def parse_count(words: Sequence[str]) -> int:
    """Return the count that `words` say: a whole number as in `parse`, "a", "an" or "a pair of".

    Raises ValueError, with a sentence to speak, for anything else, including fractions.
    """
    said = _split(words)
    if said in (["a"], ["an"]):
        return 1
    if said[:2] in (["a", "pair"], ["a", "couple"]) and said[2:] in ([], ["of"]):
        return 2
    value = parse(said)
    if value < 0 or value != value.to_integral_value():
        raise ValueError(f"“{' '.join(said)}” is not a count. Say a whole number.")
    return int(value)


def _split(words: Sequence[str]) -> list[str]:
    return " ".join(words).lower().replace("-", " ").split()


def _unsigned(said: list[str]) -> Decimal | None:
    whole = _whole(said)
    if whole is not None:
        return Decimal(whole)
    for reading in (_decimal, _fraction, _dozens):
        value = reading(said)
        if value is not None:
            return value
    return None


def _whole(said: list[str]) -> int | None:
    if said in (["oh"], ["o"]):
        return None
    digits = _digits(said)
    if digits is not None:
        return int(digits)
    clipped = _clipped(said)
    return clipped if clipped is not None else _cardinal(said)


def _digits(said: list[str]) -> str | None:
    """Return the digits of words said one by one: "two double five" gives "255"."""
    figures = ""
    times = 1
    for word in said:
        if word in _REPEAT and times == 1:
            times = _REPEAT[word]
        elif word in _DIGIT:
            figures += str(_DIGIT[word]) * times
            times = 1
        else:
            return None
    return figures if figures and times == 1 else None


def _two_figures(said: list[str]) -> int | None:
    """Read 10 to 99; None if the words are anything else."""
    match said:
        case [word] if word in _TEEN:
            return _TEEN[word]
        case [word] if word in _TEN:
            return _TEN[word]
        case [ten, one] if ten in _TEN and _DIGIT.get(one):
            return _TEN[ten] + _DIGIT[one]
    return None


def _small(said: list[str]) -> int | None:
    """Read 1 to 99; None if the words are anything else."""
    if len(said) == 1 and _DIGIT.get(said[0]):
        return _DIGIT[said[0]]
    return _two_figures(said)


def _clipped(said: list[str]) -> int | None:
    """Read a clipped hundred: "two forty five" is 245."""
    if not said or not _DIGIT.get(said[0]):
        return None
    rest = _two_figures(said[1:])
    return None if rest is None else 100 * _DIGIT[said[0]] + rest


def _after(said: list[str]) -> int | None:
    """Read what may follow a hundred or a thousand: nothing, or 1 to 99, with "and" or without."""
    if not said:
        return 0
    return _small(said[1:] if said[0] == "and" else said)


def _hundreds(said: list[str]) -> int | None:
    if "hundred" not in said:
        return None
    at = said.index("hundred")
    head = 1 if said[:at] == ["a"] else _small(said[:at])
    tail = _after(said[at + 1 :])
    return None if head is None or tail is None else 100 * head + tail


def _cardinal(said: list[str]) -> int | None:
    """Read 1 to 999 999 in counting words."""
    if "thousand" not in said:
        value = _small(said)
        return value if value is not None else _hundreds(said)
    at = said.index("thousand")
    head = _thousands(said[:at])
    tail = _after(said[at + 1 :])
    if tail is None and said[at + 1] != "a":
        tail = _hundreds(said[at + 1 :])
    if head is None or tail is None or tail > 999:
        return None
    return 1000 * head + tail


def _thousands(said: list[str]) -> int | None:
    """Read the number of thousands, 1 to 999."""
    if said == ["a"]:
        return 1
    value = _small(said)
    if value is None:
        value = _hundreds(said)
    if value is None and 2 <= len(said) <= 3:
        # "one two thousand": ICAO Annex 10 Vol. II, 5.2.1.4.1.2 (from memory)
        value = int(_digits(said) or 0)
    return value if value and value <= 999 else None


def _decimal(said: list[str]) -> Decimal | None:
    points = [i for i, word in enumerate(said) if word in _POINTS]
    if len(points) != 1:
        return None
    head, tail = said[: points[0]], said[points[0] + 1 :]
    whole = 0 if head in ([], ["oh"], ["o"]) else _whole(head)
    figures = _decimals(tail)
    return None if whole is None or figures is None else Decimal(f"{whole}.{figures}")


def _decimals(said: list[str]) -> str | None:
    """Read the digits after a point: digits, or zeros and 10 to 999 ("oh twenty five" is 025)."""
    figures = _digits(said)
    if figures is not None:
        return figures
    zeros = 0
    while zeros < len(said) and _DIGIT.get(said[zeros]) == 0:
        zeros += 1
    rest = _two_figures(said[zeros:]) or _clipped(said[zeros:])
    return None if rest is None else "0" * zeros + str(rest)


def _fraction(said: list[str]) -> Decimal | None:
    """Read "one and a half", "five eighths", "half an", "a quarter of an"."""
    if "and" in said:
        at = len(said) - 1 - said[::-1].index("and")
        whole, part = _whole(said[:at]), _part(said[at + 1 :])
        return None if whole is None or part is None else whole + part
    match said:
        case [*count, "of", "a" | "an"] if count != ["half"]:
            return _part(count)
        case ["half", "a" | "an"]:
            return _part(["half"])
    return _part(said)


def _part(said: list[str]) -> Decimal | None:
    """Read a fraction below one."""
    for length in (2, 1):  # "one sixty fourth" is 1/64, not 160 quarters
        denominator = _DENOMINATOR.get(tuple(said[-length:]))
        if denominator and len(said) >= length:
            count = said[:-length]
            numerator = 1 if count in ([], ["a"], ["an"]) else _small(count)
            if numerator is None or numerator >= denominator:
                return None
            return Decimal(numerator) / denominator
    return None


def _dozens(said: list[str]) -> Decimal | None:
    match said:
        case ["half", "a", "dozen"]:
            return Decimal(6)
        case ["a", "dozen"]:
            return Decimal(12)
        case [*count, "dozen"]:
            number = _small(count)
            return None if number is None else Decimal(12 * number)
    return None


# --- a number to words ---


def spell_digits(value: Decimal | int | float | str, point: str = "point") -> str:
    """Return `value` in words, digit by digit: 24.97 gives "two four point nine seven".

    This is the wording of radiotelephony, ICAO Annex 10 Vol. II, 5.2.1.4.1, which says "decimal"
    for `point`. Decimals and strings keep their digits (Decimal("14.0"): "one four point zero"); a
    whole float is said without a point. Raises ValueError for a value that is not a finite number
    or has more than four hundred digits.
    """
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    try:
        number = Decimal(str(value))
    except InvalidOperation:
        raise ValueError(f"“{value}” is not a number.") from None
    if not number.is_finite():
        raise ValueError(f"“{value}” is not a number that can be said.")
    if number.adjusted() > _MOST_FIGURES or int(number.as_tuple().exponent) < -_MOST_FIGURES:
        raise ValueError("That number has too many digits to be said.")
    figures = f"{number.copy_abs():f}"
    words = [point if figure == "." else _DIGITS[int(figure)] for figure in figures]
    return " ".join(["minus", *words] if number < 0 else words)


def cardinal(n: int) -> str:
    """Return `n` in British counting words without hyphens: 105 gives "one hundred and five".

    It is for counts and step numbers. Raises ValueError outside -999 999 to 999 999.
    """
    if abs(n) > _MOST:
        raise ValueError(f"{n} is too large to be said in counting words.")
    if n < 0:
        return f"minus {cardinal(-n)}"
    if n < 10:
        return _DIGITS[n]
    if n < 20:
        return _TEENS[n - 10]
    if n < 100:
        return _TENS[n // 10 - 2] + (f" {_DIGITS[n % 10]}" if n % 10 else "")
    size, name = (100, "hundred") if n < 1000 else (1000, "thousand")
    head, rest = f"{cardinal(n // size)} {name}", n % size
    if not rest:
        return head
    return f"{head} and {cardinal(rest)}" if rest < 100 else f"{head} {cardinal(rest)}"


# --- typed figures to words ---

# Symbols that are also words or names. They are units only directly after a figure or at the end.
_GUARDED = {symbol for symbol in units.WRITTEN if len(symbol) == 1 and symbol.isalpha()} | {"in"}
_GUARDED -= {"Ω", "\u2126"}


def _alternatives(symbols: set[str]) -> str:
    return "|".join(re.escape(symbol) for symbol in sorted(symbols, key=len, reverse=True))


_FIGURE = re.compile(
    # 1.2.3, 1,200 and the range 10-12 stay as typed
    r"(?P<left>\d+(?:\.\d+){2,}|[1-9]\d{0,2}(?:,\d{3})+(?![\d,])"
    r"|\d[\d.]*[-–][\d.]*\d(?![\d/⁄]))"
    r"|(?P<minus>(?<![^\s(])[-−–]\s?)?"
    r"(?:(?:(?P<whole>\d+)(?:\s+|-))?(?P<above>\d+)[/⁄](?P<below>\d+)"
    r"|(?P<number>\d+[.,]\d+|(?<!\w)[.,]\d+|\d+))"
    rf"(?:[\s-]?(?P<unit>{_alternatives(set(units.WRITTEN) - _GUARDED)})(?![^\W\d_])"
    rf"|(?P<near>{_alternatives(_GUARDED)})(?!\w)"
    rf"|\s(?P<last>{_alternatives(_GUARDED)})(?=\s*[.,;:!?]?\s*$))?"
    r"(?P<hyphen>-(?=\w))?"
)


def digits_to_words(text: str) -> str:
    """Return typed `text` with its figures, and the units after them, in words.

    "tightened 14Nm" gives "tightened one four newton metres", and "1/2" gives "a half". A comma is
    read as a decimal point. Figures that can be read two ways ("1,200", "1.2.3", "10-12") and
    fractions that nobody says ("5/4", "2/7") stay as typed, so that no number is understood.
    American spellings of units become those of the grammars.
    """
    text = re.sub(r"(?<=\d)(?=[¼½¾⅛⅜⅝⅞])", " ", text)
    text = re.sub(r"[¼½¾⅛⅜⅝⅞]", lambda m: unicodedata.normalize("NFKC", m[0]), text)
    return units.grammar_spelling(_FIGURE.sub(_worded, text))


_FIGURES_IN_NAME = re.compile(r"-?(?<![\d.,])(\d{1,12})(?![\d.,])-?")


def name_as_said(name: str) -> str:
    """Return a written name as it is said: small letters, single blanks, figures in words.

    Figures below a hundred and whole hundreds are one number, as in "comp two hundred"; others are
    said digit by digit, as in "six two zero three bearing". Figures with a point or a comma stay.
    """
    words = _FIGURES_IN_NAME.sub(lambda match: f" {_figures_in_name(match[1])} ", name.lower())
    return " ".join(words.split())


def _figures_in_name(figures: str) -> str:
    whole = int(figures)
    one_number = whole < 100 or (whole % 100 == 0 and whole < 10_000)
    if one_number and (figures == "0" or figures[0] != "0"):
        return cardinal(whole)
    return " ".join(_DIGITS[int(figure)] for figure in figures)


def _worded(match: re.Match[str]) -> str:
    if match["left"]:
        return match[0]
    if len(match[0]) > _MOST_FIGURES:
        return match[0]
    if match["above"]:
        words = _fraction_words(int(match["whole"] or 0), int(match["above"]), int(match["below"]))
        if words is None:
            return match[0]
        single = not match["whole"]  # "five eighths inch"
    else:
        figures = match["number"].replace(",", ".")
        words = spell_digits("0" + figures if figures.startswith(".") else figures)
        single = Decimal(figures) == 1
    if match["minus"]:
        words = f"minus {words}"
    symbol = match["unit"] or match["near"] or match["last"]
    if symbol:
        words += " " + units.spoken(units.WRITTEN[symbol], 1 if single else 2)
    before, after = match.string[: match.start()][-1:], match.string[match.end() :][:1]
    if before.isalnum():
        words = f" {words}"
    return f"{words} " if match["hyphen"] or after.isalnum() else words


def _fraction_words(whole: int, above: int, below: int) -> str | None:
    if not 0 < above < below or (below != 2 and below not in _FRACTION_NAME) or whole > _MOST:
        return None
    if below == 2:
        part = "a half"
    elif above == 1:
        part = f"{'an' if below == 8 else 'a'} {_FRACTION_NAME[below]}"
    else:
        part = f"{cardinal(above)} {_FRACTION_NAME[below]}s"
    return f"{cardinal(whole)} and {part}" if whole else part
