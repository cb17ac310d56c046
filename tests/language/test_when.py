"""When a message says that something was: the day and hour it tells, and never one that it doesn't."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.language.when import Said, find_times, moment_of

LONDON = ZoneInfo("Europe/London")
FRIDAY = datetime(2026, 4, 24, 18, tzinfo=LONDON)


def only(text: str, now: datetime = FRIDAY, day_first: bool | None = True) -> Said:
    """Return the one time that a text tells."""
    found = find_times(text, now, day_first)
    assert len(found) == 1, found
    return found[0]


def logged(text: str, now: datetime = FRIDAY) -> str:
    """Return when a reading in a text is logged, as local time."""
    return moment_of(only(text, now), now).strftime("%m-%d %H:%M")


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("today", "2026-04-24"),
        ("yesterday", "2026-04-23"),
        ("YESTERDAY", "2026-04-23"),
        ("yday fed pot 3", "2026-04-23"),
        ("yestarday", "2026-04-23"),
        ("day before yesterday", "2026-04-22"),
        ("the day before yesterday", "2026-04-22"),
        ("watered mon", "2026-04-20"),
        ("tues soil 12", "2026-04-21"),
        ("fed pot 3 weds", "2026-04-22"),
        ("thurs", "2026-04-23"),
        ("Friday", "2026-04-24"),
        ("on Fri", "2026-04-24"),
        ("last Friday", "2026-04-17"),
        ("last Tuesday", "2026-04-21"),
        ("on wensday", "2026-04-22"),
        ("Saturday", "2026-04-18"),
        ("on Sat", "2026-04-18"),
        ("Sun 12 April", "2026-04-12"),
        ("Tuesday last week", "2026-04-14"),
        ("last week Tuesday", "2026-04-14"),
        ("Monday's reading", "2026-04-20"),
        ("on the 12th", "2026-04-12"),
        ("on the 31st", "2026-03-31"),
        ("on the 30th it was wet", "2026-03-30"),
        ("12th: soil 14", "2026-04-12"),
        ("on Tuesday the 21st", "2026-04-21"),
        ("12 April", "2026-04-12"),
        ("12TH OF APRIL", "2026-04-12"),
        ("April 12", "2026-04-12"),
        ("April the 12th", "2026-04-12"),
        ("Apr 12th 2025", "2025-04-12"),
        ("12 Apr '25", "2025-04-12"),
        ("third of April", "2026-04-03"),
        ("28 December", "2025-12-28"),
        ("12.4. wall fig awake", "2026-04-12"),
        ("on 12.4 wall fig woke", "2026-04-12"),
        ("12.4.2026", "2026-04-12"),
        ("4/4", "2026-04-04"),
        ("fig awake 21/4", "2026-04-21"),
        ("4/4/26", "2026-04-04"),
        ("2026-04-12", "2026-04-12"),
        ("two weeks ago", "2026-04-10"),
        ("3 days ago", "2026-04-21"),
        ("a fortnight ago", "2026-04-10"),
        ("a week ago yesterday", "2026-04-16"),
        ("a week ago Tuesday", "2026-04-14"),
        ("3d ago", "2026-04-21"),
        ("10/4 pears at white bud", "2026-04-10"),
        ("bud break 4/4 wall fig", "2026-04-04"),
        ("soil 14 yesterday at 10 cm", "2026-04-23"),
        ("soil 50 yesterday at 3 in", "2026-04-23"),
        ("yesterday at 3 C", "2026-04-23"),
        ("pot 3 april 12", "2026-04-12"),
        ("on 12 april 6 leaves", "2026-04-12"),
        ("12 April 2026 soil 14", "2026-04-12"),
        ("just now", "2026-04-24"),
        ("earlier today", "2026-04-24"),
    ],
)
def test_days(text: str, day: str) -> None:
    """A day told by name, date or count is found, and is the last such day."""
    said = only(text)
    assert (said.day.isoformat(), said.unclear, said.to_come, said.clock) == (day, "", False, None)


@pytest.mark.parametrize(
    "text",
    [
        "soil 12 at 10 cm", "at 3 C", "at 3 degrees", "at 3° in the bed", "12.5C", "soil was 12.4.", "at 12.5", "6 leaves",
        "1/2 inch", "3 3/4 inch shoots", "1/2 the buds dead", "7/10 buds brown", "3 in", "soil 50 F at 3 in in the wall bed",
        "pot 3", "fig 2", "5 gal", "-2", "10-12 cm", "12 to 14 cm", "at 5 and 10 cm", "three buds", "at the gate",
        "at six leaves", "at 6 buds", "at two nodes", "half past two inches", "from ten to three",
        "soil at 3", "soil at shed bed at 14", "it may be dead", "of the 10 buds, 6 may be dead", "6 may survive",
        "this may kill it", "12 fruits may drop", "ants march 12 cm", "march past the gate", "10 cm, sun", "full sun",
        "in the sun", "the last sun", "sun shade cloud", "sat on the bench", "it sat in the shed", "second",
        "a second look", "the 2nd fig", "on the 2nd branch", "5th leaf is out", "1st ripe fig", "since the 3rd week",
        "first ripe fig", "the first thing I saw", "gets morning sun", "good morning", "Morning! wall fig 6 leaves",
        "every morning", "on Tuesdays", "every Tuesday", "every other Tuesday", "mon-fri", "later than last year",
        "warmer than yesterday", "9 days late", "20h of chill", "gets 5h sun", "chill 1100 hours", "800 hours chill",
        "npk 12.12.17", "10:10:10", "fed 10/10/10", "fed 10-10-10", "ratio 3:1", "remember 3 figs", "31 April", "31/2",
        "2026-13-45", "12/13/14/15", "68 at the south wall vs 54 in the mulch", "scratched 3 of 10", "20 l pot", "",
        "min -2 at the porch bed", "cut ten buds, 7 brown", "evenings", "to sundry", "august pear", "june drop",
        "at 3%", "at 3kg", "3 lb of peaches", "at 7 figs", "the gate apricot at 5 cm", "5 to 3 in favour of the wall",
    ],
)  # fmt: skip
def test_no_time(text: str) -> None:
    """What is no time is not taken for one."""
    assert find_times(text, FRIDAY, True) == []


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("today", "04-24 18:00"),
        ("yesterday", "04-23 12:00"),
        ("this morning", "04-24 08:00"),
        ("first thing", "04-24 08:00"),
        ("at dawn", "04-24 08:00"),
        ("before breakfast", "04-24 08:00"),
        ("noon", "04-24 12:00"),
        ("at midday", "04-24 12:00"),
        ("this afternoon", "04-24 15:00"),
        ("last night", "04-23 22:00"),
        ("the night before last", "04-22 22:00"),
        ("three nights ago", "04-21 22:00"),
        ("yesterday evening", "04-23 20:00"),
        ("Tuesday night", "04-21 22:00"),
        ("Tuesday morning at 9", "04-21 09:00"),
        ("midnight", "04-24 00:00"),
        ("last night at midnight", "04-24 00:00"),
        ("last night at 11", "04-23 23:00"),
        ("at 3 am last night", "04-24 03:00"),
        ("last night at 3", "04-24 03:00"),
        ("at 3", "04-24 15:00"),
        ("watered at 3", "04-24 15:00"),
        ("watered pots at three", "04-24 15:00"),
        ("watered at 8", "04-24 08:00"),
        ("watered at 12", "04-24 12:00"),
        ("at 3 am", "04-24 03:00"),
        ("at 3 in the morning", "04-24 03:00"),
        ("at 8 this morning", "04-24 08:00"),
        ("at 3 pm", "04-24 15:00"),
        ("3pm", "04-24 15:00"),
        ("10AM", "04-24 10:00"),
        ("12 am", "04-24 00:00"),
        ("12pm", "04-24 12:00"),
        ("at 3.30", "04-24 15:30"),
        ("3.30pm", "04-24 15:30"),
        ("15:00", "04-24 15:00"),
        ("9:15", "04-24 09:15"),
        ("3 o'clock", "04-24 15:00"),
        ("at 3ish", "04-24 15:00"),
        ("half past two", "04-24 14:30"),
        ("quarter to nine", "04-24 08:45"),
        ("quarter to one", "04-24 12:45"),
        ("ten past four", "04-24 16:10"),
        ("15h", "04-24 15:00"),
        ("15h30", "04-24 15:30"),
        ("1530 hrs", "04-24 15:30"),
        ("at 1530", "04-24 15:30"),
        ("yesterday at 3", "04-23 15:00"),
        ("at 3 yesterday", "04-23 15:00"),
        ("yesterday 3.30", "04-23 15:30"),
        ("3pm on Tuesday", "04-21 15:00"),
        ("12 April at noon", "04-12 12:00"),
        ("12/4 at 3", "04-12 15:00"),
        ("2026-04-12T15:30", "04-12 15:30"),
        ("2026-04-12 10:10:10", "04-12 10:10"),
        ("an hour ago", "04-24 17:00"),
        ("half an hour ago", "04-24 17:30"),
        ("10 min ago", "04-24 17:50"),
        ("soil 14 C at 10 cm at 3", "04-24 15:00"),
    ],
)
def test_moments(text: str, moment: str) -> None:
    """A time of day is the one told; a part of the day has its usual hour; another day alone its noon."""
    assert only(text).unclear == ""
    assert logged(text) == moment


@pytest.mark.parametrize(
    ("text", "clock", "moment"),
    [
        ("this morning", time(6, 30), "04-24 06:30"),
        ("this afternoon", time(14), "04-24 14:00"),
        ("this evening", time(18), "04-24 18:00"),
        ("this evening", time(21), "04-24 20:00"),
        ("soil 9 tonight", time(21), "04-24 20:00"),
        ("watered at 3", time(14), "04-24 03:00"),
        ("watered at 8", time(21), "04-24 20:00"),
        ("two hours ago", time(1), "04-23 23:00"),
    ],
)
def test_never_later_than_sent(text: str, clock: time, moment: str) -> None:
    """A reading is not logged later than its message, and an hour is the latest that has been."""
    now = datetime.combine(FRIDAY, clock, LONDON)
    assert only(text, now).unclear == ""
    assert logged(text, now) == moment


@pytest.mark.parametrize(
    ("text", "first", "last", "since"),
    [
        ("last week", "2026-04-13", "2026-04-19", False),
        ("this week", "2026-04-20", "2026-04-24", False),
        ("last weekend", "2026-04-18", "2026-04-19", False),
        ("at the weekend", "2026-04-18", "2026-04-19", False),
        ("in March", "2026-03-01", "2026-03-31", False),
        ("late March", "2026-03-21", "2026-03-31", False),
        ("in April", "2026-04-01", "2026-04-24", False),
        ("in November", "2025-11-01", "2025-11-30", False),
        ("March 2025", "2025-03-01", "2025-03-31", False),
        ("this spring", "2026-03-01", "2026-04-24", False),
        ("last winter", "2025-12-01", "2026-02-28", False),
        ("planted 2019", "2019-01-01", "2019-12-31", False),
        ("last summer", "2025-06-01", "2025-08-31", False),
        ("since March", "2026-03-01", "2026-04-24", True),
        ("since June", "2025-06-01", "2026-04-24", True),
        ("since the 3rd", "2026-04-03", "2026-04-24", True),
        ("since yesterday", "2026-04-23", "2026-04-24", True),
        ("since 2019", "2019-01-01", "2026-04-24", True),
        ("between 3 and 10 April", "2026-04-03", "2026-04-10", False),
        ("3-10 April", "2026-04-03", "2026-04-10", False),
        ("April 3 to 10", "2026-04-03", "2026-04-10", False),
        ("between the 3rd and the 10th", "2026-04-03", "2026-04-10", False),
        ("from Monday to Wednesday", "2026-04-20", "2026-04-22", False),
        ("between 3/4 and 10/4", "2026-04-03", "2026-04-10", False),
    ],
)
def test_spans(text: str, first: str, last: str, since: bool) -> None:
    """A span has its first and last day, and one that still runs ends today."""
    said = only(text)
    assert said.last_day is not None
    assert (said.day.isoformat(), said.last_day.isoformat(), said.since, said.unclear) == (first, last, since, "")


@pytest.mark.parametrize(
    ("text", "day", "part"),
    [
        ("tomorrow", "2026-04-25", ""),
        ("tomorrow morning", "2026-04-25", "morning"),
        ("first thing tomorrow", "2026-04-25", "morning"),
        ("the day after tomorrow", "2026-04-26", ""),
        ("-2 tonight, clear", "2026-04-24", "night"),
        ("tomorrow night", "2026-04-25", "night"),
        ("next Tuesday", "2026-04-28", ""),
        ("next Friday", "2026-05-01", ""),
        ("for 26 April", "2026-04-26", ""),
        ("26 April 2026", "2026-04-26", ""),
        ("at 9 pm", "2026-04-24", ""),
        ("next week", "2026-04-27", ""),
    ],
)
def test_to_come(text: str, day: str, part: str) -> None:
    """Only what is told as lying ahead lies ahead, the night to come among it."""
    said = only(text)
    assert (said.day.isoformat(), said.part, said.to_come, said.unclear) == (day, part, True, "")


@pytest.mark.parametrize(
    "text",
    [
        "soil 12 at 10",  # a depth or an hour
        "soil 50 at 3 in the wall bed",  # inches or an hour
        "wall fig at 3",
        "pot 3 am",
        "soil 12 pm",
        "yesterday at 8",
        "frost in the morning",
        "Tue 24 April",  # a Friday
        "12 May",
        "26 April",
        "soil 12 april 4",
        "3 may crack",
        "2-3 days ago",
        "a few days ago",
        "a month ago",
        "the other day",
        "watered pot 3 12.4.",
        "3/4 wall fig",
        "buds cut 7/12",
        "moved pots sat",
        "by Tuesday",
        "this Tuesday",
        "Tuesday week",
        "the Monday tree",
        "in the small hours",
        "yesterday at 6",
        "last March",
        "in May",
        "on the 12th pears in bloom",
        "yesterday at midnight",
        "between 8 and 9 am",
        "3 pm this morning",
        "2026-04-12T15:30Z",
    ],
)
def test_unclear(text: str) -> None:
    """What can be read two ways says so."""
    assert only(text).unclear


@pytest.mark.parametrize(
    ("text", "day_first", "day", "unclear"),
    [
        ("4/5/2025", True, "2025-05-04", False),
        ("4/5/2025", False, "2025-04-05", False),
        ("4/5/2025", None, "2025-05-04", True),
        ("25/4/2025", None, "2025-04-25", False),
        ("4/25/2025", True, "2025-04-25", False),
        ("4/4/2025", None, "2025-04-04", False),
        ("4.5.2025", False, "2025-05-04", False),
        ("04-05-2025", False, "2025-04-05", False),
    ],
)
def test_order(text: str, day_first: bool | None, day: str, unclear: bool) -> None:
    """Day and month stand in the place's order; without one, only figures that show it are clear."""
    said = only(text, day_first=day_first)
    assert (said.day.isoformat(), bool(said.unclear)) == (day, unclear)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("yesterday wall fig soil 14 at 3pm", ["04-23 15:00", "04-23 15:00"]),
        ("Yesterday, soil at the wall was 14 at 3 pm", ["04-23 12:00", "04-23 15:00"]),
        ("soil 12 8am, 16 3pm", ["04-24 08:00", "04-24 15:00"]),
        ("moved tall pot last night, soil 5.5 C at 10 cm this morning", ["04-23 22:00", "04-24 08:00"]),
        ("fig awake 21/4, pear 22/4", ["04-21 12:00", "04-22 12:00"]),
        ("soil 12 yesterday, 14 at 3pm", ["04-23 12:00", "?"]),
        ("soil 12 at 3pm, yesterday 14 at 4pm", ["?", "04-23 16:00", "04-23 16:00"]),
        ("fed yesterday. soil 12 at 3pm", ["04-23 12:00", "04-24 15:00"]),
    ],
)
def test_several(text: str, told: list[str]) -> None:
    """A time of day takes the day of its own clause or of the start of its sentence, and is unclear between two."""
    found = find_times(text, FRIDAY, True)
    shown = ["?" if said.unclear else moment_of(said, FRIDAY).strftime("%m-%d %H:%M") for said in found]
    assert shown == told


def test_a_part_not_begun_is_to_come() -> None:
    """A part of today that has not begun when the message is sent lies ahead."""
    early = FRIDAY.replace(hour=9)
    assert [only(text, early).to_come for text in ("this evening", "Friday night", "in the afternoon")] == [True] * 3
    assert not only("in the afternoon").to_come


def test_span_of_text() -> None:
    """The words found are those typed, slips and capitals and all."""
    text = "Wall fig AWAKE yestarday at 3PM, tommorow rain"
    assert [said.text for said in find_times(text, FRIDAY, True)] == ["yestarday at 3PM", "tommorow"]


def test_southern_spring_is_not_told() -> None:
    """A season of the south is left open, by the zone's summer time or where it is said."""
    south = datetime(2026, 10, 24, 18, tzinfo=ZoneInfo("Australia/Hobart"))
    assert only("this spring", south).unclear
    north = FRIDAY.astimezone(ZoneInfo("Africa/Johannesburg"))
    assert find_times("this spring", north, True, southern=True)[0].unclear
    assert not find_times("this spring", FRIDAY, True)[0].unclear


def test_clock_changes() -> None:
    """A time that the clocks leave out becomes the one an hour on; one they repeat is the first, unless counted back."""
    after = datetime(2026, 3, 29, 12, tzinfo=LONDON)
    assert moment_of(only("at 1.30 am", after), after) == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
    assert logged("at 1.30 am", after) == "03-29 02:30"
    autumn = datetime(2026, 10, 25, 12, tzinfo=LONDON)
    assert moment_of(only("at 1.30 am", autumn), autumn).astimezone(UTC).hour == 0
    second = datetime(2026, 10, 25, 1, 10, fold=1, tzinfo=LONDON)
    ago = only("half an hour ago", second)
    assert not ago.to_come
    assert moment_of(ago, second).astimezone(UTC) == second.astimezone(UTC) - timedelta(minutes=30)


def test_no_words_no_clock() -> None:
    """Without a time told a reading is logged when it was sent, and a clock without a zone is refused."""
    assert moment_of(None, FRIDAY) == FRIDAY
    with pytest.raises(ValueError, match="time zone"):
        find_times("today", FRIDAY.replace(tzinfo=None), True)


FORMS = ["%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%d %B %Y", "%B %d, %Y", "%b %d %Y"]


@given(
    st.dates(date(1950, 1, 1), date(2100, 1, 1)),
    st.sampled_from(FORMS),
    st.sampled_from(["{}", "fig awake {}", "{}: 3 C"]),
)
def test_any_date_is_found(day: date, form: str, around: str) -> None:
    """A whole date is found again however it is written, alone or in a message."""
    said = only(around.format(day.strftime(form)))
    assert (said.day, said.unclear, said.to_come) == (day, "", day > FRIDAY.date())


@given(st.times(), st.sampled_from(["%H:%M", "%I.%M %p", "%I:%M%p", "%H%M hrs"]))
def test_any_clock_is_found(clock: time, form: str) -> None:
    """A time of day of another day is found again however it is written."""
    said = only("yesterday at " + clock.strftime(form))
    hour_told = form != "%H:%M" or clock.hour not in range(10, 13)
    assert said.clock == clock.replace(second=0, microsecond=0) or not hour_told


WORDS = [
    "at", "3", "15h", "12", "4/4", "12.4.", "12/4/26", "pm", "am", "in", "the", "morning", "evening", "night", "on",
    "since", "last", "this", "next", "sat", "sun", "mon", "tuesday", "may", "march", "april", "of", "yesterday",
    "today", "tomorrow", "tonight", "noon", "midnight", "between", "and", "to", "-", ",", ".", ";", "half", "past",
    "two", "quarter", "a", "week", "ago", "10", "days", "cm", "C", "soil", "watered", "3.30", "15:00", "12th",
    "2026", "spring", "late", "first", "thing", "@", "İ", "ß", "’", "\n", "  ",
]  # fmt: skip


@settings(max_examples=300)
@given(
    st.one_of(st.text(max_size=200), st.lists(st.sampled_from(WORDS), max_size=40).map(" ".join)),
    st.integers(0, 110 * 365 * 24 * 60).map(
        lambda minutes: datetime(1990, 1, 1, tzinfo=UTC) + timedelta(minutes=minutes)
    ),
    st.sampled_from([True, False, None]),
)
def test_anything_is_read(text: str, sent: datetime, day_first: bool | None) -> None:
    """No text raises; what is found stands in order within it, apart, and gives times that exist."""
    now = sent.astimezone(LONDON)
    end = 0
    for said in find_times(text, now, day_first):
        assert end <= said.start < said.end <= len(text)
        assert said.text == text[said.start : said.end]
        assert said.last_day is None or said.last_day >= said.day
        moment = moment_of(said, now)
        assert moment.astimezone(UTC).astimezone(LONDON).replace(tzinfo=None) == moment.replace(tzinfo=None)
        if not (said.to_come or said.unclear):
            assert moment.astimezone(UTC) <= now.astimezone(UTC)
        end = said.end


@settings(max_examples=20, deadline=None)
@given(st.lists(st.sampled_from(WORDS), min_size=1, max_size=6).map(" ".join))
def test_long_texts_come_back(words: str) -> None:
    """Ten thousand characters are read whatever words they repeat; a pattern that ran away would hang here."""
    text = (f"{words} " * (10_000 // len(words)))[:10_000]
    assert all(0 <= one.start < one.end <= len(text) for one in find_times(text, FRIDAY, True))
