//! The page of contact prints: how to find the time, the form to record one, the list.

use std::collections::{HashMap, HashSet};

use askama::Template;
use axum::{
    extract::{RawQuery, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::lab::exposure::{seen::waits_for_trays, words::result_words};
use crate::web::fields::through_choices::through_choices;
use crate::{
    calc::{light::counting::countable, quantity::Seconds},
    domain::{
        evening::lab_session::LabSession,
        exposure::{
            Exposure,
            print::{Print, PrintVerdict},
        },
        ids::{ExposureId, PaperId, SiteId},
        instant::Instant,
        measure::typed_seconds::exactly,
        stock::paper::{Paper, PaperKind},
    },
    lab::exposure::at_hand::AtHand,
    store::{
        exposure::{exposures, prints},
        stock::papers,
    },
    web::{
        bench::{
            at_bench::{Saved, last_saved},
            tray_times::TrayTimes,
        },
        kit::{
            access::Bench,
            error::WebError,
            form::{Control, Form},
            frame::Frame,
            page::Page,
            state::AppState,
        },
    },
};

/// What printing needs: the session, the negatives, the papers.
pub struct Printing {
    /// The site.
    pub site: SiteId,
    /// The site's time zone.
    pub zone: TimeZone,
    /// The session in progress.
    pub session: Option<LabSession>,
    /// The negatives a student may print, newest first.
    pub negatives: Vec<Exposure>,
    /// Those of them that have yet to go through the trays.
    undeveloped: HashSet<ExposureId>,
    /// Papers to print on, the session's first.
    pub papers: Vec<Paper>,
    /// Prints made so far, newest first.
    pub prints: Vec<Print>,
    /// Whether a fixer stands in the session's tray line now.
    pub fixer_stands: bool,
    /// How long a print stays in the developer, in words; empty where no card says so.
    pub develop: String,
}

impl Printing {
    /// Looks it up.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn load(conn: &mut SqliteConnection, bench: &Bench, now: Instant) -> Result<Self, WebError> {
        let at_hand = AtHand::load(conn, bench.section, bench.student).await?;
        let session = at_hand.open_session().cloned();
        let mut papers: Vec<Paper> =
            papers::list(conn).await?.into_iter().filter(|paper| paper.kind == PaperKind::Paper).collect();
        if let Some(session) = &session {
            papers.sort_by_key(|paper| paper.id != session.paper);
        }
        let develop = match session.as_ref().and_then(|session| session.tray_line).zip(papers.first()) {
            Some((line, paper)) => TrayTimes::load(conn, line, paper.base, None, now).await?.developer(),
            None => String::new(),
        };
        let negatives = exposures::list_of_student(conn, bench.student).await?;
        let mut undeveloped = HashSet::new();
        for negative in &negatives {
            if waits_for_trays(conn, negative.id, bench.actor()).await? {
                undeveloped.insert(negative.id);
            }
        }
        Ok(Self {
            develop,
            undeveloped,
            site: at_hand.site,
            zone: at_hand.zone,
            session,
            negatives,
            papers,
            fixer_stands: at_hand.fixer_stands,
            prints: prints::list_of_student(conn, bench.student).await?,
        })
    }

    /// Whether the session has trays.
    pub fn uses_trays(&self) -> bool {
        self.session.as_ref().is_some_and(|session| session.tray_line.is_some())
    }

    /// A negative that may be printed.
    pub fn negative(&self, id: ExposureId) -> Option<&Exposure> {
        self.negatives.iter().find(|exposure| exposure.id == id)
    }

    /// The number of a negative that has yet to go through the trays.
    pub fn waits_for_trays(&self, id: ExposureId) -> Option<i64> {
        self.negative(id).filter(|negative| self.undeveloped.contains(&negative.id)).map(|negative| negative.number)
    }

    /// A paper to print on.
    pub fn paper(&self, id: PaperId) -> Option<&Paper> {
        self.papers.iter().find(|paper| paper.id == id)
    }

    /// Negatives as a list that opens.
    pub fn negative_options(&self) -> Vec<(String, String)> {
        let words = |exposure: &Exposure| {
            let trays = if self.undeveloped.contains(&exposure.id) { ", not through the trays yet" } else { "" };
            format!("sheet {}: {}{trays}", exposure.number, result_words(exposure))
        };
        self.negatives.iter().map(|exposure| (exposure.id.to_string(), words(exposure))).collect()
    }

    /// Papers as a list that opens.
    pub fn paper_options(&self) -> Vec<(String, String)> {
        self.papers.iter().map(|paper| (paper.id.to_string(), paper.name.clone())).collect()
    }
}

#[derive(Template)]
#[template(path = "bench/prints.html")]
struct PrintsPage {
    frame: Frame,
    saved: Saved,
    open: bool,
    any_negative: bool,
    any_paper: bool,
    /// No fixer stands in the trays a print would go through.
    no_fixer: bool,
    record: Option<PrintForm>,
    hints: Vec<String>,
    /// How long a print is developed; empty where no card says so.
    develop: String,
    lines: Vec<PrintLine>,
}

/// The form to record a print, or to correct one.
pub struct PrintForm {
    /// The form.
    pub form: Form,
    /// Negatives to choose from; empty when correcting.
    pub negatives: Vec<(String, String)>,
    /// Papers to choose from; empty when correcting.
    pub papers: Vec<(String, String)>,
    /// Verdicts to choose from.
    pub verdicts: Vec<(String, String)>,
    /// Whether it went through the trays, where there are trays.
    pub trays: Option<Control>,
}

/// Verdicts as a list that opens, beginning with “not looked at yet”.
pub fn verdict_options() -> Vec<(String, String)> {
    let mut options = vec![(String::new(), "not looked at yet".to_owned())];
    let words = |verdict: PrintVerdict| (verdict.as_str().to_owned(), verdict.as_str().to_owned());
    options.extend(PrintVerdict::ALL.into_iter().map(words));
    options
}

struct PrintLine {
    path: String,
    negative: String,
    made_at: String,
    made: String,
    light: String,
    sheet: String,
    result: &'static str,
}

/// The page.
pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let asked = form_urlencoded::parse(query.unwrap_or_default().as_bytes())
        .find(|(name, _)| name == "exposure")
        .map(|(_, number)| number.into_owned());
    Ok(prints_page(&state, frame, &bench, None, asked.as_deref()).await?.into_response())
}

/// The page, with the form as it was refused; `asked` is the number of a negative to print.
///
/// # Errors
/// When the database cannot be used.
pub async fn prints_page(
    state: &AppState,
    frame: Frame,
    bench: &Bench,
    refused: Option<Form>,
    asked: Option<&str>,
) -> Result<Page<impl Template>, WebError> {
    let mut conn = state.store.read().await?;
    let printing = Printing::load(&mut conn, bench, state.now()).await?;
    let saved = last_saved(&mut conn, bench.actor(), state.now()).await?;
    let numbers: HashMap<ExposureId, i64> =
        printing.negatives.iter().map(|exposure| (exposure.id, exposure.number)).collect();
    let possible = printing.session.is_some() && !printing.negatives.is_empty() && !printing.papers.is_empty();
    let form = refused.unwrap_or_else(|| blank(&frame, state, &printing, asked));
    let record = (possible || form.is_refused()).then(|| PrintForm {
        trays: printing.uses_trays().then(|| through_choices(&form)),
        form,
        negatives: printing.negative_options(),
        papers: printing.paper_options(),
        verdicts: verdict_options(),
    });
    Ok(Page::new(PrintsPage {
        saved,
        open: printing.session.is_some(),
        any_negative: !printing.negatives.is_empty(),
        any_paper: !printing.papers.is_empty(),
        no_fixer: printing.uses_trays() && !printing.fixer_stands,
        record,
        develop: printing.develop.clone(),
        hints: printing.negatives.iter().filter_map(|negative| hint(negative, &printing.prints)).collect(),
        lines: printing.prints.iter().map(|print| line(print, &numbers, &printing.zone)).collect(),
        frame,
    }))
}

fn blank(frame: &Frame, state: &AppState, printing: &Printing, asked: Option<&str>) -> Form {
    let now = state.now().as_local_control(&printing.zone);
    let negative = printing
        .negatives
        .iter()
        .find(|exposure| asked.is_some_and(|number| exposure.number.to_string() == number))
        .or(printing.negatives.first());
    let last = printing.prints.first();
    let size = last
        .map(|print| &print.sheet)
        .or(negative.map(|exposure| &exposure.sheet))
        .map_or_else(String::new, |sheet| sheet.typed.clone());
    let id = negative.map_or_else(String::new, |exposure| exposure.id.to_string());
    Form::filled(
        frame,
        0,
        [
            ("exposure", id),
            ("made_at", now.clone()),
            ("sheet", size),
            ("light", last.map_or_else(String::new, |print| print.light.clone())),
            ("developed_at", now),
        ],
    )
}

/// What the last print of a negative says about the next: twice as long, half, or the same.
fn hint(negative: &Exposure, prints: &[Print]) -> Option<String> {
    let last = prints.iter().find(|print| print.exposure == negative.id)?;
    let verdict = last.verdict?;
    let made = Seconds::from_millis(last.made_ms);
    let next = countable(made.with_stops(verdict.next_factor().log2()));
    let was = format!("Sheet {} printed for {} was {}", negative.number, exactly(last.made_ms), verdict.as_str());
    Some(match verdict {
        PrintVerdict::Right => format!("{was}: use the same time and the same lamp again."),
        _ => format!("{was}: try {} by the same lamp.", next.text),
    })
}

fn line(print: &Print, numbers: &HashMap<ExposureId, i64>, zone: &TimeZone) -> PrintLine {
    PrintLine {
        path: format!("/bench/prints/{}", print.id),
        negative: numbers.get(&print.exposure).map_or_else(|| "a sheet".to_owned(), |number| format!("sheet {number}")),
        made_at: print.made_at.as_words(zone),
        made: exactly(print.made_ms),
        light: print.light.clone(),
        sheet: print.sheet.in_words(),
        result: print.verdict.map_or("not looked at yet", PrintVerdict::as_str),
    }
}
