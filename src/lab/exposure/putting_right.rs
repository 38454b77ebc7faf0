//! Putting right what is on record of a sheet: how it came out, whether it went through the trays, what was
//! mistyped, and taking it back. Nothing is deleted.

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        baths::sheet_run::SheetOf,
        destination::Destination,
        exposure::{Exposure, Judgement, TakenBack},
        field_errors::FieldErrors,
        ids::{ExposureId, PaperId},
        instant::Instant,
        measure::typed_seconds::exactly,
        people::actor::Actor,
    },
    lab::baths::through_trays::{Through, TrayIds},
    store::{
        Stale, WriteError,
        baths::sheet_runs,
        exposure::{exposures, prints},
    },
};

use super::{
    film,
    recording::note,
    seen::{Seen, changeable, unmarked, waits_for_trays},
    told::{SHOWS_NOTHING_YET, Told},
    words::result_words,
};

/// Who changes a sheet, when, and which version of it they saw.
#[derive(Clone, Copy, Debug)]
pub struct Change {
    /// Who.
    pub who: Actor,
    /// When.
    pub at: Instant,
    /// The version on the page.
    pub version: i64,
    /// The ids that a booking may need.
    pub ids: TrayIds,
}

/// How a sheet came out, as its page is told.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The judgement.
    pub judgement: Judgement,
    /// When it went through the trays, where that is said with it.
    pub developed_at: Option<Instant>,
    /// Anything else.
    pub remark: String,
}

/// Of a sheet that is judged on its page before its development.
pub const JUDGE_LATER: &str =
    "before the trays a sheet shows nothing: judge it when it went through; only what spoiled it can be said now";

/// Says how a sheet came out.
///
/// # Errors
/// Stale when it changed meanwhile; refused once marks were given, and where it cannot show anything yet.
pub async fn judge(tx: &mut SqliteConnection, seen: &Seen, judged: Judged, by: Change) -> Result<(), WriteError> {
    let Judged { judgement, developed_at, remark } = judged;
    let id = seen.exposure.id;
    let mut exposure = changeable(tx, id, by.who).await?;
    if exposure.version != by.version {
        let sent = Exposure { judgement: Some(judgement), ..exposure.clone() };
        let fields = vec![
            ("How it came out".to_owned(), result_words(&sent), result_words(&exposure)),
            ("Remark".to_owned(), remark, exposure.remark.clone()),
        ];
        return Err(stale(&exposure, by.who, fields));
    }
    if waits_for_trays(tx, id, by.who).await? {
        match developed_at {
            // its booking was taken back after the page was opened
            None if judgement.needs_trays() => return Err(FieldErrors::one("verdict", JUDGE_LATER).into()),
            None => {}
            Some(_) => settle(tx, seen, &exposure, developed_at, by).await?,
        }
    }
    exposure.judgement = Some(judgement);
    exposure.remark = remark;
    exposures::update(tx, &exposure).await?;
    note(tx, by.at, by.who, "sheet judged", &exposure).await?;
    Ok(())
}

/// Says that a sheet went through the trays.
///
/// # Errors
/// Refused when that is on record already, once marks were given, and when the booking is refused.
pub async fn through_the_trays(
    tx: &mut SqliteConnection,
    seen: &Seen,
    developed_at: Instant,
    by: Change,
) -> Result<(), WriteError> {
    let id = seen.exposure.id;
    let exposure = changeable(tx, id, by.who).await?;
    if sheet_runs::find_of(tx, SheetOf::Negative(id)).await?.is_some() {
        let already = "somebody has recorded that already: correct the sheet if the time is wrong";
        return Err(FieldErrors::whole(already).into());
    }
    settle(tx, seen, &exposure, Some(developed_at), by).await?;
    note(tx, by.at, by.who, "sheet through the trays", &exposure).await?;
    Ok(())
}

/// Corrects what was typed of a sheet; `film` is what was in a camera that holds film of its own.
///
/// # Errors
/// Stale when it changed meanwhile; refused once marks were given, and for a film that is not offered.
pub async fn correct(
    tx: &mut SqliteConnection,
    seen: &Seen,
    told: &Told,
    film: Option<PaperId>,
    by: Change,
) -> Result<(), WriteError> {
    let id = seen.exposure.id;
    let stored = changeable(tx, id, by.who).await?;
    let mut exposure = corrected(&stored, told);
    if seen.camera.holds_film() && film != Some(stored.paper) {
        exposure.correct_loaded(&film::find_offered(tx, "film", film).await?);
    }
    let booked = sheet_runs::find_of(tx, SheetOf::Negative(id)).await?.map(|run| run.developed_at);
    if stored.version != by.version {
        let fields = both_versions(&exposure, told.developed_at, &stored, booked, &seen.zone);
        return Err(stale(&stored, by.who, fields));
    }
    if let Actor::Student(_) = by.who {
        judged_when_developed(seen.uses_trays, &stored, booked.is_some(), told)?;
    }
    exposures::update(tx, &exposure).await?;
    settle(tx, seen, &exposure, told.developed_at, by).await?;
    note(tx, by.at, by.who, "sheet corrected", &exposure).await?;
    Ok(())
}

/// Takes a sheet back that was recorded by mistake.
///
/// # Errors
/// Stale when it changed meanwhile; refused once marks were given, and while a print rests on it.
pub async fn take_back(tx: &mut SqliteConnection, seen: &Seen, why: String, by: Change) -> Result<(), WriteError> {
    let exposure = changeable(tx, seen.exposure.id, by.who).await?;
    let person = by.who.person().ok_or(WriteError::Forbidden("nobody is signed in"))?;
    if prints::count_of_exposure(tx, exposure.id).await? > 0 {
        let said = "a contact print was recorded from it: correct the print’s negative first, or ask your instructor";
        return Err(FieldErrors::whole(said).into());
    }
    settle(tx, seen, &exposure, None, by).await?;
    let taken = TakenBack { at: by.at, by: person, why };
    if !exposures::update_taken_back(tx, exposure.id, by.version, Some(&taken)).await? {
        return Err(stale(&exposure, by.who, vec![("Taken back".to_owned(), taken.why, String::new())]));
    }
    note(tx, by.at, by.who, "sheet taken back", &exposure).await?;
    Ok(())
}

/// Lets a sheet count again that was taken back.
///
/// # Errors
/// Stale when it changed meanwhile; refused once marks were given.
pub async fn count_again(
    tx: &mut SqliteConnection,
    id: ExposureId,
    who: Actor,
    version: i64,
    at: Instant,
) -> Result<(), WriteError> {
    let exposure = unmarked(tx, id, who).await?;
    if exposure.taken_back.is_none() {
        return Ok(());
    }
    if !exposures::update_taken_back(tx, id, version, None).await? {
        return Err(stale(&exposure, who, vec![("Counts again".to_owned(), "yes".to_owned(), String::new())]));
    }
    note(tx, at, who, "sheet counts again", &exposure).await?;
    Ok(())
}

async fn settle(
    tx: &mut SqliteConnection,
    seen: &Seen,
    exposure: &Exposure,
    developed_at: Option<Instant>,
    by: Change,
) -> Result<(), WriteError> {
    let through = Through::of_exposure(seen.site, &seen.session, exposure);
    through.settle(tx, by.who, developed_at, by.ids, by.at).await
}

/// Another version is stored than was on the page.
fn stale(exposure: &Exposure, who: Actor, fields: Vec<(String, String, String)>) -> WriteError {
    let path = match who {
        Actor::Staff(_) => Destination::SheetForStaff(exposure.id),
        _ => Destination::Sheet(exposure.id),
    };
    WriteError::Stale(Box::new(Stale { what: format!("Sheet {}", exposure.number), path, fields }))
}

/// A correction must not leave a sheet judged that never saw a tray. One that came so from a card typed in by
/// staff may stay as it is.
fn judged_when_developed(
    uses_trays: bool,
    stored: &Exposure,
    developed_before: bool,
    told: &Told,
) -> Result<(), FieldErrors> {
    let needs = |judgement: Option<Judgement>| judgement.is_some_and(|judgement| judgement.needs_trays());
    let stood_so = needs(stored.judgement) && !developed_before;
    if uses_trays && told.developed_at.is_none() && needs(told.judgement) && !stood_so {
        return Err(FieldErrors::one("verdict", SHOWS_NOTHING_YET));
    }
    Ok(())
}

/// The sheet with what was told. A judgement that says the same keeps its time.
fn corrected(stored: &Exposure, told: &Told) -> Exposure {
    let mut exposure = stored.clone();
    if stored.light_typed != told.light.in_words() {
        exposure.correct_light(told.light);
    }
    if stored.aim != told.aim.words() {
        exposure.correct_aim(told.aim);
    }
    exposure.made_ms = told.made_ms;
    exposure.made_at = told.made_at;
    exposure.sheet = told.sheet.clone();
    exposure.remark = told.remark.clone();
    exposure.judgement = told.judgement.map(|mut judgement| {
        if let Some(before) = stored.judgement.filter(|before| {
            (before.verdict, before.result, before.fault, before.sign)
                == (judgement.verdict, judgement.result, judgement.fault, judgement.sign)
        }) {
            judgement.judged_at = before.judged_at;
        }
        judgement
    });
    exposure
}

fn both_versions(
    sent: &Exposure,
    sent_developed_at: Option<Instant>,
    stored: &Exposure,
    stored_developed_at: Option<Instant>,
    zone: &TimeZone,
) -> Vec<(String, String, String)> {
    let trays = |at: Option<Instant>| at.map_or_else(|| "no".to_owned(), |at| at.as_words(zone));
    let of = |name: &str, words: &dyn Fn(&Exposure) -> String| (name.to_owned(), words(sent), words(stored));
    vec![
        of("Open for", &|exposure| exactly(exposure.made_ms)),
        of("When", &|exposure| exposure.made_at.as_words(zone)),
        of("Sheet", &|exposure| exposure.sheet.in_words()),
        of("Light as found", &|exposure| exposure.light_typed.clone()),
        of("Exposed for", &|exposure| exposure.aimed().spot().label()),
        of("How it came out", &result_words),
        ("Through the trays".to_owned(), trays(sent_developed_at), trays(stored_developed_at)),
        of("Remark", &|exposure| exposure.remark.clone()),
    ]
}
