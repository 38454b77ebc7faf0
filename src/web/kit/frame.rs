//! What surrounds every page: whose it is, which theme, the id for its forms.

use axum::{extract::FromRequestParts, http::request::Parts};
use axum_extra::extract::CookieJar;

use crate::{
    domain::{ids::FormId, marking::own_figure::HeldBack, measure::units::Units, people::actor::Role},
    store::people::sign_ins::Person,
};

use super::{
    access::{Archived, Recognised},
    assets, cookies,
    error::WebError,
    state::AppState,
};

/// Whose page it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Whose {
    /// Nobody is signed in.
    Nobody,
    /// A student's, with their name.
    Student(String),
    /// An assistant's, with their name.
    Assistant(String),
    /// An instructor's, with their name.
    Instructor(String),
}

/// What surrounds every page. Every template has one as its field `frame`.
#[derive(Clone, Debug)]
pub struct Frame {
    /// Whose page it is.
    pub whose: Whose,
    /// Whether it is on a computer that others use.
    pub shared: bool,
    /// Whether the dim theme is on.
    pub dim: bool,
    /// The page's path.
    pub path: String,
    /// Whether it answers a form that was sent: it stands at no address of its own, and what was typed is
    /// nowhere but on it.
    pub answers: bool,
    /// The id its forms carry.
    pub form_id: FormId,
    /// Whether the section is archived, the student's or the one a page of the front bench is about: everything
    /// can be read, nothing changed.
    pub archived: bool,
    /// The same in words; empty while it is not.
    pub kept: &'static str,
    /// The own figures held back from the student now; views ask it before they show one.
    pub held: HeldBack,
    /// What all benches are told now; empty when nothing, and for staff.
    pub told: String,
    /// In which units they read.
    pub units: Units,
}

impl Frame {
    /// The style sheet's address.
    pub fn style(&self) -> String {
        assets::address("shimlight.css")
    }

    /// The address of the style sheet that printed pages add.
    pub fn print_style(&self) -> String {
        assets::address("print.css")
    }

    /// The addresses of the face's files that every page needs, fetched while the style sheet still comes.
    pub fn faces(&self) -> [String; 2] {
        ["faces/shimlight-text-400.woff2", "faces/shimlight-text-700.woff2"].map(assets::address)
    }

    /// The script's address.
    pub fn script(&self) -> String {
        assets::address("shimlight.js")
    }

    /// The icon's address.
    pub fn icon(&self) -> String {
        assets::address("icon.svg")
    }

    /// Whether a student is at the bench.
    pub fn at_bench(&self) -> bool {
        matches!(self.whose, Whose::Student(_))
    }

    /// Whether staff is at the front bench.
    pub fn at_front(&self) -> bool {
        matches!(self.whose, Whose::Assistant(_) | Whose::Instructor(_))
    }

    /// Whether an instructor is asking.
    pub fn instructor(&self) -> bool {
        matches!(self.whose, Whose::Instructor(_))
    }

    /// The name of whoever is signed in; empty for nobody.
    pub fn name(&self) -> &str {
        match &self.whose {
            Whose::Nobody => "",
            Whose::Student(name) | Whose::Assistant(name) | Whose::Instructor(name) => name,
        }
    }

    /// `page` for the link that leads to the page being shown or to one below it.
    pub fn current(&self, link: &str) -> bool {
        self.path == link || (link.len() > 7 && self.path.starts_with(&format!("{link}/")))
    }

    /// The frame of a request.
    pub fn of(parts: &Parts, state: &AppState) -> Self {
        let recognised = parts.extensions.get::<Recognised>();
        let whose = match recognised.and_then(Recognised::person) {
            None => Whose::Nobody,
            Some(Person::Student { name, .. }) => Whose::Student(name.clone()),
            Some(Person::Staff { role: Role::Assistant, name, .. }) => Whose::Assistant(name.clone()),
            Some(Person::Staff { role: Role::Instructor, name, .. }) => Whose::Instructor(name.clone()),
        };
        let jar = CookieJar::from_headers(&parts.headers);
        let kept = parts.extensions.get::<Archived>().copied().unwrap_or_default().0;
        Self {
            whose,
            shared: recognised.and_then(Recognised::sign_in).is_some_and(|sign_in| sign_in.shared),
            dim: jar.get(cookies::THEME).is_some_and(|cookie| cookie.value() == "dim"),
            path: parts.uri.path().to_owned(),
            answers: !parts.method.is_safe(),
            form_id: state.mint(),
            archived: !kept.is_empty(),
            kept,
            held: parts.extensions.get::<HeldBack>().cloned().unwrap_or_default(),
            told: recognised.and_then(Recognised::sign_in).and_then(|sign_in| sign_in.told.clone()).unwrap_or_default(),
            units: recognised.and_then(Recognised::sign_in).map(|sign_in| sign_in.units).unwrap_or_default(),
        }
    }
}

impl FromRequestParts<AppState> for Frame {
    type Rejection = WebError;
    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, WebError> {
        Ok(Self::of(parts, state))
    }
}
