//! Browsers in which somebody signed in before. They keep a mark that says so and nothing else: their tries are counted
//! apart, so that a stranger's guesses delay nobody who was here before.

use axum_extra::extract::CookieJar;
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use sha2::{Digest, Sha256};

use crate::{
    domain::ids::{AccountId, Id},
    store::{WriteError, engine::server_secrets::BROWSER_MARK},
};

use super::{cookies, seat_keys::secret, state::AppState};

/// For whom a browser is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KnownFor {
    /// A seat, whosever: the computers of a lab are shared.
    Seat,
    /// This account.
    Account(AccountId),
}

impl KnownFor {
    /// The cookie that holds its mark.
    pub fn cookie(self) -> &'static str {
        match self {
            Self::Seat => cookies::KNOWN_FOR_SEAT,
            Self::Account(_) => cookies::KNOWN_FOR_STAFF,
        }
    }

    fn bytes(self) -> [u8; 16] {
        match self {
            Self::Seat => [0; 16],
            Self::Account(id) => *id.as_uuid().as_bytes(),
        }
    }
}

/// `number.seal`: the seal shows that the number was given by this server, for this purpose.
fn seal(secret: &[u8; 32], number: &str, whom: KnownFor) -> String {
    let inner = Sha256::new().chain_update(secret).chain_update(whom.bytes()).chain_update(number).finalize();
    let outer = Sha256::new().chain_update(secret).chain_update(inner).finalize();
    format!("{number}.{}", URL_SAFE_NO_PAD.encode(outer))
}

fn read(secret: &[u8; 32], value: &str, whom: KnownFor) -> Option<String> {
    let (number, _) = value.split_once('.')?;
    // compared as hashes of equal length, so that time tells nothing of use
    let (given, right) = (Sha256::digest(value), Sha256::digest(seal(secret, number, whom)));
    (given == right).then(|| number.to_owned())
}

/// The browser's number, if it is known for this; it names the browser to our counts and says nothing of a person.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(state: &AppState, jar: &CookieJar, whom: KnownFor) -> Result<Option<String>, WriteError> {
    let Some(cookie) = jar.get(whom.cookie()) else { return Ok(None) };
    let secret = secret(state, BROWSER_MARK).await?;
    Ok(read(&secret, cookie.value(), whom))
}

/// Marks this browser, unless it is marked already. The number follows from the sign-in's token, which nobody else has.
/// Whoever signed in is not turned away because a mark could not be made.
pub async fn mark(state: &AppState, jar: CookieJar, whom: KnownFor, token_hash: &[u8; 32]) -> CookieJar {
    match made(state, &jar, whom, token_hash).await {
        Ok(Some(value)) => jar.add(cookies::known(whom.cookie(), &value, &state.reach)),
        Ok(None) => jar,
        Err(error) => {
            tracing::warn!(%error, "a browser could not be marked as known");
            jar
        }
    }
}

async fn made(
    state: &AppState,
    jar: &CookieJar,
    whom: KnownFor,
    token_hash: &[u8; 32],
) -> Result<Option<String>, WriteError> {
    if find(state, jar, whom).await?.is_some() {
        return Ok(None);
    }
    let secret = secret(state, BROWSER_MARK).await?;
    let number = Sha256::new().chain_update("browser").chain_update(token_hash).finalize();
    Ok(Some(seal(&secret, &URL_SAFE_NO_PAD.encode(&number[..12]), whom)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_counts_for_whom_it_was_made_and_cannot_be_made_up() {
        let account = |byte| KnownFor::Account(AccountId::from_uuid(uuid::Uuid::from_bytes([byte; 16])));
        let mark = seal(&[1; 32], "number", account(7));
        assert_eq!(read(&[1; 32], &mark, account(7)).as_deref(), Some("number"));
        assert_eq!(read(&[1; 32], &mark, account(8)), None);
        assert_eq!(read(&[1; 32], &mark, KnownFor::Seat), None);
        assert_eq!(read(&[2; 32], &mark, account(7)), None, "another server's");
        assert_eq!(read(&[1; 32], &mark.replace("number", "another"), account(7)), None);
        assert_eq!(read(&[1; 32], "", account(7)), None);
    }
}
