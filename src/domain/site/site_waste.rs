//! What a site entered about its waste beside removal rules: how often to look at containers, how
//! long papers are kept, when the carrier comes next, and what the whole site generates in a month.

use jiff::civil::Date;

use crate::calc::silver::{
    deadlines::keep_until,
    waste::{GeneratorCategory, generator_category},
};

use crate::domain::ids::SiteId;

/// What was entered; nothing where nobody entered it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SiteWaste {
    /// Whose.
    pub site: SiteId,
    /// Somebody looks at each container every so many days.
    pub look_every_days: Option<i64>,
    /// Who says so.
    pub look_source: String,
    /// Papers of a removal are kept for so many years.
    pub keep_years: Option<i64>,
    /// Who says so.
    pub keep_source: String,
    /// Of what stands here at the start of a year, so many per cent are to be recycled in it.
    pub turnover_percent: Option<i64>,
    /// Who says so.
    pub turnover_source: String,
    /// The day the carrier comes next.
    pub next_removal_on: Option<Date>,
    /// Counts edits.
    pub version: i64,
}

impl SiteWaste {
    /// Nothing entered.
    pub fn none(site: SiteId) -> Self {
        Self {
            site,
            look_every_days: None,
            look_source: String::new(),
            keep_years: None,
            keep_source: String::new(),
            turnover_percent: None,
            turnover_source: String::new(),
            next_removal_on: None,
            version: 0,
        }
    }

    /// Until when the papers of something that left on a day are kept.
    pub fn keep_until(&self, left_on: Date) -> Option<Date> {
        keep_until(left_on, u16::try_from(self.keep_years?).ok()?).ok()
    }
}

/// What the site says it generates in all in a month.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SiteMonth {
    /// The month, `2026-03`.
    pub month: String,
    /// Hazardous waste that is not acute, grams.
    pub nonacute_g: i64,
    /// Acute hazardous waste, grams.
    pub acute_g: i64,
    /// Who says so.
    pub source: String,
    /// Counts edits.
    pub version: i64,
}

impl SiteMonth {
    /// The category of the example's federal rule for this month, from what the whole site generates;
    /// what this darkroom alone generates never decides it.
    pub fn category(&self) -> GeneratorCategory {
        generator_category(self.nonacute_g as f64 / 1000.0, self.acute_g as f64 / 1000.0)
    }
}

/// A month as `2026-03`, if it is one.
pub fn month_of(text: &str) -> Option<String> {
    let (year, month) = text.split_once('-')?;
    let digits = |part: &str, count| part.len() == count && part.bytes().all(|byte| byte.is_ascii_digit());
    let valid = digits(year, 4) && digits(month, 2) && (1..=12).contains(&month.parse::<u8>().ok()?);
    valid.then(|| text.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn month(nonacute_g: i64, acute_g: i64) -> SiteMonth {
        SiteMonth { month: "2026-03".to_owned(), nonacute_g, acute_g, source: "safety office".to_owned(), version: 1 }
    }

    /// 40 CFR 262.13, Table 1.
    #[test]
    fn the_category_is_that_of_the_whole_sites_month() {
        assert_eq!(month(100_000, 0).category(), GeneratorCategory::VerySmall);
        assert_eq!(month(100_001, 0).category(), GeneratorCategory::Small);
        assert_eq!(month(1_000_000, 0).category(), GeneratorCategory::Large);
        assert_eq!(month(0, 1_001).category(), GeneratorCategory::Large);
    }

    #[test]
    fn months_are_months() {
        assert_eq!(month_of("2026-03").as_deref(), Some("2026-03"));
        for bad in ["2026-13", "2026-00", "26-03", "March", "2026-3", "2026-03-01"] {
            assert_eq!(month_of(bad), None, "{bad}");
        }
    }

    /// 40 CFR 262.40(a): three years, 2015 edition.
    #[test]
    fn papers_are_kept_for_the_years_that_were_entered() {
        let site =
            SiteWaste { keep_years: Some(3), ..SiteWaste::none(crate::domain::ids::Id::from_uuid(uuid::Uuid::nil())) };
        assert_eq!(site.keep_until(date(2026, 3, 20)), Some(date(2029, 3, 20)));
        assert_eq!(SiteWaste { keep_years: None, ..site }.keep_until(date(2026, 3, 20)), None);
    }
}
