//! `/front/waste/containers/{id}`: one container, what is in it and by when it must be gone.

use askama::Template;
use axum::{
    extract::{Path, RawQuery, State},
    response::Response,
};
use jiff::civil::Date;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        book::{self, Vessel},
        ids::ContainerId,
        instant::Instant,
        measure::{decimal, units::Units},
        site::{Site, site_waste::SiteWaste},
        waste::{
            container::{Container, Contents},
            held::beside_its_label,
            recovery::MEANS,
        },
    },
    drawing::level::Level,
    store::{
        Error, book as stored_book,
        people::change_log,
        site::{site_waste, sites},
        stock::papers,
        waste::{container_clocks, containers, deadlines::DeadlineSources, looks as look_store, removals},
    },
    web::kit::{
        access::Access,
        error::WebError,
        form::Form,
        frame::Frame,
        page::Page,
        routes::{Route, page},
        state::AppState,
    },
};

use super::{
    super::{
        book_words::{BookWords, EntriesPage, asked_before},
        chemistry::batch::{ReadingLine, reading_lines},
        vessel_acts::{Acts, shown},
    },
    DeadlineLine, day, deadline_lines, fill,
    limit::Limit,
    set_up::contents_to_choose,
    tag_of,
};

pub(super) fn routes() -> Vec<Route> {
    vec![page("/front/waste/containers/{id}", Access::Staff, show)]
}

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
    is_put_away: bool,
    never_used: bool,
    is_scrap: bool,
    takes_rinse: bool,
    papers: Vec<(String, String)>,
    means: Vec<(String, String)>,
    used: Vec<(String, String)>,
    wash: String,
    looks: Vec<LookLine>,
    /// The looks that stand: `(id, words)`.
    standing_looks: Vec<(String, String)>,
    /// Every time its clocks were set or taken back.
    marks: Vec<String>,
    /// What went into it beside what its label is for.
    beside: String,
    look_due: Option<(String, &'static str, &'static str)>,
    keep_until: String,
    fill: Level,
    holds: String,
    silver: String,
    concentration: String,
    /// Against the site's own limit for silver, where there is one.
    limit: Option<Limit>,
    facts: Vec<(&'static str, String)>,
    hazards: String,
    no_rules: bool,
    deadlines: Vec<DeadlineLine>,
    removal: Option<RemovalLines>,
    readings: Vec<ReadingLine>,
    book: EntriesPage,
    edit: Form,
    /// What it may be for, while nothing is in it.
    contents: Vec<(String, String)>,
}

struct LookLine {
    /// Why it was taken back; empty while it stands.
    taken_back: String,
    when: String,
    tag: &'static str,
    words: String,
    by: String,
    remark: String,
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

async fn show(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    page_of(&state, frame, id, None, asked_before(&query.unwrap_or_default())).await
}

/// The page, with one of its forms as it was sent and refused.
pub(in crate::web::front) async fn show_with(
    state: &AppState,
    frame: Frame,
    id: ContainerId,
    refused: Option<(&'static str, Form)>,
) -> Result<Response, WebError> {
    page_of(state, frame, id, refused, None).await
}

/// The page, its entries before a number.
async fn page_of(
    state: &AppState,
    frame: Frame,
    id: ContainerId,
    refused: Option<(&'static str, Form)>,
    before: Option<i64>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let container = containers::find(&mut conn, id).await?.ok_or(WebError::NotFound("this container"))?;
    let (vessel, now) = (Vessel::Container(id), state.now());
    let words = BookWords::find(&mut conn, &site.zone).await?;
    let entries = stored_book::list_of(&mut conn, vessel).await?;
    let holds = stored_book::balance(&mut conn, vessel).await?;
    let waste = site_waste::find(&mut conn, site.id).await?;
    let sources = DeadlineSources::find(&mut conn, &site).await?;
    let basis = book::basis_of(vessel, &entries);
    let (local_now, today) = (now.as_local_control(&site.zone), now.local(&site.zone).date());
    let acts = Acts::find(&mut conn, &frame, (vessel, container.version), local_now, refused).await?;
    let is_refused = acts.is_refused();
    let (looks, standing_looks) = look_lines(&mut conn, id, &site, &words).await?;
    let applied = sources.of(&mut conn, &container).await?;
    let limit = Limit::of(&container, holds, basis, &site);
    let page = Page::new(ContainerPage {
        name: container.title(),
        state: container.state().as_str(),
        tag: tag_of(container.state()),
        saved: saved(&mut conn, id, &site).await?,
        is_full: container.full_at().is_some(),
        is_removed: container.is_removed(),
        is_moved: container.moved_at().is_some(),
        is_empty: holds.is_nothing(),
        is_put_away: container.is_put_away(),
        never_used: container.first_drop_at.is_none() && !container.is_removed(),
        is_scrap: container.contents == Contents::Scrap,
        takes_rinse: matches!(container.contents, Contents::FirstRinse | Contents::SpentFixer | Contents::Mixed),
        papers: papers::list(&mut conn).await?.into_iter().map(|paper| (paper.id.to_string(), paper.name)).collect(),
        means: MEANS.iter().map(|means| ((*means).to_owned(), (*means).to_owned())).collect(),
        used: [("no", "not processed: holds all its silver"), ("yes", "processed: fixed and washed")]
            .map(|(value, words)| (value.to_owned(), words.to_owned()))
            .to_vec(),
        wash: book::written::grams(stored_book::wash_silver(&mut conn).await?),
        looks,
        standing_looks,
        marks: marks(&mut conn, id, &site, &words).await?,
        beside: beside_its_label(container.contents, &containers::list_held(&mut conn, id).await?).join(", "),
        look_due: look_due(crate::lab::waste::looks::due(&mut conn, &container, &site, &waste).await?, now, &site),
        keep_until: keep_until(&mut conn, &container, &site, &waste).await?,
        fill: fill(&container, holds.volume_ul, "fill".to_owned(), frame.units),
        holds: frame.units.volume(holds.volume_ul),
        silver: book::written::grams_if_known(holds.silver, basis),
        concentration: holds
            .ug_per_l()
            .map(|silver| book::written::grams_per_litre_if_known(silver, basis))
            .unwrap_or_default(),
        limit,
        facts: facts(&container, &site, frame.units),
        hazards: container.hazards.clone(),
        no_rules: sources.rules.is_empty(),
        deadlines: deadline_lines(applied, today),
        removal: removal_lines(&mut conn, &frame, &container, &site).await?,
        readings: reading_lines(&mut conn, vessel, &site).await?,
        book: words.page_of(&entries, before),
        edit: edit_form(&acts, &frame, &container),
        contents: if container.first_drop_at.is_none() { contents_to_choose() } else { Vec::new() },
        acts,
        frame,
    });
    Ok(shown(page, is_refused))
}

async fn look_lines(
    conn: &mut SqliteConnection,
    id: ContainerId,
    site: &Site,
    words: &BookWords,
) -> Result<(Vec<LookLine>, Vec<(String, String)>), Error> {
    let looks = look_store::list_of(conn, id).await?;
    let standing = looks.iter().filter(|look| look.taken_back.is_none());
    let standing = standing
        .map(|look| (look.id.to_string(), format!("{}, {}", look.looked_at.as_words(&site.zone), look.in_words())));
    let standing = standing.collect();
    let lines = looks.into_iter().map(|look| LookLine {
        when: look.looked_at.as_words(&site.zone),
        tag: match (&look.taken_back, look.is_good()) {
            (Some(_), _) => "closed",
            (None, true) => "use",
            (None, false) => "change",
        },
        words: look.in_words(),
        by: words.person(look.looked_by),
        remark: look.remark,
        taken_back: look.taken_back.map_or_else(String::new, |back| back.why),
    });
    Ok((lines.collect(), standing))
}

/// Every mark of its clocks, oldest first, in words.
async fn marks(
    conn: &mut SqliteConnection,
    id: ContainerId,
    site: &Site,
    words: &BookWords,
) -> Result<Vec<String>, Error> {
    let marks = container_clocks::list_of(conn, id).await?;
    Ok(marks
        .into_iter()
        .map(|mark| {
            let began = match mark.began_at {
                Some(at) => format!("{} since {}", mark.clock.as_str(), at.as_words(&site.zone)),
                None => format!("not {} after all", mark.clock.as_str()),
            };
            let written = mark.recorded_at.as_words(&site.zone);
            format!("{began}; written {written} by {}", words.person(mark.recorded_by))
        })
        .collect())
}

/// When somebody must look again: words, the class of a tag and its word.
fn look_due(due: Option<Date>, now: Instant, site: &Site) -> Option<(String, &'static str, &'static str)> {
    let (due, today) = (due?, now.local(&site.zone).date());
    let (tag, state) = if due < today { ("change", "overdue") } else { ("open", "not yet due") };
    Some((format!("somebody looks at it by {}", day(due)), tag, state))
}

/// Until when the papers of its removal are kept.
async fn keep_until(
    conn: &mut SqliteConnection,
    container: &Container,
    site: &Site,
    waste: &SiteWaste,
) -> Result<String, Error> {
    let Some(removal) = removals::find_of(conn, container.id).await? else { return Ok(String::new()) };
    let left = removal.removed_at.local(&site.zone).date();
    Ok(match waste.keep_until(left) {
        Some(until) => format!("until {} at least ({}), longer while anything is open", day(until), waste.keep_source),
        None => "how long is not entered: ask your safety office".to_owned(),
    })
}

async fn saved(conn: &mut SqliteConnection, id: ContainerId, site: &Site) -> Result<Option<String>, Error> {
    let last = change_log::list_of(conn, id).await?.pop();
    Ok(last.map(|change| format!("{}, {}", change.what, change.at.as_words(&site.zone))))
}

fn facts(container: &Container, site: &Site, units: Units) -> Vec<(&'static str, String)> {
    let or_not = |at: Option<Instant>, not: &str| at.map_or_else(|| not.to_owned(), |at| at.as_words(&site.zone));
    let entered = |text: &str, not: &str| if text.trim().is_empty() { not.to_owned() } else { text.to_owned() };
    let mut facts = vec![
        ("For", container.contents.in_words().to_owned()),
        ("Hazards", entered(&container.hazards, "not entered: the label cannot be printed")),
        ("Place", entered(&container.place, "not entered")),
        ("Takes", units.volume(container.capacity_ul)),
        ("Accumulation start", or_not(container.first_drop_at, "nothing in it yet")),
    ];
    if container.full_at().is_some() {
        facts.push(("Full", or_not(container.full_at(), "")));
    }
    if container.moved_at().is_some() {
        facts.push(("Moved", or_not(container.moved_at(), "")));
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
        ("To have its silver reclaimed", if removal.to_reclaim_silver { "yes" } else { "not said" }.to_owned()),
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
        ("capacity", frame.units.volume_typed(container.capacity_ul)),
    ];
    Form::filled(frame, container.version, values).prefixed("edit")
}
