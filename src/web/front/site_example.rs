//! `/front/site/example`: the example of federal rules, loaded only where it was ticked, and never over a
//! figure of the site's own unless that was ticked too. Of the kinds of generator a site is one.

use askama::Template;
use axum::{
    extract::State,
    response::{IntoResponse, Response},
};

use crate::{
    domain::{
        field_errors::FieldErrors,
        ids::SiteRuleId,
        measure::decimal,
        site::{
            Site,
            example_rules::{CHECKED, EXAMPLE, ExampleRule, GeneratorKind, Sets, VERIFY, of_another_kind},
            site_rule::SiteRule,
            site_waste::SiteWaste,
        },
    },
    store::{
        WriteError,
        people::change_log,
        site::{site_rules, site_waste, sites},
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

/// The routes of this page. Site rules are the instructor's to enter.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/site/example", Access::Staff, show),
        change("/front/site/example", Access::Instructor, load).taking(Takes::PILE),
    ]
}

#[derive(Template)]
#[template(path = "front/site_example.html")]
struct ExamplePage {
    frame: Frame,
    form: Form,
    kinds: Vec<(String, String)>,
    /// What may be loaded, under the words that say for whom.
    groups: Vec<Group>,
    verify: &'static str,
    checked: &'static str,
}

struct Group {
    heading: &'static str,
    lines: Vec<Line>,
}

struct Line {
    rule: &'static ExampleRule,
    /// For whom it is, and where it stands.
    about: String,
    /// The site's own figure that it would take the place of; empty where there is none.
    own: String,
    /// The field that agrees to that.
    replace: String,
}

impl Line {
    fn own_words(&self) -> String {
        format!("the site has {}", self.own)
    }
}

async fn show(State(state): State<AppState>, frame: Frame) -> Result<Response, WebError> {
    let form = Form::empty(&frame);
    Ok(page_with(&state, frame, form).await?.into_response())
}

async fn page_with(state: &AppState, frame: Frame, form: Form) -> Result<Page<ExamplePage>, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let waste = site_waste::find(&mut conn, site.id).await?;
    let line = |rule: &'static ExampleRule| Line {
        rule,
        about: format!("For {}. {}; {}.", rule.applies, rule.section, rule.edition),
        own: own_figure(rule, &site, &waste).unwrap_or_default(),
        replace: replace_field(rule),
    };
    let group = |heading, kind| Group {
        heading,
        lines: EXAMPLE.iter().filter(|rule| rule.only_for == kind).map(line).collect(),
    };
    let groups = vec![
        group("Only under the ordinary rules", Some(GeneratorKind::SmallQuantity)),
        group("Only in an academic laboratory that opted in", Some(GeneratorKind::Academic)),
        group("Under either", None),
    ];
    let kinds = [(String::new(), "not known yet: only figures that hold under either".to_owned())]
        .into_iter()
        .chain(GeneratorKind::ALL.map(|kind| (kind.as_str().to_owned(), kind.in_words().to_owned())));
    Ok(Page::new(ExamplePage { kinds: kinds.collect(), groups, form, verify: VERIFY, checked: CHECKED, frame }))
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

/// What a form asked for.
struct Chosen {
    /// Whose rules the site has, if any that only one kind has were ticked.
    kind: Option<GeneratorKind>,
    /// What was ticked: each with a new id and whether it may take the place of an own figure.
    rules: Vec<(&'static ExampleRule, SiteRuleId, bool)>,
}

fn read(posted: &Posted, mint: impl Fn() -> SiteRuleId) -> Result<Chosen, FieldErrors> {
    let kind = GeneratorKind::from_word(posted.get("kind"));
    let rules: Vec<_> = EXAMPLE
        .iter()
        .filter(|rule| posted.ticked(rule.key))
        .map(|rule| (rule, mint(), posted.ticked(&replace_field(rule))))
        .collect();
    let mut errors = FieldErrors::none();
    if rules.is_empty() {
        errors.add("", "tick what is to be loaded: which of these apply is for your safety office to say");
    }
    if !posted.ticked("verified") {
        errors.add("verified", "must be ticked: an example is not a rule until somebody has checked it");
    }
    for (rule, ..) in &rules {
        match (rule.only_for, kind) {
            (Some(_), None) => {
                errors.add("kind", "must be chosen: something is ticked below that only one of the two has");
            }
            (Some(only), Some(kind)) if only != kind => {
                errors.add(rule.key, "belongs to the other rules, not to those chosen above: take one of the two back");
            }
            _ => {}
        }
    }
    if errors.is_empty() { Ok(Chosen { kind, rules }) } else { Err(errors) }
}

/// What is in force for the other kind of generator has to be ended first.
fn refuse_other_kind(kind: Option<GeneratorKind>, in_force: &[SiteRule]) -> Result<(), FieldErrors> {
    match kind.and_then(|kind| of_another_kind(kind, in_force)) {
        None => Ok(()),
        Some(rule) => Err(FieldErrors::one(
            "kind",
            format!(
                "does not go with a rule that the site has already: {}. End that one on the site’s page first, if it is \
                 not yours",
                rule.in_words()
            ),
        )),
    }
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
                refuse_unasked(&chosen.rules, &site, &waste)?;
                let in_force = site_rules::list(tx).await?;
                if chosen.rules.iter().any(|(rule, ..)| rule.only_for.is_some()) {
                    refuse_other_kind(chosen.kind, &in_force)?;
                }
                for (rule, id, _) in chosen.rules {
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
