//! `roster.csv`: a section's students, in the columns the import reads again.

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::{ids::SectionId, student::Student},
    store::{self, students},
};

use super::{Cell, Table, zone_of};

/// The file of a section.
///
/// # Errors
/// When the database cannot be used.
pub async fn bytes(conn: &mut SqliteConnection, section: SectionId) -> Result<Vec<u8>, store::Error> {
    let zone = zone_of(conn).await?;
    Ok(file(&zone, &students::list(conn, section).await?))
}

fn file(zone: &TimeZone, students: &[Student]) -> Vec<u8> {
    let mut table = Table::new(zone, ["roster_number", "name", "email_optional"]);
    for student in students {
        table.row([Cell::text(&student.roster_number), Cell::text(&student.name), Cell::text(&student.email)]);
    }
    table.finish()
}
