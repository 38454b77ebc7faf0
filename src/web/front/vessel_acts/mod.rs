//! What staff do with a batch and a waste container alike: measure, read, write off, pour a part,
//! record a discharge. The two pages differ; these forms and what they do are the same.

use axum::response::{IntoResponse, Response};
use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        baths::shortfall::Missing,
        book::Vessel,
        instant::Instant,
        measure::volume,
        people::actor::Actor,
        waste::{container::Contents, reading::Method},
    },
    store::{
        Error,
        baths::batches,
        book::movements::{Loss, Occasion},
        people::change_log,
        site::sites,
        waste::containers,
    },
    web::{
        kit::{error::WebError, form::Form, frame::Frame, state::AppState},
        request::posted::{Posted, Reader},
    },
};

mod answering;
mod levels;
mod pouring;
mod stated_range;

/// The handlers that a batch and a container have alike, for the ids of one of them.
macro_rules! handlers {
    ($id:ty, $vessel:path: $($act:ident),*) => {$(
        async fn $act(
            State(state): State<AppState>,
            frame: Frame,
            Path(id): Path<$id>,
            posted: Posted,
        ) -> Result<Response, WebError> {
            vessel_acts::$act(state, frame, $vessel(id), posted).await
        }
    )*};
}
pub(in crate::web::front) use handlers;

pub(in crate::web::front) use answering::{answer, show_again};
pub(in crate::web::front) use levels::{measure, read_missing, read_silver, write_off};
pub(in crate::web::front) use pouring::{discharge, pour, with_although};
pub(in crate::web::front) use stated_range::stated_range;

/// The forms of a page that has several: one as it was sent and refused, the others as they begin.
#[derive(Clone, Debug)]
pub(in crate::web::front) struct Acts {
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
    /// Where what is missing went.
    pub missing: Vec<(String, String)>,
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
            missing: std::iter::once((String::new(), "nothing, or no more than sheets carry off".to_owned()))
                .chain(Missing::ALL.into_iter().map(|missing| words(missing.as_str())))
                .collect(),
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

    /// Whether the person is an instructor: a discharge is written down by nobody else.
    pub fn is_instructor(&self) -> bool {
        self.frame.instructor()
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
pub(in crate::web::front) fn path_of(vessel: Vessel) -> String {
    match vessel {
        Vessel::Batch(id) => format!("/front/chemistry/batches/{id}"),
        Vessel::Container(id) => format!("/front/waste/containers/{id}"),
    }
}

/// The site's zone.
///
/// # Errors
/// When there is no site yet, or the database cannot be used.
pub(in crate::web::front) async fn zone(state: &AppState) -> Result<TimeZone, WebError> {
    let site = sites::find(&mut *state.store.read().await?).await?;
    Ok(site.ok_or(WebError::NotFound("the site"))?.zone)
}

/// A volume typed into a field, in microlitres.
pub(in crate::web::front) fn volume_of(r: &mut Reader<'_>, field: &str, low_ul: i64) -> Option<i64> {
    r.volume(field, None, low_ul..=volume::MOST_UL)
}

/// When and by whom something was done, as a form says.
pub(in crate::web::front) fn occasion(
    state: &AppState,
    posted: &Posted,
    happened_at: Instant,
    remark: String,
) -> Occasion {
    Occasion { movement: state.mint(), actor: posted.actor(), happened_at, recorded_at: posted.at(), remark }
}

/// A line of the change log about a vessel.
pub(in crate::web::front) async fn log(
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

/// A page that is shown again with its messages, or as it is.
pub(in crate::web::front) fn shown<T: askama::Template>(
    page: crate::web::kit::page::Page<T>,
    refused: bool,
) -> Response {
    if refused { page.unprocessable().into_response() } else { page.into_response() }
}
