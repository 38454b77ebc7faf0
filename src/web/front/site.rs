//! `/front/site`: what the site says of itself, and its own rules for waste.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;

use crate::{
    domain::{
        field_errors::FieldErrors,
        ids::{SiteId, SiteRuleId},
        instant::Instant,
        measure::decimal,
        site::{
            Site, position,
            site_rule::{Asks, PAST_VOLUME, RuleClock, SiteRule, Span},
        },
    },
    store::{
        Stale, WriteError,
        people::change_log,
        site::{site_rules, sites},
    },
    web::{
        kit::{
            access::{Access, Staff},
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            routes::{Route, change, page},
            state::AppState,
        },
        request::{
            posted::{Posted, Reader},
            takes::Takes,
        },
    },
};

use super::first_steps::{self, FirstSteps};

/// What an optional text says when nobody entered it.
const NOT_ENTERED: &str = "not entered: ask your safety office";

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/site", Access::Staff, show),
        page("/front/site/edit", Access::Instructor, edit),
        change("/front/site", Access::Instructor, save).taking(Takes::PILE),
        change("/front/site/rules", Access::Instructor, add_rule),
        change("/front/site/rules/{id}/end", Access::Instructor, end_rule),
    ]
}

#[derive(Template)]
#[template(path = "front/site.html")]
struct SitePage {
    frame: Frame,
    first_steps: FirstSteps,
    name: String,
    /// What it is, what it says, and whether somebody entered it.
    facts: Vec<(&'static str, String, bool)>,
    rules: Vec<RuleLine>,
    form: Form,
    clocks: Vec<(String, String)>,
    units: Vec<(String, String)>,
}

struct RuleLine {
    id: SiteRuleId,
    words: String,
    source: String,
    entered: String,
}

#[derive(Template)]
#[template(path = "front/site_edit.html")]
struct SiteEditPage {
    frame: Frame,
    first_steps: FirstSteps,
    is_new: bool,
    form: Form,
    zones: Vec<String>,
}

/// The site as it is, or the form to set it up.
async fn show(State(state): State<AppState>, frame: Frame, _staff: Staff) -> Result<Response, WebError> {
    let form = Form::empty(&frame);
    show_with(&state, frame, form).await.map(IntoResponse::into_response)
}

async fn show_with(state: &AppState, frame: Frame, form: Form) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let first_steps = first_steps::find(&mut conn).await?;
    let Some(site) = sites::find(&mut conn).await? else {
        return Ok(if frame.instructor() {
            let form = Form::empty(&frame);
            Page::new(SiteEditPage { frame, first_steps, is_new: true, form, zones: zone_names() }).into_response()
        } else {
            Page::new(super::home::NothingYet { frame, first_steps }).into_response()
        });
    };
    let rules = site_rules::list(&mut conn).await?;
    let refused = form.is_refused();
    let words = |words: &str| (words.to_owned(), words.to_owned());
    let page = Page::new(SitePage {
        first_steps,
        name: site.name.clone(),
        facts: facts(&site),
        rules: rules
            .into_iter()
            .map(|rule| RuleLine {
                id: rule.id,
                words: rule.in_words(),
                entered: rule.entered_at.as_words(&site.zone),
                source: rule.source,
            })
            .collect(),
        form: form.prefixed("rule"),
        clocks: RuleClock::ALL
            .into_iter()
            .map(|clock| (clock.as_str().to_owned(), clock.in_words().to_owned()))
            .chain([(PAST_VOLUME.to_owned(), "the day the waste here went past a volume".to_owned())])
            .collect(),
        units: vec![words("days"), words("months")],
        frame,
    });
    Ok(if refused { page.unprocessable().into_response() } else { page.into_response() })
}

fn facts(site: &Site) -> Vec<(&'static str, String, bool)> {
    let limit = match site.silver_limit_ug_per_l {
        Some(limit) => format!("{} mg/L ({})", decimal::written(limit, 3), site.silver_limit_source),
        None => String::new(),
    };
    [
        ("Place", &site.place),
        ("Time zone", &site.zone.iana_name().unwrap_or("UTC").to_owned()),
        (
            "Position",
            &site.position.map_or(String::new(), |position| {
                let height = match site.elevation_m {
                    // the sun is reckoned alike, whether nobody said or somebody typed 0
                    0 => "height above the sea not given, or 0 (reckoned as sea level)".to_owned(),
                    metres => format!("{metres} m above the sea"),
                };
                format!("{}, {height}", position::in_words(position))
            }),
        ),
        ("Emergency line", &site.emergency_line),
        ("Disposal contact", &site.disposal_contact),
        ("Title of waste labels", &site.waste_title),
        ("The site’s own silver limit", &limit),
    ]
    .into_iter()
    .map(|(name, value)| match value.as_str() {
        "" if name == "Place" => (name, "not entered".to_owned(), false),
        "" if name == "Position" => (name, "not entered: the sun’s height is not used".to_owned(), false),
        "" => (name, NOT_ENTERED.to_owned(), false),
        value => (name, value.to_owned(), true),
    })
    .collect()
}

/// The form, filled with the site as it is.
async fn edit(State(state): State<AppState>, frame: Frame) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let first_steps = first_steps::find(&mut conn).await?;
    let site = sites::find(&mut conn).await?;
    let form = match &site {
        None => Form::empty(&frame),
        Some(site) => Form::filled(
            &frame,
            site.version,
            [
                ("name", site.name.clone()),
                ("place", site.place.clone()),
                ("time_zone", site.zone.iana_name().unwrap_or("UTC").to_owned()),
                ("latitude", site.position.map_or(String::new(), |(latitude, _)| position::degrees(latitude))),
                ("longitude", site.position.map_or(String::new(), |(_, longitude)| position::degrees(longitude))),
                ("elevation", if site.elevation_m == 0 { String::new() } else { site.elevation_m.to_string() }),
                ("emergency_line", site.emergency_line.clone()),
                ("disposal_contact", site.disposal_contact.clone()),
                ("waste_title", site.waste_title.clone()),
                ("silver_limit", site.silver_limit_ug_per_l.map_or(String::new(), |limit| decimal::written(limit, 3))),
                ("silver_limit_source", site.silver_limit_source.clone()),
            ],
        ),
    };
    Ok(Page::new(SiteEditPage { frame, first_steps, is_new: site.is_none(), form, zones: zone_names() })
        .into_response())
}

/// Sets the site up, or stores it edited.
async fn save(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let id: SiteId = state.mint();
    let at = posted.at();
    let is_new = posted.version() == 0;
    let known = sites::find(&mut *state.store.read().await?).await?;
    let sent = match read(&posted, id, known.as_ref()) {
        Ok(sent) => sent,
        Err(errors) => {
            let first_steps = first_steps::find(&mut *state.store.read().await?).await?;
            let form = Form::refused(&posted, errors);
            let page = SiteEditPage { frame, first_steps, is_new, form, zones: zone_names() };
            return Ok(Page::new(page).unprocessable().into_response());
        }
    };
    let actor = posted.actor();
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let stored = sites::find(tx).await?;
                let what = match &stored {
                    None => {
                        sites::insert(tx, &sent, at).await?;
                        change_log::insert(tx, at, actor, "site set up", "site", sent.id, "").await?;
                        return Ok("/front/site".to_owned());
                    }
                    Some(stored) => Site { id: stored.id, ..sent },
                };
                if !sites::update(tx, &what).await? {
                    let stored = stored.as_ref().map_or(Vec::new(), described);
                    return Err(WriteError::Stale(Stale::between("the site", "/front/site", described(&what), stored)));
                }
                change_log::insert(tx, at, actor, "site edited", "site", what.id, "").await?;
                Ok("/front/site".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

fn read(posted: &Posted, id: SiteId, stored: Option<&Site>) -> Result<Site, FieldErrors> {
    let mut r = posted.reader();
    let name = r.text("name", 1..=120);
    let place = r.text("place", 0..=200);
    let zone = known_zone(r.raw("time_zone"));
    if zone.is_none() {
        let typed = r.raw("time_zone");
        r.wrong(
            "time_zone",
            if typed.is_empty() {
                "choose the time zone of the lab, for example America/Denver".to_owned()
            } else {
                let several = places_called(typed);
                if several.is_empty() {
                    format!("“{typed}” is no time zone of the list; choose one such as America/Denver")
                } else {
                    format!("“{typed}” may be {}: choose one", several.join(" or "))
                }
            },
        );
    }
    let position = read_position(&mut r);
    if let (Some(zone), Some(Some((_, longitude)))) = (&zone, position) {
        ask_back_longitude(&mut r, zone, (longitude, posted.at()), stored);
    }
    let elevation_m = if r.raw("elevation").is_empty() { Some(0) } else { r.whole("elevation", -500..=9000) };
    let emergency_line = r.text("emergency_line", 0..=200);
    let disposal_contact = r.text("disposal_contact", 0..=200);
    let waste_title = r.text("waste_title", 0..=120);
    let silver_limit = r.optional_decimal("silver_limit", 3, 1..=100_000_000);
    let silver_limit_source = r.text("silver_limit_source", 0..=200);
    if matches!(silver_limit, Some(Some(_))) && silver_limit_source.as_deref() == Some("") {
        r.wrong("silver_limit_source", "say where this limit comes from: a permit, a letter, a regulation");
    }
    let site = (|| {
        Some(Site {
            id,
            name: name?,
            place: place?,
            zone: zone?,
            position: position?,
            elevation_m: elevation_m?,
            disposal_contact: disposal_contact?,
            waste_title: waste_title?,
            emergency_line: emergency_line?,
            silver_limit_ug_per_l: silver_limit?,
            silver_limit_source: silver_limit_source?,
            version: posted.version(),
        })
    })();
    r.finish(site)
}

/// Asks back a longitude that does not go with the zone: 101.75 without its minus is in Asia. What the site has
/// already is right.
fn ask_back_longitude(r: &mut Reader<'_>, zone: &TimeZone, (longitude, now): (i64, Instant), stored: Option<&Site>) {
    let as_before = stored.is_some_and(|stored| {
        stored.position.is_some_and(|(_, known)| known == longitude) && stored.zone.iana_name() == zone.iana_name()
    });
    if !as_before && position::is_far_from_zone(longitude, zone, now) {
        let name = zone.iana_name().unwrap_or("the zone");
        let words = position::longitude_in_words(longitude);
        r.ask_back("longitude", format!("{words} is far from {name}: west of Greenwich it has a minus or a W"));
    }
}

/// `Some(None)` when neither was typed; one without the other is no position.
fn read_position(r: &mut Reader<'_>) -> Option<Option<(i64, i64)>> {
    let (latitude, longitude) = (r.raw("latitude"), r.raw("longitude"));
    if latitude.is_empty() && longitude.is_empty() {
        return Some(None);
    }
    let latitude = position::latitude(latitude).map_err(|error| r.wrong("latitude", error.to_string())).ok();
    let longitude = position::longitude(longitude).map_err(|error| r.wrong("longitude", error.to_string())).ok();
    Some(Some((latitude?, longitude?)))
}

fn known_zone(text: &str) -> Option<TimeZone> {
    let zone = |name: &str| TimeZone::get(name).ok().filter(|zone| zone.iana_name().is_some() && !zone.is_unknown());
    zone(text).or_else(|| match places_called(text).as_slice() {
        [only] => zone(only),
        _ => None,
    })
}

/// The zones whose place is so called: `Denver` is America/Denver.
fn places_called(text: &str) -> Vec<String> {
    let place = text.trim().replace(' ', "_");
    let called = |name: &String| name.rsplit('/').next().is_some_and(|last| last.eq_ignore_ascii_case(&place));
    if place.is_empty() { Vec::new() } else { zone_names().into_iter().filter(called).collect() }
}

/// The zones the list offers: places, and UTC.
fn zone_names() -> Vec<String> {
    let mut names: Vec<String> = jiff::tz::db()
        .available()
        .map(|name| name.as_str().to_owned())
        .filter(|name| name == "UTC" || (name.contains('/') && !name.starts_with("Etc/")))
        .collect();
    names.sort();
    names.dedup();
    names
}

fn described(site: &Site) -> Vec<(&'static str, String)> {
    let mut fields = vec![("Name", site.name.clone())];
    fields.extend(
        facts(site).into_iter().map(|(name, value, entered)| (name, if entered { value } else { String::new() })),
    );
    fields
}

/// What a rule asks: a span from a clock, or a volume with a span to come back below it.
fn read_asks(r: &mut Reader<'_>) -> Option<Asks> {
    let is_volume = r.raw("clock") == PAST_VOLUME;
    let span = if is_volume && r.raw("span").is_empty() {
        Some(None)
    } else {
        let number = r.whole("span", 1..=Span::LONGEST);
        let unit = r.choice("unit", |word| Some(word.to_owned()).filter(|word| word == "days" || word == "months"));
        (|| Some(Span::from_parts(number?, &unit?)))()
    };
    if is_volume {
        let volume_ul = r.volume("volume", None, 100_000..=100_000_000_000);
        return Some(Asks::AtMost { volume_ul: volume_ul?, within: span? });
    }
    let clock = r.choice("clock", RuleClock::from_word);
    if !r.raw("volume").is_empty() {
        r.wrong("volume", "belongs to a rule that counts from a volume: leave it empty, or choose that one");
    }
    Some(Asks::GoneWithin { clock: clock?, span: span?? })
}

/// Enters a removal rule.
async fn add_rule(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let id: SiteRuleId = state.mint();
    let mut r = posted.reader();
    let asks = read_asks(&mut r);
    let source = r.text("source", 1..=400);
    let or_next_visit = posted.ticked("or_next_visit");
    if or_next_visit && matches!(asks, Some(Asks::AtMost { within: None, .. })) {
        r.wrong("or_next_visit", "belongs to a rule with a term: a limit without one gives no time");
    }
    let (asks, source) = match r.finish(asks.zip(source)) {
        Ok(read) => read,
        Err(errors) => return show_with(&state, frame, Form::refused(&posted, errors)).await,
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let site = sites::find(tx).await?.ok_or(WriteError::Missing("the site"))?;
                let by = actor.person().ok_or(WriteError::Forbidden("only an instructor enters rules"))?;
                let rule = SiteRule { id, site: site.id, asks, or_next_visit, source, entered_at: at };
                site_rules::insert(tx, &rule, by).await?;
                change_log::insert(tx, at, actor, "removal rule entered", "site_rule", id, &rule.in_words()).await?;
                Ok("/front/site".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

/// Ends a removal rule; it stays on record.
async fn end_rule(
    State(state): State<AppState>,
    Path(id): Path<SiteRuleId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let rule = site_rules::find(tx, id).await?.ok_or(WriteError::Missing("this rule"))?;
                site_rules::end(tx, id, at).await?;
                change_log::insert(tx, at, actor, "removal rule ended", "site_rule", id, &rule.in_words()).await?;
                Ok("/front/site".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}
