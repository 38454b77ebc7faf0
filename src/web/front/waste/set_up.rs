//! `/front/waste/containers/new`: a container is set up, with what stands in it already.

use askama::Template;
use axum::{extract::State, response::Response};

use crate::{
    domain::{
        book::Vessel,
        field_errors::FieldErrors,
        instant::Instant,
        site::Site,
        waste::{
            container::{Container, Contents, Life},
            opening::{Opening, OpeningSilver},
        },
    },
    store::{WriteError, book::movements, site::sites},
    web::{
        kit::{
            access::Access,
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            routes::{Route, change, page},
            state::AppState,
        },
        request::posted::{Posted, Reader},
    },
};

use super::super::vessel_acts::{log, occasion, path_of, shown, stated_range, volume_of, zone};

pub(super) fn routes() -> Vec<Route> {
    vec![
        page("/front/waste/containers/new", Access::Staff, new),
        change("/front/waste/containers", Access::Staff, create),
    ]
}

#[derive(Template)]
#[template(path = "front/container_new.html")]
struct NewContainerPage {
    frame: Frame,
    form: Form,
    contents: Vec<(String, String)>,
}

fn new_page(frame: Frame, form: Form) -> Page<NewContainerPage> {
    Page::new(NewContainerPage { frame, form, contents: contents_to_choose() })
}

/// What a container may be for: `(value, words)`.
pub(super) fn contents_to_choose() -> Vec<(String, String)> {
    Contents::ALL.into_iter().map(|one| (one.as_str().to_owned(), one.in_words().to_owned())).collect()
}

async fn new(State(state): State<AppState>, frame: Frame) -> Result<Response, WebError> {
    zone(&state).await?;
    let form = Form::filled(&frame, 0, [("contents", "spent fixer".to_owned())]);
    Ok(shown(new_page(frame, form), false))
}

/// A new container, what stands in it already, and when its first drop went in.
struct Begun {
    container: Container,
    already: Option<Opening>,
    since: Instant,
}

/// The hazards, which the label needs.
pub(super) fn read_hazards(r: &mut Reader<'_>) -> Option<String> {
    if r.raw("hazards").trim().is_empty() {
        r.wrong(
            "hazards",
            "must be said, since the label needs them: ask your safety office, or read the safety data sheet",
        );
        return None;
    }
    r.lines("hazards", 1..=600)
}

fn read_new(state: &AppState, site: &Site, posted: &Posted) -> Result<Begun, FieldErrors> {
    let mut r = posted.reader();
    let contents = r.choice("contents", Contents::from_word);
    let (hazards, place) = (read_hazards(&mut r), r.text("place", 0..=200));
    let capacity = volume_of(&mut r, "capacity", 100_000);
    let already = if r.raw("already").is_empty() { Some(0) } else { volume_of(&mut r, "already", 1) };
    let silver = opening_silver(&mut r, posted.ticked("silver_unknown"), already);
    let since = if r.raw("since").is_empty() { Some(posted.at()) } else { r.local_time("since", &site.zone) };
    if already == Some(0) && (!r.raw("silver").is_empty() || posted.ticked("silver_unknown")) {
        r.wrong("already", "must say how much liquid holds that silver");
    }
    if matches!((already, capacity), (Some(already), Some(capacity)) if already > capacity) {
        r.wrong("already", "must not be more than the container takes");
    }
    if already.is_some_and(|already| already > 0) && r.raw("since").is_empty() {
        r.wrong("since", "must say when the first drop went in: its deadlines count from then");
    }
    if since.is_some_and(|since| since > posted.at()) {
        r.wrong("since", "must not lie in the future");
    }
    let begun = || {
        Some(Begun {
            container: Container {
                id: state.mint(),
                site: site.id,
                label_number: 0,
                contents: contents?,
                hazards: hazards?,
                place: place?,
                capacity_ul: capacity?,
                life: Life::NEW,
                first_drop_at: None,
                version: 1,
            },
            already: match (already?, silver?) {
                (0, _) | (_, None) => None,
                (volume_ul, Some(silver)) => Some(Opening { volume_ul, silver }),
            },
            since: since?,
        })
    };
    let begun = begun();
    r.finish(begun)
}

/// The silver of an old container: stated with its range in grams, or said not to be known; nothing is
/// asked of an empty one.
fn opening_silver(r: &mut Reader<'_>, unknown: bool, already: Option<i64>) -> Option<Option<OpeningSilver>> {
    let typed = ["silver", "low", "high"].iter().any(|field| !r.raw(field).is_empty());
    if already == Some(0) && !typed {
        return Some(None);
    }
    match (unknown, typed) {
        (true, false) => Some(Some(OpeningSilver::Unknown)),
        (true, true) => {
            r.wrong("silver_unknown", "says the opposite of the figures above: leave one of them out");
            None
        }
        (false, true) => stated_range(r, 1_000_000_000).map(|silver| Some(OpeningSilver::Stated(silver))),
        (false, false) => {
            r.wrong("silver", "must be given with its range; if nobody knows it, tick that it is not known");
            None
        }
    }
}

async fn create(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let site = sites::find(&mut *state.store.read().await?).await?.ok_or(WebError::NotFound("the site"))?;
    let Begun { container, already, since } = match read_new(&state, &site, &posted) {
        Ok(begun) => begun,
        Err(errors) => return Ok(shown(new_page(frame, Form::refused(&posted, errors)), true)),
    };
    let occasion = occasion(&state, &posted, since, String::new());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let container = movements::set_up(tx, &occasion, &container, already).await?;
                let (vessel, name) = (Vessel::Container(container.id), container.name());
                log(tx, occasion.recorded_at, occasion.actor, "container set up", vessel, &name).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => Ok(shown(new_page(frame, Form::refused(&posted, errors)), true)),
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
