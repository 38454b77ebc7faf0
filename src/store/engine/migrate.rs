//! The schema: which one a file has, and bringing it up to date after a copy of the file as it was.

use std::path::{Path, PathBuf};

use sqlx::{Connection, SqliteConnection, migrate::MigrateError};

use super::{
    check, connect, digests, own_files,
    releases::{MIGRATIONS, applied_versions},
};

/// Why the database could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// The file was written by a newer Shimlight.
    #[error("{path} was written by a newer Shimlight (schema {version}); this one will not touch it")]
    Newer {
        /// The file.
        path: PathBuf,
        /// The schema's version.
        version: i64,
    },
    /// A released migration is not the one that was applied.
    #[error("the schema of {path} is not one that this Shimlight made: {source}")]
    Schema {
        /// The file.
        path: PathBuf,
        /// What the migrator says.
        source: MigrateError,
    },
    /// What the file holds does not prove right after a migration.
    #[error("after migrating, {path} is not sound ({first}); the file as it was before is {copy}")]
    Unsound {
        /// The file.
        path: PathBuf,
        /// The first thing found wrong.
        first: String,
        /// The copy made before.
        copy: PathBuf,
    },
    /// What the file holds is not what was last saved in it.
    #[error("{path} is damaged ({first}) and was not brought up to date; it as it is was copied to {copy}")]
    Damaged {
        /// The file.
        path: PathBuf,
        /// The first thing found wrong.
        first: String,
        /// The copy.
        copy: PathBuf,
    },
    /// The file cannot be opened or written.
    #[error("{path} cannot be opened: {source}")]
    File {
        /// The file.
        path: PathBuf,
        /// What SQLite says.
        source: sqlx::Error,
    },
}

/// Brings the schema up to date. Foreign keys are off while it runs; afterwards everything the file
/// holds must prove right, references and the silver book too.
pub(in crate::store) async fn up_to_date(path: &Path) -> Result<(), OpenError> {
    let file = |source| OpenError::File { path: path.to_owned(), source };
    let mut conn = SqliteConnection::connect_with(&connect::options(path).foreign_keys(false)).await.map_err(file)?;
    let applied = applied_versions(&mut conn).await.map_err(file)?;
    if let Some(&version) = applied.iter().find(|version| !MIGRATIONS.version_exists(**version)) {
        return Err(OpenError::Newer { path: path.to_owned(), version });
    }
    let newest = MIGRATIONS.iter().map(|migration| migration.version).max().unwrap_or(0);
    let before = match applied.last() {
        Some(last) if *last < newest => {
            let copy = copy_before(&mut conn, path, newest).await.map_err(file)?;
            // what is damaged already must not be taken for what the migration made of it
            damaged_before(&mut conn, path, *last, &copy).await?;
            Some(copy)
        }
        _ => None,
    };
    MIGRATIONS.run(&mut conn).await.map_err(|source| OpenError::Schema { path: path.to_owned(), source })?;
    if digests::taken_up_to(&mut conn).await.map_err(file)? != Some(newest) {
        digests::take_all(&mut conn, newest).await.map_err(file)?;
    }
    if let Some(copy) = before {
        let first = match check::run(&mut conn).await {
            // what an earlier version let be wrong at an earlier date, no migration made so
            Ok(faults) => faults.iter().find(|fault| !fault.is_of_old).map(ToString::to_string),
            Err(error) => Some(error.to_string()),
        };
        if let Some(first) = first {
            return Err(OpenError::Unsound { path: path.to_owned(), first, copy });
        }
    }
    conn.close().await.map_err(file)
}

/// Refuses a file whose rows are not those of its last commit.
async fn damaged_before(conn: &mut SqliteConnection, path: &Path, applied: i64, copy: &Path) -> Result<(), OpenError> {
    let first = match digests::taken_up_to(conn).await {
        Ok(Some(taken)) if taken == applied => digests::faults(conn).await,
        _ => return Ok(()),
    };
    let first = first.map_or_else(|error| Some(error.to_string()), |faults| faults.into_iter().next());
    match first {
        Some(first) => Err(OpenError::Damaged { path: path.to_owned(), first, copy: copy.to_owned() }),
        None => Ok(()),
    }
}

/// Copies the file as it is, under the first name not taken: a start that failed halfway may have
/// left a copy already, and none is overwritten.
async fn copy_before(conn: &mut SqliteConnection, path: &Path, newest: i64) -> Result<PathBuf, sqlx::Error> {
    let copy = own_files::free_name(path, &format!("before-{newest}"));
    own_files::create_new(&copy)?;
    let target = copy.to_string_lossy().into_owned();
    sqlx::query("VACUUM INTO ?").bind(target).execute(conn).await?;
    Ok(copy)
}
