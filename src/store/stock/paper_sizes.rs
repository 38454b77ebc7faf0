//! The sizes of papers on the shelf.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::PaperId,
    measure::length::Length,
    stock::{sheet::Sheet, shelf::ShelfSize},
};

use crate::store::Error;

/// The sizes of a paper, in the order they were typed.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection, paper: PaperId) -> Result<Vec<ShelfSize>, Error> {
    let rows = sqlx::query!(
        "SELECT typed, width_nm, height_nm, on_shelf FROM paper_size WHERE paper_id = ? ORDER BY position, typed",
        paper
    )
    .fetch_all(conn)
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| ShelfSize {
            sheet: Sheet {
                width: Length::from_nm(row.width_nm),
                height: Length::from_nm(row.height_nm),
                typed: row.typed,
            },
            sheets: row.on_shelf,
        })
        .collect())
}

/// Puts these sizes in the place of those there were.
///
/// # Errors
/// When the database cannot be used.
pub async fn replace(tx: &mut SqliteConnection, paper: PaperId, sizes: &[ShelfSize]) -> Result<(), Error> {
    sqlx::query!("DELETE FROM paper_size WHERE paper_id = ?", paper).execute(&mut *tx).await?;
    for (position, size) in (0_i64..).zip(sizes) {
        let (width, height) = (size.sheet.width.as_nm(), size.sheet.height.as_nm());
        sqlx::query!(
            "INSERT INTO paper_size (paper_id, typed, width_nm, height_nm, on_shelf, position)
             VALUES (?, ?, ?, ?, ?, ?)",
            paper,
            size.sheet.typed,
            width,
            height,
            size.sheets,
            position
        )
        .execute(&mut *tx)
        .await?;
    }
    Ok(())
}
