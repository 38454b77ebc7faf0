//! `roster.csv`: a section's students, in the columns the import reads again.

use std::collections::HashMap;

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        ids::{SectionId, StudentId},
        people::{roster::HEADER, student::Student},
    },
    store::{
        self,
        people::students::{self, Identifiers},
    },
};

use super::{Cell, Table, zone_of};

/// The file of a section.
///
/// # Errors
/// When the database cannot be used.
pub async fn bytes(conn: &mut SqliteConnection, section: SectionId) -> Result<Vec<u8>, store::Error> {
    let zone = zone_of(conn).await?;
    let identifiers = students::list_identifiers(conn, section).await?;
    Ok(file(&zone, &students::list(conn, section).await?, &identifiers))
}

fn file(zone: &TimeZone, students: &[Student], identifiers: &HashMap<StudentId, Identifiers>) -> Vec<u8> {
    let mut table = Table::new(zone, HEADER);
    let none = Identifiers::default();
    for student in students {
        let Identifiers { user, class } = identifiers.get(&student.id).unwrap_or(&none);
        let of_student = [&student.roster_number, &student.name, &student.email, user, class];
        table.row(of_student.map(Cell::text));
    }
    table.finish()
}
