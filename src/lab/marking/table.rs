//! Everything a session is marked from: its students, their sheets, what the record suggests.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::lab_session::LabSession,
        ids::{LabSessionId, StudentId},
        marking::{mark::MarkSheet, rubric::Rubric},
    },
    store::{
        Error,
        marking::marks::{self, Marked},
    },
};

use super::{
    plan,
    suggestions::{Suggestions, gather},
};

/// A session's marks.
#[derive(Clone, Debug)]
pub struct Table {
    /// The session.
    pub session: LabSession,
    /// The rubric it is marked by, if its plan names one.
    pub rubric: Option<Rubric>,
    /// Its students.
    pub students: Vec<Marked>,
    /// What the record suggests for each.
    pub suggestions: HashMap<StudentId, Suggestions>,
    sheets: HashMap<StudentId, MarkSheet>,
}

impl Table {
    /// Looks it up; `None` without such a session.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn find(conn: &mut SqliteConnection, id: LabSessionId) -> Result<Option<Self>, Error> {
        let Some((session, rubric)) = plan::find(conn, id).await? else { return Ok(None) };
        let students = marks::list_students(conn, id).await?;
        let sheets = marks::list_sheets(conn, id).await?;
        let mut suggestions = HashMap::new();
        if let Some(rubric) = &rubric {
            for it in &students {
                let record = gather(conn, &session, rubric, it.student).await?;
                suggestions.insert(it.student, Suggestions::of(rubric, &record));
            }
        }
        Ok(Some(Self { session, rubric, students, suggestions, sheets }))
    }

    /// A student's sheet; a blank one while nobody has marked anything.
    pub fn sheet(&self, student: StudentId) -> MarkSheet {
        self.sheets.get(&student).cloned().unwrap_or_else(|| MarkSheet::blank(student))
    }
}
