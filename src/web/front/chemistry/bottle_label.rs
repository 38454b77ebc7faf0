//! `/front/chemistry/batches/{id}/label`: the label of a bottle of working solution; refused while it
//! would say nothing of the hazards.

use askama::Template;
use axum::{
    extract::{Path, State},
    http::StatusCode,
    response::{IntoResponse, Response},
};

use crate::{
    domain::{ids::BatchId, measure::volume},
    store::{baths::batches, people::names as people, site::sites, stock::products},
    web::kit::{
        access::Access,
        error::WebError,
        frame::Frame,
        page::Page,
        routes::{Route, page},
        state::AppState,
    },
};

pub(super) fn routes() -> Vec<Route> {
    vec![page("/front/chemistry/batches/{id}/label", Access::Staff, show)]
}

#[derive(Template)]
#[template(path = "print/bottle_label.html")]
struct BottleLabelPage {
    frame: Frame,
    id: BatchId,
    product: String,
    name: String,
    made: String,
    mixed: String,
    use_by: String,
    hazards: String,
    data_sheet: String,
    site: String,
    emergency: String,
    fixer: bool,
}

async fn show(State(state): State<AppState>, frame: Frame, Path(id): Path<BatchId>) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let batch = batches::find(&mut conn, id).await?.ok_or(WebError::NotFound("this batch"))?;
    let product = products::find(&mut conn, batch.product).await?.ok_or(WebError::NotFound("its product"))?;
    let names = people::list_names(&mut conn).await?;
    let refused = product.hazards.trim().is_empty();
    let by = names.get(&batch.mixed_by).map_or(String::new(), |name| format!(", by {name}"));
    // the day counts, not the hour
    let use_by = batch.bottle_life_ms.map_or(String::new(), |life| {
        let ends = batch.mixed_at.plus_micros(life.saturating_mul(1000)).local(&site.zone).date();
        ends.strftime("%-d %b %Y").to_string()
    });
    let page = Page::new(BottleLabelPage {
        id,
        product: product.name,
        name: batch.title(),
        made: format!("working solution {}, {}", batch.parts(), volume::in_words(batch.volume_ul)),
        mixed: format!("{}{by}", batch.mixed_at.as_words(&site.zone)),
        use_by,
        hazards: product.hazards,
        data_sheet: product.data_sheet,
        site: site.name,
        emergency: site.emergency_line,
        fixer: batch.kind == crate::domain::stock::product::ProductKind::Fixer,
        frame,
    });
    Ok(if refused { page.with_status(StatusCode::CONFLICT) } else { page }.into_response())
}
