//! `marks.csv`: a session's marks, one row a student. Criteria differ from session to session, so
//! each session has a file of its own.

use std::collections::HashMap;

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        ids::{LabSessionId, PersonId, StudentId},
        marking::{
            mark::{MarkSheet, Worth},
            points::Points,
            rubric::Rubric,
        },
    },
    store::{
        self,
        evening::lab_sessions,
        marking::{
            marks::{self, Marked},
            rubrics,
        },
        people::{names as people, sections},
    },
};

use super::{Cell, Table, zone_of};

/// The file of a session; `None` when there is no such session.
///
/// # Errors
/// When the database cannot be used.
pub async fn bytes(conn: &mut SqliteConnection, session: LabSessionId) -> Result<Option<Vec<u8>>, store::Error> {
    let Some(plan) = lab_sessions::find(conn, session).await? else { return Ok(None) };
    let section = sections::find(conn, plan.section).await?;
    let rubric = match plan.rubric {
        Some(rubric) => rubrics::find(conn, rubric).await?,
        None => None,
    };
    let marking = Marking {
        section: section.map_or_else(String::new, |section| section.name),
        session: plan.title,
        rubric,
        students: marks::list_students(conn, session).await?,
        sheets: marks::list_sheets(conn, session).await?,
        names: people::list_names(conn).await?,
    };
    Ok(Some(marking.file(&zone_of(conn).await?)))
}

/// What the file is made from.
struct Marking {
    section: String,
    session: String,
    rubric: Option<Rubric>,
    students: Vec<Marked>,
    sheets: HashMap<StudentId, MarkSheet>,
    names: HashMap<PersonId, String>,
}

impl Marking {
    fn file(&self, zone: &TimeZone) -> Vec<u8> {
        let criteria = self.rubric.iter().flat_map(|rubric| &rubric.criteria);
        let of_criteria = criteria.map(|criterion| format!("{} /{}", criterion.name, criterion.max));
        let before = ["section", "session", "roster_number", "student"].map(str::to_owned);
        let after = ["total", "out_of", "percent", "state", "comment", "marked_by", "marked_at"].map(str::to_owned);
        let mut table = Table::new(zone, before.into_iter().chain(of_criteria).chain(after));
        for student in &self.students {
            let blank = MarkSheet::blank(student.student);
            let sheet = self.sheets.get(&student.student).unwrap_or(&blank);
            table.row(self.row(student, sheet));
        }
        table.finish()
    }

    fn row(&self, student: &Marked, sheet: &MarkSheet) -> Vec<Cell> {
        let points = |points: Option<Points>| Cell::known(points, |points| Cell::scaled(points.as_milli(), 3));
        let rubric = self.rubric.as_ref();
        let mut cells = vec![
            Cell::text(&self.section),
            Cell::text(&self.session),
            Cell::text(&student.roster_number),
            Cell::text(&student.name),
        ];
        // a word beside numbers: sums and means of a spreadsheet pass over it, and nobody takes it for not marked yet
        let worth = |criterion| match sheet.worth(criterion) {
            Worth::LeftOut => Cell::text("left out"),
            _ => points(sheet.points(criterion)),
        };
        cells.extend(rubric.iter().flat_map(|rubric| &rubric.criteria).map(|it| worth(it.id)));
        cells.extend([
            points(rubric.and_then(|rubric| sheet.total(rubric))),
            // of the criteria that count for this student
            points(rubric.map(|rubric| sheet.out_of(rubric))),
            Cell::known(rubric.and_then(|rubric| sheet.tenths_of_a_percent(rubric)), |tenths| Cell::scaled(tenths, 1)),
            Cell::text(rubric.map_or("unmarked", |rubric| sheet.state(rubric).as_str())),
            Cell::Text(self.comment(sheet)),
            Cell::Text(self.marked_by(sheet)),
            Cell::from(sheet.marked_at()),
        ]);
        cells
    }

    /// The comment on all, then those on criteria, each on a line that begins with its name: there
    /// is one column for them, and none may be lost.
    fn comment(&self, sheet: &MarkSheet) -> String {
        let of_criteria = self.rubric.iter().flat_map(|rubric| &rubric.criteria).filter_map(|criterion| {
            let comment = &sheet.cells.get(&criterion.id)?.comment;
            (!comment.is_empty()).then(|| format!("{}: {comment}", criterion.name))
        });
        let overall = (!sheet.comment.is_empty()).then(|| sheet.comment.clone());
        overall.into_iter().chain(of_criteria).collect::<Vec<_>>().join("\n")
    }

    /// Everybody who marked, the latest first.
    fn marked_by(&self, sheet: &MarkSheet) -> String {
        let mut markers: Vec<_> = sheet.cells.values().map(|mark| (mark.marked_at, mark.marked_by)).collect();
        markers.extend(sheet.commented_at.zip(sheet.commented_by));
        markers.sort_unstable_by(|one, other| other.cmp(one));
        let mut names: Vec<&str> = Vec::new();
        for (_, by) in markers {
            let name = self.names.get(&by).map_or("", String::as_str);
            if !name.is_empty() && !names.contains(&name) {
                names.push(name);
            }
        }
        names.join("; ")
    }
}
