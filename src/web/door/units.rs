//! The units a student types and sees.

use axum::{extract::State, response::Response};

use crate::web::every_route::nearest_page;
use crate::{
    store::people::{change_log, students},
    web::{
        kit::{
            access::Bench,
            error::WebError,
            page::{is_local, see_other},
            state::AppState,
        },
        request::posted::Posted,
    },
};

/// Chooses metric or inches and goes back to the page.
pub async fn choose(State(state): State<AppState>, bench: Bench, posted: Posted) -> Result<Response, WebError> {
    let mut reader = posted.reader();
    let inches = reader.choice("units", |word| match word {
        "metric" => Some(false),
        "inch" => Some(true),
        _ => None,
    });
    let inches = reader.finish(inches).map_err(WebError::Refused)?;
    let back = posted.get("back");
    // the button stands at the foot of every page; a form that was refused stands at an address only sent to
    let back = nearest_page(if is_local(back) { back } else { "/bench" }).to_owned();
    let at = posted.at();
    let landing = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                students::update_units(tx, bench.student, inches).await?;
                // said back on the page: what is saved last stands there
                let what = if inches { "lengths in inches chosen" } else { "lengths in millimetres chosen" };
                change_log::insert(tx, at, bench.actor(), what, "student", bench.student, "").await?;
                Ok(back)
            })
        })
        .await
        .map_err(|error| WebError::from_write(error, &posted))?;
    Ok(see_other(&landing))
}
