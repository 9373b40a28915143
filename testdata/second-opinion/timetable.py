#!/usr/bin/env python3
"""A second opinion on the timetable: an independent reading of its rules.

This program computes what `bandbell plan preview --json` prints, written from
the wording of the rules and without a look at the Go code, so that a slip in
either shows as a difference. It is run by hand, not by CI, and takes a valid
record on trust: it refuses nothing that the real program would refuse.

    python3 timetable.py --record FILE --from 2026-06-01 --to 2026-06-14

Compare with

    bandbell plan preview --record FILE --from 2026-06-01 --to 2026-06-14 --json

It needs Python 3.11 and the IANA time zones (the system's, through zoneinfo).
"""

import argparse
import json
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, timezone
from functools import lru_cache
from zoneinfo import ZoneInfo

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
BEDTIME = "HS"
DEFAULT_MEAL_MINUTES = 30
BANDS_START_AFTER = timedelta(days=14)  # aligner day 1 is the start: day 15
NOTICE_DAYS = (("d-3", -3), ("d-1", -1), ("d0", 0))
SORE_DAYS_FROM_START = 7
SORE_DAYS_FROM_RESTART = 3
SORENESS_USEFUL = timedelta(minutes=180)
DAY = timedelta(days=1)


# ---- wall clock and dates -------------------------------------------------


def wall(text):
    """The time of day written HH:MM."""
    return time.fromisoformat(text)


def optional_date(text):
    return date.fromisoformat(text) if text else None


def without_nulls(value):
    """value with every key that holds null left out: null means absent."""
    if isinstance(value, dict):
        return {key: without_nulls(held) for key, held in value.items() if held is not None}
    if isinstance(value, list):
        return [without_nulls(held) for held in value]
    return value


@lru_cache(maxsize=None)
def instant(zone, day, at):
    """The instant (UTC) at which clocks in zone show `at` on `day`.

    A reading that comes twice is its first; one that never comes is the first
    instant after the gap that swallowed it.
    """
    reading = datetime.combine(day, at, tzinfo=zone)  # fold 0: the first of two
    first = reading.astimezone(timezone.utc)
    if first.astimezone(zone).replace(tzinfo=None) == reading.replace(tzinfo=None):
        return first
    # In a gap. Reckoned with the offset after it the reading lands before the
    # jump, with the offset before it, at the jump or later: halve in between.
    low = reading.replace(fold=1).astimezone(timezone.utc)
    high = first
    before = low.astimezone(zone).utcoffset()
    while high - low > timedelta(seconds=1):
        middle = low + timedelta(seconds=(high - low) // timedelta(seconds=2))
        if middle.astimezone(zone).utcoffset() == before:
            low = middle
        else:
            high = middle
    return high


def day_begins(zone, day):
    return instant(zone, day, time(0, 0))


def exists(zone, day):
    """Whether the calendar of zone has this day (Apia had no 30 Dec 2011)."""
    return day_begins(zone, day).astimezone(zone).date() == day


# ---- the plan ---------------------------------------------------------------


@dataclass(frozen=True)
class Meal:
    code: str
    at: time
    length: timedelta
    days: frozenset


class Plan:
    """The parts of a record that say when to write."""

    def __init__(self, record):
        plan = without_nulls(record["plan"])
        self.zone = ZoneInfo(record["zone"])
        self.bands_start = optional_date(plan.get("bands_start"))
        if self.bands_start is None:
            self.bands_start = date.fromisoformat(plan["aligner_start"]) + BANDS_START_AFTER
        self.bands_end = optional_date(plan.get("bands_end"))
        self.meals = sorted(map(read_meal, plan.get("meals", [])), key=lambda m: (m.at, m.code))
        self.quiet = read_quiet(plan.get("quiet"))
        self.notice_at = wall(plan.get("notice_at", "08:00"))
        self.evening_at = wall(plan.get("evening_at", "17:30"))
        self.useful = timedelta(minutes=plan.get("useful_min", 90))
        self.restarts = sorted({date.fromisoformat(r) for r in plan.get("restarts", [])})
        self.pauses = [
            (date.fromisoformat(p["from"]), date.fromisoformat(p["to"]))
            for p in plan.get("pauses", [])
        ]
        self.levels = [(date.fromisoformat(c["from"]), c["level"]) for c in plan.get("cadence", [])]
        self.nights_from = [
            (date.fromisoformat(w["from"]), w.get("nights", False)) for w in plan.get("wear", [])
        ]
        self.bands = [
            (date.fromisoformat(b["from"]), optional_date(b.get("to"))) for b in plan.get("bands", [])
        ]

    def meals_on(self, day):
        """The meals of the day's weekday, in time order."""
        return [m for m in self.meals if WEEKDAYS[day.weekday()] in m.days]

    def paused(self, day):
        return any(first <= day <= last for first, last in self.pauses)

    def ended(self, day):
        return self.bands_end is not None and day > self.bands_end

    def level(self, day):
        return in_force(self.levels, day, 3)

    def nights(self, day):
        return in_force(self.nights_from, day, False)


def read_meal(meal):
    # Bedtime has no length and is due at its time, whatever minutes it carries.
    minutes = 0 if meal["code"] == BEDTIME else meal.get("minutes", DEFAULT_MEAL_MINUTES)
    return Meal(
        code=meal["code"],
        at=wall(meal["at"]),
        length=timedelta(minutes=minutes),
        days=frozenset(meal.get("days", WEEKDAYS)),
    )


def read_quiet(quiet):
    """The two ends of the quiet hours, or None for none."""
    if not quiet or quiet["from"] == quiet["to"]:
        return None
    return wall(quiet["from"]), wall(quiet["to"])


def in_force(entries, day, otherwise):
    """The value of the latest entry that has begun by day."""
    begun = [entry for entry in entries if entry[0] <= day]
    return max(begun, key=lambda entry: entry[0])[1] if begun else otherwise


# ---- quiet hours --------------------------------------------------------------


def quiet_periods(plan, around):
    """The quiet periods near an instant, in order; those that touch are one."""
    if plan.quiet is None:
        return []
    begin, end = plan.quiet
    over_midnight = DAY if end < begin else timedelta(0)
    centre = around.astimezone(plan.zone).date()
    periods = []
    for step in range(-3, 5):
        day = centre + step * DAY
        start = instant(plan.zone, day, begin)
        stop = instant(plan.zone, day + over_midnight, end)
        if stop <= start:
            continue  # a clock change swallowed it
        if periods and periods[-1][1] >= start:
            periods[-1] = (periods[-1][0], stop)
        else:
            periods.append((start, stop))
    return periods


# ---- candidates -----------------------------------------------------------------


@dataclass
class Candidate:
    """A nudge as planned, before quiet hours, with what already bars it."""

    kind: str
    slot: str
    day: date
    due: datetime
    until: datetime
    before_wear_start: bool = False
    restarted: bool = False
    nights_only: bool = False
    eased: bool = False


def band_changes(plan, day):
    """One after each meal of the day while bands are worn."""
    if day < plan.bands_start or plan.ended(day):
        return
    meals = plan.meals_on(day)
    nights = plan.nights(day)
    asked_of = [m for m in meals if m.code == BEDTIME] if nights else meals
    kept = {
        3: asked_of,
        2: asked_of[:1] + asked_of[-1:],
        1: asked_of[-1:],
    }[plan.level(day)]
    for meal, following in zip(meals, meals[1:] + [None]):
        due = instant(plan.zone, day, meal.at) + meal.length
        until = due + plan.useful
        if following is not None:
            until = min(until, instant(plan.zone, day, following.at))
        yield Candidate(
            "band-change",
            f"{day}/{meal.code}",
            day,
            due,
            until,
            before_wear_start=day == plan.bands_start and due <= instant(plan.zone, day, plan.notice_at),
            nights_only=nights and meal.code != BEDTIME,
            eased=meal in asked_of and meal not in kept,
        )


def wear_starts(plan, day):
    """The notices before the start, and one for each change of bands after it."""
    slots = [slot for slot, days in NOTICE_DAYS if day == plan.bands_start + days * DAY]
    changes = {first for first, _ in plan.bands} | {last + DAY for _, last in plan.bands if last}
    if day > plan.bands_start and day in changes:
        slots.append(f"b/{day}")
    for slot in slots:
        yield Candidate(
            "wear-start", slot, day, instant(plan.zone, day, plan.notice_at), day_begins(plan.zone, day + DAY)
        )


def soreness(plan, day):
    """One an evening after the start and, shorter, after each restart."""
    starts = [(plan.bands_start, SORE_DAYS_FROM_START, "s")]
    starts += [(restart, SORE_DAYS_FROM_RESTART, f"{restart}/s") for restart in plan.restarts]
    # Stable: of a start and a restart on one date, the restart comes last.
    starts.sort(key=lambda start: start[0])
    running = [s for s in starts if s[0] <= day < s[0] + s[1] * DAY]
    due = instant(plan.zone, day, plan.evening_at)
    for start in running:
        number = (day - start[0]).days + 1
        yield Candidate(
            "soreness",
            f"{start[2]}{number}",
            day,
            due,
            due + SORENESS_USEFUL,
            restarted=start is not running[-1],
        )


# ---- verdicts ---------------------------------------------------------------------


def judge(plan, nudge):
    """(reason it is dropped or None, due, until, moved) of a candidate."""
    barred = (
        ("paused", plan.paused(nudge.day)),
        ("ended", plan.ended(nudge.day)),
        ("before wear-start", nudge.before_wear_start),
        ("restarted", nudge.restarted),
        ("nights only", nudge.nights_only),
        ("eased", nudge.eased),
    )
    due, until, moved = nudge.due, nudge.until, None
    for reason, holds in barred:
        if holds:
            return reason, due, until, moved
    periods = quiet_periods(plan, due)
    for start, stop in periods:
        if start <= due < stop:
            if stop >= until:
                return "quiet hours", due, until, moved
            due, moved = stop, "quiet hours"
            break
    for start, _ in periods:
        if start > due:
            until = min(until, start)
            break
    return ("no time left" if until <= due else None), due, until, moved


def preview(record, first, last):
    """What `plan preview --json` prints for the days first to last."""
    plan = Plan(record)
    nudges, dropped = [], []
    day = first
    while day <= last:
        if exists(plan.zone, day):
            for rule in (band_changes, wear_starts, soreness):
                for nudge in rule(plan, day):
                    reason, due, until, moved = judge(plan, nudge)
                    if reason is None:
                        nudges.append((due, nudge.kind, nudge.slot, until, moved))
                    else:
                        dropped.append((day, nudge.kind, nudge.slot, reason))
        day += DAY
    nudges.sort(key=lambda n: n[:3])
    dropped.sort()
    return {
        "nudges": [
            {
                "kind": kind,
                "slot": slot,
                "due": stamp(plan.zone, due),
                "until": stamp(plan.zone, until),
                "moved": moved,
            }
            for due, kind, slot, until, moved in nudges
        ],
        "dropped": [
            {"kind": kind, "slot": slot, "reason": reason} for _, kind, slot, reason in dropped
        ],
    }


def stamp(zone, moment):
    text = moment.astimezone(zone).isoformat()
    return text.removesuffix("+00:00") + "Z" if text.endswith("+00:00") else text


def main():
    options = argparse.ArgumentParser(description="a second opinion on plan preview")
    options.add_argument("--record", required=True, help="a record, as JSON")
    options.add_argument("--from", dest="first", required=True, type=date.fromisoformat)
    options.add_argument("--to", dest="last", required=True, type=date.fromisoformat)
    chosen = options.parse_args()
    with open(chosen.record, encoding="utf-8") as file:
        record = json.load(file)
    print(json.dumps(preview(record, chosen.first, chosen.last), indent=2))


if __name__ == "__main__":
    main()
