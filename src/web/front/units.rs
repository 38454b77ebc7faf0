//! The units a member of staff reads volumes and temperatures in.

use axum::{extract::State, response::Response};

use crate::{
    domain::measure::units::Units,
    store::people::accounts,
    web::{
        every_route::nearest_page,
        kit::{
            access::{Access, Staff},
            error::WebError,
            page::{is_local, see_other},
            routes::{Route, change},
            state::AppState,
        },
        request::posted::Posted,
    },
};

/// The routes of this choice; its button stands at the foot of every page of the front bench.
pub fn routes() -> Vec<Route> {
    vec![change("/front/units", Access::Staff, choose)]
}

/// Chooses the units and goes back to the page.
async fn choose(State(state): State<AppState>, staff: Staff, posted: Posted) -> Result<Response, WebError> {
    let mut reader = posted.reader();
    let units = reader.choice("units", Units::from_word);
    let units = reader.finish(units).map_err(WebError::Refused)?;
    let back = posted.get("back");
    // the button stands at the foot of every page; a form that was refused stands at an address only sent to
    let back = nearest_page(if is_local(back) { back } else { "/front" }).to_owned();
    // pressed twice it does the same: it needs no receipt
    let landing = state
        .store
        .write(state.quiet_stamp(posted.actor()), move |tx| {
            Box::pin(async move {
                accounts::update_units(tx, staff.account, units).await?;
                Ok(back)
            })
        })
        .await
        .map_err(|error| WebError::from_write(error, &posted))?;
    Ok(see_other(&landing))
}
