//! What stands beside a database, or where one was: the traces of a lost file, of a restore that was
//! cut off, of a log that belongs to another file.

use std::{
    fs,
    path::{Path, PathBuf},
};

use anyhow::{Context, bail};

use super::beside;
use crate::{
    clock::World,
    store::{
        self, FileId, Store,
        engine::own_files::{self, with_ending},
    },
};

/// What SQLite keeps beside a file while it is open.
pub const OF_SQLITE: [&str; 3] = ["-wal", "-shm", "-journal"];
/// What is written beside while a copy is made or looked at, and is of no use afterwards.
const PASSING: [&str; 2] = [".incoming", ".proving"];
/// What tells that there was a database: its own log, and what commands leave beside it.
const TELLING: [&str; 7] = ["-wal", "-journal", ".incoming", ".replaced-", ".rescued-", ".before-", ".proving"];

/// Makes sure that a server may open the database, or begin one where none is.
///
/// # Errors
/// When none is there and traces of one are, and `new` was not said; when `new` was said and one is
/// there; when the log beside it is another's.
pub async fn may_serve(database: &Path, new: bool) -> anyhow::Result<()> {
    let path = database.display();
    if beside::is_there(database) {
        if new {
            bail!("{path} is there already: --new begins a database where none is");
        }
        prove_log(database).await?;
        return tidy(database);
    }
    let traces = traces(database)?;
    let known = beside::last_served(database).is_some();
    if traces.is_empty() && !known {
        return Ok(());
    }
    if new {
        return set_aside(database);
    }
    let found = match traces.as_slice() {
        [] => "one was served here before".to_owned(),
        found => format!("beside it stands {}", found.join(", ")),
    };
    bail!(
        "there is no database at {path}, but {found}. Nothing was made. If the file was moved, move it back (its \
         -wal with it); if it is lost, `shimlight restore FILE` puts a backup or a rescued copy in its place; to begin \
         an empty database all the same, say `shimlight serve --new`"
    );
}

/// The names of the traces beside a database, in order.
fn traces(database: &Path) -> anyhow::Result<Vec<String>> {
    let name = database.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let folder = own_files::folder_of(database);
    let mut found = Vec::new();
    let entries = match fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(error) => return Err(error).with_context(|| format!("{} cannot be read", folder.display())),
    };
    for entry in entries {
        let other = entry?.file_name().to_string_lossy().into_owned();
        if let Some(ending) = other.strip_prefix(&name)
            && TELLING.iter().any(|telling| ending.starts_with(telling))
        {
            found.push(other);
        }
    }
    found.sort_unstable();
    Ok(found)
}

/// Removes what a command that was cut off left beside a database that stands: copies of what is elsewhere.
fn tidy(database: &Path) -> anyhow::Result<()> {
    for passing in PASSING {
        let left = with_ending(database, passing);
        if left.exists() {
            remove(&left);
            say!(
                "{} was left by a command that was cut off before it changed anything; it is removed.",
                left.display()
            );
        }
    }
    Ok(())
}

/// Renames what SQLite would take for a new database's own.
fn set_aside(database: &Path) -> anyhow::Result<()> {
    let kept = free_replaced(database);
    for ending in OF_SQLITE {
        let from = with_ending(database, ending);
        if from.exists() {
            let to = with_ending(&kept, &ending.replace('-', "."));
            fs::rename(&from, &to).with_context(|| format!("cannot set {} aside", from.display()))?;
            say!("{} is kept as {}.", from.display(), to.display());
        }
    }
    Ok(())
}

/// A name for what stood where something else comes to stand.
pub fn free_replaced(database: &Path) -> PathBuf {
    let stamp = World::system().now().local(&jiff::tz::TimeZone::UTC).strftime("%Y%m%dT%H%M%SZ").to_string();
    own_files::free_name(database, &format!("replaced-{stamp}"))
}

/// Makes sure that a log beside a file other than the one last served belongs to it, before SQLite
/// writes the one into the other.
///
/// # Errors
/// When read together they are not sound.
pub async fn prove_log(database: &Path) -> anyhow::Result<()> {
    let wal = with_ending(database, "-wal");
    let has_log = fs::metadata(&wal).is_ok_and(|data| data.len() > 0);
    let another = beside::last_served(database).is_some_and(|last| FileId::at(database) != Some(last));
    if !has_log || !another {
        return Ok(());
    }
    let Some(first) = first_fault_together(database).await? else { return Ok(()) };
    bail!(
        "{} is not the file that was last served here, and {} belongs to another: read together they are not sound \
         ({first}). Nothing was changed. Move the file that was served before back here; or, to go on with this one, move \
         it elsewhere and put it in place with `shimlight restore FILE`",
        database.display(),
        wal.display()
    );
}

/// Reads copies of the file and its log together.
async fn first_fault_together(database: &Path) -> anyhow::Result<Option<String>> {
    let proving = beside::beside(database, "proving");
    remove(&proving);
    let found = async {
        for ending in ["", "-wal"] {
            let mut to = own_files::create_new(&with_ending(&proving, ending))?;
            let mut from = fs::File::open(with_ending(database, ending))?;
            std::io::copy(&mut from, &mut to)?;
        }
        anyhow::Ok(match Store::open(&proving).await {
            Ok(store) => {
                let faults = super::faults::faults(&store).await;
                store.close().await;
                faults.map_or_else(|error| Some(error.to_string()), |found| found.others.into_iter().next())
            }
            Err(store::OpenError::File { source, .. }) => Some(source.to_string()),
            Err(error) => Some(error.to_string()),
        })
    }
    .await;
    remove(&proving);
    found.with_context(|| format!("{} cannot be copied to be looked at", database.display()))
}

/// Removes a file and what SQLite keeps beside it.
pub fn remove(path: &Path) {
    for ending in ["", "-wal", "-shm", "-journal"] {
        drop(fs::remove_file(with_ending(path, ending)));
    }
}
