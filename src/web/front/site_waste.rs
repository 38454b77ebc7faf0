//! `/front/site/waste`: how often containers are looked at, how long papers are kept, when the carrier
//! comes next, what the whole site generates in a month.

use askama::Template;
use axum::{extract::State, response::Response};

use crate::{
    calc::working::plain,
    domain::{
        field_errors::FieldErrors,
        site::{
            Site,
            example_rules::{CHECKED, VERIFY},
            site_waste::{SiteMonth, SiteWaste, month_of},
        },
    },
    store::{
        Stale, WriteError,
        people::change_log,
        site::{site_waste, sites},
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
        request::{posted::Posted, takes::Takes},
    },
};

use super::{vessel_acts::shown, waste::day};

/// The routes of this page. Site rules are the instructor's to enter.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/site/waste", Access::Staff, show),
        change("/front/site/waste", Access::Instructor, save).taking(Takes::PILE),
        change("/front/site/waste/months", Access::Instructor, save_month),
    ]
}

const PATH: &str = "/front/site/waste";

#[derive(Template)]
#[template(path = "front/site_waste.html")]
struct SiteWastePage {
    frame: Frame,
    facts: Vec<(&'static str, String)>,
    form: Form,
    month_form: Form,
    months: Vec<MonthLine>,
    verify: &'static str,
    checked: &'static str,
}

struct MonthLine {
    month: String,
    nonacute: String,
    acute: String,
    category: &'static str,
    source: String,
}

async fn show(State(state): State<AppState>, frame: Frame) -> Result<Response, WebError> {
    show_with(&state, frame, None).await
}

/// The page; which of its two forms was refused, and how.
async fn show_with(
    state: &AppState,
    frame: Frame,
    refused: Option<(&'static str, Form)>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let waste = site_waste::find(&mut conn, site.id).await?;
    let months = site_waste::list_months(&mut conn, site.id).await?;
    let is_refused = refused.is_some();
    let of = |act: &str, begun: Form| match &refused {
        Some((refused, form)) if *refused == act => form.clone(),
        _ => begun,
    };
    let number = |value: Option<i64>| value.map_or(String::new(), |value| value.to_string());
    let values = [
        ("look_every", number(waste.look_every_days)),
        ("look_source", waste.look_source.clone()),
        ("keep_years", number(waste.keep_years)),
        ("keep_source", waste.keep_source.clone()),
        ("turnover", number(waste.turnover_percent)),
        ("turnover_source", waste.turnover_source.clone()),
        ("next_removal", waste.next_removal_on.map_or(String::new(), |date| date.to_string())),
    ];
    let page = Page::new(SiteWastePage {
        facts: described(&waste)
            .into_iter()
            .map(|(name, value)| {
                (name, if value.is_empty() { "not entered: ask your safety office".to_owned() } else { value })
            })
            .collect(),
        form: of("save", Form::filled(&frame, waste.version, values)).prefixed("save"),
        month_form: of("month", Form::empty(&frame)).prefixed("month"),
        months: months.iter().map(month_line).collect(),
        verify: VERIFY,
        checked: CHECKED,
        frame,
    });
    Ok(shown(page, is_refused))
}

fn month_line(month: &SiteMonth) -> MonthLine {
    MonthLine {
        month: month.month.clone(),
        nonacute: format!("{} kg", plain(month.nonacute_g as f64 / 1000.0)),
        acute: format!("{} kg", plain(month.acute_g as f64 / 1000.0)),
        category: match month.category().label() {
            "VSQG" => "very small quantity generator",
            "SQG" => "small quantity generator",
            _ => "large quantity generator",
        },
        source: month.source.clone(),
    }
}

fn described(waste: &SiteWaste) -> Vec<(&'static str, String)> {
    let said = |value: Option<i64>, unit: &str, source: &str| match value {
        Some(number) if source.is_empty() => format!("{number} {unit}"),
        Some(number) => format!("{number} {unit} ({source})"),
        None => String::new(),
    };
    vec![
        ("Somebody looks at each container every", said(waste.look_every_days, "days", &waste.look_source)),
        ("Papers of a removal are kept for", said(waste.keep_years, "years", &waste.keep_source)),
        (
            "Of what stands here at the start of a year, recycled in it",
            said(waste.turnover_percent, "% at least", &waste.turnover_source),
        ),
        ("The carrier comes next on", waste.next_removal_on.map_or(String::new(), day)),
    ]
}

fn read(posted: &Posted, site: &Site) -> Result<SiteWaste, FieldErrors> {
    let mut r = posted.reader();
    let mut whole = |field, most| if r.raw(field).is_empty() { Some(None) } else { r.whole(field, 1..=most).map(Some) };
    let (every, years, turnover) = (whole("look_every", 366), whole("keep_years", 100), whole("turnover", 100));
    let (look_source, keep_source) = (r.text("look_source", 0..=400), r.text("keep_source", 0..=400));
    let turnover_source = r.text("turnover_source", 0..=400);
    let next = if r.raw("next_removal").is_empty() { Some(None) } else { r.date("next_removal").map(Some) };
    for (field, number, source) in [
        ("look_source", every, &look_source),
        ("keep_source", years, &keep_source),
        ("turnover_source", turnover, &turnover_source),
    ] {
        if matches!(number, Some(Some(_))) && source.as_deref() == Some("") {
            r.wrong(field, "say who asks for it: a permit, a letter, a regulation, your own custom");
        }
    }
    r.finish((|| {
        Some(SiteWaste {
            site: site.id,
            look_every_days: every?,
            look_source: look_source?,
            keep_years: years?,
            keep_source: keep_source?,
            turnover_percent: turnover?,
            turnover_source: turnover_source?,
            next_removal_on: next?,
            version: posted.version(),
        })
    })())
}

async fn save(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let site = sites::find(&mut *state.store.read().await?).await?.ok_or(WebError::NotFound("the site"))?;
    let waste = match read(&posted, &site) {
        Ok(waste) => waste,
        Err(errors) => return show_with(&state, frame, Some(("save", Form::refused(&posted, errors)))).await,
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let stored = site_waste::find(tx, waste.site).await?;
                if !site_waste::save(tx, &waste).await? {
                    return Err(WriteError::Stale(Stale::between(
                        "the site’s waste",
                        PATH,
                        described(&waste),
                        described(&stored),
                    )));
                }
                change_log::insert(tx, at, actor, "waste customs entered", "site", waste.site, "").await?;
                Ok(PATH.to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

async fn save_month(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let site = sites::find(&mut *state.store.read().await?).await?.ok_or(WebError::NotFound("the site"))?;
    let mut r = posted.reader();
    let month = r.choice("month", month_of);
    let (nonacute, acute) = (r.decimal("nonacute", 3, 0..=1_000_000_000), r.decimal("acute", 3, 0..=1_000_000_000));
    let source = r.text("source", 1..=200);
    let read =
        (|| Some(SiteMonth { month: month?, nonacute_g: nonacute?, acute_g: acute?, source: source?, version: 0 }))();
    let month = match r.finish(read) {
        Ok(month) => month,
        Err(errors) => return show_with(&state, frame, Some(("month", Form::refused(&posted, errors)))).await,
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let by = actor.person().ok_or(WriteError::Forbidden("only an instructor enters this"))?;
                site_waste::save_month(tx, site.id, &month, (by, at)).await?;
                change_log::insert(tx, at, actor, "site’s month entered", "site", site.id, &month.month).await?;
                Ok(PATH.to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}
