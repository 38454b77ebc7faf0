//! One large number on a page, with its working to open below it.

use askama::Template;

use crate::{
    calc::working::Working,
    domain::marking::own_figure::{Figure, HELD, HeldBack},
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

    /// The same for somebody from whom values may be held back: one of them loses its number, its
    /// remark and its working, and says what to do instead.
    pub fn veiled(&self, held: &HeldBack) -> Self {
        let shown = self.tells().iter().all(|figure| held.shows(*figure));
        let beside = held.shows(Figure::HoleDiameter) || self.working_name() != "hole as measured";
        match (shown, beside) {
            (true, true) => self.clone(),
            // the measured hole is the student's own; how far it is from the target would tell the target
            (true, false) => Self { remark: String::new(), ..self.clone() },
            (false, _) => Self {
                value: HELD.to_owned(),
                remark: "it opens on the page “Own figures”".to_owned(),
                working: None,
                ..self.clone()
            },
        }
    }

    fn working_name(&self) -> &str {
        self.working.as_ref().map_or("", |working| working.name)
    }

    /// The own figures that whoever reads this would know.
    fn tells(&self) -> &'static [Figure] {
        use crate::domain::marking::own_figure::Figure::{AngleOfView, ExposureTime, FNumber, HoleDiameter};
        // the target's f-number and the target are one and the same: v is known
        if self.name.contains("of the target") {
            return &[FNumber, HoleDiameter];
        }
        match self.working_name() {
            "hole diameter"
            | "micrometer setting"
            | "focal length that belongs to this hole"
            | "mark on the needle" => &[HoleDiameter],
            "f-number" => &[FNumber],
            "angle of view" => &[AngleOfView],
            // along a can's wall the picture covered is an angle, and the same one
            "picture covered" if self.value.contains('°') => &[AngleOfView],
            "metered time" | "metered time here" | "time with reciprocity" | "forecast" => &[ExposureTime],
            _ => match self.name.as_str() {
                "Hole to make" | "Hole diameter to make" | "Micrometer" => &[HoleDiameter],
                "f-number" => &[FNumber],
                "Angle of view" => &[AngleOfView],
                name if name.starts_with("Open for") => &[ExposureTime],
                _ => &[],
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(name: &'static str) -> Reading {
        let (value, formula) = ("0.488 mm".to_owned(), "d = 0.488 mm".to_owned());
        Reading::of(Working { name, value, formula, source: "a test", interval: None })
            .remark("within 10 % of 0.488 mm")
    }

    #[test]
    fn a_value_held_back_loses_its_number_its_remark_and_its_working() {
        let held = HeldBack::of([Figure::HoleDiameter]);
        for reading in [of("hole diameter"), of("micrometer setting"), of("f-number").named("f-number of the target")] {
            let html = reading.veiled(&held).render().expect("a reading");
            assert!(!html.contains("0.488") && html.contains(HELD), "{html}");
        }
        let measured = of("hole as measured").veiled(&held).render().expect("a reading");
        assert!(measured.contains("0.488 mm") && !measured.contains("within"), "{measured}");
        assert!(of("angle of view").veiled(&held).render().expect("a reading").contains("0.488 mm"));
        let nothing = of("hole diameter").veiled(&HeldBack::NOTHING).render().expect("a reading");
        assert!(nothing.contains("within 10 %"));
    }
}
