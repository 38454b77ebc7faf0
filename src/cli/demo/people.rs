//! The people of the demo. All invented.

use anyhow::Context;

use super::{
    stage::Stage,
    visitor::{Shown, Visitor},
};
use crate::domain::people::seat_key::SeatKey;

/// The instructor: sign-in name and name.
pub const INSTRUCTOR: (&str, &str) = ("ines", "Ines Quarry");
/// The assistant: sign-in name and name.
pub const ASSISTANT: (&str, &str) = ("bram", "Bram Okonjo");
/// What is on the lab door.
pub const DOOR_CODE: &str = "MERE42";

/// The roster: number and name.
pub const ROSTER: [(&str, &str); 13] = [
    ("01", "Maren Oduya"),
    ("02", "Tomasz Lindqvist"),
    ("03", "Aiyana Prewitt"),
    ("04", "José Ángel Ibarrola"),
    ("05", "Wei-Ling Tseng"),
    ("06", "Łucja Wierzbicka"),
    ("07", "Ngozi Adébáyò"),
    ("08", "Юлия Бережная"),
    ("09", "Sorcha Kilbride"),
    ("10", "Rafael d’Almeida"),
    ("11", "Priyanka Venkataraman"),
    ("12", "Noor Halvorsen"),
    ("13", "Elis Bergqvist-Moreau"),
];

/// Nobody has joined with this one: whoever tries the demo can.
pub const NEWCOMER: &str = "12";

/// The name behind a roster number.
pub fn name(number: &str) -> &'static str {
    ROSTER.iter().find(|(roster_number, _)| *roster_number == number).map_or("", |(_, name)| name)
}

/// What the door takes as the family name.
pub fn family_name(number: &str) -> &'static str {
    name(number).rsplit(' ').next().unwrap_or_default()
}

/// A student at the bench.
#[derive(Clone, Debug)]
pub struct Seat {
    /// At the computer.
    pub at: Visitor,
    /// The four words.
    pub key: String,
}

impl Seat {
    /// Joins with door code, roster number and family name, and writes down the four words.
    pub async fn join(stage: &Stage, number: &str) -> anyhow::Result<Self> {
        let mut at = stage.visitor();
        let fields =
            [("door_code", DOOR_CODE), ("roster_number", number), ("family_name", family_name(number)), ("own", "1")];
        let shown = at.fills_in("/", "/door", &fields).await?;
        let key = value_shown(&shown).with_context(|| format!("no seat key on {}", shown.path))?;
        at.posts(&shown, "/bench/key/kept", &[]).await?;
        Ok(Self { at, key })
    }

    /// Comes back another day.
    pub async fn comes_back(&mut self, stage: &Stage) -> anyhow::Result<()> {
        self.at = stage.visitor();
        let door = self.at.opens("/").await?;
        self.at.posts(&door, "/seat", &[("seat_key", &self.key), ("own", "1")]).await?;
        Ok(())
    }
}

/// The large value on a page.
pub fn value_shown(shown: &Shown) -> Option<String> {
    let (_, rest) = shown.html.split_once("class=\"value\">")?;
    let (value, _) = rest.split_once('<')?;
    Some(value.to_owned())
}

/// A password of four words, as people are told to choose them.
pub fn password(stage: &Stage) -> String {
    SeatKey::draw(|bound| stage.world().chance.below(bound)).to_string().replace(' ', "-")
}

/// Staff at the front bench.
pub async fn sign_in(stage: &Stage, sign_in_name: &str, password: &str) -> anyhow::Result<Visitor> {
    let mut at = stage.visitor();
    let fields = [("sign_in_name", sign_in_name), ("password", password), ("own", "1")];
    at.fills_in("/", "/staff", &fields).await?;
    Ok(at)
}
