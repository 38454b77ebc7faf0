//! `/front/stockroom`: papers, films, chemical products and sets of trays.

mod papers;
pub(super) mod products;
mod tray_lines;
mod trays;

use askama::Template;
use axum::{
    extract::State,
    response::{IntoResponse, Response},
};

use crate::{
    domain::{
        baths::binding_limit::Limits,
        ids::{PaperId, ProductId, SiteId, TrayId, TrayLineId},
        measure::units::Units,
        stock::{
            paper::Paper,
            product::{Product, ProductKind},
            usual_stock,
        },
    },
    store::{
        WriteError,
        baths::tray_lines as line_store,
        people::change_log,
        site::sites,
        stock::{paper_sizes, papers as paper_store, products as product_store, trays as tray_store},
    },
    web::{
        kit::{
            access::{Access, Staff},
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

use super::first_steps::{self, FirstSteps};

/// The routes of this page. Chemistry is the assistant's as well as the instructor's.
pub fn routes() -> Vec<Route> {
    let mut routes = vec![
        page("/front/stockroom", Access::Staff, show),
        change("/front/stockroom/usual", Access::Staff, stock_the_usual).taking(Takes::PILE),
    ];
    routes.extend(papers::routes());
    routes.extend(products::routes());
    routes.extend(tray_lines::routes());
    routes.extend(trays::routes());
    routes
}

#[derive(Template)]
#[template(path = "front/stockroom.html")]
struct StockroomPage {
    frame: Frame,
    first_steps: FirstSteps,
    form: Form,
    papers: Vec<PaperLine>,
    products: Vec<ProductLine>,
    tray_lines: Vec<TrayLineRow>,
    trays: Vec<TrayRow>,
    /// What the button would add.
    missing: Vec<String>,
    put_away: Vec<PutAway>,
}

struct TrayLineRow {
    id: TrayLineId,
    name: String,
    places: String,
}

struct TrayRow {
    id: TrayId,
    name: String,
    holds: String,
    count: i64,
    source: String,
}

struct PaperLine {
    id: PaperId,
    kind: &'static str,
    base: &'static str,
    sees: &'static str,
    sizes: String,
    name: String,
    index: String,
    /// What it rests on; empty when it was typed in.
    index_from: String,
    reciprocity: String,
    silver: String,
    carry_over: String,
    remark: String,
}

struct ProductLine {
    id: ProductId,
    kind: &'static str,
    name: String,
    parts: String,
    capacity: String,
    rc_capacity: String,
    tray_life: String,
    bottle_life: String,
    times: String,
    on_shelf: String,
    data_sheet: String,
    hazards: String,
    /// For a fixer: which of its limits each paper reaches first.
    binds: Vec<(String, String)>,
    silver_limit: String,
    figures_from: String,
}

struct PutAway {
    name: String,
    path: String,
}

/// The page.
async fn show(State(state): State<AppState>, frame: Frame, _staff: Staff) -> Result<Response, WebError> {
    let form = Form::empty(&frame);
    show_with(&state, frame, form).await
}

async fn show_with(state: &AppState, frame: Frame, form: Form) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let first_steps = first_steps::find(&mut conn).await?;
    let Some(site) = sites::find(&mut conn).await? else {
        return Ok(Page::new(super::home::NothingYet { frame, first_steps }).into_response());
    };
    let papers = paper_store::list(&mut conn).await?;
    let products = product_store::list(&mut conn).await?;
    // what somebody put away was there and is not wanted
    let old_papers = paper_store::list_put_away(&mut conn).await?;
    let old_products = product_store::list_put_away(&mut conn).await?;
    let (new_papers, new_products) = missing(
        state,
        site.id,
        papers.iter().chain(&old_papers).map(|paper| paper.name.as_str()).collect(),
        products.iter().chain(&old_products).map(|product| product.name.as_str()).collect(),
    );
    let mut put_away = Vec::new();
    for paper in old_papers {
        put_away.push(PutAway { name: paper.name, path: format!("/front/stockroom/papers/{}/take-out", paper.id) });
    }
    for product in old_products {
        put_away
            .push(PutAway { name: product.name, path: format!("/front/stockroom/products/{}/take-out", product.id) });
    }
    for trays in tray_store::list_put_away(&mut conn).await? {
        put_away.push(PutAway { name: trays.name, path: format!("/front/stockroom/trays/{}/take-out", trays.id) });
    }
    for line in line_store::list_put_away(&mut conn).await? {
        put_away.push(PutAway { name: line.name, path: format!("/front/stockroom/tray-lines/{}/take-out", line.id) });
    }
    let mut paper_lines = Vec::new();
    for paper in &papers {
        paper_lines.push(papers::line(paper, &paper_sizes::list(&mut conn, paper.id).await?));
    }
    let refused = form.is_refused();
    let page = Page::new(StockroomPage {
        first_steps,
        form: form.prefixed("trays"),
        papers: paper_lines,
        products: products
            .iter()
            .map(|product| ProductLine { binds: binds(product, &papers), ..products::line(product, frame.units) })
            .collect(),
        tray_lines: line_store::list(&mut conn).await?.into_iter().map(tray_line_row).collect(),
        trays: tray_store::list(&mut conn).await?.into_iter().map(|tray| tray_row(tray, frame.units)).collect(),
        missing: new_papers
            .into_iter()
            .map(|paper| paper.name)
            .chain(new_products.into_iter().map(|p| p.name))
            .collect(),
        put_away,
        frame,
    });
    Ok(if refused { page.unprocessable().into_response() } else { page.into_response() })
}

/// Which of a fixer's limits each paper on the shelf reaches first.
fn binds(product: &Product, papers: &[Paper]) -> Vec<(String, String)> {
    if product.kind != ProductKind::Fixer {
        return Vec::new();
    }
    papers.iter().filter_map(|paper| Some((paper.name.clone(), Limits::of(product, paper)?.in_words()))).collect()
}

fn tray_line_row(line: line_store::TrayLine) -> TrayLineRow {
    let places = line.places.map_or_else(|| "places not entered".to_owned(), |places| format!("{places} at a time"));
    TrayLineRow { id: line.id, name: line.name, places }
}

fn tray_row(tray: crate::domain::stock::tray::Tray, units: Units) -> TrayRow {
    let holds = units.volume(tray.holds_ul);
    TrayRow { id: tray.id, name: tray.name, holds, count: tray.count, source: tray.source }
}

/// Of the usual stock, what is not there under its usual name.
fn missing(
    state: &AppState,
    site: SiteId,
    paper_names: Vec<&str>,
    product_names: Vec<&str>,
) -> (Vec<Paper>, Vec<Product>) {
    let mut papers = usual_stock::papers(site, || state.mint());
    papers.retain(|new| !paper_names.contains(&new.name.as_str()));
    let mut products = usual_stock::products(site, || state.mint());
    products.retain(|new| !product_names.contains(&new.name.as_str()));
    (papers, products)
}

/// Adds what is missing of the usual stock, and a first set of trays.
async fn stock_the_usual(State(state): State<AppState>, posted: Posted) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?.id;
    drop(conn);
    let (papers, products) = missing(&state, site, Vec::new(), Vec::new());
    let trays = usual_stock::trays(site, || state.mint());
    let line: TrayLineId = state.mint();
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let site = sites::find(tx).await?.ok_or(WriteError::Missing("the site"))?.id;
                let (mut old_papers, mut old_products) = (paper_store::list(tx).await?, product_store::list(tx).await?);
                old_papers.extend(paper_store::list_put_away(tx).await?);
                old_products.extend(product_store::list_put_away(tx).await?);
                for paper in papers.iter().filter(|new| old_papers.iter().all(|old| old.name != new.name)) {
                    paper_store::insert(tx, paper).await?;
                    change_log::insert(tx, at, actor, "paper stocked", "paper", paper.id, &paper.name).await?;
                }
                for product in products.iter().filter(|new| old_products.iter().all(|old| old.name != new.name)) {
                    product_store::insert(tx, product).await?;
                    change_log::insert(tx, at, actor, "product stocked", "product", product.id, &product.name).await?;
                }
                // only where nobody has said which trays there are
                if tray_store::list(tx).await?.is_empty() && tray_store::list_put_away(tx).await?.is_empty() {
                    for tray in &trays {
                        tray_store::insert(tx, tray).await?;
                        change_log::insert(tx, at, actor, "trays stocked", "tray", tray.id, &tray.name).await?;
                    }
                }
                if line_store::list(tx).await?.is_empty() {
                    line_store::insert(tx, line, site, "Trays by the sink", None).await?;
                    change_log::insert(tx, at, actor, "tray line added", "tray_line", line, "").await?;
                }
                Ok("/front/stockroom".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}
