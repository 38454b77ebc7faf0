//! What staff do with a batch and a waste container alike: measure, read, write off, pour a part,
//! record a discharge. The two pages differ; these forms and what they do are the same.

use axum::response::{IntoResponse, Response};
use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    calc::working::figures,
    domain::{
        actor::Actor,
        book::{MovementKind, Silver, Vessel},
        container::Contents,
        field_errors::FieldErrors,
        ids::ContainerId,
        instant::Instant,
        reading::Method,
        volume,
    },
    store::{
        Error, Landing, WriteError, batches, change_log, containers,
        movements::{self, Loss, Occasion},
        sites,
    },
    web::{
        error::WebError,
        form::Form,
        frame::Frame,
        page::see_other,
        posted::{Posted, Reader},
        state::AppState,
    },
};

use super::{chemistry, waste};

/// The forms of a page that has several: one as it was sent and refused, the others as they begin.
#[derive(Clone, Debug)]
pub(super) struct Acts {
    frame: Frame,
    version: i64,
    now: String,
    refused: Option<(&'static str, Form)>,
    of_container: bool,
    /// The path that the forms' actions begin with.
    pub path: String,
    /// The containers something can be poured into: `(id, words)`.
    pub containers: Vec<(String, String)>,
    /// How silver is read.
    pub methods: Vec<(String, String)>,
    /// What is written off.
    pub losses: Vec<(String, String)>,
}

impl Acts {
    /// The forms of a vessel's page.
    pub async fn find(
        conn: &mut SqliteConnection,
        frame: &Frame,
        (vessel, version): (Vessel, i64),
        now: String,
        refused: Option<(&'static str, Form)>,
    ) -> Result<Self, Error> {
        let open =
            containers::list(conn).await?.into_iter().filter(|one| one.takes_more() && one.contents != Contents::Scrap);
        let mut others: Vec<_> = open.filter(|one| Vessel::Container(one.id) != vessel).collect();
        if let Vessel::Batch(id) = vessel
            && let Some(batch) = batches::find(conn, id).await?
        {
            // what its label is for comes first, so that the list begins with the right one
            others.sort_by_key(|one| (!one.contents.allows(batch.kind), one.contents == Contents::Mixed));
        }
        let words = |word: &str| (word.to_owned(), word.to_owned());
        Ok(Self {
            frame: frame.clone(),
            version,
            now,
            refused,
            of_container: matches!(vessel, Vessel::Container(_)),
            path: path_of(vessel),
            containers: others
                .into_iter()
                .map(|one| (one.id.to_string(), format!("{} ({})", one.name(), one.contents.as_str())))
                .collect(),
            methods: Method::ALL.into_iter().map(|method| words(method.as_str())).collect(),
            losses: Loss::ALL.into_iter().map(|loss| words(loss.kind().as_str())).collect(),
        })
    }

    /// The form of an act.
    pub fn form(&self, act: &str) -> Form {
        match &self.refused {
            Some((refused, form)) if *refused == act => form.clone().prefixed(act),
            _ => {
                let begins = [("happened_at", self.now.clone()), ("method", "silver estimating paper".to_owned())];
                Form::filled(&self.frame, self.version, begins).prefixed(act)
            }
        }
    }

    /// Whether its form was refused, so that it stands open.
    pub fn open(&self, act: &str) -> bool {
        self.refused.as_ref().is_some_and(|(refused, _)| *refused == act)
    }

    /// Whether the vessel is a waste container.
    pub fn of_container(&self) -> bool {
        self.of_container
    }

    /// Whether any was.
    pub fn is_refused(&self) -> bool {
        self.refused.is_some()
    }
}

/// The page of a vessel.
pub(super) fn path_of(vessel: Vessel) -> String {
    match vessel {
        Vessel::Batch(id) => format!("/front/chemistry/batches/{id}"),
        Vessel::Container(id) => format!("/front/waste/containers/{id}"),
    }
}

/// The site's zone.
///
/// # Errors
/// When there is no site yet, or the database cannot be used.
pub(super) async fn zone(state: &AppState) -> Result<TimeZone, WebError> {
    let site = sites::find(&mut *state.store.read().await?).await?;
    Ok(site.ok_or(WebError::NotFound("the site"))?.zone)
}

/// A volume typed into a field, in microlitres.
pub(super) fn volume_of(r: &mut Reader<'_>, field: &str, low_ul: i64) -> Option<i64> {
    match volume::read(r.raw(field), low_ul, volume::MOST_UL) {
        Ok(ul) => Some(ul),
        Err(error) => {
            r.wrong(field, error.to_string());
            None
        }
    }
}

/// When and by whom something was done, as a form says.
pub(super) fn occasion(state: &AppState, posted: &Posted, happened_at: Instant, remark: String) -> Occasion {
    Occasion { movement: state.mint(), actor: posted.actor(), happened_at, recorded_at: posted.at(), remark }
}

/// A line of the change log about a vessel.
pub(super) async fn log(
    tx: &mut SqliteConnection,
    at: Instant,
    actor: Actor,
    what: &str,
    vessel: Vessel,
    detail: &str,
) -> Result<(), Error> {
    match vessel {
        Vessel::Batch(id) => change_log::insert(tx, at, actor, what, "batch", id, detail).await,
        Vessel::Container(id) => change_log::insert(tx, at, actor, what, "waste_container", id, detail).await,
    }
}

/// Where a write led, or the page again with what was typed.
pub(super) async fn answer(
    state: &AppState,
    frame: Frame,
    vessel: Vessel,
    act: &'static str,
    posted: &Posted,
    written: Result<Landing, WriteError>,
) -> Result<Response, WebError> {
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => show_again(state, frame, vessel, act, posted, errors).await,
        Err(error) => Err(WebError::from_write(error, posted)),
    }
}

/// The vessel's page with the form that was refused.
pub(super) async fn show_again(
    state: &AppState,
    frame: Frame,
    vessel: Vessel,
    act: &'static str,
    posted: &Posted,
    errors: FieldErrors,
) -> Result<Response, WebError> {
    let refused = Some((act, Form::refused(posted, errors)));
    match vessel {
        Vessel::Batch(id) => chemistry::batch::show_with(state, frame, id, refused).await,
        Vessel::Container(id) => waste::container::show_with(state, frame, id, refused).await,
    }
}

/// The volume was measured.
pub(super) async fn measure(
    state: AppState,
    frame: Frame,
    vessel: Vessel,
    posted: Posted,
) -> Result<Response, WebError> {
    let zone = zone(&state).await?;
    let mut r = posted.reader();
    let (measured, at, remark) =
        (volume_of(&mut r, "measured", 0), r.local_time("happened_at", &zone), r.text("remark", 0..=400));
    let (measured, at, remark) = match r.finish((|| Some((measured?, at?, remark?)))()) {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "measure", &posted, errors).await,
    };
    let occasion = occasion(&state, &posted, at, remark);
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::measure(tx, &occasion, vessel, measured).await?;
                let (now, actor) = (occasion.recorded_at, occasion.actor);
                log(tx, now, actor, "volume measured", vessel, &volume::in_words(measured)).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "measure", &posted, written).await
}

fn read_reading(posted: &Posted, zone: &TimeZone) -> Result<(Method, Silver, Instant, String), FieldErrors> {
    let mut r = posted.reader();
    let method = r.choice("method", Method::from_word);
    let silver = reading(&mut r);
    let (at, remark) = (r.local_time("happened_at", zone), r.text("remark", 0..=400));
    r.finish((|| Some((method?, silver?, at?, remark?)))())
}

/// The silver was read.
pub(super) async fn read_silver(
    state: AppState,
    frame: Frame,
    vessel: Vessel,
    posted: Posted,
) -> Result<Response, WebError> {
    let zone = zone(&state).await?;
    let read = read_reading(&posted, &zone);
    let (method, silver, at, remark) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "reading", &posted, errors).await,
    };
    let (occasion, id) = (occasion(&state, &posted, at, remark), state.mint());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::read_silver(tx, &occasion, id, vessel, method, silver).await?;
                let detail = format!("{}, {} g/L", method.as_str(), figures(silver.best_ug as f64 / 1e6, 3));
                log(tx, occasion.recorded_at, occasion.actor, "silver read", vessel, &detail).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "reading", &posted, written).await
}

/// What was read, in grams a litre; without a range it is taken as exact.
fn reading(r: &mut Reader<'_>) -> Option<Silver> {
    let most = 100_000_000;
    let best = r.decimal("silver", 6, 0..=most);
    let (low, high) = (r.optional_decimal("low", 6, 0..=most), r.optional_decimal("high", 6, 0..=most));
    let (best, low, high) = (best?, low?, high?);
    let silver = Silver { best_ug: best, low_ug: low.unwrap_or(best), high_ug: high.unwrap_or(best) };
    if silver.low_ug > best {
        r.wrong("low", "must not be more than the reading itself");
    }
    if silver.high_ug < best {
        r.wrong("high", "must not be less than the reading itself");
    }
    Some(silver)
}

fn read_loss(posted: &Posted, zone: &TimeZone) -> Result<(Loss, i64, Instant, String), FieldErrors> {
    let mut r = posted.reader();
    let loss = r.choice("loss", Loss::from_word);
    let (volume, at) = (volume_of(&mut r, "volume", 1), r.local_time("happened_at", zone));
    let remark = r.text("remark", 1..=400);
    r.finish((|| Some((loss?, volume?, at?, remark?)))())
}

/// A spill, a sample, what evaporated.
pub(super) async fn write_off(
    state: AppState,
    frame: Frame,
    vessel: Vessel,
    posted: Posted,
) -> Result<Response, WebError> {
    let zone = zone(&state).await?;
    let read = read_loss(&posted, &zone);
    let (loss, lost_ul, at, remark) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "write-off", &posted, errors).await,
    };
    let occasion = occasion(&state, &posted, at, remark);
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::write_off(tx, &occasion, vessel, loss, lost_ul).await?;
                let what = match loss {
                    Loss::Spill => "spill written off",
                    Loss::Sample => "sample written off",
                    Loss::Evaporation => "evaporation written off",
                };
                log(tx, occasion.recorded_at, occasion.actor, what, vessel, &volume::in_words(lost_ul)).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "write-off", &posted, written).await
}

fn read_pouring(posted: &Posted, zone: &TimeZone) -> Result<(i64, ContainerId, Instant, String, String), FieldErrors> {
    let mut r = posted.reader();
    let (volume, into) = (volume_of(&mut r, "volume", 1), r.id::<ContainerId>("into"));
    let (at, remark) = (r.local_time("happened_at", zone), r.text("remark", 0..=400));
    let although = r.text("although", 0..=400);
    r.finish((|| Some((volume?, into?, at?, remark?, although?)))())
}

/// A part is poured into a container.
pub(super) async fn pour(state: AppState, frame: Frame, vessel: Vessel, posted: Posted) -> Result<Response, WebError> {
    let zone = zone(&state).await?;
    let read = read_pouring(&posted, &zone);
    let (poured_ul, into, at, remark, although) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "pour", &posted, errors).await,
    };
    let occasion = occasion(&state, &posted, at, with_although(remark, &although));
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::pour(tx, &occasion, vessel, into, poured_ul, &although).await?;
                let (words, now, actor) = (volume::in_words(poured_ul), occasion.recorded_at, occasion.actor);
                log(tx, now, actor, "poured into the container", Vessel::Container(into), &words).await?;
                log(tx, now, actor, "part poured out", vessel, &words).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "pour", &posted, written).await
}

/// The reason for going against an objection stands in the book.
pub(super) fn with_although(remark: String, although: &str) -> String {
    match (remark.is_empty(), although.is_empty()) {
        (_, true) => remark,
        (true, false) => format!("although it is not for this container: {although}"),
        (false, false) => format!("{remark}; although it is not for this container: {although}"),
    }
}

fn read_discharge(posted: &Posted, zone: &TimeZone) -> Result<(i64, Instant, String, String), FieldErrors> {
    let mut r = posted.reader();
    let (volume, at) = (volume_of(&mut r, "volume", 1), r.local_time("happened_at", zone));
    if r.raw("authority").is_empty() {
        r.wrong("authority", "must name the authority or permit that allowed it: without one it is not recorded");
    }
    let (authority, remark) = (r.text("authority", 0..=400), r.text("remark", 0..=400));
    r.finish((|| Some((volume?, at?, authority?, remark?)))())
}

/// A discharge that somebody else allowed.
pub(super) async fn discharge(
    state: AppState,
    frame: Frame,
    vessel: Vessel,
    posted: Posted,
) -> Result<Response, WebError> {
    let zone = zone(&state).await?;
    let read = read_discharge(&posted, &zone);
    let (let_go_ul, at, authority, remark) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "discharge", &posted, errors).await,
    };
    let (occasion, id) = (occasion(&state, &posted, at, remark), state.mint());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::discharge(tx, &occasion, id, vessel, let_go_ul, &authority).await?;
                let words = format!("{}, {}", volume::in_words(let_go_ul), MovementKind::Discharge.as_str());
                log(tx, occasion.recorded_at, occasion.actor, "discharge recorded", vessel, &words).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "discharge", &posted, written).await
}

/// A page that is shown again with its messages, or as it is.
pub(super) fn shown<T: askama::Template>(page: crate::web::page::Page<T>, refused: bool) -> Response {
    if refused { page.unprocessable().into_response() } else { page.into_response() }
}
