//! Streams of server-sent events (WHATWG HTML, section 9.2): each event says which parts of a page
//! changed, never what is in them; the page then asks for those parts.
//!
//! A stream holds no database connection. It ends when its sign-in does and when the server stops.

use std::{convert::Infallible, time::Duration};

use axum::response::sse::{Event, KeepAlive, Sse};
use futures_util::stream::{self, Stream};
use tokio::sync::{broadcast, watch};

use crate::store::{Changed, people::sign_ins};

use super::{state::AppState, streams::Place};

/// So often a line is sent that means nothing, so that a lost connection is noticed.
const HEARTBEAT: Duration = Duration::from_secs(15);
/// So often a stream asks whether its sign-in still stands, even when nothing changes.
const ASK_AGAIN: Duration = Duration::from_secs(60);

/// A part of a page: its name in events, and the tables it is made from.
pub type Part = (&'static str, &'static [&'static str]);

/// The parts that a commit touched, in one line; empty when none.
fn parts_touched(parts: &[Part], changed: &Changed) -> String {
    let touched = parts.iter().filter(|(_, tables)| tables.iter().any(|table| changed.touched(table)));
    touched.map(|(name, _)| *name).collect::<Vec<_>>().join(" ")
}

fn all(parts: &[Part]) -> String {
    parts.iter().map(|(name, _)| *name).collect::<Vec<_>>().join(" ")
}

struct Listening {
    state: AppState,
    token: [u8; 32],
    parts: &'static [Part],
    changes: broadcast::Receiver<Changed>,
    closing: watch::Receiver<bool>,
    /// Its place among the open streams.
    place: Place,
    begun: bool,
    over: bool,
}

/// What woke the stream.
enum Woken {
    Changed(Changed),
    Missed,
    Time,
    GivesWay,
    Over,
}

impl Listening {
    async fn wake(&mut self) -> Woken {
        tokio::select! {
            told = self.changes.recv() => match told {
                Ok(changed) => Woken::Changed(changed),
                Err(broadcast::error::RecvError::Lagged(_)) => Woken::Missed,
                Err(broadcast::error::RecvError::Closed) => Woken::Over,
            },
            () = tokio::time::sleep(ASK_AGAIN) => Woken::Time,
            () = self.place.must_give_way() => Woken::GivesWay,
            _ = self.closing.wait_for(|closing| *closing) => Woken::Over,
        }
    }

    /// Whether the sign-in that asked for the stream still stands. When the database cannot say,
    /// the stream goes on: the pages it leads to ask again.
    async fn still_signed_in(&self) -> bool {
        let Ok(mut conn) = self.state.store.read().await else { return true };
        !matches!(sign_ins::find(&mut conn, &self.token, self.state.now()).await, Ok(None))
    }

    async fn next(mut self) -> Option<(Result<Event, Infallible>, Self)> {
        if self.over {
            return None;
        }
        if !self.begun {
            // whatever changed between the page and the stream is asked for at once
            self.begun = true;
            return Some((Ok(event(&all(self.parts))), self));
        }
        loop {
            let parts = match self.wake().await {
                Woken::Over => return None,
                Woken::GivesWay => {
                    // told, so that the page does not ask for another at once and push out the next
                    self.over = true;
                    return Some((Ok(Event::default().event("elsewhere").data("another page")), self));
                }
                Woken::Missed => all(self.parts),
                Woken::Time if self.still_signed_in().await => continue,
                Woken::Time => return None,
                Woken::Changed(changed) => {
                    if changed.touched("sign_in") && !self.still_signed_in().await {
                        return None;
                    }
                    parts_touched(self.parts, &changed)
                }
            };
            if !parts.is_empty() {
                return Some((Ok(event(&parts)), self));
            }
        }
    }
}

fn event(parts: &str) -> Event {
    Event::default().event("changed").data(parts)
}

/// The stream for one page: an event `changed` for each commit that touched a part of it. It ends with an event
/// `elsewhere` when it gives way to newer ones of the same person, who share their streams.
pub fn changes(
    state: AppState,
    token: [u8; 32],
    person: &str,
    parts: &'static [Part],
) -> Sse<impl Stream<Item = Result<Event, Infallible>> + use<>> {
    let listening = Listening {
        changes: state.store.changes(),
        closing: state.closing.subscribe(),
        place: state.streams.place(token, person),
        state,
        token,
        parts,
        begun: false,
        over: false,
    };
    Sse::new(stream::unfold(listening, Listening::next)).keep_alive(KeepAlive::new().interval(HEARTBEAT))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_event_names_the_parts_whose_tables_were_touched() {
        let parts: &[Part] =
            &[("lines", &["exposure", "camera"]), ("room", &["sheet_way"]), ("baths", &["book_entry"])];
        assert_eq!(parts_touched(parts, &Changed::of(&["exposure", "sheet_way", "receipt"])), "lines room");
        assert_eq!(parts_touched(parts, &Changed::of(&["receipt"])), "");
        assert_eq!(all(parts), "lines room baths");
    }
}
