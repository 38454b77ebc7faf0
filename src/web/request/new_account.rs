//! What the door and the accounts page both read: a sign-in name, a new password.

use crate::{
    domain::field_errors::FieldErrors,
    store::{self, WriteError},
};

use super::posted::{Posted, Reader};

/// A password is at least this long; length counts for more than signs.
const SHORTEST_PASSWORD: usize = 10;
const LONGEST_PASSWORD: usize = 200;

/// Reads a new password, typed twice.
pub fn new_password(reader: &mut Reader<'_>, posted: &Posted) -> Option<String> {
    let password = posted.get("password");
    let count = password.chars().count();
    if !(SHORTEST_PASSWORD..=LONGEST_PASSWORD).contains(&count) {
        reader.wrong(
            "password",
            format!("must have at least {SHORTEST_PASSWORD} characters; a few words in a row do well"),
        );
        return None;
    }
    if posted.get("password_again") != password {
        reader.wrong("password_again", "is not the same; type both again");
        return None;
    }
    Some(password.to_owned())
}

/// Reads a sign-in name.
pub fn sign_in_name(reader: &mut Reader<'_>) -> Option<String> {
    let name = reader.text("sign_in_name", 1..=60)?;
    if name.chars().any(|c| !(c.is_alphanumeric() || ".-_@+".contains(c))) {
        reader.wrong("sign_in_name", "may have letters, figures and . - _ @ +, but no spaces");
        return None;
    }
    Some(name)
}

/// Turns the schema's refusal of a second account of the same sign-in name into a message beside it.
pub fn name_taken(error: store::Error) -> WriteError {
    match error {
        store::Error::Constraint(message) if message.contains("account.sign_in_name") => {
            FieldErrors::one("sign_in_name", "is taken; choose another").into()
        }
        other => other.into(),
    }
}
