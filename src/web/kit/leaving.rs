//! Ending a sign-in, also while the disk takes nothing.

use std::time::Duration;

use crate::store::people::sign_ins;

use super::{left_seats::TokenHash, state::AppState};

/// How often it is tried to note on disk that a seat was left.
const TRY_EVERY: Duration = Duration::from_secs(60);
/// Ends a sign-in. Where the disk does not take it the seat is left all the same, from this moment: the
/// server remembers it, and tries to note it until it can.
pub async fn end(state: &AppState, token_hash: TokenHash) {
    let Err(error) = note(state, token_hash).await else { return };
    tracing::error!(%error, "that a seat was left could not be noted; the server remembers it and tries again");
    if state.left.put(token_hash) {
        let state = state.clone();
        tokio::spawn(async move {
            let mut closing = state.closing.subscribe();
            loop {
                tokio::select! {
                    () = tokio::time::sleep(TRY_EVERY) => {}
                    _ = closing.changed() => {}
                }
                let noted = note(&state, token_hash).await.is_ok();
                if noted {
                    state.left.remove(&token_hash);
                }
                if noted || *closing.borrow() {
                    return;
                }
            }
        });
    }
}

async fn note(state: &AppState, token_hash: TokenHash) -> Result<(), crate::store::WriteError> {
    let at = state.now();
    let noted = state.store.write(state.server_stamp(), move |tx| {
        Box::pin(async move {
            sign_ins::end(tx, &token_hash, at).await?;
            Ok("/".to_owned())
        })
    });
    noted.await.map(drop)
}
