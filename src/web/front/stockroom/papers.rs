//! Papers and films: added, edited, put away, taken out again.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::{
    domain::{
        field_errors::FieldErrors,
        ids::{PaperId, SiteId},
        measure::decimal,
        stock::{
            colours_seen::ColoursSeen,
            paper::{Paper, PaperBase, PaperKind, index_of_iso_speed},
            reciprocity_lines::ReciprocityLines,
            shelf::{self, ShelfSize},
        },
    },
    store::{
        Stale, WriteError,
        people::change_log,
        site::sites,
        stock::{paper_sizes, papers},
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
        request::posted::{Posted, Reader},
    },
};

use super::PaperLine;

pub(super) fn routes() -> Vec<Route> {
    vec![
        page("/front/stockroom/papers/new", Access::Staff, new),
        change("/front/stockroom/papers", Access::Staff, create),
        page("/front/stockroom/papers/{id}", Access::Staff, edit),
        change("/front/stockroom/papers/{id}", Access::Staff, update),
        change("/front/stockroom/papers/{id}/put-away", Access::Staff, put_away),
        change("/front/stockroom/papers/{id}/take-out", Access::Staff, take_out),
    ]
}

pub(super) fn line(paper: &Paper, sizes: &[ShelfSize]) -> PaperLine {
    PaperLine {
        id: paper.id,
        kind: paper.kind.as_str(),
        base: if paper.kind == PaperKind::Film { "" } else { paper.base.in_words() },
        sees: paper.sees.as_str(),
        sizes: sizes_in_words(sizes),
        name: paper.name.clone(),
        index: decimal::written(paper.exposure_index_milli, 3),
        index_from: paper.index_from.clone(),
        reciprocity: match paper.reciprocity_milli {
            _ if !paper.reciprocity_table.is_empty() => paper.reciprocity_table.in_words(),
            1_000 => "none".to_owned(),
            milli => format!(
                "{} above {} s",
                decimal::written(milli, 3),
                decimal::written(paper.reciprocity_threshold_ms, 3)
            ),
        },
        silver: format!(
            "{} ({} to {}) g/m²",
            decimal::written(paper.silver_ug_per_m2, 6),
            decimal::written(paper.silver_low_ug_per_m2, 6),
            decimal::written(paper.silver_high_ug_per_m2, 6)
        ),
        carry_over: format!("{} mL/m²", decimal::written(paper.carry_over_ul_per_m2, 3)),
        remark: paper.remark.clone(),
    }
}

/// The sizes there are, with how many sheets were counted.
fn sizes_in_words(sizes: &[ShelfSize]) -> String {
    let one = |size: &ShelfSize| match size.sheets {
        Some(sheets) => format!("{} ({sheets} sheets)", size.sheet.in_words()),
        None => size.sheet.in_words(),
    };
    match sizes {
        [] => "not entered".to_owned(),
        sizes => sizes.iter().map(one).collect::<Vec<_>>().join(", "),
    }
}

#[derive(Template)]
#[template(path = "front/paper_edit.html")]
struct PaperEditPage {
    frame: Frame,
    form: Form,
    /// The paper being edited; `None` for a new one.
    id: Option<PaperId>,
    kinds: Vec<(String, String)>,
    bases: Vec<(String, String)>,
    colours: Vec<(String, String)>,
}

fn edit_page(frame: Frame, form: Form, id: Option<PaperId>) -> Page<PaperEditPage> {
    let kinds = [(PaperKind::Paper, "paper, developed here in trays"), (PaperKind::Film, "film, sent to a laboratory")];
    Page::new(PaperEditPage {
        frame,
        form,
        id,
        kinds: kinds.into_iter().map(|(kind, words)| (kind.as_str().to_owned(), words.to_owned())).collect(),
        bases: [PaperBase::ResinCoated, PaperBase::Fibre, PaperBase::Unknown]
            .into_iter()
            .map(|base| (base.as_str().to_owned(), base.in_words().to_owned()))
            .collect(),
        colours: ColoursSeen::ALL
            .into_iter()
            .map(|colours| (colours.as_str().to_owned(), colours.in_words().to_owned()))
            .collect(),
    })
}

async fn new(frame: Frame) -> impl IntoResponse {
    let form = Form::filled(
        &frame,
        0,
        [
            ("kind", "paper".to_owned()),
            ("sees", String::new()),
            ("reciprocity", "1".to_owned()),
            ("threshold", "1".to_owned()),
        ],
    );
    edit_page(frame, form, None)
}

async fn edit(State(state): State<AppState>, frame: Frame, Path(id): Path<PaperId>) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let paper = papers::find(&mut conn, id).await?.ok_or(WebError::NotFound("this paper"))?;
    let form = Form::filled(
        &frame,
        paper.version,
        [
            ("kind", paper.kind.as_str().to_owned()),
            ("base", paper.base.as_str().to_owned()),
            ("sees", paper.sees.as_str().to_owned()),
            ("sizes", shelf::written(&paper_sizes::list(&mut conn, id).await?)),
            ("name", paper.name.clone()),
            (
                "exposure_index",
                // left empty, it is worked out anew from the speed
                if paper.index_from.starts_with(BY_ISO_SPEED) {
                    String::new()
                } else {
                    decimal::written(paper.exposure_index_milli, 3)
                },
            ),
            ("iso_speed", paper.iso_speed_milli.map_or(String::new(), |milli| decimal::written(milli, 3))),
            (
                "daylight_factor",
                paper.iso_speed_milli.map_or(String::new(), |_| decimal::written(paper.daylight_factor_milli, 3)),
            ),
            ("reciprocity_table", paper.reciprocity_table.as_typed()),
            ("reciprocity", decimal::written(paper.reciprocity_milli, 3)),
            ("threshold", decimal::written(paper.reciprocity_threshold_ms, 3)),
            ("silver", decimal::written(paper.silver_ug_per_m2, 6)),
            ("silver_low", decimal::written(paper.silver_low_ug_per_m2, 6)),
            ("silver_high", decimal::written(paper.silver_high_ug_per_m2, 6)),
            ("silver_source", paper.silver_source.clone()),
            ("carry_over", decimal::written(paper.carry_over_ul_per_m2, 3)),
            ("remark", paper.remark.clone()),
        ],
    );
    Ok(edit_page(frame, form, Some(id)).into_response())
}

fn read(posted: &Posted, id: PaperId, site: SiteId) -> Result<(Paper, Vec<ShelfSize>), FieldErrors> {
    let mut r = posted.reader();
    let kind = r.choice("kind", PaperKind::from_word);
    let base = r.choice("base", PaperBase::from_word);
    if base == Some(PaperBase::Film) && kind == Some(PaperKind::Paper) {
        r.wrong("base", "choose what the paper is coated on");
    }
    let sees = r.choice("sees", ColoursSeen::from_word);
    if sees == Some(ColoursSeen::All) && kind == Some(PaperKind::Paper) {
        r.wrong("sees", "a paper under a safelight does not see all colours: choose blue, or blue and green");
    }
    let sizes =
        r.lines("sizes", 0..=600).and_then(|text| shelf::read(&text).map_err(|said| r.wrong("sizes", said)).ok());
    let name = r.text("name", 1..=120);
    let iso_speed = r.optional_decimal("iso_speed", 3, 1_000..=10_000_000);
    let factor =
        if r.raw("daylight_factor").is_empty() { Some(1_000) } else { r.decimal("daylight_factor", 3, 100..=20_000) };
    if kind == Some(PaperKind::Film) && matches!(iso_speed, Some(Some(_))) {
        r.wrong("iso_speed", "an ISO paper speed belongs to paper; a film’s ISO speed is its exposure index");
    }
    let index = read_index(&mut r, iso_speed, factor);
    let reciprocity_table = ReciprocityLines::parse(r.raw("reciprocity_table"))
        .map_err(|error| r.wrong("reciprocity_table", error.to_string()))
        .ok();
    let reciprocity = r.decimal("reciprocity", 3, 1_000..=2_000);
    let threshold = r.decimal("threshold", 3, 10..=1_000_000);
    let silver = r.decimal("silver", 6, 0..=50_000_000);
    let low = r.decimal("silver_low", 6, 0..=50_000_000);
    let high = r.decimal("silver_high", 6, 0..=50_000_000);
    if let (Some(low), Some(silver), Some(high)) = (low, silver, high)
        && !(low <= silver && silver <= high)
    {
        r.wrong("silver", "the best estimate must lie between the lowest and the highest");
    }
    let silver_source = r.lines("silver_source", 0..=600);
    let carry_over = r.decimal("carry_over", 3, 0..=2_000_000);
    let remark = r.lines("remark", 0..=600);
    let paper = (|| {
        Some(Paper {
            id,
            site,
            kind: kind?,
            base: if kind? == PaperKind::Film { PaperBase::Film } else { base? },
            sees: sees?,
            name: name?,
            exposure_index_milli: index.as_ref()?.0,
            index_from: index?.1,
            iso_speed_milli: iso_speed?,
            daylight_factor_milli: factor?,
            reciprocity_table: reciprocity_table?,
            reciprocity_milli: reciprocity?,
            reciprocity_threshold_ms: threshold?,
            silver_ug_per_m2: silver?,
            silver_low_ug_per_m2: low?,
            silver_high_ug_per_m2: high?,
            silver_source: silver_source?,
            carry_over_ul_per_m2: carry_over?,
            remark: remark?,
            version: posted.version(),
        })
    })();
    r.finish(paper.zip(sizes))
}

/// The exposure index and what it rests on: as typed, or by the ISO speed when nothing was typed.
fn read_index(r: &mut Reader<'_>, iso_speed: Option<Option<i64>>, factor: Option<i64>) -> Option<(i64, String)> {
    if r.raw("exposure_index").is_empty() && iso_speed == Some(None) {
        r.wrong("exposure_index", "give an EI or an ISO paper speed");
        return None;
    }
    if !r.raw("exposure_index").is_empty() {
        return r.decimal("exposure_index", 3, 10..=100_000_000).map(|index| (index, String::new()));
    }
    let (speed, factor) = (iso_speed??, factor?);
    let index = index_of_iso_speed(speed, factor)?;
    let from = format!("{BY_ISO_SPEED} P{} × {} for daylight", decimal::written(speed, 3), decimal::written(factor, 3));
    Some((index, from))
}

/// How the words begin that an index worked out from the ISO speed rests on.
const BY_ISO_SPEED: &str = "ISO";

async fn create(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let site = sites::find(&mut *state.store.read().await?).await?.ok_or(WebError::NotFound("the site"))?.id;
    let (paper, sizes) = match read(&posted, state.mint(), site) {
        Ok(read) => read,
        Err(errors) => {
            return Ok(edit_page(frame, Form::refused(&posted, errors), None).unprocessable().into_response());
        }
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                papers::insert(tx, &paper).await?;
                paper_sizes::replace(tx, paper.id, &sizes).await?;
                change_log::insert(tx, at, actor, "paper stocked", "paper", paper.id, &paper.name).await?;
                Ok("/front/stockroom".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

async fn update(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<PaperId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let old = papers::find(&mut *state.store.read().await?, id).await?.ok_or(WebError::NotFound("this paper"))?;
    let (paper, sizes) = match read(&posted, id, old.site) {
        Ok(read) => read,
        Err(errors) => {
            return Ok(edit_page(frame, Form::refused(&posted, errors), Some(id)).unprocessable().into_response());
        }
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let stored = papers::find(tx, id).await?.ok_or(WriteError::Missing("this paper"))?;
                let mut paper = paper;
                if paper.index_from.is_empty() && paper.exposure_index_milli == stored.exposure_index_milli {
                    paper.index_from.clone_from(&stored.index_from);
                }
                let stored_sizes = paper_sizes::list(tx, id).await?;
                if !papers::update(tx, &paper).await? {
                    let path = format!("/front/stockroom/papers/{id}");
                    return Err(WriteError::Stale(Stale::between(
                        "this paper",
                        path,
                        described(&paper, &sizes),
                        described(&stored, &stored_sizes),
                    )));
                }
                paper_sizes::replace(tx, id, &sizes).await?;
                change_log::insert(tx, at, actor, "paper edited", "paper", id, &paper.name).await?;
                Ok("/front/stockroom".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

fn described(paper: &Paper, sizes: &[ShelfSize]) -> Vec<(&'static str, String)> {
    let line = line(paper, sizes);
    vec![
        ("Kind", line.kind.to_owned()),
        ("Base", line.base.to_owned()),
        ("Colours it sees", line.sees.to_owned()),
        ("Sizes on the shelf", line.sizes),
        ("Name", line.name),
        (
            "Exposure index",
            if line.index_from.is_empty() { line.index } else { format!("{}, {}", line.index, line.index_from) },
        ),
        ("ISO paper speed", paper.iso_speed_milli.map_or(String::new(), |milli| decimal::written(milli, 3))),
        ("Reciprocity failure", line.reciprocity),
        ("Silver to the fixer", line.silver),
        ("Where that comes from", paper.silver_source.clone()),
        ("Carry-over", line.carry_over),
        ("Remark", line.remark),
    ]
}

async fn put_away(
    State(state): State<AppState>,
    Path(id): Path<PaperId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let paper = papers::find(tx, id).await?.ok_or(WriteError::Missing("this paper"))?;
                papers::put_away(tx, id, at).await?;
                change_log::insert(tx, at, actor, "paper put away", "paper", id, &paper.name).await?;
                Ok("/front/stockroom".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

async fn take_out(
    State(state): State<AppState>,
    Path(id): Path<PaperId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let paper = papers::find(tx, id).await?.ok_or(WriteError::Missing("this paper"))?;
                papers::take_out(tx, id).await?;
                change_log::insert(tx, at, actor, "paper taken out again", "paper", id, &paper.name).await?;
                Ok("/front/stockroom".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}
