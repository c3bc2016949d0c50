"""When daily mail goes out in every zone, computed by Python's own zoneinfo.

    zones.py release              the release of the zone data, such as 2026f
    zones.py                      lines for every zone, as below
    zones.py ZONE TIME QUIET      the same for one of them, one send a line

It shares no code with the program under test, and reads the zone data of the pinned package `tzdata` and
not those of the machine. A time of day stands for an instant as PEP 495 says for fold=0: where clocks go
back, the first of the two; where they skip it, the offset before the change counts, so that it is as far
after the gap's beginning as was asked.

Three kinds of lines are printed:

    same|NAME|OTHER               NAME has the same data as OTHER, for which the lines below stand
    daily|NAME|TIME|QUIET|RUNS    one send for each date from 2020-01-01 up to 2039-12-31
    stages|NAME|OTHER|RUNS        before events of a club in the zone NAME, to somebody in the zone OTHER

Events begin on the 1st and 15th of each month; 28, 14, 7 and 2 days before, as soon as that day begins in
the club's zone, the next daily send at 07:30 (quiet 21:00 to 07:00) is sought. RUNS is the first send in
seconds since 1970 and then STEPxCOUNT: how long after the one before it each next one is.
"""

import bisect
import concurrent.futures
import datetime
import importlib.resources
import itertools
import sys
import zoneinfo

import tzdata

FIRST = datetime.date(2020, 1, 1)
DAYS = (datetime.date(2040, 1, 1) - FIRST).days
TIMES = ["07:30", "02:30", "01:30"]
QUIETS = ["21:00-07:00", "00:00-03:00"]
STAGES = [28, 14, 7, 2]


def clock(text):
    return datetime.time.fromisoformat(text)


def is_quiet(time, begin, end):
    return begin <= time < end if begin <= end else time >= begin or time < end


class Zone:
    """A zone, and the instants in it that were asked for once."""

    def __init__(self, name):
        self.zone = zoneinfo.ZoneInfo(name)
        self.instants = {}
        self.locals = {}

    def instant(self, day, time):
        return int(datetime.datetime.combine(day, time, tzinfo=self.zone).timestamp())

    def daily(self, time):
        """The instant of each day, the first day's first; a few more than are asked for."""
        if time not in self.instants:
            days = (FIRST + datetime.timedelta(days=number) for number in range(DAYS + 3))
            self.instants[time] = [self.instant(day, time) for day in days]
        return self.instants[time]

    def daily_locals(self, time):
        """What clocks show at these instants: in a gap another time than was asked for."""
        if time not in self.locals:
            at = datetime.datetime.fromtimestamp
            self.locals[time] = [at(moment, self.zone) for moment in self.daily(time)]
        return self.locals[time]

    def rested(self, moment, local, begin, end):
        """The first moment from this one on outside of the quiet hours."""
        if not is_quiet(local.time(), begin, end):
            return moment
        ends = self.daily(end)
        number = local.toordinal() - FIRST.toordinal()
        while ends[number] <= moment:
            number += 1
        return ends[number]

    def sends(self, time, quiet):
        time, (begin, end) = clock(time), map(clock, quiet.split("-"))
        both = zip(self.daily(time)[:DAYS], self.daily_locals(time))
        return [self.rested(moment, local, begin, end) for moment, local in both]


def runs(moments):
    steps = (after - before for before, after in itertools.pairwise(moments))
    lengths = (f"{step}x{sum(1 for _ in same)}" for step, same in itertools.groupby(steps))
    return " ".join([str(moments[0]), *lengths])


def event_days():
    """The days on which events begin, so that their stages lie within the years of the daily sends."""
    for year, month in itertools.product(range(FIRST.year, FIRST.year + 20), range(1, 13)):
        if (year, month) > (FIRST.year, 1):
            yield from (datetime.date(year, month, day) for day in (1, 15))


def stages(club, recipient):
    moments = recipient.daily(clock("07:30"))
    rested = recipient.sends("07:30", QUIETS[0])
    for day, stage in itertools.product(event_days(), STAGES):
        told = day - datetime.timedelta(days=stage)
        begin = club.instant(told, datetime.time(0))
        yield rested[bisect.bisect_right(moments, begin)]


def lines_of(name, other):
    zone = Zone(name)
    for time, quiet in itertools.product(TIMES, QUIETS):
        yield f"daily|{name}|{time}|{quiet}|{runs(zone.sends(time, quiet))}"
    for recipient in (zone, Zone(other)):
        yield f"stages|{name}|{recipient.zone.key}|{runs(list(stages(zone, recipient)))}"


def printed(pair):
    return "\n".join(lines_of(*pair))


def by_data():
    """The zones by their data; the first name of each kind stands for all."""
    data = importlib.resources.files(tzdata) / "zoneinfo"
    found = {}
    for name in sorted(zoneinfo.available_timezones()):
        found.setdefault(data.joinpath(name).read_bytes(), []).append(name)
    return list(found.values())


def no_machines_zones():
    zoneinfo.reset_tzpath(())


def main():
    no_machines_zones()
    if sys.argv[1:] == ["release"]:
        print(tzdata.IANA_VERSION)
    elif len(sys.argv) == 4:
        name, time, quiet = sys.argv[1:]
        print("\n".join(map(str, Zone(name).sends(time, quiet))))
    elif len(sys.argv) == 1:
        kinds = by_data()
        firsts = [names[0] for names in kinds]
        for first, *others in kinds:
            print("\n".join(f"same|{name}|{first}" for name in [first, *others]))
        # The other zone is one far down the list.
        pairs = zip(firsts, firsts[len(firsts) // 2 :] + firsts)
        with concurrent.futures.ProcessPoolExecutor(initializer=no_machines_zones) as pool:
            for lines in pool.map(printed, pairs, chunksize=8):
                print(lines)
    else:
        sys.exit(__doc__)


if __name__ == "__main__":
    main()
