//! What identifies a sending.

use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::domain::{
    field_errors::FieldErrors,
    ids::{FormId, Id},
    instant::Instant,
    people::actor::Actor,
};

/// What identifies a sending: which form, by whom, to which route, with what content.
#[derive(Clone, Debug)]
pub struct Stamp {
    /// The id the page put into the form.
    pub form_id: FormId,
    /// Who sent it.
    pub actor: Actor,
    /// Method and path it went to: two forms of one page share an id, not a route.
    pub route: String,
    /// SHA-256 of everything that was sent.
    pub body_hash: [u8; 32],
    /// When it arrived.
    pub at: Instant,
    /// Whether a receipt is kept; the server's own writes need none.
    pub receipt: bool,
    /// Fields of which only the beginning was read: nothing is written under a stamp that has any.
    pub cut: FieldErrors,
}

impl Stamp {
    /// A stamp for what no form caused: the demo, the command line, clean-up. Without a receipt its id is
    /// never looked at, and drawing one would spend chance: a write that happens or not by the machine's
    /// speed (noting that a sign-in was used) would change every id after it.
    pub fn server(at: Instant) -> Self {
        let form_id = FormId::from_uuid(Uuid::nil());
        Self {
            form_id,
            actor: Actor::Server,
            route: "server".to_owned(),
            body_hash: [0; 32],
            at,
            receipt: false,
            cut: FieldErrors::none(),
        }
    }

    /// The receipt's key: form and route together, so that each form of a page has its own.
    pub(in crate::store) fn key(&self) -> [u8; 16] {
        let mut hasher = Sha256::new();
        hasher.update(self.form_id.as_uuid().as_bytes());
        hasher.update(self.route.as_bytes());
        let digest: [u8; 32] = hasher.finalize().into();
        let mut key = [0; 16];
        key.copy_from_slice(&digest[..16]);
        key
    }

    pub(in crate::store) fn actor_key(&self) -> Vec<u8> {
        self.actor.person().map_or_else(|| vec![0; 16], |person| person.as_uuid().as_bytes().to_vec())
    }
}
