//! A marker's own stock phrases.

use askama::Template;
use axum::{
    extract::State,
    response::{IntoResponse, Response},
};

use crate::{
    domain::field_errors::FieldErrors,
    store::{WriteError, marking::stock_phrases, people::change_log},
    web::{
        kit::{
            access::Staff,
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            state::AppState,
        },
        request::posted::Posted,
    },
};

/// A marker keeps at most so many.
const MOST_PHRASES: usize = 60;
/// The longest, in characters.
const LONGEST_PHRASE: usize = 400;

#[derive(Template)]
#[template(path = "front/phrases.html")]
struct Phrases {
    frame: Frame,
    form: Form,
}

pub(super) async fn show(State(state): State<AppState>, frame: Frame, staff: Staff) -> Result<Response, WebError> {
    let kept = stock_phrases::list(&mut *state.store.read().await?, staff.account).await?;
    let form = Form::filled(&frame, 0, [("phrases", kept.join("\n"))]);
    Ok(Page::new(Phrases { frame, form }).into_response())
}

fn read(posted: &Posted) -> Result<Vec<String>, FieldErrors> {
    let mut reader = posted.reader();
    let typed = reader.lines("phrases", 0..=MOST_PHRASES * (LONGEST_PHRASE + 1));
    let mut phrases: Vec<String> = Vec::new();
    for line in typed.iter().flat_map(|typed| typed.lines()).map(str::trim).filter(|line| !line.is_empty()) {
        if line.chars().count() > LONGEST_PHRASE {
            let start: String = line.chars().take(30).collect();
            reader.wrong("phrases", format!("“{start}…” has more than {LONGEST_PHRASE} characters"));
        } else if !phrases.iter().any(|kept| kept == line) {
            phrases.push(line.to_owned());
        }
    }
    if phrases.len() > MOST_PHRASES {
        reader.wrong("phrases", format!("keep at most {MOST_PHRASES}; these are {}", phrases.len()));
    }
    reader.finish(typed.map(|_| phrases))
}

pub(super) async fn save(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    posted: Posted,
) -> Result<Response, WebError> {
    let phrases = match read(&posted) {
        Ok(phrases) => phrases,
        Err(errors) => {
            let form = Form::refused(&posted, errors);
            return Ok(Page::new(Phrases { frame, form }).unprocessable().into_response());
        }
    };
    let (at, actor, account) = (posted.at(), posted.actor(), staff.account);
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            stock_phrases::put(tx, account, &phrases, at).await?;
            change_log::insert(tx, at, actor, "stock phrases kept", "account", account, "").await?;
            Ok("/front/phrases".to_owned())
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let form = Form::refused(&posted, errors);
            Ok(Page::new(Phrases { frame, form }).unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
