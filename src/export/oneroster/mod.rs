//! A session's marks as a bundle in the open OneRoster 1.2 CSV form of 1EdTech: one zip of
//! `manifest.csv`, `categories.csv`, `lineItems.csv` and `results.csv`, in bulk mode.
//!
//! Source: 1EdTech OneRoster, CSV Binding 1.2.1 (final release, document version 5, 22 August 2023).
//! Its title, date and rules for bulk files (status and dateLastModified stay empty; every file is
//! declared in the manifest as bulk or absent; headers exact in case and order) were seen; the list
//! of the manifest's properties, the headers of the three data files and the words of scoreStatus
//! were seen second-hand in public implementations of it and agree with memory. Which of the empty
//! columns a receiving system insists on (academic session, school) is for the college to say: both
//! can be given when the bundle is made.

pub mod check;
mod zip;

use std::collections::{BTreeMap, HashMap};

use sha2::{Digest, Sha256};
use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::lab_session::LabSession,
        ids::{LabSessionId, StudentId},
        instant::Instant,
        marking::{
            mark::{MarkSheet, MarkState, Standing},
            report::{ReportState, is_late},
            rubric::Rubric,
        },
        measure::decimal,
    },
    store::{
        self,
        evening::lab_sessions,
        marking::{
            marks::{self, Marked},
            reports, rubrics,
        },
        people::students::{self, Identifiers},
    },
};

use super::cell::guard;

/// The version of the standard, as the manifest names it.
pub const VERSION: &str = "1.2";

/// Every file that a bundle may hold; ours are bulk, the others absent.
pub const FILES: [&str; 21] = [
    "academicSessions",
    "categories",
    "classes",
    "classResources",
    "courses",
    "courseResources",
    "demographics",
    "enrollments",
    "lineItemLearningObjectiveIds",
    "lineItems",
    "lineItemScoreScales",
    "orgs",
    "resources",
    "resultLearningObjectiveIds",
    "results",
    "resultScoreScales",
    "roles",
    "scoreScales",
    "userProfiles",
    "userResources",
    "users",
];

/// The header of categories.csv.
pub const CATEGORIES: [&str; 5] = ["sourcedId", "status", "dateLastModified", "title", "weight"];
/// The header of lineItems.csv.
pub const LINE_ITEMS: [&str; 13] = [
    "sourcedId",
    "status",
    "dateLastModified",
    "title",
    "description",
    "assignDate",
    "dueDate",
    "classSourcedId",
    "categorySourcedId",
    "academicSessionSourcedId",
    "resultValueMin",
    "resultValueMax",
    "schoolSourcedId",
];
/// The header of results.csv.
pub const RESULTS: [&str; 15] = [
    "sourcedId",
    "status",
    "dateLastModified",
    "lineItemSourcedId",
    "studentSourcedId",
    "scoreStatus",
    "score",
    "scoreDate",
    "comment",
    "textScore",
    "classSourcedId",
    "inProgress",
    "incomplete",
    "late",
    "missing",
];
/// The words of scoreStatus.
pub const SCORE_STATUS: [&str; 5] = ["exempt", "fully graded", "not submitted", "partially graded", "submitted"];

/// What the college says beside the roster: identifiers of its own, empty when not given.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Given {
    /// The academic session's sourcedId.
    pub academic_session: String,
    /// The school's sourcedId.
    pub school: String,
}

/// A bundle, and who could not be put into it.
pub struct Bundle {
    /// The files, in the order of the zip.
    pub files: Vec<(String, Vec<u8>)>,
    /// Roster numbers of those without a user or class identifier.
    pub left_out: Vec<String>,
}

impl Bundle {
    /// The zip.
    pub fn zipped(&self) -> Vec<u8> {
        zip::stored(&self.files)
    }
}

/// The bundle of a session; `None` when there is no such session.
///
/// # Errors
/// When the database cannot be used.
pub async fn bundle(
    conn: &mut SqliteConnection,
    session: LabSessionId,
    given: &Given,
) -> Result<Option<Bundle>, store::Error> {
    let Some(plan) = lab_sessions::find(conn, session).await? else { return Ok(None) };
    let rubric = match plan.rubric {
        Some(rubric) => rubrics::find(conn, rubric).await?,
        None => None,
    };
    let due = reports::find_due(conn, session).await?;
    let submitted = reports::list_of_session(conn, session).await?.into_iter();
    let submitted = submitted.filter_map(|report| match report.state {
        ReportState::Submitted { at } => Some((report.student, at)),
        ReportState::Draft => None,
    });
    let gathered = Gathered {
        rubric,
        students: marks::list_students(conn, session).await?,
        sheets: marks::list_sheets(conn, session).await?,
        identifiers: students::list_identifiers(conn, plan.section).await?,
        submitted: submitted.collect(),
        due,
        zone: super::zone_of(conn).await?,
        plan,
    };
    Ok(Some(gathered.bundle(given)))
}

struct Gathered {
    plan: LabSession,
    rubric: Option<Rubric>,
    students: Vec<Marked>,
    sheets: HashMap<StudentId, MarkSheet>,
    identifiers: HashMap<StudentId, Identifiers>,
    submitted: HashMap<StudentId, Instant>,
    due: Option<Instant>,
    zone: jiff::tz::TimeZone,
}

/// An identifier of our own, the same each time the bundle is made.
fn derived(parts: &[&str]) -> String {
    let digest = Sha256::digest(parts.join("|").as_bytes());
    let hex: String = digest.iter().take(16).map(|byte| format!("{byte:02x}")).collect();
    format!("{}-{}-{}-{}-{}", &hex[..8], &hex[8..12], &hex[12..16], &hex[16..20], &hex[20..])
}

fn csv_file<const N: usize>(header: [&str; N], rows: &[[String; N]]) -> Vec<u8> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    // writing into memory does not fail
    let _ = writer.write_record(header);
    for row in rows {
        let _ = writer.write_record(row);
    }
    writer.into_inner().unwrap_or_default()
}

impl Gathered {
    fn bundle(&self, given: &Given) -> Bundle {
        let session = self.plan.id.to_string();
        let category = derived(&["category", "lab work"]);
        let max = self.rubric.as_ref().map_or(0, |rubric| rubric.out_of().as_milli());
        let mut classes: BTreeMap<&str, String> = BTreeMap::new();
        let mut results = Vec::new();
        let mut left_out = Vec::new();
        for student in &self.students {
            let known = self.identifiers.get(&student.student).filter(|it| !it.user.is_empty() && !it.class.is_empty());
            let Some(known) = known else {
                left_out.push(student.roster_number.clone());
                continue;
            };
            let line_item =
                classes.entry(&known.class).or_insert_with(|| derived(&["line item", &session, &known.class]));
            results.push(self.result(student.student, known, line_item, max));
        }
        let held_on = self.plan.held_on.to_string();
        let due = self.due.map_or_else(|| held_on.clone(), |due| due.local(&self.zone).date().to_string());
        let line_items: Vec<[String; 13]> = classes
            .iter()
            .map(|(class, id)| {
                [
                    id.clone(),
                    String::new(),
                    String::new(),
                    guard(&self.plan.title),
                    guard(&one_line(&self.plan.report_task)),
                    held_on.clone(),
                    due.clone(),
                    (*class).to_owned(),
                    category.clone(),
                    given.academic_session.clone(),
                    "0".to_owned(),
                    decimal::written(max, 3),
                    given.school.clone(),
                ]
            })
            .collect();
        let blank = String::new();
        let categories = [[category, blank.clone(), blank.clone(), "Lab work".to_owned(), blank]];
        let manifest = manifest(&["categories", "lineItems", "results"]);
        let files = [
            ("manifest.csv", csv_file(["propertyName", "value"], &manifest)),
            ("categories.csv", csv_file(CATEGORIES, &categories)),
            ("lineItems.csv", csv_file(LINE_ITEMS, &line_items)),
            ("results.csv", csv_file(RESULTS, &results)),
        ];
        Bundle { files: files.map(|(name, bytes)| (name.to_owned(), bytes)).to_vec(), left_out }
    }

    fn result(&self, student: StudentId, known: &Identifiers, line_item: &str, max: i64) -> [String; 15] {
        let blank = MarkSheet::blank(student);
        let sheet = self.sheets.get(&student).unwrap_or(&blank);
        let progress = self.rubric.as_ref().map_or(MarkState::Unmarked, |rubric| sheet.progress(rubric));
        let submitted = self.submitted.get(&student).copied();
        let status = match (progress, submitted) {
            (MarkState::Excused, _) => "exempt",
            (MarkState::Whole | MarkState::GivenBack, _) => "fully graded",
            (MarkState::Part, _) => "partially graded",
            (MarkState::Unmarked, Some(_)) => "submitted",
            (MarkState::Unmarked, None) => "not submitted",
        };
        let score = self.rubric.as_ref().and_then(|rubric| score_of(sheet, rubric, max, progress));
        let date = sheet.marked_at().map_or(self.plan.held_on, |at| at.local(&self.zone).date());
        let late = sheet.standing == Standing::Late || submitted.is_some_and(|at| is_late(at, self.due));
        let missing = submitted.is_none() && progress == MarkState::Unmarked;
        let flag = |on: bool| if on { "true" } else { "false" }.to_owned();
        [
            derived(&["result", line_item, &known.user]),
            String::new(),
            String::new(),
            line_item.to_owned(),
            known.user.clone(),
            status.to_owned(),
            score.map_or_else(String::new, |milli| decimal::written(milli, 3)),
            date.to_string(),
            guard(&one_line(&sheet.comment)),
            String::new(),
            known.class.clone(),
            flag(false),
            flag(progress == MarkState::Part),
            flag(late),
            flag(missing),
        ]
    }
}

/// The score out of the line item's most: the total itself, or, where criteria were left out for
/// this student, the same share of the most, to two decimals.
fn score_of(sheet: &MarkSheet, rubric: &Rubric, max: i64, progress: MarkState) -> Option<i64> {
    let total = sheet.total(rubric)?.as_milli();
    let out_of = sheet.out_of(rubric).as_milli();
    match progress {
        MarkState::Whole | MarkState::GivenBack if out_of > 0 && out_of != max => {
            let exact = total as f64 / out_of as f64 * max as f64;
            Some(((exact / 10.0).round() * 10.0) as i64)
        }
        MarkState::Excused | MarkState::Unmarked => None,
        _ => Some(total),
    }
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn manifest(bulk: &[&str]) -> Vec<[String; 2]> {
    let versions = [["manifest.version", "1.0"], ["oneroster.version", VERSION]];
    let mut rows: Vec<[String; 2]> = versions.map(|row| row.map(str::to_owned)).to_vec();
    rows.extend(FILES.map(|file| {
        let value = if bulk.contains(&file) { "bulk" } else { "absent" };
        [format!("file.{file}"), value.to_owned()]
    }));
    rows.push(["source.systemName".to_owned(), "Shimlight".to_owned()]);
    rows.push(["source.systemCode".to_owned(), "shimlight".to_owned()]);
    rows
}
