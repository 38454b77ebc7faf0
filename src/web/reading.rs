//! One large number on a page, with its working to open below it.

use askama::Template;

use crate::calc::working::Working;

/// One number with its name, a remark and its working.
#[derive(Clone, Debug, Template)]
#[template(path = "parts/reading.html")]
pub struct Reading {
    name: String,
    value: String,
    remark: String,
    working: Option<Working>,
}

impl askama::filters::HtmlSafe for Reading {}

impl Reading {
    /// A number that explains itself.
    pub fn plain(name: &str, value: impl Into<String>) -> Self {
        Self { name: name.to_owned(), value: value.into(), remark: String::new(), working: None }
    }

    /// A result with its working: formula with the numbers, source, interval.
    pub fn of(working: Working) -> Self {
        let mut name = working.name.to_owned();
        // “f-number” keeps its small letter
        if let Some(first) = name.get_mut(..1).filter(|_| !working.name.starts_with("f-")) {
            first.make_ascii_uppercase();
        }
        Self { name, value: working.value.clone(), remark: String::new(), working: Some(working) }
    }

    /// Under another name.
    #[must_use]
    pub fn named(mut self, name: &str) -> Self {
        name.clone_into(&mut self.name);
        self
    }

    /// Showing only this of its value; the working still has all of it.
    #[must_use]
    pub fn showing(mut self, value: impl Into<String>) -> Self {
        self.value = value.into();
        self
    }

    /// With a remark under the number.
    #[must_use]
    pub fn remark(mut self, remark: impl Into<String>) -> Self {
        self.remark = remark.into();
        self
    }
}
