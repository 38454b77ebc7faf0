//! `/front/waste/years`: each calendar year's statement of what stood in containers, on paper.

use std::collections::HashMap;

use askama::Template;
use axum::{
    extract::{Path, RawQuery, State},
    response::{IntoResponse, Response},
};
use jiff::civil::Date;
use sqlx::SqliteConnection;

use crate::{
    calc::{quantity::Litres, silver::waste::turnover_percent, working::figures},
    domain::{
        book::{self, Amount, Entry, Vessel, course::course, written},
        ids::{ContainerId, GivenStatementId, MovementId},
        instant::Instant,
        site::{Site, example_rules::VERIFY, site_waste::SiteWaste},
        waste::year_statement::{Figure, Line, YearStatement},
    },
    export::year_statement::{statements, washed_in},
    store::{
        Error, WriteError,
        book::{self as stored_book, WasteSource},
        people::change_log,
        site::{site_waste, sites},
        waste::{
            containers,
            given_statements::{self, GivenStatement},
            recoveries, removals,
        },
    },
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
        request::posted::Posted,
    },
};

use super::{
    super::{book_words::BookWords, vessel_acts::shown},
    day,
};

pub(super) fn routes() -> Vec<Route> {
    vec![
        page("/front/waste/years", Access::Staff, list),
        page("/front/waste/years/{year}", Access::Staff, show),
        change("/front/waste/years/{year}/hand-out", Access::Staff, hand_out),
    ]
}

#[derive(Template)]
#[template(path = "front/waste_years.html")]
struct YearsPage {
    frame: Frame,
    years: Vec<(i16, String, String)>,
}

async fn list(State(state): State<AppState>, frame: Frame) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let this_year = state.now().local(&site.zone).date().year();
    let mut years: Vec<(i16, String, String)> = statements(&mut conn, &site.zone, this_year)
        .await?
        .iter()
        .map(|one| (one.year, volume(one.total.generated), volume(one.total.end)))
        .collect();
    years.reverse();
    Ok(Page::new(YearsPage { frame, years }).into_response())
}

/// The book that a statement is asked of: today's, or an earlier one.
enum AsOf {
    Today,
    /// Of all that was written on a day and before it.
    Known(Date),
    /// As one was handed out.
    Given(Box<GivenStatement>),
}

#[derive(Template)]
#[template(path = "print/year_statement.html")]
struct YearPage {
    frame: Frame,
    form: Form,
    year: i16,
    site: String,
    contact: String,
    printed: String,
    /// Of which book it is; empty for today's.
    as_of: String,
    /// The day it is asked as known on, as a control has it.
    known: String,
    /// The running year ends only with December.
    running: bool,
    /// Name, then the eight figures: volume and silver.
    rows: Vec<(String, Vec<(String, String)>)>,
    /// Whether a star stands beside lines with a container whose silver is not known.
    silver_unknown: bool,
    /// Silver that went down with the wash water.
    washed: String,
    turnover: String,
    removals: Vec<RemovalLine>,
    given: Vec<GivenLine>,
    keep: String,
    verify: &'static str,
}

struct RemovalLine {
    container: String,
    left: String,
    to: String,
    reference: String,
    volume: String,
    copy: String,
    keep: String,
}

/// A statement of the year that was handed out.
struct GivenLine {
    id: GivenStatementId,
    words: String,
    /// What is not as it was: contents and column, as given, today.
    changes: Vec<(String, String, String)>,
    /// The entries written since that concern the year.
    entries: String,
}

async fn show(
    State(state): State<AppState>,
    frame: Frame,
    Path(year): Path<i16>,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let form = Form::empty(&frame);
    show_with(&state, frame, year, &query.unwrap_or_default(), form).await
}

async fn show_with(state: &AppState, frame: Frame, year: i16, query: &str, form: Form) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let this_year = state.now().local(&site.zone).date().year();
    let today = WasteSource::find(&mut conn).await?;
    let given = given_statements::list(&mut conn).await?;
    let as_of = asked(query, year, &given)?;
    let (source, known_before) = match &as_of {
        AsOf::Today => (today.clone(), Instant::LAST),
        AsOf::Known(day) => {
            let next = day.tomorrow().map_err(|_| WebError::NotFound("this day"))?;
            let before = midnight(next, &site)?;
            (today.clone().known_before(before), before)
        }
        AsOf::Given(given) => (today.clone().through(given.last_entry), given.at.plus_micros(1)),
    };
    if !today.years(&site.zone, this_year).contains(&year) {
        return Err(WebError::NotFound("a statement of this year"));
    }
    let said = match &as_of {
        AsOf::Given(given) => given.said.clone(),
        _ => source.statement(year, &site.zone),
    };
    let waste = site_waste::find(&mut conn, site.id).await?;
    let words = BookWords::find(&mut conn, &site.zone).await?;
    let removals = removal_lines(&mut conn, &site, &waste, &source, year).await?;
    let recycled_ul = recycled(&mut conn, &site, &source, year).await?;
    let washed = washed_in(&mut conn, &site.zone, year, known_before).await?;
    let refused = form.is_refused();
    let page = YearPage {
        form,
        year,
        running: this_year == year,
        printed: state.now().as_words(&site.zone),
        contact: site.disposal_contact.clone(),
        as_of: as_of.in_words(&site),
        known: if let AsOf::Known(day) = &as_of { day.to_string() } else { String::new() },
        rows: rows(&said),
        silver_unknown: said.total.silver_unknown,
        washed: written::grams(washed.above_zero()),
        turnover: turnover(&said, recycled_ul, &waste),
        removals,
        given: given
            .iter()
            .filter(|given| given.said.year == year)
            .map(|given| given_line(given, &today, &site, &words))
            .collect(),
        keep: match waste.keep_years {
            Some(years) => format!("Papers of a removal are kept for {years} years at least: {}.", waste.keep_source),
            None => "How long papers are kept is not entered: ask your safety office.".to_owned(),
        },
        verify: VERIFY,
        site: site.name,
        frame,
    };
    Ok(shown(Page::new(page), refused))
}

impl AsOf {
    fn in_words(&self, site: &Site) -> String {
        match self {
            Self::Today => String::new(),
            Self::Known(on) => {
                format!("As it was known at the end of {}: what was written later is left out", day(*on))
            }
            Self::Given(given) => {
                format!("As it was given to {} on {}", given.to, given.at.as_words(&site.zone))
            }
        }
    }
}

/// Which book an address asks for: `known=2026-03-20`, or `given=` and an id.
fn asked(query: &str, year: i16, given: &[GivenStatement]) -> Result<AsOf, WebError> {
    let of = |name: &str| {
        let mut fields = form_urlencoded::parse(query.as_bytes());
        fields.find(|(field, value)| field == name && !value.is_empty()).map(|(_, value)| value.into_owned())
    };
    if let Some(id) = of("given") {
        let found = given.iter().find(|one| one.said.year == year && one.id.to_string() == id);
        return found
            .cloned()
            .map(|given| AsOf::Given(Box::new(given)))
            .ok_or(WebError::NotFound("a statement that was given"));
    }
    match of("known").map(|text| text.parse::<Date>()) {
        None => Ok(AsOf::Today),
        Some(Ok(day)) if (1970..=9998).contains(&day.year()) => Ok(AsOf::Known(day)),
        Some(_) => Err(WebError::NotFound("a statement as known on this day: give a date such as 2026-03-20")),
    }
}

fn midnight(date: Date, site: &Site) -> Result<Instant, WebError> {
    Instant::from_local(&format!("{date}T00:00"), &site.zone).map_err(|_| WebError::NotFound("this day"))
}

/// How many entries are named that changed a statement.
const NAMED: usize = 20;

/// A statement that was handed out, and what later entries made of it.
fn given_line(given: &GivenStatement, today: &WasteSource, site: &Site, words: &BookWords) -> GivenLine {
    let year = given.said.year;
    let amount = |amount: Amount| format!("{}, {}", volume(amount), written::grams(amount.silver));
    let changes = today.statement(year, &site.zone).changed_since(&given.said);
    // a reversal concerns the years of what it takes back: it carries that time
    let concerns = |entry: &&Entry| {
        let original = entry.reverses.and_then(|number| today.entries.iter().find(|one| one.number == number));
        let happened_at = original.map_or(entry.happened_at, |original| original.happened_at);
        entry.number > given.last_entry && happened_at.local(&site.zone).date().year() <= year
    };
    let entries: Vec<String> = today.entries.iter().filter(concerns).map(|entry| entry.number.to_string()).collect();
    let more = entries.len().saturating_sub(NAMED);
    let named = entries.into_iter().take(NAMED).collect::<Vec<_>>().join(", ");
    GivenLine {
        id: given.id,
        words: format!("given to {} on {} by {}", given.to, given.at.as_words(&site.zone), words.person(given.by)),
        changes: changes
            .into_iter()
            .map(|change| {
                let name = format!("{}, {}", change.contents.in_words(), change.figure.as_str());
                (name, amount(change.was), amount(change.is))
            })
            .collect(),
        entries: if more == 0 { named } else { format!("{named} and {more} more") },
    }
}

/// A statement is handed out: what it says is kept as given.
async fn hand_out(
    State(state): State<AppState>,
    frame: Frame,
    Path(year): Path<i16>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut r = posted.reader();
    let to = r.text("given_to", 1..=200);
    let to = match r.finish(to) {
        Ok(to) => to,
        Err(errors) => return show_with(&state, frame, year, "", Form::refused(&posted, errors)).await,
    };
    let (id, at, actor): (GivenStatementId, _, _) = (state.mint(), posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let site = sites::find(tx).await?.ok_or(WriteError::Missing("the site"))?;
                let source = WasteSource::find(tx).await?;
                let this_year = at.local(&site.zone).date().year();
                if !source.years(&site.zone, this_year).contains(&year) {
                    return Err(WriteError::Missing("a statement of this year"));
                }
                let by = stored_book::person(actor)?;
                let last_entry = stored_book::last_entry(tx).await?;
                let given = GivenStatement { id, to, at, by, last_entry, said: source.statement(year, &site.zone) };
                given_statements::insert(tx, site.id, &given).await?;
                let what = "statement of the year handed out";
                change_log::insert(tx, at, actor, what, "given_statement", id, &year.to_string()).await?;
                Ok(format!("/front/waste/years/{year}"))
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => show_with(&state, frame, year, "", Form::refused(&posted, errors)).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

fn volume(amount: Amount) -> String {
    crate::domain::measure::volume::in_words(amount.volume_ul)
}

fn rows(said: &YearStatement) -> Vec<(String, Vec<(String, String)>)> {
    let cells = |line: &Line| {
        let columns = Figure::ALL.map(|figure| line.figure(figure));
        columns.iter().map(|amount| (volume(*amount), written::grams(amount.silver))).collect()
    };
    let mut rows: Vec<_> = said.lines.iter().map(|(kind, line)| (kind.in_words().to_owned(), cells(line))).collect();
    rows.push(("all together".to_owned(), cells(&said.total)));
    for ((name, _), line) in rows.iter_mut().zip(said.lines.iter().map(|(_, line)| line).chain([&said.total])) {
        if line.silver_unknown {
            name.push_str(" *");
        }
    }
    rows
}

/// What was recycled in the year against what stood here at its start, by the share the site entered.
fn turnover(said: &YearStatement, recycled_ul: i64, waste: &SiteWaste) -> String {
    let litres = |ul: i64| Litres::new(ul as f64 / 1e6).ok();
    let (Some(start), Some(recycled)) = (litres(said.total.start.volume_ul), litres(recycled_ul)) else {
        return String::new();
    };
    if said.total.start.volume_ul <= 0 {
        return String::new();
    }
    let percent = turnover_percent(start, recycled);
    let against = match waste.turnover_percent {
        Some(least) if percent < least as f64 => {
            format!("less than the {least} % entered for the site ({})", waste.turnover_source)
        }
        Some(least) => format!("at least the {least} % entered for the site ({})", waste.turnover_source),
        None => "how much is to be recycled in a year is not entered: ask your safety office".to_owned(),
    };
    let in_words = crate::domain::measure::volume::in_words;
    format!(
        "Taken away to have its silver reclaimed, or treated on site: {} of {} that stood here at the start of the year, \
         {} %: {against}",
        in_words(recycled_ul),
        in_words(said.total.start.volume_ul),
        figures(percent, 3),
    )
}

/// How much liquid was recycled in a year, microlitres: taken away to be reclaimed, or treated on site. The
/// same liquid may have been treated and then taken away, or treated twice, so that each container counts
/// once, with the largest of these.
async fn recycled(conn: &mut SqliteConnection, site: &Site, source: &WasteSource, year: i16) -> Result<i64, Error> {
    let mut by_container: HashMap<ContainerId, i64> = HashMap::new();
    let mut count = |container, volume_ul: i64| {
        let most = by_container.entry(container).or_default();
        *most = volume_ul.max(*most);
    };
    for removal in removals::list(conn).await?.into_iter().filter(|removal| removal.to_reclaim_silver) {
        for entry in standing_in(source, removal.movement, year, site) {
            count(removal.container, entry.amount.volume_ul);
        }
    }
    for recovery in recoveries::list(conn).await? {
        for entry in standing_in(source, recovery.movement, year, site) {
            let steps = course(Vessel::Container(recovery.container), &source.entries);
            let held = steps.iter().find(|step| step.entry.number == entry.number).map_or(0, |it| it.after.volume_ul);
            count(recovery.container, recovery.treated_ul.unwrap_or(held));
        }
    }
    Ok(by_container.values().sum())
}

/// The entries of a movement that stand and happened in a year.
fn standing_in<'a>(source: &'a WasteSource, movement: MovementId, year: i16, site: &Site) -> Vec<&'a Entry> {
    book::standing(&source.entries)
        .filter(|entry| entry.movement == movement && entry.happened_at.local(&site.zone).date().year() == year)
        .collect()
}

/// The removals of the year that stand.
async fn removal_lines(
    conn: &mut SqliteConnection,
    site: &Site,
    waste: &SiteWaste,
    source: &WasteSource,
    year: i16,
) -> Result<Vec<RemovalLine>, Error> {
    let mut lines = Vec::new();
    for removal in removals::list(conn).await? {
        let entries = standing_in(source, removal.movement, year, site);
        if entries.is_empty() {
            continue;
        }
        let left = removal.removed_at.local(&site.zone).date();
        let volume_ul = entries.iter().map(|entry| entry.amount.volume_ul).sum();
        let container = containers::find(conn, removal.container).await?;
        lines.push(RemovalLine {
            container: container.map_or_else(String::new, |container| container.title()),
            left: day(left),
            to: format!("{} to {}", removal.carrier, removal.destination),
            reference: removal.reference,
            volume: crate::domain::measure::volume::in_words(volume_ul),
            copy: removal.copy_returned_on.map_or_else(|| "not yet".to_owned(), day),
            keep: waste.keep_until(left).map_or_else(|| "not entered".to_owned(), day),
        });
    }
    Ok(lines)
}
