//! Every CSV into a folder, without a browser. The same database gives the same files, byte for byte.
//!
//! ```text
//! exposures.csv, …                          of the whole site
//! <section>/roster.csv
//! <section>/<date> <session>/marks.csv
//! ```

use std::{
    io,
    path::{Path, PathBuf},
};

use sqlx::{Connection, SqliteConnection};

use crate::store::{self, engine::own_files, evening::lab_sessions, people::sections};

use super::{SiteFile, file_name::Taken, marks, roster};

/// Why not everything was written.
#[derive(Debug, thiserror::Error)]
pub enum NotWritten {
    /// The database could not be read.
    #[error(transparent)]
    Unread(#[from] store::Error),
    /// A file or folder could not be made.
    #[error("cannot write {}: {source}", path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
}

/// Writes every CSV into `folder` (made if it is not there) and gives the paths written, in order.
/// All of it is read at one moment: what others save meanwhile is in none of the files. Files of
/// the same name are written over, others in the folder are left.
///
/// # Errors
/// When the database cannot be read or a file cannot be written; earlier files then stay.
pub async fn write(conn: &mut SqliteConnection, folder: &Path) -> Result<Vec<PathBuf>, NotWritten> {
    let mut moment = conn.begin().await.map_err(store::Error::from)?;
    let mut written = Vec::new();
    for file in SiteFile::ALL {
        put(folder.join(file.name()), &file.bytes(&mut moment).await?, &mut written)?;
    }
    let mut taken = Taken::default();
    // the files of the whole site keep their names: no section's folder may be called the same
    for file in SiteFile::ALL {
        taken.name(file.name());
    }
    let mut all = sections::list(&mut moment).await?;
    all.reverse();
    for section in all {
        let folder = folder.join(taken.name(&section.name));
        put(folder.join("roster.csv"), &roster::bytes(&mut moment, section.id).await?, &mut written)?;
        let mut taken = Taken::default();
        taken.name("roster.csv");
        let mut sessions = lab_sessions::list(&mut moment, section.id).await?;
        sessions.sort_by_key(|session| (session.held_on, session.id));
        for session in sessions {
            let folder = folder.join(taken.name(&format!("{} {}", session.held_on, session.title)));
            if let Some(bytes) = marks::bytes(&mut moment, session.id).await? {
                put(folder.join("marks.csv"), &bytes, &mut written)?;
            }
        }
    }
    moment.rollback().await.map_err(store::Error::from)?;
    Ok(written)
}

fn put(path: PathBuf, bytes: &[u8], written: &mut Vec<PathBuf>) -> Result<(), NotWritten> {
    let made = path.parent().map_or(Ok(()), own_files::create_folder).and_then(|()| own_files::write(&path, bytes));
    made.map_err(|source| NotWritten::File { path: path.clone(), source })?;
    written.push(path);
    Ok(())
}
