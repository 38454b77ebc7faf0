//! `/front/site/example`: the example of federal rules, loaded only where it was ticked, and never over a
//! figure of the site's own unless that was ticked too.

use askama::Template;
use axum::{
    extract::State,
    response::{IntoResponse, Response},
};

use crate::{
    domain::{
        decimal,
        example_rules::{CHECKED, EXAMPLE, ExampleRule, Sets, VERIFY},
        field_errors::FieldErrors,
        ids::SiteRuleId,
        site::Site,
        site_rule::SiteRule,
        site_waste::SiteWaste,
    },
    store::{WriteError, change_log, site_rules, site_waste, sites},
    web::{
        access::Access,
        error::WebError,
        form::Form,
        frame::Frame,
        page::{Page, see_other},
        posted::Posted,
        routes::{Route, change, page},
        state::AppState,
    },
};

/// The routes of this page. Site rules are the instructor's to enter.
pub fn routes() -> Vec<Route> {
    vec![page("/front/site/example", Access::Staff, show), change("/front/site/example", Access::Instructor, load)]
}

#[derive(Template)]
#[template(path = "front/site_example.html")]
struct ExamplePage {
    frame: Frame,
    form: Form,
    rules: Vec<Line>,
    verify: &'static str,
    checked: &'static str,
}

struct Line {
    rule: &'static ExampleRule,
    /// The site's own figure that it would take the place of; empty where there is none.
    own: String,
    /// The field that agrees to that.
    replace: String,
}

async fn show(State(state): State<AppState>, frame: Frame) -> Result<Response, WebError> {
    let form = Form::empty(&frame);
    Ok(page_with(&state, frame, form).await?.into_response())
}

async fn page_with(state: &AppState, frame: Frame, form: Form) -> Result<Page<ExamplePage>, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let waste = site_waste::find(&mut conn, site.id).await?;
    let rules = EXAMPLE.iter().map(|rule| Line {
        rule,
        own: own_figure(rule, &site, &waste).unwrap_or_default(),
        replace: replace_field(rule),
    });
    Ok(Page::new(ExamplePage { rules: rules.collect(), form, verify: VERIFY, checked: CHECKED, frame }))
}

fn replace_field(rule: &ExampleRule) -> String {
    format!("replace-{}", rule.key)
}

/// What the site entered itself where the example would enter something else. Rules are added to
/// others, so that they replace none.
fn own_figure(rule: &ExampleRule, site: &Site, waste: &SiteWaste) -> Option<String> {
    let with_source = |figure: String, source: &str| {
        if source.is_empty() { figure } else { format!("{figure} ({source})") }
    };
    match rule.sets {
        Sets::Rule { .. } => None,
        Sets::SilverLimit(ug_per_l) => {
            let own = site.silver_limit_ug_per_l.filter(|own| *own != ug_per_l)?;
            Some(with_source(format!("{} mg/L", decimal::written(own, 3)), &site.silver_limit_source))
        }
        Sets::Title(title) => Some(format!("“{}”", site.waste_title))
            .filter(|_| !site.waste_title.is_empty() && site.waste_title != title),
        Sets::KeepYears(years) => {
            let own = waste.keep_years.filter(|own| *own != years)?;
            Some(with_source(format!("{own} years"), &waste.keep_source))
        }
        Sets::Turnover(percent) => {
            let own = waste.turnover_percent.filter(|own| *own != percent)?;
            Some(with_source(format!("{own} %"), &waste.turnover_source))
        }
    }
}

/// What was ticked: the rules, each with a new id and whether it may take the place of an own figure.
fn read(
    posted: &Posted,
    mint: impl Fn() -> SiteRuleId,
) -> Result<Vec<(&'static ExampleRule, SiteRuleId, bool)>, FieldErrors> {
    let chosen: Vec<_> = EXAMPLE
        .iter()
        .filter(|rule| posted.ticked(rule.key))
        .map(|rule| (rule, mint(), posted.ticked(&replace_field(rule))))
        .collect();
    let titles = chosen.iter().filter(|(rule, ..)| matches!(rule.sets, Sets::Title(_))).count();
    let mut errors = FieldErrors::none();
    if chosen.is_empty() {
        errors.add("", "tick what is to be loaded: which of these apply is for your safety office to say");
    }
    if !posted.ticked("verified") {
        errors.add("verified", "must be ticked: an example is not a rule until somebody has checked it");
    }
    if titles > 1 {
        errors.add("title", "a label has one title: choose one of the two");
    }
    if errors.is_empty() { Ok(chosen) } else { Err(errors) }
}

/// Loads what was ticked, and nothing else.
async fn load(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let chosen = match read(&posted, || state.mint()) {
        Ok(chosen) => chosen,
        Err(errors) => {
            let again = page_with(&state, frame, Form::refused(&posted, errors)).await?;
            return Ok(again.unprocessable().into_response());
        }
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let mut site = sites::find(tx).await?.ok_or(WriteError::Missing("the site"))?;
                let mut waste = site_waste::find(tx, site.id).await?;
                let by = actor.person().ok_or(WriteError::Forbidden("only an instructor enters rules"))?;
                refuse_unasked(&chosen, &site, &waste)?;
                let in_force = site_rules::list(tx).await?;
                for (rule, id, _) in chosen {
                    match rule.sets {
                        Sets::Rule { asks, or_next_visit } => {
                            let source = rule.source();
                            let entered = SiteRule { id, site: site.id, asks, or_next_visit, source, entered_at: at };
                            // the same twice would only count down twice
                            let same = |other: &SiteRule| (other.asks, other.or_next_visit) == (asks, or_next_visit);
                            if !in_force.iter().any(same) {
                                site_rules::insert(tx, &entered, by).await?;
                            }
                        }
                        Sets::SilverLimit(ug_per_l) => {
                            site.silver_limit_ug_per_l = Some(ug_per_l);
                            site.silver_limit_source = rule.source();
                        }
                        Sets::Title(title) => site.waste_title = title.to_owned(),
                        Sets::KeepYears(years) => {
                            waste.keep_years = Some(years);
                            waste.keep_source = rule.source();
                        }
                        Sets::Turnover(percent) => {
                            waste.turnover_percent = Some(percent);
                            waste.turnover_source = rule.source();
                        }
                    }
                    change_log::insert(tx, at, actor, "example rule loaded", "site", site.id, rule.section).await?;
                }
                sites::update(tx, &site).await?;
                site_waste::save(tx, &waste).await?;
                Ok("/front/site".to_owned())
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let again = page_with(&state, frame, Form::refused(&posted, errors)).await?;
            Ok(again.unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// An own figure gives way only when that was ticked.
fn refuse_unasked(
    chosen: &[(&'static ExampleRule, SiteRuleId, bool)],
    site: &Site,
    waste: &SiteWaste,
) -> Result<(), FieldErrors> {
    let mut errors = FieldErrors::none();
    for (rule, _, replace) in chosen {
        if let Some(own) = own_figure(rule, site, waste).filter(|_| !replace) {
            errors.add(replace_field(rule), format!("must be ticked, or the site’s own figure stays: {own}"));
        }
    }
    if errors.is_empty() { Ok(()) } else { Err(errors) }
}
