//! `/front/waste/containers/{id}`: one container, from its first drop to its removal.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::Response,
};
use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        book::{Amount, Silver, Vessel},
        container::{Container, ContainerState, Contents},
        decimal,
        field_errors::FieldErrors,
        ids::ContainerId,
        instant::Instant,
        removal::Removal,
        site::Site,
        volume,
    },
    drawing::level::Level,
    store::{
        Error, Stale, WriteError, book as stored_book, change_log, containers,
        movements::{self, Occasion},
        removals, site_rules, sites,
    },
    web::{
        access::Access,
        error::WebError,
        form::Form,
        frame::Frame,
        page::{Page, see_other},
        posted::{Posted, Reader},
        routes::{Route, change, page},
        state::AppState,
    },
};

use super::{
    super::{
        book_words::{self, BookWords, EntryLine},
        chemistry::batch::{ReadingLine, reading_lines},
        vessel_acts::{self, Acts, answer, log, occasion, path_of, show_again, shown, volume_of, zone},
    },
    DeadlineLine, day, deadline_lines, fill, tag_of,
};

pub(super) fn routes() -> Vec<Route> {
    vec![
        page("/front/waste/containers/new", Access::Staff, new),
        change("/front/waste/containers", Access::Staff, create),
        page("/front/waste/containers/{id}", Access::Staff, show),
        change("/front/waste/containers/{id}/edit", Access::Staff, edit),
        change("/front/waste/containers/{id}/full", Access::Staff, mark_full),
        change("/front/waste/containers/{id}/moved", Access::Staff, mark_moved),
        change("/front/waste/containers/{id}/measure", Access::Staff, measure),
        change("/front/waste/containers/{id}/reading", Access::Staff, read_silver),
        change("/front/waste/containers/{id}/write-off", Access::Staff, write_off),
        change("/front/waste/containers/{id}/pour", Access::Staff, pour),
        change("/front/waste/containers/{id}/discharge", Access::Staff, discharge),
        change("/front/waste/containers/{id}/recover", Access::Staff, recover),
        change("/front/waste/containers/{id}/remove", Access::Staff, remove),
        change("/front/waste/containers/{id}/copy-returned", Access::Staff, copy_returned),
    ]
}

// ---------------------------------------------------------------- a new one

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

fn contents_to_choose() -> Vec<(String, String)> {
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
    already: Amount,
    since: Instant,
}

fn read_new(state: &AppState, site: &Site, posted: &Posted) -> Result<Begun, FieldErrors> {
    let mut r = posted.reader();
    let contents = r.choice("contents", Contents::from_word);
    let (hazards, place) = (r.lines("hazards", 0..=600), r.text("place", 0..=200));
    let capacity = volume_of(&mut r, "capacity", 100_000);
    let already = if r.raw("already").is_empty() { Some(0) } else { volume_of(&mut r, "already", 1) };
    let silver = stated_silver(&mut r);
    let since = if r.raw("since").is_empty() { Some(posted.at()) } else { r.local_time("since", &site.zone) };
    if already == Some(0) && silver.is_some_and(|silver| !silver.is_none()) {
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
                state: ContainerState::Filling,
                first_drop_at: None,
                full_at: None,
                moved_at: None,
                version: 1,
            },
            already: Amount { volume_ul: already?, silver: silver? },
            since: since?,
        })
    };
    let begun = begun();
    r.finish(begun)
}

/// Silver that somebody states of an old container, in grams; nothing stated is none.
fn stated_silver(r: &mut Reader<'_>) -> Option<Silver> {
    let most = 1_000_000_000;
    let best = r.optional_decimal("silver", 6, 0..=most)?;
    let (low, high) = (r.optional_decimal("low", 6, 0..=most)?, r.optional_decimal("high", 6, 0..=most)?);
    let best = best.unwrap_or(0);
    let silver = Silver { best_ug: best, low_ug: low.unwrap_or(best), high_ug: high.unwrap_or(best) };
    if silver.low_ug > best {
        r.wrong("low", "must not be more than the best estimate");
    }
    if silver.high_ug < best {
        r.wrong("high", "must not be less than the best estimate");
    }
    Some(silver)
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

// ---------------------------------------------------------------- its page

#[derive(Template)]
#[template(path = "front/container.html")]
struct ContainerPage {
    frame: Frame,
    acts: Acts,
    name: String,
    state: &'static str,
    tag: &'static str,
    saved: Option<String>,
    is_full: bool,
    is_removed: bool,
    is_moved: bool,
    is_empty: bool,
    fill: Level,
    holds: String,
    silver: String,
    concentration: String,
    site_limit: String,
    facts: Vec<(&'static str, String)>,
    hazards: String,
    no_rules: bool,
    deadlines: Vec<DeadlineLine>,
    removal: Option<RemovalLines>,
    readings: Vec<ReadingLine>,
    entries: Vec<EntryLine>,
    edit: Form,
    /// What it may be for, while nothing is in it.
    contents: Vec<(String, String)>,
}

struct RemovalLines {
    facts: Vec<(&'static str, String)>,
    copy_returned: Option<String>,
    begun: Form,
}

impl RemovalLines {
    /// The form for the day the copy came back: as it was refused, or as it begins.
    fn form(&self, acts: &Acts) -> Form {
        if acts.open("copy-returned") { acts.form("copy-returned") } else { self.begun.clone() }
    }
}

async fn show(State(state): State<AppState>, frame: Frame, Path(id): Path<ContainerId>) -> Result<Response, WebError> {
    show_with(&state, frame, id, None).await
}

/// The page, with one of its forms as it was sent and refused.
pub(in crate::web::front) async fn show_with(
    state: &AppState,
    frame: Frame,
    id: ContainerId,
    refused: Option<(&'static str, Form)>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let container = containers::find(&mut conn, id).await?.ok_or(WebError::NotFound("this container"))?;
    let (vessel, now) = (Vessel::Container(id), state.now());
    let words = BookWords::find(&mut conn, &site.zone).await?;
    let entries = stored_book::list_of(&mut conn, vessel).await?;
    let holds = stored_book::balance(&mut conn, vessel).await?;
    let rules = site_rules::list(&mut conn).await?;
    let local_now = now.as_local_control(&site.zone);
    let acts = Acts::find(&mut conn, &frame, (vessel, container.version), local_now, refused).await?;
    let is_refused = acts.is_refused();
    let page = Page::new(ContainerPage {
        name: container.title(),
        state: container.state.as_str(),
        tag: tag_of(container.state),
        saved: saved(&mut conn, id, &site).await?,
        is_full: container.full_at.is_some(),
        is_removed: container.is_removed(),
        is_moved: container.moved_at.is_some(),
        is_empty: holds.is_nothing(),
        fill: fill(&container, holds.volume_ul, "fill".to_owned()),
        holds: volume::in_words(holds.volume_ul),
        silver: book_words::silver(holds.silver),
        concentration: holds.ug_per_l().map(book_words::concentration).unwrap_or_default(),
        site_limit: against_limit(holds, &site),
        facts: facts(&container, &site),
        hazards: container.hazards.clone(),
        no_rules: rules.is_empty(),
        deadlines: deadline_lines(&container, &rules, &site, now),
        removal: removal_lines(&mut conn, &frame, &container, &site).await?,
        readings: reading_lines(&mut conn, vessel, &site).await?,
        entries: words.lines(&entries, &book_words::reversed_by(&entries)),
        edit: edit_form(&acts, &frame, &container),
        contents: if container.first_drop_at.is_none() { contents_to_choose() } else { Vec::new() },
        acts,
        frame,
    });
    Ok(shown(page, is_refused))
}

async fn saved(conn: &mut SqliteConnection, id: ContainerId, site: &Site) -> Result<Option<String>, Error> {
    let last = change_log::list_of(conn, id).await?.pop();
    Ok(last.map(|change| format!("{}, {}", change.what, change.at.as_words(&site.zone))))
}

/// The book's high estimate against the site's own limit: it can warn, never clear.
fn against_limit(holds: Amount, site: &Site) -> String {
    let (Some(limit), Some(silver)) = (site.silver_limit_ug_per_l, holds.ug_per_l()) else {
        return String::new();
    };
    let limit_words = format!("the site’s limit of {} mg/L", decimal::written(limit, 3));
    if silver.high_ug >= limit {
        format!("By the high estimate at or above {limit_words} ({}).", site.silver_limit_source)
    } else {
        format!("An estimate below {limit_words} shows nothing: only a laboratory’s result can.")
    }
}

fn facts(container: &Container, site: &Site) -> Vec<(&'static str, String)> {
    let or_not = |at: Option<Instant>, not: &str| at.map_or_else(|| not.to_owned(), |at| at.as_words(&site.zone));
    let entered = |text: &str, not: &str| if text.trim().is_empty() { not.to_owned() } else { text.to_owned() };
    let mut facts = vec![
        ("For", container.contents.in_words().to_owned()),
        ("Hazards", entered(&container.hazards, "not entered: the label cannot be printed")),
        ("Place", entered(&container.place, "not entered")),
        ("Takes", volume::in_words(container.capacity_ul)),
        ("Accumulation start", or_not(container.first_drop_at, "nothing in it yet")),
    ];
    if container.full_at.is_some() {
        facts.push(("Full", or_not(container.full_at, "")));
    }
    if container.moved_at.is_some() {
        facts.push(("Moved", or_not(container.moved_at, "")));
    }
    facts
}

async fn removal_lines(
    conn: &mut SqliteConnection,
    frame: &Frame,
    container: &Container,
    site: &Site,
) -> Result<Option<RemovalLines>, Error> {
    let Some(removal) = removals::find_of(conn, container.id).await? else { return Ok(None) };
    let mut facts = vec![
        ("Removed", removal.removed_at.as_words(&site.zone)),
        ("Carrier", removal.carrier),
        ("Destination", removal.destination),
        ("Reference", removal.reference),
    ];
    if let Some(mass_g) = removal.mass_g {
        facts.push(("Mass", format!("{} kg", decimal::written(mass_g, 3))));
    }
    let copy_returned = removal.copy_returned_on.map(day);
    let begun = Form::filled(frame, removal.version, []).prefixed("copy-returned");
    Ok(Some(RemovalLines { facts, copy_returned, begun }))
}

fn edit_form(acts: &Acts, frame: &Frame, container: &Container) -> Form {
    if acts.open("edit") {
        return acts.form("edit");
    }
    let values = [
        ("contents", container.contents.as_str().to_owned()),
        ("hazards", container.hazards.clone()),
        ("place", container.place.clone()),
        ("capacity", volume::millilitres(container.capacity_ul)),
    ];
    Form::filled(frame, container.version, values).prefixed("edit")
}

// ---------------------------------------------------------------- what is done with it

/// Loads a container of a version and stores it changed; stale when somebody else was first.
async fn change_of(
    tx: &mut SqliteConnection,
    (id, version): (ContainerId, i64),
    to: impl FnOnce(Container) -> Result<Container, WriteError>,
) -> Result<(), WriteError> {
    let stored = containers::find(tx, id).await?.ok_or(WriteError::Missing("this container"))?;
    if stored.is_removed() {
        return Err(FieldErrors::whole("it was removed: nothing about it changes any more").into());
    }
    let sent = Container { version, ..to(stored.clone())? };
    if !containers::update(tx, &sent).await? {
        let path = path_of(Vessel::Container(id));
        return Err(WriteError::Stale(Stale::between(stored.name(), path, described(&sent), described(&stored))));
    }
    Ok(())
}

fn described(container: &Container) -> Vec<(&'static str, String)> {
    vec![
        ("State", container.state.as_str().to_owned()),
        ("For", container.contents.in_words().to_owned()),
        ("Hazards", container.hazards.clone()),
        ("Place", container.place.clone()),
        ("Takes", volume::in_words(container.capacity_ul)),
        ("Moved", if container.moved_at.is_some() { "yes" } else { "no" }.to_owned()),
    ]
}

async fn edit(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let vessel = Vessel::Container(id);
    let mut r = posted.reader();
    let (hazards, place) = (r.lines("hazards", 0..=600), r.text("place", 0..=200));
    let capacity = volume_of(&mut r, "capacity", 100_000);
    // asked for only while nothing is in it
    let contents =
        if r.raw("contents").is_empty() { Some(None) } else { r.choice("contents", Contents::from_word).map(Some) };
    let read = r.finish((|| Some((hazards?, place?, capacity?, contents?)))());
    let (hazards, place, capacity_ul, contents) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "edit", &posted, errors).await,
    };
    let (version, now, actor) = (posted.version(), posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let changed = move |stored: Container| {
                    let contents = match (contents, stored.first_drop_at) {
                        (Some(contents), Some(_)) if contents != stored.contents => {
                            let words = "stays as it is: something is in it already";
                            return Err(FieldErrors::one("contents", words).into());
                        }
                        (contents, _) => contents.unwrap_or(stored.contents),
                    };
                    Ok(Container { contents, hazards, place, capacity_ul, ..stored })
                };
                change_of(tx, (id, version), changed).await?;
                log(tx, now, actor, "container edited", vessel, "").await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "edit", &posted, written).await
}

/// Full, or by mistake not.
async fn mark_full(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    mark(state, frame, (id, "full"), posted, |stored, at| Container {
        state: if at.is_some() { ContainerState::Full } else { ContainerState::Filling },
        full_at: at,
        ..stored
    })
    .await
}

/// Moved to where containers are collected, or by mistake not.
async fn mark_moved(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    mark(state, frame, (id, "moved"), posted, |stored, at| Container { moved_at: at, ..stored }).await
}

async fn mark(
    state: AppState,
    frame: Frame,
    (id, act): (ContainerId, &'static str),
    posted: Posted,
    set: fn(Container, Option<Instant>) -> Container,
) -> Result<Response, WebError> {
    let (zone, vessel) = (zone(&state).await?, Vessel::Container(id));
    let back = posted.ticked("not");
    let mut r = posted.reader();
    let at = if back { Some(None) } else { r.local_time("happened_at", &zone).map(Some) };
    if at.flatten().is_some_and(|at| at > posted.at()) {
        r.wrong("happened_at", "must not lie in the future");
    }
    let at = match r.finish(at) {
        Ok(at) => at,
        Err(errors) => return show_again(&state, frame, vessel, act, &posted, errors).await,
    };
    let (version, now, actor) = (posted.version(), posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let set = move |stored: Container| {
                    if let (Some(at), Some(first)) = (at, stored.first_drop_at)
                        && at.plus_minutes(1) < first
                    {
                        let words = "must not lie before the first drop";
                        return Err(FieldErrors::one("happened_at", words).into());
                    }
                    Ok(set(stored, at))
                };
                change_of(tx, (id, version), set).await?;
                let what = match (act, at.is_some()) {
                    ("full", true) => "container full",
                    ("full", false) => "container not full after all",
                    (_, true) => "container moved",
                    (_, false) => "container not moved after all",
                };
                log(tx, now, actor, what, vessel, "").await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, act, &posted, written).await
}

fn read_recovery(posted: &Posted, zone: &TimeZone) -> Result<(i64, Instant, String), FieldErrors> {
    let mut r = posted.reader();
    let silver = r.decimal("silver", 6, 1..=1_000_000_000);
    let (at, remark) = (r.local_time("happened_at", zone), r.text("remark", 0..=400));
    r.finish((|| Some((silver?, at?, remark?)))())
}

async fn recover(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (zone, vessel) = (zone(&state).await?, Vessel::Container(id));
    let read = read_recovery(&posted, &zone);
    let (silver_ug, at, remark) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "recover", &posted, errors).await,
    };
    let occasion = occasion(&state, &posted, at, remark);
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::recover(tx, &occasion, id, silver_ug).await?;
                let words = format!("{} g", decimal::written(silver_ug, 6));
                log(tx, occasion.recorded_at, occasion.actor, "silver recovered", vessel, &words).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "recover", &posted, written).await
}

fn read_removal(
    state: &AppState,
    id: ContainerId,
    posted: &Posted,
    zone: &TimeZone,
) -> Result<(Removal, Occasion), FieldErrors> {
    let mut r = posted.reader();
    let (carrier, destination) = (r.text("carrier", 1..=200), r.text("destination", 1..=200));
    let reference = r.text("reference", 1..=200);
    let mass_g = r.optional_decimal("mass", 3, 1..=10_000_000);
    let (at, remark) = (r.local_time("happened_at", zone), r.text("remark", 0..=400));
    let removal = || {
        let happened: Occasion = occasion(state, posted, at?, remark?);
        Some((
            Removal {
                id: state.mint(),
                movement: happened.movement,
                container: id,
                carrier: carrier?,
                destination: destination?,
                reference: reference?,
                mass_g: mass_g?,
                removed_at: happened.happened_at,
                copy_returned_on: None,
                undone_at: None,
                version: 1,
            },
            happened,
        ))
    };
    let removal = removal();
    r.finish(removal)
}

async fn remove(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (zone, vessel) = (zone(&state).await?, Vessel::Container(id));
    let read = read_removal(&state, id, &posted, &zone);
    let (removal, occasion) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "remove", &posted, errors).await,
    };
    let version = posted.version();
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::remove(tx, &occasion, version, &removal).await?;
                log(tx, occasion.recorded_at, occasion.actor, "container removed", vessel, &removal.reference).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "remove", &posted, written).await
}

async fn copy_returned(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let vessel = Vessel::Container(id);
    let mut r = posted.reader();
    let on = r.date("on");
    let on = match r.finish(on) {
        Ok(on) => on,
        Err(errors) => return show_again(&state, frame, vessel, "copy-returned", &posted, errors).await,
    };
    let (version, now, actor) = (posted.version(), posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let removal = removals::find_of(tx, id).await?.ok_or(WriteError::Missing("this removal"))?;
                if !removals::update_copy_returned(tx, removal.id, version, on).await? {
                    let stored = removal.copy_returned_on.map_or_else(|| "not yet".to_owned(), day);
                    let fields = |value: String| vec![("Signed copy came back", value)];
                    let stale = Stale::between("the removal", path_of(vessel), fields(day(on)), fields(stored));
                    return Err(WriteError::Stale(stale));
                }
                log(tx, now, actor, "signed copy came back", vessel, &on.to_string()).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "copy-returned", &posted, written).await
}

async fn measure(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    vessel_acts::measure(state, frame, Vessel::Container(id), posted).await
}

async fn read_silver(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    vessel_acts::read_silver(state, frame, Vessel::Container(id), posted).await
}

async fn write_off(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    vessel_acts::write_off(state, frame, Vessel::Container(id), posted).await
}

async fn pour(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    vessel_acts::pour(state, frame, Vessel::Container(id), posted).await
}

async fn discharge(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    vessel_acts::discharge(state, frame, Vessel::Container(id), posted).await
}
