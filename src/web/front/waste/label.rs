//! `/front/waste/containers/{id}/label`: the label on paper; refused while it would say nothing of
//! the hazards.

use askama::Template;
use axum::{
    extract::{Path, State},
    http::StatusCode,
    response::{IntoResponse, Response},
};

use crate::{
    domain::{ids::ContainerId, waste::held::beside_its_label},
    store::{site::sites, waste::containers},
    web::kit::{
        access::Access,
        error::WebError,
        frame::Frame,
        page::Page,
        routes::{Route, page},
        state::AppState,
    },
};

use super::day;

pub(super) fn routes() -> Vec<Route> {
    vec![page("/front/waste/containers/{id}/label", Access::Staff, show)]
}

#[derive(Template)]
#[template(path = "print/container_label.html")]
struct LabelPage {
    frame: Frame,
    id: ContainerId,
    /// The site's own title for such labels; empty when nobody entered one.
    title: String,
    name: String,
    contents: &'static str,
    /// What went into it beside that, by the book.
    beside: String,
    hazards: String,
    start: String,
    site: String,
    place: String,
    contact: String,
    emergency: String,
}

async fn show(State(state): State<AppState>, frame: Frame, Path(id): Path<ContainerId>) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let container = containers::find(&mut conn, id).await?.ok_or(WebError::NotFound("this container"))?;
    let refused = container.hazards.trim().is_empty();
    let held = containers::list_held(&mut conn, id).await?;
    let page = Page::new(LabelPage {
        beside: beside_its_label(container.contents, &held).join(", "),
        id,
        title: site.waste_title,
        name: container.title(),
        contents: container.contents.in_words(),
        hazards: container.hazards,
        start: container.first_drop_at.map_or_else(String::new, |at| day(at.local(&site.zone).date())),
        site: site.name,
        place: container.place,
        contact: site.disposal_contact,
        emergency: site.emergency_line,
        frame,
    });
    Ok(if refused { page.with_status(StatusCode::CONFLICT) } else { page }.into_response())
}
