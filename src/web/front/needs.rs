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
        bath_needs::{BathNeed, Ready, bath_need, is_used},
        condition::condition,
        decimal,
        field_errors::FieldErrors,
        ids::{LabSessionId, TrayId},
        instant::Instant,
        paper::{Paper, PaperBase, PaperKind},
        product::{Product, ProductKind},
        sheet::Sheet,
        timetable::{Cycle, Evening, Timetable},
        tray::Tray,
        units::Units,
    },
    store::{Error, batches, lab_sessions, paper_sizes, papers, products, sections, students, tray_lines, trays},
    web::{
        access::Access,
        error::WebError,
        form::Form,
        frame::Frame,
        page::Page,
        routes::{Route, page},
        state::AppState,
    },
};

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

struct BathLine {
    kind: &'static str,
    name: String,
    parts: String,
    takes: String,
    least: String,
    ready: String,
    fillings: String,
    changes: String,
    filling: String,
}

struct BuyLine {
    what: String,
    needed: String,
    there: String,
    buy: String,
}

/// The figures of the form in the address, or the usual ones.
struct Asked {
    students: u32,
    sheets_each: u32,
    prints_each: u32,
    sheet: Sheet,
    tray: Option<TrayId>,
    start: i64,
    evening: Evening,
}

/// What the fields begin with.
struct Usual {
    students: usize,
    places: Option<i64>,
    size: String,
}

/// Reads the query, gathering every message.
struct Query<'a> {
    values: &'a [(String, String)],
    errors: FieldErrors,
}

impl Query<'_> {
    fn get(&self, name: &str) -> &str {
        self.values.iter().find(|(field, _)| field == name).map_or("", |(_, value)| value.trim())
    }

    fn whole(&mut self, name: &str, usual: u32, range: std::ops::RangeInclusive<u32>) -> u32 {
        match self.get(name) {
            "" => usual,
            text => text.parse().ok().filter(|number| range.contains(number)).unwrap_or_else(|| {
                let (low, high) = (range.start(), range.end());
                self.errors.add(name, format!("must be a whole number from {low} to {high}"));
                usual
            }),
        }
    }

    fn minutes(&mut self, name: &str, usual: f64) -> f64 {
        match self.get(name) {
            "" => usual,
            text => match decimal::read(text, 2) {
                Ok(hundredths @ 0..=60_000) => hundredths as f64 / 100.0,
                _ => {
                    self.errors.add(name, "must be minutes, from 0 to 600");
                    usual
                }
            },
        }
    }

    /// Minutes after midnight.
    fn clock(&mut self, name: &str, usual: i64) -> i64 {
        let text = self.get(name);
        if text.is_empty() {
            return usual;
        }
        let read = text.parse::<jiff::civil::Time>().map(|time| i64::from(time.hour()) * 60 + i64::from(time.minute()));
        read.unwrap_or_else(|_| {
            self.errors.add(name, "must be a time, for example 13:30");
            usual
        })
    }
}

fn read(values: &[(String, String)], usual: &Usual) -> (Option<Asked>, FieldErrors) {
    let mut q = Query { values, errors: FieldErrors::none() };
    let students = q.whole("students", u32::try_from(usual.students).unwrap_or(0), 0..=500);
    let (sheets_each, prints_each) = (q.whole("sheets_each", 4, 0..=100), q.whole("prints_each", 2, 0..=100));
    let sheet = Sheet::parse(if q.get("sheet").is_empty() { &usual.size } else { q.get("sheet") });
    if let Err(error) = &sheet {
        q.errors.add("sheet", error.to_string());
    }
    let tray = q.get("tray").parse().ok();
    let cameras = q.whole("cameras", students.div_ceil(2), 0..=500);
    let places = q.whole("places", u32::try_from(usual.places.unwrap_or(4)).unwrap_or(4), 1..=100);
    let start = q.clock("start", 13 * 60);
    let cycle = Cycle {
        load: q.minutes("load", Cycle::USUAL.load),
        walk: q.minutes("walk", Cycle::USUAL.walk),
        expose: q.minutes("expose", Cycle::USUAL.expose),
        develop: q.minutes("develop", Cycle::USUAL.develop),
        stop: q.minutes("stop", Cycle::USUAL.stop),
        fix: q.minutes("fix", Cycle::USUAL.fix),
        wash: q.minutes("wash", Cycle::USUAL.wash),
    };
    let evening = Evening {
        minutes: q.minutes("minutes", 180.0),
        briefing: q.minutes("briefing", 15.0),
        building: q.minutes("building", 45.0),
        testing: q.minutes("testing", 10.0),
        clearing: q.minutes("clearing", 15.0),
        cameras,
        places,
        cycle,
        print_exposure: q.minutes("print_exposure", 1.0),
        rounds_wanted: if cameras == 0 { 0 } else { (students * sheets_each).div_ceil(cameras) },
        prints: students * prints_each,
    };
    if cycle.whole() <= 0.0 {
        q.errors.add("load", "a cycle of no minutes is no cycle");
    }
    let asked = sheet.ok().map(|sheet| Asked { students, sheets_each, prints_each, sheet, tray, start, evening });
    (asked, q.errors)
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
    let usual = Usual {
        students: students::list(&mut conn, section.id).await?.len(),
        places: line.and_then(|line| line.places),
        size: sizes.first().map_or_else(|| "4x5in".to_owned(), |size| size.sheet.typed.clone()),
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
        let ready = ready(&mut conn, product.kind, &paper, state.now()).await?;
        if let Some(need) = bath_need(area_m2, tray_ml, &product, &paper, ready) {
            needs.push((product, need, ready));
        }
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
        sheets: format!("{sheets} sheets of {}", asked.sheet.typed),
        area: figures(area_m2, 3),
        baths: needs.iter().map(|(product, need, ready)| bath_line(product, need, *ready, frame.units)).collect(),
        fillings: at_hand.iter().map(|tray| filled_trays(tray, area_m2, &needs, (&paper, frame.units))).collect(),
        not_stocked: [ProductKind::Developer, ProductKind::StopBath, ProductKind::Fixer]
            .into_iter()
            .filter(|kind| paper.kind == PaperKind::Paper && needs.iter().all(|(product, ..)| product.kind != *kind))
            .map(ProductKind::as_str)
            .collect(),
        buy: buy(
            &needs,
            &asked,
            (sheets, sizes.iter().find(|size| size.sheet.typed == asked.sheet.typed).map(|size| size.sheets)),
            frame.units,
        ),
        prep_query: format!(
            "students={}&sheets_each={}&sheet={}&tray_l={}",
            asked.students,
            asked.sheets_each + asked.prints_each,
            asked.sheet.typed,
            plain(tray_ml / 1000.0)
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

/// The smallest trays whose name does not speak against the sheet: the second smallest when there is
/// one, since the smallest are seldom a class's.
fn fitting<'a>(at_hand: &'a [Tray], sheet: &Sheet) -> Option<&'a Tray> {
    // a sheet of 4 x 5 in floats freely in a litre
    let least_ul = if sheet.area_mm2() > 25_000 { 1_500_000 } else { 1_000_000 };
    at_hand.iter().find(|tray| tray.holds_ul >= least_ul).or_else(|| at_hand.last())
}

/// What stands ready of a kind, for a paper.
async fn ready(conn: &mut SqliteConnection, kind: ProductKind, paper: &Paper, now: Instant) -> Result<Ready, Error> {
    let mut ready = Ready::default();
    for batch in batches::list_in_use(conn).await?.into_iter().filter(|batch| batch.kind == kind) {
        let load = batches::load(conn, batch.id).await?;
        ready.add(&batch, &load, &condition(&batch, &load, now), paper);
    }
    Ok(ready)
}

fn bath_line(product: &Product, need: &BathNeed, ready: Ready, units: Units) -> BathLine {
    let ml = |ml: f64| units.volume((ml * 1000.0).round() as i64);
    let water = if product.distilled_water { "distilled water" } else { "water" };
    let [whole, concentrate, water_ml] = need.filling_ml;
    BathLine {
        kind: product.kind.as_str(),
        name: product.name.clone(),
        parts: product.parts(),
        takes: need
            .takes_m2_per_l
            .map_or_else(|| need.by.to_owned(), |m2| format!("{} m²/L by its {}", figures(m2, 3), need.by)),
        least: need.least_l.map_or_else(|| "not known".to_owned(), |litres| format!("{} L", figures(litres, 2))),
        ready: match ready.batches {
            0 => "nothing".to_owned(),
            _ => format!("{}, good for {} m²", ml(ready.volume_ml), figures(ready.area_m2, 2)),
        },
        fillings: match need.fillings {
            0 => "none".to_owned(),
            1 => "1 filling".to_owned(),
            more => format!("{more} fillings"),
        },
        changes: match need.changes {
            0 => "no change".to_owned(),
            1 => "1 change".to_owned(),
            more => format!("{more} changes"),
        },
        filling: format!("{}: first {} of {water}, then {} of concentrate", ml(whole), ml(water_ml), ml(concentrate)),
    }
}

/// How often trays of a size would be filled for each bath.
fn filled_trays(
    tray: &Tray,
    area_m2: f64,
    needs: &[(Product, BathNeed, Ready)],
    (paper, units): (&Paper, Units),
) -> (String, String, Vec<String>) {
    let each = needs.iter().map(|(product, _, ready)| {
        bath_need(area_m2, tray.holds_ul as f64 / 1000.0, product, paper, *ready).map_or_else(
            || "not known".to_owned(),
            |need| format!("{} × {}", need.fillings, units.volume(tray.holds_ul)),
        )
    });
    (tray.name.clone(), format!("{}, {} there", units.volume(tray.holds_ul), tray.count), each.collect())
}

fn buy(
    needs: &[(Product, BathNeed, Ready)],
    asked: &Asked,
    (sheets, counted): (i64, Option<Option<i64>>),
    units: Units,
) -> Vec<BuyLine> {
    let ml = |ml: f64| units.volume((ml * 1000.0).round() as i64);
    let on_shelf = counted.flatten();
    let mut lines = vec![BuyLine {
        what: format!("Paper, {}", asked.sheet.typed),
        needed: format!("{sheets} sheets"),
        there: on_shelf.map_or_else(|| "not counted".to_owned(), |there| format!("{there} sheets")),
        buy: match on_shelf {
            None => "count the box first".to_owned(),
            Some(there) if there >= sheets => "nothing".to_owned(),
            Some(there) => format!("{} sheets", sheets - there),
        },
    }];
    lines.extend(needs.iter().map(|(product, need, _)| BuyLine {
        what: format!("{} ({}), concentrate", product.name, product.kind.as_str()),
        needed: ml(need.concentrate_ml),
        there: product.on_shelf_ul.map_or_else(|| "not counted".to_owned(), |ul| units.volume(ul)),
        buy: match need.to_buy_ml {
            None if need.concentrate_ml == 0.0 => "nothing".to_owned(),
            None => "look at the shelf first".to_owned(),
            Some(0.0) => "nothing".to_owned(),
            Some(missing) => ml(missing),
        },
    }));
    let distilled_ml: f64 = needs
        .iter()
        .filter(|(product, ..)| product.distilled_water)
        .map(|(_, need, _)| need.filling_ml[2] * f64::from(need.fillings))
        .sum();
    if distilled_ml > 0.0 {
        lines.push(BuyLine {
            what: "Distilled water".to_owned(),
            needed: ml(distilled_ml),
            there: "not counted".to_owned(),
            buy: "look at the shelf first".to_owned(),
        });
    }
    lines
}

fn working(evening: &Evening, timetable: &Timetable) -> String {
    let Evening { cameras, places, cycle, .. } = evening;
    format!(
        "round = the longer of one cycle ({} min) and cameras × minutes in the dark / places ({cameras} × {} min / {places} \
         = {} min) = {} min",
        plain(cycle.whole()),
        plain(cycle.in_the_dark()),
        figures(f64::from(*cameras) * cycle.in_the_dark() / f64::from(*places), 3),
        figures(timetable.round_minutes, 3)
    )
}

fn filled(frame: &Frame, asked: &Asked, tray: Option<&Tray>) -> Form {
    let Evening { cycle, .. } = asked.evening;
    Form::filled(
        frame,
        0,
        [
            ("students", asked.students.to_string()),
            ("sheets_each", asked.sheets_each.to_string()),
            ("prints_each", asked.prints_each.to_string()),
            ("sheet", asked.sheet.typed.clone()),
            ("tray", tray.map_or(String::new(), |tray| tray.id.to_string())),
            ("cameras", asked.evening.cameras.to_string()),
            ("places", asked.evening.places.to_string()),
            ("start", format!("{:02}:{:02}", asked.start / 60, asked.start % 60)),
            ("minutes", plain(asked.evening.minutes)),
            ("briefing", plain(asked.evening.briefing)),
            ("building", plain(asked.evening.building)),
            ("testing", plain(asked.evening.testing)),
            ("clearing", plain(asked.evening.clearing)),
            ("print_exposure", plain(asked.evening.print_exposure)),
            ("load", plain(cycle.load)),
            ("walk", plain(cycle.walk)),
            ("expose", plain(cycle.expose)),
            ("develop", plain(cycle.develop)),
            ("stop", plain(cycle.stop)),
            ("fix", plain(cycle.fix)),
            ("wash", plain(cycle.wash)),
        ],
    )
}

fn typed(frame: &Frame, values: &[(String, String)]) -> Form {
    Form::filled(frame, 0, values.iter().map(|(name, value)| (name.as_str(), value.clone())))
}
