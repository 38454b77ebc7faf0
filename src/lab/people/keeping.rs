//! What becomes of a section that is over: archived, and later its people forgotten.

use sqlx::SqliteConnection;

use crate::{
    domain::{field_errors::FieldErrors, ids::SectionId, instant::Instant, people::actor::Actor},
    store::{
        WriteError,
        evening::lab_sessions,
        people::{change_log, keeping, sections},
    },
};

/// Archives a section: everything in it can be read, nothing changed.
///
/// # Errors
/// Refused while a session is open, and when it is archived already.
pub async fn archive(tx: &mut SqliteConnection, id: SectionId, actor: Actor, at: Instant) -> Result<(), WriteError> {
    sections::find(tx, id).await?.ok_or(WriteError::Missing("this section"))?;
    if let Some(open) = lab_sessions::find_open(tx, id).await? {
        let words = format!("“{}” is open: close it first", open.title);
        return Err(FieldErrors::whole(words).into());
    }
    if keeping::find(tx, id).await?.archived_at.is_some() {
        return Err(FieldErrors::whole("this section is archived already").into());
    }
    keeping::put_archived(tx, id, Some(at)).await?;
    change_log::insert(tx, at, actor, "section archived", "section", id, "").await?;
    Ok(())
}

/// Takes a section out of the archive.
///
/// # Errors
/// Refused once its people are forgotten.
pub async fn take_out(tx: &mut SqliteConnection, id: SectionId, actor: Actor, at: Instant) -> Result<(), WriteError> {
    sections::find(tx, id).await?.ok_or(WriteError::Missing("this section"))?;
    if keeping::find(tx, id).await?.forgotten_at.is_some() {
        return Err(FieldErrors::whole("its people are forgotten: it stays archived").into());
    }
    keeping::put_archived(tx, id, None).await?;
    change_log::insert(tx, at, actor, "section taken out of the archive", "section", id, "").await?;
    Ok(())
}

/// Forgets the people of an archived section; `typed` is its name, typed to be sure. The file must be written anew
/// afterwards.
///
/// # Errors
/// Refused when they are forgotten already, while the section is not archived, and when the name is another.
pub async fn forget(
    tx: &mut SqliteConnection,
    id: SectionId,
    typed: &str,
    actor: Actor,
    at: Instant,
) -> Result<(), WriteError> {
    let section = sections::find(tx, id).await?.ok_or(WriteError::Missing("this section"))?;
    let now = keeping::find(tx, id).await?;
    if now.forgotten_at.is_some() {
        return Err(FieldErrors::whole("its people are forgotten already").into());
    }
    if now.archived_at.is_none() {
        return Err(FieldErrors::whole("archive the section first").into());
    }
    if typed != section.name {
        let words = format!("type the section’s name as it stands above: {}", section.name);
        return Err(FieldErrors::one("name", words).into());
    }
    keeping::forget(tx, id, at).await?;
    change_log::insert(tx, at, actor, "people of a section forgotten", "section", id, "").await?;
    Ok(())
}

/// Notes that the file was written anew since people were forgotten.
///
/// # Errors
/// Refused while they are not.
pub async fn note_written_anew(tx: &mut SqliteConnection, id: SectionId, at: Instant) -> Result<(), WriteError> {
    sections::find(tx, id).await?.ok_or(WriteError::Missing("this section"))?;
    if keeping::find(tx, id).await?.forgotten_at.is_none() {
        return Err(FieldErrors::whole("its people are not forgotten").into());
    }
    keeping::note_overwritten(tx, id, at).await?;
    Ok(())
}
