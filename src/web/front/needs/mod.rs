//! What a session needs: area, baths and their changes, trays, what to buy, and a timetable that
//! counts with the places in the dark.

use askama::Template;
use axum::{
    extract::{Path, RawQuery, State},
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;

use crate::{
    calc::working::{figures, plain},
    domain::{
        baths::{
            batch::Slot,
            bath_needs::{Ready, bath_need, is_used, second_fixer_need},
            condition::condition,
        },
        evening::timetable::Timetable,
        ids::{BatchId, LabSessionId},
        instant::Instant,
        measure::decimal,
        stock::{
            paper::{Paper, PaperBase, PaperKind},
            product::{Product, ProductKind},
            tray::fitting,
        },
    },
    store::{
        Error,
        baths::{batches, tray_lines, tray_slots},
        evening::lab_sessions,
        people::{sections, students},
        stock::{paper_sizes, papers, products, trays},
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

mod asked;
mod lines;

use asked::{Usual, filled, read, typed};
pub(super) use asked::{carry_over, yes_or_no};
use lines::{BathLine, BuyLine, Need, bath_line, buy, carried_words, filled_trays, working};

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![page("/front/sessions/{id}/needs", Access::Staff, show)]
}

#[derive(Template)]
#[template(path = "front/needs.html")]
struct NeedsPage {
    frame: Frame,
    form: Form,
    id: LabSessionId,
    title: String,
    held_on: String,
    section_name: String,
    paper: String,
    is_film: bool,
    base_unknown: bool,
    trays: Vec<(String, String)>,
    tray_words: String,
    sheets: String,
    area: String,
    carried: String,
    second_fixer: Vec<(String, String)>,
    baths: Vec<BathLine>,
    /// Columns: the baths; rows: the trays at hand, with how often each would be filled.
    fillings: Vec<(String, String, Vec<String>)>,
    not_stocked: Vec<&'static str>,
    buy: Vec<BuyLine>,
    prep_query: String,
    places_known: bool,
    timetable: Vec<(String, String, String)>,
    rounds: String,
    decides: &'static str,
    missing: String,
    working: String,
}

async fn show(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let session = lab_sessions::find(&mut conn, id).await?.ok_or(WebError::NotFound("this session"))?;
    let section = sections::find(&mut conn, session.section).await?.ok_or(WebError::NotFound("this section"))?;
    let paper = papers::find(&mut conn, session.paper).await?.ok_or(WebError::NotFound("this session’s paper"))?;
    let sizes = paper_sizes::list(&mut conn, paper.id).await?;
    let line = match session.tray_line {
        Some(line) => tray_lines::find(&mut conn, line).await?,
        None => None,
    };
    let standing = match session.tray_line {
        Some(line) => tray_slots::list_standing(&mut conn, line, state.now()).await?,
        None => Vec::new(),
    };
    let second = standing.iter().find(|stay| stay.slot == Slot::SecondFixer).map(|stay| stay.batch);
    let usual = Usual {
        students: students::list(&mut conn, section.id).await?.len(),
        places: line.and_then(|line| line.places),
        size: sizes.first().map_or_else(|| "4x5in".to_owned(), |size| size.sheet.typed.clone()),
        carry_over_ul_per_m2: paper.carry_over_ul_per_m2,
        second_fixer: second.is_some(),
    };
    let values: Vec<(String, String)> =
        form_urlencoded::parse(query.unwrap_or_default().as_bytes()).into_owned().collect();
    let (asked, errors) = read(&values, &usual);
    // the page is still of use with the usual figures
    let asked = match asked.filter(|_| errors.is_empty()) {
        Some(asked) => asked,
        None => read(&[], &usual).0.ok_or_else(|| WebError::Ours("the usual size is no size".to_owned()))?,
    };
    let refused = !errors.is_empty();
    let at_hand = trays::list(&mut conn).await?;
    let tray = at_hand.iter().find(|tray| Some(tray.id) == asked.tray).or_else(|| fitting(&at_hand, &asked.sheet));
    let tray_ml = tray.map_or(2_000.0, |tray| tray.holds_ul as f64 / 1000.0);
    let form =
        if values.is_empty() { filled(&frame, &asked, tray) } else { typed(&frame, &values).with_errors(errors) };
    let shelf: Vec<Product> =
        products::list(&mut conn).await?.into_iter().filter(|product| is_used(product, &paper)).collect();
    let sheets = i64::from(asked.students) * i64::from(asked.sheets_each + asked.prints_each);
    let area_m2 = sheets as f64 * asked.sheet.area_mm2() as f64 / 1e6;
    let mut needs = Vec::new();
    for product in shelf {
        let there = ready(&mut conn, product.kind, &paper, second, state.now()).await?;
        let Some(need) = bath_need(area_m2, tray_ml, &product, &paper, there.first) else { continue };
        let after = (asked.second_fixer && product.kind == ProductKind::Fixer)
            .then(|| second_fixer_need(tray_ml, &product, there.second, need.changes))
            .flatten()
            .map(|need| Need { product: product.clone(), need, ready: there.second, second: true });
        needs.push(Need { product, need, ready: there.first, second: false });
        needs.extend(after);
    }
    let timetable = Timetable::of(&asked.evening);
    let page = Page::new(NeedsPage {
        form,
        id,
        title: session.title.clone(),
        held_on: session.held_on.strftime("%A, %-d %B %Y").to_string(),
        section_name: section.name,
        paper: format!("{} ({})", paper.name, paper.base.in_words()),
        is_film: paper.kind == PaperKind::Film,
        base_unknown: paper.base == PaperBase::Unknown,
        trays: at_hand
            .iter()
            .map(|tray| (tray.id.to_string(), format!("{}, {} each", tray.name, frame.units.volume(tray.holds_ul))))
            .collect(),
        tray_words: tray.map_or_else(
            || "No trays are entered in the stockroom: counted with 2 L a tray.".to_owned(),
            |tray| format!("{}, {} each, {} there.", tray.name, frame.units.volume(tray.holds_ul), tray.count),
        ),
        sheets: format!("{sheets} sheets of {}", asked.sheet.in_words()),
        area: figures(area_m2, 3),
        carried: carried_words(area_m2, &paper, &needs, &asked, frame.units),
        second_fixer: [("no", "none"), ("yes", "one more tray, after the first")]
            .map(|(value, words)| (value.to_owned(), words.to_owned()))
            .to_vec(),
        baths: needs.iter().map(|need| bath_line(need, frame.units)).collect(),
        fillings: at_hand.iter().map(|tray| filled_trays(tray, area_m2, &needs, (&paper, frame.units))).collect(),
        not_stocked: [ProductKind::Developer, ProductKind::StopBath, ProductKind::Fixer]
            .into_iter()
            .filter(|kind| paper.kind == PaperKind::Paper && needs.iter().all(|one| one.product.kind != *kind))
            .map(ProductKind::as_str)
            .collect(),
        buy: buy(
            &needs,
            &asked,
            (sheets, sizes.iter().find(|size| size.sheet.typed == asked.sheet.typed).map(|size| size.sheets)),
            frame.units,
        ),
        prep_query: format!(
            "students={}&sheets_each={}&sheet={}&tray_l={}&carry_over={}&second_fixer={}",
            asked.students,
            asked.sheets_each + asked.prints_each,
            asked.sheet.typed,
            plain(tray_ml / 1000.0),
            decimal::written(asked.carry_over_ul_per_m2, 3),
            if asked.second_fixer { "yes" } else { "no" }
        ),
        places_known: usual.places.is_some()
            || values.iter().any(|(name, value)| name == "places" && !value.is_empty()),
        timetable: timetable
            .stretches
            .iter()
            .map(|stretch| {
                let at = asked.start + stretch.from.round() as i64;
                (
                    format!("{:02}:{:02}", at / 60 % 24, at % 60),
                    format!("{} min", stretch.minutes.round()),
                    stretch.what.clone(),
                )
            })
            .collect(),
        rounds: format!("{} of {} wanted", timetable.rounds_fit, asked.evening.rounds_wanted),
        decides: if timetable.places_decide { "the places in the dark decide" } else { "the cycle itself decides" },
        missing: if timetable.missing > 0.5 { format!("{} min", timetable.missing.ceil()) } else { String::new() },
        working: working(&asked.evening, &timetable),
        frame,
    });
    Ok(if refused { page.unprocessable().into_response() } else { page.into_response() })
}

/// What stands ready of a kind: in the second fixer's tray, and everywhere else.
#[derive(Default)]
struct There {
    first: Ready,
    second: Ready,
}

/// What stands ready of a kind, for a paper.
async fn ready(
    conn: &mut SqliteConnection,
    kind: ProductKind,
    paper: &Paper,
    second: Option<BatchId>,
    now: Instant,
) -> Result<There, Error> {
    let mut there = There::default();
    for batch in batches::list_in_use(conn).await?.into_iter().filter(|batch| batch.kind == kind) {
        let load = batches::load(conn, batch.id).await?;
        let place = if second == Some(batch.id) { &mut there.second } else { &mut there.first };
        place.add(&batch, &load, &condition(&batch, &load, now), paper);
    }
    Ok(there)
}
