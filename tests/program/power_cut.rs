//! The power goes while forms are on their way.

use std::sync::{Arc, Mutex};

use tokio::task::JoinSet;

use crate::program::{Answer, PATIENCE, Server};

/// So many forms are on their way at the same time.
pub const AT_ONCE: usize = 12;

/// How far the sending came.
#[derive(Default)]
struct Sending {
    server: Option<Server>,
    sent: usize,
    answered: Vec<usize>,
}

/// Sends the forms 0, 1, 2 … with `send`, always [`AT_ONCE`] of them together, until answer number `mark`
/// arrives. That moment the server is killed, whatever it is doing, and no further form is sent. Gives the
/// numbers of the forms that were answered.
///
/// It ends on that answer, not on time: a slow machine and a fast one send as many forms, at most
/// `mark + AT_ONCE`.
pub async fn amid<Sent>(
    server: Server,
    mark: usize,
    send: impl Fn(usize) -> Sent + Clone + Send + 'static,
) -> Vec<usize>
where
    Sent: Future<Output = Option<Answer>> + Send,
{
    let sending = Arc::new(Mutex::new(Sending { server: Some(server), ..Sending::default() }));
    let mut tasks = JoinSet::new();
    for _ in 0..AT_ONCE {
        let (sending, send) = (Arc::clone(&sending), send.clone());
        tasks.spawn(async move {
            loop {
                let number = {
                    let mut sending = sending.lock().expect("nobody failed");
                    if sending.server.is_none() {
                        return;
                    }
                    sending.sent += 1;
                    sending.sent - 1
                };
                if send(number).await.is_none() {
                    return;
                }
                let mut sending = sending.lock().expect("nobody failed");
                sending.answered.push(number);
                if sending.answered.len() == mark
                    && let Some(server) = sending.server.take()
                {
                    server.kill();
                }
            }
        });
    }
    tokio::time::timeout(PATIENCE, tasks.join_all()).await.expect("answers arrive");
    let mut sending = sending.lock().expect("nobody failed");
    assert!(sending.server.is_none() && sending.sent <= mark + AT_ONCE, "{} were sent", sending.sent);
    std::mem::take(&mut sending.answered)
}
