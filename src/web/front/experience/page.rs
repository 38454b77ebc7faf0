//! The page of what a paper's sheets have taught.

use std::collections::{HashMap, HashSet};

use askama::Template;
use axum::{
    extract::{Path, Query, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;
use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::lab::exposure::words::result_words;
use crate::{
    calc::{
        light::{
            experience::{EXPONENT_PRIOR, Residual},
            forecast::Z_80,
        },
        quantity::Seconds,
        working::{figures, plain, seconds_text, stops_text},
    },
    domain::{
        camera::Camera,
        exposure::{
            Exposure,
            starting_exposure::{MOST_TEACHING, PaperTaught, taught_by},
        },
        ids::{CameraId, ExposureId, PaperId},
        people::section::Section,
        stock::paper::Paper,
    },
    drawing::narrowing::Narrowing,
    store::{
        exposure::exposures,
        people::sections,
        site::sites,
        stock::{paper_boxes, papers},
    },
    web::{
        fields::light_fields::LightFields,
        kit::{
            access::Staff,
            error::WebError,
            form::{Control, Form},
            frame::Frame,
            page::Page,
            state::AppState,
        },
    },
};

use super::{
    cameras::camera_choices,
    pictures::{Pictures, cameras_of},
    widths::{usual_base, widths},
};

/// A sheet that weighs less than this against the others is said to stand out.
const STANDS_OUT: f64 = 0.4;

#[derive(Template)]
#[template(path = "front/experience.html")]
struct ExperiencePage {
    frame: Frame,
    id: PaperId,
    name: String,
    facts: Vec<(&'static str, String)>,
    residuals: Vec<ResidualLine>,
    left_out: Vec<LeftOutLine>,
    others: Vec<OtherLine>,
    /// How many of them there are in all, and which part of them is shown.
    others_count: usize,
    others_shown: Option<Part>,
    /// How many sheets would teach if they were not older than the newest ones; zero: none.
    too_old: usize,
    most: i64,
    pictures: Pictures,
    narrowing: Narrowing,
    widths: Vec<(usize, String)>,
    boxes: Vec<BoxLine>,
    /// The stamp of forms without fields.
    plain: Form,
    leaving: Form,
    sheet: Control,
    new_box: Form,
    usual: Form,
    camera: Control,
    light: LightFields,
}

struct ResidualLine {
    sheet: String,
    path: String,
    made_at: String,
    camera: String,
    light: String,
    forecast: String,
    made: String,
    result: String,
    stops: String,
    expected: String,
    off: String,
    weight: String,
    stands_out: bool,
}

struct LeftOutLine {
    sheet: String,
    id: String,
    made: String,
    result: String,
    reason: String,
    at: String,
}

/// A sheet that teaches nothing by itself.
struct OtherLine {
    sheet: String,
    path: String,
    made: String,
    result: String,
    why: &'static str,
}

/// A part of a long list.
struct Part {
    from: usize,
    to: usize,
    /// The address of the part before and after it; empty at an end.
    newer: String,
    older: String,
}

/// How many of the sheets that teach nothing stand on a page.
const PER_PART: usize = 100;

struct BoxLine {
    id: String,
    begun_at: String,
    remark: String,
    state: &'static str,
    standing: bool,
}

/// What the address may carry.
#[derive(Debug, Deserialize)]
pub struct Asked {
    /// Which part of the sheets that teach nothing, from zero.
    part: Option<String>,
}

/// Which of the page's forms was refused.
pub enum Refused {
    /// None; somebody looks at a part of the sheets that teach nothing.
    Looking {
        /// Which part, from zero.
        part: usize,
    },
    /// Leaving a sheet out.
    Leaving(Form),
    /// A new box.
    Box(Form),
    /// My usual time.
    Usual(Form),
}

/// The page.
pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    _staff: Staff,
    Path(id): Path<PaperId>,
    Query(asked): Query<Asked>,
) -> Result<Response, WebError> {
    let part = asked.part.as_deref().and_then(|part| part.parse().ok()).unwrap_or(0).min(1_000_000);
    Ok(page(&state, frame, id, Refused::Looking { part }).await?.into_response())
}

/// The page, with a form as it was refused.
pub async fn page(
    state: &AppState,
    frame: Frame,
    id: PaperId,
    refused: Refused,
) -> Result<Page<impl Template>, WebError> {
    let mut conn = state.store.read().await?;
    let paper = papers::find(&mut conn, id).await?.ok_or(WebError::NotFound("this paper"))?;
    let site = sites::find(&mut conn).await?;
    let by_sun = site.as_ref().is_some_and(|site| site.position.is_some());
    let zone = site.map_or(TimeZone::UTC, |site| site.zone);
    let all = exposures::list_of_paper(&mut conn, id).await?;
    let mut teaching = exposures::list_teaching(&mut conn, id, MOST_TEACHING).await?;
    teaching.reverse();
    let taught = taught_by(&teaching, &paper);
    let left_out = paper_boxes::list_left_out(&mut conn, id).await?;
    let boxes = paper_boxes::list(&mut conn, id).await?;
    let cameras = cameras_of(&mut conn, &all).await?;
    let names = Names { sections: section_names(&mut conn).await?, cameras: &cameras, zone: &zone };
    let widths = widths(&teaching, &paper);
    let mut part = 0;
    let (leaving, new_box, usual) = match refused {
        Refused::Looking { part: asked } => {
            part = asked;
            (None, None, None)
        }
        Refused::Leaving(form) => (Some(form), None, None),
        Refused::Box(form) => (None, Some(form), None),
        Refused::Usual(form) => (None, None, Some(form)),
    };
    let leaving = leaving.unwrap_or_else(|| Form::empty(&frame)).prefixed("leave");
    let now = state.now().as_local_control(&zone);
    let new_box = new_box.unwrap_or_else(|| Form::filled(&frame, 0, [("begun_at", now)])).prefixed("box");
    let usual = usual.unwrap_or_else(|| Form::filled(&frame, paper.version, [])).prefixed("usual");
    let mut offered = vec![(String::new(), "choose".to_owned())];
    offered.extend(teaching.iter().map(|exposure| (exposure.id.to_string(), names.sheet(exposure))));
    let elsewhere: HashSet<ExposureId> =
        teaching.iter().map(|exposure| exposure.id).chain(left_out.iter().map(|left| left.exposure)).collect();
    let others: Vec<&Exposure> = all.iter().rev().filter(|exposure| !elsewhere.contains(&exposure.id)).collect();
    let shown: Vec<&Exposure> = others.iter().skip(part.saturating_mul(PER_PART)).take(PER_PART).copied().collect();
    let begun = boxes.iter().find(|known| known.taken_back_at.is_none());
    Ok(Page::new(ExperiencePage {
        id,
        name: paper.name.clone(),
        facts: facts(
            (&paper, usual_base(&teaching, &paper)),
            &taught,
            &all,
            begun.map(|known| known.begun_at.as_words(&zone)).as_deref(),
        ),
        residuals: teaching
            .iter()
            .zip(taught.residuals())
            .rev()
            .map(|(exposure, residual)| names.residual(exposure, residual))
            .collect(),
        left_out: left_out
            .iter()
            .filter_map(|left| {
                let exposure = all.iter().find(|exposure| exposure.id == left.exposure)?;
                Some(LeftOutLine {
                    sheet: names.sheet(exposure),
                    id: exposure.id.to_string(),
                    made: seconds_text(exposure.made_ms as f64 / 1000.0),
                    result: result_words(exposure),
                    reason: left.reason.clone(),
                    at: left.at.as_words(&zone),
                })
            })
            .collect(),
        others: shown.iter().map(|exposure| names.other(exposure, exposure.teaches())).collect(),
        others_count: others.len(),
        others_shown: part_of(id, part, others.len()),
        too_old: others.iter().filter(|exposure| exposure.teaches() && !names.is_body_cap(exposure)).count(),
        most: MOST_TEACHING,
        pictures: Pictures::of(&all, &cameras),
        narrowing: Narrowing::of("narrowing", &widths),
        widths: widths.iter().map(|width| (width.sheets, format!("± {:.2}", width.half_stops))).collect(),
        boxes: boxes
            .iter()
            .map(|known| BoxLine {
                id: known.id.to_string(),
                begun_at: known.begun_at.as_words(&zone),
                remark: known.remark.clone(),
                state: match known.taken_back_at {
                    Some(_) => "taken back: it was no new box",
                    None if Some(known.id) == begun.map(|begun| begun.id) => "in use",
                    None => "used up",
                },
                standing: known.taken_back_at.is_none(),
            })
            .collect(),
        plain: Form::empty(&frame),
        sheet: leaving.select("exposure", "Sheet", &offered),
        leaving,
        new_box,
        camera: usual.select("camera", "With this camera", &camera_choices(&mut conn).await?),
        light: LightFields::of(&usual, by_sun),
        usual,
        frame,
    }))
}

fn facts(
    (paper, base): (&Paper, Seconds),
    taught: &PaperTaught,
    all: &[Exposure],
    begun: Option<&str>,
) -> Vec<(&'static str, String)> {
    let experience = taught.for_new_camera(None).at(base);
    let index = plain(paper.exposure_index().as_number());
    let from = if paper.index_from.is_empty() { "as typed in".to_owned() } else { paper.index_from.clone() };
    let exponent = match taught.fitted() {
        Some(fitted) => format!(
            "{:.2} ± {:.2}, taught by these sheets (before them {} ± {})",
            fitted.exponent.as_number(),
            fitted.sd,
            plain(EXPONENT_PRIOR.0),
            plain(EXPONENT_PRIOR.1)
        ),
        None if !paper.reciprocity_table.is_empty() => paper.reciprocity_table.in_words(),
        None if paper.may_fit_exponent() => format!(
            "{} ± {}, from its card: the ± counts in every interval, and the sheets teach the exponent once their \
             times span three stops",
            plain(paper.reciprocity().exponent().as_number()),
            plain(EXPONENT_PRIOR.1)
        ),
        None => format!("{}, from its card", plain(paper.reciprocity().exponent().as_number())),
    };
    let correction = if taught.based_on() == 0 {
        "no experience yet".to_owned()
    } else {
        let stops = experience.correction_stops;
        let than = if stops < 0.0 { "less" } else { "more" };
        format!(
            "{} stops {than} than the formula says, {} times its time, for a camera and a day not seen before",
            figures(stops.abs(), 2),
            figures(stops.exp2(), 2)
        )
    };
    vec![
        ("Exposure index", format!("{index}, {from}")),
        ("Box", begun.map_or("the first".to_owned(), |begun| format!("begun on {begun}"))),
        ("Sheets", format!("{} recorded from this box, {} teach", all.len(), taught.based_on())),
        ("What this paper needs", correction),
        (
            "80 % interval of that",
            format!(
                "± {} stops at {} metered, without the light’s own",
                figures(Z_80 * experience.sd_stops, 2),
                seconds_text(base.as_s())
            ),
        ),
        ("Reciprocity exponent", exponent),
    ]
}

/// Which part of so many is shown; `None` when all of them stand on one page.
fn part_of(id: PaperId, part: usize, count: usize) -> Option<Part> {
    let here = |part: usize| format!("/front/stockroom/papers/{id}/experience?part={part}#others");
    (count > PER_PART).then(|| Part {
        from: (part * PER_PART + 1).min(count),
        to: ((part + 1) * PER_PART).min(count),
        newer: if part > 0 { here(part - 1) } else { String::new() },
        older: if (part + 1) * PER_PART < count { here(part + 1) } else { String::new() },
    })
}

async fn section_names(conn: &mut SqliteConnection) -> Result<Vec<Section>, WebError> {
    Ok(sections::list(conn).await?)
}

/// What lines need to name a sheet.
struct Names<'a> {
    sections: Vec<Section>,
    cameras: &'a HashMap<CameraId, Camera>,
    zone: &'a TimeZone,
}

impl Names<'_> {
    /// `Sheet 3, Optics A`; the section only where there are several.
    fn sheet(&self, exposure: &Exposure) -> String {
        let section = self.sections.iter().find(|section| section.id == exposure.section);
        match section.filter(|_| self.sections.len() > 1) {
            Some(section) => format!("Sheet {}, {}", exposure.number, section.name),
            None => format!("Sheet {}", exposure.number),
        }
    }

    fn residual(&self, exposure: &Exposure, residual: Residual) -> ResidualLine {
        let camera = self.cameras.get(&exposure.camera);
        ResidualLine {
            sheet: self.sheet(exposure),
            path: format!("/front/exposures/{}", exposure.id),
            made_at: exposure.made_at.as_words(self.zone),
            camera: camera.map_or_else(String::new, |camera| format!("{}, {}", camera.number, camera.build().as_str())),
            light: exposure.light_typed.clone(),
            forecast: seconds_text(exposure.forecast_ms as f64 / 1000.0),
            made: seconds_text(exposure.made_ms as f64 / 1000.0),
            result: if exposure.demonstration {
                format!("{}, demonstration", result_words(exposure))
            } else {
                result_words(exposure)
            },
            stops: stops_text(residual.stops),
            expected: stops_text(residual.expected),
            off: stops_text(residual.stops_off()),
            weight: format!("{:.0} %", 100.0 * residual.share()),
            stands_out: residual.weight < STANDS_OUT,
        }
    }

    /// Whether it was made in a body cap on record as paper, from before a film could be named.
    fn is_body_cap(&self, exposure: &Exposure) -> bool {
        self.cameras.get(&exposure.camera).is_some_and(Camera::holds_film)
    }

    /// A sheet that teaches nothing here; `judged` when it would by itself.
    fn other(&self, exposure: &Exposure, judged: bool) -> OtherLine {
        OtherLine {
            sheet: self.sheet(exposure),
            path: format!("/front/exposures/{}", exposure.id),
            made: seconds_text(exposure.made_ms as f64 / 1000.0),
            result: result_words(exposure),
            why: match exposure.judgement {
                _ if judged && self.is_body_cap(exposure) => "made in a body cap: film, not this paper",
                _ if judged => "older than the newest ones, which alone teach",
                None => "nobody has looked at it yet",
                Some(judgement) if judgement.fault.is_some() => "spoiled",
                Some(_) => "blank or solid: only a bound",
            },
        }
    }
}
