//! `/front/chemistry`: what stands in the trays, what is mixed, what to change.

pub(super) mod batch;
mod batch_acts;
mod bottle_label;
mod clearing;
mod clearing_line;
mod mixing;
mod sheets;
mod tray_places;
mod trays;

use askama::Template;
use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;

use crate::{
    domain::{
        baths::{
            advice::Advice,
            batch::{Batch, Slot, Stay},
            condition::{Condition, condition},
            sheet_run::SheetOf,
        },
        book::{Vessel, written},
        ids::{BatchId, ProductId, SheetRunId},
        instant::Instant,
        measure::units::Units,
        site::Site,
    },
    store::{
        Error,
        baths::{batches, sheet_runs, tray_lines, tray_slots},
        site::sites,
        stock::{papers, products},
        waste::containers,
    },
    web::kit::{
        access::{Access, Staff},
        error::WebError,
        form::Form,
        frame::Frame,
        page::Page,
        routes::{Route, page},
        state::AppState,
    },
};

use super::{
    first_steps,
    home::{Attention, NothingYet},
    vessel_acts::{path_of, shown},
};

/// The routes of chemistry.
pub fn routes() -> Vec<Route> {
    let mut routes = vec![page("/front/chemistry", Access::Staff, show)];
    routes.extend(mixing::routes());
    routes.extend(trays::routes());
    routes.extend(batch::routes());
    routes.extend(batch_acts::routes());
    routes.extend(bottle_label::routes());
    routes.extend(clearing::routes());
    routes.extend(sheets::routes());
    routes
}

#[derive(Template)]
#[template(path = "front/chemistry.html")]
struct ChemistryPage {
    frame: Frame,
    form: Form,
    lines: Vec<TrayLineBlock>,
    batches: Vec<BatchLine>,
    retired: Vec<RetiredLine>,
    products: Vec<ProductLine>,
    /// Batches that can be set in, each with the trays that take it: `(value, words)`.
    places: Vec<(String, String)>,
    unbooked: Vec<UnbookedLine>,
    /// The form by which the instructor decides about sheets whose fixer has left.
    decide: Form,
    /// The sheets that wait: `(id, words)`, and all of them at once.
    waiting: Vec<(String, String)>,
    decisions: Vec<(String, String)>,
}

struct TrayLineBlock {
    name: String,
    slots: Vec<SlotLine>,
}

struct SlotLine {
    slot: &'static str,
    batch: Option<BatchLine>,
}

#[derive(Clone)]
struct BatchLine {
    id: BatchId,
    name: String,
    product: String,
    stands: String,
    volume: String,
    used: String,
    silver: String,
    advice: &'static str,
    why: String,
}

struct RetiredLine {
    id: BatchId,
    name: String,
    when: String,
}

struct ProductLine {
    id: ProductId,
    kind: &'static str,
    name: String,
    parts: String,
}

struct UnbookedLine {
    id: SheetRunId,
    /// Whether it waits for the instructor's decision.
    waits: bool,
    /// Whether it is staff's own record, taken back here; a student's is corrected on its own page.
    can_go: bool,
    what: String,
    when: String,
    why: &'static str,
}

async fn show(State(state): State<AppState>, frame: Frame, _staff: Staff) -> Result<Response, WebError> {
    show_with(&state, frame, None).await
}

/// The page, with which of its forms was refused: `set-in` or `decide`.
async fn show_with(
    state: &AppState,
    frame: Frame,
    refused: Option<(&'static str, Form)>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let Some(site) = sites::find(&mut conn).await? else {
        let first_steps = first_steps::find(&mut conn).await?;
        return Ok(Page::new(NothingYet { frame, first_steps }).into_response());
    };
    let now = state.now();
    let stays = tray_slots::list_current(&mut conn).await?;
    let trays = tray_lines::list(&mut conn).await?;
    let mut lines = Vec::new();
    for batch in batches::list_in_use(&mut conn).await? {
        let line = batch_line(&mut conn, &batch, &stays, &trays, (now, frame.units)).await?;
        lines.push((batch, line));
    }
    let retired = batches::list(&mut conn).await?.into_iter().rev();
    let is_refused = refused.is_some();
    let begun = || trays::begun(&frame, &site, now);
    let (form, decide) = match refused {
        Some(("decide", decide)) => (begun(), decide),
        Some((_, form)) => (form, Form::empty(&frame)),
        None => (begun(), Form::empty(&frame)),
    };
    let unbooked = unbooked(&mut conn, &site).await?;
    let page = Page::new(ChemistryPage {
        form: form.prefixed("set-in"),
        lines: trays.iter().map(|line| block(line, &stays, &lines)).collect(),
        retired: retired.filter_map(|batch| retired_line(&batch, &site)).collect(),
        products: products::list(&mut conn)
            .await?
            .into_iter()
            .map(|product| ProductLine {
                id: product.id,
                kind: product.kind.as_str(),
                parts: product.parts(),
                name: product.name,
            })
            .collect(),
        places: {
            let named: Vec<_> = lines.iter().map(|(batch, line)| (batch, line.name.clone())).collect();
            trays::batches_and_places(&named, &stays, &trays)
        },
        waiting: waiting(&unbooked),
        decisions: decisions(&mut conn).await?,
        decide: decide.prefixed("decide"),
        unbooked,
        batches: lines.into_iter().map(|(_, line)| line).collect(),
        frame,
    });
    Ok(shown(page, is_refused))
}

/// Baths in a tray that are past a limit, and sheets that loaded none.
pub(super) async fn attention(conn: &mut SqliteConnection, now: Instant) -> Result<Vec<Attention>, Error> {
    let mut found = Vec::new();
    for stay in tray_slots::list_current(conn).await? {
        let Some(batch) = batches::find(conn, stay.batch).await? else { continue };
        let Condition { advice, reasons, .. } = condition(&batch, &batches::load(conn, batch.id).await?, now);
        if advice == Advice::Change {
            found.push(Attention {
                words: format!("{}: change it. {}.", batch.title(), reasons.join("; ")),
                path: path_of(Vessel::Batch(batch.id)),
                link: format!("Open {}", batch.name()),
            });
        }
    }
    let waiting = sheet_runs::list_waiting(conn).await?;
    let sheets: i64 = waiting.iter().map(|run| run.sheets).sum();
    if sheets > 0 {
        found.push(Attention {
            words: format!(
                "Sheets that wait for the instructor’s decision: {sheets}. Their fixer had left when they were typed in."
            ),
            path: "/front/chemistry#unbooked".to_owned(),
            link: "Open the sheets that wait".to_owned(),
        });
    }
    let unbooked = sheet_runs::list_unbooked(conn).await?;
    let no_fixer =
        unbooked.iter().filter(|run| !run.is_decided && waiting.iter().all(|other| other.id != run.id)).count();
    if no_fixer > 0 {
        found.push(Attention {
            words: format!("Through the trays without loading a bath: {no_fixer} times. No fixer stood there."),
            path: "/front/chemistry#unbooked".to_owned(),
            link: "Open chemistry".to_owned(),
        });
    }
    Ok(found)
}

fn block(line: &tray_lines::TrayLine, stays: &[Stay], lines: &[(Batch, BatchLine)]) -> TrayLineBlock {
    let standing = |slot: Slot| stays.iter().find(|stay| stay.tray_line == line.id && stay.slot == slot);
    let slots = Slot::ALL
        .into_iter()
        .map(|slot| {
            let stay = standing(slot);
            let found = lines.iter().find(|(batch, _)| stay.is_some_and(|stay| stay.batch == batch.id));
            SlotLine { slot: slot.as_str(), batch: found.map(|(_, line)| line.clone()) }
        })
        // a second fixer and a washing aid only where there is one
        .filter(|line| line.batch.is_some() || !matches!(line.slot, "second fixer" | "washing aid"))
        .collect();
    TrayLineBlock { name: line.name.clone(), slots }
}

async fn batch_line(
    conn: &mut SqliteConnection,
    batch: &Batch,
    stays: &[Stay],
    trays: &[tray_lines::TrayLine],
    (now, units): (Instant, Units),
) -> Result<BatchLine, Error> {
    let load = batches::load(conn, batch.id).await?;
    let Condition { advice, reasons, used_share } = condition(batch, &load, now);
    let stay = stays.iter().find(|stay| stay.batch == batch.id);
    let silver = load.holds.ug_per_l().filter(|silver| silver.most_ug() > 0);
    Ok(BatchLine {
        id: batch.id,
        name: batch.name(),
        product: format!("{} {}", batch.product_name, batch.parts()),
        stands: stay.map_or_else(|| "in no tray".to_owned(), |stay| trays::place_in_words(stay, trays)),
        volume: units.volume(load.holds.volume_ul),
        used: used_share
            .map_or_else(|| "no capacity on its card".to_owned(), |share| format!("{:.0} %", share * 100.0)),
        silver: silver.map_or_else(|| "none".to_owned(), written::grams_per_litre),
        advice: advice.as_str(),
        why: reasons.join("; "),
    })
}

fn retired_line(batch: &Batch, site: &Site) -> Option<RetiredLine> {
    let when = batch.retired_at()?.as_words(&site.zone);
    Some(RetiredLine { id: batch.id, name: batch.name(), when })
}

async fn unbooked(conn: &mut SqliteConnection, site: &Site) -> Result<Vec<UnbookedLine>, Error> {
    let mut lines = Vec::new();
    for run in sheet_runs::list_unbooked(conn).await? {
        let paper = papers::find(conn, run.paper).await?.map_or_else(String::new, |paper| paper.name);
        let fixed = sheet_runs::list_batches(conn, run.id)
            .await?
            .iter()
            .any(|(slot, _)| matches!(slot, Slot::Fixer | Slot::SecondFixer));
        lines.push(UnbookedLine {
            id: run.id,
            waits: fixed && !run.is_decided,
            can_go: run.student.is_none() && matches!(run.what, SheetOf::TestStrip | SheetOf::Other),
            what: format!("{} × {} ({})", run.sheets, run.what.as_str(), paper),
            when: run.developed_at.as_words(&site.zone),
            why: match (fixed, run.is_decided) {
                (true, true) => "their fixer had left; the instructor decided to leave them out",
                (true, false) => "their fixer has left: the instructor decides",
                (false, _) => "no fixer stood in the line then",
            },
        });
    }
    Ok(lines)
}

/// The sheets that wait for a decision, to choose from.
fn waiting(unbooked: &[UnbookedLine]) -> Vec<(String, String)> {
    let waiting: Vec<(String, String)> = unbooked
        .iter()
        .filter(|line| line.waits)
        .map(|line| (line.id.to_string(), format!("{}, {}", line.what, line.when)))
        .collect();
    let all = (waiting.len() > 1).then(|| ("all".to_owned(), format!("all {} of them", waiting.len())));
    all.into_iter().chain(waiting).collect()
}

/// What can become of their silver.
async fn decisions(conn: &mut SqliteConnection) -> Result<Vec<(String, String)>, Error> {
    let mut decisions = vec![
        ("went".to_owned(), "it went with the container that left: not booked".to_owned()),
        ("found".to_owned(), "a reading had found it already: not booked".to_owned()),
    ];
    let here = containers::list(conn).await?;
    let here = here.into_iter().filter(|one| !one.is_removed() && !one.is_put_away());
    decisions.extend(
        here.map(|one| (one.id.to_string(), format!("booked into {} ({})", one.name(), one.contents.as_str()))),
    );
    Ok(decisions)
}
