//! One large number on a page, with its working to open below it.

use askama::Template;

use crate::{
    calc::working::Working,
    domain::marking::own_figure::{HELD, HeldBack, Reveals},
};

use super::words;

/// One number with its name, a remark and its working.
#[derive(Clone, Debug, Template)]
#[template(path = "parts/reading.html")]
pub struct Reading {
    name: String,
    value: String,
    remark: String,
    working: Option<Working>,
    reveals: Reveals,
    remark_reveals: Reveals,
}

impl askama::filters::HtmlSafe for Reading {}

impl Reading {
    /// A number that explains itself, and the own figures that it gives away.
    pub fn plain(name: &str, value: impl Into<String>, reveals: Reveals) -> Self {
        let (name, value) = (name.to_owned(), value.into());
        Self { name, value, remark: String::new(), working: None, reveals, remark_reveals: Reveals::NOTHING }
    }

    /// A result with its working: formula with the numbers, source, interval; and the own figures that any of
    /// these give away.
    pub fn of(working: Working, reveals: Reveals) -> Self {
        let mut name = working.name.to_owned();
        // “f-number” keeps its small letter
        if let Some(first) = name.get_mut(..1).filter(|_| !working.name.starts_with("f-")) {
            first.make_ascii_uppercase();
        }
        Self { working: Some(working.clone()), ..Self::plain(&name, working.value, reveals) }
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

    /// Where the word in its name is explained.
    fn explained(&self) -> Option<String> {
        words::explained(&self.name)
    }

    /// With a remark under the number.
    #[must_use]
    pub fn remark(mut self, remark: impl Into<String>) -> Self {
        self.remark = remark.into();
        self
    }

    /// With a remark under the number that gives away more than the number does.
    #[must_use]
    pub fn telling_remark(mut self, remark: impl Into<String>, reveals: Reveals) -> Self {
        self.remark = remark.into();
        self.remark_reveals = reveals;
        self
    }

    /// The same for somebody from whom values may be held back: one of them loses its number, its
    /// remark and its working, and says what to do instead.
    pub fn veiled(&self, held: &HeldBack) -> Self {
        match (held.shows_all(self.reveals), held.shows_all(self.remark_reveals)) {
            (true, true) => self.clone(),
            (true, false) => Self { remark: String::new(), ..self.clone() },
            (false, _) => Self {
                value: HELD.to_owned(),
                remark: "it opens on the page “Own figures”".to_owned(),
                working: None,
                ..self.clone()
            },
        }
    }
}

/// A line of facts: its name, what it says, and the own figures that it gives away.
#[derive(Clone, Debug)]
pub struct Fact {
    /// Its name.
    pub name: &'static str,
    /// What it says.
    pub value: String,
    reveals: Reveals,
}

impl Fact {
    /// A fact.
    pub fn new(name: &'static str, value: impl Into<String>, reveals: Reveals) -> Self {
        Self { name, value: value.into(), reveals }
    }

    /// Whether it may be shown.
    pub fn is_shown(&self, held: &HeldBack) -> bool {
        held.shows_all(self.reveals)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::marking::own_figure::Figure;

    fn of(name: &'static str, reveals: Reveals) -> Reading {
        let (value, formula) = ("0.488 mm".to_owned(), "d = 0.488 mm".to_owned());
        Reading::of(Working { name, value, formula, source: "a test", interval: None }, reveals)
            .remark("within 10 % of 0.488 mm")
    }

    #[test]
    fn a_value_held_back_loses_its_number_its_remark_and_its_working() {
        let held = HeldBack::of([Figure::HoleDiameter]);
        // whatever it is called
        for reading in [of("hole diameter", Reveals::HOLE), of("anything", Reveals::TARGET)] {
            let html = reading.veiled(&held).render().expect("a reading");
            assert!(!html.contains("0.488") && html.contains(HELD), "{html}");
        }
        let measured = of("hole as measured", Reveals::NOTHING).telling_remark("within a tenth", Reveals::HOLE);
        let measured = measured.veiled(&held).render().expect("a reading");
        assert!(measured.contains("0.488 mm") && !measured.contains("within"), "{measured}");
        let angle = of("angle of view", Reveals::ANGLE).veiled(&held).render().expect("a reading");
        assert!(angle.contains("0.488 mm"), "{angle}");
        let nothing = of("hole diameter", Reveals::HOLE).veiled(&HeldBack::NOTHING).render().expect("a reading");
        assert!(nothing.contains("within 10 %"), "{nothing}");
    }
}
