//! Papers and films: added, edited, put away, taken out again.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::{
    domain::{
        decimal,
        field_errors::FieldErrors,
        ids::{PaperId, SiteId},
        paper::{Paper, PaperBase, PaperKind},
        shelf::{self, ShelfSize},
    },
    store::{Stale, WriteError, change_log, paper_sizes, papers, sites},
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
        sizes: sizes_in_words(sizes),
        name: paper.name.clone(),
        index: decimal::written(paper.exposure_index_milli, 3),
        reciprocity: match paper.reciprocity_milli {
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
        Some(sheets) => format!("{} ({sheets} sheets)", size.sheet.typed),
        None => size.sheet.typed.clone(),
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
    })
}

async fn new(frame: Frame) -> impl IntoResponse {
    let form = Form::filled(
        &frame,
        0,
        [("kind", "paper".to_owned()), ("reciprocity", "1".to_owned()), ("threshold", "1".to_owned())],
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
            ("sizes", shelf::written(&paper_sizes::list(&mut conn, id).await?)),
            ("name", paper.name.clone()),
            ("exposure_index", decimal::written(paper.exposure_index_milli, 3)),
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
    let sizes =
        r.lines("sizes", 0..=600).and_then(|text| shelf::read(&text).map_err(|said| r.wrong("sizes", said)).ok());
    let name = r.text("name", 1..=120);
    let index = r.decimal("exposure_index", 3, 10..=100_000_000);
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
            name: name?,
            exposure_index_milli: index?,
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
        ("Sizes on the shelf", line.sizes),
        ("Name", line.name),
        ("Exposure index", line.index),
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
