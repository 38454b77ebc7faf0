//! What the evening's record says about a criterion: a suggestion with its evidence. The marker
//! accepts it or gives something else and says why.

use std::fmt::Write as _;

use super::points::Points;

/// What of the record a criterion is judged by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Source {
    /// Own figures that were right within two tries.
    OwnFigures,
    /// The hole: within tolerance of its target, and round as staff saw it.
    Hole,
    /// An exposure within half a stop, or each nearer than the last.
    Exposure,
    /// Every sheet written down and judged.
    SheetsEntered,
    /// Every sheet and print that went through the trays entered there.
    ChemistryEntered,
    /// Took part in the clean-up as staff saw it.
    CleanUp,
    /// The report handed in by its time.
    ReportOnTime,
}

impl Source {
    /// All, in the order of the evening.
    pub const ALL: [Self; 7] = [
        Self::OwnFigures,
        Self::Hole,
        Self::Exposure,
        Self::SheetsEntered,
        Self::ChemistryEntered,
        Self::CleanUp,
        Self::ReportOnTime,
    ];

    /// The stored word.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::OwnFigures => "own figures",
            Self::Hole => "hole",
            Self::Exposure => "exposure",
            Self::SheetsEntered => "sheets entered",
            Self::ChemistryEntered => "chemistry entered",
            Self::CleanUp => "clean-up",
            Self::ReportOnTime => "report on time",
        }
    }

    /// What it looks at, for people who choose it.
    pub fn words(self) -> &'static str {
        match self {
            Self::OwnFigures => "own figures right within two tries",
            Self::Hole => "hole within tolerance of its target, and round as checked by staff",
            Self::Exposure => "an exposure within half a stop, or each nearer than the last",
            Self::SheetsEntered => "every sheet written down and judged",
            Self::ChemistryEntered => "every sheet and print entered at the trays",
            Self::CleanUp => "took part in the clean-up, as witnessed by staff",
            Self::ReportOnTime => "report handed in on time",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|source| source.as_str() == word)
    }
}

/// How far a hole may lie from its target and still be as good, as a share of the target; the
/// instructor sets it criterion by criterion, from 1 % to 50 %.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HoleTolerance(i64);

impl HoleTolerance {
    /// What may be set, per cent.
    pub const PERCENT: std::ops::RangeInclusive<f64> = 1.0..=50.0;

    /// From thousandths of the target, as stored.
    pub const fn from_milli(milli: i64) -> Self {
        Self(milli)
    }

    /// From per cent of the target, to a tenth.
    pub fn from_percent(percent: f64) -> Self {
        Self((percent * 10.0).round() as i64)
    }

    /// Thousandths of the target.
    pub const fn as_milli(self) -> i64 {
        self.0
    }

    /// Per cent of the target.
    pub fn as_percent(self) -> f64 {
        self.0 as f64 / 10.0
    }
}

impl Default for HoleTolerance {
    /// A tenth: the sharpness curve is flat there. Common practice, no source.
    fn default() -> Self {
        Self(100)
    }
}

/// A sheet within so many thousandths of a stop is exposed as meant.
pub const CLOSE_MILLI: i64 = 500;
/// Suggested points are whole quarters.
const QUARTER_MILLI: i64 = 250;

/// A hole as recorded, and what staff saw of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HoleSeen {
    /// Its diameter, millimetres.
    pub diameter_mm: f64,
    /// The target of this camera by the session's formula, millimetres.
    pub target_mm: f64,
    /// Whether staff found it round; `None` when nobody looked.
    pub round: Option<bool>,
}

/// A report as far as its time goes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Handed {
    /// Not handed in.
    #[default]
    No,
    /// Handed in by its time, or no time was set.
    InTime,
    /// Handed in after its time.
    Late,
}

/// What the record of one student's session holds. Of shared cameras the sheets count for both.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Record {
    /// Whether anything at all in this session is this student's work: a sheet, a print, an own
    /// figure tried, a camera taken or a hole measured in its time, a report begun, the clean-up.
    pub worked: bool,
    /// Whether a camera is registered.
    pub camera: bool,
    /// Whether its sheets go through the trays.
    pub uses_trays: bool,
    /// How many own figures were asked of this student.
    pub figures_asked: usize,
    /// How many of them were right.
    pub figures_right: usize,
    /// How many were answered at all.
    pub figures_tried: usize,
    /// The hole.
    pub hole: Option<HoleSeen>,
    /// How far off each judged sheet was, thousandths of a stop, in the order they were made.
    pub results_milli: Vec<i64>,
    /// Sheets exposed.
    pub sheets: usize,
    /// Of those, judged.
    pub judged: usize,
    /// Sheets and prints that belong through the trays.
    pub through_trays: usize,
    /// Of those, entered at the trays.
    pub entered: usize,
    /// Whether staff saw them take part in the clean-up; `None` when nothing was noted.
    pub cleaned_up: Option<bool>,
    /// The report.
    pub report: Handed,
    /// Whether a time was set for the report.
    pub report_due: bool,
    /// Whether the session is over, so that what is missing is missing.
    pub over: bool,
}

/// What is suggested.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Says {
    /// So many points.
    Points(Points),
    /// It does not apply to this student's work: it drops out, and what the marks are out of shrinks.
    LeavesOut,
    /// The record does not tell yet.
    NotYet,
}

/// What is suggested, and why. The evidence names nobody.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Suggestion {
    /// What.
    pub says: Says,
    /// Why: one sentence.
    pub evidence: String,
}

/// A share of the most points, to the nearest quarter point and never above it.
fn share(max: Points, part: usize, whole: usize) -> Says {
    let (part, whole) = (i64::try_from(part).unwrap_or(0), i64::try_from(whole).unwrap_or(1).max(1));
    let exact = max.as_milli() * part;
    let quarters = (2 * exact + whole * QUARTER_MILLI) / (2 * whole * QUARTER_MILLI);
    let nearest = if part >= whole { max.as_milli() } else { (quarters * QUARTER_MILLI).min(max.as_milli()) };
    Says::Points(Points::from_milli(nearest))
}

fn suggestion(says: Says, evidence: impl Into<String>) -> Suggestion {
    Suggestion { says, evidence: evidence.into() }
}

/// The evidence where there is none.
const NO_WORK: &str = "no work on record in this session";

/// What the record suggests for a criterion of at most `max` points; `within` is the tolerance of a
/// criterion judged by the hole. Of somebody without any work it suggests nothing: whether they
/// failed, were excused or were written down under another name is for a person to say.
pub fn suggest(source: Source, max: Points, within: HoleTolerance, record: &Record) -> Suggestion {
    if !record.worked {
        return suggestion(Says::NotYet, NO_WORK);
    }
    match source {
        Source::OwnFigures => own_figures(max, record),
        Source::Hole => hole(max, within, record),
        Source::Exposure => exposure(max, record),
        Source::SheetsEntered => sheets_entered(max, record),
        Source::ChemistryEntered => chemistry_entered(max, record),
        Source::CleanUp => clean_up(max, record),
        Source::ReportOnTime => report_on_time(max, record),
    }
}

fn own_figures(max: Points, record: &Record) -> Suggestion {
    let (right, asked, tried) = (record.figures_right, record.figures_asked, record.figures_tried);
    if asked == 0 {
        return suggestion(Says::LeavesOut, "no own figure was asked of this student");
    }
    let evidence = format!("{right} of {asked} own figures right within two tries; {tried} answered");
    if right < asked && !record.over {
        // what is still to be worked out tonight is not wrong yet
        suggestion(Says::NotYet, evidence)
    } else {
        suggestion(share(max, right, asked), evidence)
    }
}

fn hole(max: Points, tolerance: HoleTolerance, record: &Record) -> Suggestion {
    let Some(hole) = record.hole else {
        let says = if record.over { share(max, 0, 1) } else { Says::NotYet };
        return suggestion(says, "no hole was measured");
    };
    let off = hole.diameter_mm / hole.target_mm - 1.0;
    let within = off.abs() <= tolerance.as_percent() / 100.0;
    let measured = format!(
        "{:.3} mm against a target of {:.3} mm: {:+.0} %, {} {} %",
        hole.diameter_mm,
        hole.target_mm,
        // no minus before a nought
        (off * 100.0).round() + 0.0,
        if within { "within" } else { "more than" },
        tolerance.as_percent()
    );
    match hole.round {
        None => suggestion(Says::NotYet, format!("{measured}; staff has not looked whether it is round")),
        Some(round) => {
            let seen = if round { "round" } else { "not round" };
            let parts = usize::from(within) + usize::from(round);
            suggestion(share(max, parts, 2), format!("{measured}; {seen} as checked by staff"))
        }
    }
}

fn exposure(max: Points, record: &Record) -> Suggestion {
    let results = &record.results_milli;
    if results.is_empty() {
        return if record.camera && !record.uses_trays {
            suggestion(Says::LeavesOut, "film that is developed elsewhere: no sheet can be judged on the evening")
        } else if record.over {
            suggestion(share(max, 0, 1), "no sheet was judged in stops")
        } else {
            suggestion(Says::NotYet, "no sheet is judged in stops yet")
        };
    }
    let mut list = String::new();
    for (at, milli) in results.iter().enumerate() {
        let _ = write!(list, "{}{:+.1}", if at == 0 { "" } else { ", " }, *milli as f64 / 1000.0);
    }
    let best = results.iter().map(|milli| milli.abs()).min().unwrap_or(i64::MAX);
    if best <= CLOSE_MILLI {
        return suggestion(share(max, 1, 1), format!("off by {list} stops in turn: one within half a stop"));
    }
    let nearer = results.len() > 1 && results.windows(2).all(|pair| pair[1].abs() < pair[0].abs());
    if nearer {
        return suggestion(share(max, 1, 1), format!("off by {list} stops in turn: each nearer than the last"));
    }
    suggestion(share(max, 1, 2), format!("off by {list} stops in turn: none within half a stop, not each nearer"))
}

fn sheets_entered(max: Points, record: &Record) -> Suggestion {
    let (sheets, judged) = (record.sheets, record.judged);
    if sheets == 0 {
        let says = if record.over { share(max, 0, 1) } else { Says::NotYet };
        return suggestion(says, "no sheet is written down");
    }
    if record.camera && !record.uses_trays && judged < sheets {
        let evidence = format!("{sheets} frames written down; the film is developed elsewhere and need not be judged");
        return suggestion(share(max, 1, 1), evidence);
    }
    suggestion(share(max, judged, sheets), format!("{sheets} written down, {judged} of them judged"))
}

fn chemistry_entered(max: Points, record: &Record) -> Suggestion {
    if record.camera && !record.uses_trays {
        return suggestion(Says::LeavesOut, "film in a body cap never sees the trays");
    }
    let (due, entered) = (record.through_trays, record.entered);
    if due == 0 {
        let says = if record.over { share(max, 0, 1) } else { Says::NotYet };
        return suggestion(says, "no sheet or print is written down that could be entered at the trays");
    }
    suggestion(share(max, entered, due), format!("{entered} of {due} sheets and prints entered at the trays"))
}

fn clean_up(max: Points, record: &Record) -> Suggestion {
    match record.cleaned_up {
        Some(true) => suggestion(share(max, 1, 1), "took part, as witnessed by staff"),
        Some(false) => suggestion(share(max, 0, 1), "staff noted that they were not there"),
        None => suggestion(Says::NotYet, "staff has noted nothing"),
    }
}

fn report_on_time(max: Points, record: &Record) -> Suggestion {
    match (record.report, record.report_due) {
        (Handed::InTime, true) => suggestion(share(max, 1, 1), "handed in on time"),
        (Handed::InTime, false) => suggestion(share(max, 1, 1), "handed in; no time was set"),
        (Handed::Late, _) => suggestion(share(max, 1, 2), "handed in after its time"),
        (Handed::No, _) if record.over => suggestion(share(max, 0, 1), "not handed in"),
        (Handed::No, _) => suggestion(Says::NotYet, "not handed in yet"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const FOUR: Points = Points::from_milli(4_000);

    fn says(source: Source, record: &Record) -> (Says, String) {
        let found = suggest(source, FOUR, HoleTolerance::default(), record);
        (found.says, found.evidence)
    }

    /// Somebody who did something this evening.
    fn at_work() -> Record {
        Record { worked: true, ..Record::default() }
    }

    fn points(milli: i64) -> Says {
        Says::Points(Points::from_milli(milli))
    }

    #[test]
    fn a_hole_counts_half_for_its_size_and_half_for_its_roundness_as_staff_saw_it() {
        let mut record = Record { camera: true, uses_trays: true, ..at_work() };
        assert_eq!(says(Source::Hole, &record).0, Says::NotYet);
        record.hole = Some(HoleSeen { diameter_mm: 0.48, target_mm: 0.488, round: None });
        assert_eq!(says(Source::Hole, &record).0, Says::NotYet, "nobody has looked");
        record.hole = Some(HoleSeen { diameter_mm: 0.48, target_mm: 0.488, round: Some(true) });
        let (worth, evidence) = says(Source::Hole, &record);
        assert_eq!(worth, points(4_000));
        assert_eq!(evidence, "0.480 mm against a target of 0.488 mm: -2 %, within 10 %; round as checked by staff");
        record.hole = Some(HoleSeen { diameter_mm: 0.60, target_mm: 0.488, round: Some(true) });
        assert_eq!(says(Source::Hole, &record).0, points(2_000));
        record.hole = Some(HoleSeen { diameter_mm: 0.60, target_mm: 0.488, round: Some(false) });
        assert_eq!(says(Source::Hole, &record).0, points(0));
    }

    #[test]
    fn how_far_a_hole_may_lie_from_its_target_is_the_instructors_to_say() {
        let hole = HoleSeen { diameter_mm: 0.46, target_mm: 0.5, round: Some(true) };
        let record = Record { camera: true, hole: Some(hole), ..at_work() };
        let with = |percent| suggest(Source::Hole, FOUR, HoleTolerance::from_percent(percent), &record);
        assert_eq!(with(8.0).says, points(4_000));
        assert!(with(8.0).evidence.contains("-8 %, within 8 %"), "{}", with(8.0).evidence);
        assert_eq!(with(7.5).says, points(2_000));
        assert!(with(7.5).evidence.contains("more than 7.5 %"), "{}", with(7.5).evidence);
    }

    #[test]
    fn one_sheet_within_half_a_stop_is_enough_and_so_is_coming_nearer_each_time() {
        let with =
            |results: &[i64]| Record { camera: true, uses_trays: true, results_milli: results.to_vec(), ..at_work() };
        assert_eq!(says(Source::Exposure, &with(&[2_000, -500])).0, points(4_000));
        assert_eq!(says(Source::Exposure, &with(&[3_000, -2_000, 1_000])).0, points(4_000));
        assert_eq!(says(Source::Exposure, &with(&[1_000, 2_000])).0, points(2_000));
        assert_eq!(says(Source::Exposure, &with(&[2_000])).0, points(2_000), "one sheet is not nearer than another");
        assert_eq!(says(Source::Exposure, &with(&[])).0, Says::NotYet);
    }

    #[test]
    fn own_figures_still_to_be_worked_out_are_not_wrong_before_the_session_is_over() {
        let some = Record { figures_asked: 3, figures_right: 1, figures_tried: 2, ..at_work() };
        assert_eq!(says(Source::OwnFigures, &some).0, Says::NotYet);
        assert_eq!(
            says(Source::OwnFigures, &Record { over: true, ..some.clone() }).0,
            points(1_250),
            "a third, to a quarter"
        );
        assert_eq!(says(Source::OwnFigures, &Record { figures_right: 3, figures_tried: 3, ..some }).0, points(4_000));
    }

    #[test]
    fn film_in_a_body_cap_is_not_asked_about_trays() {
        let film = Record { camera: true, uses_trays: false, sheets: 4, over: true, ..at_work() };
        assert_eq!(says(Source::ChemistryEntered, &film).0, Says::LeavesOut);
        assert_eq!(says(Source::Exposure, &film).0, Says::LeavesOut);
        assert_eq!(says(Source::SheetsEntered, &film).0, points(4_000));
        let none = Record { over: true, ..at_work() };
        assert_eq!(says(Source::ChemistryEntered, &none).0, points(0), "no camera is no reason to leave it out");
    }

    #[test]
    fn what_is_missing_is_nothing_yet_until_the_session_is_over() {
        let during = at_work();
        let after = Record { over: true, ..at_work() };
        for source in [Source::Hole, Source::Exposure, Source::SheetsEntered, Source::ReportOnTime] {
            assert_eq!(says(source, &during).0, Says::NotYet, "{source:?}");
            assert_eq!(says(source, &after).0, points(0), "{source:?}");
        }
        assert_eq!(says(Source::CleanUp, &after).0, Says::NotYet, "only staff can tell");
        assert_eq!(says(Source::OwnFigures, &after).0, Says::LeavesOut, "none was asked");
    }

    #[test]
    fn of_somebody_without_any_work_the_record_suggests_nothing_not_even_noughts() {
        for over in [false, true] {
            let absent = Record { over, cleaned_up: Some(false), camera: true, uses_trays: true, ..Record::default() };
            for source in Source::ALL {
                assert_eq!(says(source, &absent), (Says::NotYet, NO_WORK.to_owned()), "{source:?}");
            }
        }
    }

    #[test]
    fn a_late_report_is_worth_half() {
        let late = Record { report: Handed::Late, report_due: true, over: true, ..at_work() };
        assert_eq!(says(Source::ReportOnTime, &late).0, points(2_000));
        assert_eq!(
            suggest(Source::ReportOnTime, Points::from_milli(750), HoleTolerance::default(), &late).says,
            points(500),
            "to a quarter"
        );
    }

    proptest! {
        #[test]
        fn a_suggestion_is_never_below_nothing_nor_above_the_most(
            max in 250_i64..1_000_000, asked in 0_usize..9, right in 0_usize..9, sheets in 0_usize..9, judged in 0_usize..9,
            results in proptest::collection::vec(-8_000_i64..8_000, 0..5), trays: bool, camera: bool, over: bool, worked: bool,
        ) {
            let record = Record {
                camera, uses_trays: trays, figures_asked: asked, figures_right: right.min(asked), figures_tried: asked,
                results_milli: results, sheets, judged: judged.min(sheets), through_trays: sheets, entered: judged.min(sheets),
                over, worked, ..Record::default()
            };
            for source in Source::ALL {
                let found = suggest(source, Points::from_milli(max), HoleTolerance::default(), &record);
                prop_assert!(!found.evidence.is_empty());
                if let Says::Points(points) = found.says {
                    prop_assert!((0..=max).contains(&points.as_milli()), "{source:?} {found:?} of {max}");
                }
            }
        }
    }
}
