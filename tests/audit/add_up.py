"""Adds a darkroom's book up from its CSV files alone and holds every dated paper against it.

    python3 tests/audit/add_up.py FOLDER...

Each folder is one that `shimlight export --into FOLDER` wrote. Nothing of the program is used: only the
columns of silver-book.csv, disposal-log.csv, year-statement.csv and chemistry.csv as the README tells
them. What is proved, for volume and for each of the three silver figures:

- as written: no vessel is ever below zero; every reversal mirrors one earlier entry, once;
- as it happened (the minute of happened_at, then the number; what was taken back and what took it back
  fall out): no vessel is ever below zero, nothing happens to a batch before it is mixed, nothing to a
  container after its removal;
- the statement of every year and kind, every column;
- the disposal log: every entry of waste, once, oldest first, with the figures of the book;
- every discharge, from whatever vessel, with its authority.

Ends with 1 and names the first differences when there are any.
"""

import csv
import datetime
import pathlib
import sys
from collections import defaultdict
from decimal import Decimal

FIGURES = ("volume_ul", "silver_ug", "silver_low_ug", "silver_high_ug")
SOURCES = ("mixed", "water", "paper", "opening")
SINKS = ("wash", "recovered", "removed", "discharged", "written off")
COLUMNS = ("start", "generated", "from_other_kinds", "removed", "recovered", "discharged", "written_off", "end")
# what a bath is when it is waste
AS_WASTE = {
    "developer": "developer",
    "stop bath": "stop bath",
    "fixer": "spent fixer",
    "washing aid": "spent fixer",
    "bleach": "bleach",
}


def rows(folder, name):
    with open(folder / name, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def thousandths(text):
    return int(Decimal(text or "0") * 1000)


class Entry:
    def __init__(self, row):
        self.number = int(row["entry"])
        at = datetime.datetime.fromisoformat(row["happened_at"])
        self.minute = int(at.timestamp()) // 60
        self.year = at.year
        self.kind = row["kind"]
        self.source = self.account(row["from"], row["from_id"])
        self.sink = self.account(row["to"], row["to_id"])
        self.reverses = int(row["reverses"]) if row["reverses"] else None
        self.amount = tuple(int(row[figure]) for figure in FIGURES)
        self.recorded_at = datetime.datetime.fromisoformat(row["recorded_at"])
        self.act = int(row["act"])

    @staticmethod
    def account(word, number):
        return (word, int(number)) if word in ("batch", "container") else (word, None)

    def vessels(self):
        return {account for account in (self.source, self.sink) if account[1] is not None}

    def effect(self, vessel):
        sign = (self.sink == vessel) - (self.source == vessel)
        return tuple(sign * figure for figure in self.amount)


def plus(one, other):
    return tuple(a + b for a, b in zip(one, other))


NOTHING = (0, 0, 0, 0)


class Audit:
    def __init__(self, folder):
        self.folder = folder
        self.differences = []
        self.entries = [Entry(row) for row in rows(folder, "silver-book.csv")]
        self.by_number = {entry.number: entry for entry in self.entries}
        taken_back = {entry.reverses for entry in self.entries if entry.reverses}
        standing = [entry for entry in self.entries if not entry.reverses and entry.number not in taken_back]
        self.in_time = sorted(standing, key=lambda entry: (entry.minute, entry.number))
        self.log = rows(folder, "disposal-log.csv")
        self.statement = rows(folder, "year-statement.csv")
        self.of_batch = {int(row["batch"]): AS_WASTE[row["kind"]] for row in rows(folder, "chemistry.csv")}
        self.of_container = {}
        for row in self.log:
            for end in ("from", "to"):
                if row[end] == "container":
                    # where it went decides what the row calls its contents
                    if end == "to" or row["to"] != "container":
                        self.of_container[int(row[end + "_id"])] = row["contents"]

    def differs(self, what):
        self.differences.append(f"{self.folder}: {what}")

    def as_written(self):
        holds, back, last = defaultdict(lambda: NOTHING), set(), 0
        total = defaultdict(lambda: NOTHING)
        for entry in self.entries:
            if entry.number <= last:
                self.differs(f"entry {entry.number} does not follow entry {last}")
            last = entry.number
            if entry.reverses:
                original = self.by_number.get(entry.reverses)
                mirror = original and (original.source, original.sink, original.amount) == (
                    entry.sink,
                    entry.source,
                    entry.amount,
                )
                if not mirror or entry.reverses in back or original.number > entry.number:
                    self.differs(f"entry {entry.number} is not the mirror of entry {entry.reverses}, once")
                back.add(entry.reverses)
            for vessel in entry.vessels():
                holds[vessel] = plus(holds[vessel], entry.effect(vessel))
                if min(holds[vessel]) < 0:
                    self.differs(f"as written, entry {entry.number} leaves {vessel} with {holds[vessel]}")
            for account, sign in ((entry.source, -1), (entry.sink, 1)):
                word = "stores" if account[1] is not None else "sources" if account[0] in SOURCES else "sinks"
                total[word] = plus(total[word], tuple(sign * figure for figure in entry.amount))
        if plus(plus(total["sources"], total["stores"]), total["sinks"]) != NOTHING:
            self.differs(f"the sides do not agree: {dict(total)}")

    def as_it_happened(self):
        holds, mixed, removed = defaultdict(lambda: NOTHING), set(), {}
        for entry in self.in_time:
            for vessel in entry.vessels():
                holds[vessel] = plus(holds[vessel], entry.effect(vessel))
                if min(holds[vessel]) < 0:
                    self.differs(f"as it happened, entry {entry.number} leaves {vessel} with {holds[vessel]}")
                if entry.kind == "mixing":
                    mixed.add(vessel)
                elif vessel[0] == "batch" and vessel not in mixed:
                    self.differs(f"entry {entry.number} happened to {vessel} before it was mixed")
                if removed.get(vessel, entry.act) != entry.act:
                    self.differs(f"entry {entry.number} happened to {vessel} after it was removed")
                if entry.kind == "removal":
                    removed[vessel] = entry.act
        for vessel in removed:
            if holds[vessel] != NOTHING:
                self.differs(f"{vessel} was removed and holds {holds[vessel]}")
        return holds

    def kind(self, account):
        return self.of_container.get(account[1]) if account[0] == "container" else None

    def worked_out(self, year):
        """The lines of a year: kind -> column -> figures."""
        lines = defaultdict(lambda: defaultdict(lambda: NOTHING))

        def add(kind, column, amount, sign=1):
            lines[kind][column] = plus(lines[kind][column], tuple(sign * figure for figure in amount))

        for entry in self.in_time:
            if entry.year > year:
                continue
            source, sink = self.kind(entry.source), self.kind(entry.sink)
            for here, there, end, sign in ((sink, source, entry.source, 1), (source, sink, entry.sink, -1)):
                if here is None:
                    continue
                add(here, "end", entry.amount, sign)
                if entry.year < year:
                    add(here, "start", entry.amount, sign)
                elif there == here:
                    pass
                elif there is not None:
                    add(here, "from_other_kinds", entry.amount, sign)
                elif end[0] in ("removed", "recovered", "discharged", "written off"):
                    add(here, end[0].replace(" ", "_"), entry.amount, -sign)
                else:
                    add(here, "generated", entry.amount, sign)
            if entry.source[0] == "batch" and entry.sink[0] == "discharged" and entry.year == year:
                for column in ("generated", "discharged"):
                    add(self.of_batch[entry.source[1]], column, entry.amount)
        return lines

    def washed(self, year):
        in_year = [entry for entry in self.in_time if entry.year == year]
        went = sum(entry.amount[1] for entry in in_year if entry.sink[0] == "wash")
        return went - sum(entry.amount[1] for entry in in_year if entry.source[0] == "wash")

    def statements(self):
        said = {(int(row["year"]), row["contents"]): row for row in self.statement}
        waste = [e for e in self.in_time if self.is_waste(e)]
        years = range(min(e.year for e in waste), max(e.year for e in waste) + 1) if waste else []
        years = sorted(set(years) | {year for year, _ in said})
        checked = 0
        for year in years:
            lines = self.worked_out(year)
            total = defaultdict(lambda: NOTHING)
            for line in lines.values():
                for column, amount in line.items():
                    total[column] = plus(total[column], amount)
            lines = {**lines, "all": total}
            for kind in set(lines) | {kind for at, kind in said if at == year}:
                line, row = lines.get(kind, {}), said.get((year, kind))
                if row is None:
                    if any(amount != NOTHING for amount in line.values()):
                        self.differs(f"the statement of {year} has no line of {kind}: {dict(line)}")
                    continue
                for column in COLUMNS:
                    volume, silver, *bounds = line.get(column, NOTHING)
                    if thousandths(row[f"{column}_ml"]) != volume:
                        self.differs(f"{year}, {kind}, {column}: {row[column + '_ml']} mL printed, {volume} µL")
                    if thousandths(row[f"{column}_silver_mg"]) != silver:
                        printed = row[column + "_silver_mg"]
                        self.differs(f"{year}, {kind}, {column}: {printed} mg printed, {silver} µg")
                    checked += 2
                end = line.get("end", NOTHING)[1:]
                if thousandths(row["end_silver_low_mg"]) != min(end) or thousandths(row["end_silver_high_mg"]) != max(end):
                    self.differs(f"{year}, {kind}: the range at the end is not {min(end)} to {max(end)} µg")
                if kind == "all" and thousandths(row["washed_silver_mg"]) != self.washed(year):
                    self.differs(f"{year}: {row['washed_silver_mg']} mg printed for the wash, {self.washed(year)} µg")
        return checked

    @staticmethod
    def is_waste(entry):
        accounts = (entry.source, entry.sink)
        return any(account[0] in ("container", "discharged") for account in accounts)

    def disposal_log(self):
        expected = {entry.number for entry in self.entries if self.is_waste(entry)}
        listed = [int(row["entry"]) for row in self.log]
        if sorted(listed) != sorted(expected):
            self.differs(f"the log has {len(listed)} entries of {len(expected)}: {set(listed) ^ expected}")
        taken_back = {entry.reverses: entry.number for entry in self.entries if entry.reverses}
        last = None
        for row in self.log:
            entry = self.by_number[int(row["entry"])]
            original = self.by_number[entry.reverses] if entry.reverses else entry
            place = (original.minute, original.number, entry.number)
            if last is not None and place < last:
                self.differs(f"the log is not oldest first at entry {entry.number}")
            last = place
            if (row["reverses"] or None) != (str(entry.reverses) if entry.reverses else None):
                self.differs(f"the log does not say what entry {entry.number} takes back")
            if (row["taken_back_by"] or None) != (str(taken_back[entry.number]) if entry.number in taken_back else None):
                self.differs(f"the log does not say what took entry {entry.number} back")
            if thousandths(row["volume_ml"]) != entry.amount[0] or (
                row["silver_mg"] and thousandths(row["silver_mg"]) != entry.amount[1]
            ):
                self.differs(f"the log does not have the figures of entry {entry.number}")
            if entry.kind == "discharge" and not row["reference"]:
                self.differs(f"the discharge of entry {entry.number} names no authority")
        return len(listed)

    def discharges(self):
        """What was let go, from whatever vessel: the book against the log and the statement."""
        by_year = defaultdict(int)
        for entry in self.in_time:
            if entry.sink[0] == "discharged":
                by_year[entry.year] += entry.amount[0]
        logged, printed = defaultdict(int), defaultdict(int)
        for row in self.log:
            if row["event"] == "discharge" and not row["taken_back_by"]:
                logged[int(row["happened_at"][:4])] += thousandths(row["volume_ml"])
        for row in self.statement:
            if row["contents"] == "all":
                printed[int(row["year"])] += thousandths(row["discharged_ml"])
        for year in set(by_year) | set(logged) | set(printed):
            if not by_year[year] == logged[year] == printed[year]:
                self.differs(f"discharged in {year}: {by_year[year]}, {logged[year]} logged, {printed[year]} printed")
        return sum(1 for entry in self.in_time if entry.sink[0] == "discharged")

    def run(self):
        self.as_written()
        self.as_it_happened()
        figures, logged, discharges = self.statements(), self.disposal_log(), self.discharges()
        return len(self.entries), figures, logged, discharges


def main(folders):
    sums, differences = [0, 0, 0, 0], []
    for folder in folders:
        audit = Audit(pathlib.Path(folder))
        sums = [a + b for a, b in zip(sums, audit.run())]
        differences += audit.differences
    entries, figures, logged, discharges = sums
    print(
        f"audit: {len(folders)} books, {entries} entries, {figures} figures of statements, {logged} lines of logs, "
        f"{discharges} discharges: {len(differences)} differences"
    )
    for difference in differences[:20]:
        print(f"  {difference}", file=sys.stderr)
    return 1 if differences or not folders or not entries else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
