#!/usr/bin/env python3
"""A second opinion on the figures: an independent reading of the rules.

This is the arithmetic of `bandbell figures --record FILE --json` written a
second time, in another language, by someone who read the rules and not the
Go. Where the two agree, a slip would have had to be made twice in the same
way. It is run by hand after a rule has changed; it is no part of the build
and CI does not call it. Python 3.11 or later, standard library only; time
zones come from the system's tz database.

    figures.py show RECORD                  print the figures of one record (- is standard input)
    figures.py make SEED                    print the random record of that number
    figures.py compare PROGRAM [--count N] [--first SEED] [--keep DIR]
                                            run both over N random records, list every difference

Spans are whole microseconds while they are counted and become minutes at the
end. The forecast draws from its own generator, so its dates cannot equal the
program's: `compare` asks instead at which rank of these draws the program's
date falls, and allows RANK_SLACK either way. The reasons in `why` are words,
and only their presence is compared.
"""

import argparse
import bisect
import json
import math
import pathlib
import random
import statistics
import subprocess
import sys
from datetime import date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

SECOND = 1_000_000
MINUTE = 60 * SECOND
HOUR = 60 * MINUTE
ONE_DAY = timedelta(days=1)
EPOCH = datetime(1970, 1, 1, tzinfo=timezone.utc)
NEVER = math.inf

SETTINGS = {
    "carry_min": 840, "ramp_min": 240, "grace_min": 60, "prior_wear": 0.7, "prior_answer": 0.8,
    "rate_mm_per_100h": 0.0523, "rate_sd": 0.03, "measure_sd_mm": 0.5, "tolerance_mm": 0.5,
}
MEASURES = ("overjet", "left", "right")
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
DRAWS = 20_000
LONGEST_FORECAST = 1095  # days
Z95 = 1.959964
CALL_FLAGS = {"allergy", "broken", "out-of-bands", "swelling", "ulcer", "fever", "jaw"}
SORE_FLAGS = {"swelling", "ulcer", "fever"}


# --- clock and calendar ------------------------------------------------------

def instant(text):
    """The microsecond since 1970 that an RFC 3339 text names."""
    return (datetime.fromisoformat(text) - EPOCH) // timedelta(microseconds=1)


def day_or_none(text):
    return None if text is None else date.fromisoformat(text)


class Zone:
    """Local days and wall times of one place. A wall time that does not exist
    is the first instant after the gap, one that exists twice is the first."""

    def __init__(self, name):
        self.info = ZoneInfo(name)
        self.starts = {}

    def offset(self, second):
        return (EPOCH + timedelta(seconds=second)).astimezone(self.info).utcoffset()

    def at(self, day, clock_minutes):
        wall = datetime(day.year, day.month, day.day) + timedelta(minutes=clock_minutes)
        before = wall.replace(tzinfo=self.info, fold=0)
        after = wall.replace(tzinfo=self.info, fold=1)
        second = int(before.timestamp())
        if (EPOCH + timedelta(seconds=second)).astimezone(self.info).replace(tzinfo=None) == wall:
            return second * SECOND
        low, high = int(after.timestamp()), second  # the clocks jump in (low, high]
        old = self.offset(low)
        while high - low > 1:
            middle = (low + high) // 2
            if self.offset(middle) == old:
                low = middle
            else:
                high = middle
        return high * SECOND

    def start(self, day):
        """The first instant of a local day."""
        if day not in self.starts:
            self.starts[day] = self.at(day, 0)
        return self.starts[day]

    def end(self, day):
        return self.start(day + ONE_DAY)

    def exists(self, day):
        return self.start(day) < self.end(day)

    def day_of(self, moment):
        """The local day that holds an instant."""
        guess = (EPOCH + timedelta(microseconds=moment)).astimezone(self.info).date()
        for day in (guess, guess - ONE_DAY, guess + ONE_DAY):
            if self.start(day) <= moment < self.end(day):
                return day
        raise ValueError(f"no local day holds {moment}")


def clock(text):
    hours, minutes = text.split(":")
    return 60 * int(hours) + int(minutes)


def days_between(first, last):
    """Every date from first to last, both included."""
    return [first + timedelta(days=n) for n in range((last - first).days + 1)]


# --- the record --------------------------------------------------------------

class Record:
    """One patient's record as it looked at as_of: defaults filled in, whatever
    is later than as_of left out."""

    def __init__(self, raw):
        self.zone = Zone(raw["zone"])
        self.as_of = instant(raw["as_of"])
        self.today = self.zone.day_of(self.as_of)
        self.first = date.fromisoformat(raw["window"]["from"])
        self.last = date.fromisoformat(raw["window"]["to"])
        self.days = [d for d in days_between(self.first, self.last) if self.zone.exists(d)]
        self.settings = SETTINGS | (raw.get("settings") or {})
        self.read_plan(raw["plan"])
        self.flags = [f for f in raw.get("flags") or [] if instant(f["at"]) <= self.as_of]
        self.nudges = [n for n in raw.get("nudges") or [] if instant(n["due"]) <= self.as_of]
        self.reports = [r for r in raw.get("reports") or [] if instant(r["at"]) <= self.as_of]
        self.visits = [v for v in raw.get("visits") or [] if date.fromisoformat(v["date"]) <= self.today]

    def read_plan(self, plan):
        self.braces = plan.get("appliance", "aligners") == "braces"
        self.aligner_start = day_or_none(plan.get("aligner_start"))
        self.tray_days, self.trays = plan.get("days_per_tray"), plan.get("trays")
        self.planned_end = day_or_none(plan.get("planned_end"))
        self.bands_start = day_or_none(plan.get("bands_start")) or self.aligner_start + timedelta(days=14)
        self.bands_end = day_or_none(plan.get("bands_end"))
        self.wear = [(date.min, plan.get("hours_per_day", 22), plan.get("changes_per_day", 4))]
        for entry in plan.get("wear") or []:
            self.wear.append((date.fromisoformat(entry["from"]), entry["hours_per_day"], entry["changes_per_day"]))
        self.meals = plan.get("meals") or []
        self.plan_restarts = [date.fromisoformat(d) for d in plan.get("restarts") or []]
        self.pauses = [(date.fromisoformat(p["from"]), date.fromisoformat(p["to"]), p.get("of") or "mail")
                       for p in plan.get("pauses") or []]
        self.bands = [(date.fromisoformat(b["from"]), day_or_none(b.get("to"))) for b in plan.get("bands") or []]
        self.bags = [(date.fromisoformat(b["date"]), b["count"]) for b in plan.get("bags") or []]

    def hours(self, day):
        return max((w for w in self.wear if w[0] <= day), key=lambda w: w[0])[1]

    def changes(self, day):
        return max((w for w in self.wear if w[0] <= day), key=lambda w: w[0])[2]

    def in_treatment(self, day):
        return self.bands_start <= day and (self.bands_end is None or day <= self.bands_end)

    def paused(self, day, of=None):
        return any(a <= day <= b and of in (None, kind) for a, b, kind in self.pauses)

    def open_flags(self):
        return [f for f in self.flags if f.get("closed") is None or instant(f["closed"]) > self.as_of]

    def stated(self):
        """Stated microseconds by day: the last total received for each, no longer than the
        day. Of two received at one instant the lower stands, as *off* does in the ledger."""
        totals = {}
        told = [r for r in self.reports if r["what"] == "worn-total"]
        for r in sorted(told, key=lambda r: (instant(r["at"]), -r["hours"])):
            day = date.fromisoformat(r["day"])
            totals[day] = min(round(r["hours"] * HOUR), self.zone.end(day) - self.zone.start(day))
        return totals


# --- 1. ledger ---------------------------------------------------------------

def evidence(record):
    """Evidence points in time order, one an instant, and the explicit off spans."""
    points, off_spans = {}, []

    def add(moment, state, received):
        old = points.get(moment)
        if old is None or received > old[1] or (received == old[1] and state == "off"):
            points[moment] = (state, received)

    for r in record.reports:
        at = instant(r["at"])
        if r["what"] == "on":
            add(at, "on", at)
        elif r["what"] == "off":
            add(at, "off", at)
            if r.get("since") is not None:
                since = instant(r["since"])
                add(since, "on", at)
                off_spans.append((since, at))
        elif r["what"] == "off-span":
            a, b = instant(r["from"]), instant(r["to"])
            add(a, "on", at)
            add(b, "on", at)
            off_spans.append((a, b))
    return [(moment, points[moment][0]) for moment in sorted(points)], off_spans


def meal_breaks(record):
    """The planned meals that may reach into the window, as spans."""
    breaks = []
    for day in days_between(record.first - 3 * ONE_DAY, record.last):
        if not record.in_treatment(day) or not record.zone.exists(day):
            continue
        for meal in record.meals:
            minutes = meal.get("minutes")
            if minutes is None:
                minutes = 0 if meal["code"] == "HS" else 30
            weekdays = meal.get("days") or WEEKDAYS
            if minutes > 0 and WEEKDAYS[day.weekday()] in weekdays:
                start = record.zone.at(day, clock(meal["at"]))
                breaks.append((start, start + minutes * MINUTE))
    return breaks


def ledger(record):
    """Spans (start, end, state) that tile the window; neighbours differ in state."""
    low, high = record.zone.start(record.first), record.zone.end(record.last)
    points, off_spans = evidence(record)
    meals = meal_breaks(record)
    cuts = {low, high, record.as_of}
    cuts.update(moment for moment, _ in points)
    cuts.update(edge for span in off_spans + meals for edge in span)
    cuts.update(record.zone.start(d) for d in record.days)
    cuts = sorted(c for c in cuts if low <= c <= high)
    state = ["unknown"] * (len(cuts) - 1)

    def pieces(a, b):
        return range(bisect.bisect_left(cuts, max(a, low)), bisect.bisect_left(cuts, min(b, high)))

    carry = record.settings["carry_min"] * MINUTE
    for (a, was), (b, then) in zip(points, points[1:]):
        if b - a <= carry and was == then:
            for i in pieces(a, b):
                state[i] = was
    for a, b in off_spans:
        for i in pieces(a, b):
            state[i] = "off"
    for a, b in meals:
        for i in pieces(a, b):
            if state[i] == "on":
                state[i] = "off"
    for day in record.days:
        if not record.in_treatment(day) or record.paused(day, "bands"):
            for i in pieces(record.zone.start(day), record.zone.end(day)):
                if state[i] == "unknown":
                    state[i] = "off"
    for i in pieces(record.as_of, high):
        state[i] = "unknown"
    return joined((cuts[i], cuts[i + 1], s) for i, s in enumerate(state))


def joined(spans):
    out = []
    for a, b, state in spans:
        if a == b:
            continue
        if out and out[-1][1] == a and out[-1][2] == state:
            out[-1] = (out[-1][0], b, state)
        else:
            out.append((a, b, state))
    return out


def within(spans, low, high):
    """The parts of spans inside [low, high)."""
    return [(max(a, low), min(b, high), s) for a, b, s in spans if a < high and b > low]


class Day:
    """One local day's worn and working time, in microseconds."""

    def __init__(self, record, day, spans, stated):
        self.date = day
        self.start, self.end = record.zone.start(day), record.zone.end(day)
        self.length = self.end - self.start
        self.minutes = {"on": 0, "off": 0, "unknown": 0}
        for a, b, state in within(spans, self.start, self.end):
            self.minutes[state] += b - a
        self.stated = stated.get(day)
        self.usable = (self.end <= record.as_of and record.in_treatment(day) and not record.paused(day)
                       and (self.stated is not None or 2 * self.minutes["unknown"] <= self.length))
        self.target = record.hours(day) * HOUR

    def weigh(self, p):
        if self.stated is not None:
            self.worn = (self.stated, self.stated, self.stated)
        else:
            on, unknown = self.minutes["on"], self.minutes["unknown"]
            self.worn = (on, on + unknown * p, on + unknown)
        self.share = self.worn[1] / self.target


def wear_share(record, days):
    """p: the share of unknown time taken as worn in the point estimate."""
    on = off = 0
    for d in days:
        if not record.in_treatment(d.date) or record.paused(d.date):
            continue
        if d.stated is not None:
            on, off = on + d.stated, off + d.length - d.stated
        else:
            on, off = on + d.minutes["on"], off + d.minutes["off"]
    prior = 1440 * MINUTE
    return (on + prior * record.settings["prior_wear"]) / (on + off + prior)


# --- 2. working minutes ------------------------------------------------------

def working(record, days, spans, worn_states):
    """Working microseconds by date when the given states are taken as worn."""
    ramp = record.settings["ramp_min"] * MINUTE
    grace = record.settings["grace_min"] * MINUTE
    done = {d.date: 0 for d in days}
    for stretch in unstated_stretches(days):
        taken = joined((a, b, s in worn_states) for a, b, s in within(spans, stretch[0].start, stretch[-1].end))
        worn = 0  # so far in this run
        for a, b, on in taken:
            if not on:
                if b - a > grace:
                    worn = 0
                continue
            begins = a + max(0, ramp - worn)
            worn += b - a
            for d in stretch:
                done[d.date] += max(0, min(b, d.end) - max(begins, d.start))
    return done


def unstated_stretches(days):
    """Unbroken sequences of days without a stated total."""
    stretch = []
    for d in days:
        if d.stated is None:
            stretch.append(d)
        elif stretch:
            yield stretch
            stretch = []
    if stretch:
        yield stretch


def add_working(record, days, spans, p):
    low = working(record, days, spans, {"on"})
    high = working(record, days, spans, {"on", "unknown"})
    for d in days:
        a, b = low[d.date], high[d.date]
        if d.stated is not None:
            a = max(0, d.stated - record.settings["ramp_min"] * MINUTE * (record.changes(d.date) + 1))
            b = d.stated
        d.working = (a, a + p * (b - a), b)


# --- 3. counts, 5. silence ---------------------------------------------------

def wilson(k, n):
    if n == 0:
        return None
    share, z2 = k / n, Z95 * Z95
    middle = (share + z2 / (2 * n)) / (1 + z2 / n)
    half = Z95 / (1 + z2 / n) * math.sqrt(share * (1 - share) / n + z2 / (4 * n * n))
    return {"value": round(share, 6), "low": round(max(0.0, middle - half), 6), "high": round(min(1.0, middle + half), 6)}


def delivered(record):
    return [n for n in record.nudges if n["kind"] == "band-change" and n["outcome"] == "accepted"
            and instant(n["until"]) <= record.as_of]


def answered_slots(record):
    return {x["slot"] for x in record.reports + record.flags if x.get("slot") is not None}


def counts(record, days):
    slots = [n["slot"] for n in delivered(record)]
    answers = answered_slots(record)
    fresh = {r.get("slot") for r in record.reports if r["what"] == "on" and r.get("fresh") is True}
    off = {r.get("slot") for r in record.reports if r["what"] == "off"}
    answered, confirmed, denied = (sum(s in those for s in slots) for those in (answers, fresh, off))
    usable = [d for d in days if d.usable]
    return {
        "delivered": len(slots), "answered": answered, "confirmed": confirmed, "denied": denied,
        "answered_share": wilson(answered, len(slots)), "confirmed_share": wilson(confirmed, answered),
        "days_at_target": {"days": sum(d.worn[1] >= d.target for d in usable), "of": len(usable)},
    }


def silence(record):
    asked, answers = delivered(record), answered_slots(record)
    heard = max((instant(x["at"]) for x in record.reports + record.flags), default=-math.inf)
    run = [n for n in asked if instant(n["due"]) > heard and n["slot"] not in answers]
    others = len(asked) - len(run)
    a = sum(n["slot"] in answers for n in asked)
    p = (a + 10 * record.settings["prior_answer"]) / (others + 10)
    chance = (1 - p) ** len(run) if run else 1.0
    return {"run": len(run), "chance": chance, "remarkable": len(run) >= 3 and chance < 0.01}


# --- 4. trend ----------------------------------------------------------------

def trend(shares):
    """Baseline, EWMA and CUSUM of the worn shares of the usable days, in order."""
    if len(shares) < 14:
        return {"baseline_mean": None, "baseline_sd": None, "lower_limit": None, "ewma": None,
                "below": False, "cusum": None, "cusum_alarm": False}
    m, s = statistics.fmean(shares[:14]), max(0.05, statistics.stdev(shares[:14]))
    limit, z, total = m - 3 * s * math.sqrt(0.2 / 1.8), m, 0.0
    for y in shares[14:]:
        z = 0.2 * y + 0.8 * z
        total = min(6 * s, max(0.0, total + (m - 0.5 * s) - y))
    return {"baseline_mean": m, "baseline_sd": s, "lower_limit": limit, "ewma": z,
            "below": z < limit, "cusum": total, "cusum_alarm": total > 5 * s}


# --- 6. forecast -------------------------------------------------------------

def readings(record):
    """By measure, the (date, mm, sd) readings the forecast sees, in order."""
    out = {}
    for measure in MEASURES:
        key = measure + "_mm"
        taken = sorted(((date.fromisoformat(v["date"]), v[key], v.get("sd_mm") or record.settings["measure_sd_mm"])
                       for v in record.visits if v.get(key) is not None), key=lambda r: r[0])
        seen = [r for r in taken if record.first <= r[0] <= record.last]
        earlier = [r for r in taken if r[0] < record.first]
        if earlier and not any(r[0] == record.first for r in seen):
            seen.insert(0, (record.first, *earlier[-1][1:]))
        if seen:
            out[measure] = seen
    return out


def posterior(record, taken, hours_since):
    """Mean and covariance of (r0, b) given one measure's readings."""
    rate, rate_sd = record.settings["rate_mm_per_100h"], record.settings["rate_sd"]
    p00, p01, p11 = 1 / 10.0 ** 2, 0.0, 1 / rate_sd ** 2
    q0, q1 = taken[0][1] * p00, rate * p11
    for day, mm, sd in taken:
        x, w = -hours_since(taken[0][0], day) / 100, 1 / sd ** 2
        p00, p01, p11 = p00 + w, p01 + w * x, p11 + w * x * x
        q0, q1 = q0 + w * mm, q1 + w * x * mm
    det = p00 * p11 - p01 * p01
    v00, v01, v11 = p11 / det, -p01 / det, p00 / det
    return (v00 * q0 + v01 * q1, v01 * q0 + v11 * q1), (v00, v01, v11)


def aligner_end(record):
    return record.planned_end or record.aligner_start + timedelta(days=record.tray_days * record.trays)


class Forecast:
    """The draws of one record: sorted days from today until each measure is done."""

    def __init__(self, record, days, generator):
        self.record = record
        self.readings = readings(record)
        self.basis = "readings" if any(len(r) > 1 for r in self.readings.values()) else "assumption"
        self.measures, self.finish, self.prescribed = {}, None, None
        work = {d.date: d.working[1] / HOUR for d in days}
        usable = [work[d.date] for d in days if d.usable]
        if not self.readings or len(usable) < 2:
            return

        def hours_since(first, day):
            return sum(h for d, h in work.items() if first <= d < day)

        pace = statistics.fmean(usable)
        for h in usable:
            pace = 0.2 * h + 0.8 * pace
        spread = statistics.stdev(usable) / 2
        paces = [max(0.1, generator.gauss(pace, spread)) for _ in range(DRAWS)]
        told = [record.hours(record.today)] * DRAWS
        finish, prescribed = [0.0] * DRAWS, [0.0] * DRAWS
        for measure, taken in self.readings.items():
            lines = self.lines(taken, hours_since, generator)
            mine = [self.days_left(now, b, h) for (now, b), h in zip(lines, paces)]
            finish = list(map(max, finish, mine))
            prescribed = list(map(max, prescribed, (self.days_left(now, b, h) for (now, b), h in zip(lines, told))))
            self.measures[measure] = sorted(mine)
        self.finish, self.prescribed = sorted(finish), sorted(prescribed)

    def lines(self, taken, hours_since, generator):
        """Draws of (millimetres left today, millimetres an hour of work)."""
        (m0, m1), (v00, v01, v11) = posterior(self.record, taken, hours_since)
        so_far = hours_since(taken[0][0], self.record.today)
        l00 = math.sqrt(v00)
        l10 = v01 / l00
        l11 = math.sqrt(max(0.0, v11 - l10 * l10))
        out = []
        for _ in range(DRAWS):
            g0, g1 = generator.gauss(0, 1), generator.gauss(0, 1)
            r0, b = m0 + l00 * g0, m1 + l10 * g0 + l11 * g1
            out.append((r0 - b * so_far / 100, b / 100))
        return out

    def days_left(self, now, per_hour, hours_a_day):
        if per_hour <= 0:
            return NEVER
        days = max(0, math.ceil((now - self.record.settings["tolerance_mm"]) / (per_hour * hours_a_day)))
        return days if days <= LONGEST_FORECAST else NEVER

    def wrong_way(self, measure):
        taken = self.readings[measure]
        return taken[-1][1] - taken[0][1] > self.record.settings["measure_sd_mm"]

    def date_at(self, draws, rank):
        left = draws[min(DRAWS - 1, int(rank * DRAWS))] if draws else NEVER
        return None if left == NEVER else (self.record.today + timedelta(days=left)).isoformat()

    def points(self, draws):
        return {"median": self.date_at(draws, 0.5), "early": self.date_at(draws, 0.1), "late": self.date_at(draws, 0.9)}

    def json(self):
        finish, prescribed = self.points(self.finish), self.date_at(self.prescribed, 0.5)
        return {
            "measures": {m: self.points(self.measures.get(m)) | {"wrong_way": self.wrong_way(m)} for m in self.readings},
            "finish": finish, "aligner_end": aligner_end(self.record).isoformat(), "basis": self.basis,
            **lag(self.record, finish["median"]),
            "as_prescribed": {"median": prescribed, **lag(self.record, prescribed)},
        }


def lag(record, median):
    """What a median finish means beside the end of the aligners."""
    if median is None:
        return {"lag_weeks": None, "extra_trays": None}
    late = (date.fromisoformat(median) - aligner_end(record)).days
    return {"lag_weeks": round(late / 7, 6),
            "extra_trays": None if record.braces else max(0, math.ceil(late / record.tray_days))}


# --- 7. supply ---------------------------------------------------------------

def in_force(record, day):
    return sum(a <= day and (b is None or day <= b) for a, b in record.bands)


def empty_on(record):
    if not record.bags or not record.bands:
        return None
    day = max(record.bands_start, min(a for a, _ in record.bands))
    ends = [record.bands_end] if record.bands_end else []
    if all(b for _, b in record.bands):
        ends.append(max(b for _, b in record.bands))
    need = 0
    while not ends or day <= min(ends):
        if record.zone.exists(day) and not record.paused(day, "bands"):
            need += record.changes(day) * in_force(record, day)
        if need > sum(count for since, count in record.bags if since <= day):
            return day
        day += ONE_DAY
    return None


# --- 8. soreness, lapses, restarts -------------------------------------------

def restarts(record, spans):
    first = record.zone.start(record.bands_start)
    last = record.zone.end(record.bands_end) if record.bands_end else math.inf
    dates = set(record.plan_restarts)
    for i, (a, b, state) in enumerate(spans):
        if state != "off" or b - a < 24 * HOUR or b <= first or a >= last:
            continue
        again = next((span for span in spans[i + 1:] if span[2] == "on"), None)
        if again:
            dates.add(record.zone.day_of(again[0]))
    return sorted(dates)


def soreness(record, starts):
    """By day number since the latest (re)start, the greatest value, and that start.
    Nothing restarts before it has begun."""
    begun = max((d for d in starts if record.bands_start <= d <= record.today), default=None)
    values = {}
    for r in record.reports:
        if r["what"] == "soreness" and begun is not None:
            number = (record.zone.day_of(instant(r["at"])) - begun).days + 1
            if number >= 1:
                values[number] = max(values.get(number, 0), r["value"])
    return values, begun


def alarming(record, values, begun):
    def new_tray(number):
        if record.braces:
            return False
        into = (begun + timedelta(days=number - 1) - record.aligner_start).days
        return 0 <= into < record.tray_days * record.trays and into % record.tray_days < 3

    if any(f["what"] in SORE_FLAGS for f in record.open_flags()):
        return True
    if any(v >= 8 or (v >= 4 and n >= 8 and not new_tray(n)) for n, v in values.items()):
        return True
    early = [values[n] for n in (2, 3) if n in values]
    later = [values[n] for n in (5, 6, 7) if n in values]
    return bool(early and later and max(later) > max(early))


# --- 9. standing -------------------------------------------------------------

def slipping_by_wear(usable):
    """Rules a and b at the end of the last of these usable days."""
    if len(usable) < 7:
        return False
    line, last = trend([d.share for d in usable]), usable[-7:]
    mean = statistics.fmean(d.share for d in last)
    open_hours = statistics.fmean(d.worn[2] - d.worn[0] for d in last) / HOUR
    return ((line["below"] or line["cusum_alarm"]) and mean < 0.9) or (mean < 0.75 and open_hours < 8)


def slipping_by_forecast(usable, forecast):
    if len(usable) < 7 or forecast["basis"] != "readings":
        return False
    told = forecast["as_prescribed"]
    if forecast["finish"]["median"] is None:
        return told["median"] is not None
    return told["median"] is not None and forecast["lag_weeks"] - told["lag_weeks"] > 4


def standing(record, days, quiet, forecast, sore, empty):
    usable = [d for d in days if d.usable]
    why = [f"open flag: {f['what']}" for f in record.open_flags() if f["what"] in CALL_FLAGS]
    why += ["a question waits for more than a day" for f in record.open_flags()
            if f["what"] == "question" and record.as_of - instant(f["at"]) > 24 * HOUR]
    if sore:
        why.append("alarming soreness")
    if empty is not None and empty <= record.today:
        why.append(f"out of bands since {empty}")
    if all(slipping_by_wear(usable[:len(usable) - n]) for n in range(3)):
        why.append("slipping on each of the last three usable days")
    if why:
        return "call", why
    if quiet["remarkable"]:
        return "quiet", [f"{quiet['run']} nudges without an answer"]
    if slipping_by_wear(usable):
        return "slipping", ["worn less than before, or than asked"]
    if slipping_by_forecast(usable, forecast):
        return "slipping", ["the bite will be late at this pace"]
    if len(usable) < 3:
        return "new", [f"{len(usable)} usable days, fewer than 3"]
    return "steady", ["nothing stands out"]


# --- all of it ---------------------------------------------------------------

def minutes(span):
    return round(span / MINUTE, 2)


def bounds(triple):
    return dict(zip(("low", "point", "high"), map(minutes, triple)))


def figures(raw, generator=None, forecast_json=None):
    """The figures of one record, and the forecast's draws. With forecast_json the
    standing is reckoned from that forecast, so that chance cannot tip it."""
    record = Record(raw)
    spans = ledger(record)
    stated = record.stated()
    days = [Day(record, d, spans, stated) for d in record.days]
    p = wear_share(record, days)
    for d in days:
        d.weigh(p)
    add_working(record, days, spans, p)
    usable = [d for d in days if d.usable]
    draws = Forecast(record, days, generator or random.Random(1))
    forecast = draws.json()
    again = restarts(record, spans)
    values, begun = soreness(record, [record.bands_start, *again])
    quiet, empty = silence(record), empty_on(record)
    stands, why = standing(record, days, quiet, forecast_json or forecast,
                           alarming(record, values, begun), empty)
    line = trend([d.share for d in usable])
    return {
        "days": [{
            "day": d.date.isoformat(), "length_min": minutes(d.length), "on_min": minutes(d.minutes["on"]),
            "off_min": minutes(d.minutes["off"]), "unknown_min": minutes(d.minutes["unknown"]),
            "worn": bounds(d.worn), "working": bounds(d.working),
            "usable": d.usable, "stated": d.stated is not None,
        } for d in days],
        "wear_p": round(p, 6),
        "counts": counts(record, days),
        "trend": {k: round(v, 6) if isinstance(v, float) else v for k, v in line.items()},
        "silence": quiet | {"chance": round(quiet["chance"], 6)},
        "forecast": forecast,
        "supply": {"bands_per_day": record.changes(record.today) * in_force(record, record.today),
                   "empty_on": empty and empty.isoformat()},
        "soreness": [{"day": n, "value": values[n]} for n in sorted(values)],
        "restarts": [d.isoformat() for d in again],
        "standing": stands, "why": why,
    }, draws


# --- random records ----------------------------------------------------------

# Places and a day near which their clocks do something odd.
PLACES = [
    ("America/New_York", "2026-03-08"), ("America/New_York", "2026-11-01"), ("Europe/Berlin", "2026-03-29"),
    ("Europe/Berlin", "2026-10-25"), ("Australia/Lord_Howe", "2026-04-05"), ("Australia/Lord_Howe", "2026-10-04"),
    ("Africa/Cairo", "2026-04-24"), ("Africa/Cairo", "2026-10-30"), ("America/Santiago", "2026-04-05"),
    ("America/Santiago", "2026-09-06"), ("America/Sao_Paulo", "2018-11-04"), ("Pacific/Apia", "2011-12-30"),
    ("Pacific/Kwajalein", "1993-08-21"), ("Asia/Amman", "2020-03-27"),
    ("America/Havana", "2026-03-08"), ("America/Havana", "2026-11-01"), ("America/St_Johns", "2010-11-07"),
    ("Asia/Beirut", "2026-03-29"), ("Asia/Kathmandu", "2026-06-10"), ("UTC", "2026-02-20"), ("Pacific/Auckland", "2026-09-27"),
]
MEAL_TIMES = {"PCM": ("06:45", "09:30"), "PC": ("10:00", "11:30"), "PCD": ("12:00", "14:00"),
              "PCV": ("17:30", "20:15"), "HS": ("21:00", "23:55")}
ODD_TIMES = ("00:00", "00:01", "00:30", "01:30", "02:00", "02:30", "23:30", "23:59")


class Maker:
    """A random valid record: a plan, and a person with habits who answers it."""

    def __init__(self, number):
        self.random = random.Random(number)

        self.calm = self.chance(0.5)  # nothing that would call the desk but the wear itself
        self.step = 30 * MINUTE if self.chance(0.3) else 1  # coarse times make ties and spans of exactly a limit
        self.teller = self.chance(0.2)  # tells a total almost every day, and how sore it is

    def chance(self, p):
        return self.random.random() < p

    def between(self, a, b):
        return self.random.randint(a, b)

    def text(self, moment):
        """RFC 3339 with the zone's offset, or now and then in UTC."""
        local = EPOCH + timedelta(microseconds=moment // self.step * self.step)
        return (local if self.chance(0.1) else local.astimezone(self.zone.info)).isoformat()

    def moment(self, day):
        """Some minute of a local day, sometimes exactly its edge."""
        length = max(1, (self.zone.end(day) - self.zone.start(day)) // MINUTE)
        into = 0 if self.chance(0.05) else self.between(0, length - 1)
        part = self.between(0, 59) * SECOND if self.chance(0.2) else self.between(0, 999) * 1000 if self.chance(0.05) else 0
        return self.zone.start(day) + into * MINUTE + part

    def record(self):
        name, odd = self.random.choice(PLACES)
        self.zone = Zone(name)
        length = self.random.choice([1, 3, 7, 14, 21, 30, 30, 45, 60, 120])
        self.first = date.fromisoformat(odd) - timedelta(days=self.between(0, length))
        self.last = self.first + timedelta(days=length - 1)
        after = self.random.choice([0, 0, 1, 1, 2, 5, 20, -1, -3, -length, -length - 4])
        self.today = self.last + timedelta(days=after)
        while not self.zone.exists(self.today):
            self.today += ONE_DAY
        self.as_of = self.zone.at(self.today, 720) if self.chance(0.3) else self.moment(self.today)
        self.bands_start = self.first + timedelta(days=self.random.choice([0, 0, 0, 0, -1, -5, -14, -40, 2, 9, length + 3]))
        out = {"zone": name, "as_of": self.text(self.as_of),
               "window": {"from": self.first.isoformat(), "to": self.last.isoformat()}, "plan": self.plan()}
        self.reports, self.nudges, self.flags = [], [], []
        self.live()
        self.random.shuffle(self.reports)
        out |= {"reports": self.reports, "nudges": self.nudges, "flags": self.flags, "visits": self.visits()}
        if self.chance(0.4):
            out["settings"] = self.settings()
        return out

    def near(self, before=5, after=5):
        return self.first + timedelta(days=self.between(-before, (self.last - self.first).days + after))

    def plan(self):
        plan = {}
        if self.chance(0.2):
            plan |= {"appliance": "braces", "bands_start": self.bands_start.isoformat(),
                     "planned_end": (self.last + timedelta(days=self.between(5, 400))).isoformat()}
        else:
            plan |= {"aligner_start": (self.bands_start - timedelta(days=14)).isoformat(),
                     "days_per_tray": self.between(5, 14), "trays": self.random.choice([3, 8, 20, 40])}
            if self.chance(0.4):
                plan["aligner_start"] = (self.bands_start - timedelta(days=self.between(0, 30))).isoformat()
                plan["bands_start"] = self.bands_start.isoformat()
            if self.chance(0.2):
                plan["planned_end"] = (self.last + timedelta(days=self.between(5, 300))).isoformat()
        end = max(self.near(0, 10), self.bands_start)
        self.bands_end = end if self.chance(0.2) else None
        if self.bands_end:
            plan["bands_end"] = end.isoformat()
        if self.chance(0.5):
            plan |= {"hours_per_day": self.random.choice([10, 12, 18, 20, 22, 24]), "changes_per_day": self.between(1, 6)}
        if self.chance(0.3):
            dates = sorted({self.near() for _ in range(self.between(1, 3))})
            plan["wear"] = [{"from": d.isoformat(), "hours_per_day": self.random.choice([8, 10, 14.5, 22]),
                             "changes_per_day": self.between(1, 4), "nights": self.chance(0.4)}
                            for d in dates if d > self.bands_start]
        self.meals = []
        for code, (a, b) in MEAL_TIMES.items():
            if self.chance(0.75):
                at = self.between(clock(a), clock(b))
                meal = {"code": code, "at": f"{at // 60:02}:{at % 60:02}"}
                if code == "PC" and self.chance(0.4):
                    meal |= {"at": self.random.choice(ODD_TIMES), "minutes": self.random.choice([1, 30, 90, 300, 720])}
                elif self.chance(0.4) and code != "HS":
                    meal["minutes"] = self.random.choice([0, 15, 45, 60, 75])
                if self.chance(0.2):
                    meal["days"] = self.random.sample(WEEKDAYS, self.between(1, 7))
                self.meals.append(meal)
        plan["meals"] = self.meals
        if self.chance(0.2):
            plan["pauses"] = self.pauses()
        if self.chance(0.15):
            plan["restarts"] = sorted({d.isoformat() for d in (self.near(20, 5) for _ in range(2))})
        if self.chance(0.8):
            plan["bands"] = [self.band(side) for side in ("right", "left") if self.chance(0.7)]
        if self.chance(0.7) and not self.calm:
            plan["bags"] = [{"date": self.near(10, 10).isoformat(), "count": self.random.choice([20, 100, 100, 200])}
                            for _ in range(self.between(1, 3))]
        return plan

    def pauses(self):
        out, free = [], self.near(3, 0)
        for _ in range(self.between(1, 3)):
            start = free + timedelta(days=self.between(-3, 6))
            free = start + timedelta(days=self.between(1, 6))
            pause = {"from": start.isoformat(), "to": (free - ONE_DAY).isoformat()}
            if self.chance(0.8):
                pause["of"] = self.random.choice(["mail", "bands"])
            out.append(pause)
        return out

    def band(self, side):
        start = self.bands_start + timedelta(days=self.random.choice([0, 0, 0, 3, 10]))
        upper, lower = ([13], [46]) if side == "right" else ([23], [36])
        end = (start + timedelta(days=self.between(0, 60))).isoformat() if self.chance(0.3) else None
        return {"from": start.isoformat(), "to": end, "side": side, "pattern": "class-2", "upper": upper, "lower": lower,
                "lumen_mm": 6.35, "force_oz": 4.5, "latex": False}

    def live(self):
        """Nudges and answers, day by day; habits may change half way."""
        habits = [(self.random.choice([0, 0.1, 0.5, 0.9, 1.0]), self.random.choice([0.3, 0.8, 0.95, 1.0])) for _ in range(2)]
        totals = 0.97 if self.teller else self.random.choice([0, 0, 0.03, 0.2, 0.9])
        self.levels = self.random.sample([23, 21, 20, 19, 18, 16, 14], 2)
        self.turn = turn = self.near(0, 0)
        begin = self.first - timedelta(days=self.random.choice([0, 0, 3, 20]))
        for day in days_between(begin, max(self.last, self.today) + timedelta(days=self.between(0, 4))):
            if self.zone.exists(day):
                answers, wears = habits[day >= turn]
                self.asked(day, answers, wears)
                self.others(day, totals, wears)
        if self.chance(0.3):
            self.ties()

    def ties(self):
        """More reports at instants that others name already, and more totals received at once."""
        named = [r[k] for r in self.reports for k in ("at", "since", "from", "to") if k in r]
        for _ in range(self.between(1, 8) if named else 0):
            at = self.random.choice(named)
            what = self.random.choice(["on", "off", "off-span"])
            extra = {}
            if what == "off-span":
                a, b = sorted(instant(self.random.choice(named)) for _ in range(2))
                extra = {"from": self.text(a), "to": self.text(b)}
            elif what == "off" and self.chance(0.5):
                extra = {"since": self.text(min(instant(at), instant(self.random.choice(named))))}
            self.reports.append({"at": at, "what": what} | extra)
        for r in [r for r in self.reports if r["what"] == "worn-total"][:3]:
            self.reports.append(r | {"hours": self.between(0, 24)})

    def asked(self, day, answers, wears):
        for meal in self.meals:
            if WEEKDAYS[day.weekday()] not in meal.get("days", WEEKDAYS):
                continue
            start = self.zone.at(day, clock(meal["at"]))
            due = start + meal.get("minutes", 0 if meal["code"] == "HS" else 30) * MINUTE
            slot = f"{day}/{meal['code']}"
            if due <= self.as_of and self.chance(0.95):
                outcome = "accepted" if self.chance(0.9) else self.random.choice(["bounced", "lapsed", "failed", "planned"])
                self.nudges.append({"kind": "band-change", "slot": slot, "due": self.text(due),
                                    "until": self.text(due + self.between(20, 120) * MINUTE), "outcome": outcome})
            if not self.chance(answers):
                continue
            at = due + self.between(1, 200) * MINUTE
            if self.chance(wears):
                self.report(at, slot, what="on", fresh=self.chance(0.8))
            elif self.chance(0.5):
                self.report(at, slot, what="off", since=self.text(at - self.between(1, 700) * MINUTE))
            elif self.chance(0.8):
                self.report(at, slot, what="off")
            else:
                self.flag(at, slot)

    def report(self, at, slot=None, **rest):
        entry = {"at": self.text(at)} | rest
        if slot and self.chance(0.9):
            entry["slot"] = slot
        if rest["what"] == "on" and self.chance(0.1):
            del entry["fresh"]
        self.reports.append(entry)

    def flag(self, at, slot=None):
        urgent = ["allergy", "broken", "out-of-bands", "swelling", "ulcer", "fever", "jaw"]
        what = self.random.choice(["question"] * 6 + ["other"] * 6 + ["running-low"] + (urgent if not self.calm else []))
        closed = at + self.between(1, 4000) * MINUTE if self.chance(0.9) else None
        self.flags.append({"at": self.text(at), "slot": slot, "what": what,
                           "level": self.random.choice(["red", "yellow"]) if what == "allergy" else None,
                           "closed": closed and self.text(closed)})

    def others(self, day, totals, wears):
        at = self.moment(day)
        if self.chance(totals):
            hours = self.random.choice([24, 22, 18, 10, 7.5, 0])
            if self.teller:
                hours = round(self.levels[day >= self.turn] + self.random.uniform(-1, 1), 1)
            elif self.chance(0.7):
                hours = min(24, round(24 * wears * self.random.uniform(0.7, 1), 1))
            self.report(max(at, self.zone.end(day)) + self.between(0, 900) * MINUTE, what="worn-total", day=day.isoformat(),
                        hours=hours)
        if self.chance(0.08):
            begin = at - self.between(1, 2400 if self.chance(0.3) else 400) * MINUTE
            end = begin + self.between(0, (at - begin) // MINUTE) * MINUTE
            if self.chance(0.1):
                end = at + self.between(0, 600) * MINUTE
            self.report(at, what="off-span", **{"from": self.text(begin), "to": self.text(end)})
        if self.chance(0.03):
            self.report(at, what="off", since=self.text(at - self.between(600, 4000) * MINUTE))
        if self.teller and self.chance(0.3):
            self.report(at, what="soreness", value=self.random.choice([1, 2, 3] if self.chance(0.95) else [4, 5]))
        elif self.chance(0.15 if wears > 0.5 else 0.4):
            sore = [] if self.calm and self.chance(0.97) else [4, 5, 6, 8]
            self.report(at, what="soreness", value=self.random.choice([0, 1, 1, 2, 2, 3, 3] + sore))
        if self.chance(0.02):
            self.flag(at)
        if self.chance(0.1):  # of another kind: neither counted nor a silence
            self.nudges.append({"kind": "soreness", "slot": f"s{self.between(1, 7)}", "due": self.text(at),
                                "until": self.text(at + HOUR), "outcome": "accepted"})

    def visits(self):
        if self.chance(0.35):
            return []
        out = []
        falling = self.chance(0.5)
        start = {m: self.random.uniform(1, 5) for m in MEASURES}
        for i, day in enumerate(sorted(self.near(15, 5) for _ in range(self.between(1, 4)))):
            visit = {"date": day.isoformat()}
            for measure in MEASURES:
                if self.chance(0.6):
                    mm = self.random.uniform(-0.5, 4)
                    if falling:
                        mm = start[measure] - 0.6 * i + self.random.uniform(-0.3, 0.3)
                    visit[measure + "_mm"] = round(mm, 1)
            if self.chance(0.3):
                visit["sd_mm"] = self.random.choice([0.5, 1.0])
            if len(visit) > 1:
                out.append(visit)
        return out

    def settings(self):
        ranges = {"carry_min": [0, 300, 840, 1440], "ramp_min": [0, 120, 240], "grace_min": [0, 30, 60, 120],
                  "prior_wear": [0.2, 0.7, 0.9], "prior_answer": [0.5, 0.8], "rate_mm_per_100h": [0.0523, 0.2, 0.5],
                  "rate_sd": [0.01, 0.03, 0.1], "measure_sd_mm": [0.3, 0.5, 1.0], "tolerance_mm": [0.25, 0.5, 1.0]}
        return {k: self.random.choice(v) for k, v in ranges.items() if self.chance(0.4)}


# --- comparing ---------------------------------------------------------------

RANK_SLACK = 0.02  # of the draws: four standard errors of two medians of 20,000


def differences(mine, theirs, path=""):
    """Lines naming each key that differs; numbers may differ by their rounding."""
    if isinstance(mine, dict) and isinstance(theirs, dict):
        for key in sorted(mine.keys() | theirs.keys()):
            if key not in mine or key not in theirs:
                yield f"{path}.{key}: only {'here' if key in mine else 'in the program'}"
            else:
                yield from differences(mine[key], theirs[key], f"{path}.{key}")
    elif isinstance(mine, list) and isinstance(theirs, list) and len(mine) == len(theirs):
        for i, (a, b) in enumerate(zip(mine, theirs)):
            yield from differences(a, b, f"{path}[{i}]")
    elif isinstance(mine, (int, float)) and isinstance(theirs, (int, float)) and not isinstance(mine, bool):
        near = 0.0101 if path.startswith(".days[") else 1.1e-6
        if isinstance(theirs, bool) or abs(mine - theirs) > near:
            yield f"{path}: here {mine}, program {theirs}"
    elif mine != theirs:
        yield f"{path}: here {json.dumps(mine)}, program {json.dumps(theirs)}"


def rank_fault(draws, rank, today, told):
    """Why the program's date cannot be that point of the draws, or None."""
    if draws is None:
        return None if told is None else f"here null, program {told}"
    left = NEVER if told is None else (date.fromisoformat(told) - today).days
    low, high = bisect.bisect_left(draws, left) / DRAWS, bisect.bisect_right(draws, left) / DRAWS
    if low - RANK_SLACK <= rank <= high + RANK_SLACK:
        return None
    return f"program {told} is at {low:.3f}..{high:.3f} of the draws, not {rank}"


def compare(raw, theirs, number):
    mine, draws = figures(raw, random.Random(number), theirs["forecast"])
    record, told = draws.record, theirs["forecast"]
    if bool(mine["why"]) != bool(theirs["why"]):
        yield f".why: here {mine['why']}, program {theirs['why']}"
    mine["why"] = theirs["why"]
    ours = mine["forecast"]
    wanted = [(m, draws.measures.get(m), told["measures"].get(m)) for m in ours["measures"]]
    wanted.append(("finish", draws.finish, told["finish"]))
    for name, drawn, points in wanted:
        for point, rank in (("median", 0.5), ("early", 0.1), ("late", 0.9)):
            fault = points and rank_fault(drawn, rank, record.today, points[point])
            if fault:
                yield f".forecast.{name}.{point}: {fault}"
    fault = rank_fault(draws.prescribed, 0.5, record.today, told["as_prescribed"]["median"])
    if fault:
        yield f".forecast.as_prescribed.median: {fault}"
    # The dates have been judged; what follows from them is judged on the program's dates.
    for m in ours["measures"]:
        ours["measures"][m] |= {k: v for k, v in told["measures"].get(m, {}).items() if k != "wrong_way"}
    ours["finish"] = told["finish"]
    ours |= lag(record, told["finish"]["median"])
    prescribed = told["as_prescribed"]["median"]
    ours["as_prescribed"] = {"median": prescribed, **lag(record, prescribed)}
    yield from differences(mine, theirs)


def run(program, text):
    done = subprocess.run([program, "figures", "--record", "-", "--json"], input=text, capture_output=True,
                          text=True, timeout=60, check=False)
    return done.returncode, done.stdout, done.stderr


def compare_many(options):
    bad = refused = 0
    kinds = {}
    for number in range(options.first, options.first + options.count):
        raw = Maker(number).record()
        code, out, err = run(options.program, json.dumps(raw))
        if code != 0:
            refused += 1
            print(f"record {number}: refused: {err.strip()}")
            continue
        theirs = json.loads(out)
        kinds[theirs["standing"]] = kinds.get(theirs["standing"], 0) + 1
        found = list(compare(raw, theirs, number))
        if found:
            bad += 1
            print(f"record {number}: {len(found)} differences", flush=True)
            for line in found[:options.lines]:
                print(f"  {line}")
            if options.keep:
                (options.keep / f"{number}.json").write_text(json.dumps(raw))
    print(f"{options.count} records, {refused} refused, {bad} with differences; standings: {kinds}")
    return 1 if bad or refused else 0


def main():
    parser = argparse.ArgumentParser(description="A second opinion on the figures.")
    verbs = parser.add_subparsers(dest="verb", required=True)
    verbs.add_parser("show", help="print the figures of one record").add_argument("record")
    verbs.add_parser("make", help="print a random record").add_argument("number", type=int)
    many = verbs.add_parser("compare", help="run both over random records")
    many.add_argument("program")
    many.add_argument("--count", type=int, default=2000)
    many.add_argument("--first", type=int, default=1)
    many.add_argument("--lines", type=int, default=6, help="differences printed of one record")
    many.add_argument("--keep", type=pathlib.Path, help="directory for the records that differ")
    options = parser.parse_args()
    if options.verb == "compare":
        return compare_many(options)
    if options.verb == "make":
        print(json.dumps(Maker(options.number).record(), indent=1))
        return 0
    text = sys.stdin.read() if options.record == "-" else pathlib.Path(options.record).read_text()
    print(json.dumps(figures(json.loads(text))[0], indent=1))
    return 0


if __name__ == "__main__":
    sys.exit(main())
