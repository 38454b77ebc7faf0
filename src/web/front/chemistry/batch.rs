//! `/front/chemistry/batches/{id}`: one batch, what went through it, what it holds.

use askama::Template;
use axum::{
    extract::{Path, RawQuery, State},
    response::Response,
};
use sqlx::SqliteConnection;

use crate::{
    calc::working::{figures, plain, seconds_text},
    domain::{
        baths::{
            batch::{Batch, BatchState},
            binding_limit::Limits,
            condition::{Load, condition},
            time_today::times_today,
        },
        book::{self, Amount, Silver, Vessel, course, written},
        field_errors::FieldErrors,
        ids::{BatchId, PaperId},
        instant::Instant,
        measure::units::Units,
        site::Site,
        stock::{
            paper::PaperBase,
            product::{Product, ProductKind, Times},
        },
    },
    drawing::level::Level,
    store::{
        Error,
        baths::{batches, clearing_tests, tray_lines, tray_slots},
        book as stored_book,
        people::change_log,
        site::sites,
        stock::{papers, products},
        waste::readings,
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
        vessel_acts::{Acts, shown},
    },
    clearing_line::{self, ClearingLine},
    mixing::{self, Amounts},
    tray_places,
};

pub(super) fn routes() -> Vec<Route> {
    vec![page("/front/chemistry/batches/{id}", Access::Staff, show)]
}

#[derive(Template)]
#[template(path = "front/batch.html")]
struct BatchPage {
    frame: Frame,
    acts: Acts,
    name: String,
    saved: Option<String>,
    in_use: bool,
    fixer: bool,
    advice: &'static str,
    reasons: Vec<String>,
    used: Option<Level>,
    used_working: String,
    holds: String,
    silver: String,
    concentration: String,
    basis: &'static str,
    facts: Vec<(&'static str, String)>,
    amounts: Option<Amounts>,
    water: &'static str,
    in_tray: bool,
    places: Vec<(String, String)>,
    additions: Vec<(String, String)>,
    carry_over: Vec<(PaperId, String, String)>,
    readings: Vec<ReadingLine>,
    book: EntriesPage,
    times: TimesToday,
    label_ready: bool,
    clearing: Vec<ClearingLine>,
    binds: Vec<(String, String)>,
}

/// How long things stay in it at today's temperature.
struct TimesToday {
    form: Form,
    refused: bool,
    /// At which temperature, in words.
    at: String,
    /// Base, time, why.
    lines: Vec<(&'static str, String, String)>,
}

impl TimesToday {
    /// At the temperature typed, or at the label's.
    fn of(frame: &Frame, batch: &Batch, product: Option<&Product>, now_c: Option<String>) -> Self {
        let times = product.map_or(Times::NONE, |product| product.times);
        let label = times.at_milli_c.unwrap_or(20_000);
        let units = frame.units;
        let typed = now_c.unwrap_or_else(|| units.degrees(label));
        let mut errors = FieldErrors::none();
        let now = units.read_temperature(&typed).map_err(|error| errors.add("now_c", error.to_string())).ok();
        let lines = times_today(batch.kind, &times, now.unwrap_or(label))
            .into_iter()
            .map(|time| (time.base.in_words(), seconds_text(time.today_s), time.why));
        Self {
            lines: lines.collect(),
            at: units.temperature(now.unwrap_or(label)),
            refused: !errors.is_empty(),
            form: Form::filled(frame, 0, [("now_c", typed)]).with_errors(errors).prefixed("today"),
        }
    }
}

/// A reading beside the estimate it replaced.
pub(in crate::web::front) struct ReadingLine {
    pub when: String,
    pub method: &'static str,
    pub read: String,
    pub estimate: String,
    pub standing: bool,
}

async fn show(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<BatchId>,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let query = query.unwrap_or_default();
    let typed = form_urlencoded::parse(query.as_bytes()).find(|(name, _)| name == "now_c");
    let asked = Asked { now_c: typed.map(|(_, value)| value.trim().to_owned()), before: asked_before(&query) };
    page_of(&state, frame, id, None, asked).await
}

/// The page, with one of its forms as it was sent and refused.
pub(in crate::web::front) async fn show_with(
    state: &AppState,
    frame: Frame,
    id: BatchId,
    refused: Option<(&'static str, Form)>,
) -> Result<Response, WebError> {
    page_of(state, frame, id, refused, Asked::default()).await
}

/// What the address asks for.
#[derive(Default)]
struct Asked {
    /// Today's temperature as somebody typed it.
    now_c: Option<String>,
    /// Entries older than this one.
    before: Option<i64>,
}

/// The page.
async fn page_of(
    state: &AppState,
    frame: Frame,
    id: BatchId,
    refused: Option<(&'static str, Form)>,
    asked: Asked,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let batch = batches::find(&mut conn, id).await?.ok_or(WebError::NotFound("this batch"))?;
    let (vessel, now) = (Vessel::Batch(id), state.now());
    let load = batches::load(&mut conn, id).await?;
    let judged = condition(&batch, &load, now);
    let words = BookWords::find(&mut conn, &site.zone).await?;
    let entries = stored_book::list_of(&mut conn, vessel).await?;
    let stays = tray_slots::list_of_batch(&mut conn, id).await?;
    let trays = tray_lines::list(&mut conn).await?;
    let product = products::find(&mut conn, batch.product).await?;
    let held = if batch.in_use() { load.holds } else { load.retired };
    let acts =
        Acts::find(&mut conn, &frame, (vessel, batch.version), now.as_local_control(&site.zone), refused).await?;
    let times = TimesToday::of(&frame, &batch, product.as_ref(), asked.now_c);
    let is_refused = acts.is_refused() || times.refused;
    let clearing = clearing_tests::list_of(&mut conn, id).await?;
    let page = Page::new(BatchPage {
        times,
        label_ready: product.as_ref().is_some_and(|product| !product.hazards.trim().is_empty()),
        clearing: clearing.iter().map(|test| clearing_line::line(test, &site)).collect(),
        binds: binds(&mut conn, product.as_ref()).await?,
        name: batch.title(),
        saved: saved(&mut conn, id, &site).await?,
        in_use: batch.in_use(),
        fixer: batch.kind == ProductKind::Fixer,
        advice: judged.advice.as_str(),
        reasons: judged.reasons,
        used: judged.used_share.map(|share| Level::of("used", share, "Capacity used", "its capacity")),
        used_working: used_working(&batch, &load).unwrap_or_default(),
        holds: frame.units.volume(held.volume_ul),
        silver: written::grams(held.silver),
        concentration: held.ug_per_l().map(written::grams_per_litre).unwrap_or_default(),
        basis: load.basis.as_str(),
        facts: facts(&batch, &load, (&site, frame.units), &words, now),
        amounts: mixing::amounts((batch.parts_concentrate, batch.parts_water), batch.volume_ul, frame.units),
        water: product.as_ref().map_or("water", mixing::water_of),
        in_tray: stays.iter().any(|stay| stay.to.is_none()),
        places: tray_places::places(&trays, |slot| slot.takes() == batch.kind),
        additions: additions(&batch),
        carry_over: carry_over(&mut conn).await?,
        readings: reading_lines(&mut conn, vessel, &site).await?,
        book: words.page_of(&entries, asked.before),
        acts,
        frame,
    });
    Ok(shown(page, is_refused))
}

async fn saved(conn: &mut SqliteConnection, id: BatchId, site: &Site) -> Result<Option<String>, Error> {
    let last = change_log::list_of(conn, id).await?.pop();
    Ok(last.map(|change| format!("{}, {}", change.what, change.at.as_words(&site.zone))))
}

fn facts(
    batch: &Batch,
    load: &Load,
    (site, units): (&Site, Units),
    words: &BookWords,
    now: Instant,
) -> Vec<(&'static str, String)> {
    let mut facts = vec![
        ("Mixed from", format!("{} {}, {}", batch.product_name, batch.parts(), units.volume(batch.volume_ul))),
        ("Mixed", format!("{} by {}", batch.mixed_at.as_words(&site.zone), words.person(batch.mixed_by))),
        ("Went through", format!("{} sheets, {} m²", load.sheets, figures(load.area_mm2 as f64 / 1e6, 3))),
    ];
    if let Some(since) = load.in_tray_since {
        let set_in = since.as_words(&site.zone);
        // how long ago counts only while it is in use
        facts.push((
            "First set into a tray",
            if batch.in_use() {
                let age = crate::domain::baths::condition::span(now.micros_since(since) as f64 / 1000.0);
                format!("{set_in} ({age} ago)")
            } else {
                set_in
            },
        ));
    }
    if let Some(life) = batch.tray_life_ms {
        facts.push(("Lasts in an open tray", crate::domain::baths::condition::span(life as f64)));
    }
    if let Some(life) = batch.bottle_life_ms {
        facts.push(("Keeps in a closed bottle", crate::domain::baths::condition::span(life as f64)));
    }
    if let Some(limit) = batch.silver_limit_ug_per_l {
        facts.push(("Maker’s limit for silver", format!("{} g/L", plain(limit as f64 / 1e6))));
    }
    if let BatchState::Retired { at, into } = batch.state {
        let into = into.map(|id| words.account(Vessel::Container(id).into()).0);
        let words = into.map_or_else(|| "with nothing left in it".to_owned(), |name| format!("into {name}"));
        facts.push(("Retired", format!("{} {words}", at.as_words(&site.zone))));
    }
    if !batch.remark.is_empty() {
        facts.push(("Remark", batch.remark.clone()));
    }
    facts
}

/// The formula of the share used, with the numbers put in.
fn used_working(batch: &Batch, load: &Load) -> Option<String> {
    let share = crate::domain::baths::condition::used_share(batch, load)?;
    let litres = plain(load.fresh_ul as f64 / 1e6);
    let parts: Vec<String> = [
        (load.area_mm2 - load.rc_area_mm2, batch.capacity_for(PaperBase::Fibre)),
        (load.rc_area_mm2, batch.capacity_for(PaperBase::ResinCoated)),
    ]
    .into_iter()
    .filter(|(area_mm2, _)| *area_mm2 > 0)
    .filter_map(|(area_mm2, capacity)| {
        let capacity = plain(capacity? as f64 / 1e6);
        Some(format!("{} m² / ({capacity} m²/L × {litres} L)", figures(area_mm2 as f64 / 1e6, 3)))
    })
    .collect();
    let sum = if parts.is_empty() { "0".to_owned() } else { parts.join(" + ") };
    Some(format!("area / (capacity × litres mixed) = {sum} = {} %", figures(share * 100.0, 3)))
}

fn additions(batch: &Batch) -> Vec<(String, String)> {
    vec![
        ("fresh".to_owned(), format!("fresh solution, mixed {}", batch.parts())),
        ("water".to_owned(), "water".to_owned()),
    ]
}

/// Which of its limits each paper on the shelf reaches first, for a fixer.
async fn binds(conn: &mut SqliteConnection, product: Option<&Product>) -> Result<Vec<(String, String)>, Error> {
    let Some(fixer) = product.filter(|product| product.kind == ProductKind::Fixer) else { return Ok(Vec::new()) };
    let papers = papers::list(conn).await?;
    Ok(papers
        .into_iter()
        .filter_map(|paper| Some((paper.name.clone(), Limits::of(fixer, &paper)?.in_words())))
        .collect())
}

/// What each paper carries off: the figure the book uses, edited on the paper's card.
async fn carry_over(conn: &mut SqliteConnection) -> Result<Vec<(PaperId, String, String)>, Error> {
    let papers = papers::list(conn).await?;
    Ok(papers
        .into_iter()
        .map(|paper| (paper.id, paper.name, plain(paper.carry_over_ul_per_m2 as f64 / 1000.0)))
        .collect())
}

/// Readings of a vessel, each beside what the book estimated then.
pub(in crate::web::front) async fn reading_lines(
    conn: &mut SqliteConnection,
    vessel: Vessel,
    site: &Site,
) -> Result<Vec<ReadingLine>, Error> {
    let entries = stored_book::list_of(conn, vessel).await?;
    let standing: Vec<_> = book::standing(&entries).map(|entry| entry.movement).collect();
    let mut lines = Vec::new();
    for reading in readings::list_of(conn, vessel).await? {
        let place = entries.iter().position(|entry| entry.movement == reading.movement);
        let when = place.map(|place| entries[place].happened_at);
        // as the book stood when the reading was written down: the volume its estimate was spread over
        let volume_ul =
            place.map_or(0, |place| course::stood_at(vessel, &entries[..place], entries[place].happened_at).volume_ul);
        let before = Amount { volume_ul, silver: Silver::exactly(reading.book_ug) };
        lines.push(ReadingLine {
            when: when.map_or_else(String::new, |at| at.as_words(&site.zone)),
            method: reading.method.as_str(),
            read: written::grams_per_litre(reading.ug_per_l),
            estimate: match before.ug_per_l() {
                Some(ug_per_l) => {
                    format!("{} ({} in all)", written::grams_per_litre(ug_per_l), written::grams(before.silver))
                }
                None => format!("{} in all", written::grams(before.silver)),
            },
            standing: standing.contains(&reading.movement),
        });
    }
    Ok(lines)
}
