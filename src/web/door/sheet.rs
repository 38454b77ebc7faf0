//! The sign-in sheet: one page, three ways in.

use askama::Template;
use axum::{
    extract::{Query, State},
    http::{StatusCode, header},
    response::{IntoResponse, Response},
};
use serde::Deserialize;

use crate::{
    domain::{field_errors::FieldErrors, people::door_code},
    store::{WriteError, people::accounts},
    web::{
        kit::{
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, is_local, see_other},
            slowdown::Wait,
            state::AppState,
        },
        request::posted::Posted,
    },
};

/// The sign-in sheet.
#[derive(Template)]
#[template(path = "door/sheet.html")]
pub struct Sheet {
    frame: Frame,
    join: Form,
    seat: Form,
    staff: Form,
    then: String,
    notice: &'static str,
    asks_name: bool,
    new_server: bool,
}

/// One of the three ways in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// With the door code, for the first time.
    Join,
    /// With the seat key.
    Seat,
    /// With a password.
    Staff,
}

impl Sheet {
    fn fresh(frame: Frame) -> Self {
        let empty = |prefix| Form::empty(&frame).prefixed(prefix);
        Self {
            join: empty("join"),
            seat: empty("seat"),
            staff: empty("staff"),
            then: String::new(),
            notice: "",
            asks_name: false,
            new_server: false,
            frame,
        }
    }

    fn with(mut self, way: Way, form: Form) -> Self {
        match way {
            Way::Join => self.join = form.prefixed("join"),
            Way::Seat => self.seat = form.prefixed("seat"),
            Way::Staff => self.staff = form.prefixed("staff"),
        }
        self
    }

    /// The sheet with a notice at its top.
    pub fn noticing(frame: Frame, notice: &'static str) -> Page<Self> {
        Page::new(Self { notice, ..Self::fresh(frame) })
    }

    /// The sheet again, with what was typed and what is wrong.
    pub fn refused(frame: Frame, way: Way, posted: &Posted, errors: FieldErrors) -> Page<Self> {
        let asks_name = errors.of("full_name").is_some();
        let sheet = Self::fresh(frame).with(way, Form::refused(posted, errors));
        Page::new(Self { then: posted.get("then").to_owned(), asks_name, ..sheet }).unprocessable()
    }

    /// The sheet again, asking somebody who is not on the roster for their name.
    pub fn asking_name(frame: Frame, posted: &Posted, errors: FieldErrors) -> Page<Self> {
        let sheet = Self::fresh(frame).with(Way::Join, Form::refused(posted, errors));
        Page::new(Self { asks_name: true, ..sheet }).unprocessable()
    }

    /// The sheet again for somebody who must wait, with how long.
    pub fn waiting(frame: Frame, way: Way, posted: &Posted, wait: Wait) -> Response {
        let page = Self::refused(frame, way, posted, FieldErrors::whole(wait.words()));
        let mut response = page.with_status(StatusCode::TOO_MANY_REQUESTS).into_response();
        response.headers_mut().insert(header::RETRY_AFTER, wait.seconds.into());
        response
    }

    /// The sheet again after a write that did not happen.
    ///
    /// # Errors
    /// For what the sheet cannot show itself.
    pub fn after(frame: Frame, way: Way, posted: &Posted, error: WriteError) -> Result<Page<Self>, WebError> {
        match error {
            WriteError::Refused(errors) => Ok(Self::refused(frame, way, posted, errors)),
            // the next person at this computer, on a sheet that the browser kept: give them a new one
            WriteError::SentBefore(_) => {
                let typed = posted.typed();
                let form = Form::filled(&frame, 0, typed.iter().map(|(name, value)| (name.as_str(), value.clone())));
                let sheet = Self::fresh(frame).with(way, form);
                let notice = "This sheet was used before. Here is a new one: look it over and send it again.";
                Ok(Page::new(Self { notice, ..sheet }).unprocessable())
            }
            other => Err(WebError::from_write(other, posted)),
        }
    }
}

/// What the address may carry.
#[derive(Debug, Deserialize)]
pub struct Asked {
    #[serde(default)]
    then: String,
    /// From the poster on the lab door, so that nobody need type it.
    #[serde(default)]
    door_code: String,
}

/// Shows the sheet.
pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    Query(asked): Query<Asked>,
) -> Result<Page<Sheet>, WebError> {
    let mut conn = state.store.read().await?;
    let new_server = accounts::count_instructors(&mut conn).await? == 0;
    let then = if is_local(&asked.then) { asked.then } else { String::new() };
    let notice = if then.is_empty() { "" } else { "Sign in first; then you go on to the page you asked for." };
    let door_code = door_code::read(&asked.door_code).unwrap_or_default();
    let join = Form::filled(&frame, 0, [("door_code", door_code)]).prefixed("join");
    Ok(Page::new(Sheet { join, then, notice, new_server, ..Sheet::fresh(frame) }))
}

/// A form's address opened as a page.
pub async fn back() -> Response {
    see_other("/")
}
