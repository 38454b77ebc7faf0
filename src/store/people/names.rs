//! How the people are called who wrote records: records keep ids, files and pages show names.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::domain::ids::PersonId;

use crate::store::Error;

/// Everybody who can stand in a `*_by` column: staff, ended accounts too, and students.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_names(conn: &mut SqliteConnection) -> Result<HashMap<PersonId, String>, Error> {
    let rows = sqlx::query!(
        r#"SELECT id AS "id!: PersonId", display_name AS "name!: String" FROM account
           UNION ALL SELECT id, name FROM student"#
    )
    .fetch_all(conn)
    .await?;
    Ok(rows.into_iter().map(|row| (row.id, row.name)).collect())
}
