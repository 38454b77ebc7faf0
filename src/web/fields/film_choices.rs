//! The films of the stockroom, to choose one from.

use sqlx::SqliteConnection;

use crate::{
    calc::working::plain,
    domain::stock::paper::Paper,
    store::{Error, camera::films},
};

/// The films of the stockroom as a list that opens, beginning with an empty choice.
///
/// # Errors
/// When the database cannot be used.
pub async fn film_choices(conn: &mut SqliteConnection, first: &str) -> Result<Vec<(String, String)>, Error> {
    let mut offered = vec![(String::new(), first.to_owned())];
    offered.extend(films::list(conn).await?.iter().map(|film| (film.id.to_string(), film_words(film))));
    Ok(offered)
}

/// `Film, ISO 100 at EI 100`.
pub fn film_words(film: &Paper) -> String {
    format!("{} at EI {}", film.name, plain(film.exposure_index().as_number()))
}
