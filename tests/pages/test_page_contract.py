"""Each template uses exactly the fields of its page, and each page is sound HTML."""

import re
from collections.abc import Sequence
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from typing import Any

import pytest
from jinja2 import meta, nodes
from markupsafe import Markup

from analysis.parameters import Parameter, Status
from analysis.records import Field, Kind
from analysis.results import Listing, Range, RoomWeek
from dashboards import render
from dashboards.charts import strips, style
from dashboards.charts.week import room_glance, week_chart, week_chart_narrow
from dashboards.file_lines import (
    ColumnLine,
    ConflictLine,
    FileInHand,
    FilePreview,
    FileQuestion,
    LoggerChoice,
    ProblemLine,
    Receipt,
    SensorLine,
    TokenLine,
    UploadLine,
)
from dashboards.forms import form as forms
from dashboards.lines import (
    Choice,
    DayChoice,
    DoseLine,
    Finding,
    FormField,
    FoundLine,
    GuideLine,
    IncidentLine,
    InfluenceLine,
    LimitGroup,
    LimitLine,
    NoticedWork,
    NoticeLine,
    PersonTold,
    ReasonLine,
    ReasonStep,
    ReferenceLine,
    RoomSummary,
    RoundLine,
    SheetBlock,
    StatisticLine,
    Table,
)
from dashboards.look_lines import InspectionLine, LearnedLine
from dashboards.pages import account_pages, page as pages, register_pages
from dashboards.pages.account_pages import ACCOUNT_PAGES
from dashboards.pages.classes_page import ClassesPage
from dashboards.pages.day_page import NoWeekPage
from dashboards.pages.first_hour import FirstHour, FirstStep
from dashboards.pages.journey_page import JourneyLine, JourneyPage
from dashboards.pages.long_list import leaf
from dashboards.pages.measure_page import MeasureLine, MeasurePage
from dashboards.pages.page import PAGES, ErrorPage, RoomWeekPage
from dashboards.pages.plan_pages import hanging_job_page
from dashboards.pages.record_facts import Fact
from dashboards.pages.register_pages import (
    REGISTER_PAGES,
    ChangeLine,
    Entry,
    ParameterGroup,
    ParameterLine,
    RecordPart,
    RoomLine,
    SheetRow,
    StatedLine,
    WorkLine,
)
from dashboards.pages.report_page import ReportPage, ReportPart
from dashboards.pages.round_walk import RoundPart, SavedLook, by_room, part_of_round
from dashboards.pages.search_page import SearchPage
from dashboards.pages.statement_pages import StatementLine, StatementPage, StatementsPage
from dashboards.pages.work_pages import WhyPage, WorkPage
from dashboards.render import Letter, letter_subject
from dashboards.text import sentences
from dashboards.text.first_hour_text import first_answer, step_words
from dashboards.text.judgement_text import reason

APART = (
    NoWeekPage,
    SearchPage,
    WhyPage,
    MeasurePage,
    ClassesPage,
    WorkPage,
    StatementsPage,
    StatementPage,
    ReportPage,
    JourneyPage,
)  # pages with a module of their own
VOID = {"meta", "link", "br", "img", "input", "hr"}
NEVER_SAID = ("damage", "alarm", "critical", "compliance score")
ZONE = "Europe/Amsterdam"
START = datetime(2026, 3, 15, 23, tzinfo=UTC)
END = START + timedelta(days=7)


def round_lines(week: RoomWeek) -> list[RoundLine]:
    """Return lines of the round, in the order of the works."""
    return [
        RoundLine(
            judgement, "north", "North gallery", place=f"wall {n % 4 + 1}",
            last_grade=None if n == 9 else n % 3, last_seen_utc=START - timedelta(days=9 + n),
        )
        for n, judgement in enumerate(week.judgements)
    ]  # fmt: skip


def notice(week: RoomWeek, **changes: Any) -> NoticeLine:
    """Return an invented notice about the wet opening night."""
    facts: dict[str, Any] = {
        "notice_id": "N-0007",
        "kind": "humidity rising",
        "room_id": "north",
        "room_name": "North gallery",
        "what": "Room air rose 14 %RH in 3 h, probably moist air or water coming in.",
        "since_utc": START + timedelta(hours=40, minutes=10),
        "sensor": "Logger north wall, picture height",
        "confirmed_by": "the logger by the door",
        "works": [
            NoticedWork(j.work_id, j.title, j.listing, j.state, reason(j, ZONE))
            for j in week.judgements[:3]
        ],
        "felt": "Behind glazing it was at most about 4 %RH.",
        "lead": "If the room stays as it is, waves may show in about 2 days.",
        "do_now": ["Look for water and open doors.", "Do not touch the frames or the plant."],
        "on_call": "Collections care, extension 214",
    }
    return NoticeLine(**(facts | changes))


def all_of(lists: dict[Listing, list[RoundLine]], rooms: list[Choice]) -> RoundPart:
    return part_of_round(by_room(lists, rooms), 0, str, str)


def a_part_of(lists: dict[Listing, list[RoundLine]], rooms: list[Choice]) -> RoundPart:
    found = all_of(lists, rooms)
    first = [Choice("/round?room=north", "North (2)"), Choice("", "not hung (1)")]
    return replace(found, leaf=leaf(500, 100, "/round?after={}".format, 100), first=first)


def every_page(week: RoomWeek) -> list[Any]:
    """Return one filled page of each kind, and of some kinds a second, emptier one."""
    lines = round_lines(week)
    wide = style.inline_svg(week_chart(week, words=False), "the week")
    narrow = style.inline_svg(week_chart_narrow(week, words=False), "the week")
    glance = style.inline_svg(room_glance(week), "the week at a glance")
    judgements = [line.judgement for line in lines]
    lists = {which: [x for x in lines if x.judgement.listing == which] for which in Listing}
    counts = {which: len(lists[which]) for which in Listing}
    said = sentences.round_sentence(judgements, ZONE)
    summary = RoomSummary(
        "north",
        "North gallery",
        sentences.week_sentence(week),
        counts,
        week.coverage,
        glance,
        1,
        strips=strips.strip_lines(week),
        event=week.events[0],
    )
    rooms = [Choice("north", "North gallery", True), Choice("east", "East gallery")]
    loggers = [LoggerChoice("N1", "North gallery", "as last time", True), LoggerChoice("E2", "")]
    return [
        pages.ThisWeek(ZONE, "2026-W12", "2026-W11", None,
                       sentences.week_answer(judgements, ZONE, [summary]), [summary], lines[:3],
                       lines[3:6], [notice(week)], strips.page_key()),
        pages.ThisWeek(ZONE, "2026-W12", "2026-W11", None, said,
                       [replace(summary, more=3),
                        replace(summary, room_id="r2", in_short=True, readings="Old.")],
                       lines[:3], lines[3:6], [], strips.page_key(), more_first=70, more_watch=1),
        pages.ThisWeek(ZONE, "2026-W12", None, None, "No prints hang here.", [], [], [], [], []),
        pages.ThisWeek(ZONE, "2026-W12", None, None, first_answer(0), [], [], [], [], [],
                       begin=FirstHour([FirstStep(said, "/house", False) for said in step_words()],
                                       forms.RecordForm("/house", [], "Write it down"))),
        pages.RoomWeekPage(week, sentences.week_sentence(week), wide, narrow,
                           strips.strip_lines(week), strips.page_key(),
                           sentences.week_finding(week), "2026-W11", None),
        *work_pages(week),
        *half_time_pages(week),
        *pages_of_the_register(week),
        *why_pages(week),
        *measure_pages(),
        *classes_pages(),
        pages.RoundPage(ZONE, START, "north", rooms, said, all_of(lists, rooms)),
        pages.RoundPage(ZONE, START, "", rooms, said, a_part_of(lists, rooms)),
        pages.RoundPage(ZONE, START, "", rooms, said, all_of(lists, rooms),
                        last=SavedLook("Quay, 1 (faint)", "/undo", "W02", "Pier, North gallery")),
        pages.LookTwice(ZONE, "Quay", "/works/W02/inspections", InspectionLine("i", START, 1, "A."),
                        2, [("by", "A."), ("grade", "2")]),
        pages.BringIn(ZONE, 200, loggers, [UploadLine(START, "north.csv", "N1", "stored", 672, 7,
                      True)], [("ab12", "east.csv")]),
        pages.BringInFiles("ab12", ZONE, "Were these files understood?", "Four files.",
                           files_in_hand(rooms, loggers), True, False, "j1"),
        pages.Gateways(ZONE, "stt_x", [TokenLine(1, "N1", 60, START, None, "A. Person", False),
                       TokenLine(2, "N1", 60, START, END, "A. Person", True)], loggers, True,
                       "http://127.0.0.1:8000/api/readings"),
        pages.Gateways(ZONE, "", [TokenLine(3, "", 60, START, None, "A. Person", False, "report",
                       "look")], loggers, False, "http://127.0.0.1:8000/api/readings"),
        *account_pages_filled(),
        pages.TakeBack(7, "north.csv", "48 readings would go.", [("N1", "48 would go")], False),
        pages.NoticesPage(ZONE, sentences.notices_answer([notice(week)]), [notice(week)],
                          [notice(week, ended_utc=END, seen_by="A. Person")]),
        pages.IncidentsPage(
            ZONE, "One is open.", [IncidentLine(1, "North Gallery", "rose", END, END, "Look.")]
        ),
        pages.IncidentPage(
            1,
            "North Gallery",
            "Humidity rose; it goes on.",
            "Opened by A.",
            "3",
            [("true", "Is the reading true?", "A second instrument.", "yes")],
            ["engineer (A., 3 June)"],
            [],
            [DoseLine("W-1", "Slipway", "up to 60 %RH at the print.", ["0, flat"])],
            [("known", "known")],
        ),
        pages.PeopleTold(
            "M. Keeper is told at once.",
            [PersonTold(1, "M. Keeper", "Told at once.", "01 234 56", "k@m.invalid")],
            "Nobody is written to.",
            [("humidity", "humidity")],
            [("north", "North Gallery")],
            forms.RecordForm("/notices/people/limits", [], "Keep these limits"),
            "Nobody has set these yet.",
        ),
        pages.NoticePage(ZONE, notice(week)),
        pages.NoticePage(ZONE, notice(week, ended_utc=END, works=[], seen_by="A.", seen_utc=END)),
        *air_pages(rooms),
        NoWeekPage("Is it?", "There are none.", DayChoice("/", "2025-01-20", "2026-03-22"), "/",
                   "/"),
        SearchPage("2 things hold “fog”.", "fog", [FoundLine("work", "Fog", "W1", "/works/W1")],
                   [notice(week)]),
        StatementsPage("One statement issued.", [StatementLine(1, "North kept", "Statement 1.")]),
        StatementPage(1, "Climate statement 1", "North kept to the terms", "Met.", [("Room", "N")],
                      Table(["Rule"], [["Humidity"]]), ["3 May"], ["Was “a”, is “b”."], 2,
                      "issued 3 May"),
        ReportPage("What did May bring?", "No excursion.", ["One look."], [("Facilities", "Look.")],
                   [ReportPart("trend", "Against last year", ["North."], Table(["Room"], [["N"]]),
                               "By time."), ReportPart("done", "Done", [])],
                   [Choice("/report?for=director", "for the director", True)],
                   [Choice("/report?from=a", "May", True)], "2026-05-01", "2026-05-31", "director",
                   "/report.pdf", ["A conservator decides."], "/report?for=director"),
        JourneyPage("W1", "Fog", "It has been away once.",
                    [JourneyLine("2 May to 3 June", "Never.", glance, "Air.", Table(["a"], [["b"]]),
                                 ["Packed."], [Choice("/works/W1/journey/crate", "Correct")], "/p"),
                     JourneyLine("1 April", "Never.", None, "", Table(["a"], []), [], [], "/q")],
                    ["A conservator decides."]),
        pages.SourcesPage({"frames": [Parameter("fibre_base.beta_cd", 1.2e-4, 8e-5, 2e-4, "1/%",
                          "KEY2001", "table 2", Status.ASSUMED, "no one has measured it")]},
                          [ReferenceLine("KEY2001", "Author", "Title", "2001", "where", "read")]),
        pages.GuidesPage([GuideLine("how", "How it works", "From room air to an answer.")]),
        pages.GuidePage("How it works", render.guide_html("# How it works\n\nOne *line*."), "en"),
        pages.PlanIndexPage([Choice("W01", "Salt pans, evening")], rooms),
        pages.PlanPage("At what RH should it be mounted?", "At 46–50 %RH it stays taut longest.",
                       [FormField("rh", "Mounting RH", "48", "%RH")], glance, "What it shows.",
                       ["Drier mounting costs summer."], Table(["RH", "Months"], [["48", "2"]],
                       figures=(0, 1)), ["The grain is not known."]),
        hanging_job_page("It is being worked out: room 3 of 60.", [], "", waits=True),
        hanging_job_page("This takes some minutes.", [], "/plan/hang", waits=False),
        pages.MountSheetPage(week.works["W02"], None,
                             [SheetBlock("Panel", ["Cut it."], [("Size", "x")])], ["Ventilate."]),
        pages.ErrorPage(422, "This file could not be read", "north.csv", "line 7", "'abc'",
                        "a number", "Correct the line and bring the file in again."),
    ]  # fmt: skip


def work_pages(week: RoomWeek) -> list[WorkPage]:
    """Return pages of a slack work and of one about which nothing can be told."""
    seen = InspectionLine("7", START, 2, "A. Person", 3.5, "lower left", "left", "since Tuesday")
    learned = LearnedLine("half-time of the frame", "h", Range(8, 14, 26), Range(11, 15, 20))
    known, unknown = week.judgements[1], week.judgements[9]
    return [
        WorkPage(ZONE, week.works[known.work_id], "north", "North gallery", known, None, None,
                       [replace(seen, photograph="ab12")], [learned], "Noted: grade 2.",
                       answered="It was seen flat; the estimate had said 81 %.",
                       last_answer="The last answer from readings is of 1 March.",
                       taught=["Nobody recorded the humidity at mounting."], key=strips.page_key(),
                       life=["Framed anew on 12 March 2026."]),
        WorkPage(ZONE, week.works[unknown.work_id], "", "", unknown, None, None, [], []),
    ]  # fmt: skip


def classes_pages() -> list[ClassesPage]:
    """Return the page of what works teach each other: something, nothing, switched off."""
    lent = Table(("Number", "Usual"), [("Half-time", "18 h")])
    return [
        ClassesPage("One range, version 1.", lent, ["Only what was measured."], True, "Renewed."),
        ClassesPage("Nothing yet.", None, ["Only what was measured."], True),
        ClassesPage("Nothing: it is switched off.", None, ["Only what was measured."], False),
    ]


def measure_pages() -> list[MeasurePage]:
    """Return the page of what to measure next, with acts to fold away and with none."""
    act = MeasureLine("Look at it", "Slipway (North)", "/works/1", "0.31", "3 to 10 min", "0.93")
    return [
        MeasurePage("Look at it: Slipway.", [act], [act, act], ["Never open a frame."]),
        MeasurePage("Nothing that could be measured would settle anything.", [], [], ["None."]),
    ]


def account_pages_filled() -> list[Any]:
    """Return the pages of accounts."""
    keeper = account_pages.AccountLine("a.person", "A. Person", "keep", "a@b.example", True, True,
                                       True)  # fmt: skip
    other = account_pages.AccountLine("b", "B.", "look", "", False, False, False)
    change = account_pages.AuditedChange(START, "Room (room=north): name N → North.", "A. Person",
                                         "a.person", "/rooms/north/record/room")  # fmt: skip
    return [
        account_pages.SignInPage("/round", "", "", "You are signed out."),
        account_pages.SignInPage("/", "a.person", "Found nothing that belongs together.", ""),
        account_pages.WelcomePage("x", "a.person", 12, "The two are not the same."),
        account_pages.WelcomePage("x", "", 12, ""),
        account_pages.AccountPage("", "", 8, False, "", "", [], 12, "", ""),
        account_pages.AccountPage("a", "sees the pages", 8, False, "AB", "otpauth://a", [], 12,
                                  "No.", "Done."),
        account_pages.AccountPage("a", "sees the pages", 1, True, "", "", ["ab-cd"], 12, "", ""),
        account_pages.AccountsPage("Two.", [keeper, other], "B.", "https://x/welcome/y", 24, "No.",
                                   False),
        account_pages.AccountsPage("None.", [], "", "", 24, "", True),
        account_pages.ChangesPage(ZONE, "Who changed what?", "One.", [change], "/changes?before=1",
                                  [("The work", "/works/1")], ["/a.csv", "/a.xlsx"]),
    ]  # fmt: skip


def why_pages(week: RoomWeek) -> list[WhyPage]:
    """Return a page with one told and one withheld step, and one of an hour before the record."""
    bars = [
        InfluenceLine("stretch at mounting", "the larger, the less (rank correlation −0.8)", -0.8),
        InfluenceLine(
            "direction of the grain", "it acts both ways (30 % of the spread)", 0.5, True
        ),
    ]
    told = ReasonLine("Relative humidity", "46 %RH (44–48)", "It was measured.", "What decides…",
                      "With the stretch at 1 or more: 3 %RH.", "inspections", bars)  # fmt: skip
    steps = [
        ReasonStep("room", [told], [ReasonLine("Temperature", "20 °C", "", "All agree.", "")]),
        ReasonStep("frame", [ReasonLine("Relative humidity", "not told", "", "", "")], []),
    ]
    work, ways = week.works["W02"], [Choice("/works/W02/why?at=2026-03-15T23:00", "← day")]
    account = Table(["Since mounting", "Across"], [["Stretch at mounting", "+0.4"]], figures=(1,))
    return [
        WhyPage(ZONE, work, START, "2026-03-16T00:00", "The room is at 46 %RH.", "", None, "",
                ways, ways, steps, "Only about 12 draws count.",
                "Relaxation took most.", account),
        WhyPage(ZONE, work, START, "2026-03-16T00:00", "Nothing can be told.", "Wait.", None, "",
                [], ways, [], "", "", None),
    ]  # fmt: skip


def pages_of_the_register(week: RoomWeek) -> list[Any]:
    """Return the pages on which works and rooms are written down."""
    known = week.judgements[1]
    every_kind = [
        Field(name="title", label="Title", example="Quay", needed=True),
        Field(
            name="spacer_mm",
            label="Spacer",
            kind=Kind.NUMBER,
            unit="mm",
            example="12",
            may_be_range=True,
            without="a guess is made",
        ),
        Field(
            name="paper",
            label="Paper",
            kind=Kind.CHOICE,
            choices=(("a", "b"),),
            may_be_unknown=True,
        ),
        Field(name="note", label="Note", kind=Kind.NOTE),
        Field(name="from_utc", label="From", kind=Kind.WHEN),
        forms.YOUR_NAME,
    ]
    sent = {
        "title": "<i>",
        "spacer_mm": "deep",
        "from_utc": "2026-03-12",
        "from_utc_clock": "10:30",
    }
    wrong = {"spacer_mm": "Found 'deep'; expected a number, 0 or more.", "from_utc": "Too early."}
    groups = [
        forms.FieldGroup("", forms.filled(every_kind, sent, wrong)),
        forms.FieldGroup("Strip 2", forms.filled(every_kind[:1], {}), folded=True),
    ]
    form = forms.RecordForm("/works/new", groups, "Write it down", {"was_a": "b"}, "As a whole.",
                            [("do", "save", "Keep it")])  # fmt: skip
    facts = [Fact("Spacer", "12 mm"), Fact("RH at mounting", "not known", False, "it is a guess")]
    part = RecordPart("Its frame", [Entry("Closed Monday", facts, "/a", "/b")], "", "/c", "Add")
    stated = [
        StatedLine("Half-time", "20 (15–26) h", "a logger", START, withdraw="/w"),
        StatedLine("Half-time", "2 h", "a guess", None, "mistyped", START),
    ]
    changes = [ChangeLine(START, "A. Person", "The print: title a → b.")]
    numbers = [
        ParameterLine("half_time_h", "Half-time", "18 (4–72) h", "DERIVED", "a place", "20 h")
    ]
    lines = [
        WorkLine(known.work_id, known.title, "north", "North", known),
        WorkLine("W9", "x", words="y"),
    ]
    return [
        register_pages.WorksPage("Two works.", "quay", lines,
                                 [RoomLine("north", "North", "a", False)]),
        register_pages.WorksPage("None yet.", "", [], [], "Written down."),
        register_pages.WorksPage("1000 works.", "", lines, [],
                                 part=leaf(1000, 50, "/works?after={}".format)),
        register_pages.FormPage("Which frame?", "Since when.", form, ["Mind."], ["0.09"], "/",
                                "Back"),
        register_pages.WorkRecordPage(ZONE, "W1", "Quay", facts[1:], facts,
                                      [part, RecordPart("x", [], "none")], stated, changes,
                                      "Done."),
        register_pages.WorkRecordPage(ZONE, "W1", "Quay", [], facts, [], [], []),
        register_pages.MeasuredPage(ZONE, "W1", "Quay", [ParameterGroup("The frame", numbers)],
                                    stated, "/half-time"),
        register_pages.HousePage("Planned?", "Nothing.", [part],
                                 [("calendar", "As a table:")], "/calendar", "Done."),
        register_pages.WorksImportPage("A sheet.", [], [], [], "", ["Title"]),
        register_pages.WorksImportPage("One.", [SheetRow(2, "1", "x", "left out", "bad")],
                                       ["Title: Title"], ["Owner"], "[[]]", ["Title"]),
        register_pages.RoomRecordPage(ZONE, "north", "North", facts, [part], False, changes),
        register_pages.RoomRecordPage(ZONE, "north", "North", facts, [part], True, [], "Done."),
    ]  # fmt: skip


def half_time_pages(week: RoomWeek) -> list[pages.HalfTimePage]:
    """Return pages of a frame that was fitted and is in use, and of one nobody has measured."""
    work, glance = week.works["W02"], style.inline_svg(room_glance(week), "the frame")
    rows = Table(["Half-time", "Low", "Typical", "High"], [["Usual", "4 h", "18 h", "3 days"]])
    return [
        pages.HalfTimePage(ZONE, work, "Half of the way in about 21 h.", "logger f1", glance,
                           "The last 14 days.", Markup("<svg></svg>"), "Least near 21 h.",
                           ["Left over."], rows, START, [], "In use since Monday: 21 h.", True, [],
                           "Written down."),
        pages.HalfTimePage(ZONE, work, "Nobody has measured it.", "", None, "", None, "", [], rows,
                           None, ["No logger has been in this frame."], "", False, ["Wait."]),
    ]  # fmt: skip


def files_in_hand(rooms: Sequence[Choice], loggers: Sequence[LoggerChoice]) -> list[FileInHand]:
    """Return a file in each state: understood, asked about, in hand, stored."""
    columns = [
        ColumnLine("Time", "time", "time", None, 0, None, None),
        ColumnLine("Feuchte", "relative humidity, %", "humidity", 668, 4, 39.1, 61.0,
                   [Choice("rh_pct|%", "relative humidity, %", True), Choice("", "not used")],
                   "rh_pct|%"),
    ]  # fmt: skip
    rows = Table(["Time", "Feuchte"], [["16.03.26 00:00", "45,2"]], marks=["time", "humidity"])
    sensors = [SensorLine("A", 672, [Choice("", "a logger of its own", True)])]
    problem = ProblemLine(31, "Feuchte", "'---'", "a number", True)
    preview = FilePreview(672, 7, None, [("Clock", "UTC")], [("Delimiter", "semicolon")],
                          ["21 readings in doubt."], ["N2 has the same."], sensors, [problem],
                          "Read as last time.")  # fmt: skip
    shown = FileInHand("j1", "north.csv", "ab" * 32, "preview", columns=columns, first_rows=rows,
                       stated={"zone": "UTC"}, loggers=loggers, rooms=rooms,
                       zones=[Choice("UTC", "UTC", True)], suggested="Its name.", earlier=True,
                       preview=preview)  # fmt: skip
    question = FileQuestion("headings", "two temperatures", "which one", "Or save it anew.",
                            [Choice("{}", "the first"), Choice("{1}", "the second")])  # fmt: skip
    receipt = Receipt("north.csv", "ab" * 32, "N1", "north", "North gallery", 680, 644, 28, 1, 7,
                      21, START, END, upload=7, received_utc=START,
                      conflicts_listed=[ConflictLine(START, "N1", "rh_pct", 45.0, 47.0)],
                      )  # fmt: skip
    return [
        shown,
        replace(
            shown,
            job_id="j2",
            preview=None,
            question=question,
            state="failed",
            problem=[("Found", "x")],
        ),
        FileInHand("j3", "east.csv", "ab" * 32, "running", "reading the file"),
        FileInHand("j4", "north.csv", "ab" * 32, "done", receipt=receipt),
        FileInHand(
            "j5", "again.csv", "ab" * 32, "done", receipt=replace(receipt, already_stored=True)
        ),
        FileInHand("j6", "letter.txt", "ab" * 32, "dropped"),
    ]


def air_pages(rooms: Sequence[Choice]) -> list[Any]:
    """Return the pages of limits and of a room's air."""
    inside = LimitLine("north", "North gallery", "Class A1", "2019", "provisional, 90 days",
                       "Inside for 96 % of the time.", "24-h range", True, "KEY2001")  # fmt: skip
    outside = LimitLine("north", "North gallery", "Loan terms", "", "outside",
                        "Outside for 31 h.", "hourly means", False)  # fmt: skip
    figure = StatisticLine("Median", "46 %RH", "hourly means", "97 %")
    finding = Finding("Could mould grow?", ["Mould index: highest 0.2."], "97 % measured.",
                      "Mould: protect people first.")  # fmt: skip
    more = [LimitGroup("Storage", [outside]), LimitGroup("Loans", [inside, outside])]
    return [
        pages.LimitsPage(ZONE, START, END, "One room keeps within its limits.", [inside, outside]),
        pages.AirPage(ZONE, "north", "North gallery", rooms, START, END, "Mostly steady.",
                      [figure], None, "", None, "", [finding], [inside, outside], more),
    ]  # fmt: skip


@pytest.fixture(scope="module")
def filled_pages(week: RoomWeek) -> list[Any]:
    return every_page(week)


def names_used(template: str) -> set[str]:
    """Return the names a template and all it extends or imports take from outside."""
    environment = render.environment()
    source = environment.loader.get_source(environment, template)[0]  # type: ignore[union-attr]
    tree = environment.parse(source)
    used = meta.find_undeclared_variables(tree)
    for node in tree.find_all((nodes.Extends, nodes.Import, nodes.Include)):
        used |= names_used(node.template.value)  # type: ignore[attr-defined]
    own = {node.target for node in tree.find_all(nodes.Import)}
    own |= {node.name for node in tree.find_all(nodes.Macro)}
    return used - own - set(environment.globals) - {"section"}


@pytest.mark.parametrize(
    "page", [*PAGES, *REGISTER_PAGES, *ACCOUNT_PAGES, *APART], ids=lambda page: page.__name__
)
def test_a_template_uses_exactly_the_fields_of_its_page(page: Any) -> None:
    # the status is that of the answer; no reader is shown a number for it
    unseen = {"status"} if page is pages.ErrorPage else set()
    assert names_used(page.template) | unseen == {f.name for f in fields(page)}


@pytest.mark.parametrize("ending", ["txt", "html"])
def test_a_letter_uses_exactly_its_fields(ending: str) -> None:
    assert names_used(f"{Letter.template}.{ending}") == {f.name for f in fields(Letter)}


@pytest.mark.parametrize(
    "page", [*PAGES, *REGISTER_PAGES, *APART, Letter], ids=lambda page: page.__name__
)
def test_every_field_says_what_it_is(page: Any) -> None:
    assert page.__doc__
    unsaid = [f.name for f in fields(page) if len(f.metadata.get("help", "")) < 10]
    assert unsaid == []


def test_every_page_is_filled_by_these_tests(filled_pages: list[Any]) -> None:
    assert {type(page) for page in filled_pages} == {
        *PAGES,
        *REGISTER_PAGES,
        *ACCOUNT_PAGES,
        *APART,
    }


class Outline(HTMLParser):
    """What is checked of a page: nesting, ids, headings, states, fields."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[tuple[str, dict[str, str | None]]] = []
        self.ids: list[str] = []
        self.tags: list[str] = []
        self.bare_fields: list[str] = []
        self.states: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.tags.append(tag)
        if found.get("id"):
            self.ids.append(str(found["id"]))
        if tag in {"input", "select"} and found.get("type") != "hidden":
            labelled = "aria-label" in found or any(name == "label" for name, _ in self.open)
            if not labelled:
                self.bare_fields.append(str(found))
        if "state" in str(found.get("class", "")).split():
            self.states.append("")
        if tag not in VOID:
            self.open.append((tag, found))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open and self.open[-1][0] == tag, f"</{tag}> closes {self.open[-3:]}"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        if any(found.get("class") == "word" for _, found in self.open):
            self.states[-1] += data


def outline(html: str) -> Outline:
    """Return what is checked of a page, after it was read to its end."""
    read = Outline()
    read.feed(html)
    read.close()
    assert read.open == []
    return read


def test_every_page_is_sound_html(filled_pages: list[Any]) -> None:
    for page in filled_pages:
        read = outline(render.page_html(page))
        name = type(page).__name__
        assert read.tags.count("h1") == 1, name
        assert len(read.ids) == len(set(read.ids)), name
        assert read.bare_fields == [], name
        assert all(word.strip() for word in read.states), name


def test_every_page_carries_the_caution_and_claims_nothing(filled_pages: list[Any]) -> None:
    for page in filled_pages:
        html = render.page_html(page)
        assert "a conservator decides" in html
        text = re.sub(r"<[^>]+>", " ", html).lower()
        assert [word for word in NEVER_SAID if word in text] == [], type(page).__name__


def test_a_heading_is_the_question_on_the_pages_of_the_round(filled_pages: list[Any]) -> None:
    asked = {type(p).__name__: re.findall(r"<h1>(.*?)</h1>", render.page_html(p))[0]
             for p in filled_pages}  # fmt: skip
    for name in (
        "ThisWeek",
        "RoomWeekPage",
        "WorkPage",
        "RoundPage",
        "NoticesPage",
        "PlanPage",
        "WhyPage",
        "MeasurePage",
        "ClassesPage",
    ):
        assert asked[name].endswith("?"), name


def test_ink_is_never_alone(filled_pages: list[Any]) -> None:
    for page in filled_pages:
        html = render.page_html(page)
        inked = len(re.findall(r'class="[^"]*\bink-', html))
        assert inked == len(re.findall(r'class="state ink-\w+"><svg class="mark"', html))


def test_what_people_typed_stays_text(week: RoomWeek, filled_pages: list[Any]) -> None:
    page = next(p for p in filled_pages if isinstance(p, RoomWeekPage))
    bad = replace(page, week=replace(week, room_name="<script>alert(1)</script>"))
    html = render.page_html(bad)
    assert "<script>alert" not in html
    assert "&lt;script&gt;alert" in html


def test_a_number_and_its_unit_do_not_part(filled_pages: list[Any]) -> None:
    page = next(p for p in filled_pages if isinstance(p, RoomWeekPage))
    assert "14\N{NO-BREAK SPACE}%RH in 3.2\N{NO-BREAK SPACE}h" in render.page_html(page)


def test_an_error_shows_its_five_parts() -> None:
    page = ErrorPage(422, "Not read", "north.csv", "line 7", "'abc'", "a number", "Correct it.")
    html = render.page_html(page)
    for part in ("north.csv", "line 7", "&#39;abc&#39;", "a number", "Correct it."):
        assert part in html


def test_a_letter_says_what_where_in_which_order_and_whom_to_call(filled_pages: list[Any]) -> None:
    notice = next(p.notice for p in filled_pages if type(p).__name__ == "NoticePage")
    letter = Letter("Europe/Amsterdam", notice, "http://museum.example/notices/7")
    text = render.letter_text(letter)
    order = [text.index(words) for words in (
        "North gallery", "rose 14 %RH", "Tuesday 17 March 2026, 16:10", "What to do now",
        "extension 214", "1. Salt pans", "2. Quay", "museum.example",
        "conservator decides")]  # fmt: skip
    assert order == sorted(order)
    assert letter_subject(letter) == "North gallery: humidity rising, since Tuesday 16:10"
    assert outline(render.letter_html(letter)).tags.count("h1") == 1
    assert not [word for word in NEVER_SAID if word in text.lower()]


def test_an_ended_letter_asks_for_nothing(filled_pages: list[Any]) -> None:
    notice = next(p.notice for p in filled_pages if type(p).__name__ == "NoticePage")
    ended = Letter("UTC", replace(notice, ended_utc=notice.since_utc), "")
    text = render.letter_text(ended)
    assert "What to do now" not in text
    assert "over" in letter_subject(ended)


def test_a_guide_shows_raw_html_as_text() -> None:
    html = render.guide_html("# Title\n\n<script>x</script>\n\n| a | b |\n|---|---|\n| 1 | 2 |\n")
    assert "<script>" not in html
    assert '<td data-label="a">1</td>' in html


def test_cells_of_a_guides_tables_carry_their_headings() -> None:
    one = "| *lag*, h | why |\n|---|---|\n| 1 | a |\n| 2 | b |\n"
    html = render.guide_html(f"{one}\nText.\n\n{one.replace('why', 'where')}")
    assert html.count('<td data-label="lag, h">') == 4
    assert html.count('<td data-label="why">') == html.count('<td data-label="where">') == 2
    assert html.count('<table class="stack">') == 2
